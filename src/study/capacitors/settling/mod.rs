//! How fast the flying capacitors find their voltages again after a small disturbance: of the nominal
//! converter at every operating point and load, and over the population.

mod sampled;

use self::sampled::sample;
pub use self::sampled::{MOST_SAMPLES, SampledSettling};
use crate::converter::{Arrangement, Drive, OperatingPoint};
use crate::scenario::Scenario;
use crate::solver::settling::{PeriodMap, Settling, SettlingMode};
use crate::solver::{Case, Outcome};
use crate::study::common::error::StudyError;
use crate::study::common::point_case::case_at;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::study::common::settling_figures::SETTLED;
use crate::units::{Ampere, Hertz};

/// Loads besides that of the operating point, as shares of it.
const LOADS: [f64; 6] = [0.1, 0.2, 0.35, 0.5, 0.75, 1.0];
/// Steps of the track of a disturbance.
const TRACK: usize = 240;
/// Periods of the track when nothing damps a disturbance.
const UNDAMPED_TRACK: f64 = 1000.0;

/// How the chain settles at all operating points.
#[derive(Debug, Clone)]
pub struct SettlingStudy {
    /// One an operating point, at each age.
    pub points: Vec<PointSettling>,
    /// Number of samples of each.
    pub samples: u64,
}

/// How the chain settles at one operating point.
#[derive(Debug, Clone)]
pub struct PointSettling {
    /// Name of the operating point.
    pub operating_point: String,
    /// Its drive.
    pub drive: Drive,
    /// The word for what became of the nominal converter.
    pub status: &'static str,
    /// The nominal converter; none where it is not solved, or by the averaged solver.
    pub nominal: Option<NominalSettling>,
    /// The nominal converter at other loads.
    pub over_load: Vec<LoadSettling>,
    /// The samples; none where the nominal converter does not settle.
    pub samples: Option<SampledSettling>,
}

/// How the nominal converter settles.
#[derive(Debug, Clone)]
pub struct NominalSettling {
    /// All modes.
    pub settling: Settling,
    /// How a disturbance of the node comes back that the slowest mode moves most.
    pub track: DisturbanceTrack,
}

/// The voltages of all nodes after one was disturbed, over that disturbance.
#[derive(Debug, Clone)]
pub struct DisturbanceTrack {
    /// The node, counted from 0.
    pub node: usize,
    /// Switching periods from one entry to the next.
    pub stride: u32,
    /// One entry after the other, node by node.
    pub voltages: Vec<Vec<f64>>,
}

/// How the nominal converter settles at another load.
#[derive(Debug, Clone)]
pub struct LoadSettling {
    /// Share of the operating point's output current.
    pub share: f64,
    /// None where it is not solved.
    pub settled: Option<SettledLoad>,
}

/// A solved load.
#[derive(Debug, Clone)]
pub struct SettledLoad {
    /// Switching frequency.
    pub switching_frequency: Hertz,
    /// The slowest mode.
    pub slowest: SettlingMode,
}

/// Follows a disturbance of the scenario's own capacitors at every operating point of a session.
///
/// # Errors
///
/// When the user asks to stop.
pub(in crate::study) fn settling(
    scenario: &Scenario,
    session: &Session,
    progress: &mut dyn Progress,
) -> Result<SettlingStudy, StudyError> {
    let prepared: Vec<PreparedPoint> = session
        .cases(Arrangement::Chain)
        .map(|case| PreparedPoint::new(scenario, session, &case.point))
        .collect();
    let samples = session.settings().samples.min(MOST_SAMPLES);
    progress.stage("samples of settling", samples);
    let solved = prepared.iter().filter(|own| own.outcome.solved().is_some());
    let cases: Vec<&Case> = solved.map(|own| &own.case).collect();
    let sampled = match cases.as_slice() {
        [] => Vec::new(),
        cases => sample(scenario, session, cases, samples, progress)?,
    };
    let mut sampled = sampled.into_iter();
    let point = |own: &PreparedPoint| PointSettling {
        operating_point: own.case.point.name.clone(),
        drive: own.case.point.drive,
        status: own.outcome.name(),
        nominal: own.nominal(scenario),
        over_load: own.over_load(scenario, session),
        samples: own.outcome.solved().and_then(|_| sampled.next()),
    };
    Ok(SettlingStudy { points: prepared.iter().map(point).collect(), samples })
}

/// The nominal converter at one operating point, with the scenario's own flying capacitors.
struct PreparedPoint {
    case: Case,
    outcome: Outcome,
}

impl PreparedPoint {
    fn new(scenario: &Scenario, session: &Session, point: &OperatingPoint) -> Self {
        let case = case_at(scenario, point, Arrangement::Chain);
        let (outcome, case) = session.solver().prepare(&scenario.nominal_converter(), case);
        Self { case, outcome }
    }

    fn nominal(&self, scenario: &Scenario) -> Option<NominalSettling> {
        let map = period_map(scenario, &self.outcome, &self.case.point)?;
        let settling = map.settling()?;
        let track = DisturbanceTrack::new(&map, &settling.slowest);
        Some(NominalSettling { settling, track })
    }

    fn over_load(&self, scenario: &Scenario, session: &Session) -> Vec<LoadSettling> {
        let settled = |share: f64| -> Option<SettledLoad> {
            let output_current = Ampere(share * self.case.point.output_current.0);
            let point = OperatingPoint { output_current, ..self.case.point.clone() };
            let case = Case { point, start: None, nearby: None, ..self.case.clone() };
            let outcome = session.solve(&scenario.nominal_converter(), &case);
            let slowest = period_map(scenario, &outcome, &case.point)?.settling()?.slowest;
            let switching_frequency = outcome.solved()?.switching_frequency;
            Some(SettledLoad { switching_frequency, slowest })
        };
        LOADS.iter().map(|share| LoadSettling { share: *share, settled: settled(*share) }).collect()
    }
}

fn period_map(scenario: &Scenario, outcome: &Outcome, point: &OperatingPoint) -> Option<PeriodMap> {
    let nominal = scenario.nominal_converter();
    PeriodMap::new(outcome.solved()?, &nominal.at(&point.condition), point)
}

impl DisturbanceTrack {
    fn new(map: &PeriodMap, slowest: &SettlingMode) -> Self {
        let most = slowest.shape.iter().enumerate().reduce(|a, b| {
            // Of equal nodes the first.
            if b.1.amplitude > a.1.amplitude * (1.0 + 1e-6) { b } else { a }
        });
        let node = most.map_or(0, |(node, _)| node);
        let periods = slowest.periods_until(SETTLED).min(UNDAMPED_TRACK);
        let reaches = |stride: &u32| f64::from(*stride) * TRACK as f64 >= periods;
        let stride = (0..31).map(|power| 1 << power).find(reaches).unwrap_or(1);
        Self { node, stride, voltages: map.after_disturbance(node, stride, TRACK + 1) }
    }
}
