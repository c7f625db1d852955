//! The nominal converter: does it reach every operating point, and what does it do there?
//!
//! Nothing is sampled here. How the configuration of an operating point is chosen lives in
//! `study::common`.

mod soft_switching;

use std::sync::atomic::AtomicBool;

pub use self::soft_switching::{
    CommonDeadTimes, DeadTimeWindow, DeadTimes, FallingFirst, LargestMagnetising, MagnetisingLimit,
    NominalSwitching,
};
use crate::converter::{Arrangement, UsedDrives};
use crate::scenario::Scenario;
use crate::solver::dissipation::Dissipation;
use crate::solver::{Method, PhaseState, Solver};
use crate::study::common::figures::{Figure, SolvedConverter};
use crate::study::common::loaded_parts::{HighestLoad, LoadedResult, PartLoad};
use crate::study::common::loss_figures::{LossFigure, LossValue};
use crate::study::common::missed::{MissedDemand, NominalMiss};
use crate::study::common::nominal::{Baseline, BaselineError, baselines};
use crate::study::common::settling_figures::SettlingFigure;
use crate::study::common::shared_work::SharedWork;
use crate::units::{Ampere, Hertz, Ohm, Second, Volt, Watt};

/// The nominal converter, checked.
#[derive(Debug)]
pub struct Check {
    /// How steady states were found.
    pub method: Method,
    /// What follows from the nominal parts alone.
    pub design: DesignRatios,
    /// One an operating point and arrangement, the chain before the paralleled reference.
    pub cases: Vec<NominalCase>,
    /// The limits of the scenario that the nominal converter misses, in the order of the cases.
    pub misses: Vec<NominalMiss>,
}

/// What follows from the nominal parts alone.
#[derive(Debug, Clone, Copy)]
pub struct DesignRatios {
    /// Series resonant frequency of a tank, `1 / (2π √(L_r C_r))`.
    pub series_resonance: Hertz,
    /// Characteristic impedance of a tank, `√(L_r / C_r)`.
    pub characteristic_impedance: Ohm,
    /// Magnetising over resonant inductance, `L_m / L_r`.
    pub inductance_ratio: f64,
    /// Flying over resonant capacitance, `C_f / C_r`.
    pub capacitance_ratio: f64,
}

/// The nominal converter at one operating point in one arrangement.
#[derive(Debug)]
pub struct NominalCase {
    /// The operating point in its configuration, and the steady state.
    pub baseline: Baseline,
    /// Switching frequency that the averaged solver finds; none where it finds no steady state.
    pub averaged_frequency: Option<Hertz>,
    /// The sharing error that the limit is on, a fraction.
    pub sharing_error: f64,
    /// RMS current of the tank that carries most.
    pub tank_rms_current: Ampere,
    /// Peak current of the tank with the highest peak.
    pub tank_peak_current: Ampere,
    /// RMS current of the switch that carries most.
    pub switch_rms_current: Ampere,
    /// Peak current of the switch with the highest peak.
    pub switch_peak_current: Ampere,
    /// Voltages of the driven leg's flying capacitors half-way through their ripple; none in the
    /// paralleled reference.
    pub flying_voltages: Vec<Volt>,
    /// Highest blocking voltage of a switch, with the assumed drift of the flying-capacitor
    /// voltages; in the dead times too, where these are followed.
    pub blocking_voltage: Volt,
    /// The same without the dead times.
    pub steady_blocking_voltage: Volt,
    /// Loss in resistances and rectifiers; with the losses of its parts, at turn-on too.
    pub loss: Watt,
    /// Losses part by part; none where the scenario does not tell them apart.
    pub dissipation: Option<NominalDissipation>,
    /// What loads every part; none by the averaged solver, which does not tell.
    pub loads: Vec<PartLoad>,
    /// Until a disturbance of the flying capacitors is below 1 %; none without a limit on it, and in the paralleled
    /// reference.
    pub settling_time: Option<Second>,
    /// The limits of the scenario that it misses.
    pub missed: Vec<MissedDemand>,
    /// How the switches turn on; none where the scenario does not describe them, or the solver does
    /// not tell the currents at the switching instants.
    pub switching: Option<NominalSwitching>,
}

/// Losses of the nominal converter, part by part.
#[derive(Debug)]
pub struct NominalDissipation {
    /// Phase by phase.
    pub phases: Dissipation,
    /// The figures that the scenario tells.
    pub figures: Vec<LossValue>,
}

impl NominalDissipation {
    fn new(scenario: &Scenario, method: Method, measured: &SolvedConverter<'_>) -> Option<Self> {
        let phases = measured.dissipation()?.clone();
        Some(Self { phases, figures: measured.loss_values(scenario, method) })
    }

    /// The value of a figure; none where the scenario does not tell it.
    pub fn value(&self, figure: LossFigure) -> Option<f64> {
        LossValue::of(&self.figures, figure)
    }
}

/// Solves the nominal converter at every operating point in both arrangements.
///
/// # Errors
///
/// When the nominal converter cannot deliver an operating point, and when `stop` is set.
pub fn check(
    scenario: &Scenario,
    method: Method,
    stop: &AtomicBool,
) -> Result<Check, BaselineError> {
    let solver = Solver::new(method, stop);
    let baselines = baselines(scenario, solver)?;
    let share = SharedWork::CONVERTERS.share(baselines.len());
    let averaged = solver.with_method(Method::Averaged).with_share(share);
    let searches = baselines.len() * NominalSwitching::SEARCHES;
    let exact = solver.with_share(SharedWork::CONVERTERS.share(searches));
    let misses = NominalMiss::all(scenario, &baselines);
    let drives = UsedDrives::of(baselines.iter().map(|own| own.case.point.drive));
    let task = NominalTask { scenario, drives, exact, averaged };
    let cases = baselines.into_iter().map(|baseline| NominalCase::new(&task, baseline));
    let check =
        Check { method, design: DesignRatios::new(scenario), cases: cases.collect(), misses };
    if solver.is_stopped() { Err(BaselineError::Interrupted) } else { Ok(check) }
}

impl Check {
    /// The dead times with which every switch turns on softly at every operating point; none where
    /// there are none, or soft switching is not judged.
    pub fn common_dead_times(&self, arrangement: Arrangement) -> Option<CommonDeadTimes> {
        let cases = self.cases.iter().filter(|case| case.arrangement() == arrangement);
        let times = cases.map(|case| case.switching.as_ref().map(|s| s.dead_times));
        CommonDeadTimes::new(&times.collect::<Option<Vec<_>>>()?)
    }
}

impl Check {
    /// The highest load of every part of an arrangement, with the place of its case.
    pub fn highest_loads(&self, arrangement: Arrangement) -> Vec<HighestLoad> {
        let cases = self.cases.iter().enumerate();
        let own = cases.filter(|(_, case)| case.arrangement() == arrangement);
        let loads = own.map(|(place, case)| LoadedResult { place, loads: &case.loads });
        let loads: Vec<LoadedResult<'_>> = loads.collect();
        let phases = self.cases.first().map_or(0, |case| case.baseline.state.phases.len());
        HighestLoad::among(&loads, phases)
    }
}

impl DesignRatios {
    fn new(scenario: &Scenario) -> Self {
        let tank = &scenario.nominal;
        let (lr, cr) = (tank.resonant_inductance.0, tank.resonant_capacitance.0);
        Self {
            series_resonance: tank.series_resonance(),
            characteristic_impedance: Ohm((lr / cr).sqrt()),
            inductance_ratio: tank.magnetising_inductance.0 / lr,
            capacitance_ratio: scenario.flying_capacitance.0 / cr,
        }
    }
}

fn settling_time(
    scenario: &Scenario,
    measured: &SolvedConverter<'_>,
    arrangement: Arrangement,
) -> Option<Second> {
    scenario.limits.switches(arrangement).settling_time?;
    let time = measured.value(Figure::Settling(SettlingFigure::Time));
    time.is_finite().then_some(Second(time))
}

/// What the cases of the nominal converter are made with.
struct NominalTask<'a> {
    scenario: &'a Scenario,
    /// Those of all operating points.
    drives: UsedDrives,
    exact: Solver<'a>,
    averaged: Solver<'a>,
}

impl NominalCase {
    fn new(task: &NominalTask, baseline: Baseline) -> Self {
        let NominalTask { scenario, drives, exact: solver, averaged } = task;
        let nominal = scenario.nominal_converter();
        let (point, arrangement) = (&baseline.case.point, baseline.case.arrangement);
        let state = &baseline.state;
        let measured = SolvedConverter::new(state, &nominal, point, arrangement, &scenario.drift)
            .with_switches(scenario.switch.as_ref());
        let averaged = averaged.solve(&nominal, &baseline.case);
        let highest = |current: fn(&PhaseState) -> Ampere| {
            Ampere(state.phases.iter().map(|phase| current(phase).0).fold(0.0, f64::max))
        };
        let flying = (1..scenario.phases).map(|k| measured.value(Figure::FlyingVoltage(k - 1)));
        let has_flying = arrangement == Arrangement::Chain;
        Self {
            averaged_frequency: averaged.solved().map(|state| state.switching_frequency),
            sharing_error: measured.sharing_error(scenario.limits.sharing),
            tank_rms_current: highest(|phase| phase.rms_current),
            tank_peak_current: highest(|phase| phase.peak_current),
            switch_rms_current: Ampere(measured.value(Figure::WorstSwitchRms)),
            switch_peak_current: Ampere(measured.value(Figure::WorstSwitchPeak)),
            flying_voltages: flying.filter(|_| has_flying).map(Volt).collect(),
            blocking_voltage: Volt(measured.value(Figure::WorstBlocking)),
            steady_blocking_voltage: measured.steady_blocking_voltage(),
            loss: Watt(measured.value(Figure::Loss)),
            dissipation: NominalDissipation::new(scenario, solver.method, &measured),
            loads: match solver.method {
                Method::Exact => PartLoad::all(&measured, arrangement, *drives),
                Method::Averaged => Vec::new(),
            },
            settling_time: settling_time(scenario, &measured, arrangement),
            missed: MissedDemand::all(&scenario.limits, &measured, arrangement, point.drive),
            switching: NominalSwitching::new(scenario, &baseline, solver),
            baseline,
        }
    }

    /// The arrangement.
    pub fn arrangement(&self) -> Arrangement {
        self.baseline.case.arrangement
    }
}
