//! A result read back from its summary.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use serde::Deserialize;
use serde_json::Value;

use super::error::CompareError;
use crate::statistics::Passes;

/// Parts of a summary that tell what it was made of.
pub const BASIS: [&str; 13] = [
    "phases",
    "nominal_phase",
    "points",
    "limits",
    "tolerances",
    "correlations",
    "sensors",
    "offers",
    "currency",
    "quantity",
    "failed_converter",
    "failure_cost",
    "other_cost",
];

/// Key of the scenario as it is written.
const AS_WRITTEN: &str = "scenario_as_written";

/// What of a scenario as it is written another part of the summary tells in the same unit for all, and that
/// part. The rest is compared as it is written.
const TOLD_ELSEWHERE: [(&str, &str); 21] = [
    ("title", "title"),
    ("converter.phases", "phases"),
    ("converter.tank", "nominal_phase"),
    ("converter.chain.flying_capacitance", "nominal_phase"),
    ("converter.chain.neutral_split", "limits"),
    ("converter.losses.on_resistance", "nominal_phase"),
    ("converter.losses.primary_winding_resistance", "nominal_phase"),
    ("converter.losses.secondary_winding_resistance", "nominal_phase"),
    ("converter.losses.rectifier_resistance", "nominal_phase"),
    ("tolerance", "tolerances"),
    ("correlation", "correlations"),
    ("limits", "limits"),
    ("sensors", "sensors"),
    ("grade", "offers"),
    ("grades.currency", "currency"),
    ("grades.quantity", "quantity"),
    ("grades.failed_converter", "failed_converter"),
    ("grades.failure_cost", "failure_cost"),
    ("grades.other_cost", "other_cost"),
    ("run.samples", "samples"),
    ("run.seed", "seed"),
];

/// Keys of an operating point that `points` tells.
const KEYS_OF_POINTS: [&str; 7] = [
    "name",
    "input_voltage",
    "output_voltage",
    "output_power",
    "output_current",
    "drive",
    "rectifier",
];

/// The arrangement with charge balancing.
const CHAIN: &str = "chain";

/// Stands in place of an arrangement where a result is that of the set of grades to build, whichever it is.
pub const RECOMMENDED_SET: &str = "recommended set";

/// A result.
#[derive(Debug, Clone)]
pub struct ReadResult {
    /// The folder or file as it was named.
    pub name: String,
    /// The verb that made it.
    pub verb: String,
    /// Version of the program.
    pub version: String,
    /// Title of the scenario.
    pub title: String,
    /// Name of the scenario file.
    pub scenario: String,
    /// How steady states were found.
    pub solver: String,
    /// Seed and stream of the samples, where there are any.
    pub seed: Option<[u64; 2]>,
    /// Samples asked for.
    pub samples: Option<u64>,
    /// Whether it was stopped before its end.
    pub is_partial: bool,
    /// Names of its operating points, in the order of the scenario.
    pub points: Vec<String>,
    /// What it was made of: values by their places in the summary, or in the scenario as it is written.
    pub basis: BTreeMap<String, String>,
    /// Whether the whole scenario is in `basis`.
    pub has_whole_scenario: bool,
    /// Name of the set of grades to build; none where none is recommended, or the verb ranks none.
    pub recommended: Option<String>,
    /// All yields, that of the set to build first.
    pub yields: Vec<ReadYield>,
    /// Ratings, quantiles and costs.
    pub measured: Vec<Measured>,
    /// The file of all samples, where there is one.
    pub samples_file: Option<PathBuf>,
}

/// A yield of a result.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadYield {
    /// Operating point, `all` or what else it is of.
    pub subject: String,
    /// `chain`, `paralleled`, a variant, or [`RECOMMENDED_SET`].
    pub arrangement: String,
    /// Samples that pass, of all.
    pub passes: Passes,
    /// The interval as it was stated.
    pub interval: [f64; 2],
    /// Its confidence.
    pub confidence: f64,
    /// Whether the number of samples was fixed in advance and no measured files widen the interval.
    pub is_of_fixed_samples: bool,
    /// The verdict, where one was given.
    pub verdict: Option<String>,
    /// Whether limits were there to judge it by. Else all samples that are solved pass, which says nothing.
    pub is_judged: bool,
}

/// What kind of number it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MeasuredKind {
    /// What a part must be rated for, in the unit of its name, or a factor.
    Rating,
    /// A quantile of the sharing error, a fraction.
    SharingError,
    /// Money.
    Cost,
    /// A band, a fraction.
    Band,
}

/// A number of a result that is no yield.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// What it is.
    pub name: String,
    /// `chain`, `paralleled`, a variant, or [`RECOMMENDED_SET`].
    pub arrangement: String,
    /// Its kind.
    pub kind: MeasuredKind,
    /// The number; none where the result has none.
    pub value: Option<f64>,
    /// Its interval, where one is told.
    pub interval: Option<[f64; 2]>,
}

/// What every summary begins with.
#[derive(Debug, Deserialize)]
struct SummaryHead {
    schema: String,
    version: String,
    verb: String,
    scenario: Option<String>,
    title: Option<String>,
    solver: Option<String>,
    seed: Option<u64>,
    stream: Option<u64>,
    samples: Option<u64>,
    #[serde(default)]
    partial: bool,
    #[serde(default)]
    files: Vec<String>,
}

impl ReadResult {
    /// Reads the text of a summary. `name` is what messages call it, `folder` where its files are; `schema` is
    /// the one that this version writes.
    ///
    /// # Errors
    ///
    /// Those of [`CompareError`] on one file.
    pub fn parse(
        name: &str,
        folder: &Path,
        text: &str,
        schema: &str,
    ) -> Result<Self, CompareError> {
        let path = || name.to_owned();
        let no_summary = |reason: String| CompareError::NoSummary { path: path(), reason };
        let value: Value = serde_json::from_str(text)
            .map_err(|error| no_summary(format!("it is no JSON ({error})")))?;
        let head = SummaryHead::deserialize(&value)
            .map_err(|error| no_summary(format!("it is no summary ({error})")))?;
        if head.schema != schema {
            let expected = schema.to_owned();
            return Err(CompareError::OtherSchema { path: path(), found: head.schema, expected });
        }
        let Some(scenario) = head.scenario else {
            return Err(CompareError::NoScenario { path: path(), verb: head.verb });
        };
        let yields = yields(&head.verb, &value);
        let is_wrong = |own: &&ReadYield| {
            let Passes { successes, trials } = own.passes;
            trials == 0 || successes > trials || !(0.5..1.0).contains(&own.confidence)
        };
        if let Some(own) = yields.iter().find(is_wrong) {
            let Passes { successes, trials } = own.passes;
            let subject = format!("{}, {}", own.subject, own.arrangement);
            return Err(CompareError::Yield { path: path(), subject, successes, trials });
        }
        // Of these verbs the first samples are compared; the stream is that of the fresh ones.
        let has_first = ["grades", "sensors"].contains(&head.verb.as_str());
        let stream = head.stream.filter(|_| !has_first).unwrap_or(0);
        let has_samples = head.files.iter().any(|name| name == "samples.parquet");
        Ok(Self {
            name: name.to_owned(),
            yields,
            measured: measured(&head.verb, &value),
            recommended: set_name(&value),
            points: point_names(&value),
            basis: basis(&value),
            has_whole_scenario: value.get(AS_WRITTEN).is_some(),
            verb: head.verb,
            version: head.version,
            title: head.title.unwrap_or_default(),
            scenario,
            solver: head.solver.unwrap_or_default(),
            seed: head.seed.map(|seed| [seed, stream]),
            samples: head.samples,
            is_partial: head.partial,
            samples_file: has_samples.then(|| folder.join("samples.parquet")),
        })
    }
}

fn point_names(summary: &Value) -> Vec<String> {
    items(summary, "points").iter().filter_map(|own| text(own, "name")).collect()
}

/// All values of the parts of a summary that tell what it was made of, by their places.
fn basis(summary: &Value) -> BTreeMap<String, String> {
    let mut found = BTreeMap::new();
    for part in BASIS {
        if let Some(value) = summary.get(part) {
            flatten(part, value, &mut found);
        }
    }
    let written = summary.get(AS_WRITTEN).and_then(Value::as_object).into_iter().flatten();
    let apart = written.filter(|(place, _)| !is_told_elsewhere(place, summary));
    found.extend(
        apart.filter_map(|(place, value)| Some((place.clone(), value.as_str()?.to_owned()))),
    );
    found
}

/// Whether a place in the scenario as it is written is told by another part of the summary too.
fn is_told_elsewhere(place: &str, summary: &Value) -> bool {
    let is_below = |table: &str| {
        place.strip_prefix(table).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
    };
    let key = place.rsplit('.').next().unwrap_or(place);
    let is_of_point = is_below("operating_point") && KEYS_OF_POINTS.contains(&key);
    (is_of_point && summary.get("points").is_some())
        || TOLD_ELSEWHERE.iter().any(|(table, part)| is_below(table) && summary.get(part).is_some())
}

fn flatten(place: &str, value: &Value, found: &mut BTreeMap<String, String>) {
    match value {
        Value::Object(entries) => {
            let is_limit = limit_label(value).is_some();
            let is_in_the_place = |key: &str| is_limit && LIMIT_KEYS.contains(&key);
            for (key, inner) in entries.iter().filter(|(key, _)| !is_in_the_place(key)) {
                flatten(&format!("{place}.{key}"), inner, found);
            }
        }
        Value::Array(items) => {
            for (n, inner) in items.iter().enumerate() {
                let label = label(inner).unwrap_or_else(|| (n + 1).to_string());
                flatten(&format!("{place}.{label}"), inner, found);
            }
        }
        Value::Null => {}
        Value::String(text) => {
            found.insert(place.to_owned(), text.clone());
        }
        other => {
            found.insert(place.to_owned(), other.to_string());
        }
    }
}

/// What tells an entry of a list from the others.
fn label(entry: &Value) -> Option<String> {
    let keys = ["name", "parameter", "part", "operating_point"];
    limit_label(entry).or_else(|| keys.iter().find_map(|key| text(entry, key)))
}

/// Keys that tell a limit on a part: a part has limits of several figures in both arrangements.
const LIMIT_KEYS: [&str; 3] = ["arrangement", "part", "figure"];

/// Their values, if it is one.
fn limit_label(entry: &Value) -> Option<String> {
    let keys: Option<Vec<String>> = LIMIT_KEYS.iter().map(|key| text(entry, key)).collect();
    keys.map(|keys| keys.join("."))
}

fn text(value: &Value, key: &str) -> Option<String> {
    Some(value.get(key)?.as_str()?.to_owned())
}

fn items<'a>(value: &'a Value, key: &str) -> &'a [Value] {
    value.get(key).and_then(Value::as_array).map_or(&[], Vec::as_slice)
}

/// A yield at a place of the summary.
fn a_yield(subject: &str, arrangement: &str, holder: &Value) -> Option<ReadYield> {
    let value = holder.get("yield")?;
    let is_judged = holder.get("judged").and_then(Value::as_bool).unwrap_or(true);
    let number = |key: &str| value.get(key)?.as_f64();
    let count = |key: &str| value.get(key)?.as_u64();
    Some(ReadYield {
        subject: subject.to_owned(),
        arrangement: arrangement.to_owned(),
        passes: Passes { successes: count("successes")?, trials: count("trials")? },
        interval: [number("lower")?, number("upper")?],
        confidence: number("confidence")?,
        is_of_fixed_samples: text(value, "method").as_deref() == Some("clopper-pearson"),
        verdict: text(holder, "verdict").filter(|_| is_judged),
        is_judged,
    })
}

fn yields(verb: &str, summary: &Value) -> Vec<ReadYield> {
    match verb {
        "run" => of_run(summary),
        "sensors" => items(summary, "variants")
            .iter()
            .filter_map(|own| a_yield("all", &text(own, "variant")?, own))
            .collect(),
        "grades" => {
            let of_set = |own: &Value| {
                let arrangement = text(own, "arrangement")?;
                let found = a_yield(&text(own, "name")?, &arrangement, own)?;
                Some(ReadYield { is_judged: has_limit(summary, &arrangement), ..found })
            };
            let named = recommended(summary).and_then(|own| a_yield("all", RECOMMENDED_SET, own));
            named.into_iter().chain(sets(summary).filter_map(of_set)).collect()
        }
        "bands" => by_arrangement(summary, "arrangements")
            .filter_map(|(arrangement, own)| a_yield("all", arrangement, own.get("present")?))
            .collect(),
        "capacitors" => {
            let found = present_size(summary).and_then(|own| a_yield("all", CHAIN, own));
            let study = summary.get("capacitors");
            let is_judged = study.and_then(|own| own.get("judged")?.as_bool()).unwrap_or(false);
            found.into_iter().map(|own| ReadYield { is_judged, ..own }).collect()
        }
        _ => Vec::new(),
    }
}

/// Whether an arrangement has a limit that its converters are judged by.
fn has_limit(summary: &Value, arrangement: &str) -> bool {
    let Some(limits) = summary.get("limits") else { return true };
    let is_set = |value: &Value| !value.is_null() && value.as_bool() != Some(false);
    let of_part = |part: &Value| text(part, "arrangement").as_deref() == Some(arrangement);
    limits.get("sharing_error").is_some_and(is_set)
        || by_arrangement(limits, arrangement).any(|(_, value)| is_set(value))
        || items(limits, "parts").iter().any(of_part)
}

/// Entries of an object by their names.
fn by_arrangement<'a>(
    summary: &'a Value,
    key: &str,
) -> impl Iterator<Item = (&'a String, &'a Value)> {
    summary.get(key).and_then(Value::as_object).into_iter().flatten()
}

/// Over all points, then point by point. A point that is itself called `all` is left out: its samples are
/// among those of all points.
fn of_run(summary: &Value) -> Vec<ReadYield> {
    let joint = by_arrangement(summary, "joint")
        .filter_map(|(arrangement, own)| a_yield("all", arrangement, own));
    let joint: Vec<ReadYield> = joint.collect();
    let is_judged =
        |arrangement: &str| joint.iter().all(|own| own.arrangement != arrangement || own.is_judged);
    // A summary tells of whole arrangements whether they are judged.
    let case = |own: &Value| {
        let found = a_yield(&case_name(own)?, &text(own, "arrangement")?, own)?;
        let is_judged = found.is_judged && is_judged(&found.arrangement);
        let verdict = found.verdict.clone().filter(|_| is_judged);
        Some(ReadYield { verdict, is_judged, ..found })
    };
    let cases = items(summary, "results").iter().filter_map(case);
    let cases: Vec<ReadYield> = cases.filter(|own| own.subject != "all").collect();
    joint.into_iter().chain(cases).collect()
}

/// The operating point of a result; where several ages are judged its name tells the age.
fn case_name(case: &Value) -> Option<String> {
    text(case, "operating_point")
}

/// The set of grades to build, on fresh samples; none where none is recommended.
fn recommended(summary: &Value) -> Option<&Value> {
    summary.get("set_to_build").filter(|own| own.is_object())
}

fn set_name(summary: &Value) -> Option<String> {
    text(recommended(summary)?, "name")
}

/// All sets of grades on the first samples, with charge balancing before those without.
fn sets(summary: &Value) -> impl Iterator<Item = &Value> {
    items(summary, "results").iter().chain(items(summary, "results_without_balancing"))
}

fn measured(verb: &str, summary: &Value) -> Vec<Measured> {
    match verb {
        "run" => first_of_each(ratings(summary)).chain(sharing_errors(summary)).collect(),
        "sensors" => items(summary, "variants").iter().filter_map(cost_of_variant).collect(),
        "grades" => {
            let named = recommended(summary)
                .map(|own| cost("cost per good converter", RECOMMENDED_SET, own));
            named.into_iter().chain(sets(summary).filter_map(cost_of_set)).collect()
        }
        "bands" => widest_bands(summary),
        "capacitors" => vec![smallest_size(summary)],
        _ => Vec::new(),
    }
}

/// What `capacitors` tells of the scenario's own size.
fn present_size(summary: &Value) -> Option<&Value> {
    let sizes = items(summary.get("capacitors")?, "sweep");
    sizes.iter().find(|own| own.get("present").and_then(Value::as_bool) == Some(true))
}

/// The smallest size that is shown to meet the target; none has no value.
fn smallest_size(summary: &Value) -> Measured {
    let found = summary.get("capacitors").and_then(|own| own.get("smallest_F"));
    Measured {
        name: "smallest flying capacitance that meets the target, F".to_owned(),
        arrangement: CHAIN.to_owned(),
        kind: MeasuredKind::Rating,
        value: found.and_then(Value::as_f64),
        interval: None,
    }
}

/// The first entry of each name: that of all points stands before that of a point called `all`.
fn first_of_each(all: impl Iterator<Item = Measured>) -> impl Iterator<Item = Measured> {
    let mut seen = BTreeSet::new();
    all.filter(move |own| seen.insert([own.name.clone(), own.arrangement.clone()]))
}

fn ratings(summary: &Value) -> impl Iterator<Item = Measured> {
    let all = items(summary, "ratings").iter();
    all.filter(|own| text(own, "operating_point").as_deref() == Some("all")).filter_map(|own| {
        let figure = text(own, "figure")?;
        // The column's SI unit stands behind a comma: `rms_current, A`.
        let (figure, unit) = figure
            .rsplit_once('_')
            .filter(|(_, unit)| unit.starts_with(|c: char| c.is_ascii_uppercase()))
            .map_or((figure.as_str(), String::new()), |(name, unit)| (name, format!(", {unit}")));
        let name = format!("{} {figure}{unit}", text(own, "part")?);
        Some(Measured {
            name,
            arrangement: text(own, "arrangement")?,
            kind: MeasuredKind::Rating,
            value: own.get("rating").and_then(Value::as_f64),
            interval: None,
        })
    })
}

fn sharing_errors(summary: &Value) -> impl Iterator<Item = Measured> {
    items(summary, "results").iter().filter_map(|own| {
        let figures = own.get("sharing_error")?;
        Some(Measured {
            name: format!("p95 of the sharing error at “{}”", case_name(own)?),
            arrangement: text(own, "arrangement")?,
            kind: MeasuredKind::SharingError,
            value: figures.get("p95").and_then(Value::as_f64),
            interval: ends(figures.get("p95_interval")),
        })
    })
}

fn ends(interval: Option<&Value>) -> Option<[f64; 2]> {
    let interval = interval?;
    Some([interval.get("lower")?.as_f64()?, interval.get("upper")?.as_f64()?])
}

fn cost_of_variant(own: &Value) -> Option<Measured> {
    Some(Measured {
        name: "cost per good converter".to_owned(),
        arrangement: text(own, "variant")?,
        kind: MeasuredKind::Cost,
        value: own.get("cost_per_good_converter").and_then(Value::as_f64),
        interval: ends(own.get("cost_per_good_converter_interval")),
    })
}

fn cost_of_set(own: &Value) -> Option<Measured> {
    let name = format!("cost per good converter, {}", text(own, "name")?);
    Some(cost(&name, &text(own, "arrangement")?, own))
}

fn cost(name: &str, arrangement: &str, set: &Value) -> Measured {
    let cost = set.get("cost_per_good_converter");
    Measured {
        name: name.to_owned(),
        arrangement: arrangement.to_owned(),
        kind: MeasuredKind::Cost,
        value: cost.and_then(|cost| cost.get("estimate")).and_then(Value::as_f64),
        interval: ends(cost),
    }
}

/// The widest confirmed bands of each part alone, the common factor, and the price of the cheapest set.
fn widest_bands(summary: &Value) -> Vec<Measured> {
    let mut found = Vec::new();
    for (arrangement, own) in by_arrangement(summary, "arrangements") {
        for row in items(own, "widest") {
            let Some(varied) = text(row, "varied") else { continue };
            let is_factor = varied == "together";
            found.push(Measured {
                name: if is_factor {
                    "common factor of all bands".to_owned()
                } else {
                    format!("widest band, {varied}")
                },
                arrangement: arrangement.clone(),
                kind: if is_factor { MeasuredKind::Rating } else { MeasuredKind::Band },
                value: row.get("confirmed").and_then(Value::as_f64),
                interval: None,
            });
        }
    }
    if let Some(price) = summary.get("cheapest").and_then(|own| own.get("price_per_converter")) {
        found.push(Measured {
            name: "price of the cheapest set".to_owned(),
            arrangement: CHAIN.to_owned(),
            kind: MeasuredKind::Cost,
            value: price.as_f64(),
            interval: None,
        });
    }
    found
}
