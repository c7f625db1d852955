#![doc = include_str!("model.md")]

pub mod averaged;
mod bracket;
mod case;
mod chain_voltages;
pub mod commutation;
pub mod dissipation;
mod effort;
pub mod exact;
pub mod fault;
mod high_intervals;
mod limited;
mod links;
mod loading;
mod method;
mod seen_parts;
pub mod settling;
pub mod start_up;
mod steady_state;
mod sweep;
pub mod trim;
mod waveform_point;
pub mod waveforms;

pub use case::{Case, Start};
pub use chain_voltages::{ChainVoltages, FlyingVoltage, LegVoltages, bridge_mean, chain_voltages};
pub use effort::Effort;
pub use exact::{Approach, Detail};
pub use high_intervals::high_intervals;
pub use limited::Solver;
pub use links::ChainLinks;
pub use method::Method;
pub use seen_parts::as_seen;
pub use steady_state::{
    HalfWave, Outcome, OutputRipple, PartStress, PhaseState, SteadyState, SwitchCurrent, Switches,
    TankState, Unsolved,
};
pub use sweep::{Load, Reached, Sweep};
