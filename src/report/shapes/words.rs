//! What terminal and page both say of measured values.

use std::borrow::Cow;

use crate::population::measurements::MeasuredValue;
use crate::printable;
use crate::report::format::names::capital;
use crate::report::format::numbers::{
    count, counted, decimals, four, given_percent, in_percent, minus, plain, signed, unbroken,
};
use crate::statistics::shapes::NoFit;
use crate::statistics::{FAR_OUT, Interval};
use crate::study::shapes::{
    ColumnCorrelation, ColumnShapes, Estimate, FamilyWithoutFit, Inspection, LEVEL, ShapeFit,
};
use crate::units::engineering;

/// Most values that are named one by one.
const NAMED: usize = 6;

/// Below so many values only gross differences show.
const FEW: usize = 30;

/// Most characters of a column's name that are shown.
const NAME: usize = 40;

/// The beginning of a column's name: it may be as long as the file.
pub(super) fn name(name: &str) -> Cow<'_, str> {
    printable::beginning(name, NAME)
}

/// A value of a column with its unit.
pub(super) fn value(column: &ColumnShapes, value: f64) -> String {
    if column.unit.is_empty() {
        four(value)
    } else {
        unbroken(&minus(&engineering(value, column.unit)))
    }
}

/// The same with ordinary blanks, for files that programs read.
pub(super) fn plain_value(column: &ColumnShapes, x: f64) -> String {
    plain(&value(column, x))
}

/// An interval of a column, with its unit.
pub(super) fn interval(column: &ColumnShapes, estimate: &Estimate) -> String {
    let [lower, upper] =
        [estimate.interval.lower, estimate.interval.upper].map(|x| value(column, x));
    format!("{lower} to {upper}")
}

/// A deviation from nominal with its sign.
pub(super) fn deviation(fraction: f64) -> String {
    format!("{}\u{a0}%", signed(100.0 * fraction, 2))
}

/// How many values a column has.
pub(super) fn counts(column: &ColumnShapes) -> String {
    let values = counted(column.count() as u64, "value");
    match column.empty_rows {
        0 => values,
        empty => format!("{values}, {} without one", counted(empty as u64, "row")),
    }
}

/// The nominal value, and where it comes from.
pub(super) fn nominal(column: &ColumnShapes) -> String {
    let nominal = value(column, column.nominal.value);
    let source = if column.nominal.is_given { "as given" } else { "the median; --nominal sets it" };
    format!("{nominal} ({source})")
}

/// Names in a list: `a`, `a and b`, `a, b and c`.
fn list(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// Where no shape fits, and a scenario takes the values themselves neither.
pub(super) const NOT_DRAWN: &str = "No shape fits, and a scenario does not draw such values.";

/// The answer: which shapes fit, and what follows.
pub(super) fn answer(column: &ColumnShapes) -> String {
    let names: Vec<&str> = column.possible().map(|fit| fit.shape.family().name()).collect();
    let count = count(column.ratios.count() as u64);
    match &names[..] {
        [] if column.not_drawn() > 0 => NOT_DRAWN.to_owned(),
        [] => {
            "No shape fits. Draw the measured values themselves: shape = \"measured\".".to_owned()
        }
        [one] => format!("Only one shape fits: {one}."),
        [closest, ..] => format!(
            "{} fit: {count} values leave them all possible. The closest is {closest}.",
            capital(&list(&names))
        ),
    }
}

/// Where the shapes may fail for a reason of the file.
const CAUSES: &str = "Look at the histogram first. Two lots in one file, parts that were sorted, values \
                      far out or a coarse instrument make every shape fail.";

/// What the user should know before the lines are used.
pub(super) fn warnings(column: &ColumnShapes) -> Vec<String> {
    let mut told = Vec::new();
    if column.not_drawn() > 0 {
        told.push(format!(
            "{} below a third of the nominal value or above three times it, which no part has. Is a digit or a \
             unit wrong, or the nominal value (--nominal)?",
            counted(column.not_drawn() as u64, "value")
        ));
    } else if column.possible().next().is_none() {
        told.push(CAUSES.to_owned());
    }
    if !column.far_out.is_empty() {
        told.push(far_out(column));
    }
    if let Some(inspection) = column.inspection.as_ref().filter(|i| !i.outside.is_empty()) {
        let outside = inspection.outside.len() as u64;
        told.push(format!(
            "{} outside {}, left out of the fits: {}.",
            counted(outside, "value"),
            band(inspection),
            named(column, &inspection.outside)
        ));
    }
    if 2 * column.ratios.distinct() < column.ratios.count() {
        told.push(format!(
            "Only {} of {} values differ: the instrument is coarse. That alone can make a shape fail.",
            count(column.ratios.distinct() as u64),
            count(column.ratios.count() as u64)
        ));
    }
    if let Some(correlation) = column.neighbour_correlation {
        told.push(format!(
            "Neighbouring rows are not independent (correlation {}): lots or drift? Intervals and \
             probabilities take the rows as independent.",
            signed(correlation, 2)
        ));
    }
    if column.ratios.count() < FEW {
        told.push(format!(
            "{} are few: only gross differences show.",
            counted(column.ratios.count() as u64, "value")
        ));
    }
    told
}

fn far_out(column: &ColumnShapes) -> String {
    let count = column.far_out.len() as u64;
    format!(
        "{} far out, more than {FAR_OUT} robust standard deviations from the median: {}. A normal \
         column of this size has {} on average. The fits include them.",
        counted(count, "value"),
        named(column, &column.far_out),
        expected(column.expected_far_out)
    )
}

fn expected(count: f64) -> String {
    if count < 0.01 { "less than 0.01".to_owned() } else { decimals(count, 2) }
}

/// Values with their lines; of many, the first ones.
fn named(column: &ColumnShapes, values: &[MeasuredValue]) -> String {
    let one = |m: &MeasuredValue| format!("{} in line {}", value(column, m.value), m.line);
    let shown: Vec<String> = values.iter().take(NAMED).map(one).collect();
    match values.len().saturating_sub(NAMED) {
        0 => shown.join(", "),
        more => format!("{} and {more} more", shown.join(", ")),
    }
}

/// Whether a shape fits.
pub(super) fn fits(fit: &ShapeFit) -> &'static str {
    if fit.is_possible() { "yes" } else { "no" }
}

/// A probability, with as many digits as the simulation has. Near the level it has more of them, so that
/// the number shown lies on the same side of the level as the verdict.
pub(super) fn probability(p: f64) -> String {
    if p < 0.0015 {
        return "≤\u{a0}0.001".to_owned();
    }
    if p.to_bits() == LEVEL.to_bits() {
        return format!("≤\u{a0}{}", decimals(p, 3));
    }
    let is_on_its_side = |text: &String| {
        text.parse::<f64>().is_ok_and(|shown| (shown > LEVEL) == (p > LEVEL) && shown != LEVEL)
    };
    (3..=15).map(|digits| decimals(p, digits)).find(is_on_its_side).unwrap_or(decimals(p, 3))
}

/// What the table of shapes shows.
pub(super) fn meaning() -> String {
    format!(
        "A²: Anderson–Darling distance, D: Kolmogorov–Smirnov distance. p: share of files from the \
         fitted shape itself that lie as far from their fit. A shape fits where p of A² is above {}.",
        given_percent(LEVEL)
    )
}

/// Why a family has no shape.
pub(super) fn reason(family: FamilyWithoutFit) -> String {
    match family.reason {
        NoFit::NoLimits => "needs the band of an inspection (--band)".to_owned(),
        // Values outside a band of inspection are not fitted.
        NoFit::OutsideLimits => "a value is too far from nominal for a scenario".to_owned(),
        other => other.to_string(),
    }
}

/// That a family has no shape, and why.
pub(super) fn without_fit(family: FamilyWithoutFit) -> String {
    format!("{}: {}", capital(family.family.name()), reason(family))
}

/// The band of an inspection.
fn band(inspection: &Inspection) -> String {
    if let Some(half_width) = inspection.half_width() {
        return format!("±\u{a0}{}", given_percent(half_width));
    }
    let Interval { lower, upper } = inspection.band;
    let signed = |end: f64| format!("{}{}", if end > 0.0 { "+" } else { "" }, given_percent(end));
    format!("{} to {}", signed(lower), signed(upper))
}

/// What an inspection tells of the process, if there is one.
pub(super) fn inspection(column: &ColumnShapes) -> Option<String> {
    let inspection = column.inspection.as_ref()?;
    let capability = inspection.capability.map(|found| {
        let process = match found.cpk_interval {
            Some(Interval { lower, upper }) => format!(
                "(95 % interval {} to {}, for a normal process)",
                decimals(lower, 2),
                decimals(upper, 2)
            ),
            None => "of the normal process before the inspection, as fitted".to_owned(),
        };
        format!("Cp {}, Cpk {} {process}. ", decimals(found.cp, 2), decimals(found.cpk, 2))
    });
    let uniform = column.uniform_over_band.map(|known| {
        let p = known.probabilities.anderson_darling;
        let verdict = if p > LEVEL { "fits" } else { "does not fit" };
        format!("A uniform shape over the whole band {verdict} (p {}).", probability(p))
    });
    let text = capability.unwrap_or_default() + &uniform.unwrap_or_default();
    Some(format!("Band {}: {text}", band(inspection)))
}

/// What is screened out by the band of a shape, where that is more than rounding.
pub(super) fn screened(fit: &ShapeFit) -> Option<String> {
    let share = fit.scatter.screened;
    (share > 1e-4).then(|| format!("The band screens out {} % of the process.", in_percent(share)))
}

/// The names of both sides of a correlation, short where they are parameters.
pub(super) fn names_of(correlation: &ColumnCorrelation) -> [String; 2] {
    match correlation.keys {
        Some(keys) => keys.map(str::to_owned),
        None => correlation.names.each_ref().map(|column| name(column).into_owned()),
    }
}

/// A correlation coefficient.
pub(super) fn coefficient(correlation: &ColumnCorrelation) -> String {
    signed(correlation.found.estimate, 2)
}

/// The interval of a correlation.
pub(super) fn coefficient_interval(correlation: &ColumnCorrelation) -> String {
    let Interval { lower, upper } = correlation.found.interval;
    format!("{} to {}", signed(lower, 2), signed(upper, 2))
}

/// What the correlations of the columns mean.
pub(super) const CORRELATIONS: &str = "Pearson’s correlation over the rows with both values. State it in \
                                       the scenario if both belong to one part. Parts of two files or \
                                       two suppliers have none.";

/// Columns that are not studied, with the reasons.
pub(super) fn left_out(source: &super::MeasurementsSource) -> Option<String> {
    let columns = source.left_out.iter();
    let told: Vec<String> = columns.map(|c| format!("{} ({})", name(&c.name), c.reason)).collect();
    (!told.is_empty()).then(|| format!("Left out: {}.", told.join("; ")))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is shown tells the verdict, which asks whether p is above 0.05.
    #[test]
    fn a_probability_near_the_level_tells_its_side() {
        for (p, shown) in [
            (0.05, "≤\u{a0}0.050"),
            (0.050_4, "0.0504"),
            (0.049_6, "0.0496"),
            (0.050_000_2, "0.0500002"),
            (0.051, "0.051"),
            (0.049, "0.049"),
            (0.25, "0.250"),
            (0.001, "≤\u{a0}0.001"),
        ] {
            assert_eq!(probability(p), shown);
        }
    }
}
