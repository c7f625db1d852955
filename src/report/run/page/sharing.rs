//! How the phases of an operating point share: histogram, yield curve, phase currents, all nine
//! sharing errors.

use maud::{Markup, html};

use super::parts::Point;
use crate::converter::{Measure, Shared, Sharing};
use crate::report::format::figures::{
    self, HistogramSamples, HistogramSeries, Mark, Name, RangeRow, ShareCurve,
};
use crate::report::format::page::parts::{
    Read, arrangement, arrangement_names, cells, figure, folded_table, headings, number, range,
    remarked,
};
use crate::report::format::{names, numbers};
use crate::scenario::Scenario;
use crate::statistics::KeyFigures;
use crate::study::common::figures::Figure;
use crate::study::run::Run;

/// Histogram and yield curve of the sharing error that the limit is on.
pub(super) fn error(scenario: &Scenario, run: &Run, point: &Point) -> Markup {
    if point.cases.iter().all(|(_, case)| case.histogram.is_none()) {
        return html! {
            p { "No sharing error to show: no sample was solved, or all phases are equal." }
        };
    }
    html! {
        div class="figures" {
            (histogram(scenario, run, point))
            (curve(scenario, point))
        }
    }
}

fn limit(scenario: &Scenario) -> Option<Mark> {
    let value = scenario.limits.sharing_error?;
    Some(Mark { value, label: format!("limit {}", numbers::given_percent(value)) })
}

/// The axis of sharing errors; where its numbers grow by ratios, it says so.
fn axis_name(first: Option<f64>) -> String {
    let scale = if first.is_some_and(|first| first > 0.0) { ", logarithmic scale" } else { "" };
    format!("sharing error{scale}")
}

fn histogram(scenario: &Scenario, run: &Run, point: &Point) -> Markup {
    let histograms = || point.cases.iter().filter_map(|(_, c)| Some((c, c.histogram.as_ref()?)));
    let edges = histograms().next().map_or(&[][..], |(_, h)| h.edges.values());
    let series = histograms().rev().map(|(case, h)| HistogramSeries {
        class: case.arrangement().name(),
        name: names::arrangement(case.arrangement()).short,
        counts: &h.counts,
    });
    let shown = HistogramSamples { edges, series: series.collect(), samples: run.settings.samples };
    let name = Name {
        id: format!("{}-histogram", point.id()),
        title: format!("Histogram of the sharing error at {}", point.name()),
        description: "Share of all samples in each bin, for both arrangements, with the limit."
            .into(),
    };
    let axis = axis_name(edges.first().copied());
    let drawing = figures::histogram(&name, &axis, &shown, limit(scenario).as_ref());
    let caption = html! {
        b { "Sharing error of the samples:" } " " (names::sharing(scenario.limits.sharing))
        "; share of all samples in each bin."
        @for (case, h) in histograms() {
            @if h.above > 0 {
                " Above the right end: " (numbers::samples(h.above)) ", "
                (names::arrangement(case.arrangement()).long) "."
            }
            @if h.not_finite > 0 {
                " Out of range or not solved: " (numbers::samples(h.not_finite)) ", "
                (names::arrangement(case.arrangement()).long) "."
            }
            @if h.below > 0 {
                " Below the left end: " (numbers::samples(h.below)) ", "
                (names::arrangement(case.arrangement()).long) "."
            }
        }
        @if scenario.limits.sharing_error.is_none() { " The scenario sets no limit." }
    };
    figure(&drawing, &caption)
}

fn curve(scenario: &Scenario, point: &Point) -> Markup {
    let series: Vec<ShareCurve> = point
        .cases
        .iter()
        .map(|(_, case)| {
            let points =
                case.curve.iter().map(|p| (p.limit, [p.good.estimate, p.good.lower, p.good.upper]));
            ShareCurve {
                class: case.arrangement().name(),
                name: names::arrangement(case.arrangement()).short.to_owned(),
                points: points.collect(),
            }
        })
        .collect();
    let first = point.cases.iter().find_map(|(_, c)| Some(c.curve.first()?.limit));
    let name = Name {
        id: format!("{}-curve", point.id()),
        title: format!("Yield against the limit of the sharing error at {}", point.name()),
        description: "Share of all samples within a limit, with its confidence band, for both \
                      arrangements, with the limit and the target."
            .into(),
    };
    let value = scenario.limits.yield_target;
    let target = Mark { value, label: format!("target {}", numbers::given_percent(value)) };
    let axis = axis_name(first).replacen("sharing error", "limit of the sharing error", 1);
    let drawing = figures::curves(&name, &axis, &series, limit(scenario).as_ref(), &target);
    let caption = html! {
        b { "Yield against the limit of the sharing error," } " other limits left aside. The band is \
         the " (numbers::given_percent(scenario.limits.confidence)) " confidence interval at each \
         limit."
    };
    figure(&drawing, &caption)
}

/// Output currents of the phases as ranges, drawn and written.
pub(super) fn phases(scenario: &Scenario, run: &Run, point: &Point) -> Markup {
    let rows: Vec<RangeRow> = (0..scenario.phases)
        .map(|k| RangeRow {
            label: format!("phase {}", k + 1),
            ranges: ranges(run, point, Figure::OutputCurrent(k)),
        })
        .collect();
    let name = Name {
        id: format!("{}-phases", point.id()),
        title: format!("Output current of every phase at {}", point.name()),
        description: "Range over the samples for both arrangements; the table that follows holds \
                      the numbers."
            .into(),
    };
    let output = point.chain().baseline.case.point.output_current.0;
    let equal = output / scenario.phases as f64;
    let mark = Mark { value: equal, label: format!("equal share {} A", numbers::three(equal)) };
    let drawing = figures::ranges(
        &name,
        "output current of a phase, A",
        &rows,
        &arrangement_names(),
        Some(&mark),
    );
    let caption = html! {
        b { "Output current of every phase." }
        " Line: least to greatest of the solved samples; box: 5 % to 95 %; tick: median."
        (beyond(point))
    };
    figure(&drawing, &caption)
}

/// How a box ends whose quantile lies beyond.
pub(super) fn beyond(point: &Point) -> Markup {
    let unsolved = point.cases.iter().any(|(_, case)| case.counts[1] + case.counts[2] > 0);
    html! {
        @if unsolved { " A box whose 95 % quantile is beyond ends at the greatest." }
    }
}

/// The ranges of a figure in both arrangements, where it exists.
pub(super) fn ranges(
    run: &Run,
    point: &Point,
    figure: Figure,
) -> Vec<(&'static str, figures::Range)> {
    let cases = point.cases.iter().filter_map(|(n, case)| {
        Some((case.arrangement().name(), range(run.key_figures(*n, figure)?)))
    });
    cases.collect()
}

/// Phase currents as numbers.
pub(super) fn phase_table(scenario: &Scenario, run: &Run, point: &Point) -> Markup {
    let figures: [Read; 5] = [|s| Some(s.min), |s| s.p05, |s| s.p50, |s| s.p95, |s| Some(s.max)];
    let tail: [Read; 2] = [|s| s.p50, |s| Some(s.max)];
    let head = html! {
        tr {
            th scope="col" rowspan="2" class="text" { "phase" }
            th scope="col" rowspan="2" class="text" { "arrangement" }
            th scope="colgroup" colspan="5" { "output current" }
            th scope="colgroup" colspan="2" { "tank mean |i|" }
            th scope="colgroup" colspan="2" { "tank RMS" }
            th scope="colgroup" colspan="2" { "tank peak" }
        }
        (headings(0, &["min", "p05", "p50", "p95", "max", "p50", "max", "p50", "max", "p50", "max"]))
    };
    let rows = html! {
        @for k in 0..scenario.phases {
            @for (place, (n, case)) in point.cases.iter().enumerate() {
                tr {
                    @if place == 0 { th scope="rowgroup" rowspan="2" { (k + 1) } }
                    (arrangement(case.arrangement()))
                    (cells(run.key_figures(*n, Figure::OutputCurrent(k)), &figures, numbers::three))
                    @for figure in [Figure::MeanCurrent, Figure::RmsCurrent, Figure::PeakCurrent] {
                        (cells(run.key_figures(*n, figure(k)), &tail, numbers::three))
                    }
                }
            }
        }
    };
    folded_table(
        "Currents of every phase in ampere; tank currents are those of the chain’s tanks",
        &head,
        &rows,
    )
}

/// All sharing errors: three quantities, three measures, both arrangements.
pub(super) fn all_errors(scenario: &Scenario, run: &Run, point: &Point) -> Markup {
    let names =
        ["quantity shared", "measure", "arrangement", "mean", "sd", "p50", "p95", "p99", "max"];
    let head = headings(3, &names);
    let rows = html! {
        @for share in Shared::ALL {
            @for measure in Measure::ALL {
                @let sharing = Sharing { share, measure };
                @let limited = sharing == scenario.limits.sharing;
                @for (place, (n, case)) in point.cases.iter().enumerate() {
                    tr class=[limited.then_some("limited")] {
                        @if measure == Measure::Deviation && place == 0 {
                            th scope="rowgroup" rowspan="6" { (names::shared(share).long) }
                        }
                        @if place == 0 {
                            th scope="rowgroup" rowspan="2" {
                                (measure.name()) br; small { (names::formula(measure)) }
                            }
                        }
                        (arrangement(case.arrangement()))
                        (error_cells(run.key_figures(*n, Figure::SharingError(sharing)), limited))
                    }
                }
            }
        }
    };
    let caption = format!(
        "All sharing errors in percent; m is the mean over the phases. The limit is on the shaded \
         one, with its {} confidence intervals. Below the maximum: its sample. Mean, sd and max are of the \
         solved samples",
        numbers::given_percent(scenario.limits.confidence)
    );
    folded_table(&caption, &head, &rows)
}

/// With intervals where the limit is on this error; the summary holds those of the others.
fn error_cells(summary: Option<&KeyFigures>, limited: bool) -> Markup {
    let Some(s) = summary else {
        return html! { @for _ in 0..6 { (number(numbers::NONE)) } };
    };
    let quantiles = [(s.p50, s.p50_interval), (s.p95, s.p95_interval), (s.p99, s.p99_interval)];
    html! {
        (number(numbers::in_percent(s.mean)))
        (number(s.sd.map_or_else(|| numbers::NONE.into(), numbers::in_percent)))
        @for (value, interval) in quantiles {
            @let value = numbers::quantile(value, numbers::in_percent);
            @if limited {
                (remarked(&value, &numbers::quantile_ends(interval, numbers::in_percent)))
            } @else { (number(value)) }
        }
        (remarked(&numbers::in_percent(s.max), &format!("sample {}", s.max_sample)))
    }
}
