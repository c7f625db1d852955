//! What the laws tell of every sequence.

use super::result::{SequenceResult, StartOutcome, StartSequence};
use crate::scenario::{Scenario, StartUpSettings, SwitchSettings};
use crate::solver::start_up::{OperatingStart, StartingChain};
use crate::units::{Ampere, Hertz, Joule, Ohm, Second, Volt};

/// Factor after pre-charge at most, by integration of six designs.
const PRECHARGED_FACTOR: f64 = 1.03;

/// What the laws are asked with.
#[derive(Clone, Copy)]
pub(super) struct StartLaws<'a> {
    pub(super) scenario: &'a Scenario,
    pub(super) chain: &'a StartingChain,
    /// Switching frequency at the operating point.
    pub(super) operating: Hertz,
}

/// What a law tells of a sequence.
#[derive(Default)]
pub(super) struct LawResult {
    pub(super) factor: Option<f64>,
    pub(super) peak_current: Option<Ampere>,
    pub(super) needed_ramp: Option<Second>,
    stays_crooked: bool,
}

impl StartLaws<'_> {
    pub(super) fn settings(&self) -> &StartUpSettings {
        &self.scenario.start_up
    }

    pub(super) fn top(&self) -> Hertz {
        self.scenario.frequency.maximum
    }

    pub(super) fn absorbed(&self, settings: &StartUpSettings) -> Option<Joule> {
        let output = settings.output_capacitance?;
        Some(self.chain.absorbed_energy(output, settings.load, settings.ramp_time))
    }

    /// Whether the output cannot take what the chain delivers; not so where it is not told.
    fn overflows(&self) -> bool {
        let taken = self.absorbed(self.settings());
        taken.is_some_and(|taken| taken < self.chain.fill_energy())
    }

    pub(super) fn result(&self, sequence: StartSequence) -> SequenceResult {
        let told = self.told(sequence, self.settings().ramp_time);
        let highest = told.factor.map(|factor| self.highest(sequence, factor));
        let exceeds = |factor: f64| self.exceeds(factor, highest);
        let outcome = match told.factor {
            _ if told.stays_crooked => StartOutcome::StaysCrooked,
            None => StartOutcome::NotKnown,
            Some(factor) if exceeds(factor) => StartOutcome::Exceeds,
            Some(_) => StartOutcome::Keeps,
        };
        let LawResult { factor, peak_current, needed_ramp, .. } = told;
        let integrated = Vec::new();
        SequenceResult { sequence, factor, highest, peak_current, needed_ramp, outcome, integrated }
    }

    /// Whether a factor is above the wanted one, or a voltage above the rating.
    pub(super) fn exceeds(&self, factor: f64, highest: Option<Volt>) -> bool {
        factor > self.settings().highest_factor * (1.0 + 1e-9)
            || self.rating().zip(highest).is_some_and(|(rating, highest)| highest > rating)
    }

    fn rating(&self) -> Option<Volt> {
        self.scenario.limits.chain.blocking_voltage
    }

    /// Largest factor that keeps both the wanted one and the rating; none where the rating leaves nothing above the
    /// normal voltage.
    fn kept_factor(&self, sequence: StartSequence) -> Option<f64> {
        let wanted = self.settings().highest_factor;
        // No switch sees more than the input.
        let rating = self.rating().filter(|rating| *rating < self.chain.point.input_voltage);
        let of_rating = rating.map(|Volt(rating)| rating / self.highest_normal(sequence).0);
        let kept = of_rating.map_or(wanted, |own| own.min(wanted));
        (kept > 1.0).then_some(kept)
    }

    /// What the law tells with an input ramp of so long.
    pub(super) fn told(&self, sequence: StartSequence, ramp: Second) -> LawResult {
        let (chain, kept) = (self.chain, self.kept_factor(sequence));
        match sequence {
            StartSequence::InputGatesOff => LawResult {
                factor: Some(chain.gates_off_factor(self.capacitance_ratio())),
                ..LawResult::default()
            },
            StartSequence::InputThenGates => LawResult {
                factor: Some(chain.phases() as f64),
                peak_current: chain.cold_peak(self.top()),
                ..LawResult::default()
            },
            StartSequence::PreCharge => self.pre_charge(ramp, kept),
            StartSequence::RampShorted => {
                let step = chain.loss_step(self.top());
                let needed = kept.map(|kept| chain.ladder_ramp(step, kept));
                LawResult {
                    factor: Some(self.shorted_factor(step, ramp)),
                    needed_ramp: needed.filter(|own| own.0.is_finite()),
                    ..LawResult::default()
                }
            }
            StartSequence::RampHeldAtTop => LawResult {
                factor: Some(chain.threshold_factor(self.top(), ramp)),
                needed_ramp: kept.and_then(|kept| chain.threshold_ramp(self.top(), kept)),
                ..LawResult::default()
            },
            StartSequence::RampHeld => self.operating(ramp, kept, false),
            StartSequence::RampRising => {
                LawResult { stays_crooked: self.overflows(), ..self.operating(ramp, kept, true) }
            }
        }
    }

    /// With resistors that are told; without, only what follows once the chain is charged.
    fn pre_charge(&self, ramp: Second, kept: Option<f64>) -> LawResult {
        let chain = self.chain;
        let peak_current = chain.charged_peak(self.top());
        let Some(step) = self.settings().precharge_resistance else {
            return LawResult { peak_current, ..LawResult::default() };
        };
        let factor = chain.ladder_factor(step, ramp);
        LawResult {
            factor: Some(factor.max(PRECHARGED_FACTOR)),
            // Where the ladder lags, phase 1 starts with more than its share of the input.
            peak_current: peak_current.map(|peak| Ampere(peak.0 * factor)),
            needed_ramp: kept
                .filter(|kept| *kept >= PRECHARGED_FACTOR)
                .map(|kept| chain.ladder_ramp(step, kept)),
            stays_crooked: false,
        }
    }

    /// Without losses nothing passes: the chain stays empty.
    fn shorted_factor(&self, step: Ohm, ramp: Second) -> f64 {
        let phases = self.chain.phases() as f64;
        if step.0.is_finite() { self.chain.ladder_factor(step, ramp).min(phases) } else { phases }
    }

    /// Gates at the operating frequency. An output that rises with the input must not take longer than its
    /// rated current needs.
    fn operating(&self, ramp: Second, kept: Option<f64>, is_rising: bool) -> LawResult {
        let chain = self.chain;
        let operating = OperatingStart { frequency: self.operating, is_rising };
        let least = if is_rising { self.fills_output() } else { Second(0.0) };
        let needed = kept.and_then(|kept| chain.operating_ramp(&operating, kept));
        LawResult {
            factor: chain.operating_factor(&operating, ramp).filter(|_| ramp >= least),
            needed_ramp: needed.map(|own| if own < least { least } else { own }),
            ..LawResult::default()
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
        let normal = self.highest_normal(sequence);
        Volt((factor * normal.0).min(self.chain.point.input_voltage.0))
    }

    /// What that switch blocks normally.
    fn highest_normal(&self, sequence: StartSequence) -> Volt {
        let of_phases = match sequence {
            StartSequence::InputGatesOff => 1.0,
            _ => 2.0,
        };
        Volt(of_phases * self.chain.phase_voltage().0)
    }
}
