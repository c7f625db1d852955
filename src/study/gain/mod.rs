//! Which output voltages every configuration reaches, at which loads and frequencies, and which of
//! the operating points: of the nominal converter, in the chain.
//!
//! A curve holds the output current constant, as a share of the largest one that the operating
//! points ask for. A supply's operating points are pairs of voltage and current, so that one whose
//! current is a curve's lies on that curve; on a constant resistance no two voltages of a curve
//! would belong to the same current, and a range of voltages at a load would not exist.

use std::sync::atomic::AtomicBool;

use crate::converter::{
    Arrangement, Condition, Configuration, Converter, OperatingPoint, Rectifier, voltage_gain,
};
use crate::engine::{EngineError, Workers};
use crate::scenario::{PointRequest, Scenario};
use crate::solver::{Load, Method, Solver, Sweep, Unsolved};
use crate::study::common::choice::{ConfigurationCandidate, ConfigurationChoice};
use crate::study::common::curve::{Curve, VoltageRange};
use crate::study::common::shared_work::SharedWork;
use crate::units::{Ampere, Volt};

/// The curve of a configuration at a load.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadCurve {
    /// The load's place in [`Gain::loads`].
    pub load: usize,
    /// The curve.
    pub curve: Curve,
}

/// What a configuration does.
#[derive(Debug, Clone, PartialEq)]
pub struct ConfigurationGain {
    /// The configuration.
    pub configuration: Configuration,
    /// One curve a load.
    pub curves: Vec<LoadCurve>,
}

/// What becomes of an operating point.
#[derive(Debug, Clone, PartialEq)]
pub struct PointGain {
    /// The operating point as asked for.
    pub request: PointRequest,
    /// Its voltage gain.
    pub gain: f64,
    /// Every configuration tried on it, in the order of [`Gain::configurations`].
    pub choice: ConfigurationChoice,
}

/// How the configurations together cover the output voltages at one load.
#[derive(Debug, Clone, PartialEq)]
pub struct Coverage {
    /// The load's place in [`Gain::loads`].
    pub load: usize,
    /// Voltages on the inductive side, one range a configuration; none where nothing was solved.
    pub ranges: Vec<Option<VoltageRange>>,
    /// What pairs of configurations have in common.
    pub overlaps: Vec<Overlap>,
    /// What none covers, from the lowest to the highest output voltage asked for.
    pub gaps: Vec<VoltageRange>,
}

/// Voltages that two configurations both reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Overlap {
    /// The places of the two in [`Gain::configurations`].
    pub configurations: [usize; 2],
    /// The voltages.
    pub voltages: VoltageRange,
}

/// All results.
#[derive(Debug, Clone, PartialEq)]
pub struct Gain {
    /// The solver.
    pub method: Method,
    /// Input voltage of the curves.
    pub input_voltage: Volt,
    /// Turns ratio of the nominal tanks.
    pub turns_ratio: f64,
    /// Number of phases, which share the input voltage.
    pub phases: usize,
    /// Largest output current of the operating points, of which the loads are shares.
    pub rated_current: Ampere,
    /// The loads, as shares.
    pub loads: Vec<f64>,
    /// Every configuration.
    pub configurations: Vec<ConfigurationGain>,
    /// One a load.
    pub coverage: Vec<Coverage>,
    /// From the lowest to the highest output voltage of the operating points.
    pub span: VoltageRange,
    /// The operating points.
    pub points: Vec<PointGain>,
}

/// Draws all curves and tries every configuration at every operating point, on as many threads (0
/// takes all cores).
///
/// # Errors
///
/// When `stop` is set, when the threads cannot be started.
pub fn gain(
    scenario: &Scenario,
    method: Method,
    threads: usize,
    stop: &AtomicBool,
) -> Result<Gain, EngineError> {
    let nominal = scenario.nominal_converter();
    let configurations = configurations(scenario);
    let workers = Workers::new(threads, stop)?;
    let solver = workers.solver(method);
    let task = Task { scenario, nominal: &nominal, solver, workers };
    let curves = task.curves(&configurations)?;
    let points = task.points(&configurations)?;
    let span = span(scenario);
    let loads = scenario.gain.loads.clone();
    let coverage = (0..loads.len()).map(|load| Coverage::new(load, &curves, &span)).collect();
    Ok(Gain {
        method,
        input_voltage: task.input_voltage(),
        turns_ratio: scenario.nominal.turns_ratio,
        phases: scenario.phases,
        rated_current: task.rated_current(),
        loads,
        configurations: curves,
        coverage,
        span,
        points,
    })
}

/// The four, and those with a centre tap that an operating point asks for.
fn configurations(scenario: &Scenario) -> Vec<Configuration> {
    let mut all = Configuration::ALL.to_vec();
    for request in &scenario.operating_points {
        if request.rectifier == Some(Rectifier::CentreTap) {
            let asked = crate::study::common::choice::configurations(request);
            let new: Vec<_> = asked.into_iter().filter(|c| !all.contains(c)).collect();
            all.extend(new);
        }
    }
    all
}

fn span(scenario: &Scenario) -> VoltageRange {
    let voltages = scenario.operating_points.iter().map(|p| p.output_voltage.0);
    VoltageRange {
        lowest: Volt(voltages.clone().fold(f64::INFINITY, f64::min)),
        highest: Volt(voltages.fold(0.0, f64::max)),
    }
}

/// Frequencies of curves that are not solved for one reason.
#[derive(Debug, Clone, Copy)]
pub struct UnsolvedFrequencies {
    /// The reason.
    pub why: Unsolved,
    /// Their number.
    pub frequencies: usize,
}

/// What the curves and points are made with.
struct Task<'a> {
    scenario: &'a Scenario,
    nominal: &'a Converter,
    solver: Solver<'a>,
    workers: Workers<'a>,
}

impl Task<'_> {
    fn input_voltage(&self) -> Volt {
        let points = self.scenario.operating_points.iter();
        let lowest = || Volt(points.map(|p| p.input_voltage.0).fold(f64::INFINITY, f64::min));
        self.scenario.gain.input_voltage.unwrap_or_else(lowest)
    }

    fn rated_current(&self) -> Ampere {
        let points = self.scenario.operating_points.iter();
        Ampere(points.map(|p| p.output_current.0).fold(0.0, f64::max))
    }

    /// Every configuration at every load.
    fn curves(
        &self,
        configurations: &[Configuration],
    ) -> Result<Vec<ConfigurationGain>, EngineError> {
        let loads = self.scenario.gain.loads.len();
        let wanted: Vec<(Configuration, usize)> =
            configurations.iter().flat_map(|c| (0..loads).map(move |load| (*c, load))).collect();
        let round = |wanted: &[&(Configuration, usize)], share: f64| {
            self.workers.map(wanted, |(configuration, load)| LoadCurve {
                load: *load,
                curve: self.curve(*configuration, *load, share),
            })
        };
        let is_short = |curve: &LoadCurve| curve.curve.is_short_of_work();
        let curves = SharedWork::CURVES.in_two_rounds(&wanted, |_| 1, round, is_short)?;
        let gains =
            configurations.iter().zip(curves.chunks(loads)).map(|(configuration, curves)| {
                ConfigurationGain { configuration: *configuration, curves: curves.to_vec() }
            });
        Ok(gains.collect())
    }

    /// One curve, with a share of the work.
    fn curve(&self, configuration: Configuration, load: usize, share: f64) -> Curve {
        let current = Ampere(self.scenario.gain.loads[load] * self.rated_current().0);
        let point = OperatingPoint {
            name: String::new(),
            input_voltage: self.input_voltage(),
            output_voltage: Volt(0.0),
            output_current: current,
            drive: configuration.drive,
            rectifier: configuration.rectifier,
            condition: Condition::default(),
        };
        let (chain, load) = (Arrangement::Chain, Load::Current(current));
        let solver = self.solver.with_share(share);
        let mut sweep = Sweep::new(solver, self.nominal, &point, chain, load);
        Curve::trace(&mut sweep, &self.scenario.frequency)
    }

    /// Every operating point in every configuration.
    fn points(&self, configurations: &[Configuration]) -> Result<Vec<PointGain>, EngineError> {
        let requests = &self.scenario.operating_points;
        let wanted: Vec<(&PointRequest, Configuration)> =
            requests.iter().flat_map(|p| configurations.iter().map(move |c| (p, *c))).collect();
        let (scenario, nominal) = (self.scenario, self.nominal);
        let round = |wanted: &[&(&PointRequest, Configuration)], share: f64| {
            let solver = self.solver.with_share(share);
            self.workers.map(wanted, |(request, configuration)| {
                ConfigurationCandidate::attempt(scenario, nominal, request, *configuration, &solver)
            })
        };
        let ages = scenario.ages().len();
        let searches = |_: &(&PointRequest, Configuration)| ages * Arrangement::ALL.len();
        let is_short = ConfigurationCandidate::is_short_of_work;
        let candidates =
            SharedWork::CONVERTERS.in_two_rounds(&wanted, searches, round, is_short)?;
        let points = requests.iter().zip(candidates.chunks(configurations.len()));
        let points = points.map(|(request, candidates)| PointGain {
            request: request.clone(),
            gain: self.voltage_gain(request.output_voltage, request.input_voltage),
            choice: ConfigurationChoice::among(candidates.to_vec(), scenario.prefer),
        });
        Ok(points.collect())
    }

    fn voltage_gain(&self, output: Volt, input: Volt) -> f64 {
        voltage_gain(self.scenario.nominal.turns_ratio, output, input, self.scenario.phases)
    }
}

impl Coverage {
    fn new(load: usize, configurations: &[ConfigurationGain], span: &VoltageRange) -> Self {
        let ranges: Vec<Option<VoltageRange>> =
            configurations.iter().map(|c| c.curves[load].curve.range()).collect();
        let solved: Vec<VoltageRange> = ranges.iter().flatten().copied().collect();
        let pairs = (0..ranges.len()).flat_map(|a| (a + 1..ranges.len()).map(move |b| (a, b)));
        let overlaps = pairs.filter_map(|(a, b)| {
            let voltages = ranges[a]?.overlap(&ranges[b]?)?;
            Some(Overlap { configurations: [a, b], voltages })
        });
        Self { load, overlaps: overlaps.collect(), gaps: span.gaps(&solved), ranges }
    }
}

impl Gain {
    /// Current of a load.
    pub fn current(&self, load: usize) -> Ampere {
        Ampere(self.loads[load] * self.rated_current.0)
    }

    /// Voltage gain of the curves at an output voltage: turns ratio × output voltage over a phase's
    /// share of the input voltage.
    pub fn gain_at(&self, output: Volt) -> f64 {
        voltage_gain(self.turns_ratio, output, self.input_voltage, self.phases)
    }

    /// Output voltage of the curves at a voltage gain of 1.
    pub fn voltage_at_unit_gain(&self) -> Volt {
        Volt(self.input_voltage.0 / (self.phases as f64 * self.turns_ratio))
    }

    /// Whether every operating point works in a configuration that the scenario lets it take.
    pub fn covers_all(&self) -> bool {
        self.points.iter().all(|point| point.choice.chosen.is_some())
    }

    /// Frequencies at which the solver failed, over all curves.
    pub fn not_solved(&self) -> usize {
        self.unsolved().map(|unsolved| unsolved.frequencies).sum()
    }

    /// Why the solver failed at frequencies of the curves; each reason that occurs, once.
    pub fn unsolved(&self) -> impl Iterator<Item = UnsolvedFrequencies> {
        let curves = self.configurations.iter().flat_map(|found| &found.curves);
        let points = curves.flat_map(|curve| &curve.curve.points);
        let reasons: Vec<Unsolved> = points.filter_map(|point| point.reached.unsolved()).collect();
        let first = |(n, why): &(usize, &Unsolved)| !reasons[..*n].contains(why);
        let occurring: Vec<Unsolved> =
            reasons.iter().enumerate().filter(first).map(|(_, why)| *why).collect();
        occurring.into_iter().map(move |why| {
            let frequencies = reasons.iter().filter(|reason| **reason == why).count();
            UnsolvedFrequencies { why, frequencies }
        })
    }
}
