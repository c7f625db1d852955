//! What is said of soft switching, for all media.

use crate::report::format::commutation::words::high_switches;
use crate::report::format::numbers::{given_percent, percent, quantity, three, yield_percent};
use crate::scenario::Scenario;
use crate::statistics::Yield;
use crate::study::common::high_intervals::ShortHighIntervals;
use crate::study::common::soft_switching::SharingShift;
use crate::study::explanation::{
    PopulationDeadTimes, PopulationLargest, PopulationMagnetising, SwitchingSearch,
};
use crate::units::Second;

/// A dead time in nanoseconds.
pub(super) fn nano(time: Second) -> String {
    three(1e9 * time.0)
}

/// A share of converters with its interval.
pub(super) fn share(share: &Yield) -> String {
    format!(
        "{} ({} to {})",
        yield_percent(share.estimate),
        yield_percent(share.lower),
        yield_percent(share.upper)
    )
}

/// That the dead time shifts sharing.
pub(super) fn shift(shift: &SharingShift) -> String {
    let [from, to] = shift.shift.map(percent);
    format!(
        "The dead time shifts sharing at “{}” by about {from} to {to} of the phase current, in few chains by \
         up to five times that. The yield leaves it out.",
        shift.operating_point
    )
}

/// That the timing shortens high intervals.
pub(super) fn short_high_intervals(own: &ShortHighIntervals) -> String {
    format!(
        "In half bridge the timing makes each high interval a dead time shorter, which results leave out. {}",
        high_switches(&own.operating_point, own.currents)
    )
}

/// What the windows and inductances hold for.
pub(super) fn rule(scenario: &Scenario, search: &SwitchingSearch) -> String {
    let limits = &scenario.limits;
    let step = |n: usize| {
        search.arrangements.get(n).map_or_else(String::new, |own| nano(own.dead_times.step()))
    };
    search.samples.map_or_else(
        || {
            format!(
                "Too few samples to search dead times: {} are needed.",
                crate::report::format::numbers::count(search.needed)
            )
        },
        |samples| {
            format!(
                "Ranges and inductances: with them {} of all converters switch softly at all operating \
                 points ({} confidence each). {} other samples chose where to look; {} were counted. Dead times were tried in steps of {}\u{a0}ns \
                 (chain) and {}\u{a0}ns.",
                given_percent(limits.yield_target),
                given_percent(limits.confidence),
                samples.pilot,
                crate::report::format::numbers::count(samples.counted),
                step(0),
                step(1)
            )
        },
    )
}

/// The dead times at which the target share switches softly.
pub(super) fn window(times: &PopulationDeadTimes) -> String {
    match times.ends() {
        None => "not shown of any".to_owned(),
        Some([shortest, longest]) if times.is_open() => {
            format!("{} to ≥\u{a0}{}\u{a0}ns", nano(shortest), nano(longest))
        }
        Some([shortest, longest]) => format!("{} to {}\u{a0}ns", nano(shortest), nano(longest)),
    }
}

/// How a dead time lies to them. All samples of the run tell whether it fits, more than tell the range; `soft`
/// is the share of them.
pub(super) fn judged(
    times: &PopulationDeadTimes,
    now: Second,
    soft: &Yield,
    target: f64,
) -> &'static str {
    match times.ends() {
        _ if soft.lower >= target => {
            if times.holds(now) {
                "fits"
            } else {
                "fits by all samples"
            }
        }
        None => "not shown",
        Some(_) if times.holds(now) => "fits",
        Some([shortest, _]) if now < shortest => "too short",
        Some(_) if times.is_open() => "not tried",
        Some(_) => "too long",
    }
}

/// A largest magnetising inductance.
pub(super) fn largest(largest: PopulationLargest) -> String {
    match largest {
        PopulationLargest::Limit(value) => quantity(value),
        PopulationLargest::AtLeast(value) => format!("≥\u{a0}{}", quantity(value)),
        PopulationLargest::NotShown => "not shown".to_owned(),
    }
}

/// What the tolerances cost: the largest nominal inductance with them, over that of nominal parts.
pub(super) fn price(found: &PopulationMagnetising) -> Option<String> {
    let (PopulationLargest::Limit(nominal), PopulationLargest::Limit(population)) =
        (found.nominal, found.population)
    else {
        return None;
    };
    Some(percent(1.0 - population.0 / nominal.0))
}
