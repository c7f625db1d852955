//! A phase whose nodes move by themselves: one that is paralleled, or one of a chain whose falling phases go
//! first.
//!
//! In such a chain low switches hold the nodes beside a swinging one at zero. So it moves by itself, with
//! CL(k) + CH(k) + CH(k+1), between zero and E(k). The diode of high switch k + 1 never conducts, as its voltage
//! is S(k) + E(k+1). Nor does a tank know of the others. In full bridge its two nodes swing one after the
//! other, and the one that does not is held at zero.
//!
//! A paralleled phase has one dead time at an instant. In full bridge the node of its return leg is the mirror
//! of the driven one, and so are both instants of the period.

use arrayvec::ArrayVec;

use super::instant::{Ready, SwitchingInstant};
use super::lone_node::LoneNode;
use super::lone_swing::LoneSwing;
use super::steps::{Steps, TurnOnNow};
use super::tank::{HeldTank, TankCurrents};
use super::transition::{HELD_CURRENTS, HeldLoad, Swing, Transition};
use crate::converter::{Arrangement, Leg};
use crate::units::{Ampere, Joule, Volt};

/// The dead times of one phase at an instant, one after the other.
pub(super) struct LonePhase<'a> {
    ready: &'a Ready<'a>,
    phase: usize,
    tank: HeldTank,
    /// The tank's currents when the first dead time begins, into the driven leg's tank.
    currents: TankCurrents,
    /// What swings in each dead time.
    dead_times: ArrayVec<Option<LoneSwing>, 2>,
}

impl<'a> LonePhase<'a> {
    /// At the begin of the first dead time; none where the steady state does not hold the tank's currents,
    /// and where the phase has no voltage to swing over.
    pub(super) fn new(
        ready: &'a Ready<'a>,
        instant: SwitchingInstant,
        phase: usize,
    ) -> Option<Self> {
        let dead_times = ready.lone_swings(instant, phase)?;
        let first = dead_times.first().and_then(Option::as_ref);
        let source = first.map_or(0.0, |swing| match swing.leg {
            Leg::Driven => swing.start,
            Leg::Return => -swing.start,
        });
        let mirror = first.filter(|swing| swing.is_mirrored);
        let source = source + mirror.map_or(0.0, |swing| swing.start - swing.interval);
        let (tank, currents) = ready.tank(phase, instant, source)?;
        Some(Self { ready, phase, tank, currents, dead_times })
    }

    /// The node that swings in a dead time at its begin, or the tank alone.
    fn begin(&self, swing: Option<&LoneSwing>, currents: TankCurrents) -> LoneNode {
        match swing {
            Some(swing) => swing.begin(self.tank, currents),
            None => LoneNode::at_rest(self.tank, currents),
        }
    }

    /// The same of the first dead time.
    #[cfg(test)]
    pub(super) fn begin_first(&self) -> LoneNode {
        self.begin(self.dead_times[0].as_ref(), self.currents)
    }

    /// Goes through the dead times, and adds what became of the nodes. None where that takes too many
    /// stretches.
    pub(super) fn pass(&self, passed: &mut Vec<Transition>) -> Option<()> {
        let time = self.ready.case().switch.dead_time.0;
        let (mut currents, mut held) = (self.currents, ArrayVec::<HeldLoad, 2>::new());
        let first = passed.len();
        // What a low switch carries meanwhile is asked for where it waits for others.
        let steps = if self.dead_times.len() == 1 { 1 } else { HELD_CURRENTS - 1 };
        for swing in self.dead_times.iter().map(Option::as_ref) {
            let mut node = self.begin(swing, currents);
            let mut tank = [currents.tank; HELD_CURRENTS];
            node.advance_in_steps(time / steps as f64, steps, |n, moment| {
                tank[n + 1] = moment.current();
            })?;
            if let Some(swing) = swing {
                self.add(swing, &node, currents.tank.abs(), passed);
            }
            held.push(HeldLoad::over(&tank));
            currents = swing.map_or(node.currents, |swing| swing.of_tank(node.currents));
        }
        // Its low switch is on in the dead time in which a node does not swing.
        if let [in_first, in_second] = held[..] {
            for transition in &mut passed[first..] {
                let falls = transition.swing == Swing::HighToLow;
                transition.held = Some(if falls { in_second } else { in_first });
            }
        }
        Some(())
    }

    /// Adds how the switches would turn on after equal steps of dead time. None where that takes too many
    /// stretches.
    pub(super) fn pass_in_steps(&self, steps: Steps, seen: &mut [TurnOnNow]) -> Option<()> {
        let seen = steps.open(seen);
        let mirrors = self.mirrors() as f64;
        let turn_on = |swing: &LoneSwing, node: &LoneNode, n: usize| {
            let now = swing.turn_on(node, steps.time(n));
            TurnOnNow { energy: mirrors * now.energy, ..now }
        };
        let mut dead_times = self.dead_times.iter().map(Option::as_ref);
        let swing = dead_times.next().flatten();
        let mut passed = Vec::with_capacity(seen.len());
        let mut first = self.begin(swing, self.currents);
        first.advance_in_steps(steps.step, seen.len(), |n, moment| {
            let node = moment.node();
            if let Some(swing) = swing {
                seen[n].add(turn_on(swing, &node, n));
            }
            passed.push(swing.map_or(node.currents, |swing| swing.of_tank(node.currents)));
        })?;
        let Some(swing) = dead_times.next().flatten() else { return Some(()) };
        // The second dead time begins elsewhere after each first one.
        for ((n, currents), now) in passed.into_iter().enumerate().zip(seen) {
            if !steps.is_done(now) {
                let mut then = swing.begin(self.tank, currents);
                then.advance(steps.time(n))?;
                now.add(turn_on(swing, &then, n));
            }
        }
        Some(())
    }

    /// Adds what became of a node, and of those that mirror it. `turned_off` is the current of the switch
    /// that turned off.
    fn add(
        &self,
        swing: &LoneSwing,
        node: &LoneNode,
        turned_off: f64,
        passed: &mut Vec<Transition>,
    ) {
        let (scale, dead_time) = (self.scale(), self.ready.case().switch.dead_time.0);
        let followed = Transition {
            leg: swing.leg,
            phase: self.phase,
            swing: swing.swing,
            interval_voltage: Volt(scale * swing.interval),
            turn_on_voltage: Volt(scale * swing.residual(node).max(0.0)),
            spare: swing.spare(node, dead_time),
            turn_off_current: Ampere(turned_off / scale),
            energy: Joule(swing.energy(node)),
            highest_low: Volt(scale * node.highest[0]),
            highest_high: Volt(scale * node.highest[1]),
            held: None,
        };
        match self.ready.case().arrangement {
            Arrangement::Chain => passed.push(followed),
            Arrangement::Paralleled => passed.extend(self.ready.legs().iter().flat_map(|leg| {
                [followed, followed.mirrored()].map(|own| Transition { leg: *leg, ..own })
            })),
        }
    }

    /// So many transitions a period each one that is followed stands for.
    fn mirrors(&self) -> usize {
        match self.ready.case().arrangement {
            Arrangement::Chain => 1,
            Arrangement::Paralleled => 2 * self.ready.legs().len(),
        }
    }

    /// The switches of rescaled tanks stand at so many times the voltage and carry so much less.
    fn scale(&self) -> f64 {
        match self.ready.case().arrangement {
            Arrangement::Chain => 1.0,
            Arrangement::Paralleled => self.ready.case().converter.healthy_phases as f64,
        }
    }
}
