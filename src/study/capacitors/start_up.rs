//! Which start keeps what the switches may block: every sequence by the law that carries it.

use crate::converter::{Arrangement, Drive, OperatingPoint};
use crate::scenario::{Scenario, StartUpSettings, SwitchSettings};
use crate::solver::Case;
use crate::solver::start_up::StartingChain;
use crate::study::common::session::Session;
use crate::units::{Ampere, Hertz, Joule, Ohm, Second, Volt};

/// Share of the rated charge current that may fill the chain while all phases follow, by integration of
/// six designs.
const FOLLOWS: f64 = 2.0;
/// Factors of such ramps at most, by the same: with the output held, and rising with the input.
const HELD_FACTOR: f64 = 1.03;
const RISING_FACTOR: f64 = 1.02;
/// Factor after pre-charge, by the same.
const PRECHARGED_FACTOR: f64 = 1.03;

/// The starts at every operating point.
#[derive(Debug, Clone)]
pub struct StartUpStudy {
    /// How the chain is to start.
    pub settings: StartUpSettings,
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
#[derive(Debug, Clone, Copy, PartialEq)]
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
    /// How it ends.
    pub outcome: StartOutcome,
}

/// The starts at every operating point of a session, with the scenario's own flying capacitors.
pub(in crate::study) fn start_up(scenario: &Scenario, session: &Session) -> StartUpStudy {
    let cases = session.cases(Arrangement::Chain);
    let points = cases.filter_map(|case| PointStart::new(scenario, session, &case.point));
    StartUpStudy { settings: scenario.start_up, points: points.collect() }
}

impl PointStart {
    /// None where the nominal converter is not solved.
    fn new(scenario: &Scenario, session: &Session, point: &OperatingPoint) -> Option<Self> {
        let nominal = scenario.nominal_converter();
        let case = Case::new(point.clone(), scenario.frequency, Arrangement::Chain);
        let operating = session.solve(&nominal, &case).solved()?.switching_frequency;
        let aged = nominal.at(&point.condition);
        let chain = StartingChain {
            phases: scenario.phases,
            tank: aged.tanks[0],
            flying: aged.flying[0],
            point: point.clone(),
        };
        let starts = Starts { scenario, chain: &chain, operating };
        let settings = &scenario.start_up;
        Some(Self {
            operating_point: point.name.clone(),
            drive: point.drive,
            sequences: StartSequence::ALL.map(|own| starts.result(own)).into(),
            fill_energy: chain.fill_energy(),
            absorbed: starts.absorbed(settings),
            phase_voltage: chain.phase_voltage(),
        })
    }
}

/// What the laws are asked with.
struct Starts<'a> {
    scenario: &'a Scenario,
    chain: &'a StartingChain,
    /// Switching frequency at the operating point.
    operating: Hertz,
}

/// What a law tells of a sequence.
#[derive(Default)]
struct Told {
    factor: Option<f64>,
    peak_current: Option<Ampere>,
    needed_ramp: Option<Second>,
    stays_crooked: bool,
}

impl Starts<'_> {
    fn settings(&self) -> &StartUpSettings {
        &self.scenario.start_up
    }

    fn top(&self) -> Hertz {
        self.scenario.frequency.maximum
    }

    fn absorbed(&self, settings: &StartUpSettings) -> Option<Joule> {
        let output = settings.output_capacitance?;
        Some(self.chain.absorbed_energy(output, settings.load, settings.ramp_time))
    }

    /// Whether the output cannot take what the chain delivers; not so where it is not told.
    fn overflows(&self) -> bool {
        let taken = self.absorbed(self.settings());
        taken.is_some_and(|taken| taken < self.chain.fill_energy())
    }

    fn result(&self, sequence: StartSequence) -> SequenceResult {
        let told = self.told(sequence);
        let highest = told.factor.map(|factor| self.highest(sequence, factor));
        let exceeds = |factor: f64| {
            let rating = self.scenario.limits.chain.blocking_voltage;
            factor > self.settings().highest_factor * (1.0 + 1e-9)
                || rating.zip(highest).is_some_and(|(rating, highest)| highest > rating)
        };
        let outcome = match told.factor {
            _ if told.stays_crooked => StartOutcome::StaysCrooked,
            None => StartOutcome::NotKnown,
            Some(factor) if exceeds(factor) => StartOutcome::Exceeds,
            Some(_) => StartOutcome::Keeps,
        };
        let Told { factor, peak_current, needed_ramp, .. } = told;
        SequenceResult { sequence, factor, highest, peak_current, needed_ramp, outcome }
    }

    fn told(&self, sequence: StartSequence) -> Told {
        let (chain, settings) = (self.chain, self.settings());
        let (ramp, wanted) = (settings.ramp_time, settings.highest_factor);
        match sequence {
            StartSequence::InputGatesOff => Told {
                factor: Some(chain.gates_off_factor(self.capacitance_ratio())),
                ..Told::default()
            },
            StartSequence::InputThenGates => Told {
                factor: Some(chain.phases as f64),
                peak_current: chain.shorted_peak(chain.point.input_voltage, self.top()),
                ..Told::default()
            },
            StartSequence::PreCharge => self.pre_charge(ramp, wanted),
            StartSequence::RampShorted => {
                let step = chain.loss_step(self.top());
                let needed = chain.ladder_ramp(step, wanted);
                Told {
                    factor: Some(self.shorted_factor(step, ramp)),
                    needed_ramp: needed.0.is_finite().then_some(needed),
                    ..Told::default()
                }
            }
            StartSequence::RampHeldAtTop => Told {
                factor: Some(chain.threshold_factor(self.top(), ramp)),
                needed_ramp: chain.threshold_ramp(self.top(), wanted),
                ..Told::default()
            },
            StartSequence::RampHeld => self.following(HELD_FACTOR),
            StartSequence::RampRising => {
                Told { stays_crooked: self.overflows(), ..self.following(RISING_FACTOR) }
            }
        }
    }

    /// With resistors that are told; without, only what follows once the chain is charged.
    fn pre_charge(&self, ramp: Second, wanted: f64) -> Told {
        let chain = self.chain;
        let peak_current = chain.shorted_peak(chain.phase_voltage(), self.top());
        let Some(step) = self.settings().precharge_resistance else {
            return Told { peak_current, ..Told::default() };
        };
        Told {
            factor: Some(chain.ladder_factor(step, ramp).max(PRECHARGED_FACTOR)),
            peak_current,
            needed_ramp: Some(chain.ladder_ramp(step, wanted)),
            stays_crooked: false,
        }
    }

    /// Without losses nothing passes: the chain stays empty.
    fn shorted_factor(&self, step: Ohm, ramp: Second) -> f64 {
        let phases = self.chain.phases as f64;
        if step.0.is_finite() { self.chain.ladder_factor(step, ramp).min(phases) } else { phases }
    }

    /// All phases follow where the threshold lies below the voltage of a phase and the ramp is slow enough.
    fn following(&self, factor: f64) -> Told {
        let chain = self.chain;
        let needed = chain.filling_ramp(FOLLOWS);
        let rises = self.fills_output();
        let needed = Second(needed.0.max(rises.0));
        let conducts = chain.threshold(self.operating) < chain.phase_voltage();
        let is_slow = self.settings().ramp_time >= needed;
        Told {
            factor: (conducts && is_slow).then_some(factor),
            needed_ramp: conducts.then_some(needed),
            ..Told::default()
        }
    }

    /// Time in which the rated current charges the output capacitance.
    fn fills_output(&self) -> Second {
        let point = &self.chain.point;
        let capacitance = self.settings().output_capacitance.map_or(0.0, |own| own.0);
        Second(capacitance * point.output_voltage.0 / point.output_current.0)
    }

    /// Output capacitance of a low over that of a high switch; equal where the scenario does not tell.
    fn capacitance_ratio(&self) -> f64 {
        let ratio =
            |own: SwitchSettings| own.chain.low_capacitance.0 / own.chain.high_capacitance.0;
        self.scenario.switch.map_or(1.0, ratio)
    }

    /// Highest voltage of any switch. High switch 2 spans two phases, so that it may see twice the voltage of
    /// one, at most all of the input. With gates off the first one sees most.
    fn highest(&self, sequence: StartSequence, factor: f64) -> Volt {
        let Volt(phase) = self.chain.phase_voltage();
        let of_phases = match sequence {
            StartSequence::InputGatesOff => 1.0,
            _ => 2.0,
        };
        Volt((of_phases * factor * phase).min(self.chain.point.input_voltage.0))
    }
}
