//! Periodic steady states: parts and operating point in, currents and voltages out.

pub mod averaged;
mod chain_voltages;
pub mod exact;
mod steady_state;

pub use chain_voltages::{ChainVoltages, FlyingVoltage, LegVoltages, chain_voltages};
pub use steady_state::{Outcome, PhaseState, SteadyState, SwitchCurrent, Switches};
