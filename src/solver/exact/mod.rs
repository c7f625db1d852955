//! The exact periodic steady state, by closed forms between rectifier events.
//!
//! `ring` is the damped oscillator, `crossing` finds events, `half` follows half a period with
//! sensitivities, `cycle` makes a phase's equations, `system` solves all phases at once
//! from where `sensitivity` expects the solution, `nearby`, `search` and `settle` are the slow and
//! certain way, `waveform` integrates the result, `voltage` takes the frequency as given.

mod crossing;
mod cycle;
mod eliminate;
mod half;
mod nearby;
#[cfg(test)]
mod published;
mod ring;
mod search;
mod sensitivity;
mod settle;
mod solution;
mod system;
mod voltage;
mod waveform;

pub use solution::{Guess, prepare, solve};
pub use voltage::AtFrequency;
