//! The converter: its parts, its bridge chain, its operating points. No randomness, no solving.

mod condition;
mod conditioned;
mod configuration;
mod drift;
mod fault;
mod losses;
mod operating_point;
mod parameter;
mod parts;
mod property;
mod rating;
mod sensor;
mod sharing;
mod switch;

pub use condition::{Age, Condition, SelfHeating};
pub use configuration::{
    Arrangement, Configuration, Drive, FrequencyBand, Rectifier, UsedDrives, driven_legs,
    voltage_gain,
};
pub use drift::{
    AssumedDrift, BalancingResistor, ChainDrift, Charging, DriftCauses, DriftConditions, HeldDrift,
    Leakage, NodeCapacitors, NodeDrift, NodeValues,
};
pub use fault::{FailedLegs, FailureMode, Fault};
pub use losses::{LossParts, ParalleledSwitches, SwitchPlace};
pub use operating_point::OperatingPoint;
pub use parameter::{ConverterSize, Parameter};
pub use parts::{Converter, FlyingCapacitors, Tank, neighbours};
pub use property::{Influence, PartResponse, Property};
pub use rating::{PartKind, RatedPart, Rating, Stress, StressQuantity};
pub use sensor::{Sensor, Sensors, TrimmedQuantity};
pub use sharing::{Measure, Shared, Sharing};
pub use switch::{Leg, SwitchSpecification, SwitchTiming};

use smallvec::SmallVec;

/// The largest number of phases.
pub const MAX_PHASES: usize = 12;
/// Switches of a phase: a high and a low one in either leg.
pub const SWITCHES_OF_PHASE: usize = 4;
/// A number for each part of one property; in place for as many as most converters have.
pub type PartNumbers = SmallVec<[f64; 4 * SWITCHES_OF_PHASE]>;
/// The smallest number of phases: with one there is nothing to share.
pub const MIN_PHASES: usize = 2;
