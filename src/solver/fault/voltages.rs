//! What the switches of a chain block when a part has failed.
//!
//! A high switch k ≥ 2 blocks V(k−1) + V(k), the first one V(1), a low switch V(k), with the voltages at
//! the start of each interval. With one damaged leg in full-bridge drive only the sums V(k) + V'(k) =
//! 2 W(k) are known. What each leg takes of it depends on what happened before:
//!
//! ```text
//! damaged leg:  0 ≤ V(k) ≤ 2 W(k),  ΣV(k) = Vin over the m phases that receive voltage
//! sound leg:    V'(k) = 2 W(k) − V(k)
//! ```
//!
//! So the voltage of a switch has a range; its upper end is the corner that a rating must cover.

use std::ops::Range;

use arrayvec::ArrayVec;

use super::case::FaultCase;
use super::leg::LegRemainder;
use super::outcome::{BlockingRange, SwitchVoltages};
use crate::converter::{Converter, FailureMode, Leg, MAX_PHASES};
use crate::solver::steady_state::SteadyState;
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
                Some(own) => self.with_drift(own.high_blocking[k].0, &path),
                None => self.high(&path),
            })
        };
        let low = |k: usize| {
            let path = Path { leg, phases: k..k + 1 };
            self.floating(leg, k, false).unwrap_or_else(|| match own {
                Some(own) => self.with_drift(own.low_blocking[k].0, &path),
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
        let first = path.phases.start;
        let is_pair = path.phases.len() > 1;
        let jump = self.remainder(path.leg).map_or(0.0, |own| own.jumps[first]);
        let ripple = if is_pair { jump * self.state.phases[first].charge } else { 0.0 };
        self.sum(path).plus(-ripple)
    }

    /// Across a low switch: highest where charge flowed back.
    fn low(&self, path: &Path) -> BlockingRange {
        let (k, leg) = (path.phases.start, path.leg);
        let back = self.state.phases[k].charge_range[leg as usize].0;
        let elastance = self.remainder(leg).map_or(0.0, |own| own.elastances[k]);
        self.sum(path).plus(-elastance * back)
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
            VoltageLaw::Shared { legs, damaged } => {
                self.shared(path, &legs[damaged as usize].fed, path.leg == damaged)
            }
            VoltageLaw::Clamped { legs, damaged } => {
                self.clamped(path, &legs[damaged as usize].fed, path.leg == damaged)
            }
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
    fn shared(
        &self,
        path: &Path,
        fed: &ArrayVec<bool, MAX_PHASES>,
        is_damaged: bool,
    ) -> BlockingRange {
        let input = self.case.point.input_voltage.0;
        let twice = |k: usize| 2.0 * self.amplitude(k);
        let fed_sum = |phases: Range<usize>| -> f64 { phases.filter(|k| fed[*k]).map(twice).sum() };
        let (inside, all) = (fed_sum(path.phases.clone()), fed_sum(0..fed.len()));
        let (least, most) = ((input - (all - inside)).max(0.0), inside.min(input));
        if is_damaged {
            return BlockingRange { lowest: Volt(least), highest: Volt(most) };
        }
        let both: f64 = path.phases.clone().map(twice).sum();
        BlockingRange { lowest: Volt(both - most), highest: Volt(both - least) }
    }

    /// Of one of two legs where diodes clamp the sound one at the phases that the damaged one feeds.
    fn clamped(
        &self,
        path: &Path,
        fed: &ArrayVec<bool, MAX_PHASES>,
        is_damaged: bool,
    ) -> BlockingRange {
        let drop = self.case.diode_drop.0;
        let inside: ArrayVec<usize, MAX_PHASES> = path.phases.clone().filter(|k| fed[*k]).collect();
        if is_damaged {
            let voltages = inside.iter().map(|k| 2.0 * self.amplitude(*k) + drop);
            return BlockingRange::exactly(voltages.sum());
        }
        if inside.len() == path.phases.len() {
            return BlockingRange::exactly(drop);
        }
        // How phases that carry nothing share their voltage is left open.
        BlockingRange::up_to(self.case.point.input_voltage.0 + drop)
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
        let highest = self.sum(&reach).highest;
        Some(BlockingRange { lowest: self.sum(&own).lowest, highest })
    }
}
