//! What becomes of one phase's node at one instant, and whether its next switch turns on softly.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::{Leg, SWITCHES_OF_PHASE, SwitchPlace};
use crate::units::{Ampere, Hertz, Joule, Second, Volt, Watt};

/// How far from its limit, as a share of the interval voltage, a turn-on voltage must lie for a
/// verdict. The steady state neglects the dead time. Converters simulated with it had residuals that
/// differ by 0.05 (median), 0.15 (90 % point) and at most 0.4 of the interval voltage.
pub const MARGIN: f64 = 0.2;

/// Which way a node goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
pub enum Swing {
    /// The low switch turns on at its end.
    #[serde(rename = "high to low")]
    HighToLow,
    /// The high switch turns on at its end.
    #[serde(rename = "low to high")]
    LowToHigh,
}

impl Swing {
    /// The words used in tables and files.
    pub fn name(self) -> &'static str {
        match self {
            Self::HighToLow => "high to low",
            Self::LowToHigh => "low to high",
        }
    }
}

/// How a switch turns on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum TurnOn {
    /// Its voltage is at most the permitted share of the interval voltage.
    Soft,
    /// It is higher.
    Hard,
    /// Too close to the limit for a model that neglects the dead time in the steady state.
    #[serde(rename = "not decided")]
    NotDecided,
}

impl TurnOn {
    /// The verdict on a swing that falls short by a share of its interval voltage, where a turn-on voltage
    /// up to the share `limit` is soft.
    pub fn of_shortfall(shortfall: f64, limit: f64) -> Self {
        if shortfall <= Self::softest(limit) {
            Self::Soft
        } else if shortfall >= Self::least_hard(limit) {
            Self::Hard
        } else {
            Self::NotDecided
        }
    }

    /// The largest shortfall that is soft for certain.
    pub fn softest(limit: f64) -> f64 {
        limit - MARGIN
    }

    /// The least shortfall that is hard for certain.
    pub fn least_hard(limit: f64) -> f64 {
        limit + MARGIN
    }

    /// The word used in tables and files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Soft => "soft",
            Self::Hard => "hard",
            Self::NotDecided => "not decided",
        }
    }
}

/// How the switches of a converter turn on over a period.
#[derive(Debug, Clone, PartialEq)]
pub struct Commutation {
    /// Each phase of each leg that switches, from high to low and from low to high.
    pub transitions: Vec<Transition>,
    /// Energy lost at turn-on in a period.
    pub energy: Joule,
    /// That times the switching frequency.
    pub loss: Watt,
    frequency: Hertz,
    dead_time: Second,
}

impl Commutation {
    /// All transitions of a period.
    pub(super) fn new(transitions: Vec<Transition>, frequency: Hertz, dead_time: Second) -> Self {
        let energy: f64 = transitions.iter().map(|own| own.energy.0).sum();
        let loss = Watt(energy * frequency.0);
        Self { transitions, energy: Joule(energy), loss, frequency, dead_time }
    }

    /// The same in a converter in which these phases stand at the given places, counted from 0.
    #[must_use]
    pub fn at_places(&self, places: &[usize]) -> Self {
        let moved = |own: &Transition| {
            places.get(own.phase).map(|place| Transition { phase: *place, ..*own })
        };
        Self { transitions: self.transitions.iter().filter_map(moved).collect(), ..*self }
    }

    /// What the low switch of a phase of a leg carries in the dead times in which it is on; none where there
    /// are none: unless falling phases go first.
    ///
    /// While the next phase's high switch is on too, the low switch carries the sum of both tank currents,
    /// nearly zero. From the end of that phase's high interval, or up to its begin, it carries its own
    /// tank's alone.
    pub fn held_load(&self, leg: Leg, phase: usize) -> Option<HeldLoad> {
        let own = self.transitions.iter().filter(|t| (t.leg, t.phase) == (leg, phase));
        let mut load: Option<HeldLoad> = None;
        for held in own.filter_map(|transition| transition.held) {
            load.get_or_insert(HeldLoad::NONE).add(held, self.held_share());
        }
        load
    }

    /// Part of a period that one dead time takes.
    fn held_share(&self) -> f64 {
        self.dead_time.0 * self.frequency.0
    }

    /// Adds the mean squares of what low switches carry in dead times, in A², to those of these phases, at the
    /// places of [`SwitchPlace::ALL`].
    pub fn add_held_squares(&self, squares: &mut [[f64; SWITCHES_OF_PHASE]]) {
        for own in &self.transitions {
            let low = match own.leg {
                Leg::Driven => SwitchPlace::Low,
                Leg::Return => SwitchPlace::ReturnLow,
            };
            if let Some((held, of_phase)) = own.held.zip(squares.get_mut(own.phase)) {
                of_phase[low as usize] += self.held_share() * held.square;
            }
        }
    }

    /// Adds the losses at turn-on of all switches to those of the phases, at the places of [`SwitchPlace::ALL`].
    pub fn add_turn_on_losses(&self, losses: &mut [[Watt; SWITCHES_OF_PHASE]]) {
        for own in &self.transitions {
            if let Some(of_phase) = losses.get_mut(own.phase) {
                of_phase[own.turns_on() as usize].0 += own.energy.0 * self.frequency.0;
            }
        }
    }
}

/// One phase's node of one leg over the dead time. Voltages and currents are those of the real
/// switches: in the paralleled arrangement of the tanks rescaled to the whole input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transition {
    /// The leg.
    pub leg: Leg,
    /// The phase, counted from 0.
    pub phase: usize,
    /// Which way its node goes.
    pub swing: Swing,
    /// E, the voltage that the node swings over.
    pub interval_voltage: Volt,
    /// Voltage across the switch that turns on, at the instant at which it does.
    pub turn_on_voltage: Volt,
    /// By how much farther the node could have swung, as a share of the interval voltage; 0 where it
    /// did not arrive.
    ///
    /// Of two charges the smaller: that which the switch's diode has carried since the node arrived,
    /// and that which its last current would carry over a whole dead time. Both over the node's
    /// capacitance. A swing with so much spare arrives with a current that is lower all the way by
    /// that charge over the dead time, and stays there.
    pub spare: f64,
    /// Current that the other switch interrupts when it turns off.
    pub turn_off_current: Ampere,
    /// Energy lost in the switch that turns on.
    pub energy: Joule,
    /// Highest voltage across the low switch on the way.
    pub highest_low: Volt,
    /// Highest voltage across the high switch on the way.
    pub highest_high: Volt,
    /// Where falling phases go first: what the node's low switch carries in the other dead time, in which it
    /// is on. Means are those over that dead time.
    pub held: Option<HeldLoad>,
}

/// What a low switch of a chain carries in dead times in which it is on: its tank's current alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeldLoad {
    /// Highest current.
    pub peak: Ampere,
    /// Mean of the absolute current.
    pub mean: Ampere,
    /// Mean square of the current, A².
    pub square: f64,
}

/// Currents in equal distances that tell what a dead time does to a switch, and their weights: Simpson's rule.
pub(super) const HELD_CURRENTS: usize = 5;
const WEIGHTS: [f64; HELD_CURRENTS] = [1.0 / 12.0, 4.0 / 12.0, 2.0 / 12.0, 4.0 / 12.0, 1.0 / 12.0];

impl HeldLoad {
    /// Nothing.
    const NONE: Self = Self { peak: Ampere(0.0), mean: Ampere(0.0), square: 0.0 };

    /// Of currents from the begin of a dead time to its end, in ampere.
    pub(super) fn over(currents: &[f64; HELD_CURRENTS]) -> Self {
        let mut load = Self::NONE;
        for (weight, current) in WEIGHTS.iter().zip(currents.map(f64::abs)) {
            load.peak.0 = load.peak.0.max(current);
            load.mean.0 += weight * current;
            load.square += weight * current * current;
        }
        load
    }

    /// Adds another load, which lasts for this share of a period: means are over the period then.
    fn add(&mut self, other: Self, share: f64) {
        self.peak = Ampere(self.peak.0.max(other.peak.0));
        self.mean.0 += share * other.mean.0;
        self.square += share * other.square;
    }
}

impl Transition {
    /// The switch that turns on at the end.
    fn turns_on(&self) -> SwitchPlace {
        match (self.leg, self.swing) {
            (Leg::Driven, Swing::LowToHigh) => SwitchPlace::High,
            (Leg::Driven, Swing::HighToLow) => SwitchPlace::Low,
            (Leg::Return, Swing::HighToLow) => SwitchPlace::ReturnLow,
            (Leg::Return, Swing::LowToHigh) => SwitchPlace::ReturnHigh,
        }
    }

    /// Turn-on voltage as a share of the interval voltage.
    pub fn turn_on_share(&self) -> f64 {
        self.turn_on_voltage.0 / self.interval_voltage.0
    }

    /// The other way round, as between rails.
    pub(super) fn mirrored(self) -> Self {
        Self {
            swing: match self.swing {
                Swing::HighToLow => Swing::LowToHigh,
                Swing::LowToHigh => Swing::HighToLow,
            },
            highest_low: self.highest_high,
            highest_high: self.highest_low,
            ..self
        }
    }

    /// By how much the swing falls short, as a share of the interval voltage: the turn-on voltage, or
    /// less than zero by what it has to spare.
    pub fn shortfall(&self) -> f64 {
        self.turn_on_share() - self.spare
    }

    /// The verdict where a turn-on voltage up to the share `limit` of the interval voltage is soft.
    pub fn verdict(&self, limit: f64) -> TurnOn {
        TurnOn::of_shortfall(self.shortfall(), limit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn transition(turn_on: f64, spare: f64) -> Transition {
        Transition {
            leg: Leg::Driven,
            phase: 0,
            swing: Swing::HighToLow,
            interval_voltage: Volt(200.0),
            turn_on_voltage: Volt(turn_on * 200.0),
            spare,
            turn_off_current: Ampere(0.0),
            energy: Joule(0.0),
            highest_low: Volt(200.0),
            highest_high: Volt(200.0),
            held: None,
        }
    }

    #[test]
    fn a_verdict_needs_the_margin_on_either_side() {
        let verdict = |turn_on, spare| transition(turn_on, spare).verdict(0.05);
        assert_eq!(verdict(0.26, 0.0), TurnOn::Hard);
        assert_eq!(verdict(0.24, 0.0), TurnOn::NotDecided, "hard, within the margin");
        assert_eq!(verdict(0.0, 0.0), TurnOn::NotDecided, "arrived with nothing to spare");
        assert_eq!(verdict(0.0, 0.14), TurnOn::NotDecided);
        assert_eq!(verdict(0.0, 0.16), TurnOn::Soft);
        assert_eq!(transition(0.1, 0.0).verdict(0.31), TurnOn::Soft, "below a generous limit");
    }

    /// By hand: 6 A falling to 2 A in a straight line has the mean 4 A and the mean square
    /// (36 + 12 + 4)/3 = 52/3 A². Two such dead times are 2 % of a period each.
    #[test]
    fn a_straight_line_has_its_mean_and_square() {
        let held = HeldLoad::over(&[-6.0, -5.0, -4.0, -3.0, -2.0]);
        assert!((held.square - 52.0 / 3.0).abs() < 1e-12 && (held.mean.0 - 4.0).abs() < 1e-12);
        let transition = Transition { held: Some(held), ..transition(0.0, 1.0) };
        let other = Transition { phase: 1, ..transition };
        let commutation =
            Commutation::new(vec![transition, other, transition], Hertz(200e3), Second(100e-9));
        let load = commutation.held_load(Leg::Driven, 0).unwrap();
        assert!((load.square - 0.04 * 52.0 / 3.0).abs() < 1e-12);
        assert!((load.mean.0 - 0.04 * 4.0).abs() < 1e-12 && (load.peak.0 - 6.0).abs() < 1e-12);
        assert_eq!(commutation.held_load(Leg::Return, 0), None);
        let mut squares = [[1.0; SWITCHES_OF_PHASE]; 2];
        commutation.add_held_squares(&mut squares);
        assert!((squares[0][SwitchPlace::Low as usize] - 1.0 - load.square).abs() < 1e-12);
        assert!((squares[0][SwitchPlace::ReturnLow as usize] - 1.0).abs() < 1e-15);
    }
}
