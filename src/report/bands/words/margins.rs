//! What an arrangement comes to: its margin, and violations of the trend.

use super::limits::limited_by;
use super::names::{exact_parts, listed, starting_bands, varied};
use super::numbers::{three_digits, width};
use crate::report::format::numbers::count;
use crate::statistics::Verdict;
use crate::study::bands::{ArrangementBands, BandOutcome, Bands, Subject, WidestBand};

/// The margin of the present bands: how wide all bands together can be.
pub(in crate::report) fn margin(part: &ArrangementBands, bands: &Bands) -> Option<String> {
    let row = part.row(Subject::Together)?;
    let (start, exact) = (starting_bands(bands), exact_parts(bands));
    let margin = match (row.outcome(), part.verdict) {
        (BandOutcome::NoneMeets, Verdict::Pass) => {
            format!("not found. The {start} pass, but {exact} miss the target.")
        }
        (BandOutcome::NoneMeets, _) => {
            format!("none. Even {exact} miss the target, so that no bands help.")
        }
        (BandOutcome::Open(None), _) => {
            format!("not decided, not even for {exact}. {}", samples_to_decide(&[row], bands))
        }
        (BandOutcome::Open(Some(found)), _) => format!(
            "not decided. The search found a common factor of {} for all bands. Fresh samples did not \
             confirm it. {}",
            three_digits(found),
            samples_to_decide(&[row], bands)
        ),
        (BandOutcome::AllMeet(_), _) => {
            "all bands together can be as wide as the scenario asks for.".into()
        }
        (BandOutcome::Confirmed(at), _) if at <= 0.0 => {
            format!("none. Only {exact} were shown to meet the target.")
        }
        (BandOutcome::Confirmed(at), verdict) => confirmed_margin(at, verdict, bands),
    };
    let limit = match row.outcome() {
        BandOutcome::AllMeet(_) | BandOutcome::Confirmed(_) => limited_by(bands, row),
        BandOutcome::NoneMeets | BandOutcome::Open(_) => None,
    };
    Some(joined("Margin:", [Some(margin), limit]))
}

/// The margin where fresh samples confirm a factor.
fn confirmed_margin(at: f64, verdict: Verdict, bands: &Bands) -> String {
    let (start, times) = (starting_bands(bands), three_digits(at));
    match verdict {
        _ if at >= 1.0 => {
            let clipped = clipped(bands, at).map_or_else(String::new, |names| format!(" {names}"));
            format!("all bands together can be {times} times as wide.{clipped}")
        }
        Verdict::Pass => format!(
            "not shown by so many samples. The {start} pass. Fresh samples confirm all bands \
             together at {times} times their width."
        ),
        Verdict::NotDecided => format!(
            "not decided for the {start}. Fresh samples confirm all \
             bands together at {times} times their width."
        ),
        Verdict::Fail => {
            format!("none. All bands together must shrink to {times} times their width.")
        }
    }
}

/// How many samples may decide what is open, by the yields seen so far.
pub(super) fn samples_to_decide(open: &[&WidestBand], bands: &Bands) -> String {
    bands.samples_to_decide(open).map_or_else(
        || "The yield is too close to the target for any reasonable number of samples.".into(),
        |samples| {
            format!(
                "About {} samples may decide it (--samples, with another --seed).",
                count(samples)
            )
        },
    )
}

/// The parts that a common factor leaves at the widest band asked for.
pub(super) fn clipped(bands: &Bands, factor: f64) -> Option<String> {
    let clipped = bands.clipped(factor);
    (!clipped.is_empty()).then(|| format!("Kept at [bands] widest: {}.", listed(clipped)))
}

/// Where the trend was seen to be violated, one text a row.
pub(in crate::report) fn violations(part: &ArrangementBands) -> Vec<String> {
    part.rows.iter().filter_map(violation).collect()
}

fn violation(row: &WidestBand) -> Option<String> {
    let violations = row.search.violations();
    let (narrow, wide) = violations.first()?;
    let more = match violations.len() {
        1 => String::new(),
        2 => " (and at 1 more place)".into(),
        n => format!(" (and at {} more places)", n - 1),
    };
    let given = match row.search.widest() {
        Some(_) => "The band given is below the narrowest one that failed.",
        None => "No band is given, because the narrowest one fails.",
    };
    Some(format!(
        "The trend is violated for {}: in the search more samples pass at {} than at {}{more}. {given}",
        varied(row.subject),
        width(row, *wide),
        width(row, *narrow)
    ))
}

/// Sentences after their heading.
pub(super) fn joined(heading: &str, sentences: [Option<String>; 2]) -> String {
    let sentences = sentences.into_iter().flatten();
    std::iter::once(heading.to_owned()).chain(sentences).collect::<Vec<_>>().join(" ")
}
