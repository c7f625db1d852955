//! The output current at a given frequency and output voltage, from one trial to the next.

use super::search::Delivered;
use super::solution::Base;
use super::system::{Point, System};
use crate::converter::{Arrangement, Converter, FrequencyBand, OperatingPoint};
use crate::units::{Ampere, Hertz};

/// Share of the wanted current below which a solution is too idle to start another from.
const WORTH_KEEPING: f64 = 0.5;

/// A converter at given frequencies, with the last solution to start from.
#[derive(Debug, Clone)]
pub struct AtFrequency {
    base: Base,
    near: Option<Point>,
}

impl AtFrequency {
    /// For a converter and the input voltage and drive of an operating point, which have to stay.
    pub fn new(converter: &Converter, point: &OperatingPoint) -> Self {
        Self { base: Base::of(converter, point), near: None }
    }

    /// Output current in ampere at a switching frequency in hertz, above zero, and at the output
    /// voltage of `point`; its output current tells which currents count as none (below a
    /// thousandth of it). `None` when the phases cannot be settled there.
    pub fn output_current(
        &mut self,
        converter: &Converter,
        point: &OperatingPoint,
        frequency: Hertz,
        arrangement: Arrangement,
    ) -> Option<Ampere> {
        let band = FrequencyBand { minimum: frequency, maximum: frequency };
        let system = System::new(converter, point, &band, arrangement, &self.base);
        let h = system.half_periods.0;
        let cold = || system.cold(h);
        let near = self.near.clone().unwrap_or_else(cold);
        let found = system.deliver(&near, h).or_else(|| system.deliver(&cold(), h))?;
        let Delivered { point: settled, current, .. } = found;
        if current > WORTH_KEEPING * system.output_current {
            self.near = Some(settled);
        }
        Some(Ampere(current * self.base.ampere()))
    }
}
