//! Which part limits the converter most, or which must be tightened first: told only as far as fresh
//! samples show it.

use super::limits::limited_by;
use super::margins::joined;
use super::names::{listed, varied};
use super::numbers::{short_percent, three_digits, width};
use crate::report::format::names::parameter;
use crate::report::format::numbers::{counted, yield_percent};
use crate::statistics::Verdict;
use crate::study::bands::{
    ArrangementBands, BandOutcome, Bands, CriticalComparison, Variation, WidestBand,
};

/// The most critical part, or those among which it is.
pub(in crate::report) fn critical(part: &ArrangementBands, bands: &Bands) -> Option<String> {
    let row = part.critical()?;
    match &part.comparison {
        // Without another part nothing was compared, and nothing has to be.
        None if part.has_room() => Some(with_room(row, bands)),
        None => None,
        Some(found) if !found.helps() => {
            let open = "not decided. No part alone was shown to raise the yield when it is exact.";
            Some(format!("{} {open}", heading(found, part)))
        }
        Some(found) if !found.is_secured() && found.has_too_few_failures() => Some(format!(
            "{} not decided. Too few fresh samples failed: the parts cannot be compared.",
            heading(found, part)
        )),
        Some(found) if !found.is_secured() => Some(among(found, part)),
        Some(found) => Some(match found.variation {
            Variation::Widened(_) => with_room(row, bands),
            Variation::Exact => first_to_tighten(row, found, part),
        }),
    }
}

fn heading(found: &CriticalComparison, part: &ArrangementBands) -> &'static str {
    match (found.variation, part.verdict) {
        (Variation::Widened(_), _) | (Variation::Exact, Verdict::Pass) => "Most critical band:",
        (Variation::Exact, Verdict::NotDecided) => "Tighten first, if necessary:",
        (Variation::Exact, Verdict::Fail) => "Tighten first:",
    }
}

/// Parts that fresh samples do not tell apart.
fn among(found: &CriticalComparison, part: &ArrangementBands) -> String {
    let parts = std::iter::once(found.candidate).chain(found.not_told_apart());
    format!(
        "{} not decided between {}. Fresh samples do not tell them apart.",
        heading(found, part),
        listed(parts)
    )
}

/// The part that limits bands which pass.
fn with_room(row: &WidestBand, bands: &Bands) -> String {
    let name = varied(row.subject);
    let room = match row.margin() {
        Some(margin) if margin >= 1.0 => {
            format!("Alone it can be {} times as wide.", three_digits(margin))
        }
        _ => format!(
            "The search found {} times its band for it alone. Fresh samples did not confirm it.",
            three_digits(row.room())
        ),
    };
    joined("Most critical band:", [Some(format!("{name}. {room}")), limited_by(bands, row)])
}

/// The part that gains most yield when it is exact.
fn first_to_tighten(
    row: &WidestBand,
    found: &CriticalComparison,
    part: &ArrangementBands,
) -> String {
    let from = found.present.as_ref().map_or_else(String::new, |present| {
        format!(" from {}", yield_percent(present.good.estimate))
    });
    let gain = format!(
        "{}. Made exact, it raises the yield{from} to {}.",
        varied(row.subject),
        yield_percent(found.good.estimate)
    );
    let enough = (part.verdict != Verdict::Pass).then(|| enough_alone(row));
    joined(heading(found, part), [Some(gain), enough])
}

/// Whether it is enough to tighten one part.
fn enough_alone(row: &WidestBand) -> String {
    match row.outcome() {
        BandOutcome::NoneMeets => "This alone is not enough.".into(),
        BandOutcome::Open(_) => "Whether this alone is enough is not decided.".into(),
        BandOutcome::AllMeet(at) | BandOutcome::Confirmed(at) => {
            format!("A band of {} is enough by itself.", width(row, at))
        }
    }
}

/// How the parts were compared; none where they were not.
pub(in crate::report) fn compared(found: &CriticalComparison, bands: &Bands) -> String {
    let variation = match found.variation {
        Variation::Widened(factor) => format!(
            "each band alone {} times as wide, but no wider than [bands] widest. The most critical \
             band passes least",
            three_digits(factor)
        ),
        Variation::Exact => "each part alone made exact. The most critical part passes most, and \
                             more than the present bands do"
            .into(),
    };
    format!(
        "The same fresh samples ({}) for all parts, {variation}. The search proposed {}. McNemar’s \
         exact test compares it with {} at the {} level.",
        found.source,
        parameter(found.candidate).long,
        counted(found.others.len() as u64, "other part"),
        short_percent(bands.rule.shared.get())
    )
}

/// What is meant by the most critical band, and how sure it is.
pub(in crate::report) fn method(bands: &Bands) -> Option<&'static str> {
    let any = bands.parts.iter().any(|part| part.comparison.is_some());
    any.then_some(
        "Most critical: of all bands varied alone in the same way, this one costs the most yield. It is \
         named only where fresh samples tell it from every other part.",
    )
}
