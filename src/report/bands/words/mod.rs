//! Words that terminal and page have in common.

use crate::report::format::numbers::percent;
use crate::statistics::Verdict;
use crate::study::bands::map;
use crate::study::bands::verification::rounded_down;
use crate::study::bands::{ArrangementBands, BandOutcome, Bands, BandsStep, Subject, WidestBand};
use crate::study::common::demand::Binding;
use crate::study::common::figures::Figure;

mod cheapest;
mod drawing;
mod part;

pub(in crate::report) use self::cheapest::{ending, others};
pub(in crate::report) use self::drawing::{
    banded, exact, exact_parts, on_offer, pair, proposal, proposed, source, sureness, unlisted,
};
pub(in crate::report) use self::part::{critical, remarks, together, violations};

/// More samples than anybody waits for.
const MANY: u64 = 10_000_000;

/// What is varied.
pub(in crate::report) fn subject(subject: Subject) -> String {
    match subject {
        Subject::Together => "all bands together".into(),
        Subject::Alone(parameter) => parameter.key().replace('_', " "),
    }
}

/// A place of a row: a band, or a factor.
pub(in crate::report) fn place(row: &WidestBand, at: f64) -> String {
    match row.subject {
        Subject::Together => factor(at),
        Subject::Alone(_) => band(at),
    }
}

/// What all but the cheapest set starts from.
pub(in crate::report) fn start(bands: &Bands) -> &'static str {
    if bands.on_offer { "set on offer" } else { "present bands" }
}

/// What an interval says about the target.
pub(in crate::report) fn outcome(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Pass => "meets",
        Verdict::NotDecided => "open",
        Verdict::Fail => "misses",
    }
}

/// A factor on bands, three digits.
pub(in crate::report) fn factor(at: f64) -> String {
    format!("× {}", times(at))
}

/// A factor alone, with three digits: those with which it was proven.
pub(in crate::report) fn times(at: f64) -> String {
    let decimals = [100.0, 10.0, 1.0, 0.1, 0.01].iter().filter(|bound| at < **bound).count();
    format!("{at:.decimals$}")
}

/// A band in percent, never wider than it is.
pub(in crate::report) fn band(at: f64) -> String {
    if at > 0.0 { percent(rounded_down(at)) } else { "0 %".into() }
}

/// Whether a row stays below present bands that were shown to meet the target.
fn is_short(part: &ArrangementBands, row: &WidestBand) -> bool {
    part.verdict == Verdict::Pass && row.margin().is_some_and(|margin| margin < 1.0)
}

/// The widest band in a table, with a mark where a remark explains it.
pub(in crate::report) fn widest(part: &ArrangementBands, row: &WidestBand) -> String {
    match row.outcome() {
        BandOutcome::NoneMeets => "none (a)".into(),
        BandOutcome::Open(_) => "open (b)".into(),
        BandOutcome::AllMeet(at) => format!("{} (c)", place(row, at)),
        BandOutcome::Confirmed(at) if is_short(part, row) => format!("{} (d)", place(row, at)),
        BandOutcome::Confirmed(at) => place(row, at),
    }
}

/// A confidence level, or an error: two decimals at most.
pub(in crate::report) fn level(x: f64) -> String {
    format!("{} %", (1e4 * x).round() / 100.0)
}

/// The limit that is missed, in a word or two.
pub(in crate::report) fn limit(binding: &Binding) -> String {
    match binding.demand.figure {
        None => "frequency band".into(),
        Some(Figure::SharingError(_)) => "sharing error".into(),
        Some(Figure::WorstSwitchRms) => "switch RMS".into(),
        Some(Figure::WorstSwitchPeak) => "switch peak".into(),
        Some(Figure::WorstBlocking) => "blocking".into(),
        Some(figure) => figure.name().replace('_', " "),
    }
}

/// What the fresh samples say of a point of the map.
pub(in crate::report) fn point(verdict: map::CellVerdict) -> &'static str {
    match verdict {
        map::CellVerdict::Meets => "meets",
        map::CellVerdict::Open => "open",
        map::CellVerdict::Misses => "misses",
    }
}

/// What a search that was stopped had still to do. Its last step is lost, however far it was.
pub(in crate::report) fn unfinished(bands: &Bands) -> String {
    let mut names = bands.unfinished.iter().map(|step| self::step(*step));
    let lost = names.next().unwrap_or_default();
    let rest: Vec<_> = names.collect();
    let rest =
        if rest.is_empty() { String::new() } else { format!(" Not begun: {}.", rest.join("; ")) };
    format!("Interrupted: these results are partial. Broken off and lost: {lost}.{rest}")
}

fn step(step: BandsStep) -> String {
    match step {
        BandsStep::Present(a) => format!("present bands, {}", a.name()),
        BandsStep::Widest(a, s) => format!("{}, {}", subject(s), a.name()),
        BandsStep::Cheapest => "the cheapest set".into(),
        BandsStep::Trade => "the trade between two bands".into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_proven_factor_is_written_with_all_its_digits() {
        for (at, written) in [
            (0.655, "0.655"),
            (1.5, "1.50"),
            (0.008_37, "0.00837"),
            (0.0456, "0.0456"),
            (12.3, "12.3"),
            (123.0, "123"),
        ] {
            assert_eq!(times(rounded_down(at)), written);
        }
    }

    #[test]
    fn a_band_is_never_written_wider_than_it_is() {
        // 15 % × 1.67: to the nearest tenth it would be 25.1 %.
        for (at, written) in [(0.250_5, "25.0 %"), (0.006_126, "0.612 %"), (0.075, "7.50 %")] {
            assert_eq!(band(at).replace('\u{a0}', " "), written);
        }
    }
}
