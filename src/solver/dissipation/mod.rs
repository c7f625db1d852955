#![doc = include_str!("model.md")]

mod coupled;
mod device;
mod dissipated;
mod load_numbers;
mod losses;
mod mixing;
mod nearby;
mod phase;
mod phase_dissipation;

pub(super) use coupled::SelfHeated;
pub use device::DeviceLoss;
pub use dissipated::Dissipation;
pub use nearby::Nearby;
pub use phase_dissipation::PhaseDissipation;
