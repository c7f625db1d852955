//! What loads every part of a solved converter, as [`Rating`]s ask.

use std::f64::consts::SQRT_2;

use crate::converter::{
    Arrangement, Drive, Leg, RatedPart, Rating, Rectifier, Stress, SwitchSpecification,
    SwitchTiming,
};
use crate::solver::commutation::{HeldLoad, Swing};
use crate::solver::{PartStress, PhaseState, SwitchCurrent, TankState, bridge_mean};
use crate::study::common::commutation::SoftSwitching;
use crate::study::common::figures::{Side, SolvedConverter, Switch};
use crate::units::Ampere;

impl SolvedConverter<'_> {
    /// The highest load of a kind among the parts that a rating is about. NaN where the converter has no
    /// such part, and where its steady state does not tell.
    pub(super) fn highest(&self, rating: Rating) -> f64 {
        let mut highest: Option<f64> = None;
        self.for_each_load(rating, |load| {
            highest = Some(highest.map_or(load, |most| if load <= most { most } else { load }));
        });
        highest.unwrap_or(f64::NAN)
    }

    /// The load of every such part.
    pub(super) fn loads(&self, rating: Rating) -> Vec<f64> {
        let mut loads = Vec::new();
        self.for_each_load(rating, |load| loads.push(load));
        loads
    }

    fn for_each_load(&self, Rating { part, stress }: Rating, mut see: impl FnMut(f64)) {
        match part {
            RatedPart::FlyingCapacitor(k) => {
                let legs = self.voltages.as_ref().map_or(0, |voltages| voltages.legs.len());
                (0..legs).for_each(|leg| see(self.flying_capacitor(k, leg, stress)));
            }
            RatedPart::OutputCapacitor => {
                let ripple = self.state.output_ripple.as_ref();
                see(ripple.map_or(f64::NAN, |ripple| match stress {
                    Stress::PeakToPeakCurrent => ripple.peak_to_peak.0,
                    _ => ripple.rms.0,
                }));
            }
            RatedPart::ResonantInductor
            | RatedPart::ResonantCapacitor
            | RatedPart::Transformer
            | RatedPart::Rectifier => {
                (0..self.state.phases.len()).for_each(|k| see(self.of_phase(k, part, stress)));
            }
            _ => self.switches_of(part).for_each(|switch| see(self.switch(switch, stress))),
        }
    }

    /// The switches that are one of a part: no more are looked at than have its side and place.
    fn switches_of(&self, part: RatedPart) -> impl Iterator<Item = Switch> {
        let phases = self.state.phases.len();
        let (side, own) = match part {
            RatedPart::HighSwitch => (Side::High, 0..phases),
            RatedPart::FirstHighSwitch => (Side::High, 0..1),
            RatedPart::OtherHighSwitch => (Side::High, 1..phases),
            RatedPart::InnerLowSwitch => (Side::Low, 0..phases - 1),
            RatedPart::LastLowSwitch => (Side::Low, phases - 1..phases),
            _ => (Side::Low, 0..phases),
        };
        let legs = self.point.drive.legs();
        let all = Leg::ALL
            .into_iter()
            .flat_map(move |leg| own.clone().map(move |phase| Switch { phase, leg, side }));
        all.filter(move |switch| {
            let is_of_part = match part {
                RatedPart::ReturnLowSwitch => switch.leg == Leg::Return,
                _ => self.part(*switch) == part,
            };
            is_of_part && switch.carries(legs)
        })
    }

    /// The part that a switch is one of.
    fn part(&self, switch: Switch) -> RatedPart {
        let is_held = self.point.drive == Drive::HalfBridge && switch.leg == Leg::Return;
        let is_last = switch.phase + 1 == self.state.phases.len();
        match (self.arrangement(), switch.side) {
            _ if is_held => RatedPart::HeldLowSwitch,
            (Arrangement::Paralleled, Side::High) => RatedPart::HighSwitch,
            (Arrangement::Paralleled, Side::Low) => RatedPart::LowSwitch,
            (Arrangement::Chain, Side::High) if switch.phase == 0 => RatedPart::FirstHighSwitch,
            (Arrangement::Chain, Side::High) => RatedPart::OtherHighSwitch,
            (Arrangement::Chain, Side::Low) if is_last => RatedPart::LastLowSwitch,
            (Arrangement::Chain, Side::Low) => RatedPart::InnerLowSwitch,
        }
    }

    fn arrangement(&self) -> Arrangement {
        if self.voltages.is_some() { Arrangement::Chain } else { Arrangement::Paralleled }
    }

    fn switch(&self, switch: Switch, stress: Stress) -> f64 {
        match stress {
            Stress::RmsCurrent => self.carried(switch).rms.0,
            Stress::MeanCurrent => self.carried(switch).mean.0,
            Stress::PeakCurrent => self.carried(switch).peak.0,
            Stress::TurnOffCurrent => self.turn_off(switch).map_or(f64::NAN, |i| self.scale * i),
            _ => self.blocking(switch),
        }
    }

    /// The current of a switch, with that of dead times in which it is on and waits for others.
    pub(super) fn carried(&self, switch: Switch) -> SwitchCurrent {
        let SwitchCurrent { rms, mean, peak } = switch.current(&self.state.phases);
        match self.held_load(switch) {
            None => SwitchCurrent {
                rms: Ampere(self.scale * rms.0),
                mean: Ampere(self.scale * mean.0),
                peak: Ampere(self.scale * peak.0),
            },
            Some(held) => SwitchCurrent {
                rms: Ampere((rms.0.powi(2) + held.square).sqrt()),
                mean: Ampere(mean.0 + held.mean.0),
                peak: Ampere(peak.0.max(held.peak.0)),
            },
        }
    }

    /// Whether low switches wait for others: in a chain whose falling phases go first.
    pub(super) fn waits(&self) -> bool {
        let timing = self.switch.map(|own| own.chain.timing);
        self.voltages.is_some() && timing == Some(SwitchTiming::FallingFirst)
    }

    /// How the switches of a chain whose falling phases go first turn on.
    fn falling_first(&self) -> Option<(&SoftSwitching, &SwitchSpecification)> {
        let own = &self.switch?.chain;
        self.waits().then_some((self.switching()?, own))
    }

    /// What a low switch carries in dead times; none where nobody tells. That of the last phase carries its tank's
    /// current for half a period in any case, but for a dead time longer than in the steady state: only the peak
    /// grows.
    fn held_load(&self, Switch { phase, leg, side }: Switch) -> Option<HeldLoad> {
        let (found, _) = self.falling_first().filter(|_| side == Side::Low)?;
        let held = found.commutation.held_load(leg, phase)?;
        let is_last = phase + 1 == self.state.phases.len();
        Some(if is_last { HeldLoad { mean: Ampere(0.0), square: 0.0, ..held } } else { held })
    }

    /// The current that a switch interrupts where falling phases go first: a rising phase's low switch after
    /// the first dead time.
    fn turn_off_in_turn(&self, Switch { phase, leg, side }: Switch) -> Option<f64> {
        let (found, _) = self.falling_first()?;
        let swing = if side == Side::Low { Swing::LowToHigh } else { Swing::HighToLow };
        let mut transitions = found.commutation.transitions.iter();
        let own = transitions.find(|t| (t.leg, t.phase, t.swing) == (leg, phase, swing))?;
        Some(own.turn_off_current.0)
    }

    /// Current of the original tanks that a switch interrupts. The driven leg's high side and the return
    /// leg's low side turn off at the end of a phase's high interval, the others at its start. In a chain
    /// a low switch carries the next phase's current too, which is half a period ahead.
    fn turn_off(&self, switch: Switch) -> Option<f64> {
        if let Some(current) = self.turn_off_in_turn(switch) {
            return Some(current);
        }
        let Switch { phase, leg, side } = switch;
        let phases = &self.state.phases;
        let is_at_end = (leg == Leg::Driven) == (side == Side::High);
        let tank = |phase: &PhaseState, at_end: bool| -> Option<TankState> {
            if at_end { phase.middle } else { phase.start }
        };
        let own = tank(&phases[phase], is_at_end)?.tank_current.0;
        let shares_node = self.arrangement() == Arrangement::Chain && side == Side::Low;
        match phases.get(phase + 1).filter(|_| shares_node) {
            Some(next) => Some((own + tank(next, !is_at_end)?.tank_current.0).abs()),
            None => Some(own.abs()),
        }
    }

    /// Highest voltage across a switch, with the assumed drift of the flying-capacitor voltages and with
    /// what it sees in the dead times.
    fn blocking(&self, switch: Switch) -> f64 {
        let Some(voltages) = &self.voltages else { return self.point.input_voltage.0 };
        let phases = self.state.phases.len();
        let leg = usize::from(switch.leg == Leg::Return);
        let side = usize::from(switch.side == Side::Low);
        let place = (2 * leg + side) * phases + switch.phase;
        let steady =
            voltages.blocking(&self.drift).nth(place).map_or(f64::NAN, |voltage| voltage.0);
        let switching = if self.may_overshoot() { self.switching() } else { None };
        switching.map_or(steady, |found| {
            let [low, high] = found.highest_voltages_of(switch.phase, switch.leg);
            steady.max(if switch.side == Side::Low { low } else { high })
        })
    }

    /// The flying capacitor after phase `k`, counted from 0. It carries that phase's current while its
    /// high side is on, and the next one's while that is.
    fn flying_capacitor(&self, k: usize, leg: usize, stress: Stress) -> f64 {
        let Some(own) = self.voltages.as_ref().and_then(|v| v.legs.get(leg)?.flying.get(k)) else {
            return f64::NAN;
        };
        let drift = self.drift.after(k).0;
        match stress {
            Stress::MeanVoltage => own.mean.map_or(f64::NAN, |mean| mean.0) + drift,
            Stress::PeakVoltage => own.highest.0 + drift,
            Stress::RippleVoltage => own.highest.0 - own.lowest.0,
            _ => {
                let high = |phase: usize| {
                    let switch = Switch { phase, leg: Leg::ALL[leg], side: Side::High };
                    switch.current(&self.state.phases).rms.0
                };
                (high(k).powi(2) + high(k + 1).powi(2)).sqrt()
            }
        }
    }

    /// A part of a phase. Of the paralleled reference the primary side stands on the whole input.
    fn of_phase(&self, k: usize, part: RatedPart, stress: Stress) -> f64 {
        let (phase, tank) = (&self.state.phases[k], &self.converter.tanks[k]);
        let volts = 1.0 / self.scale;
        let of = |value: fn(&PartStress) -> f64| phase.stress.as_ref().map_or(f64::NAN, value);
        match (part, stress) {
            (RatedPart::Rectifier, _) => self.diode(k, stress),
            (_, Stress::RmsCurrent | Stress::PrimaryRmsCurrent) => self.scale * phase.rms_current.0,
            (_, Stress::PeakCurrent) => self.scale * phase.peak_current.0,
            (_, Stress::PeakVoltage) => volts * self.capacitor_peak(k) + self.drift_across(k),
            (_, Stress::PeakMagnetisingCurrent) => self.scale * of(|s| s.magnetising_peak.0),
            (_, Stress::VoltSeconds) => {
                volts * tank.magnetising_inductance.0 * of(|s| s.magnetising_peak.0)
            }
            _ => tank.turns_ratio * self.winding(phase).0,
        }
    }

    /// Largest absolute voltage of a resonant capacitor, with the mean of its bridge voltage; NaN where it is not told.
    fn capacitor_peak(&self, k: usize) -> f64 {
        let Some(stress) = &self.state.phases[k].stress else { return f64::NAN };
        let mean = match &self.voltages {
            Some(_) => bridge_mean(self.state, &self.converter, self.point, k).0,
            None => 0.0,
        };
        let [lowest, highest] = stress.capacitor_range;
        (lowest.0 + mean).abs().max((highest.0 + mean).abs())
    }

    /// If the voltages of the flying capacitors beside a phase of a chain drift, apart in the two legs, its
    /// resonant capacitor takes up the difference.
    fn drift_across(&self, k: usize) -> f64 {
        if self.voltages.is_some() { self.drift.across_phase(k).0 } else { 0.0 }
    }

    /// RMS current of a secondary winding, seen from the primary; each half of a tapped one carries one half wave.
    fn winding(&self, phase: &PhaseState) -> Ampere {
        match self.point.rectifier {
            Rectifier::CentreTap => phase.larger_half_wave().rms,
            Rectifier::FullBridge | Rectifier::VoltageDoubler => phase.rectified_rms_current(),
        }
    }

    /// A diode of a phase's rectifier: it carries one of the two half waves, here the larger one.
    fn diode(&self, k: usize, stress: Stress) -> f64 {
        let (phase, tank) = (&self.state.phases[k], &self.converter.tanks[k]);
        let peak =
            tank.turns_ratio * phase.stress.as_ref().map_or(f64::NAN, |s| s.rectifier_peak.0);
        match stress {
            Stress::RmsCurrent => tank.turns_ratio * phase.larger_half_wave().rms.0,
            Stress::PeakCurrent => peak,
            Stress::MeanCurrent => tank.turns_ratio * phase.larger_half_wave().mean.0,
            _ => {
                // Only the exact solver knows the peak: that of a sine stands for it.
                let sine = SQRT_2 * tank.turns_ratio * phase.rectified_rms_current().0;
                self.reverse_voltage(k, Ampere(if peak.is_nan() { sine } else { peak }))
            }
        }
    }

    /// Highest voltage across a diode of phase `k`, counted from 0: while another one carries `current`.
    fn reverse_voltage(&self, k: usize, current: Ampere) -> f64 {
        let output = self.point.output_voltage.0;
        let forward = match self.dissipation() {
            Some(own) => own.phases[k].forward_voltage(current).0,
            None => self.converter.tanks[k].rectifier_drop.0,
        };
        match self.point.rectifier {
            Rectifier::CentreTap => 2.0 * output + forward,
            Rectifier::FullBridge | Rectifier::VoltageDoubler => output + forward,
        }
    }
}
