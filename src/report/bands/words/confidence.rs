//! How sure the answers are: what is said in Methods.

use super::numbers::short_percent;
use crate::report::format::numbers::{level, samples};
use crate::study::bands::Bands;
use crate::study::bands::rule::{VERIFICATION_FACTOR, VERIFICATIONS};

/// The three outcomes.
pub(in crate::report) fn outcomes(bands: &Bands) -> String {
    let map = bands.map.as_ref().map_or_else(String::new, |_| {
        format!(" On the map it is the {} interval.", short_percent(bands.rule.map.get()))
    });
    format!(
        "Meets: the lower end of the yield’s {} interval meets the target. Misses: the upper end \
         is below it. Not decided: the target is inside the interval, and more samples may decide.{map}",
        short_percent(bands.rule.shared.get())
    )
}

/// What confirms a band.
pub(in crate::report) fn confirmed(bands: &Bands) -> String {
    format!(
        "Confirmed: the band meets the target in a verification run of {}, which the search did \
         not use. At most {VERIFICATIONS} such runs are made for a row. Together they keep the {} \
         confidence of the scenario.",
        samples(VERIFICATION_FACTOR * bands.settings.samples).replace("samples", "fresh samples"),
        level(bands.rule.plain)
    )
}

/// How sure the statements are: the bands to specify, one by one, all at once.
pub(in crate::report) fn statements(bands: &Bands) -> String {
    let (error, together) = (bands.error_each(), bands.confidence_together());
    let specified = bands.proposal().map_or_else(String::new, |_| {
        let confidence = short_percent(bands.confidence_of_each());
        format!("The bands to specify hold with {confidence} confidence. ")
    });
    let count = match bands.statements() {
        1 => "1 statement".into(),
        n => format!("{n} statements"),
    };
    let together = if together > 0.0 {
        format!("All of them together hold with at least {} confidence.", short_percent(together))
    } else {
        "Nothing is claimed for all of them at once.".into()
    };
    let apart = bands
        .other_assumptions
        .as_ref()
        .map_or("", |_| " Verdicts under other assumptions are not counted here.");
    format!(
        "{specified}This report makes {count}. Each of them alone is wrong in at most {} of such \
         searches. {together} All of this holds for one search, not for the best of several. The \
         errors of several add.{apart}",
        short_percent(error)
    )
}

/// That each row is a statement by itself, and what to do for two bands at once.
pub(in crate::report) fn single_rows(bands: &Bands) -> String {
    let two = match (bands.proposal().is_some(), bands.map.is_some()) {
        (true, true) => "To widen two bands at once, use the whole set or a pair from the map.",
        (true, false) => "To widen two bands at once, use the whole set.",
        (false, true) => "To widen two bands at once, use a pair from the map.",
        (false, false) => "It does not hold for two bands widened at once.",
    };
    format!("Each row is a separate statement. {two}")
}
