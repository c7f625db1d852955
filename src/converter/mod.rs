//! The converter: its parts, its bridge chain, its operating points. No randomness, no solving.

mod configuration;
mod parameter;
mod parts;
mod sensor;
mod sharing;
mod switch;

pub use configuration::{
    Arrangement, Configuration, Drive, FrequencyBand, OperatingPoint, Rectifier, driven_legs,
    voltage_gain,
};
pub use parameter::{ConverterSize, Parameter};
pub use parts::{Converter, FlyingCapacitors, Tank, neighbours};
pub use sensor::{Sensor, Sensors};
pub use sharing::{Measure, Shared, Sharing};
pub use switch::{Leg, SwitchSpecification, SwitchTiming};

/// The largest number of phases.
pub const MAX_PHASES: usize = 12;
/// The smallest number of phases: with one there is nothing to share.
pub const MIN_PHASES: usize = 2;
