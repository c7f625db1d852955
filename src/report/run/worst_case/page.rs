//! The worst cases on the page of a run.

use maud::{Markup, html};

use super::words;
use crate::converter::{Arrangement, Parameter};
use crate::report::format::figures::{self, Name, WorstCaseGroup, WorstCaseMarks};
use crate::report::format::page::parts::{
    arrangement, figure, folded_table, headings, number, table,
};
use crate::report::format::{names, numbers};
use crate::scenario::Scenario;
use crate::study::common::figures::Figure;
use crate::study::common::loss_figures::LossFigure;
use crate::study::explanation::Explanation;
use crate::study::explanation::worst_case::{ExtremeConverter, FrequencyExtremes, WorstCase};
use crate::study::run::Run;

/// What a section shows.
#[derive(Clone, Copy)]
struct Shown<'a> {
    scenario: &'a Scenario,
    run: &'a Run,
    worst_cases: &'a [WorstCase],
}

/// The worst case of every limited figure, three ways.
pub(in crate::report::run) fn section(
    scenario: &Scenario,
    run: &Run,
    explanation: &Explanation,
) -> Markup {
    let Some(worst_cases) = explanation.worst_cases.as_deref() else {
        return html! { p { "The run was interrupted before its worst cases were found." } };
    };
    let shown = Shown { scenario, run, worst_cases };
    let limited = OfFigure::all(worst_cases);
    html! {
        @if limited.is_empty() {
            p { "The scenario limits no figure." }
        } @else {
            p {
                (words::EXTREME) " " (outside(&shown))
            }
        }
        @if let Some(unsolved) = words::unsolved(run, explanation) { p class="notice" { (unsolved) } }
        @if !limited.is_empty() {
            (figures::worst_case_legend())
            div class="figures" { @for own in limited.iter().filter(|own| own.can_be_drawn()) { (drawing(&shown, own)) } }
            @for own in &limited { (values(&shown, own)) }
            (extreme_parts(&shown))
            (definitions(&shown))
        }
        (frequencies(&shown, &explanation.frequency_extremes))
    }
}

/// The frequencies that converters inside their bands need, against the frequency band.
fn frequencies(shown: &Shown, found: &[FrequencyExtremes]) -> Markup {
    let band = &shown.scenario.frequency;
    let names =
        ["operating point", "arrangement", "nominal", "lowest", "highest", "leaves the band"];
    let value = |extreme: Option<&ExtremeConverter>| {
        number(extreme.map_or_else(|| numbers::NONE.into(), |own| numbers::kilo(own.value)))
    };
    let rows = html! {
        @for own in found {
            @let case = &shown.run.cases[own.case];
            tr {
                th scope="row" class="wraps" { (case.operating_point()) }
                (arrangement(case.arrangement()))
                (number(numbers::kilo(own.nominal)))
                (value(own.lowest.as_ref()))
                (value(own.highest.as_ref()))
                td class="n" {
                    @match &own.unsolved {
                        Some(unsolved) => { strong { (unsolved.status.name()) } }
                        None => { "none found" }
                    }
                }
            }
        }
    };
    html! {
        @if !found.is_empty() {
            h3 { "Switching frequency" }
            (table("Frequency in kHz that solved converters need with every part inside its band", &headings(2, &names), &rows))
            p class="remark" {
                "Found by the same search, once for each end. The frequency band reaches from "
                (numbers::quantity(band.minimum)) " to " (numbers::quantity(band.maximum)) ". "
                em { "Leaves the band" } ": the search met a converter without a steady state in it. That none \
                 was found does not prove that there is none."
            }
        }
    }
}

/// How far the extreme values of the chain lie outside of what was sampled.
fn outside(shown: &Shown) -> Markup {
    let highest = words::highest(shown.run, shown.worst_cases, Arrangement::Chain);
    let farthest = highest
        .into_iter()
        .filter_map(|worst| Some((worst.times_as_far()?, worst)))
        .reduce(|farthest, next| if next.0 > farthest.0 { next } else { farthest });
    let Some((times, worst)) = farthest else { return html! {} };
    let write = |value: f64| words::with_unit(worst.figure, value);
    let largest = worst.largest_sample.map_or_else(|| numbers::NONE.into(), |own| write(own.value));
    let extreme =
        worst.extreme.as_ref().map_or_else(|| numbers::NONE.into(), |own| write(own.value));
    html! {
        "In the chain the extreme " (words::name(worst).long) " is " (extreme) ". That is "
        (numbers::three(times)) " times as far from the nominal value as the worst of "
        (numbers::samples(shown.run.settings.samples)) ", " (largest) "."
    }
}

/// The worst cases of a figure.
struct OfFigure<'a> {
    figure: Figure,
    name: String,
    worst_cases: Vec<&'a WorstCase>,
}

impl<'a> OfFigure<'a> {
    /// Whether a scale of multiples of the limit shows any value: not where all swings have more to spare than
    /// one of them.
    fn can_be_drawn(&self) -> bool {
        let values =
            |worst: &WorstCase| [Some(worst.nominal), worst.extreme.as_ref().map(|own| own.value)];
        let is_shown = |worst: &&WorstCase| {
            values(worst).into_iter().flatten().any(|value| worst.demand.use_of(value) > 0.0)
        };
        self.worst_cases.iter().any(is_shown)
    }

    /// All limited figures.
    fn all(worst_cases: &'a [WorstCase]) -> Vec<Self> {
        let mut all: Vec<Self> = Vec::new();
        for worst in worst_cases {
            match all.iter_mut().find(|known| known.figure == worst.figure) {
                Some(known) => known.worst_cases.push(worst),
                None => all.push(Self {
                    figure: worst.figure,
                    name: words::name(worst).long,
                    worst_cases: vec![worst],
                }),
            }
        }
        all
    }
}

/// The three ways against the limit, for each operating point and arrangement.
fn drawing(shown: &Shown, own: &OfFigure) -> Markup {
    let mut groups: Vec<WorstCaseGroup> = Vec::new();
    for worst in &own.worst_cases {
        let case = &shown.run.cases[worst.case];
        let share = |value: f64| worst.demand.use_of(value);
        let marks = WorstCaseMarks {
            class: case.arrangement().name(),
            nominal: share(worst.nominal),
            root_sum_square: worst.root_sum_square.map(share),
            tolerance_limit: worst.tolerance_limit.value().map(share),
            largest_sample: worst.largest_sample.map(|largest| share(largest.value)),
            extreme: worst.share_of_limit(),
        };
        match groups.last_mut() {
            Some(group) if group.label == case.operating_point() => group.marks.push(marks),
            _ => groups.push(WorstCaseGroup {
                label: case.operating_point().to_owned(),
                marks: vec![marks],
            }),
        }
    }
    let id = own.worst_cases.first().map_or_else(String::new, |worst| worst.demand.name());
    let name = Name {
        id: format!("worst-case-{}", id.replace('_', "-")),
        title: format!("Worst case of the {}", own.name),
        description: "Nominal value, root-sum-square value, tolerance limit, largest sample and extreme \
                      value against the limit, for every operating point and arrangement. The table \
                      below holds the numbers."
            .to_owned(),
    };
    let caption = html! {
        b { (names::capital(&own.name)) } " in multiples of the limit. What is too small for the axis stands \
        at its left end."
    };
    figure(&figures::worst_cases(&name, &groups), &caption)
}

fn values(shown: &Shown, own: &OfFigure) -> Markup {
    let target = numbers::given_percent(shown.scenario.limits.yield_target);
    let names = [
        "operating point",
        "arrangement",
        "limit",
        "nominal",
        "root-sum-square",
        &format!("{target} of converters keep to"),
        sample_heading(words::is_better_high(own.figure)),
        "extreme value",
        "parts at ends of bands",
    ];
    let rows = html! {
        @for worst in &own.worst_cases {
            @let case = &shown.run.cases[worst.case];
            @let of_point =
                own.worst_cases.iter().filter(|other| shown.run.cases[other.case].operating_point() == case.operating_point());
            tr {
                @if of_point.clone().next().is_some_and(|first| first.case == worst.case) {
                    th scope="rowgroup" rowspan=(of_point.count()) class="wraps" data-point=(case.operating_point()) {
                        (case.operating_point())
                    }
                }
                (arrangement(case.arrangement()))
                (value_cells(worst))
            }
        }
    };
    let is_better_high = words::is_better_high(own.figure);
    let caption = format!(
        "{} in {}; bold: {} the limit; below the {}: its number",
        names::capital(&own.name),
        words::unit(own.figure),
        if is_better_high { "below" } else { "above" },
        sample_heading(is_better_high)
    );
    html! {
        (folded_table(&caption, &headings(2, &names), &rows))
        @if own.worst_cases.iter().any(|own| is_far_too_hot(own)) {
            p class="remark" {
                "A temperature far above its limit says no more than that: there the model, whose resistances \
                 rise in a straight line, no longer holds."
            }
        }
    }
}

/// The sample whose value is the worst.
fn sample_heading(is_better_high: bool) -> &'static str {
    if is_better_high { "smallest sample" } else { "largest sample" }
}

/// Whether it is a junction that no device bears.
fn is_far_too_hot(worst: &WorstCase) -> bool {
    let is_junction = worst.figure == Figure::Losses(LossFigure::Junction);
    let extreme = worst.extreme.as_ref().map_or(0.0, |own| own.value);
    is_junction && extreme > worst.demand.limit + FAR_TOO_HOT
}

/// Kelvin above its limit at which a junction is far too hot for the model.
const FAR_TOO_HOT: f64 = 100.0;

/// Limit, nominal value, the three ways, and how many parts lie at ends of their bands.
fn value_cells(worst: &WorstCase) -> Markup {
    let write = |value: f64| words::without_unit(worst.figure, value);
    let limited = |value: Option<f64>, remark: &str| {
        let text = value.map_or_else(|| numbers::NONE.to_owned(), write);
        html! {
            td class="n" {
                @if value.is_some_and(|value| value > worst.demand.limit) {
                    strong { (text) }
                } @else { (text) }
                @if !remark.is_empty() { br; small { (remark) } }
            }
        }
    };
    let sample =
        worst.largest_sample.map_or_else(String::new, |own| format!("sample {}", own.sample));
    let extreme = worst.extreme.as_ref();
    let search = if extreme.is_some_and(|own| !own.settled) { "search cut short" } else { "" };
    html! {
        (number(write(worst.demand.limit)))
        (limited(Some(worst.nominal), ""))
        (limited(worst.root_sum_square, ""))
        @if let Some(value) = worst.tolerance_limit.value() { (limited(Some(value), "")) }
        @else { (number(words::tolerance_limit(worst, write))) }
        (limited(worst.largest_sample.map(|own| own.value), &sample))
        (limited(extreme.map(|own| own.value), search))
        @match extreme {
            Some(own) => (number(format!("{} of {}", own.at_ends, worst.parts))),
            None => (number(numbers::NONE)),
        }
    }
}

/// The parts of the chain's extreme converters, at the operating point where each lies highest.
fn extreme_parts(shown: &Shown) -> Markup {
    let highest = words::highest(shown.run, shown.worst_cases, Arrangement::Chain);
    let mut heads = vec!["extreme value of", "phase"];
    heads.extend(Parameter::of_tank().map(|parameter| names::parameter(parameter).short));
    heads.extend(["Cf", "Cf, return leg"]);
    let phases = shown.scenario.phases;
    let rows = html! {
        @for worst in highest {
            @if let Some(extreme) = &worst.extreme {
                @for phase in 0..phases {
                    tr {
                        @if phase == 0 {
                            th scope="rowgroup" rowspan=(phases) class="wraps" {
                                (words::name(worst).short) br;
                                small { (shown.run.cases[worst.case].operating_point()) }
                            }
                        }
                        th scope="row" { (phase + 1) }
                        (deviations(shown, extreme, phase))
                    }
                }
            }
        }
    };
    html! {
        h3 { "Parts of the extreme converters" }
        (folded_table(
            "Deviations from the nominal values in percent, in the chain, each at the operating point \
             where the figure lies highest against its limit",
            &headings(1, &heads),
            &rows,
        ))
    }
}

/// How far the parts of a phase are from their nominal values.
fn deviations(shown: &Shown, extreme: &ExtremeConverter, phase: usize) -> Markup {
    let nominal = shown.scenario.nominal_converter();
    let write = |parameter: Parameter, index: usize| {
        let deviation = extreme.deviation(&nominal, parameter, index);
        number(deviation.map_or_else(
            || numbers::NONE.to_owned(),
            |deviation| numbers::signed(100.0 * deviation, 2),
        ))
    };
    let flying = shown.scenario.phases - 1;
    html! {
        @for parameter in Parameter::of_tank() { (write(parameter, phase)) }
        @for leg in 0..2 {
            @if phase < flying { (write(Parameter::FlyingCapacitance, leg * flying + phase)) }
            @else { (number(numbers::NONE)) }
        }
    }
}

/// How each of the three ways is defined.
fn definitions(shown: &Shown) -> Markup {
    let limits = &shown.scenario.limits;
    html! {
        dl class="remark" {
            dt { "Extreme value" }
            dd {
                "A bounded search over all parts of all phases, each inside its band. It starts from the \
                 largest sample, and from the highest of some further samples. Other starts are the highest \
                 corners that the sensitivities of every phase and switch point to. It then goes on from worse extremes of \
                 other operating points. Parts may rest inside their bands. Where a search was cut short, the work allowed ended \
                 first. " code { "units" }
                " finds the same value: " code { "worst_converters.csv" } " holds all extreme \
                 converters. Whether such a converter is ever built is another question: correlation, \
                 lots and shapes of the scatter have no effect here."
            }
            dt { "Root-sum-square" }
            dd {
                "For each phase or switch: the value with every part at mid-band, and the \
                 square root of Σ (∂f/∂x · half width of the band)². Parts of one lot share their \
                 scatter: the sum is then a quadratic form with their correlations. The largest of all \
                 phases or switches is shown. For the sharing error f is the signed deviation of one \
                 phase, or the difference of two. This is a first-order value: where the figure bends \
                 inside the bands, it can be far off, and above what is possible."
            }
            dt { "Monte Carlo" }
            dd {
                (names::capital(&words::kept_to(limits))) ": the upper end of the interval of that quantile, \
                 from order statistics. With this value as its limit, the figure alone would pass. Samples \
                 without a value count above all values. The largest sample is no bound: more samples \
                 give a larger one."
            }
        }
    }
}
