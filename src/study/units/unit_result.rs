//! A listed converter at one operating point in one arrangement.

use crate::converter::{Arrangement, Converter, OperatingPoint, UsedDrives};
use crate::scenario::Scenario;
use crate::solver::{Case, Method, Outcome, PhaseState, Solver, SteadyState};
use crate::study::common::commutation::SoftSwitching;
use crate::study::common::demand::Demand;
use crate::study::common::figures::{Figure, SolvedConverter, Switch, switches};
use crate::study::common::loaded_parts::PartLoad;
use crate::study::common::loss_figures::{LossFigure, LossValue};
use crate::study::common::missed::MissedDemand;
use crate::units::{Ampere, Hertz, Volt, Watt};

/// One converter at one operating point in one arrangement.
#[derive(Debug)]
pub struct UnitResult {
    /// The converter's place in the parts file.
    pub unit: usize,
    /// The converter's name.
    pub name: String,
    /// The operating point.
    pub point: OperatingPoint,
    /// The arrangement.
    pub arrangement: Arrangement,
    /// What became of it.
    pub outcome: SearchOutcome,
    /// What was found, if solved.
    pub solved: Option<SolvedUnit>,
    /// The limits that it misses.
    pub missed: Vec<MissedDemand>,
    /// Place of the currents measured here, among [`Listed::measured`](super::Listed::measured).
    pub measured: Option<usize>,
}

/// The steady state of a listed converter.
#[derive(Debug)]
pub struct SolvedUnit {
    /// Switching frequency that delivers the output.
    pub switching_frequency: Hertz,
    /// Every phase.
    pub phases: Vec<UnitPhase>,
    /// The sharing error that the limit is on, a fraction.
    pub sharing_error: f64,
    /// What its worst switches carry and block.
    pub worst_switches: WorstSwitches,
    /// What loads every part; none by the averaged solver, which does not tell.
    pub loads: Vec<PartLoad>,
    /// All that it loses.
    pub loss: Watt,
    /// The parts of it and how warm they make its devices: the figures that the scenario tells, none where it does
    /// not tell losses apart.
    pub losses: Vec<LossValue>,
    /// The largest ratio of a limited figure to its limit; zero where nothing is limited.
    pub limit_use: f64,
    /// How its switches turn on, if asked for.
    pub switching: Option<SoftSwitching>,
}

/// A phase of a solved converter. Currents are those of the tank as it is, in both arrangements.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UnitPhase {
    /// Mean rectified output current.
    pub output_current: Ampere,
    /// Mean absolute tank current.
    pub mean_abs_current: Ampere,
    /// Root-mean-square tank current.
    pub rms_current: Ampere,
    /// Largest absolute tank current.
    pub peak_current: Ampere,
    /// ∫ i dt over the phase's high interval, in coulomb.
    pub charge: f64,
    /// Source voltage at the start of the high interval.
    pub start_voltage: Volt,
}

/// The highest values of any switch of a converter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WorstSwitches {
    /// The switch with the highest RMS current.
    pub switch: Option<Switch>,
    /// RMS current.
    pub rms_current: Ampere,
    /// Peak current.
    pub peak_current: Ampere,
    /// Blocking voltage, with the assumed drift of the flying-capacitor voltages; in the dead times too,
    /// where these are followed.
    pub blocking_voltage: Volt,
}

/// A converter to be solved in a case.
#[derive(Debug, Clone, Copy)]
pub(super) struct UnitCase<'a> {
    pub(super) unit: usize,
    pub(super) name: &'a str,
    pub(super) converter: &'a Converter,
    pub(super) case: &'a Case,
    /// Those of all cases.
    pub(super) drives: UsedDrives,
}

impl UnitResult {
    /// Whether it is solved and meets every limit.
    pub fn meets_limits(&self) -> bool {
        self.missed.is_empty()
    }

    /// Solves a converter and judges it.
    pub(super) fn new(scenario: &Scenario, unit_case: UnitCase<'_>, solver: &Solver) -> Self {
        let UnitCase { unit, name, converter, case, .. } = unit_case;
        let (point, arrangement) = (&case.point, case.arrangement);
        let outcome = solver.solve(converter, case);
        let missed = match outcome.solved() {
            None => MissedDemand::regulation(&scenario.limits, arrangement),
            Some(state) => {
                let figures = figures(scenario, unit_case, state);
                MissedDemand::all(&scenario.limits, &figures, arrangement, point.drive)
            }
        };
        Self {
            unit,
            name: name.to_owned(),
            point: point.clone(),
            arrangement,
            outcome: SearchOutcome::from(&outcome),
            solved: outcome.solved().map(|state| SolvedUnit::new(scenario, unit_case, state)),
            missed,
            measured: None,
        }
    }
}

/// A solved converter, ready to be measured.
fn figures<'a>(
    scenario: &'a Scenario,
    unit_case: UnitCase<'a>,
    state: &'a SteadyState,
) -> SolvedConverter<'a> {
    let UnitCase { converter, case, .. } = unit_case;
    SolvedConverter::new(state, converter, &case.point, case.arrangement, &scenario.drift)
        .with_switches(scenario.switch.as_ref())
}

impl SolvedUnit {
    fn new(scenario: &Scenario, unit_case: UnitCase<'_>, state: &SteadyState) -> Self {
        let UnitCase { case, drives, .. } = unit_case;
        let (point, arrangement) = (&case.point, case.arrangement);
        let figures = figures(scenario, unit_case, state);
        let demands = Demand::all(&scenario.limits, arrangement).into_iter();
        let ratios =
            demands.filter_map(|demand| Some(demand.use_of(figures.value(demand.figure?))));
        Self {
            switching_frequency: state.switching_frequency,
            phases: UnitPhase::all(&state.phases),
            sharing_error: figures.sharing_error(scenario.limits.sharing),
            worst_switches: WorstSwitches::new(&figures, point, state.phases.len()),
            loads: if case.with_stress {
                PartLoad::all(&figures, arrangement, drives)
            } else {
                Vec::new()
            },
            loss: Watt(figures.value(Figure::Loss)),
            losses: figures.loss_values(scenario, Method::Exact),
            limit_use: ratios.fold(0.0, f64::max),
            switching: figures.switching().cloned(),
        }
    }
}

impl SolvedUnit {
    /// A figure of its losses; none where that is not known.
    pub fn loss_figure(&self, figure: LossFigure) -> Option<f64> {
        LossValue::of(&self.losses, figure)
    }
}

impl UnitPhase {
    /// All phases of a steady state.
    pub(super) fn all(phases: &[PhaseState]) -> Vec<Self> {
        let phase = |state: &PhaseState| Self {
            output_current: state.output_current,
            mean_abs_current: state.mean_abs_current,
            rms_current: state.rms_current,
            peak_current: state.peak_current,
            charge: state.charge,
            start_voltage: state.start_voltage,
        };
        phases.iter().map(phase).collect()
    }
}

impl WorstSwitches {
    fn new(figures: &SolvedConverter<'_>, point: &OperatingPoint, phases: usize) -> Self {
        let rms = |switch: &Switch| figures.value(Figure::SwitchRms(*switch));
        let all = switches(phases, point.drive.legs());
        Self {
            switch: all.max_by(|a, b| rms(a).total_cmp(&rms(b))),
            rms_current: Ampere(figures.value(Figure::WorstSwitchRms)),
            peak_current: Ampere(figures.value(Figure::WorstSwitchPeak)),
            blocking_voltage: Volt(figures.value(Figure::WorstBlocking)),
        }
    }
}

/// What became of a search, without the steady state.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SearchOutcome {
    /// `solved`, `out of range` or `not solved`.
    pub status: &'static str,
    /// Why there is no steady state, in words; none if it is solved.
    pub reason: Option<&'static str>,
}

impl From<&Outcome> for SearchOutcome {
    fn from(outcome: &Outcome) -> Self {
        Self { status: outcome.name(), reason: outcome.reason() }
    }
}
