//! The nominal converter of every variant.

use itertools::Itertools as _;

use super::variant::Variant;
use super::variant_case::VariantCase;
use crate::converter::Leg;
use crate::study::common::figures::{Figure, Side, SolvedConverter, switches};
use crate::study::common::missed::{MissedDemand, NominalMiss};
use crate::study::common::session::Session;

/// Switches whose currents differ by less, relatively, are equally loaded.
const NEAR: f64 = 0.99;

/// The nominal converters of all variants, solved.
#[derive(Clone, Copy)]
pub(super) struct NominalConverters<'a> {
    pub session: &'a Session<'a>,
    pub variant_cases: &'a [&'a VariantCase],
}

impl NominalConverters<'_> {
    /// The nominal converter of a variant at every operating point.
    fn solved(
        &self,
        variant: Variant,
    ) -> impl Iterator<Item = (&VariantCase, SolvedConverter<'_>)> {
        let cases = self.variant_cases.iter().copied().filter(move |v| v.variant == variant);
        cases.map(move |v| {
            let measurement = v.measurement(self.session, &[]);
            (v, measurement.solved(&v.nominal, &v.nominal_parts, &v.case))
        })
    }

    /// A figure, the largest over a variant's operating points.
    pub(super) fn figure(&self, variant: Variant, figure: Figure) -> f64 {
        self.solved(variant).map(|(_, solved)| solved.value(figure)).fold(0.0, f64::max)
    }

    /// The limit that a variant misses by the largest ratio.
    pub(super) fn miss(&self, variant: Variant) -> Option<NominalMiss> {
        let mut worst: Option<NominalMiss> = None;
        for (VariantCase { case, .. }, solved) in self.solved(variant) {
            let (limits, arrangement) = (&self.session.scenario().limits, case.arrangement);
            for missed in MissedDemand::all(limits, &solved, arrangement, case.point.drive) {
                let is_worse = |miss: &NominalMiss| missed.ratio() > miss.missed.ratio();
                if worst.as_ref().is_none_or(is_worse) {
                    let operating_point = case.point.name.clone();
                    worst = Some(NominalMiss { operating_point, arrangement, missed });
                }
            }
        }
        worst
    }

    /// The switches of a phase's bridge that carry the highest RMS current of a variant; none where
    /// all of them do.
    pub(super) fn worst_switches(&self, variant: Variant) -> Vec<(Leg, Side)> {
        let (mut most, mut found) = (0.0, Vec::new());
        for (VariantCase { case, .. }, solved) in self.solved(variant) {
            let all = switches(self.session.scenario().phases, case.point.drive.legs());
            let currents: Vec<_> =
                all.map(|s| ((s.leg, s.side), solved.value(Figure::SwitchRms(s)))).collect();
            let highest = currents.iter().fold(0.0, |a, (_, x)| f64::max(a, *x));
            if highest > most {
                most = highest;
                // Switches of one leg and side follow each other, phase by phase.
                let loaded = |least: f64| -> Vec<(Leg, Side)> {
                    let loaded = currents.iter().filter(|(_, x)| *x >= least);
                    loaded.map(|(switch, _)| *switch).dedup().collect()
                };
                found = loaded(highest * NEAR);
                if found.len() == loaded(0.0).len() {
                    found.clear();
                }
            }
        }
        found
    }
}
