//! A tolerance as every medium writes it: what a summary holds of it, and how a person reads it.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Serialize;

use super::names;
use super::numbers::{decimals, given_percent, minus, percent};
use crate::converter::Parameter;
use crate::scenario::{Correlation, MeasuredParts, Process, Shape, Tolerance, Tolerances};
use crate::statistics::Moments;

/// How one parameter scatters about its nominal value. Fractions are of the nominal value; those of a
/// sensor's offset are in ampere.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(in crate::report) struct ToleranceInForce {
    /// `uniform`, `normal`, `triangular`, `lognormal`, `beta` or `measured`.
    shape: &'static str,
    /// Half width of the band in standard deviations, of a normal shape; null for others.
    sigmas: Option<f64>,
    /// Half width of the band: a fraction of the nominal value, or, of a sensor's offset, in ampere.
    band: f64,
    /// Lower end of the band.
    lower: f64,
    /// Upper end of the band.
    upper: f64,
    /// Mean of the process before parts are screened out; null where the scenario states no process.
    mean: Option<f64>,
    /// Standard deviation of that process; null as the mean.
    sigma: Option<f64>,
    /// Likeliest value of a triangular shape; null for others.
    mode: Option<f64>,
    /// Exponent of a beta shape at the lower end; null for others.
    alpha: Option<f64>,
    /// Exponent of a beta shape at the upper end; null for others.
    beta: Option<f64>,
    /// What was measured; null for other shapes.
    measured: Option<MeasuredInForce>,
    /// Share of the parts that lies outside the band and is screened out; null where the scenario
    /// states no process and no measured parts with a band.
    screened: Option<f64>,
    /// Parts to buy for each part used: 1/(1 − screened); null as `screened`.
    bought_per_used: Option<f64>,
    /// Share of the variance that the phases of one converter have in common, from 0 to 1.
    lot_share: f64,
}

/// Measured parts that are drawn from.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
struct MeasuredInForce {
    /// The file, as the scenario names it.
    file: String,
    /// Its column.
    column: String,
    /// How the file was read, if not in its plain form.
    read_as: Option<String>,
    /// Parts inside the band.
    parts: usize,
    /// Their mean; null without parts.
    mean: Option<f64>,
    /// Standard deviation of the process that they come from; null below two parts.
    sigma: Option<f64>,
}

/// Tolerances by the keys of their parameters; parameters without one are left out.
pub(in crate::report) type TolerancesInForce = BTreeMap<&'static str, ToleranceInForce>;

impl ToleranceInForce {
    pub(in crate::report) fn new(tolerance: &Tolerance) -> Self {
        let [lower, upper] = tolerance.ends();
        let process = stated_process(tolerance);
        let exponents = match tolerance.shape {
            Shape::Beta { alpha, beta } => Some([alpha, beta]),
            _ => None,
        };
        let measured = match &tolerance.shape {
            Shape::Measured(parts) => Some(MeasuredInForce::new(tolerance, parts)),
            _ => None,
        };
        Self {
            shape: tolerance.shape.name(),
            sigmas: sigmas(&tolerance.shape),
            band: tolerance.band,
            lower,
            upper,
            mean: process.map(|process| process.mean),
            sigma: process.map(|process| process.sigma),
            mode: mode(tolerance),
            alpha: exponents.map(|[alpha, _]| alpha),
            beta: exponents.map(|[_, beta]| beta),
            measured,
            screened: tolerance.screened,
            bought_per_used: tolerance.screened.map(|_| tolerance.bought_per_used()),
            lot_share: tolerance.lot_share,
        }
    }

    /// All tolerances of a set.
    pub(in crate::report) fn all(tolerances: &Tolerances) -> TolerancesInForce {
        tolerances.iter().map(|(parameter, t)| (parameter.key(), Self::new(t))).collect()
    }
}

impl MeasuredInForce {
    fn new(tolerance: &Tolerance, parts: &MeasuredParts) -> Self {
        let moments: Moments = parts.values.iter().collect();
        Self {
            file: parts.file.clone(),
            column: parts.column.clone(),
            read_as: parts.read_as.clone(),
            parts: parts.values.len(),
            mean: moments.mean().map(|mean| tolerance.middle + tolerance.band * mean),
            sigma: moments.sd().map(|sigma| tolerance.band * sigma),
        }
    }
}

/// The process, where the scenario states one.
fn stated_process(tolerance: &Tolerance) -> Option<Process> {
    tolerance.screened.and_then(|_| tolerance.process())
}

/// Half width of the band in standard deviations, of a normal shape.
fn sigmas(shape: &Shape) -> Option<f64> {
    match shape {
        Shape::Normal { sigmas, .. } => Some(*sigmas),
        _ => None,
    }
}

/// Likeliest value of a triangular shape.
fn mode(tolerance: &Tolerance) -> Option<f64> {
    match tolerance.shape {
        Shape::Triangular { mode } => Some(tolerance.middle + tolerance.band * mode),
        _ => None,
    }
}

/// The half width of a band: `± 5 %`.
pub(in crate::report) fn band(band: f64) -> String {
    format!("±\u{a0}{}", given_percent(band))
}

/// The band of a tolerance: `± 5 %`, or `−3 % to +8 %`.
pub(in crate::report) fn band_of(tolerance: &Tolerance) -> String {
    if tolerance.is_symmetric() {
        return band(tolerance.band);
    }
    both_ends(tolerance.ends())
}

/// The ends of a band: `−3 % to +8 %`.
pub(in crate::report) fn both_ends([low, high]: [f64; 2]) -> String {
    format!("{} to {}", signed(low), signed(high))
}

/// A percentage as typed, with its sign.
pub(in crate::report) fn signed(fraction: f64) -> String {
    // Middle and half width give an end but for the last digits.
    let shown = given_percent((fraction * 1e9).round() * 1e-9);
    if fraction > 0.0 { format!("+{shown}") } else { shown }
}

/// The shape: `normal, band at 3 σ`.
pub(in crate::report) fn shape(tolerance: &Tolerance) -> String {
    let name = tolerance.shape.name();
    match (&tolerance.shape, stated_process(tolerance)) {
        (_, Some(Process { mean, sigma })) => {
            format!("{name}, mean {}, σ\u{a0}{}", signed(mean), percent(sigma))
        }
        (Shape::Normal { sigmas, .. }, None) => format!("{name}, band at {sigmas}\u{a0}σ"),
        (Shape::Triangular { mode }, None) if *mode != 0.0 => {
            format!("{name}, mode {}", signed(tolerance.middle + tolerance.band * mode))
        }
        (Shape::Beta { alpha, beta }, None) => {
            format!("{name}, α\u{a0}{alpha}, β\u{a0}{beta}")
        }
        (Shape::Measured(parts), None) => format!("{name}, {} parts", parts.values.len()),
        _ => name.to_owned(),
    }
}

/// The whole tolerance: `± 5 %, normal, band at 3 σ, lot share 50 %`.
pub(in crate::report) fn tolerance(tolerance: &Tolerance) -> String {
    with_band(tolerance, &band_of(tolerance))
}

/// The whole tolerance with its band as the caller writes it, where that is no fraction.
pub(in crate::report) fn with_band(tolerance: &Tolerance, band: &str) -> String {
    let lot = match tolerance.lot_share {
        share if share > 0.0 => format!(", lot share {}", given_percent(share)),
        _ => String::new(),
    };
    let screened = tolerance.screened.filter(|share| *share > 0.0);
    let screened = screened.map(|share| format!(", {} screened out", percent(share)));
    format!("{band}, {}{lot}{}", shape(tolerance), screened.unwrap_or_default())
}

/// What is screened out and what that costs, a line a parameter.
pub(in crate::report) fn screened(tolerances: &Tolerances) -> Vec<String> {
    let line = |(parameter, tolerance): (_, &Tolerance)| {
        let share = tolerance.screened?;
        Some(format!(
            "{}: {} screened out, {} bought per part used",
            names::parameter(parameter).long,
            percent(share),
            decimals(tolerance.bought_per_used(), 3),
        ))
    };
    tolerances.iter().filter_map(line).collect()
}

/// What is screened out or drawn from measured parts, as lines of a terminal; empty where nothing is.
pub(in crate::report) fn screening(tolerances: &Tolerances) -> String {
    let lines: Vec<String> =
        screened(tolerances).into_iter().map(|line| format!("  {line}\n")).collect();
    if lines.is_empty() {
        String::new()
    } else {
        format!("At incoming inspection:\n{}", lines.concat())
    }
}

/// Whether the parameters vary together.
pub(in crate::report) fn dependence(tolerances: &Tolerances) -> String {
    let correlations = tolerances.correlations();
    if correlations.is_empty() {
        return "The parameters scatter independently of each other.".to_owned();
    }
    let pairs = correlations.iter().map(|correlation| {
        let [first, second] = correlation.between.map(|p| names::parameter(p).long);
        let across = correlation.across.map_or_else(String::new, |across| {
            format!(" ({} between different phases)", minus(&across.to_string()))
        });
        format!("{first} and {second} {}{across}", minus(&correlation.coefficient.to_string()))
    });
    let pairs: Vec<String> = pairs.collect();
    format!(
        "Correlation coefficients of the values in one phase: {}. All other parameters scatter \
         independently of each other.",
        pairs.join("; ")
    )
}

/// What a summary holds of a correlation.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(in crate::report) struct CorrelationInForce {
    /// Keys of the two parameters.
    between: [&'static str; 2],
    /// Pearson's correlation of their values in one phase.
    coefficient: f64,
    /// Pearson's correlation of their values in two different phases of one converter; null where
    /// it follows from the lot shares.
    coefficient_across: Option<f64>,
}

impl CorrelationInForce {
    /// All correlations of a set of tolerances.
    pub(in crate::report) fn all(tolerances: &Tolerances) -> Vec<Self> {
        let one = |correlation: &Correlation| Self {
            between: correlation.between.map(Parameter::key),
            coefficient: correlation.coefficient,
            coefficient_across: correlation.across,
        };
        tolerances.correlations().iter().map(one).collect()
    }
}

/// What the terms of these tolerances mean, beyond symmetric bands of the plain shapes.
pub(in crate::report) fn notes(tolerances: &Tolerances) -> Vec<String> {
    let any = |is: fn(&Tolerance) -> bool| tolerances.iter().any(|(_, own)| is(own));
    let unequal = any(|own| !own.is_symmetric());
    let beside = any(|own| own.anchor() != 0.0);
    let process = any(|own| own.screened.is_some() && own.process().is_some());
    let notes = [
        (
            unequal,
            "A wider band multiplies the deviations of all parts from the nominal value, and so both ends of an unequal band.",
        ),
        (
            beside,
            "A band that does not hold the nominal value gets wider or narrower from its end nearest to that value. Such a part is exact at that end.",
        ),
        (
            process,
            "Mean and standard deviation σ are those of the process. Parts outside the band are screened out.",
        ),
        (
            any(|own| matches!(own.shape, Shape::Lognormal { .. })),
            "Lognormal: the logarithm of the part's value is normal.",
        ),
        (
            any(|own| matches!(own.shape, Shape::Beta { .. })),
            "Beta: density x^(α − 1) (1 − x)^(β − 1), with x from 0 to 1 along the band.",
        ),
    ];
    let terms = notes.into_iter().filter(|(is_so, _)| *is_so).map(|(_, note)| note.to_owned());
    terms.chain(measured(tolerances)).collect()
}

/// What is drawn from measured parts, and how their files were read: a sentence or two a parameter.
fn measured(tolerances: &Tolerances) -> impl Iterator<Item = String> {
    tolerances.iter().filter_map(|(parameter, own)| {
        let Shape::Measured(parts) = &own.shape else { return None };
        let MeasuredParts { file, column, values, read_as } = &**parts;
        let read = read_as.as_ref().map(|how| format!(" The file was read {how}."));
        Some(format!(
            "The {} is drawn from {} measured parts as they are: column {column} of {file}.{}",
            names::parameter(parameter).long,
            values.len(),
            read.unwrap_or_default(),
        ))
    })
}

/// What to add to “of all converters” where that looks at measured parts and not beyond their files.
pub(in crate::report) fn with_measured_parts(tolerances: &Tolerances) -> &'static str {
    let is_any = tolerances.iter().any(|(_, own)| own.is_measured());
    if is_any { " with these measured parts" } else { "" }
}

/// What verdicts and intervals hold for, where measured parts are drawn and nothing looks beyond their
/// files; none without measured parts.
pub(in crate::report) fn measured_parts_alone<'a>(
    tolerances: impl Iterator<Item = &'a Tolerance>,
) -> Option<String> {
    let mut files: Vec<&str> = Vec::new();
    for own in tolerances {
        if let Shape::Measured(parts) = &own.shape
            && !files.contains(&parts.file.as_str())
        {
            files.push(&parts.file);
        }
    }
    (!files.is_empty()).then(|| {
        format!(
            "Verdicts and intervals hold for the measured parts in {} alone. The verb run tells what \
             they say of the whole production.",
            files.join(" and ")
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(own: &Tolerance) -> String {
        tolerance(own).replace('\u{a0}', " ")
    }

    #[test]
    fn a_normal_shape_says_where_its_band_lies() {
        let normal = Tolerance { lot_share: 0.5, ..Tolerance::new(Shape::normal(2.5), 0.05) };
        assert_eq!(shown(&normal), "± 5 %, normal, band at 2.5 σ, lot share 50 %");
        let uniform = Tolerance::new(Shape::Uniform, 0.05);
        assert_eq!(shown(&uniform), "± 5 %, uniform");
        let known = |t| serde_json::to_value(ToleranceInForce::new(t)).unwrap();
        assert_eq!(known(&normal)["sigmas"], 2.5);
        assert!(known(&uniform)["sigmas"].is_null() && known(&normal)["screened"].is_null());
    }

    /// By hand: a process of mean +1 % and σ 2 % on −3 % to +8 %: middle 2.5 %, half width 5.5 %.
    #[test]
    fn a_process_says_mean_deviation_and_what_is_screened_out() {
        let shape = Shape::Normal { mean: -0.015 / 0.055, sigmas: 2.75 };
        let own = Tolerance { middle: 0.025, screened: Some(0.2), ..Tolerance::new(shape, 0.055) };
        let wanted = "−3 % to +8 %, normal, mean +1 %, σ 2.00 %, 20.0 % screened out";
        assert_eq!(shown(&own), wanted);
        let all = Tolerances::default().with(Parameter::TurnsRatio, Some(own));
        let line = screened(&all).concat().replace('\u{a0}', " ");
        assert_eq!(line, "turns ratio: 20.0 % screened out, 1.250 bought per part used");
        assert_eq!(notes(&all).len(), 2);
        let known = serde_json::to_value(ToleranceInForce::all(&all)).unwrap();
        assert_eq!(known["turns_ratio"]["bought_per_used"], 1.25);
    }
}
