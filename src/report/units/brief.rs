//! The brief of `units`: do these converters meet every limit, and does the model hold?

use maud::{Markup, html};

use super::sharing_errors::sharing_errors;
use super::source::UnitsSource;
use super::{switching, words};
use crate::converter::Arrangement;
use crate::report::format::figures::{DifferenceRow, Name, differences};
use crate::report::format::names;
use crate::report::format::numbers::{
    NONE, count, counted, given_percent, percent_of_three, quantity, signed_percent, three,
};
use crate::report::format::page::brief::{
    Brief, Finding, both_widths, brief, sentences, short_brief,
};
use crate::report::format::page::brief_basis::{caution, judged_at, limits, nominal_phase};
use crate::report::format::page::parts::{headings_with_text_last, number};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::common::demand::Demand;
use crate::study::units::{CurrentComparison, Listed, MeasuredLoad};

/// Converters, deviations, misses and operating points shown: more would not fit the sheet.
const CONVERTERS: usize = 5;
const DEVIATIONS: usize = 8;
const MISSES: usize = 5;
const POINTS: usize = 5;
/// So few converters, or none with measured currents, leave paper empty.
const SHORT: usize = 3;

/// The first sheet.
pub(super) fn sheet(
    scenario: &Scenario,
    source: &UnitsSource,
    listed: &Listed,
    method: Method,
) -> Markup {
    let [chain, paralleled] = words::answer(scenario, listed);
    let is_averaged = method == Method::Averaged;
    let is_short = listed.verdicts.len() <= SHORT || listed.measured.is_empty();
    let drawn = if is_short { short_brief } else { brief };
    drawn(&Brief {
        question: question(listed),
        answer: format!("{chain} {paralleled}"),
        verdicts: Vec::new(),
        measure: format!("parts: {}", source.parts.name),
        notice: is_averaged.then(|| {
            html! {
                p {
                    "A quick look only: the averaged (fundamental harmonic) solver may understate sharing \
                     errors. Take decisions from the exact solver."
                }
            }
        }),
        columns: columns(scenario, listed),
        last: [
            list("How sure", &how_sure(scenario, listed, method)),
            list("What would change this answer", &changes(listed)),
        ],
        foot: vec![
            limits(scenario),
            nominal_phase(scenario),
            caution(&html! {
                a href="#cautions" { "Cautions" } " and " a href="#validity" { "limits of validity" } " apply."
            }),
        ],
    })
}

/// Where currents were measured, their figure takes most of the first column.
fn columns(scenario: &Scenario, listed: &Listed) -> [Vec<Finding>; 3] {
    let [errors, converters] = [sharing_errors(scenario, listed), converters(scenario, listed)];
    let (points, misses) = (judged_at(scenario, POINTS), vec![misses(scenario, listed)]);
    match deviations(listed) {
        Some(own) => [vec![own, errors], vec![converters, points], misses],
        None => [vec![errors, converters], vec![points], misses],
    }
}

fn question(listed: &Listed) -> String {
    if listed.measured.is_empty() {
        "Do these converters meet every limit?".to_owned()
    } else {
        "Do these converters meet every limit, and do they behave as predicted?".to_owned()
    }
}

fn list(heading: &str, all: &[String]) -> Finding {
    Finding { heading: heading.to_owned(), remark: None, inside: sentences(all) }
}

fn name(id: &str, title: &str, description: &str) -> Name {
    Name { id: format!("brief-{id}"), title: title.to_owned(), description: description.to_owned() }
}

/// A row a converter, the worst in the chain first.
fn converters(scenario: &Scenario, listed: &Listed) -> Finding {
    let order = listed.worst_first();
    let [chain, _] = &listed.limits_met;
    let more = order.len().saturating_sub(CONVERTERS);
    let is_one = order.len() == 1;
    let [pass, passes] = if words::has_limits(scenario) {
        ["pass", "passes"]
    } else {
        ["reach the output", "reaches the output"]
    };
    Finding {
        heading: match (is_one, chain.meeting) {
            (true, 0) => format!("The converter does not {pass} in the chain"),
            (true, _) => format!("The converter {passes} in the chain"),
            (false, meeting) => format!(
                "{} of {} converters {pass} in the chain",
                count(meeting as u64),
                count(chain.units as u64)
            ),
        },
        remark: Some(words::at_worst_points(is_one).to_owned() + "."),
        inside: html! {
            table {
                thead {
                    (headings_with_text_last(&["converter", "sharing error", "switch RMS, A", "blocking, V", "misses"]))
                }
                tbody { @for unit in order.iter().take(CONVERTERS) { (converter(listed, *unit)) } }
            }
            @if more > 0 { p class="remark" { (count(more as u64)) " more pass by more or miss by less." } }
        },
    }
}

fn converter(listed: &Listed, unit: usize) -> Markup {
    let [chain, _] = &listed.verdicts[unit];
    let switches = chain.worst_switches.as_ref();
    let current = switches.map(|own| three(own.rms_current.0));
    let voltage = switches.map(|own| three(own.blocking_voltage.0));
    let miss = chain.worst_miss.as_ref().map(|own| match own.missed.demand.figure {
        Some(_) => names::limit(&own.missed.demand).short,
        None => "no steady state".to_owned(),
    });
    html! {
        tr class=[(!chain.meets_limits).then_some("limited")] {
            th scope="row" { (listed.of_unit(unit)[0].name) }
            (number(chain.sharing_error.map_or_else(|| NONE.to_owned(), percent_of_three)))
            (number(current.unwrap_or_else(|| NONE.to_owned())))
            (number(voltage.unwrap_or_else(|| NONE.to_owned())))
            td { (miss.unwrap_or_else(|| NONE.to_owned())) }
        }
    }
}

/// A measured current that was compared, with its load.
struct Compared<'a> {
    load: &'a MeasuredLoad,
    comparison: CurrentComparison,
    relative: f64,
}

/// The largest deviations of measured currents from the prediction.
fn deviations(listed: &Listed) -> Option<Finding> {
    let loads = listed.measured.iter();
    let mut all: Vec<Compared> = loads
        .flat_map(|load| {
            load.comparisons().filter_map(move |comparison| {
                let relative = comparison.relative()?;
                Some(Compared { load, comparison, relative })
            })
        })
        .collect();
    all.sort_by(|a, b| b.relative.abs().total_cmp(&a.relative.abs()));
    let largest = all.first()?;
    let heading = format!(
        "Measured currents differ from the prediction by at most {}",
        signed_percent(largest.relative.abs()).trim_start_matches('+')
    );
    let uncertainty = listed.measuring_uncertainty.unwrap_or(0.0);
    let rows: Vec<DifferenceRow> =
        all.iter().take(DEVIATIONS).map(|own| row(own, uncertainty)).collect();
    let title = "The largest deviations of measured currents from the prediction";
    let text =
        "A row a current: a dot at measured less predicted, a line over the measuring uncertainty.";
    let drawn = |id: &str, is_wide: bool| {
        let axis = "measured less predicted, % of the phases’ mean";
        differences(&name(id, title, text), &rows, axis, is_wide)
    };
    Some(Finding {
        heading,
        remark: Some(match listed.measuring_uncertainty {
            Some(own) => format!(
                "Line: measuring uncertainty of {}. Filled dot: outside of it.",
                given_percent(own)
            ),
            None => "The measuring uncertainty was not given.".to_owned(),
        }),
        inside: both_widths(&drawn("deviations", true), &drawn("deviations-narrow", false)),
    })
}

fn row(own: &Compared, uncertainty: f64) -> DifferenceRow {
    let Compared { load, comparison, relative } = own;
    let predicted = comparison.predicted.map(|predicted| quantity(predicted.value));
    let whole = comparison.predicted.map_or(1.0, |own| own.value.0 / own.mean.0);
    let half = 100.0 * uncertainty * whole;
    DifferenceRow {
        label: format!(
            "{}, {}, phase {}",
            load.unit,
            words::current(comparison.current),
            comparison.phase + 1
        ),
        text: format!(
            "{} {} {}: {} for {}",
            load.operating_point,
            quantity(load.output_power()),
            names::arrangement(load.arrangement()).short,
            quantity(comparison.measured),
            predicted.unwrap_or_default()
        ),
        change: signed_percent(*relative),
        estimate: 100.0 * relative,
        interval: [100.0 * relative - half, 100.0 * relative + half],
        is_shown: comparison.is_within(uncertainty) == Some(false) && uncertainty > 0.0,
    }
}

fn misses(scenario: &Scenario, listed: &Listed) -> Finding {
    let met = |arrangement: Arrangement| {
        listed.limits_met.iter().find(|own| own.arrangement == arrangement)
    };
    let mut all: Vec<String> = Vec::new();
    for arrangement in Arrangement::ALL {
        let Some(own) = met(arrangement) else { continue };
        let short = names::arrangement(arrangement).short;
        let lines = words::misses(own);
        all.extend(lines.iter().take(MISSES).map(|line| format!("{short}: {line}.")));
    }
    let heading = match all.is_empty() {
        true if words::has_limits(scenario) => "No limit is missed",
        true => "The scenario sets no limit for the chain",
        false => "Limits missed, worst first",
    };
    if all.is_empty() {
        let said = match Arrangement::ALL.map(|own| Demand::is_any_set(&scenario.limits, own)) {
            [true, true] => "Every listed converter meets every limit in both arrangements.",
            [true, false] => {
                "Every listed converter meets every limit in the chain, and reaches the output paralleled. \
                 No limit is set for that."
            }
            [false, true] => {
                "Paralleled, every listed converter meets every limit. In the chain it reaches the output, and \
                 no limit is set for that."
            }
            [false, false] => "Every listed converter reaches the output in both arrangements.",
        };
        all.push(said.to_owned());
    }
    list(heading, &all)
}

fn how_sure(scenario: &Scenario, listed: &Listed, method: Method) -> Vec<String> {
    let mut all = vec![format!(
        "{} solved by the {} solver with the parts as listed; nothing is sampled.",
        counted(listed.verdicts.len() as u64, "converter"),
        names::method(method).long
    )];
    // The largest deviation stands above.
    let told = usize::from(listed.deviations.largest.is_some());
    all.extend(words::deviation(listed).into_iter().skip(told));
    all.extend(switching::shift_told(scenario, listed));
    if listed.measured.is_empty() {
        all.push("No currents were measured: the model is not tested here.".to_owned());
    }
    all
}

fn changes(listed: &Listed) -> Vec<String> {
    let mut all =
        vec!["Parts that were measured wrongly: a converter is as good as its list.".to_owned()];
    if listed.over_load.is_none() {
        all.push(
            "Other loads: --over-load follows every converter from a tenth of the power."
                .to_owned(),
        );
    }
    all
}
