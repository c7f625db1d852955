//! Converters whose parts are known: measured, or mismatched on purpose.
//!
//! - `unit_result`: a converter at one operating point, with the limits that it misses;
//! - `verdicts`: converters over all operating points, and how many meet every limit;
//! - `measured`: measured currents beside the predicted ones;
//! - `over_load`: converters from a tenth of the power to all of it;
//! - `waveforms`: what they carry over one period;
//! - `worst`: the same of the worst one, to look at.

mod measured;
mod over_load;
mod unit_result;
mod verdicts;
mod waveforms;
mod worst;

use std::sync::atomic::AtomicBool;

use self::measured::MeasuredPlace;
pub use self::measured::{
    CurrentComparison, DeviationSummary, LargestDeviation, MeasuredLoad, PredictedCurrent,
    SharingComparison,
};
use self::over_load::output_power;
pub use self::over_load::{LOADS, LoadCurrents, LoadRange, LoadResult, OverLoad, SolvedLoad};
use self::unit_result::UnitCase;
pub use self::unit_result::{SearchOutcome, SolvedUnit, UnitPhase, UnitResult, WorstSwitches};
pub use self::verdicts::{DemandMisses, LimitsMet, PointStatistics, UnitMiss, UnitVerdict};
pub use self::waveforms::{UnitWaveforms, each_waveforms};
pub use self::worst::WorstUnitWaveforms;
use crate::converter::{Arrangement, Converter, OperatingPoint, UsedDrives};
use crate::engine::Workers;
use crate::population::current_readings::CurrentReading;
use crate::population::parts_file::Unit;
use crate::scenario::{PointRequest, Scenario};
use crate::solver::{Case, Method, Solver};
use crate::study::common::choice::ConfigurationChoice;
use crate::study::common::error::StudyError;
use crate::study::common::loaded_parts::{HighestLoad, LoadedResult};
use crate::study::common::nominal::{at_all_points, require_exact_solver, settled};
use crate::study::common::point_case::case_at;
use crate::study::common::shared_work::SharedWork;
use crate::units::Ampere;

/// An output power nearer to that of the operating point, relatively, is the same.
const SAME_POWER: f64 = 1e-6;

/// What is asked of listed units.
#[derive(Debug, Clone, Copy)]
pub struct UnitsRequest<'a> {
    /// The converters.
    pub units: &'a [Unit],
    /// Currents measured on them.
    pub readings: &'a [CurrentReading],
    /// Expanded uncertainty of the measured currents, a fraction of them, if given.
    pub measuring_uncertainty: Option<f64>,
    /// Whether they are followed over load.
    pub over_load: bool,
    /// How steady states are found.
    pub method: Method,
    /// Threads; 0 takes all cores.
    pub threads: usize,
}

/// The results of listed units.
#[derive(Debug)]
pub struct Listed {
    /// How the configuration was chosen of every operating point that leaves it open.
    pub choices: Vec<ConfigurationChoice>,
    /// In the order of the units and of the scenario's operating points, the chain first.
    pub results: Vec<UnitResult>,
    /// Results of one unit.
    results_per_unit: usize,
    /// Phases of each.
    phases: usize,
    /// Chain and paralleled of every unit, over all operating points.
    pub verdicts: Vec<[UnitVerdict; 2]>,
    /// All units in each arrangement.
    pub limits_met: [LimitsMet; 2],
    /// All units in each case, in the order of a unit's results.
    pub statistics: Vec<PointStatistics>,
    /// Measured currents with their predictions, in the order of the files.
    pub measured: Vec<MeasuredLoad>,
    /// All of them together.
    pub deviations: DeviationSummary,
    /// Expanded uncertainty of the measured currents, a fraction of them, if given.
    pub measuring_uncertainty: Option<f64>,
    /// The units over load, if asked for.
    pub over_load: Option<OverLoad>,
    /// What the worst of them carries over one period; none with the averaged solver.
    pub worst_waveforms: Option<WorstUnitWaveforms>,
}

impl Listed {
    /// The results of every unit.
    pub fn by_unit(&self) -> impl Iterator<Item = &[UnitResult]> {
        self.results.chunks(self.results_per_unit.max(1))
    }

    /// The drives of all operating points.
    pub fn drives(&self) -> UsedDrives {
        UsedDrives::of(self.results.iter().map(|result| result.point.drive))
    }

    /// Places of the units, the worst in the chain first; equals in the order of the file.
    pub fn worst_first(&self) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.verdicts.len()).collect();
        let severity = |unit: &usize| self.verdicts[*unit][0].severity();
        order.sort_by(|a, b| {
            let ([a, tie_a], [b, tie_b]) = (severity(a), severity(b));
            b.total_cmp(&a).then(tie_b.total_cmp(&tie_a))
        });
        order
    }

    /// The worst unit that is solved in the chain, at the operating point where its sharing error is largest.
    fn worst_result(&self) -> Option<&UnitResult> {
        self.worst_first().into_iter().find_map(|unit| {
            let chain = self.of_unit(unit).iter().filter(|r| r.arrangement == Arrangement::Chain);
            let errors = chain.filter_map(|r| Some((r, r.solved.as_ref()?.sharing_error)));
            errors.max_by(|(_, a), (_, b)| a.total_cmp(b)).map(|(result, _)| result)
        })
    }

    /// The highest load of every part of an arrangement, with the place of its result.
    pub fn highest_loads(&self, arrangement: Arrangement) -> Vec<HighestLoad> {
        self.highest_among(|place| self.results[place].arrangement == arrangement)
    }

    /// The same at one operating point: of the results with this place among those of their unit.
    pub fn highest_loads_in_case(&self, case: usize) -> Vec<HighestLoad> {
        self.highest_among(|place| place % self.results_per_unit == case)
    }

    fn highest_among(&self, is_asked: impl Fn(usize) -> bool) -> Vec<HighestLoad> {
        let solved = self.results.iter().enumerate().filter_map(|(place, result)| {
            let loads = &result.solved.as_ref()?.loads;
            is_asked(place).then_some(LoadedResult { place, loads })
        });
        let all: Vec<LoadedResult<'_>> = solved.collect();
        HighestLoad::among(&all, self.phases)
    }

    /// The results of a unit.
    pub fn of_unit(&self, unit: usize) -> &[UnitResult] {
        &self.results[unit * self.results_per_unit..(unit + 1) * self.results_per_unit]
    }
}

/// Solves every unit at every operating point in both arrangements.
///
/// # Errors
///
/// When no configuration suits an operating point that leaves it open, when the averaged solver does not tell what
/// is limited, when `stop` is set, when the threads cannot be started.
pub fn units(
    scenario: &Scenario,
    request: UnitsRequest<'_>,
    stop: &AtomicBool,
) -> Result<Listed, StudyError> {
    require_exact_solver(scenario, request.method)?;
    let nominal = scenario.nominal_converter();
    let workers = Workers::new(request.threads, stop)?;
    let solver = workers.solver(request.method);
    let at_point =
        |request: &PointRequest, solver: &Solver| settled(scenario, &nominal, request, solver);
    let settled = at_all_points(scenario, solver, at_point, |(_, choice)| choice.as_ref())?;
    let (points, choices): (Vec<_>, Vec<_>) = settled.into_iter().unzip();
    let study = UnitsStudy { scenario, request, nominal, workers, points };
    let mut results = study.results()?;
    let measured = study.measured()?;
    let results_per_unit = results.len() / request.units.len().max(1);
    attach(&mut results, &measured, scenario.ages().len(), results_per_unit);
    let by_unit: Vec<&[UnitResult]> = results.chunks(results_per_unit.max(1)).collect();
    let verdict = |results: &&[UnitResult]| Arrangement::ALL.map(|a| UnitVerdict::new(results, a));
    let in_case = |n: usize| by_unit.iter().map(|results| &results[n]).collect::<Vec<_>>();
    let listed = Listed {
        choices: choices.into_iter().flatten().collect(),
        verdicts: by_unit.iter().map(verdict).collect(),
        limits_met: Arrangement::ALL.map(|a| LimitsMet::new(&by_unit, a)),
        statistics: (0..results_per_unit)
            .filter_map(|n| PointStatistics::new(&in_case(n)))
            .collect(),
        results_per_unit,
        phases: scenario.phases,
        deviations: DeviationSummary::new(&measured, request.measuring_uncertainty),
        measuring_uncertainty: request.measuring_uncertainty,
        over_load: request.over_load.then(|| study.over_load()).transpose()?,
        worst_waveforms: None,
        measured,
        results,
    };
    let worst = listed.worst_result().filter(|_| request.method == Method::Exact);
    let drawn = |result: &UnitResult| {
        WorstUnitWaveforms::new(scenario, result, &request.units[result.unit].converter)
    };
    let worst_waveforms = worst.map(drawn);
    Ok(Listed { worst_waveforms, ..listed })
}

/// Tells every result of a new unit which currents were measured there.
fn attach(
    results: &mut [UnitResult],
    measured: &[MeasuredLoad],
    ages: usize,
    results_per_unit: usize,
) {
    for (n, load) in measured.iter().enumerate().filter(|(_, load)| load.is_full_power) {
        let reading = &load.reading;
        let arrangement = usize::from(reading.arrangement != Arrangement::ALL[0]);
        let case = reading.operating_point * ages * Arrangement::ALL.len() + arrangement;
        let result = &mut results[reading.unit * results_per_unit + case];
        result.measured = result.measured.or(Some(n));
    }
}

/// What the units are solved with.
struct UnitsStudy<'a> {
    scenario: &'a Scenario,
    request: UnitsRequest<'a>,
    nominal: Converter,
    workers: Workers<'a>,
    /// The operating points in their configurations, new.
    points: Vec<OperatingPoint>,
}

impl UnitsStudy<'_> {
    fn solver(&self) -> Solver<'_> {
        self.workers.solver(self.request.method)
    }

    /// A case at a point. The averaged solver's search takes a hundred times as long as its steps from a
    /// solution nearby. The exact one's search is the more certain way for parts that lie far apart.
    fn case(&self, point: &OperatingPoint, arrangement: Arrangement, solver: &Solver) -> Case {
        let case = case_at(self.scenario, point, arrangement);
        match self.request.method {
            Method::Averaged => solver.prepare(&self.nominal, case).1,
            Method::Exact => case,
        }
    }

    /// Cases at these points in both arrangements, the chain first at each.
    fn cases(&self, points: &[OperatingPoint]) -> Vec<Case> {
        let searches = Arrangement::ALL.len() * points.len();
        let solver = self.solver().with_share(SharedWork::CONVERTERS.share(searches));
        let cases = points.iter().flat_map(|point| Arrangement::ALL.map(|a| (point, a)));
        cases.map(|(point, arrangement)| self.case(point, arrangement, &solver)).collect()
    }

    /// Every unit at every operating point and age.
    fn results(&self) -> Result<Vec<UnitResult>, StudyError> {
        let points = self.points.iter().flat_map(|p| self.scenario.at_all_ages(p));
        let cases = self.cases(&points.collect::<Vec<_>>()).into_iter();
        let with_stress = self.request.method == Method::Exact;
        let cases: Vec<Case> = cases.map(|case| Case { with_stress, ..case }).collect();
        let drives = UsedDrives::of(cases.iter().map(|case| case.point.drive));
        let units = self.request.units.iter().enumerate();
        let wanted: Vec<UnitCase<'_>> = units
            .flat_map(|(n, Unit { name, converter })| {
                cases.iter().map(move |case| UnitCase { unit: n, name, converter, case, drives })
            })
            .collect();
        let solver = self.solver();
        let solve = |wanted: &UnitCase<'_>| UnitResult::new(self.scenario, *wanted, &solver);
        Ok(self.workers.map(&wanted, solve)?)
    }

    /// The prediction for every load at which currents were measured.
    fn measured(&self) -> Result<Vec<MeasuredLoad>, StudyError> {
        let solver = self.solver();
        let share = solver.with_share(SharedWork::CONVERTERS.share(self.request.readings.len()));
        let predict = |reading: &CurrentReading| {
            let full = &self.points[reading.operating_point];
            let power = reading.output_power.0;
            let is_full_power = (power / output_power(full).0 - 1.0).abs() < SAME_POWER;
            let partial = Ampere(power / full.output_voltage.0);
            let output_current = if is_full_power { full.output_current } else { partial };
            let point = OperatingPoint { output_current, ..full.clone() };
            let case = self.case(&point, reading.arrangement, &share);
            let unit = &self.request.units[reading.unit];
            let place = MeasuredPlace {
                unit: unit.name.clone(),
                operating_point: point.name.clone(),
                is_full_power,
                sharing: self.scenario.limits.sharing,
            };
            MeasuredLoad::new(reading, place, &solver.solve(&unit.converter, &case))
        };
        Ok(self.workers.map(self.request.readings, predict)?)
    }

    /// Every unit over load.
    fn over_load(&self) -> Result<OverLoad, StudyError> {
        let ranges = LoadRange::all(&self.points);
        let cases: Vec<Vec<Case>> =
            ranges.iter().map(|range| self.cases(&range.points())).collect();
        let units = self.request.units.iter().enumerate();
        let wanted: Vec<CurveRequest<'_>> = units
            .flat_map(|(n, unit)| {
                let curve =
                    move |range| Arrangement::ALL.map(|a| CurveRequest::new(n, unit, range, a));
                (0..ranges.len()).flat_map(curve)
            })
            .collect();
        let solver = self.solver();
        let follow =
            |wanted: &CurveRequest<'_>| wanted.follow(&cases[wanted.range], self.scenario, &solver);
        let curves = self.workers.map(&wanted, follow)?;
        Ok(OverLoad { ranges, curves })
    }
}

/// A unit to be followed over a range of loads.
struct CurveRequest<'a> {
    unit: usize,
    parts: &'a Unit,
    range: usize,
    arrangement: Arrangement,
}

impl<'a> CurveRequest<'a> {
    fn new(unit: usize, parts: &'a Unit, range: usize, arrangement: Arrangement) -> Self {
        Self { unit, parts, range, arrangement }
    }

    fn follow(&self, cases: &[Case], scenario: &Scenario, solver: &Solver) -> LoadCurrents {
        let sharing = scenario.limits.sharing;
        let at = |case: &Case| {
            let outcome = solver.solve(&self.parts.converter, case);
            LoadResult::new(&case.point, sharing, &outcome)
        };
        let cases = cases.iter().filter(|case| case.arrangement == self.arrangement);
        LoadCurrents {
            unit: self.unit,
            name: self.parts.name.clone(),
            range: self.range,
            arrangement: self.arrangement,
            loads: cases.map(at).collect(),
        }
    }
}
