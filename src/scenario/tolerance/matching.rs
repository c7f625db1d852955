//! Parts that are measured, sorted and matched before they go into converters.

use std::ops::Bound;

use super::keys::PartContext;
use crate::converter::{Arrangement, Parameter};
use crate::input::quantity::Ratio;
use crate::scenario::reader::{Bounds, NOT_NEGATIVE, Table};

/// Parts that are sorted together at most.
const MOST_PIECES: u64 = 1000;
/// What the uncertainty of a measurement may be.
const UNCERTAINTY: Bounds = Bounds {
    words: "of zero or more and below 50 %",
    low: Bound::Included(0.0),
    high: Bound::Excluded(0.5),
};
/// Standard uncertainties in an expanded one (JCGM 100:2008, 6.2).
const COVERAGE_FACTOR: f64 = 2.0;

/// How parts of one grade are matched: so many are measured and sorted together, and neighbours go into one
/// converter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Matching {
    /// Parts that are sorted together: from one delivered lot.
    pub pieces: usize,
    /// Cost of measuring and sorting one part, zero or more, in the scenario's currency.
    pub cost: f64,
    /// Standard uncertainty of the measurement, a fraction of the nominal value.
    pub uncertainty: f64,
}

/// Reads `matching`; `Some(None)` where it is left out.
#[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
pub(in crate::scenario) fn read_matching(
    table: &mut Table<'_>,
    parameter: Parameter,
    context: PartContext<'_>,
) -> Option<Option<Matching>> {
    let meaning = "parts of this grade are measured and sorted; neighbours go into one converter";
    let field = table.key("matching", meaning);
    let place = field.key_span();
    let Some(mut own) = field.table().optional("parts are taken as they come")? else {
        return Some(None);
    };
    let pieces = own
        .key("pieces", "parts that are sorted together, all of one lot")
        .integer(&(2..=MOST_PIECES))
        .required();
    let cost = own
        .key("cost", "cost of measuring and sorting one part")
        .number(NOT_NEGATIVE, "0.40")
        .or(0.0);
    let meaning =
        "expanded uncertainty of the measurement (coverage factor 2), of the nominal value";
    let uncertainty = own.key("uncertainty", meaning).quantity::<Ratio>(UNCERTAINTY);
    let uncertainty = uncertainty.or_from(Ratio(0.0), "the measurement is exact");
    own.finish();
    if parameter.index_of_losses().is_some() {
        let message = format!("parts of `{}` cannot be matched", parameter.key());
        table.report_at(place, message, "expected no `matching`: it is for parts of every phase");
        return None;
    }
    let in_converter = parameter.parts(context.size, Arrangement::Chain);
    let (pieces, least) = (pieces?, 2 * in_converter as u64);
    if pieces < least {
        let message = format!("{pieces} parts are too few to be matched");
        table.report_at(
            place,
            message,
            &format!("expected {least} at least: parts of two converters"),
        );
        return None;
    }
    Some(Some(Matching {
        pieces: usize::try_from(pieces).ok()?,
        cost: cost?,
        uncertainty: uncertainty?.0 / COVERAGE_FACTOR,
    }))
}
