//! Which start keeps what the switches may block: every sequence by the law that carries it (`laws`), and on
//! request integrated (`integrated`).

mod integrated;
mod laws;

pub use self::integrated::IntegratedRun;
use self::integrated::integrate;
use self::laws::Starts;
use crate::converter::{Arrangement, Converter, Drive, OperatingPoint};
use crate::scenario::{Scenario, StartUpSettings};
use crate::solver::start_up::StartingChain;
use crate::solver::{Case, as_seen};
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::units::{Ampere, Hertz, Joule, Second, Volt};

/// How starts are followed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StartMethod {
    /// By their laws alone.
    Laws,
    /// By their laws, and integrated.
    Integrated,
}

/// The starts at every operating point.
#[derive(Debug, Clone)]
pub struct StartUpStudy {
    /// How the chain is to start.
    pub settings: StartUpSettings,
    /// How starts are followed.
    pub method: StartMethod,
    /// One an operating point.
    pub points: Vec<PointStart>,
}

/// The starts at one operating point.
#[derive(Debug, Clone)]
pub struct PointStart {
    /// Name of the operating point.
    pub operating_point: String,
    /// Its drive.
    pub drive: Drive,
    /// Every sequence.
    pub sequences: Vec<SequenceResult>,
    /// Energy that the chain delivers to the output while it fills.
    pub fill_energy: Joule,
    /// What the output takes of it; none where its capacitance is not told.
    pub absorbed: Option<Joule>,
    /// Ideal voltage of a phase.
    pub phase_voltage: Volt,
}

/// A way to start.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StartSequence {
    /// The input comes on with all gates off.
    InputGatesOff,
    /// The gates begin at the top of the band with the input on and empty capacitors.
    InputThenGates,
    /// Resistors charge the chain on a ramp with the low gates on; then the gates begin.
    PreCharge,
    /// Gates at the top of the band, the input on a ramp, the output shorted.
    RampShorted,
    /// The same with the output at its voltage.
    RampHeldAtTop,
    /// Gates at the operating frequency, the input on a ramp, the output at its voltage.
    RampHeld,
    /// The same with an output that rises with the input.
    RampRising,
}

impl StartSequence {
    /// All, the worst first.
    pub const ALL: [Self; 7] = [
        Self::InputGatesOff,
        Self::InputThenGates,
        Self::RampShorted,
        Self::RampHeldAtTop,
        Self::PreCharge,
        Self::RampHeld,
        Self::RampRising,
    ];
}

/// What is known of a sequence's end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StartOutcome {
    /// It keeps the factor, and the rating where there is one.
    Keeps,
    /// It does not.
    Exceeds,
    /// The output cannot take the energy of the fill: the chain stays crooked.
    StaysCrooked,
    /// No law tells.
    NotKnown,
}

/// What a sequence does to the switches.
#[derive(Debug, Clone, PartialEq)]
pub struct SequenceResult {
    /// The sequence.
    pub sequence: StartSequence,
    /// Highest voltage of any switch over its own normal value, with the ramp of the scenario; none where
    /// no law tells.
    pub factor: Option<f64>,
    /// Highest voltage of any switch.
    pub highest: Option<Volt>,
    /// Peak tank current; none where no law tells.
    pub peak_current: Option<Ampere>,
    /// Shortest ramp that keeps the wanted factor; none where no ramp does, or none is used.
    pub needed_ramp: Option<Second>,
    /// How it ends by its law.
    pub outcome: StartOutcome,
    /// The same, integrated; empty where that was not asked for, or nothing is to integrate.
    pub integrated: Vec<IntegratedRun>,
}

impl SequenceResult {
    /// How it ends: as integrated with the ramp of the scenario where all of it was followed, else by its
    /// law. What comes before the gates after pre-charge is the law's alone.
    pub fn decided(&self) -> StartOutcome {
        let with_ramp = self.integrated.iter().filter(|own| !own.has_needed_ramp);
        let outcomes: Option<Vec<StartOutcome>> = with_ramp.map(IntegratedRun::outcome).collect();
        let is_law = self.sequence == StartSequence::PreCharge;
        let law = is_law.then_some(self.outcome);
        let all = outcomes.into_iter().flatten().chain(law);
        all.max_by_key(|own| own.severity()).unwrap_or(self.outcome)
    }

    /// Whether integration shows that the ramp that the law asks for is too fast.
    pub fn is_needed_ramp_refuted(&self) -> bool {
        let with_needed = self.integrated.iter().filter(|own| own.has_needed_ramp);
        let mut outcomes = with_needed.filter_map(IntegratedRun::outcome);
        outcomes.any(|own| own != StartOutcome::Keeps)
    }
}

impl StartOutcome {
    /// The worse, the higher.
    fn severity(self) -> u8 {
        match self {
            Self::Keeps => 0,
            Self::NotKnown => 1,
            Self::StaysCrooked => 2,
            Self::Exceeds => 3,
        }
    }
}

/// The starts at every operating point of a session, with the scenario's own flying capacitors.
///
/// # Errors
///
/// When the user asks to stop.
pub(in crate::study) fn start_up(
    scenario: &Scenario,
    session: &Session,
    method: StartMethod,
    progress: &mut dyn Progress,
) -> Result<StartUpStudy, StudyError> {
    let cases = session.cases(Arrangement::Chain);
    let prepared = cases.filter_map(|case| PreparedStart::new(scenario, session, &case.point));
    let prepared: Vec<PreparedStart> = prepared.collect();
    let mut points: Vec<PointStart> = prepared.iter().map(|own| own.by_laws(scenario)).collect();
    if method == StartMethod::Integrated {
        integrate(scenario, session, &prepared, &mut points, progress)?;
    }
    Ok(StartUpStudy { settings: scenario.start_up, method, points })
}

/// A solved operating point.
struct PreparedStart {
    /// The nominal converter as the tanks of the operating point see it.
    converter: Converter,
    chain: StartingChain,
    /// Switching frequency.
    operating: Hertz,
}

impl PreparedStart {
    /// None where the nominal converter is not solved.
    fn new(scenario: &Scenario, session: &Session, point: &OperatingPoint) -> Option<Self> {
        let nominal = scenario.nominal_converter();
        let case = Case::new(point.clone(), scenario.frequency, Arrangement::Chain);
        let outcome = session.solve(&nominal, &case);
        let state = outcome.solved()?;
        let converter = as_seen(state, &nominal.at(&point.condition), point).into_owned();
        let chain = StartingChain::new(&converter, point);
        Some(Self { converter, chain, operating: state.switching_frequency })
    }

    fn point(&self) -> &OperatingPoint {
        &self.chain.point
    }

    fn starts<'a>(&'a self, scenario: &'a Scenario) -> Starts<'a> {
        Starts { scenario, chain: &self.chain, operating: self.operating }
    }

    fn by_laws(&self, scenario: &Scenario) -> PointStart {
        let starts = self.starts(scenario);
        PointStart {
            operating_point: self.point().name.clone(),
            drive: self.point().drive,
            sequences: StartSequence::ALL.map(|own| starts.result(own)).into(),
            fill_energy: self.chain.fill_energy(),
            absorbed: starts.absorbed(&scenario.start_up),
            phase_voltage: self.chain.phase_voltage(),
        }
    }
}
