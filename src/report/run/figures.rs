//! The evidence of a run in a few lines of a terminal: sharing errors in block characters, use of the limits,
//! what limits and what drives.

use std::fmt::Write as _;

use itertools::Itertools;

use super::worst_case::words as worst_words;
use super::{brief, words};
use crate::converter::Arrangement;
use crate::report::format::blocks;
use crate::report::format::names;
use crate::report::format::numbers::{
    count, counted, given_percent, of_three_digits, of_three_digits_up, percent_of_three,
    percent_of_three_up, without_same_unit,
};
use crate::report::format::screen::{CommandWord, NextQuestion};
use crate::report::format::tolerance::with_measured_parts;
use crate::scenario::{Scenario, Shape};
use crate::statistics::{Histogram, IntervalMethod, Verdict};
use crate::study::common::figures::Figure;
use crate::study::explanation::Explanation;
use crate::study::run::{CommonBins, Run, SampleSize};

/// Characters of a label, and of a histogram.
const LABEL: usize = 17;
const COLUMNS: usize = 48;
/// Operating points shown, and limits.
const POINTS: usize = 3;
const LIMITS: usize = 4;
/// Characters of a bar at 100 %.
const BAR: u32 = 24;

/// Sharing errors of both arrangements, point by point, with the limit as an upright line.
pub(super) fn sharing(scenario: &Scenario, run: &Run) -> String {
    let Some(bins) = run.over_points.as_ref() else { return String::new() };
    let histograms = bins.cases.iter().chain(bins.over_points.iter().map(|own| &own.histogram));
    let Some(edges) = histograms.flatten().next().map(|own| own.edges.values()) else {
        return String::new();
    };
    let picture = Picture::new(edges, scenario.limits.sharing_error, bins);
    let mut text = picture.head();
    let errors = Figure::SharingError(scenario.limits.sharing);
    let (shown, all) = (brief::points_shown(run, POINTS), run.cases.len() / 2);
    let names: Vec<String> =
        shown.iter().map(|place| run.cases[*place].operating_point().to_owned()).collect();
    for (place, label) in shown.iter().zip(blocks::fitted_apart(&names, LABEL - 1)) {
        for (n, label) in [label.as_str(), ""].into_iter().enumerate() {
            let case = *place + n;
            let over = brief::over(run, case, errors);
            text.push_str(&picture.row(label, bins.cases[case].as_ref(), over));
        }
    }
    if run.cases.len() > 2 {
        for (n, own) in bins.over_points.iter().enumerate() {
            let label = if n == 0 { format!("largest of {all}") } else { String::new() };
            text.push_str(&picture.row(
                &label,
                own.histogram.as_ref(),
                own.over_limit.unwrap_or_default(),
            ));
        }
    }
    text.push_str(&picture.foot(&left_out(all - shown.len())));
    text
}

/// That operating points are left out.
fn left_out(points: usize) -> String {
    if points == 0 { String::new() } else { format!("{points} not shown") }
}

/// How sharing errors are drawn.
struct Picture<'a> {
    edges: &'a [f64],
    /// Bins of a character.
    each: usize,
    /// Characters before the line of the limit.
    before: Option<usize>,
    most: u64,
}

impl<'a> Picture<'a> {
    fn new(edges: &'a [f64], limit: Option<f64>, bins: &CommonBins) -> Self {
        let each = edges.len().saturating_sub(1).div_ceil(COLUMNS).max(1);
        let all = bins.cases.iter().chain(bins.over_points.iter().map(|own| &own.histogram));
        let joined = all.flatten().flat_map(|own| blocks::joined(&own.counts, COLUMNS));
        let below = |limit: f64| edges.iter().filter(|edge| **edge < limit).count();
        Self {
            edges,
            each,
            before: limit.map(|limit| (below(limit) + each / 2) / each),
            most: joined.max().unwrap_or(0),
        }
    }

    /// Characters of the whole picture, the line of the limit among them.
    fn columns(&self) -> usize {
        (self.edges.len() - 1).div_ceil(self.each) + usize::from(self.before.is_some())
    }

    fn head(&self) -> String {
        let (columns, over) =
            (self.columns(), if self.before.is_some() { "over limit" } else { "" });
        let title = "above: with charge balancing; below: without";
        format!("{:LABEL$}{title:columns$} {over:>12}\n", "sharing error")
    }

    fn row(&self, label: &str, histogram: Option<&Histogram>, over: u64) -> String {
        let counts = histogram.map_or_else(Vec::new, |own| blocks::joined(&own.counts, COLUMNS));
        let mut drawn: Vec<char> = blocks::histogram(&counts, self.most).chars().collect();
        drawn.resize(self.columns() - usize::from(self.before.is_some()), ' ');
        if let Some(before) = self.before {
            drawn.insert(before.min(drawn.len()), '│');
        }
        let drawn: String = drawn.into_iter().collect();
        let over = self.before.map_or_else(String::new, |_| count(over));
        let line = format!("{}{drawn} {over:>12}", blocks::padded(label, LABEL));
        format!("{}\n", line.trim_end())
    }

    /// The numbers of the axis, by decades, after a label.
    fn foot(&self, label: &str) -> String {
        let mut line: Vec<char> = format!("{label:LABEL$}").chars().collect();
        line.resize(LABEL + self.columns(), ' ');
        for tick in [1e-4, 1e-3, 3e-3, 1e-2, 3e-2, 1e-1, 3e-1, 1.0, 2.0] {
            let below = self.edges.iter().filter(|edge| **edge < tick).count();
            if below == 0 || below >= self.edges.len() {
                continue;
            }
            let column = below / self.each;
            let moved = usize::from(self.before.is_some_and(|before| column >= before));
            let text = format!("{}%", 100.0 * tick);
            let at = LABEL + column + moved;
            let is_free = at + text.len() < line.len()
                && line[at.saturating_sub(1)..at + text.len()].iter().all(|own| *own == ' ');
            if is_free {
                for (n, own) in text.chars().enumerate() {
                    line[at + n] = own;
                }
            }
        }
        let line: String = line.into_iter().collect();
        format!("{}\n", line.trim_end())
    }
}

/// How much of its limits the chain uses, in bars.
pub(super) fn limits(scenario: &Scenario, run: &Run) -> String {
    let mut uses = brief::chain_uses(run);
    uses.sort_by(|a, b| b.share.total_cmp(&a.share));
    let mut text = String::new();
    let names: Vec<String> = uses.iter().map(|own| names::limit(&own.demand).short).collect();
    let narrow: Vec<String> = names.iter().take(LIMITS).map(|name| narrow(name)).collect();
    let labels = blocks::fitted_apart(&narrow, LABEL - 1);
    for (own, label) in uses.iter().zip(labels) {
        let value = own.value.map_or_else(
            || "too many fail".to_owned(),
            |value| {
                let limit = of_three_digits(&names::limited_value(&own.demand, own.demand.limit));
                let value = of_three_digits_up(&names::limited_value(&own.demand, value));
                format!("{} of {limit}", without_same_unit(&value, &limit))
            },
        );
        let share =
            if own.share.is_finite() { percent_of_three_up(own.share) } else { "over".to_owned() };
        let (label, bar) = (blocks::padded(&label, LABEL), blocks::bar(own.share, BAR));
        let line = format!("{label}{value:>18} {share:>8} {bar}");
        let _ = writeln!(text, "{}", line.trim_end());
    }
    if text.is_empty() {
        return text;
    }
    let what = if brief::has_too_few_samples(run) {
        format!("the largest of {} drawn", counted(run.settings.samples, "chain"))
    } else {
        let target = given_percent(scenario.limits.yield_target);
        format!("what {target} of chains{} stay below", with_measured_parts(&scenario.tolerances))
    };
    let more = names.into_iter().skip(LIMITS);
    let more = more.chain(brief::without_share(run).into_iter().map(|own| own.name)).join(", ");
    let more = if more.is_empty() { more } else { format!("not shown: {more}\n") };
    format!("Other limits: {what}; a full bar is the limit\n{text}{more}")
}

/// The name of a limit in few letters.
fn narrow(name: &str) -> String {
    name.replace("flying capacitor ", "flying ").replace("rectifier diodes", "diodes")
}

/// The worst case of the sharing error and what drives the failures, a line each.
pub(super) fn reasons(scenario: &Scenario, run: &Run, explanation: Option<&Explanation>) -> String {
    let kept_to = format!("{} keep to", given_percent(scenario.limits.yield_target));
    let mut text = String::new();
    let cases = worst_words::worst_cases(explanation);
    let highest = cases.map(|cases| worst_words::highest(run, cases, Arrangement::Chain));
    let worst =
        highest.into_iter().flatten().find(|own| matches!(own.figure, Figure::SharingError(_)));
    if let Some(worst) = worst {
        let kept = worst.tolerance_limit.value();
        let ways = [
            ("root-sum-square", worst.root_sum_square.map(percent_of_three)),
            (kept_to.as_str(), kept.map(percent_of_three_up)),
            ("largest drawn", worst.largest_sample.map(|own| percent_of_three(own.value))),
            ("extreme found", worst.extreme.as_ref().map(|own| percent_of_three(own.value))),
        ];
        let told: Vec<String> = ways
            .into_iter()
            .filter_map(|(name, value)| Some(format!("{name} {}", value?)))
            .collect();
        let point = run.cases[worst.case].operating_point();
        let _ = writeln!(text, "Worst sharing error at “{point}”: {}.", told.join(", "));
    }
    let drivers = explanation.into_iter().flat_map(|own| &own.failure_drivers);
    let chain = drivers.into_iter().find(|own| own.arrangement == Arrangement::Chain);
    if let Some(part) =
        chain.and_then(|own| own.by_saved().first().copied()).filter(|own| own.saved() > 0)
    {
        let outcomes = &part.change.joint.outcomes;
        let tried =
            chain.zip(run.joint.first()).and_then(|(own, all)| words::tried_again(own, all));
        let _ = writeln!(
            text,
            "Exact {} would save {} of {} failing chains.{}",
            names::property(part.property),
            count(part.saved()),
            count(outcomes.saved + outcomes.still_failing),
            tried.map_or_else(String::new, |own| format!(" {own}"))
        );
    }
    text
}

/// The options that ask for the shapes of the first column that a scenario takes from a file, about its nominal value;
/// the median of the file is another one.
fn column_of(scenario: &Scenario, file: &str) -> Option<[String; 4]> {
    let (parameter, column) = scenario.tolerances.iter().find_map(|(own, tolerance)| {
        let Shape::Measured(parts) = &tolerance.shape else { return None };
        file.ends_with(&parts.file).then(|| (own, parts.column.clone()))
    })?;
    let value = scenario.nominal_converter().part(parameter, 0)?;
    let unit = parameter.unit_suffix().trim_start_matches('_').replace("_per_", "/");
    let nominal = format!("{value:e} {unit}").trim_end().to_owned();
    Some(["--column".to_owned(), column, "--nominal".to_owned(), nominal])
}

/// What one asks next.
pub(super) fn next(scenario: &Scenario, run: &Run) -> NextQuestion {
    let chain = &run.joint[0];
    let is_open = chain.is_judged && chain.verdict == Verdict::NotDecided;
    let measured = scenario.measured_files.first();
    if run.nominal_misses.iter().any(|miss| miss.arrangement == Arrangement::Chain) {
        return NextQuestion::verb("check", "by how much do the nominal parts miss a limit?");
    }
    match measured.filter(|_| is_open && chain.good.method == IntervalMethod::MeasuredFiles) {
        Some(file) => {
            let file = file.to_string_lossy().into_owned();
            let column = column_of(scenario, &file).into_iter().flatten();
            NextQuestion {
                question: "which shapes fit the measured parts?",
                words: ["shapes".to_owned(), file]
                    .into_iter()
                    .chain(column)
                    .map(CommandWord::Plain)
                    .collect(),
            }
        }
        None if is_open && matches!(run.size, SampleSize::Fixed(_)) => {
            NextQuestion::verb("run", "what is the verdict with enough samples?")
                .with([CommandWord::Plain("--decide".to_owned())])
        }
        None if scenario.tolerances.iter().all(|(_, own)| own.is_measured()) => {
            NextQuestion::verb("capacitors", "how large must the flying capacitors be?")
        }
        None => NextQuestion::verb("bands", "how wide may each tolerance band be?"),
    }
}
