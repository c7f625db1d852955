//! The flying capacitors of one leg, and what its switches block.

use super::record::LegRecord;
use crate::units::Volt;

/// Rounds of charge through body diodes after a switching instant.
const DIODE_ROUNDS: usize = 4;

/// Flying capacitors of a leg with N − 1 places between an input and ground.
#[derive(Debug, Clone)]
pub(super) struct ChainLeg {
    /// +1: its current is the tank's; −1: the return leg.
    sign: f64,
    /// Forward drop of a body diode.
    diode_drop: f64,
    /// In farad.
    capacitances: Vec<f64>,
    /// v(1)…v(N−1).
    pub(super) voltages: Vec<f64>,
    /// Lowest and highest voltage of each in the present half period.
    ranges: Vec<[f64; 2]>,
}

impl ChainLeg {
    /// Of flying capacitances in farad with their voltages.
    pub(super) fn new(sign: f64, diode_drop: f64, capacitances: Vec<f64>, v: &[Volt]) -> Self {
        let voltages: Vec<f64> = v.iter().map(|v| v.0).collect();
        let ranges = voltages.iter().map(|v| [*v; 2]).collect();
        Self { sign, diode_drop, capacitances, voltages, ranges }
    }

    pub(super) fn diode_drop(&self) -> f64 {
        self.diode_drop
    }

    pub(super) fn sign(&self) -> f64 {
        self.sign
    }

    fn phases(&self) -> usize {
        self.voltages.len() + 1
    }

    /// Whether the high switch of a phase, counted from 0, is on in the first or the second half period.
    pub(super) fn is_high(&self, phase: usize, is_first: bool) -> bool {
        let with_odd = is_first == (self.sign > 0.0);
        phase.is_multiple_of(2) == with_odd
    }

    /// v of a place, counted so that the one before phase 0 is the input; ground after the last phase.
    fn before(&self, phase: usize, input: f64) -> f64 {
        phase.checked_sub(1).map_or(input, |n| self.after(n))
    }

    fn after(&self, phase: usize) -> f64 {
        self.voltages.get(phase).copied().unwrap_or(0.0)
    }

    /// V of a phase: what it receives while its high switch is on.
    pub(super) fn phase_voltage(&self, phase: usize, input: f64) -> f64 {
        self.before(phase, input) - self.after(phase)
    }

    /// 1/C of the neighbours of a phase.
    pub(super) fn elastance(&self, phase: usize) -> f64 {
        let before = phase.checked_sub(1).and_then(|n| self.capacitances.get(n));
        [before, self.capacitances.get(phase)].into_iter().flatten().map(|c| 1.0 / c).sum()
    }

    /// Begins a half period: diodes let flow what they do not block, and ranges begin.
    pub(super) fn switch(&mut self, is_first: bool, input: f64) {
        for _ in 0..DIODE_ROUNDS {
            let mut has_moved = false;
            for phase in 0..self.phases() {
                has_moved |= if self.is_high(phase, is_first) {
                    self.low_diode(phase, input)
                } else {
                    self.high_diode(phase, input)
                };
            }
            if !has_moved {
                break;
            }
        }
        for (range, v) in self.ranges.iter_mut().zip(&self.voltages) {
            *range = [*v; 2];
        }
    }

    /// Charge through the low switch's diode of a phase whose high switch is on.
    fn low_diode(&mut self, phase: usize, input: f64) -> bool {
        let missing = -self.diode_drop - self.phase_voltage(phase, input);
        if missing <= 0.0 {
            return false;
        }
        self.take(phase, -missing / self.elastance(phase));
        true
    }

    /// Charge through the high switch's diode of a phase whose low switch is on: from C(k) to C(k−2).
    fn high_diode(&mut self, phase: usize, input: f64) -> bool {
        let Some(own) = self.voltages.get(phase).copied() else { return false };
        let upper = phase.checked_sub(2);
        let excess = own - upper.map_or(input, |n| self.voltages[n]) - self.diode_drop;
        if excess <= 0.0 {
            return false;
        }
        let elastance = |n: usize| 1.0 / self.capacitances[n];
        let charge = excess / (elastance(phase) + upper.map_or(0.0, elastance));
        self.voltages[phase] -= charge * elastance(phase);
        if let Some(upper) = upper {
            self.voltages[upper] += charge * elastance(upper);
        }
        true
    }

    /// A phase takes a charge through its high switch.
    fn take(&mut self, phase: usize, charge: f64) {
        if let Some(before) = phase.checked_sub(1) {
            self.voltages[before] -= charge / self.capacitances[before];
        }
        if let Some(v) = self.voltages.get_mut(phase) {
            *v += charge / self.capacitances[phase];
        }
    }

    /// The same for a charge of its tank, which went from a lowest to a highest value on the way.
    pub(super) fn pass(&mut self, phase: usize, tank_charge: f64, range: [f64; 2]) {
        for charge in range {
            let charge = self.sign * charge;
            if let Some(before) = phase.checked_sub(1) {
                self.reach(before, -charge / self.capacitances[before]);
            }
            if phase < self.voltages.len() {
                self.reach(phase, charge / self.capacitances[phase]);
            }
        }
        self.take(phase, self.sign * tank_charge);
    }

    fn reach(&mut self, place: usize, change: f64) {
        let v = self.voltages[place] + change;
        let [low, high] = self.ranges[place];
        self.ranges[place] = [low.min(v), high.max(v)];
    }

    /// Notes what every switch blocks in the half period that ends.
    pub(super) fn note(&self, is_first: bool, input: f64, record: &mut LegRecord) {
        let range = |place: Option<usize>| {
            place.map_or([input; 2], |n| self.ranges.get(n).copied().unwrap_or([0.0; 2]))
        };
        for phase in 0..self.phases() {
            let own = range(Some(phase));
            if self.is_high(phase, is_first) {
                record.low(phase, range(phase.checked_sub(1))[1] - own[0]);
            } else {
                record.high(phase, range(phase.checked_sub(2))[1] - own[0]);
            }
        }
    }
}
