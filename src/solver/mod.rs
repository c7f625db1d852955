//! Periodic steady states: parts and operating point in, currents and voltages out.

pub mod exact;
mod steady_state;

pub use steady_state::{Outcome, PhaseState, SteadyState, SwitchCurrent, Switches};
