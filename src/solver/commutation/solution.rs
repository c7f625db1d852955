//! How all switches of a converter turn on, after its dead time and after others.

use super::case::CommutationCase;
use super::dead_time::DeadTime;
use super::instant::Ready;
use super::lone_phase::LonePhase;
use super::steps::{Steps, TurnOnNow};
use super::transition::{Commutation, Transition};
use crate::converter::{Leg, MAX_PHASES};
use crate::units::{Second, Watt};

/// How the switches would turn on after another dead time, with the same steady state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DeadTimePoint {
    /// The dead time.
    pub dead_time: Second,
    /// Largest shortfall of a swing, as a share of its interval voltage.
    pub shortfall: f64,
    /// Energy lost at turn-on in a period times the switching frequency.
    pub loss: Watt,
}

impl CommutationCase<'_> {
    /// How the switches turn on; none where the steady state does not hold the tanks' currents at the
    /// switching instants, where a phase has no voltage to swing over, and where a dead time takes too
    /// many stretches.
    pub fn solve(&self) -> Option<Commutation> {
        let mut transitions = Vec::with_capacity(4 * self.converter.phases());
        self.pass(&mut |dead_time: &mut dyn Commutating| dead_time.pass(&mut transitions))?;
        transitions.sort_by_key(|t| (t.leg == Leg::Return, t.phase));
        Some(Commutation::new(transitions, self.state.switching_frequency, self.switch.dead_time))
    }

    fn loss(&self, energy: f64) -> Watt {
        Watt(energy * self.state.switching_frequency.0)
    }

    /// The same for dead times in `points` equal steps up to the longest.
    pub fn over_dead_times(&self, longest: Second, points: usize) -> Option<Vec<DeadTimePoint>> {
        let step = longest.0 / points as f64;
        let mut seen = vec![TurnOnNow::NONE; points];
        let steps = Steps { step, enough: f64::INFINITY, with_energy: true };
        self.pass(&mut |dead_time| dead_time.pass_in_steps(steps, &mut seen))?;
        let point = |(n, now): (usize, TurnOnNow)| DeadTimePoint {
            dead_time: Second(step * (n + 1) as f64),
            shortfall: now.shortfall,
            loss: self.loss(now.energy),
        };
        Some(seen.into_iter().enumerate().map(point).collect())
    }

    /// Raises shortfalls after dead times in equal steps up to the longest: to the largest of a swing, as a
    /// share of its interval voltage. One that has come to `enough` may stay there. None where the dead
    /// times cannot be followed.
    pub fn raise_shortfalls(
        &self,
        longest: Second,
        enough: f64,
        shortfalls: &mut [f64],
    ) -> Option<()> {
        let step = longest.0 / shortfalls.len() as f64;
        let steps = Steps { step, enough, with_energy: false };
        let mut seen: Vec<TurnOnNow> =
            shortfalls.iter().map(|own| TurnOnNow { shortfall: *own, ..TurnOnNow::NONE }).collect();
        self.pass(&mut |dead_time| dead_time.pass_in_steps(steps, &mut seen))?;
        shortfalls.iter_mut().zip(&seen).for_each(|(own, now)| *own = now.shortfall);
        Some(())
    }

    /// Passes the dead times of all phases at the instants that are followed.
    fn pass(&self, pass: &mut dyn FnMut(&mut dyn Commutating) -> Option<()>) -> Option<()> {
        let ready = Ready::new(*self);
        for &instant in ready.followed_instants() {
            if ready.phases_are_lone() {
                for phase in 0..ready.phases() {
                    pass(&mut LonePhase::new(&ready, instant, phase)?)?;
                }
                continue;
            }
            // Room for no more phases than needed, in steps: that saves time, and builds of many.
            match ready.phases() {
                1 | 2 => pass(&mut DeadTime::<2>::new(&ready, instant)?)?,
                3 | 4 => pass(&mut DeadTime::<4>::new(&ready, instant)?)?,
                5..=8 => pass(&mut DeadTime::<8>::new(&ready, instant)?)?,
                _ => pass(&mut DeadTime::<MAX_PHASES>::new(&ready, instant)?)?,
            }
        }
        Some(())
    }
}

/// The dead time of an instant, with room for any number of phases.
trait Commutating {
    fn pass(&mut self, passed: &mut Vec<Transition>) -> Option<()>;
    fn pass_in_steps(&mut self, steps: Steps, seen: &mut [TurnOnNow]) -> Option<()>;
}

impl<const ROOM: usize> Commutating for DeadTime<'_, ROOM> {
    fn pass(&mut self, passed: &mut Vec<Transition>) -> Option<()> {
        DeadTime::pass(self, passed)
    }

    fn pass_in_steps(&mut self, steps: Steps, seen: &mut [TurnOnNow]) -> Option<()> {
        DeadTime::pass_in_steps(self, steps, seen)
    }
}

impl Commutating for LonePhase<'_> {
    fn pass(&mut self, passed: &mut Vec<Transition>) -> Option<()> {
        LonePhase::pass(self, passed)
    }

    fn pass_in_steps(&mut self, steps: Steps, seen: &mut [TurnOnNow]) -> Option<()> {
        LonePhase::pass_in_steps(self, steps, seen)
    }
}
