//! Marks in the table of widest bands, and what they mean.

use super::limits::{few, samples_needed};
use super::margins::samples_to_decide;
use super::names::{listed, starting_bands, varied};
use super::numbers::{band_of, width};
use crate::statistics::Verdict;
use crate::study::bands::{ArrangementBands, BandOutcome, Bands, LimitedBy, Subject, WidestBand};

/// Mark of a band that is the widest one tried.
const WIDEST_TRIED: &str = "*";
/// Mark of a band that is narrower than the present one.
const BELOW_PRESENT: &str = "†";

/// Whether a word is a mark: `(N)`, or one of the signs.
pub(in crate::report) fn is_mark(word: &str) -> bool {
    word.starts_with('(') && word.chars().count() == 3
        || [WIDEST_TRIED, BELOW_PRESENT].contains(&word)
}

/// The widest band in a table, with a mark where a remark explains it.
pub(in crate::report) fn widest(part: &ArrangementBands, row: &WidestBand) -> String {
    let band = widest_alone(row);
    match row.outcome() {
        BandOutcome::AllMeet(_) => format!("{band} {WIDEST_TRIED}"),
        BandOutcome::Confirmed(_) if part.is_below_present(row) => {
            format!("{band} {BELOW_PRESENT}")
        }
        _ => band,
    }
}

/// The widest band without a mark.
pub(in crate::report) fn widest_alone(row: &WidestBand) -> String {
    match row.outcome() {
        BandOutcome::NoneMeets => "none".into(),
        BandOutcome::Open(_) => "not decided".into(),
        BandOutcome::AllMeet(at) | BandOutcome::Confirmed(at) => width(row, at),
    }
}

/// The meanings of all marks in the table of an arrangement.
pub(in crate::report) fn remarks(part: &ArrangementBands, bands: &Bands) -> Vec<String> {
    let any = |is: fn(&BandOutcome) -> bool| part.rows.iter().any(|row| is(&row.outcome()));
    let start = starting_bands(bands);
    let mut remarks = Vec::new();
    if any(|outcome| *outcome == BandOutcome::NoneMeets) {
        remarks.push(
            "none: even with this part exact the target is missed. Other bands must shrink."
                .to_owned(),
        );
    }
    remarks.extend(open(part, bands));
    if any(|outcome| matches!(outcome, BandOutcome::AllMeet(_))) {
        remarks.push(format!(
            "{WIDEST_TRIED} the widest band that the scenario asks for ([bands] widest). It meets the \
             target."
        ));
    }
    if part.rows.iter().any(|row| part.is_below_present(row)) {
        remarks.push(format!(
            "{BELOW_PRESENT} less than the {start}, which pass: they remain valid. With few samples the search \
             can stay below them."
        ));
    }
    if part.rows.iter().any(|row| bands.limited_by(row) == Some(LimitedBy::Samples)) {
        remarks.push(few(bands));
        remarks.extend(part.rows.iter().filter_map(|row| samples_needed(bands, row)));
    }
    remarks.extend(both_ends(part, bands));
    remarks.extend(measured(bands));
    remarks
}

/// Both ends of confirmed bands that are unequal: the table gives their half widths.
fn both_ends(part: &ArrangementBands, bands: &Bands) -> Option<String> {
    let unequal = part.rows.iter().filter_map(|row| {
        let Subject::Alone(parameter) = row.subject else { return None };
        let own = bands.present.get(parameter).filter(|own| !own.is_symmetric())?;
        let widest = own.with_band(row.confirmed()?.at);
        Some(format!("{} {}", varied(row.subject), band_of(&widest)))
    });
    let unequal: Vec<String> = unequal.collect();
    (!unequal.is_empty()).then(|| {
        format!(
            "Unequal bands are told by their half widths here. Both ends of the widest: {}.",
            unequal.join("; ")
        )
    })
}

/// The parts that no row is about, because they are measured.
fn measured(bands: &Bands) -> Option<String> {
    let names = listed(bands.measured());
    (!names.is_empty())
        .then(|| format!("Measured parts cannot be ordered with another band: {names}."))
}

/// What is open, and how many samples may decide it.
fn open(part: &ArrangementBands, bands: &Bands) -> Option<String> {
    let is_open = |row: &&WidestBand| matches!(row.outcome(), BandOutcome::Open(_));
    let open: Vec<_> = part.rows.iter().filter(is_open).collect();
    if open.is_empty() {
        return None;
    }
    let valid = match part.verdict {
        Verdict::Pass => format!(" The {} pass and remain valid.", starting_bands(bands)),
        Verdict::NotDecided | Verdict::Fail => String::new(),
    };
    let samples = samples_to_decide(&open, bands);
    Some(format!("not decided: fresh samples confirmed no band. {samples}{valid}"))
}
