//! How the flying capacitors of a chain join its phases.

use arrayvec::ArrayVec;

use crate::converter::{Arrangement, Converter, Drive, MAX_PHASES};

/// What the capacitors between the phases of a chain do to them.
///
/// A node between two phases is charged in one half of the period and discharged in the other. Mostly
/// one capacitor does both; where a switch has failed, two may share the work.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ChainLinks {
    /// κ and κ′ of each phase in 1/farad: the elastance that its own current sees beside that of its
    /// resonant capacitor, in the first and in the second half of its period.
    pub elastances: ArrayVec<[f64; 2], MAX_PHASES>,
    /// By how much the voltages of all phases together rise with half of the charge, in 1/farad: every
    /// node is recharged before the next phase begins. Over all driven legs.
    pub ripple: f64,
}

impl ChainLinks {
    /// Those of a converter whose parts all work; without effect in the paralleled arrangement.
    pub fn of_converter(converter: &Converter, arrangement: Arrangement, drive: Drive) -> Self {
        let of_phase = |k| converter.flying_elastance(k, arrangement, drive);
        let legs = [&converter.flying, &converter.flying_return];
        Self {
            elastances: (0..converter.phases()).map(of_phase).collect(),
            ripple: legs[..drive.legs()].iter().flat_map(|l| l.iter()).map(|c| 1.0 / c.0).sum(),
        }
    }
}
