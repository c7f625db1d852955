//! The surrogate of the search: what each tank does to each limited figure of a converter, to first
//! order.
//!
//! A figure x of phase k at an operating point follows
//!
//! ```text
//! x(k) = nominal x + own(k) + Σ common(j) over all phases j
//! own(j) = Σ (∂x(j)/∂p(j) − ∂x(i)/∂p(j)) Δp(j),   common(j) = Σ ∂x(i)/∂p(j) Δp(j),   i ≠ j
//! ```
//!
//! summed over the parameters p of tank j. The derivatives come from the solver, by central
//! differences on one phase of the nominal converter. Of a share of the mean only differences count,
//! so that its common part has no effect. A figure of the whole converter, such as the frequency, has
//! no own part. Derived for this project. To this order the position of a phase in the chain matters
//! only through the flying capacitors next to it, which is left out. The solver has the last word.

use super::evaluator::ChainEvaluator;
use crate::converter::{Converter, Measure, Parameter, Tank};
use crate::population::stock::MeasuredPart;
use crate::solver::{PhaseState, SteadyState, SwitchCurrent};
use crate::study::common::demand::Demand;
use crate::study::common::figures::{Figure, SolvedConverter};

/// Relative step of the differences.
const STEP: f64 = 0.005;
/// Figures whose farthest prediction takes less of the room below the limit are left out.
const NEGLIGIBLE: f64 = 0.8;
/// The least room between the nominal converter and a limit, as a share of the limit.
const LEAST_ROOM: f64 = 0.002;

/// How the phases of a converter make one limited figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PhaseAggregate {
    /// The sharing error, which is zero for equal phases.
    Sharing(Measure),
    /// The worst of the phases; equal ones take this share of the room below the limit.
    Worst(f64),
}

/// A limited figure at an operating point, with what every tank in stock does to it.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitedFigure {
    /// How the phases make the figure.
    pub aggregate: PhaseAggregate,
    /// How far the limit is from the nominal converter, in the figure's unit.
    pub room: f64,
    /// What a tank does to its own phase beyond what it does to all, in the figure's unit.
    pub own_effect: Vec<f64>,
    /// What a tank does to all phases, in the figure's unit.
    pub common_effect: Vec<f64>,
}

impl LimitedFigure {
    /// The share of the room that a converter with these tanks takes; above 1 it fails.
    fn share_taken(&self, tanks: &[usize]) -> f64 {
        match self.aggregate {
            PhaseAggregate::Sharing(measure) => {
                measure.error(tanks.iter().map(|n| 1.0 + self.own_effect[*n])) / self.room
            }
            PhaseAggregate::Worst(nominal) => {
                let common: f64 = tanks.iter().map(|n| self.common_effect[*n]).sum();
                let effects = tanks.iter().map(|n| self.own_effect[*n]);
                nominal + (common + effects.fold(f64::NEG_INFINITY, f64::max)) / self.room
            }
        }
    }

    /// Whether tanks of the stock can bring a converter near the limit.
    fn can_bind(&self, phases: usize) -> bool {
        let most = |all: &[f64]| all.iter().copied().fold(0.0, f64::max);
        match self.aggregate {
            PhaseAggregate::Sharing(_) => true,
            PhaseAggregate::Worst(nominal) => {
                let farthest = phases as f64 * most(&self.common_effect) + most(&self.own_effect);
                nominal + farthest / self.room > NEGLIGIBLE
            }
        }
    }
}

/// The prediction of limited figures before converters are solved.
#[derive(Debug, Clone, PartialEq)]
pub struct Surrogate {
    /// Number of tanks in stock.
    pub tanks: usize,
    /// All limited figures at all operating points that tanks of the stock can bring to their limits.
    pub figures: Vec<LimitedFigure>,
    /// What counts as expected to pass, in units of the room below a limit.
    pub margin: f64,
}

impl Surrogate {
    /// The surrogate of tanks in stock.
    pub fn new(evaluator: &ChainEvaluator, tanks: &[MeasuredPart<Tank>]) -> Self {
        let cases = 0..evaluator.cases().len();
        let figures = cases
            .flat_map(|case| evaluator.limited_figures(case, tanks))
            .filter(|figure| figure.can_bind(evaluator.session.scenario().phases))
            .collect();
        Self { tanks: tanks.len(), figures, margin: 1.0 }
    }

    /// The largest share of the room below any limit that a converter with these tanks takes, of
    /// the margin: above 1 it is expected to fail.
    pub(super) fn expected(&self, tanks: &[usize]) -> f64 {
        let taken = self.figures.iter().map(|figure| figure.share_taken(tanks));
        taken.fold(0.0, f64::max) / self.margin
    }

    /// What a tank does to all figures together, in units of the room below their limits: tanks that
    /// are alike have effects that are near each other.
    pub(super) fn total_effect(&self, tank: usize) -> f64 {
        let effect = |figure: &LimitedFigure| figure.own_effect[tank] + figure.common_effect[tank];
        self.figures.iter().map(|figure| effect(figure) / figure.room).sum()
    }
}

/// An upper limit of a figure; a lower limit is the upper one of the figure with the other sign.
#[derive(Debug, Clone, Copy)]
struct SignedLimit {
    figure: Figure,
    sign: f64,
    /// The limit, with the sign.
    limit: f64,
}

/// What a relative change of a parameter of one phase does to a figure.
struct Derivatives {
    /// To the figure of that phase.
    own: f64,
    /// To that of the others, on average.
    others: f64,
}

impl ChainEvaluator<'_> {
    /// All limited figures at an operating point; none where the nominal converter is not solved.
    fn limited_figures(&self, case: usize, tanks: &[MeasuredPart<Tank>]) -> Vec<LimitedFigure> {
        self.limits(case)
            .into_iter()
            .filter_map(|limit| self.limited_figure(limit, case, tanks))
            .collect()
    }

    /// The limits at an operating point, the ends of the frequency band first.
    fn limits(&self, case: usize) -> Vec<SignedLimit> {
        let band = &self.session.scenario().frequency;
        let demands = Demand::all(&self.session.scenario().limits, self.cases()[case].arrangement);
        let limited = demands
            .iter()
            .filter_map(|d| Some(SignedLimit { figure: d.figure?, sign: 1.0, limit: d.limit }));
        let frequency = [(1.0, band.maximum.0), (-1.0, -band.minimum.0)]
            .map(|(sign, limit)| SignedLimit { figure: Figure::SwitchingFrequency, sign, limit });
        frequency.into_iter().chain(limited).collect()
    }

    /// A figure of every phase, with the limit's sign; one of the whole converter counts as that of
    /// each phase.
    fn phase_values(
        &self,
        limit: SignedLimit,
        converter: &Converter,
        case: usize,
    ) -> Option<Vec<f64>> {
        let outcome = self.solve(converter, case);
        let state: &SteadyState = outcome.solved()?;
        let of_phases =
            |value: &dyn Fn(&PhaseState) -> f64| state.phases.iter().map(value).collect();
        let worst = |p: &PhaseState, value: fn(&SwitchCurrent) -> f64| {
            p.switches.all().iter().map(value).fold(0.0, f64::max)
        };
        Some(match limit.figure {
            Figure::SharingError(sharing) => {
                let share = |p: &PhaseState| p.shared(sharing.share).0;
                let sum: f64 = state.phases.iter().map(share).sum();
                of_phases(&|p| share(p) * state.phases.len() as f64 / sum)
            }
            Figure::WorstSwitchRms => of_phases(&|p| worst(p, |current| current.rms.0)),
            Figure::WorstSwitchPeak => of_phases(&|p| worst(p, |current| current.peak.0)),
            whole => {
                let (case, drift) = (&self.cases()[case], &self.session.scenario().drift);
                let (point, arrangement) = (&case.point, case.arrangement);
                let solved = SolvedConverter::new(state, converter, point, arrangement, drift)
                    .with_switches(self.session.scenario().switch.as_ref());
                vec![limit.sign * solved.value(whole); state.phases.len()]
            }
        })
    }

    fn limited_figure(
        &self,
        limit: SignedLimit,
        case: usize,
        tanks: &[MeasuredPart<Tank>],
    ) -> Option<LimitedFigure> {
        let nominal = self.session.scenario().nominal_converter();
        let values = |converter: &Converter| self.phase_values(limit, converter, case);
        let (aggregate, room) = if let Figure::SharingError(sharing) = limit.figure {
            (PhaseAggregate::Sharing(sharing.measure), limit.limit)
        } else {
            let worst = values(&nominal)?.into_iter().fold(f64::NEG_INFINITY, f64::max);
            let room = (limit.limit - worst).max(LEAST_ROOM * limit.limit.abs());
            (PhaseAggregate::Worst(1.0 + (worst - limit.limit) / room), room)
        };
        let mut own_effect = vec![0.0; tanks.len()];
        let mut common_effect = vec![0.0; tanks.len()];
        for p in Parameter::of_tank() {
            let Some(derivatives) = derivatives(&nominal, p, &values) else { continue };
            let ordinary = self.session.scenario().nominal.value(p)?;
            for (n, tank) in tanks.iter().enumerate() {
                let off = tank.part.value(p)? / ordinary - 1.0;
                own_effect[n] += (derivatives.own - derivatives.others) * off;
                common_effect[n] += derivatives.others * off;
            }
        }
        Some(LimitedFigure { aggregate, room, own_effect, common_effect })
    }
}

/// The derivatives by a parameter of the first phase; none for a parameter that is zero.
fn derivatives(
    nominal: &Converter,
    p: Parameter,
    figure: &impl Fn(&Converter) -> Option<Vec<f64>>,
) -> Option<Derivatives> {
    nominal.tanks.first()?.value(p).filter(|value| *value > 0.0)?;
    let [up, down] = [STEP, -STEP].map(|step| {
        let mut changed = nominal.clone();
        *changed.tanks.first_mut()?.value_mut(p)? *= 1.0 + step;
        figure(&changed)
    });
    let apart: Vec<f64> =
        up?.iter().zip(down?).map(|(up, down)| (up - down) / (2.0 * STEP)).collect();
    let (own, others) = apart.split_first()?;
    Some(Derivatives { own: *own, others: others.iter().sum::<f64>() / others.len() as f64 })
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::AtomicBool;

    use super::*;
    use crate::population::Population;
    use crate::scenario::Scenario;
    use crate::solver::Method;
    use crate::study::allocation::ConverterEvaluator;
    use crate::study::common::session::Session;
    use crate::study::common::settings::Settings;

    const SETTINGS: Settings = Settings { samples: 0, seed: 0, method: Method::Exact, threads: 1 };

    /// The surrogate against the solver, on drawn converters of several phases: far apart in their
    /// errors, it tells them within a sixth of the error and a twentieth of the limit.
    #[test]
    fn the_surrogate_is_near_the_solver() {
        let text = include_str!("../../../scenarios/telecom-shelf.toml");
        let scenario = Scenario::parse("shelf", text).unwrap();
        let stop = AtomicBool::new(false);
        let session = Session::new(&scenario, SETTINGS, &stop).unwrap();
        let evaluator = ChainEvaluator::new(&session);
        let population = Population::new(&scenario, 4);
        let converters: Vec<Converter> = (0..200).map(|k| population.draw(k)).collect();
        let evaluations = evaluator.evaluate(&converters).unwrap();
        let mut seen = Vec::new();
        for (converter, evaluation) in converters.iter().zip(&evaluations) {
            let tanks: Vec<MeasuredPart<Tank>> = converter
                .tanks
                .iter()
                .map(|tank| MeasuredPart { serial: String::new(), part: *tank })
                .collect();
            let figures = Surrogate::new(&evaluator, &tanks).figures;
            let sharing =
                figures.iter().filter(|f| matches!(f.aggregate, PhaseAggregate::Sharing(_)));
            let taken = sharing.map(|figure| figure.share_taken(&[0, 1, 2])).fold(0.0, f64::max);
            let surrogate = taken * scenario.limits.sharing_error.unwrap();
            let exact = evaluation.sharing_error.unwrap();
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
        let session = Session::new(&scenario, SETTINGS, &stop).unwrap();
        let evaluator = ChainEvaluator::new(&session);
        let population = Population::new(&scenario, 5);
        let limits = scenario.limits.chain;
        let figures = [
            (0, Figure::SwitchingFrequency, 1.0, 300e3),
            (1, Figure::SwitchingFrequency, -1.0, -90e3),
            (3, Figure::WorstSwitchRms, 1.0, limits.rms_current.unwrap().0),
            (4, Figure::WorstSwitchPeak, 1.0, limits.peak_current.unwrap().0),
        ];
        for (index, figure, sign, limit) in figures {
            let limit = SignedLimit { figure, sign, limit };
            let (mut scatter, mut left) = (0.0, 0.0);
            for k in 0..100 {
                let drawn = population.draw(k);
                let converter = Converter { tanks: drawn.tanks, ..scenario.nominal_converter() };
                let part = |tank: &Tank| MeasuredPart { serial: String::new(), part: *tank };
                let tanks: Vec<MeasuredPart<Tank>> = converter.tanks.iter().map(part).collect();
                let limited = &evaluator.limited_figures(2, &tanks)[index];
                let PhaseAggregate::Worst(nominal) = limited.aggregate else {
                    panic!("{figure:?}")
                };
                let seen = evaluator.phase_values(limit, &converter, 2).unwrap();
                let seen = seen.into_iter().fold(f64::NEG_INFINITY, f64::max);
                let taken = 1.0 + (seen - limit.limit) / limited.room;
                scatter += (taken - nominal).powi(2);
                left += (taken - limited.share_taken(&[0, 1, 2])).powi(2);
            }
            assert!(left.sqrt() < scatter.sqrt() / 8.0, "{figure:?}: {left} of {scatter}");
        }
    }
}
