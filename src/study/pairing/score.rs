//! How much of the current a tank would draw among nominal ones: the surrogate of the search.
//!
//! To first order a phase's share departs from the mean by
//!
//! ```text
//! x(k)/m − 1 = s(k) − mean of s,   s(k) = Σ S(p) (value of p / nominal − 1)
//! ```
//!
//! with one sensitivity S of every parameter p at every operating point, from the solver by central
//! differences on one phase of the nominal converter: its own deviation is (1 − 1/N) S times the
//! step. Derived for this project; where a phase stands in the chain makes no difference to this
//! order but by the flying capacitors next to it, which is left out. The solver has the last word.

use crate::converter::{Converter, Measure, Parameter, Shared, Tank};
use crate::population::stock::Measured;
use crate::scenario::Scenario;
use crate::solver::{PhaseState, SteadyState};
use crate::study::pairing::Chain;

/// Relative step of the differences.
const STEP: f64 = 0.005;
/// Exchanges are tried while the surrogate sees them below so many times the limit.
const PROMISING: f64 = 1.1;

/// A tank's departure s from the share of a nominal one, and what it is held against.
#[derive(Debug, Clone, PartialEq)]
pub struct Score {
    /// One an operating point.
    pub departures: Vec<f64>,
    /// How the phases of a converter make one sharing error.
    pub measure: Measure,
    /// The limit of the sharing error; 1 where there is none.
    pub limit: f64,
}

/// The scores of tanks in stock.
pub fn scores(scenario: &Scenario, judge: &Chain, tanks: &[Measured<Tank>]) -> Vec<Score> {
    let nominal = scenario.nominal_converter();
    let sensitivities: Vec<Vec<(Parameter, f64)>> =
        (0..judge.cases().len()).map(|case| judge.sensitivities(&nominal, case)).collect();
    let off = |tank: &Tank, p: Parameter| {
        let (own, ordinary) = (tank.value(p), scenario.nominal.value(p));
        own.zip(ordinary).map_or(0.0, |(own, ordinary)| own / ordinary - 1.0)
    };
    let departure = |tank: &Tank, case: &Vec<(Parameter, f64)>| {
        case.iter().map(|(p, sensitivity)| sensitivity * off(tank, *p)).sum()
    };
    tanks
        .iter()
        .map(|tank| Score {
            departures: sensitivities.iter().map(|case| departure(&tank.part, case)).collect(),
            measure: scenario.limits.sharing.measure,
            limit: scenario.limits.sharing_error.unwrap_or(1.0),
        })
        .collect()
}

impl Chain<'_> {
    /// S of every parameter at an operating point; parameters that are zero have none.
    fn sensitivities(&self, nominal: &Converter, case: usize) -> Vec<(Parameter, f64)> {
        let of = |p: Parameter| {
            let [up, down] = [STEP, -STEP].map(|step| {
                let mut changed = nominal.clone();
                *changed.tanks.first_mut()?.value_mut(p)? *= 1.0 + step;
                self.share_of_first(&changed, case)
            });
            let apart = (up? - down?) / (2.0 * STEP);
            Some((p, apart / (1.0 - 1.0 / nominal.phases() as f64)))
        };
        Parameter::of_tank().filter_map(of).filter(|(_, s)| s.is_finite()).collect()
    }

    /// The first phase's share over the mean.
    fn share_of_first(&self, converter: &Converter, case: usize) -> Option<f64> {
        let outcome = self.solve(converter, case);
        let state: &SteadyState = outcome.solved()?;
        let share = |p: &PhaseState| match self.sharing().share {
            Shared::OutputCurrent => p.output_current.0,
            Shared::MeanTankCurrent => p.mean_abs_current.0,
            Shared::RmsTankCurrent => p.rms_current.0,
        };
        let all: f64 = state.phases.iter().map(share).sum();
        Some(share(state.phases.first()?) * state.phases.len() as f64 / all)
    }
}

/// The sharing error that the surrogate expects of a converter with these tanks, in units of the
/// limit, at the operating point where it is largest.
pub(super) fn expected(scores: &[Score], tanks: &[usize]) -> f64 {
    let Some(first) = tanks.first().map(|n| &scores[*n]) else { return 0.0 };
    let at =
        |point: usize| first.measure.of(tanks.iter().map(|n| 1.0 + scores[*n].departures[point]));
    (0..first.departures.len()).map(at).fold(0.0, f64::max) / first.limit
}

/// Whether the solver should look at a converter with these tanks.
pub(super) fn promising(scores: &[Score], tanks: &[usize]) -> bool {
    expected(scores, tanks) <= PROMISING
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::AtomicBool;

    use super::*;
    use crate::population::Population;
    use crate::solver::Method;
    use crate::study::pairing::Judge;

    /// The surrogate against the solver, on drawn converters of several phases: far apart in their
    /// errors, it tells them within a sixth of the error and a twentieth of the limit.
    #[test]
    fn the_surrogate_is_near_the_solver() {
        let text = include_str!("../../../scenarios/telecom-shelf.toml");
        let scenario = Scenario::parse("shelf", text).unwrap();
        let stop = AtomicBool::new(false);
        let judge = Chain::new(&scenario, (Method::Exact, 1), &stop).unwrap();
        let population = Population::new(&scenario, 4);
        let converters: Vec<Converter> = (0..200).map(|k| population.draw(k)).collect();
        let judged = judge.judge(&converters).unwrap();
        let mut seen = Vec::new();
        for (converter, judged) in converters.iter().zip(&judged) {
            let tanks: Vec<Measured<Tank>> = converter
                .tanks
                .iter()
                .map(|tank| Measured { serial: String::new(), part: *tank })
                .collect();
            let scores = scores(&scenario, &judge, &tanks);
            let surrogate = expected(&scores, &[0, 1, 2]) * scores[0].limit;
            let exact = judged.sharing_error.unwrap();
            assert!((surrogate - exact).abs() < exact / 6.0 + 0.05 * 0.025, "{surrogate} {exact}");
            seen.push(exact);
        }
        let largest = seen.iter().copied().fold(0.0, f64::max);
        let smallest = seen.iter().copied().fold(1.0, f64::min);
        assert!(largest > 3.0 * smallest, "{smallest} to {largest}");
    }
}
