//! The output current at a given frequency and output voltage, from one trial to the next.

use super::search::Delivered;
use super::start::Base;
use super::system::{ConverterUnknowns, Linear, PerUnitConverter};
use crate::converter::{Converter, OperatingPoint};
use crate::solver::{Case, Effort, SteadyState};
use crate::units::Ampere;

/// Share of the wanted current below which a solution is too idle to start another from.
const WORTH_KEEPING: f64 = 0.02;

/// A converter at given frequencies, with the last solution to start from.
#[derive(Debug, Clone)]
pub(in crate::solver) struct AtFrequency {
    base: Base,
    near: Option<ConverterUnknowns>,
}

impl AtFrequency {
    /// For a converter and the input voltage and drive of an operating point, which have to stay.
    pub(in crate::solver) fn new(converter: &Converter, point: &OperatingPoint) -> Self {
        Self { base: Base::of_first_phase(converter, point), near: None }
    }

    /// Output current in a case whose band is one switching frequency, above zero, and at the
    /// case's output voltage. The case's output current tells which currents count as none (below
    /// a thousandth of it). `None` when the phases cannot be settled there, or not within
    /// the effort.
    pub(in crate::solver) fn output_current(
        &mut self,
        converter: &Converter,
        case: &Case,
        effort: &Effort,
    ) -> Option<Ampere> {
        let system = PerUnitConverter::new(converter, case, &self.base, effort);
        let current = self.settle(&system)?.current;
        Some(Ampere(current * self.base.ampere()))
    }

    fn settle(&mut self, system: &PerUnitConverter) -> Option<Delivered> {
        let h = system.half_periods.0;
        let cold = || system.cold(h);
        let near = self.near.clone().unwrap_or_else(cold);
        let settled = system.deliver(&near, h).or_else(|| system.deliver(&cold(), h))?;
        if settled.current > WORTH_KEEPING * system.output_current {
            self.near = Some(settled.point.clone());
        }
        Some(settled)
    }

    /// The steady state in a case whose band is one switching frequency, above zero. `None` when the
    /// phases cannot be settled there, or not within the effort.
    pub(in crate::solver) fn steady_state(
        &mut self,
        converter: &Converter,
        case: &Case,
        effort: &Effort,
    ) -> Option<SteadyState> {
        let system = PerUnitConverter::new(converter, case, &self.base, effort);
        let at = self.settle(&system)?.point;
        let mut linear = Linear::default();
        system.observe(&at, &mut linear)?;
        Some(system.state_in(case, &self.base, &at, &linear))
    }
}
