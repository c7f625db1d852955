//! What tanks do to each bounded figure of a converter, to first order: the surrogate of the search.
//!
//! A figure x of phase k at an operating point follows
//!
//! ```text
//! x(k) = nominal x + own(k) + Σ common(j) over all phases j
//! own(j) = Σ (∂x(j)/∂p(j) − ∂x(i)/∂p(j)) Δp(j),   common(j) = Σ ∂x(i)/∂p(j) Δp(j),   i ≠ j
//! ```
//!
//! summed over the parameters p of tank j, with derivatives from the solver by central differences on
//! one phase of the nominal converter. Of a share of the mean only differences count, so that its
//! common part has no effect; a figure of the whole converter, such as the frequency, has no own part.
//! Derived for this project; where a phase stands in the chain makes no difference to this order but
//! by the flying capacitors next to it, which is left out. The solver has the last word.

use crate::converter::{Converter, Measure, Parameter, Tank};
use crate::population::stock::MeasuredPart;
use crate::solver::{PhaseState, SteadyState, SwitchCurrent};
use crate::study::allocation::ChainEvaluator;
use crate::study::common::demand::Demand;
use crate::study::common::figures::{self, Figure};

/// Relative step of the differences.
const STEP: f64 = 0.005;
/// Exchanges are tried while the surrogate sees them below so many times the limit.
const PROMISING: f64 = 1.1;
/// The least room between the nominal converter and a limit that is told from none, of the limit.
const LEAST_ROOM: f64 = 0.002;

/// How the phases of a converter make one bounded figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PhaseAggregate {
    /// The sharing error, which is nothing for equal phases.
    Sharing(Measure),
    /// The worst of the phases; equal ones take this share of the room below the limit.
    Worst(f64),
}

/// A bounded figure at an operating point, with what every tank in stock does to it.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitedFigure {
    /// How the phases make the figure.
    pub bounded: PhaseAggregate,
    /// How far the limit is from the nominal converter, in the figure's unit.
    pub room: f64,
    /// What a tank does to its own phase beyond what it does to all, in the figure's unit.
    pub own: Vec<f64>,
    /// What a tank does to all phases, in the figure's unit.
    pub common: Vec<f64>,
}

impl LimitedFigure {
    /// The share of the room that a converter with these tanks takes; above 1 it fails.
    fn taken(&self, tanks: &[usize]) -> f64 {
        match self.bounded {
            PhaseAggregate::Sharing(measure) => {
                measure.of(tanks.iter().map(|n| 1.0 + self.own[*n])) / self.room
            }
            PhaseAggregate::Worst(nominal) => {
                let common: f64 = tanks.iter().map(|n| self.common[*n]).sum();
                let own = tanks.iter().map(|n| self.own[*n]).fold(f64::NEG_INFINITY, f64::max);
                nominal + (common + own) / self.room
            }
        }
    }

    /// Whether tanks of the stock can make a converter come near the limit.
    fn can_bind(&self, phases: usize) -> bool {
        let most = |all: &[f64]| all.iter().copied().fold(0.0, f64::max);
        match self.bounded {
            PhaseAggregate::Sharing(_) => true,
            PhaseAggregate::Worst(nominal) => {
                let farthest = phases as f64 * most(&self.common) + most(&self.own);
                nominal + farthest / self.room > 0.8
            }
        }
    }
}

/// What is expected of converters before they are solved.
#[derive(Debug, Clone, PartialEq)]
pub struct Surrogate {
    /// Number of tanks in stock.
    pub tanks: usize,
    /// All bounded figures at all operating points that tanks of the stock can bring to their limits.
    pub bounds: Vec<LimitedFigure>,
    /// What counts as expected to pass, in units of the room below a limit.
    pub margin: f64,
}

impl Surrogate {
    /// The surrogate of tanks in stock.
    pub fn new(judge: &ChainEvaluator, tanks: &[MeasuredPart<Tank>]) -> Self {
        let all = (0..judge.cases().len()).flat_map(|case| judge.bounds(case, tanks));
        let bounds = all.filter(|bound| bound.can_bind(judge.scenario.phases)).collect();
        Self { tanks: tanks.len(), bounds, margin: 1.0 }
    }

    /// The largest share of the room below any limit that a converter with these tanks takes, of
    /// what is held to pass: above 1 it is expected to fail.
    pub(super) fn expected(&self, tanks: &[usize]) -> f64 {
        self.bounds.iter().map(|bound| bound.taken(tanks)).fold(0.0, f64::max) / self.margin
    }

    /// Whether the solver should look at a converter with these tanks.
    pub(super) fn is_promising(&self, tanks: &[usize]) -> bool {
        self.expected(tanks) <= PROMISING
    }

    /// Where a tank stands among the others: alike ones are near each other.
    pub(super) fn place(&self, tank: usize) -> f64 {
        self.bounds.iter().map(|bound| (bound.own[tank] + bound.common[tank]) / bound.room).sum()
    }
}

impl ChainEvaluator<'_> {
    /// All bounded figures at an operating point; none where the nominal converter is not solved.
    fn bounds(&self, case: usize, tanks: &[MeasuredPart<Tank>]) -> Vec<LimitedFigure> {
        let band = &self.scenario.frequency;
        let demands = Demand::all(&self.scenario.limits, self.cases()[case].arrangement);
        let limited = demands.iter().filter_map(|d| Some((d.figure?, 1.0, d.limit)));
        // A lower limit is an upper one with the other sign.
        let frequency = [(1.0, band.maximum.0), (-1.0, -band.minimum.0)];
        let frequency = frequency.map(|(sign, limit)| (Figure::SwitchingFrequency, sign, limit));
        let all = frequency.into_iter().chain(limited);
        all.filter_map(|(figure, sign, limit)| {
            let of = |converter: &Converter| self.of_phases((figure, sign), converter, case);
            self.bound((figure, limit), of, tanks)
        })
        .collect()
    }

    /// A figure of every phase; one of the whole converter counts as that of each.
    fn of_phases(
        &self,
        (figure, sign): (Figure, f64),
        converter: &Converter,
        case: usize,
    ) -> Option<Vec<f64>> {
        let outcome = self.solve(converter, case);
        let state: &SteadyState = outcome.solved()?;
        let each = |of: &dyn Fn(&PhaseState) -> f64| state.phases.iter().map(of).collect();
        let worst = |p: &PhaseState, of: fn(&SwitchCurrent) -> f64| {
            p.switches.all().iter().map(of).fold(0.0, f64::max)
        };
        Some(match figure {
            Figure::SharingError(sharing) => {
                let share = |p: &PhaseState| p.shared(sharing.share).0;
                let sum: f64 = state.phases.iter().map(share).sum();
                each(&|p| share(p) * state.phases.len() as f64 / sum)
            }
            Figure::WorstSwitchRms => each(&|p| worst(p, |current| current.rms.0)),
            Figure::WorstSwitchPeak => each(&|p| worst(p, |current| current.peak.0)),
            whole => {
                let (case, split) = (&self.cases()[case], self.scenario.neutral_split);
                let (point, arrangement) = (&case.point, case.arrangement);
                let measured =
                    figures::SolvedConverter::new(state, converter, point, arrangement, split);
                vec![sign * measured.value(whole); state.phases.len()]
            }
        })
    }

    fn bound(
        &self,
        (figure, limit): (Figure, f64),
        of: impl Fn(&Converter) -> Option<Vec<f64>>,
        tanks: &[MeasuredPart<Tank>],
    ) -> Option<LimitedFigure> {
        let nominal = self.scenario.nominal_converter();
        let (bounded, room) = if let Figure::SharingError(sharing) = figure {
            (PhaseAggregate::Sharing(sharing.measure), limit)
        } else {
            let worst = of(&nominal)?.into_iter().fold(f64::NEG_INFINITY, f64::max);
            let room = (limit - worst).max(LEAST_ROOM * limit.abs());
            (PhaseAggregate::Worst(1.0 + (worst - limit) / room), room)
        };
        let (mut own, mut common) = (vec![0.0; tanks.len()], vec![0.0; tanks.len()]);
        for p in Parameter::of_tank() {
            let Some((of_own, of_others)) = derivatives(&nominal, p, &of) else { continue };
            let ordinary = self.scenario.nominal.value(p)?;
            for (n, tank) in tanks.iter().enumerate() {
                let off = tank.part.value(p)? / ordinary - 1.0;
                own[n] += (of_own - of_others) * off;
                common[n] += of_others * off;
            }
        }
        Some(LimitedFigure { bounded, room, own, common })
    }
}

/// What a relative change of a parameter of the first phase does to that phase's figure, and on
/// average to the others'; none for a parameter that is zero.
fn derivatives(
    nominal: &Converter,
    p: Parameter,
    figure: &impl Fn(&Converter) -> Option<Vec<f64>>,
) -> Option<(f64, f64)> {
    nominal.tanks.first()?.value(p).filter(|value| *value > 0.0)?;
    let [up, down] = [STEP, -STEP].map(|step| {
        let mut changed = nominal.clone();
        *changed.tanks.first_mut()?.value_mut(p)? *= 1.0 + step;
        figure(&changed)
    });
    let apart: Vec<f64> =
        up?.iter().zip(down?).map(|(up, down)| (up - down) / (2.0 * STEP)).collect();
    let (own, others) = apart.split_first()?;
    Some((*own, others.iter().sum::<f64>() / others.len() as f64))
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::AtomicBool;

    use super::*;
    use crate::population::Population;
    use crate::scenario::Scenario;
    use crate::solver::Method;
    use crate::study::allocation::ConverterEvaluator;

    /// The surrogate against the solver, on drawn converters of several phases: far apart in their
    /// errors, it tells them within a sixth of the error and a twentieth of the limit.
    #[test]
    fn the_surrogate_is_near_the_solver() {
        let text = include_str!("../../../scenarios/telecom-shelf.toml");
        let scenario = Scenario::parse("shelf", text).unwrap();
        let stop = AtomicBool::new(false);
        let judge = ChainEvaluator::new(&scenario, (Method::Exact, 1), &stop).unwrap();
        let population = Population::new(&scenario, 4);
        let converters: Vec<Converter> = (0..200).map(|k| population.draw(k)).collect();
        let judged = judge.evaluate(&converters).unwrap();
        let mut seen = Vec::new();
        for (converter, judged) in converters.iter().zip(&judged) {
            let tanks: Vec<MeasuredPart<Tank>> = converter
                .tanks
                .iter()
                .map(|tank| MeasuredPart { serial: String::new(), part: *tank })
                .collect();
            let bounds = Surrogate::new(&judge, &tanks).bounds;
            let sharing = bounds.iter().filter(|b| matches!(b.bounded, PhaseAggregate::Sharing(_)));
            let taken = sharing.map(|bound| bound.taken(&[0, 1, 2])).fold(0.0, f64::max);
            let surrogate = taken * scenario.limits.sharing_error.unwrap();
            let exact = judged.sharing_error.unwrap();
            assert!((surrogate - exact).abs() < exact / 6.0 + 0.05 * 0.025, "{surrogate} {exact}");
            seen.push(exact);
        }
        let largest = seen.iter().copied().fold(0.0, f64::max);
        let smallest = seen.iter().copied().fold(1.0, f64::min);
        assert!(largest > 3.0 * smallest, "{smallest} to {largest}");
    }

    /// The same of the figures that go by the worst phase or by all phases together: what is taken of
    /// the room scatters, and the surrogate leaves an eighth of that scatter at most.
    #[test]
    fn the_surrogate_sees_currents_and_frequencies() {
        let text = include_str!("../../../scenarios/telecom-shelf.toml");
        let scenario = Scenario::parse("shelf", text).unwrap();
        let stop = AtomicBool::new(false);
        let judge = ChainEvaluator::new(&scenario, (Method::Exact, 1), &stop).unwrap();
        let population = Population::new(&scenario, 5);
        let limits = scenario.limits.chain;
        let figures = [
            (0, Figure::SwitchingFrequency, 1.0, 300e3),
            (1, Figure::SwitchingFrequency, -1.0, -90e3),
            (3, Figure::WorstSwitchRms, 1.0, limits.rms_current.unwrap().0),
            (4, Figure::WorstSwitchPeak, 1.0, limits.peak_current.unwrap().0),
        ];
        for (place, figure, sign, limit) in figures {
            let (mut scatter, mut left) = (0.0, 0.0);
            for k in 0..100 {
                let drawn = population.draw(k);
                let converter = Converter { tanks: drawn.tanks, ..scenario.nominal_converter() };
                let part = |tank: &Tank| MeasuredPart { serial: String::new(), part: *tank };
                let tanks: Vec<MeasuredPart<Tank>> = converter.tanks.iter().map(part).collect();
                let bound = &judge.bounds(2, &tanks)[place];
                let PhaseAggregate::Worst(nominal) = bound.bounded else { panic!("{figure:?}") };
                let seen = judge.of_phases((figure, sign), &converter, 2).unwrap();
                let seen = seen.into_iter().fold(f64::NEG_INFINITY, f64::max);
                let taken = 1.0 + (seen - limit) / bound.room;
                scatter += (taken - nominal).powi(2);
                left += (taken - bound.taken(&[0, 1, 2])).powi(2);
            }
            assert!(left.sqrt() < scatter.sqrt() / 8.0, "{figure:?}: {left} of {scatter}");
        }
    }
}
