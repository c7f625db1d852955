//! What is known of the starts of the chain.

use crate::converter::Drive;
use crate::scenario::StartUpSettings;
use crate::solver::start_up::integration::{IntegratedStart, StartOutput};
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
    /// What any switch of the chain may block; none where the scenario sets no limit.
    pub blocking_limit: Option<Volt>,
    /// Whether single switches have limits of their own, which starts are not judged by.
    pub has_switch_limits: bool,
    /// The limit on peak currents of its switches; none where the scenario sets none.
    pub peak_limit: Option<Ampere>,
    /// How starts are followed.
    pub method: StartMethod,
    /// One an operating point.
    pub points: Vec<PointStart>,
    /// The operating points at which the nominal converter is not solved with the scenario's flying capacitors.
    pub unsolved: Vec<String>,
    /// The highest input voltage of all operating points.
    pub highest_input: Volt,
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

    /// Whether it may be advised where it keeps what the switches may block. Once gates begin after the
    /// input, switches block all of it. Into a shorted output only losses charge the chain, and no rated output is
    /// shorted.
    pub const fn may_be_advised(self) -> bool {
        !matches!(self, Self::InputGatesOff | Self::InputThenGates | Self::RampShorted)
    }
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
    /// Shortest ramp that keeps the wanted factor and the blocking limit; none where no ramp does, or none is used.
    pub needed_ramp: Option<Second>,
    /// How it ends by its law.
    pub outcome: StartOutcome,
    /// The same, integrated; empty where that was not asked for, or nothing is to integrate.
    pub integrated: Vec<IntegratedRun>,
}

impl SequenceResult {
    /// Peak tank current with the ramp of the scenario: as integrated, else by its law.
    pub fn highest_current(&self) -> Option<Ampere> {
        let runs = self.integrated.iter().filter(|own| !own.has_needed_ramp);
        let peaks = runs.filter_map(|own| Some(own.start()?.peak_current));
        peaks.reduce(|a, b| if b.0 > a.0 { b } else { a }).or(self.peak_current)
    }

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

/// A start of the nominal converter, integrated.
#[derive(Debug, Clone, PartialEq)]
pub struct IntegratedRun {
    /// What the output does.
    pub output: StartOutput,
    /// Input ramp; none where the input is on from the beginning.
    pub ramp: Option<Second>,
    /// Whether that is the ramp that the law asks for, and not the scenario's.
    pub has_needed_ramp: bool,
    /// Switching frequency.
    pub frequency: Hertz,
    /// Factor that the law tells with this ramp; none where it tells none.
    pub law_factor: Option<f64>,
    /// Peak tank current at most, by law.
    pub law_peak: Option<Ampere>,
    /// What was found; none where the start takes too much work.
    pub found: Option<FollowedStart>,
    /// Time of the whole start.
    pub time: Second,
}

/// A start that was followed to its end.
#[derive(Debug, Clone, PartialEq)]
pub struct FollowedStart {
    /// What it shows.
    pub start: IntegratedStart,
    /// How it ends.
    pub outcome: StartOutcome,
}

impl IntegratedRun {
    /// How it ends; none where it takes too much work.
    pub fn outcome(&self) -> Option<StartOutcome> {
        self.found.as_ref().map(|own| own.outcome)
    }

    /// What it shows; none where it takes too much work.
    pub fn start(&self) -> Option<&IntegratedStart> {
        self.found.as_ref().map(|own| &own.start)
    }
}
