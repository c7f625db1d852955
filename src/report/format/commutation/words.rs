//! Sentences on soft switching, for terminal and pages.

use std::iter;

use crate::converter::Leg;
use crate::report::format::numbers::{given_percent, quantity, signed_percent, without_dust};
use crate::scenario::SwitchSettings;
use crate::solver::commutation::{Commutation, MARGIN, Swing, Transition, TurnOn};
use crate::solver::exact::HighIntervals;
use crate::study::common::commutation::{SoftSwitching, TurnOnCounts};
use crate::units::{Volt, Watt};

/// What is said where the scenario describes the switches and the averaged solver was asked.
pub(in crate::report) const NEEDS_EXACT: &str = "Soft switching needs the exact solver: the averaged one does not tell the currents at the \
     switching instants.";

/// Why the low switch before the last one of a chain turns on hard.
pub(in crate::report) const PAIR: &str = "When phase k falls and phase k + 1 rises ahead of it, the diode of high switch k + 1 ties both \
     nodes. Then only the sum of both tank currents moves them. In a balanced chain it is nearly zero. \
     More magnetising current does not help there: the tanks' resonance, or falling phases first, does.";

/// The rule that verdicts follow.
pub(in crate::report) fn rule(switch: &SwitchSettings) -> String {
    format!(
        "Soft: the switch turns on at no more than {} of its phase’s interval voltage. Not decided: \
         closer than {} of it to that limit. There the dead time, which the steady state neglects, may \
         change the verdict.",
        given_percent(switch.soft_share),
        given_percent(MARGIN)
    )
}

/// The switch that turns on at the end of a transition.
pub(in crate::report) fn switch(transition: &Transition, legs: usize) -> String {
    let side = match transition.swing {
        Swing::HighToLow => "low",
        Swing::LowToHigh => "high",
    };
    let leg = match (legs, transition.leg) {
        (1, _) => "",
        (_, Leg::Driven) => ", driven leg",
        (_, Leg::Return) => ", return leg",
    };
    format!("{side} switch {}{leg}", transition.phase + 1)
}

/// By what the currents of the nominal high switches grow where falling phases go first in half bridge.
pub(in crate::report) fn high_switches(point: &str, currents: HighIntervals) -> String {
    format!(
        "At “{point}” RMS currents of the nominal high switches then change by {}, their peaks by {}.",
        signed_percent(currents.rms - 1.0),
        signed_percent(currents.peak - 1.0)
    )
}

/// How many switches turn on softly.
pub(in crate::report) fn counts(counts: TurnOnCounts) -> String {
    let kinds = [(counts.hard, "hard"), (counts.not_decided, "not decided")];
    let others = kinds.into_iter().filter(|(n, _)| *n > 0);
    let others = others.map(|(n, words)| format!("{n} {words}"));
    let all = iter::once(format!("{} of {} soft", counts.soft, counts.all())).chain(others);
    all.collect::<Vec<_>>().join(", ")
}

/// The highest turn-on voltage.
pub(in crate::report) fn highest(switching: &SoftSwitching) -> String {
    let worst = switching.worst().map_or(Volt(0.0), |worst| worst.turn_on_voltage);
    quantity(Volt(without_dust(worst.0)))
}

/// Whether low switches that a rising neighbour ties turn on hard.
pub(in crate::report) fn has_tied_pair(switching: &SoftSwitching) -> bool {
    let transitions = &switching.commutation.transitions;
    let ties = switching.sharing_shift.is_some();
    ties && transitions.iter().any(|t| {
        let is_last = !transitions.iter().any(|other| other.phase > t.phase);
        t.swing == Swing::HighToLow
            && !is_last
            && t.turn_on_share() > switching.soft_share
            && switching.verdict(t) != TurnOn::Soft
    })
}

/// A loss at turn-on; below a microwatt there is none.
pub(in crate::report) fn loss(commutation: &Commutation) -> String {
    let loss = commutation.loss;
    quantity(if loss.0 < 1e-6 { Watt(0.0) } else { loss })
}
