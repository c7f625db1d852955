//! What is said of soft switching in one case, cell by cell.

use crate::report::format::numbers::{NONE, percent, quantity, three_down, three_up};
use crate::study::check::{DeadTimeWindow, DeadTimes, LargestMagnetising, NominalSwitching};
use crate::units::Second;

/// The dead times that do.
pub(super) fn window(times: &DeadTimes) -> String {
    times.window.map_or_else(
        || format!("none up to {}", quantity(times.longest_tried)),
        |window| range(window, times.longest_tried),
    )
}

/// A range of dead times; open where the longest that was tried does.
pub(super) fn range(window: DeadTimeWindow, longest_tried: Second) -> String {
    let shortest = three_up(1e9 * window.shortest.0);
    let longest = |time: Second| three_down(1e9 * time.0);
    match window.longest {
        Some(own) => format!("{shortest} to {}\u{a0}ns", longest(own)),
        None => format!("{shortest} to ≥\u{a0}{}\u{a0}ns", longest(longest_tried)),
    }
}

/// How the scenario's dead time lies to them.
pub(super) fn judged(times: &DeadTimes, now: Second) -> &'static str {
    match times.window {
        None => "never soft",
        Some(_) if times.holds(now) => "fits",
        Some(window) if now < window.shortest => "too short",
        Some(DeadTimeWindow { longest: None, .. }) => "not tried",
        Some(_) => "too long",
    }
}

/// The largest magnetising inductance that does.
pub(super) fn magnetising(switching: &NominalSwitching) -> String {
    match switching.magnetising.largest {
        LargestMagnetising::Limit(largest) => quantity(largest),
        LargestMagnetising::AtLeast(largest) => format!("≥\u{a0}{}", quantity(largest)),
        LargestMagnetising::NoneBetween(least, _) => format!("<\u{a0}{}", quantity(least)),
    }
}

/// By how much the dead time shifts the sharing error, about.
pub(super) fn sharing_shift(switching: &NominalSwitching) -> String {
    switching.now.sharing_shift.map_or_else(
        || NONE.into(),
        |[from, to]| format!("{} to {}", percent(from).replace("\u{a0}%", ""), percent(to)),
    )
}
