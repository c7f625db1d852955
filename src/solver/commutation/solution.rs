//! How all switches of a converter turn on, after its dead time and after others.

use super::case::CommutationCase;
use super::dead_time::DeadTime;
use super::instant::{Ready, SwitchingInstant};
use super::transition::Transition;
use crate::converter::{Leg, SwitchSpecification, SwitchTiming};
use crate::units::{Joule, Second, Watt};

/// How the switches of a converter turn on over a period.
#[derive(Debug, Clone, PartialEq)]
pub struct Commutation {
    /// Each phase of each leg that switches, from high to low and from low to high.
    pub transitions: Vec<Transition>,
    /// Energy lost at turn-on in a period.
    pub energy: Joule,
    /// That times the switching frequency.
    pub loss: Watt,
}

/// How the switches would turn on after another dead time, with the same steady state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DeadTimePoint {
    /// The dead time.
    pub dead_time: Second,
    /// Highest turn-on voltage of any switch, as a share of its interval voltage.
    pub highest_turn_on_share: f64,
    /// Energy lost at turn-on in a period times the switching frequency.
    pub loss: Watt,
}

impl CommutationCase<'_> {
    /// How the switches turn on; none where the steady state does not hold the tanks' currents at the
    /// switching instants, and where a dead time takes too many stretches.
    pub fn solve(&self) -> Option<Commutation> {
        let ready = Ready::new(*self);
        let mut transitions = Vec::with_capacity(4 * self.converter.phases());
        let mut energy = 0.0;
        for instant in SwitchingInstant::ALL {
            let mut dead_time = DeadTime::new(&ready, instant, self)?;
            energy += dead_time.pass(self.switch, &mut transitions)?;
        }
        transitions.sort_by_key(|t| (t.leg == Leg::Return, t.phase));
        let energy = Joule(energy);
        Some(Commutation { transitions, energy, loss: self.loss(energy) })
    }

    fn loss(&self, energy: Joule) -> Watt {
        Watt(energy.0 * self.state.switching_frequency.0)
    }

    /// The same for dead times in `points` equal steps up to the longest.
    pub fn over_dead_times(&self, longest: Second, points: usize) -> Option<Vec<DeadTimePoint>> {
        let step = longest.0 / points as f64;
        match self.switch.timing {
            SwitchTiming::Together => self.in_one_go(step, points),
            SwitchTiming::FallingFirst => {
                (1..=points).map(|n| self.after(Second(step * n as f64))).collect()
            }
        }
    }

    /// After one dead time.
    fn after(&self, dead_time: Second) -> Option<DeadTimePoint> {
        let switch = SwitchSpecification { dead_time, ..*self.switch };
        let solved = CommutationCase { switch: &switch, ..*self }.solve()?;
        let shares = solved.transitions.iter().map(Transition::turn_on_share);
        let highest_turn_on_share = shares.fold(0.0, f64::max);
        Some(DeadTimePoint { dead_time, highest_turn_on_share, loss: solved.loss })
    }

    /// Where all phases switch together, a shorter dead time is the begin of a longer one.
    fn in_one_go(&self, step: f64, points: usize) -> Option<Vec<DeadTimePoint>> {
        let ready = Ready::new(*self);
        let starts = SwitchingInstant::ALL.map(|instant| DeadTime::new(&ready, instant, self));
        let mut instants = starts.into_iter().collect::<Option<Vec<_>>>()?;
        let point = |n: usize| {
            let (mut energy, mut highest) = (0.0, 0.0_f64);
            for instant in &mut instants {
                instant.advance(step)?;
                energy += instant.energy();
                highest = highest.max(instant.highest_turn_on_share());
            }
            Some(DeadTimePoint {
                dead_time: Second(step * n as f64),
                highest_turn_on_share: highest,
                loss: self.loss(Joule(energy)),
            })
        };
        (1..=points).map(point).collect()
    }
}
