//! Two groups of phases at one frequency, which deliver the output together.

use super::case::FaultCase;
use super::group::{GroupAtFrequencies, PhaseGroup, RegulatedPoint};
use super::outcome::FaultOutcome;
use super::ripple::{HeldRipple, TakenBack};
use super::voltages::VoltageLaw;
use super::whole::Whole;
use crate::solver::Solver;
use crate::solver::bracket::{Zero, falling_zero, zero_inside};
use crate::solver::steady_state::{Outcome, Unsolved};
use crate::units::{Hertz, Volt};

/// Share of the output current below which the second group is idle.
const IDLE: f64 = 1e-3;
/// Ratio of neighbouring frequencies on the way down.
const STRIDE: f64 = 1.02;
/// Ratio of frequencies within which the crossing of a converter nearby is sought first.
const NEARBY: f64 = 1.25;
/// Rounds in which the charge of a group is closed in on, and how closely, relatively.
const ROUNDS: usize = 40;
const CLOSE: f64 = 1e-9;
/// Share of a phase current up to which the model may leave it open.
const DOUBT: f64 = 0.02;
/// Share of the output current that is none.
const NONE: f64 = 1e-9;
/// Share of the charge of a phase that may flow back without a doubt: time integration of four phases above
/// resonance finds what is told.
const LITTLE: f64 = 0.25;
/// Share of the output current by which both may miss it where they meet it.
const MEETS: f64 = 1e-3;

/// Two groups that have one frequency in common.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair<'a> {
    /// The one that carries nearly all.
    pub(super) first: &'a PhaseGroup,
    /// The other one.
    pub(super) second: &'a PhaseGroup,
    /// What both deliver together.
    pub(super) asked: RegulatedPoint<'a>,
    /// Ripple that diodes hold, of a chain whose sound leg is clamped.
    pub(super) held: Option<&'a HeldPair>,
}

/// Ripple that body diodes hold in two groups of one chain.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct HeldPair {
    /// Of the first group: the capacitors pass the charge of the second one.
    pub(super) first: HeldRipple,
    /// Of the second group.
    pub(super) second: HeldRipple,
    /// The width of what the voltages of the second group may sum to, where the model leaves that open.
    pub(super) doubt: Option<Volt>,
    /// Elastance of the sound leg's capacitor between two phases into which a current flows back that a diode takes,
    /// in 1/farad; zero of more phases.
    pub(super) between: f64,
    /// The same of more phases, where it is not known what a diode takes.
    pub(super) open_between: f64,
}

impl Pair<'_> {
    /// What becomes of a converter with so many phases. Mostly the second group is idle.
    pub(super) fn outcome(
        &self,
        solver: &Solver,
        case: &FaultCase,
        phases: usize,
        law: VoltageLaw<'_>,
    ) -> FaultOutcome {
        let alone = self.first.solve(solver);
        let frequency = match &alone {
            Outcome::Solved(state) => state.switching_frequency,
            // What more there is to know is at the lower end, where most conducts.
            Outcome::OutOfRange => self.asked.band.minimum,
            Outcome::NotSolved(Unsolved::ThermalRunaway) => {
                return self.runaway(solver, case, phases, law);
            }
            Outcome::NotSolved(why) => return FaultOutcome::not_solved(*why),
        };
        let Some(more) = self.second.current_at(solver, frequency) else {
            return FaultOutcome::NotSolved(Unsolved::Lost);
        };
        if more.0 < IDLE * self.asked.point.output_current.0 {
            return case.outcome(phases, self.first, alone, law);
        }
        self.search(solver, case, phases, law)
    }

    /// The first group alone has no steady temperature. Where the second one helps, nothing is said: its
    /// share depends on the temperatures.
    fn runaway(
        &self,
        solver: &Solver,
        case: &FaultCase,
        phases: usize,
        law: VoltageLaw<'_>,
    ) -> FaultOutcome {
        let at_given_temperatures = self.search(solver, case, phases, law);
        let helps = at_given_temperatures.state().is_some_and(|found| {
            let current = |k: &usize| found.state.phases[*k].output_current.0;
            let of_second: f64 = self.second.phases.iter().map(current).sum();
            of_second >= IDLE * self.asked.point.output_current.0
        });
        if helps {
            FaultOutcome::Unknown
        } else {
            FaultOutcome::not_solved(Unsolved::ThermalRunaway)
        }
    }

    /// The frequency at which both deliver the output together, and what they do there.
    fn search(
        &self,
        solver: &Solver,
        case: &FaultCase,
        phases: usize,
        law: VoltageLaw<'_>,
    ) -> FaultOutcome {
        let mut groups = Groups::new(self);
        let wanted = self.asked.point.output_current.0;
        let mut surplus = |frequency: f64| {
            let surplus = groups.current(solver, Hertz(frequency))? - wanted;
            Some(if surplus.abs() < NONE * wanted { 0.0 } else { surplus })
        };
        let near = case.starts.together;
        let frequency = match highest_crossing(self.asked, near, &mut surplus) {
            Crossing::Unsettled => return FaultOutcome::NotSolved(Unsolved::Lost),
            Crossing::Nowhere => return FaultOutcome::OutOfRange,
            // A jump over the output current: there the model does not tell how the groups share.
            Crossing::At(_, surplus) if surplus.abs() > MEETS * wanted => {
                return FaultOutcome::Unknown;
            }
            Crossing::At(frequency, _) => Hertz(frequency),
        };
        match groups.doubt(solver, frequency) {
            Some(doubt) if doubt < DOUBT * wanted / phases as f64 => {}
            Some(_) => return FaultOutcome::Unknown,
            None => return FaultOutcome::NotSolved(Unsolved::Lost),
        }
        let mut whole = Whole::idle(phases, frequency);
        for (at, group) in [(&mut groups.first, self.first), (&mut groups.second, self.second)] {
            match at.state(solver, frequency) {
                Some(state) => whole.take(&state, &group.phases),
                None => return FaultOutcome::NotSolved(Unsolved::Lost),
            }
        }
        case.runs(whole, law)
    }
}

/// Both groups on the way through the frequencies.
struct Groups<'a> {
    first: Box<GroupAtFrequencies<'a>>,
    second: Box<GroupAtFrequencies<'a>>,
    held: Option<&'a HeldPair>,
    /// What the voltages of both sum to without the lines of held sources.
    bases: [Volt; 2],
    /// Output current below which the second group is idle, in ampere.
    idle: f64,
    phases: f64,
    /// The charge that the first one moved at the last frequency, in coulomb; none where none was closed in on.
    charge: Option<f64>,
    /// The same of the second one, with what flows back.
    taken: Option<TakenBack>,
}

impl<'a> Groups<'a> {
    fn new(pair: &Pair<'a>) -> Self {
        let first = Box::new(GroupAtFrequencies::new(pair.first));
        let second = Box::new(GroupAtFrequencies::new(pair.second));
        let drops = pair.held.map_or(0.0, |held| held.first.drops);
        let bases = [Volt(first.input().0 + 0.5 * drops), second.input()];
        let idle = IDLE * pair.asked.point.output_current.0;
        let phases = pair.second.phases.len() as f64;
        Self { first, second, held: pair.held, bases, idle, phases, charge: None, taken: None }
    }

    /// Output current of both in ampere. None where one does not settle.
    fn current(&mut self, solver: &Solver, frequency: Hertz) -> Option<f64> {
        let mut second = self.second.current(solver, frequency)?.0;
        let Some(held) = self.held else {
            return Some(self.first.current(solver, frequency)?.0 + second);
        };
        let mut passed = 0.0;
        if second >= self.idle {
            passed = self.close_in_second(held, solver, frequency)?.passed();
            second = self.second.current(solver, frequency)?.0;
        }
        let own = Line { held: &held.first, passed: Some(passed), base: self.bases[0], frequency };
        self.charge = Some(own.close_in(&mut self.first, solver, self.charge)?);
        Some(self.first.current(solver, frequency)?.0 + second)
    }

    /// Sets the lines of the second group so that it moves the charge that they are for, and of two phases so that
    /// a diode takes what flows back.
    fn close_in_second(
        &mut self,
        held: &HeldPair,
        solver: &Solver,
        frequency: Hertz,
    ) -> Option<TakenBack> {
        let between = held.between;
        // From nothing at each frequency: what is found must not depend on the way there.
        let mut taken = TakenBack::default();
        for _ in 0..ROUNDS {
            let base = Volt(self.bases[1].0 - 0.5 * taken.lost(between));
            let own = Line { held: &held.second, passed: None, base, frequency };
            let near = self.taken.map(|own| own.charge);
            let charge = own.close_in(&mut self.second, solver, near)?;
            let is_told = between > 0.0;
            let back = if is_told { self.flows_back(held, solver, frequency)? } else { 0.0 };
            let is_close = (back - taken.back).abs() <= CLOSE * charge;
            taken = TakenBack { charge, back };
            self.taken = Some(taken);
            if is_close {
                return Some(taken);
            }
        }
        None
    }

    /// The most that flows back at first of a phase of the second group, through the sound leg, in coulomb.
    fn flows_back(&mut self, held: &HeldPair, solver: &Solver, frequency: Hertz) -> Option<f64> {
        let state = self.second.state(solver, frequency)?;
        let back = state.phases.iter().map(|phase| -phase.charge_range[held.first.half].0);
        Some(back.fold(0.0, f64::max))
    }

    /// By how much the model leaves the current of a phase open, in ampere. Both groups are then as they are
    /// at the frequency.
    fn doubt(&mut self, solver: &Solver, frequency: Hertz) -> Option<f64> {
        self.current(solver, frequency)?;
        let doubt = self.open_voltage(solver, frequency)?;
        let mut span = 0.0;
        if doubt > 0.0 {
            let base = self.bases[1];
            for (end, sign) in [(-0.25, -1.0), (0.25, 1.0)] {
                self.bases[1] = Volt(base.0 + end * doubt);
                self.current(solver, frequency)?;
                span += sign * self.second.current(solver, frequency)?.0;
            }
            self.bases[1] = base;
            self.current(solver, frequency)?;
        }
        Some((span / self.phases).abs())
    }

    /// The width of what the voltages of the second group may sum to, in volt.
    fn open_voltage(&mut self, solver: &Solver, frequency: Hertz) -> Option<f64> {
        let Some(held) = self.held else { return Some(0.0) };
        let mut open = held.doubt.map_or(0.0, |doubt| doubt.0);
        if held.open_between > 0.0 && self.second.current(solver, frequency)?.0 >= self.idle {
            let charge = self.second.charge(solver, frequency)?;
            let back = self.flows_back(held, solver, frequency)?;
            if back > LITTLE * charge {
                open += TakenBack { charge, back }.lost(held.open_between);
            }
        }
        Some(open)
    }
}

/// Sources of a group that lines stand for.
struct Line<'a> {
    held: &'a HeldRipple,
    /// Charge that passes the capacitors; none where the group itself tells it.
    passed: Option<f64>,
    base: Volt,
    frequency: Hertz,
}

/// A charge that lines are for, and how much more the group moves with them, in coulomb.
#[derive(Debug, Clone, Copy)]
struct Guess {
    charge: f64,
    excess: f64,
}

impl Guess {
    fn is_close(self) -> bool {
        self.excess.abs() <= CLOSE * self.charge.abs()
    }
}

impl Line<'_> {
    /// Sets the lines so that the group moves the charge that they are for; gives that charge. It starts next to a
    /// charge, or from what the group moves as it is.
    fn close_in(
        &self,
        group: &mut GroupAtFrequencies,
        solver: &Solver,
        near: Option<f64>,
    ) -> Option<f64> {
        let start = near.map_or_else(|| group.charge(solver, self.frequency), Some)?;
        let first = self.guess(group, solver, start)?;
        if first.is_close() {
            return Some(first.charge);
        }
        let [mut one, mut other] = self.bracket(group, solver, first)?;
        // Regula falsi; the excess at an end that stays twice counts half (Illinois).
        for _ in 0..ROUNDS {
            let width = other.charge - one.charge;
            if other.is_close() || width.abs() <= CLOSE * other.charge.abs() {
                return Some(other.charge);
            }
            let at = one.charge - one.excess * width / (other.excess - one.excess);
            let next = self.guess(group, solver, at)?;
            if next.excess * other.excess <= 0.0 {
                one = other;
            } else {
                one.excess *= 0.5;
            }
            other = next;
        }
        None
    }

    /// Goes on from a first guess, by longer and longer steps, until the excess has another sign. No charge
    /// has none below zero.
    fn bracket(
        &self,
        group: &mut GroupAtFrequencies,
        solver: &Solver,
        first: Guess,
    ) -> Option<[Guess; 2]> {
        let (mut one, mut step) = (first, first.excess);
        for _ in 0..ROUNDS {
            let other = self.guess(group, solver, (one.charge + step).max(0.0))?;
            if other.is_close() || other.excess * first.excess <= 0.0 {
                return Some([one, other]);
            }
            (one, step) = (other, 2.0 * step);
        }
        None
    }

    fn guess(&self, group: &mut GroupAtFrequencies, solver: &Solver, charge: f64) -> Option<Guess> {
        let excess = self.charge(group, solver, charge)? - charge;
        Some(Guess { charge, excess })
    }

    /// Charge of the group with the lines for a charge.
    fn charge(&self, group: &mut GroupAtFrequencies, solver: &Solver, charge: f64) -> Option<f64> {
        let passed = self.passed.unwrap_or_else(|| self.held.passed(charge));
        group.set_line(self.held, self.held.line(charge, passed), self.base);
        group.charge(solver, self.frequency)
    }
}

/// Where the surplus turns from below zero to above on the way down.
enum Crossing {
    /// At this frequency first, with the surplus there: not near zero where it jumps.
    At(f64, f64),
    /// Nowhere inside the band.
    Nowhere,
    /// Something does not settle on the way.
    Unsettled,
}

/// Next to a frequency, or else down from the highest one. What lies above the crossing of a converter nearby has
/// none either.
fn highest_crossing(
    asked: RegulatedPoint<'_>,
    near: Option<Hertz>,
    surplus: &mut dyn FnMut(f64) -> Option<f64>,
) -> Crossing {
    let (highest, lowest) = (asked.band.maximum.0, asked.band.minimum.0);
    if let Some(near) = near {
        let range = (near.0 / NEARBY).max(lowest)..=(near.0 * NEARBY).min(highest);
        if let Some(Zero::At(frequency, value)) = falling_zero(&mut *surplus, near.0, range) {
            return Crossing::At(frequency, value);
        }
    }
    let (mut before, mut now) = (highest, highest);
    loop {
        let is_enough = match surplus(now) {
            None => return Crossing::Unsettled,
            Some(surplus) => surplus >= 0.0,
        };
        if is_enough && now < highest {
            return match zero_inside(surplus, [now, before]) {
                Some(Zero::At(frequency, value)) => Crossing::At(frequency, value),
                _ => Crossing::Unsettled,
            };
        }
        if is_enough || now <= lowest {
            return Crossing::Nowhere;
        }
        before = now;
        now = (now / STRIDE).max(lowest);
    }
}
