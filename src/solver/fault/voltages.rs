//! What the switches of a chain block when a part has failed.
//!
//! A high switch k ≥ 2 blocks V(k−1) + V(k) less what the node between them rises by with the charge, the first
//! one V(1), a low switch V(k), with the voltages at the start of each interval. High switch k beside a shorted
//! low switch k blocks Q/C(k) more: C(k) is discharged before it is level again with C(k−1).
//!
//! With one damaged leg in full-bridge drive only the sums V(k) + V'(k) = 2 W(k) are known. What each leg takes
//! of it depends on what happened before. All share a charge Q, at most q(k) of it within an interval. Body
//! diodes keep each voltage at −d or above to the end of its interval, and the nodes of the damaged leg rise by
//! J Q:
//!
//! ```text
//! damaged leg:  κ(k) q(k) − d ≤ V(k) ≤ 2 W(k) − κ'(k) q'(k) + d,  ΣV(k) = Vin + Q J over the m phases
//! sound leg:    V'(k) = 2 W(k) − V(k)
//! ```
//!
//! So the voltage of a switch has a range; its upper end is the corner that a rating must cover.
//!
//! A dead low gate lets the node behind it shift, in a full bridge against that of the other leg.
//!
//! Where diodes clamp the sound leg, its voltage starts at −d and what the charge P of the other phases leaves
//! on its capacitors: V'(k) = −d + κ'(k) P. The line that stands for it tells V(k) = 2 W(k) − A'(k)
//! (`src/solver/fault/ripple.rs`).

use std::ops::Range;

use arrayvec::ArrayVec;

use super::case::FaultCase;
use super::leg::LegRemainder;
use super::outcome::{BlockingRange, SwitchVoltages};
use super::ripple::SourceLine;
use crate::converter::{Converter, FailureMode, Leg, MAX_PHASES};
use crate::solver::steady_state::{PhaseState, SteadyState};
use crate::solver::{ChainVoltages, chain_voltages};
use crate::units::Volt;

/// What the voltages of the legs follow from.
#[derive(Debug, Clone, Copy)]
pub(super) enum VoltageLaw<'a> {
    /// The flying capacitors of this converter join all phases.
    Whole(&'a Converter),
    /// The phases that receive voltage share one charge, and all legs are alike.
    Alike { legs: &'a [LegRemainder] },
    /// All phases share one charge, though one of two legs is damaged.
    Shared { legs: &'a [LegRemainder], damaged: Leg },
    /// Diodes clamp the sound leg where the damaged one receives voltage.
    Clamped { legs: &'a [LegRemainder], damaged: Leg },
    /// This leg drives alone; the voltages of the other one have sunk.
    OneLeg { driving: Leg },
    /// Every switch blocks the input.
    Input,
}

/// Voltages of a converter that runs with a failed part.
#[derive(Debug, Clone, Copy)]
pub(super) struct FaultedVoltages<'a> {
    pub(super) case: &'a FaultCase,
    pub(super) state: &'a SteadyState,
    pub(super) law: VoltageLaw<'a>,
}

/// Charge behind clamping diodes.
#[derive(Debug, Clone, Copy)]
struct HeldCharge {
    /// Of the phases that receive voltage in the damaged leg, in coulomb.
    charge: f64,
    /// The share of it that the capacitors of the sound leg pass.
    ratio: f64,
}

/// Phases that lie between the ends of a switch, with the capacitors beside them.
#[derive(Debug, Clone)]
struct Path {
    leg: Leg,
    phases: Range<usize>,
}

impl FaultedVoltages<'_> {
    /// Of all driven legs.
    pub(super) fn of_legs(&self) -> ArrayVec<SwitchVoltages, 2> {
        let whole = match self.law {
            VoltageLaw::Whole(converter) => {
                Some(chain_voltages(self.state, converter, &self.case.point))
            }
            _ => None,
        };
        let driven = Leg::ALL.into_iter().take(self.case.point.drive.legs());
        driven.map(|leg| self.of_leg(leg, whole.as_ref())).collect()
    }

    fn of_leg(&self, leg: Leg, whole: Option<&ChainVoltages>) -> SwitchVoltages {
        let own = whole.map(|own| &own.legs[leg as usize]);
        let high = |k: usize| {
            let path = Path { leg, phases: k.saturating_sub(1)..k + 1 };
            self.floating(leg, k, true).unwrap_or_else(|| match own {
                Some(own) => self.shifted(self.with_drift(own.high_blocking[k].0, &path), &path),
                None => self.high(&path),
            })
        };
        let low = |k: usize| {
            let path = Path { leg, phases: k..k + 1 };
            self.floating(leg, k, false).unwrap_or_else(|| match own {
                Some(own) => self.shifted(self.with_drift(own.low_blocking[k].0, &path), &path),
                None => self.low(&path),
            })
        };
        let phases = self.state.phases.len();
        SwitchVoltages {
            leg,
            high: (0..phases).map(high).collect(),
            low: (0..phases).map(low).collect(),
        }
    }

    /// Across a high switch. The node between two phases counts once.
    fn high(&self, path: &Path) -> BlockingRange {
        let (first, last) = (path.phases.start, path.phases.end - 1);
        let jump = |own: &LegRemainder| if last > first { own.jumps[first] } else { 0.0 };
        if let Some(held) = self.held_by_diodes(path, jump, 0.0) {
            return held;
        }
        let Some(own) = self.remainder(path.leg) else { return self.sum(path) };
        let range = self.sum(path).plus((own.dips[last] - jump(own)) * self.charge(own));
        range.up_by(self.swing(own, path))
    }

    /// By how much the ends of a high switch go farther apart within an interval than at its ends, at most: the one
    /// before rises while charge flows back, the one behind falls while more than the whole charge has passed.
    fn swing(&self, own: &LegRemainder, path: &Path) -> f64 {
        let range = |k: usize| self.state.phases[k].charge_range[path.leg as usize];
        let (first, next) = (path.phases.start, path.phases.end);
        let rises = if own.fed[first] { -own.behind[first] * range(first).0 } else { 0.0 };
        let is_joined = own.dips[next - 1] > 0.0;
        let falls = match own.fed.get(next) {
            Some(true) => {
                let behind = if is_joined { own.dips[next - 1] } else { own.behind[next] };
                behind * (range(next).1 - self.charge(own))
            }
            _ => 0.0,
        };
        rises + falls.max(0.0)
    }

    /// Across a low switch: highest where charge flowed back.
    fn low(&self, path: &Path) -> BlockingRange {
        let (k, leg) = (path.phases.start, path.leg);
        let back = self.state.phases[k].charge_range[leg as usize].0;
        let seen = |own: &LegRemainder| {
            if own.fed[k] { own.elastances[k] } else { own.idle.elastances[k] }
        };
        let more = self.remainder(leg).map_or(0.0, |own| -seen(own) * back);
        let held = self.held_by_diodes(path, |_| 0.0, more);
        held.unwrap_or_else(|| self.sum(path).plus(more))
    }

    /// By how much the node behind a dead low gate may shift the voltage of a switch in the other leg, which is
    /// sound: only the sum of both legs is known. Body diodes keep each phase of both legs at zero or more.
    fn shifted(&self, range: BlockingRange, path: &Path) -> BlockingRange {
        let (fault, node) = (&self.case.fault, self.case.fault.phase + 1);
        let ends_there = (path.phases.start == node) != (path.phases.end == node);
        let is_other = fault.failure == FailureMode::LowGateOff && !fault.is_in_leg(path.leg);
        if !is_other || !ends_there || node >= self.state.phases.len() {
            return range;
        }
        let most = self.amplitude(node - 1).min(self.amplitude(node));
        let lowest = Volt((range.lowest.0 - most).max(0.0));
        // With drift too no node leaves the input by more than a drop.
        let end = self.case.point.input_voltage.0 + self.case.diode_drop.0;
        let highest = (range.highest.0 + most).min(end.max(range.highest.0));
        BlockingRange { lowest, highest: Volt(highest) }
    }

    /// The charge of the phases that receive voltage in a leg.
    fn charge(&self, leg: &LegRemainder) -> f64 {
        let fed = self.state.phases.iter().zip(&leg.fed).filter(|(_, fed)| **fed);
        fed.map(|(phase, _)| phase.charge).fold(0.0, f64::max)
    }

    fn remainder(&self, leg: Leg) -> Option<&LegRemainder> {
        match self.law {
            VoltageLaw::Alike { legs }
            | VoltageLaw::Shared { legs, .. }
            | VoltageLaw::Clamped { legs, .. } => legs.get(leg as usize),
            VoltageLaw::Whole(_) | VoltageLaw::OneLeg { .. } | VoltageLaw::Input => None,
        }
    }

    /// What the voltages of neighbouring phases sum to.
    fn sum(&self, path: &Path) -> BlockingRange {
        match self.law {
            VoltageLaw::Shared { legs, damaged } => self.shared(path, legs, damaged),
            VoltageLaw::Clamped { legs, damaged } => self.clamping(path, legs, damaged),
            VoltageLaw::Whole(_) | VoltageLaw::Alike { .. } => {
                let voltages = path.phases.clone().map(|k| self.amplitude(k));
                self.with_drift(voltages.sum(), path)
            }
            VoltageLaw::OneLeg { driving } if driving == path.leg => {
                let voltages = path.phases.clone().map(|k| self.amplitude(k));
                BlockingRange::exactly(voltages.sum())
            }
            VoltageLaw::OneLeg { .. } | VoltageLaw::Input => {
                BlockingRange::up_to(self.case.point.input_voltage.0)
            }
        }
    }

    /// Mean of both legs' voltages of a phase; in half-bridge drive that of the one.
    fn amplitude(&self, k: usize) -> f64 {
        self.state.phases[k].start_voltage.0
    }

    /// Of legs that are alike: with the drift of the flying capacitors at the switch's ends.
    fn with_drift(&self, voltage: f64, path: &Path) -> BlockingRange {
        let drift = match self.remainder(path.leg) {
            Some(own) => self.drift_across(own, &path.phases),
            None => self.case.drift.across(&path.phases).0,
        };
        BlockingRange { lowest: Volt(voltage), highest: Volt(voltage + drift) }
    }

    /// What the drift adds across some phases where nodes are joined. Those that are joined drift as the one of
    /// them that drifts farthest. Body diodes keep each phase of both legs at zero or more. So a node drifts no
    /// farther than the voltage of all phases before it, or behind it; and two nodes than that between them.
    fn drift_across(&self, leg: &LegRemainder, phases: &Range<usize>) -> f64 {
        let between = |phases: Range<usize>| phases.map(|k| self.amplitude(k)).sum::<f64>();
        let all = self.state.phases.len();
        let farthest = |nodes: ArrayVec<usize, { MAX_PHASES + 1 }>| {
            let drift = |node: &usize| self.case.drift.after(node - 1).0;
            let most = nodes.iter().map(drift).fold(0.0, f64::max);
            let nearest = |node: &usize| between(0..*node).min(between(*node..all));
            nodes.iter().map(nearest).fold(most, f64::min)
        };
        let ends: f64 = leg.free_ends(phases).map(farthest).sum();
        ends.min(between(phases.clone()))
    }

    /// Of one of two legs that share all charges, though one of them is damaged.
    fn shared(&self, path: &Path, legs: &[LegRemainder], damaged: Leg) -> BlockingRange {
        let own = &legs[damaged as usize];
        let twice = |k: usize| 2.0 * self.amplitude(k);
        // What the diodes leave a phase of a leg at least.
        let least = |leg: Leg, k: usize| {
            let most_charge = self.state.phases[k].charge_range[leg as usize].1;
            legs[leg as usize].elastances[k] * most_charge - self.case.diode_drop.0
        };
        let ends = |k: usize| {
            if own.fed[k] {
                [least(damaged, k), twice(k) - least(damaged.other(), k)]
            } else {
                [-self.case.diode_drop.0, 0.0]
            }
        };
        let lows = |phases: Range<usize>| phases.map(|k| ends(k)[0]).sum::<f64>();
        let highs = |phases: Range<usize>| phases.map(|k| ends(k)[1]).sum::<f64>();
        let total =
            self.case.point.input_voltage.0 + self.charge(own) * own.jumps.iter().sum::<f64>();
        let (inside, all) = (path.phases.clone(), 0..own.fed.len());
        let outside = |sum: &dyn Fn(Range<usize>) -> f64| sum(all.clone()) - sum(inside.clone());
        let most = highs(inside.clone()).min(total - outside(&lows));
        let least = lows(inside.clone()).max(total - outside(&highs)).min(most);
        if path.leg == damaged {
            return BlockingRange { lowest: Volt(least), highest: Volt(most) };
        }
        let both: f64 = path.phases.clone().map(twice).sum();
        BlockingRange { lowest: Volt(both - most), highest: Volt(both - least) }
    }

    /// Of a damaged leg at whose phases diodes clamp the sound one.
    fn clamping(&self, path: &Path, legs: &[LegRemainder], damaged: Leg) -> BlockingRange {
        let sound = &legs[damaged.other() as usize];
        let HeldCharge { charge, ratio } = self.held_charge(&legs[damaged as usize], damaged);
        let start = SourceLine::start_of(ratio) * charge;
        let inside = path.phases.clone().filter(|k| legs[damaged as usize].fed[*k]);
        let line = |k: usize| start * sound.elastances[k] - self.case.diode_drop.0;
        BlockingRange::exactly(inside.map(|k| 2.0 * self.amplitude(k) - line(k)).sum())
    }

    /// Of a sound leg that diodes clamp, of whose nodes the one between two phases rises by this `jump` with the
    /// charge, with so much `more` on it; none of other legs.
    fn held_by_diodes(
        &self,
        path: &Path,
        jump: impl Fn(&LegRemainder) -> f64,
        more: f64,
    ) -> Option<BlockingRange> {
        let VoltageLaw::Clamped { legs, damaged } = self.law else { return None };
        if path.leg == damaged {
            return None;
        }
        let drop = self.case.diode_drop.0;
        let (own, sound) = (&legs[damaged as usize], &legs[path.leg as usize]);
        if !path.phases.clone().all(|k| own.fed[k]) {
            // How phases that carry little share their voltage is left open.
            return Some(BlockingRange::up_to(self.case.point.input_voltage.0 + drop));
        }
        let HeldCharge { charge, ratio } = self.held_charge(own, damaged);
        let passed = ratio * charge;
        let starts = path.phases.clone().map(|k| sound.elastances[k] * passed - drop);
        let voltage = starts.sum::<f64>() - jump(sound) * passed + more;
        Some(BlockingRange::exactly(voltage.max(drop)))
    }

    /// What the phases move that a damaged leg feeds, and the part of it that passes the capacitors of the sound leg:
    /// what the others move too. Of two phases a diode takes what flows back of the second one.
    fn held_charge(&self, own: &LegRemainder, damaged: Leg) -> HeldCharge {
        let charge = self.charge(own);
        let others = self.state.phases.iter().zip(&own.fed).filter(|(_, fed)| !**fed);
        let is_taken = own.has_back_flow_taken();
        let back = |phase: &PhaseState| {
            if is_taken { -phase.charge_range[damaged.other() as usize].0 } else { 0.0 }
        };
        let passed = others.map(|(phase, _)| phase.charge + back(phase)).fold(0.0, f64::max);
        let ratio = if charge > 0.0 { (passed / charge).min(1.0) } else { 0.0 };
        HeldCharge { charge, ratio }
    }

    /// What the nodes between some phases of a whole chain rise by, together, with the charge.
    fn ripple_inside(&self, path: &Path) -> f64 {
        let VoltageLaw::Whole(converter) = self.law else { return 0.0 };
        let flying = match path.leg {
            Leg::Driven => &converter.flying,
            Leg::Return => &converter.flying_return,
        };
        let inner = &flying[path.phases.start..path.phases.end - 1];
        let charge = self.state.phases[path.phases.start].charge;
        inner.iter().map(|own| charge / own.0).sum()
    }

    /// The voltage of a switch near a node that floats: behind a dead low gate while its phase is low, up to
    /// where the high diode of the phase holds it; at an open capacitor without a bound. None of other
    /// switches.
    fn floating(&self, leg: Leg, k: usize, is_high: bool) -> Option<BlockingRange> {
        let fault = &self.case.fault;
        let is_bare = fault.failure == FailureMode::FlyingCapacitorOpen && fault.is_in_leg(leg);
        if is_bare && !is_high && k == fault.phase {
            return Some(BlockingRange::up_to(f64::INFINITY));
        }
        let is_whole = matches!(self.law, VoltageLaw::Whole(_));
        if fault.failure != FailureMode::LowGateOff || !fault.is_in_leg(leg) || !is_whole {
            return None;
        }
        let (failed, phases) = (fault.phase, self.state.phases.len());
        let behind = if is_high { failed + 2 } else { failed + 1 };
        if k != failed && k != behind {
            return None;
        }
        let until = if is_high && k == behind { failed + 3 } else { failed + 2 };
        let reach = Path { leg, phases: failed.saturating_sub(1)..until.min(phases) };
        let own = Path { leg, phases: k..k + 1 };
        let highest = self.sum(&reach).highest.0 - self.ripple_inside(&reach);
        let most = self.case.point.input_voltage.0 + self.case.diode_drop.0;
        Some(BlockingRange { lowest: self.sum(&own).lowest, highest: Volt(highest.min(most)) })
    }
}
