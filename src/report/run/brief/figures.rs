//! Figures of the brief, each with its finding.

use itertools::Itertools;
use maud::html;

use super::briefed_run::BriefedRun;
use super::points;
use crate::converter::Arrangement;
use crate::report::format::figures::{
    ArrangementErrors, Ends, FailureAxes, FailureLine, FigureWidth, LabelledBar, LimitUse, Mark,
    Name, SharingRow, SharingRows, Stem, StemAxis, UsedLimit, failure_curves, labelled_bars,
    limit_uses, sharing_rows, stems,
};
use crate::report::format::page::brief::{Finding, both_widths};
use crate::report::format::tolerance::with_measured_parts;
use crate::report::format::{names, numbers};
use crate::report::run::words;
use crate::report::run::worst_case::words as worst_words;
use crate::statistics::{Histogram, QuantileEnd};
use crate::study::common::demand::Demand;
use crate::study::common::figures::Figure;
use crate::study::common::yield_curve::YieldPoint;
use crate::study::run::{CommonBins, LargestFigure, Run};

/// Operating points drawn: more would not fit the sheet.
const POINTS: usize = 4;
/// Limits, and parameters, drawn.
const BARS: usize = 4;

fn name(id: &str, title: impl Into<String>, description: &str) -> Name {
    Name { id: format!("brief-{id}"), title: title.into(), description: description.to_owned() }
}

/// Sharing errors of both arrangements, point by point.
pub(super) fn sharing(told: &BriefedRun) -> Option<Finding> {
    let BriefedRun { scenario, run, .. } = *told;
    let bins = run.over_points.as_ref()?;
    let histograms = bins.cases.iter().chain(bins.over_points.iter().map(|own| &own.histogram));
    let edges = histograms.flatten().next()?.edges.values();
    let limit = scenario.limits.sharing_error;
    let shown = SharingRows {
        edges,
        limit: limit
            .map(|value| Mark { value, label: format!("limit {}", numbers::given_percent(value)) }),
        rows: rows(told, bins),
        samples: run.settings.samples,
    };
    let drawn = |id: &str, width: FigureWidth| {
        let points = if left_out(run) == 0 { "every operating point" } else { "operating points" };
        let title = format!("Sharing error of the samples at {points}, both arrangements");
        let text = "Histograms on one logarithmic axis, the medians joined with the factor between them, and the limit.";
        sharing_rows(&name(id, title, text), &shown, width)
    };
    Some(Finding {
        heading: sharing_heading(told),
        remark: None,
        inside: both_widths(
            &drawn("sharing", FigureWidth::Wide),
            &drawn("sharing-narrow", FigureWidth::Narrow),
        ),
    })
}

/// How much larger the error is without balancing, over the points.
fn sharing_heading(told: &BriefedRun) -> String {
    let run = told.run;
    let limited = Figure::SharingError(told.scenario.limits.sharing);
    let figure = |place: usize| run.key_figures(place, limited)?.p50;
    let ratios: Vec<f64> = (0..run.cases.len())
        .step_by(2)
        .filter_map(|place| Some(figure(place + 1)? / figure(place)?))
        .filter(|ratio| ratio.is_finite())
        .collect();
    let least = ratios.iter().copied().fold(f64::INFINITY, f64::min);
    let most = ratios.iter().copied().fold(0.0, f64::max);
    match (numbers::factor(least), numbers::factor(most)) {
        _ if ratios.is_empty() || least <= 1.05 || run.settings.samples < 2 => {
            "Sharing error with and without charge balancing".to_owned()
        }
        (least, most) if least == most => {
            format!("Without charge balancing the median sharing error is {most} times larger")
        }
        (least, most) => {
            format!(
                "Without charge balancing the median sharing error is {least} to {most} times larger"
            )
        }
    }
}

/// Operating points that are not drawn.
fn left_out(run: &Run) -> usize {
    (run.cases.len() / 2).saturating_sub(POINTS)
}

fn rows(told: &BriefedRun, bins: &CommonBins) -> Vec<SharingRow> {
    let run = told.run;
    let limits = &told.scenario.limits;
    let (errors, has_limit) =
        (Figure::SharingError(limits.sharing), limits.sharing_error.is_some());
    let point = |place: usize| {
        let asked = &run.cases[place].baseline.case.point;
        let of = |case: usize| {
            let (histogram, median) =
                (bins.cases.get(case)?.as_ref()?, run.key_figures(case, errors)?.p50);
            Some(arrangement(histogram, median, has_limit.then(|| over(run, case, errors))))
        };
        SharingRow {
            label: asked.name.clone(),
            remark: format!(
                "{}, {}",
                numbers::without_needless_zeros(&numbers::quantity(asked.output_voltage)),
                numbers::without_needless_zeros(&numbers::quantity(asked.output_current))
            ),
            arrangements: [of(place), of(place + 1)],
            is_judged: false,
        }
    };
    let judged = |n: usize| {
        let own = &bins.over_points[n];
        let figures = own.largest.first()?.key_figures?;
        let over = has_limit.then(|| own.over_limit.unwrap_or_default());
        Some(arrangement(own.histogram.as_ref()?, figures.p50, over))
    };
    let mut rows: Vec<SharingRow> = points::shown(run, POINTS).into_iter().map(point).collect();
    let all = run.cases.len() / 2;
    if all > 1 {
        let remark = match left_out(run) {
            0 => format!("all {all} points"),
            _ => format!("of {all}, {} drawn", rows.len()),
        };
        rows.push(SharingRow {
            label: "largest of all".to_owned(),
            remark,
            arrangements: [judged(0), judged(1)],
            is_judged: true,
        });
    }
    rows
}

fn arrangement(histogram: &Histogram, median: Option<f64>, over: Option<u64>) -> ArrangementErrors {
    ArrangementErrors { counts: histogram.counts.clone(), median, over }
}

/// Samples over the limit of the sharing error in a case, those without a value included.
pub(in crate::report::run) fn over(run: &Run, case: usize, errors: Figure) -> u64 {
    let own = &run.cases[case];
    let missed =
        own.misses.iter().find(|(demand, _)| demand.figure == Some(errors)).map_or(0, |(_, n)| *n);
    missed + own.counts[1] + own.counts[2]
}

/// Failures over the limit of the sharing error.
pub(super) fn failures(told: &BriefedRun) -> Option<Finding> {
    let BriefedRun { scenario, run, .. } = *told;
    let limit = scenario.limits.sharing_error?;
    let bins = run.over_points.as_ref()?;
    let line = |n: usize| FailureLine {
        class: bins.over_points[n].arrangement.name(),
        points: bins.over_points[n].curve.iter().map(failures_at).collect(),
    };
    let chain = line(0);
    (!chain.points.is_empty()).then_some(())?;
    let (_, found) = *chain.points.iter().find(|(at, _)| *at >= limit)?;
    let allowed = 1.0 - scenario.limits.yield_target;
    let least = libm::pow(
        10.0,
        libm::floor(libm::log10((0.9 / run.settings.samples as f64).min(0.1 * allowed))),
    );
    let axes = FailureAxes {
        limits: limits_shown(&chain, limit),
        least,
        limit: Mark { value: limit, label: format!("limit {}", numbers::given_percent(limit)) },
        allowed: Mark { value: allowed, label: format!("target {}", failed(allowed)) },
        found: [failed(found[0]), interval(found)],
    };
    let title = "Failures over the limit of the sharing error, other limits as they are";
    let text = "In parts per million on a logarithmic scale, with the confidence band, the limit and the target.";
    Some(Finding {
        heading: if found[0] > 0.0 {
            let [found, allowed] = alike(found[0], allowed);
            format!("{found} fail; the target allows {allowed}")
        } else {
            format!(
                "No failure seen: at most {}; the target allows {}",
                failed(found[2]),
                alike(found[2], allowed)[1]
            )
        },
        remark: Some(format!(
            "{}; pale: {} confidence.",
            match run.joint[0].of_measured_parts {
                Some(_) => "On the measured parts alone",
                None => "All limits at all operating points",
            },
            numbers::given_percent(scenario.limits.confidence)
        )),
        inside: html! {
            (failure_curves(&name("failures", title, text), &axes, &[chain, line(1)]))
            p class="try" { "Other limits and quantities: “" a href="#other-limits" { "Were the limit another one" } "”." }
        },
    })
}

/// Shares of failures from here on are told in percent, others in ppm.
const MANY: f64 = 0.1;

/// The interval of a share of failures, beside the share.
fn interval([share, lower, upper]: [f64; 3]) -> String {
    let end = if share < MANY { numbers::ppm } else { numbers::percent_of_three };
    format!("{} to {}", end(lower), end(upper))
}

/// A share of failures, and another one in the same unit.
fn alike(share: f64, other: f64) -> [String; 2] {
    let other = if share < MANY { failed(other) } else { numbers::given_percent(other) };
    [failed(share), other]
}

/// A share of failures.
fn failed(share: f64) -> String {
    if share < MANY {
        format!("{}\u{a0}ppm", numbers::ppm(share))
    } else {
        numbers::percent_of_three(share)
    }
}

/// The limit with the failures that it leaves.
fn failures_at(point: &YieldPoint) -> (f64, [f64; 3]) {
    (point.limit, point.good.failing())
}

/// From where almost all chains fail to where none does, with the limit well inside.
fn limits_shown(chain: &FailureLine, limit: f64) -> Ends {
    let from =
        chain.points.iter().rev().find(|(_, [share, ..])| *share > 0.8).map_or(0.0, |(at, _)| *at);
    let to = chain
        .points
        .iter()
        .find(|(_, [share, ..])| *share <= 0.0)
        .map_or(f64::INFINITY, |(at, _)| *at);
    Ends {
        from: from.clamp(0.2 * limit, 0.7 * limit),
        to: (1.1 * to).clamp(1.4 * limit, 2.2 * limit),
    }
}

/// What is used of a limit, as it is shown.
struct ShownUse {
    /// Of the chain; infinite where the target share falls on converters without a steady state.
    share: f64,
    /// Whether more of those with a steady state miss it than may fail in all.
    is_exceeded: bool,
    shown: LimitUse,
}

/// The limit that is used most; none without a limit.
fn heading_of_limits(
    uses: &[ShownUse],
    without_share: &[WithoutShare],
    is_short: bool,
    target: &str,
) -> Option<String> {
    let most = uses.first()?.share;
    let hardest = uses.iter().find(|own| own.is_exceeded).map(|own| &own.shown.label);
    let other = without_share.iter().find(|own| own.is_exceeded).map(|own| &own.name);
    Some(match hardest.or(other) {
        Some(name) => format!("Limit exceeded too: {name}"),
        None if most > 1.0 => "Other limits: too many converters have no steady state".to_owned(),
        None => {
            let most = numbers::percent_of_three_up(most);
            if is_short {
                format!("Other limits: the largest seen is {most} of its limit")
            } else {
                format!("Other limits, each by itself: {target} of chains use at most {most}")
            }
        }
    })
}

/// How much of every other limit is used.
pub(super) fn limits(told: &BriefedRun) -> Option<Finding> {
    let BriefedRun { scenario, run, .. } = *told;
    let over_points = &run.over_points.as_ref()?.over_points;
    let mut uses: Vec<ShownUse> = Vec::new();
    for own in &over_points[0].largest {
        let Some(demand) = demand(own) else { continue };
        let chain = used(Arrangement::Chain, own, &demand);
        let share = chain.share;
        let other = over_points[1].largest.iter().find(|other| other.figure == own.figure);
        let other = other
            .and_then(|other| Some(used(Arrangement::Paralleled, other, &self::demand(other)?)));
        let label = names::limit(&demand).short;
        let is_exceeded = own.is_exceeded;
        let shown = LimitUse { label, bars: [chain].into_iter().chain(other).collect() };
        uses.push(ShownUse { share, is_exceeded, shown });
    }
    uses.sort_by(|a, b| b.share.total_cmp(&a.share));
    let (is_short, without_share) = (has_too_few_samples(run), without_share(run));
    let target = numbers::given_percent(scenario.limits.yield_target);
    let heading = heading_of_limits(&uses, &without_share, is_short, &target)?;
    let mut shown: Vec<LimitUse> = uses.into_iter().map(|own| own.shown).collect();
    let more = shown.split_off(BARS.min(shown.len())).into_iter().map(|own| own.label);
    let left_out = more.chain(without_share.into_iter().map(|own| own.name)).join(", ");
    let left_out =
        if left_out.is_empty() { left_out } else { format!(" Without a bar: {left_out}.") };
    let title = "Use of every limit but that of the sharing error, both arrangements";
    let text = "Bars in percent of the limit; a pointed one goes on. The numbers beside them are value and limit.";
    Some(Finding {
        heading,
        remark: Some(if is_short {
            format!(
                "The largest of {} drawn, over all operating points: too few to tell what {target} stay \
                 below.{left_out}",
                numbers::counted(run.settings.samples, "converter")
            )
        } else {
            let with = with_measured_parts(&scenario.tolerances);
            format!(
                "What {target} of converters{with} stay below, over all operating points.{left_out}"
            )
        }),
        inside: limit_uses(&name("limits", title, text), &shown),
    })
}

/// The demand of a limited figure in units of which a share can be told.
fn demand(own: &LargestFigure) -> Option<Demand> {
    let is_share = !matches!(own.figure, Figure::SharingError(_) | Figure::Switching(_));
    is_share.then_some(Demand { figure: Some(own.figure), limit: own.limit? })
}

/// A limit of the chain that cannot be used to a share.
#[derive(Debug)]
pub(in crate::report::run) struct WithoutShare {
    /// What is limited.
    pub(in crate::report::run) name: String,
    /// Whether the target share is beyond it.
    is_exceeded: bool,
}

/// Limits of the chain that cannot be used to a share: of what swings have to spare.
pub(in crate::report::run) fn without_share(run: &Run) -> Vec<WithoutShare> {
    let figures = run.over_points.iter().flat_map(|own| &own.over_points[0].largest);
    let switching = figures.filter(|own| matches!(own.figure, Figure::Switching(_)));
    let limited = switching.filter_map(|own| {
        let limit = own.limit?;
        let demand = Demand { figure: Some(own.figure), limit };
        Some(WithoutShare { name: names::limit(&demand).short, is_exceeded: own.is_exceeded })
    });
    limited.collect()
}

/// What the chain uses of a limit.
#[derive(Debug)]
pub(in crate::report::run) struct ChainUse {
    /// The limit.
    pub(in crate::report::run) demand: Demand,
    /// What the target share stays below, or the largest seen ([`has_too_few_samples`]); none where too many
    /// fail.
    pub(in crate::report::run) value: Option<f64>,
    /// The used part; infinite without a value.
    pub(in crate::report::run) share: f64,
}

/// What the chain uses of every limit but that of the sharing error.
pub(in crate::report::run) fn chain_uses(run: &Run) -> Vec<ChainUse> {
    let figures = run.over_points.iter().flat_map(|own| &own.over_points[0].largest);
    let uses = figures.filter_map(|own| {
        let demand = demand(own)?;
        let value = reached(own);
        let share = value.map_or(f64::INFINITY, |value| demand.use_of(value));
        Some(ChainUse { demand, value, share })
    });
    uses.collect()
}

/// Whether the samples are too few to tell what the target share stays below. Then the largest seen are shown.
pub(in crate::report::run) fn has_too_few_samples(run: &Run) -> bool {
    let mut figures = run.over_points.iter().flat_map(|own| &own.over_points[0].largest);
    figures.any(|own| own.tolerance_limit == QuantileEnd::TooFewSamples)
}

/// What the target share stays below, or the largest seen where the samples are too few for that.
fn reached(own: &LargestFigure) -> Option<f64> {
    match own.tolerance_limit {
        QuantileEnd::TooFewSamples => own.key_figures.map(|figures| figures.max),
        other => other.value(),
    }
}

fn used(arrangement: Arrangement, own: &LargestFigure, demand: &Demand) -> UsedLimit {
    let value = reached(own);
    let limit = numbers::of_three_digits(&names::limited_value(demand, demand.limit));
    let text = value.map(|value| {
        let value = numbers::of_three_digits_up(&names::limited_value(demand, value));
        format!("{} of {limit}", numbers::without_same_unit(&value, &limit))
    });
    UsedLimit {
        class: arrangement.name(),
        share: value.map_or(f64::INFINITY, |value| demand.use_of(value)),
        text: text.unwrap_or_else(|| format!("too many fail; {limit}")),
    }
}

/// What the target share of converters keeps to.
const KEPT_TO: &str = "tolerance limit";

/// The worst case of the chain's sharing error, three ways.
pub(super) fn worst_case(told: &BriefedRun) -> Option<Finding> {
    let BriefedRun { scenario, run, .. } = *told;
    let all =
        worst_words::highest(run, worst_words::worst_cases(told.explanation)?, Arrangement::Chain);
    let worst = all.into_iter().find(|own| matches!(own.figure, Figure::SharingError(_)))?;
    let ways = [
        (worst.root_sum_square, "root-sum-square"),
        (worst.tolerance_limit.value(), KEPT_TO),
        (worst.largest_sample.map(|own| own.value), "largest drawn"),
        (worst.extreme.as_ref().map(|own| own.value), "found extreme"),
    ];
    let found: Vec<Stem> = ways
        .into_iter()
        .filter_map(|(value, label)| {
            let value = value?;
            // What converters keep to must do.
            let text = if label == KEPT_TO {
                numbers::percent_of_three_up(value)
            } else {
                numbers::percent_of_three(value)
            };
            Some(Stem { value, text, label: label.to_owned() })
        })
        .collect();
    (found.len() > 1).then_some(())?;
    let drawn = |id: &str, width: f64| {
        let title = "Worst case of the sharing error of the chain, three ways";
        let text =
            "Root-sum-square, tolerance limit, largest sample and the extreme found by a search.";
        let axis = StemAxis {
            width,
            name: "sharing error, %".to_owned(),
            scale: 100.0,
            limit: Some(Mark { value: worst.demand.limit, label: "limit".to_owned() }),
        };
        stems(&name(id, title, text), &axis, Arrangement::Chain.name(), &found)
    };
    let point = run.cases[worst.case].operating_point();
    let tolerance_limit = worst.tolerance_limit.value().map_or_else(String::new, |_| {
        format!(
            "Tolerance limit: what {} of converters{} keep to. ",
            numbers::given_percent(scenario.limits.yield_target),
            with_measured_parts(&scenario.tolerances)
        )
    });
    Some(Finding {
        heading: format!("Worst case at “{point}”"),
        remark: Some(format!("{tolerance_limit}Extreme: every part inside its band.")),
        inside: both_widths(&drawn("worst-case", 640.0), &drawn("worst-case-narrow", 330.0)),
    })
}

/// What drives the failures of the chain.
pub(super) fn drivers(told: &BriefedRun) -> Option<Finding> {
    let explanation = told.explanation?;
    let chain =
        explanation.failure_drivers.iter().find(|own| own.arrangement == Arrangement::Chain)?;
    let sorted = chain.by_saved();
    let outcomes = &sorted.first()?.change.joint.outcomes;
    let failed = outcomes.saved + outcomes.still_failing;
    let bars: Vec<LabelledBar> = sorted
        .iter()
        .take(BARS)
        .map(|part| LabelledBar {
            label: names::property(part.property),
            value: part.saved() as f64,
            text: numbers::count(part.saved()),
        })
        .collect();
    let first = sorted.first()?;
    let title = "Failing chains that would pass were one parameter exact";
    Some(Finding {
        heading: format!(
            "Exact {} would save {} of {} failures",
            names::property(first.property),
            numbers::count(first.saved()),
            numbers::count(failed)
        ),
        remark: Some(format!(
            "Failing chains that would pass were one parameter exact. {}",
            told.run
                .joint
                .first()
                .and_then(|own| words::tried_again(chain, own))
                .unwrap_or_default()
        )),
        inside: labelled_bars(
            &name("drivers", title, "A bar a parameter with its number."),
            "chain",
            &bars,
            None,
        ),
    })
    .filter(|_| first.saved() > 0)
}
