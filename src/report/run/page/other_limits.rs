//! Were a limit another one: samples and failures for a chosen operating point, arrangement and quantity. The
//! page shows one choice; a script shows the others from the same counts.

use maud::{Markup, html};
use serde::Serialize;

use crate::converter::Arrangement;
use crate::report::format::figures::{
    self, LimitPlot, Mark, Name, limit_plot, limit_plot_places, packed_counts,
};
use crate::report::format::{json, names, numbers};
use crate::scenario::Scenario;
use crate::study::common::demand::Demand;
use crate::study::common::figures::Figure;
use crate::study::run::{LimitCounts, Run, ScopeCounts};

/// What stands for all operating points in lists.
const ALL_POINTS: &str = "all operating points";

/// The figure of the chain's sharing error over all operating points, and what a script fills in.
pub(super) fn section(scenario: &Scenario, run: &Run) -> Markup {
    let Some((counts, scope)) =
        run.limit_counts.first().and_then(|own| Some((own, own.scopes.last()?)))
    else {
        return html! {};
    };
    html! {
        p {
            "The samples by value, and the failures were the limit another one, all other limits as they \
             are. Over all operating points each converter counts at its largest value, as in the verdict. \
             Choose the operating point, the arrangement and the quantity, and move the limit (this needs JavaScript)."
        }
        figure class="limits-figure" {
            div class="chooser" data-by-script data-limits=(data(scenario, run)) {}
            (drawing(scenario, run, counts, scope))
            figcaption { (caption(scenario, run)) }
        }
    }
}

fn caption(scenario: &Scenario, run: &Run) -> Markup {
    html! {
        b { "Samples by value, and failures over the limit." }
        " Grey bars: samples that miss another limit. Band: "
        (numbers::given_percent(scenario.limits.confidence)) " confidence at each limit."
        @if is_of_measured_parts(run) { " The intervals are for the measured parts alone." }
    }
}

fn is_of_measured_parts(run: &Run) -> bool {
    run.joint.iter().any(|joint| joint.of_measured_parts.is_some())
}

/// The unit of a figure on an axis, and what its values are multiplied by.
struct AxisUnit {
    symbol: String,
    scale: f64,
}

impl AxisUnit {
    fn of(figure: Figure) -> Self {
        let symbol = names::unit(figure);
        match symbol {
            "" => Self { symbol: "%".to_owned(), scale: 100.0 },
            "s" | "V·s" => Self { symbol: format!("m{symbol}"), scale: 1e3 },
            _ => Self { symbol: symbol.to_owned(), scale: 1.0 },
        }
    }
}

/// A number in as many digits as all that is drawn and said needs.
fn exact(value: f64) -> f64 {
    format!("{value:.8e}").parse().unwrap_or(value)
}

/// The same of a share, without what rounding leaves of none or all.
fn exact_share(share: f64) -> f64 {
    match share {
        share if share < ROUNDING => 0.0,
        share if share > 1.0 - ROUNDING => 1.0,
        share => exact(share),
    }
}

/// More than rounding makes of a share, and less than any share that is told.
const ROUNDING: f64 = 1e-13;

fn quantity(figure: Figure) -> String {
    names::limit(&Demand { figure: Some(figure), limit: 0.0 }).long
}

/// One choice as a picture.
fn drawing(scenario: &Scenario, run: &Run, counts: &LimitCounts, scope: &ScopeCounts) -> Markup {
    let AxisUnit { symbol, scale } = AxisUnit::of(counts.figure);
    let samples = run.settings.samples as f64;
    let edges: Vec<f64> = scope.edges.iter().map(|edge| scale * edge).collect();
    let bins = scope.values.iter().zip(&scope.missing_others);
    let shares = bins.clone().map(|(all, others)| [*all, *others].map(|n| n as f64 / samples));
    let mut within = 0;
    let failures = bins.map(|(all, others)| {
        within += all - others;
        run.share_of_failures(run.settings.samples - within)
    });
    let allowed = 1.0 - scenario.limits.yield_target;
    let quantity = quantity(counts.figure);
    let long = names::arrangement(counts.arrangement).long;
    let name = Name {
        id: "other-limits-figure".to_owned(),
        title: format!("Samples by {quantity}, and failures over its limit: {long}"),
        description:
            "Above, the share of samples in each bin. Below, on the same axis, failures in ppm \
                      on a logarithmic scale with their confidence band, the limit and the target."
                .to_owned(),
    };
    let shown = LimitPlot {
        class: counts.arrangement.name(),
        edges: &edges,
        shares: shares.skip(1).take(edges.len().saturating_sub(1)).collect(),
        failures: failures.take(edges.len()).collect(),
        limit: counts.limit.map(|limit| Mark {
            value: scale * limit,
            label: format!("limit {}\u{a0}{symbol}", figures::short(scale * limit)),
        }),
        allowed: Mark { value: allowed, label: allowed_label(allowed) },
        least: least(run, allowed),
        axis: format!("{quantity}, {symbol}"),
    };
    limit_plot(&name, &shown)
}

fn allowed_label(allowed: f64) -> String {
    format!("target {}\u{a0}ppm", numbers::ppm(allowed))
}

/// The smallest share of failures that is told apart: a decade below what one sample is.
fn least(run: &Run, allowed: f64) -> f64 {
    let share = (0.9 / run.settings.samples as f64).min(0.1 * allowed);
    libm::pow(10.0, libm::floor(libm::log10(share)))
}

/// What a script draws from.
#[derive(Debug, Serialize)]
struct LimitData {
    samples: u64,
    /// Whether the shares are of the measured parts alone.
    alone: bool,
    target: f64,
    allowed: String,
    least: f64,
    /// Ends of the plots.
    places: [f64; 6],
    /// Names of the operating points, then that of all.
    points: Vec<String>,
    /// Failures, then the share that fails of all converters: lower and upper end of its interval.
    yields: Vec<(u64, f64, f64)>,
    arrangements: Vec<ArrangementName>,
    figures: Vec<FigureData>,
}

#[derive(Debug, Serialize)]
struct ArrangementName {
    class: &'static str,
    name: &'static str,
}

/// A quantity in both arrangements.
#[derive(Debug, Serialize)]
struct FigureData {
    name: String,
    unit: String,
    /// Chain, paralleled; null where it does not apply.
    views: [Option<ViewData>; 2],
}

#[derive(Debug, Serialize)]
struct ViewData {
    limit: Option<f64>,
    scopes: Vec<ScopeData>,
}

#[derive(Debug, Serialize)]
struct ScopeData {
    /// Among the names of the operating points.
    point: usize,
    /// First edge, and the distance from edge to edge.
    from: f64,
    step: f64,
    bins: usize,
    /// The place of the limit among the edges.
    at: Option<usize>,
    /// Samples by bin, and those that miss another limit: the first bin that holds any, then the counts.
    all: String,
    others: String,
    /// Samples within the limit, and those of them that meet all others.
    within: Option<[u64; 2]>,
}

fn data(scenario: &Scenario, run: &Run) -> String {
    let allowed = 1.0 - scenario.limits.yield_target;
    let points = run.cases.iter().step_by(Arrangement::ALL.len());
    let points = points.map(|case| case.operating_point().to_owned());
    let yields = run.yields.iter().map(|own| {
        (own.trials - own.successes, exact_share(1.0 - own.upper), exact_share(1.0 - own.lower))
    });
    let data = LimitData {
        samples: run.settings.samples,
        alone: is_of_measured_parts(run),
        target: scenario.limits.yield_target,
        allowed: allowed_label(allowed),
        least: least(run, allowed),
        places: limit_plot_places(),
        points: points.chain([ALL_POINTS.to_owned()]).collect(),
        yields: yields.collect(),
        arrangements: Arrangement::ALL
            .map(|own| ArrangementName { class: own.name(), name: names::arrangement(own).long })
            .into(),
        figures: figures_of(run),
    };
    json::line(&data)
}

fn figures_of(run: &Run) -> Vec<FigureData> {
    let mut figures: Vec<Figure> = Vec::new();
    for counts in &run.limit_counts {
        if !figures.contains(&counts.figure) {
            figures.push(counts.figure);
        }
    }
    let one = |figure: &Figure| FigureData {
        name: quantity(*figure),
        unit: AxisUnit::of(*figure).symbol,
        views: Arrangement::ALL.map(|arrangement| {
            let is_own =
                |own: &&LimitCounts| own.figure == *figure && own.arrangement == arrangement;
            run.limit_counts.iter().find(is_own).map(|own| view(run, own))
        }),
    };
    figures.iter().map(one).collect()
}

fn view(run: &Run, own: &LimitCounts) -> ViewData {
    let AxisUnit { scale, .. } = AxisUnit::of(own.figure);
    let points = run.cases.len() / Arrangement::ALL.len();
    let is_limit = |edge: &f64| own.limit.is_some_and(|limit| edge.total_cmp(&limit).is_eq());
    let scope = |scope: &ScopeCounts| {
        let [first, last] = [scope.edges.first(), scope.edges.last()];
        let [first, last] = [first, last].map(|edge| edge.copied().unwrap_or_default());
        let bins = scope.edges.len().saturating_sub(1);
        ScopeData {
            point: scope.case.map_or(points, |case| case / Arrangement::ALL.len()),
            from: exact(scale * first),
            step: exact(scale * (last - first) / bins.max(1) as f64),
            bins,
            at: scope.edges.iter().position(is_limit),
            all: packed_counts(&scope.values),
            others: packed_counts(&scope.missing_others),
            within: scope.within,
        }
    };
    // A single operating point is all of them.
    let scopes = own.scopes.iter().filter(|scope| points > 1 || scope.case.is_some());
    ViewData {
        limit: own.limit.map(|limit| exact(scale * limit)),
        scopes: scopes.map(scope).collect(),
    }
}
