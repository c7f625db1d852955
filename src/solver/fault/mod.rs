#![doc = include_str!("model.md")]

mod case;
mod clamped;
mod effect;
mod group;
mod idle_voltages;
mod leg;
mod one_leg;
mod outcome;
mod paralleled;
mod phase_steps;
mod remaining_chain;
mod ripple;
mod signs;
mod solve;
mod sound_leg;
mod stopped;
mod together;
mod trap;
mod voltages;
mod whole;

pub use case::FaultCase;
pub use outcome::{BlockingRange, FaultOutcome, FaultedState, NoSteadyState, SwitchVoltages, Trap};
pub use signs::{FirstSigns, Periods};
pub use stopped::{StoppedChain, conduction_threshold};
