//! The recommended set under other assumptions.

use super::numbers::short_percent;
use crate::report::format::numbers::{count, level};
use crate::report::format::what_if::words::{MEANING, sentence};
use crate::study::bands::{Bands, OtherAssumptions};

/// What changes the verdict of the recommended set, beside it; none where nothing was tried.
pub(in crate::report) fn beside_set(bands: &Bands) -> Option<String> {
    let found = bands.other_assumptions.as_ref()?;
    let subject = match bands.proposal() {
        Some(_) => "The verdict of the set",
        None => "The verdict of the present bands",
    };
    Some(sentence(subject, &found.what_if))
}

/// Heading of the table of assumptions.
pub(in crate::report) fn heading(bands: &Bands) -> &'static str {
    if bands.proposal().is_some() {
        "The bands to specify under other assumptions, each changed alone"
    } else {
        "The present bands under other assumptions, each changed alone"
    }
}

/// Why there is no table; none where there is one, or where the search did not come so far.
pub(in crate::report) fn nothing(bands: &Bands) -> Option<&'static str> {
    let is_asked = bands.is_explained && !bands.is_partial();
    (is_asked && bands.other_assumptions.is_none()).then(|| {
        if bands.recommended().is_none() {
            "Other assumptions were not tried: no set is recommended."
        } else {
            "Other assumptions were not tried: nothing scatters, or the samples are too few."
        }
    })
}

/// On which samples, and how sure it is.
pub(in crate::report) fn method(bands: &Bands, found: &OtherAssumptions) -> String {
    format!(
        "The same {} fresh samples ({}) for all assumptions. As assumed, {} of them pass. Each interval ({}) holds by itself, so that \
         each verdict is wrong in at most {} of such searches. Methods does not count these verdicts among its \
         statements. Not decided: so few samples do not tell; more may (--samples). {MEANING}",
        count(found.samples),
        found.source,
        count(found.passing),
        level(bands.rule.plain),
        short_percent(bands.error_each()),
    )
}
