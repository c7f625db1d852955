#![doc = include_str!("model.md")]

mod coupled;
mod device;
mod losses;
mod mixing;
mod phase;

pub(super) use coupled::SelfHeated;
pub use losses::{DeviceLoss, Dissipation, PhaseDissipation};
