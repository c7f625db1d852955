//! The brief of a stock that was allotted alone: how many converters it makes, and what belongs together.

use maud::{Markup, html};

use crate::report::format::figures::{LabelledBar, Name, labelled_bars};
use crate::report::format::names::{self, PARTIAL};
use crate::report::format::numbers::{NONE, counted, percent, percent_of_three, significant};
use crate::report::format::page::brief::{Brief, Finding, brief, sentences, short_brief};
use crate::report::format::page::brief_basis::{caution, judged_at, limits, nominal_phase};
use crate::report::format::page::parts::{headings, headings_with_text_last, number};
use crate::report::format::premises;
use crate::report::grades::allotted_stock::AllottedStock;
use crate::report::grades::words;
use crate::solver::Method;
use crate::study::allocation::{
    Allocation, Bottleneck, FrequentMiss, Mend, PlannedConverter, REPEATS, Stock, StockAllocation,
};

/// Converters that fail and operating points shown, and serial numbers in a column of converters to build: more would not fit the sheet.
const BUILT_SERIALS: usize = 60;
const FAILING: usize = 5;
const POINTS: usize = 6;

/// The first sheet.
pub(in crate::report::grades) fn stock_sheet(told: AllottedStock) -> Markup {
    let AllottedStock { scenario, stocked, .. } = told;
    let StockAllocation { stock, allocation } = stocked;
    let found = allocation.as_ref();
    let second = found.map(|own| vec![ways(own), limiting(own)]);
    let failing = found.filter(|own| !own.rejected.is_empty()).map(|own| failing(stock, own));
    // A list of tanks alone leaves paper empty.
    let drawn = if stock.capacitors_file.is_some() { brief } else { short_brief };
    drawn(&Brief {
        question:
            "How many converters do the parts in stock make that keep every limit, and which parts \
                   belong together?"
                .to_owned(),
        answer: answer(found),
        verdicts: Vec::new(),
        measure: measure(stock),
        notice: notice(told),
        columns: [
            found.map(|own| build_list(stock, own)).into_iter().collect(),
            second.unwrap_or_default(),
            failing.into_iter().chain([judged_at(scenario, POINTS)]).collect(),
        ],
        last: [
            list("How sure", &how_sure(told)),
            list("What would change this answer", &found.map_or_else(Vec::new, changes)),
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

fn list(heading: &str, told: &[String]) -> Finding {
    Finding { heading: heading.to_owned(), remark: None, inside: sentences(told) }
}

fn answer(found: Option<&Allocation>) -> String {
    let Some(found) = found else { return "The parts in stock were not allotted.".to_owned() };
    format!(
        "{} of {} keep{} every limit when built as listed; {} on average when tanks are taken at random.",
        found.allocated,
        counted(found.converters as u64, "converter"),
        if found.converters == 1 { "s" } else { "" },
        significant(found.at_random.mean, 3)
    )
}

/// What there is, and from which files.
fn measure(stock: &Stock) -> String {
    let tanks =
        format!("{} ({})", counted(stock.tanks.len() as u64, "measured tank"), stock.tanks_file);
    match &stock.capacitors_file {
        Some(file) => {
            let capacitors = counted(stock.capacitors.len() as u64, "measured flying capacitor");
            format!("{tanks}, {capacitors} ({file})")
        }
        None => format!("{tanks}; flying capacitors count as nominal"),
    }
}

fn notice(told: AllottedStock) -> Option<Markup> {
    let is_averaged = told.settings.method == Method::Averaged;
    let missing = premises::missing_limit(told.scenario);
    (told.stocked.is_partial() || is_averaged || missing.is_some()).then(|| {
        html! {
            @if let Some(missing) = missing { p { (missing) } }
            @if told.stocked.is_partial() {
                p { strong { (PARTIAL) } " Not all searches were done: the list is the best by then." }
            }
            @if is_averaged {
                p {
                    strong { "Averaged solver." }
                    " It understates the sharing error. Decide with the exact solver."
                }
            }
        }
    })
}

/// Passing converters by the way of allotting the tanks.
fn ways(found: &Allocation) -> Finding {
    let bar = |label: &str, passing: f64, text: String| LabelledBar {
        label: label.to_owned(),
        value: passing,
        text: format!("{text} ({})", percent_of_three(found.share(passing))),
    };
    let counted = |label, passing: usize| bar(label, passing as f64, passing.to_string());
    let mean = found.at_random.mean;
    let bars = [
        counted("as listed", found.allocated),
        counted("sorted by resonance", found.sorted),
        bar("at random, mean", mean, significant(mean, 3)),
        counted("converters in stock", found.converters),
    ];
    let name = Name {
        id: "stock-ways".into(),
        title: "Passing converters by the way of allotting the tanks".into(),
        description:
            "Bars for the list, for tanks sorted by series resonance, and for tanks at random, \
                      below them all converters that the stock is enough for."
                .into(),
    };
    let gain = found.allocated as f64 - mean;
    let heading = if gain > 0.0 {
        format!("The list makes {} more pass than tanks at random", significant(gain, 3))
    } else {
        "The list makes no more pass than tanks at random".to_owned()
    };
    let remark = format!(
        "Converters that keep every limit. {REPEATS} draws at random: {} to {}.",
        found.at_random.least, found.at_random.most
    );
    Finding { heading, remark: Some(remark), inside: labelled_bars(&name, "chain", &bars, None) }
}

fn build_list(stock: &Stock, found: &Allocation) -> Finding {
    if found.build_list.is_empty() {
        let inside = html! { p { "No converter of these parts keeps every limit." } };
        return Finding { heading: "Nothing to build".to_owned(), remark: None, inside };
    }
    let serials =
        found.build_list.first().map_or(1, |own| own.tanks.len().max(own.capacitors.len()));
    let most = BUILT_SERIALS / serials.max(3);
    let shown = found.build_list.iter().take(most);
    let more = found.build_list.len().saturating_sub(most);
    let remark = (more > 0).then(|| format!("{more} more stand in build_list.csv."));
    let has_capacitors = found.reach.capacitors.is_some();
    let mut names = vec!["converter", "tanks, phase by phase", "sharing error"];
    if has_capacitors {
        names.insert(2, "flying capacitors");
    }
    let inside = html! {
        table {
            thead { (headings(names.len() - 1, &names)) }
            tbody {
                @for (n, own) in shown.enumerate() {
                    tr {
                        th scope="row" { (n + 1) }
                        td class="wraps words" { (tanks(stock, own)) }
                        @if has_capacitors { td class="wraps words" { (capacitors(stock, own)) } }
                        (number(own.evaluation.sharing_error.map_or_else(|| NONE.into(), percent)))
                    }
                }
            }
        }
    };
    let heading = "What to build; those that share best come first".to_owned();
    Finding { heading, remark, inside }
}

fn tanks(stock: &Stock, planned: &PlannedConverter) -> String {
    let serials: Vec<&str> =
        planned.tanks.iter().map(|n| stock.tanks[*n].serial.as_str()).collect();
    serials.join(", ")
}

fn capacitors(stock: &Stock, planned: &PlannedConverter) -> String {
    let serials: Vec<&str> =
        planned.capacitors.iter().map(|n| stock.capacitors[*n].serial.as_str()).collect();
    serials.join(", ")
}

/// The bottleneck, and what is left over.
fn limiting(found: &Allocation) -> Finding {
    let heading = match found.bottleneck() {
        Bottleneck::Limits => "Limits keep converters from passing",
        Bottleneck::Tanks => "Tanks run out first",
        Bottleneck::Capacitors => "Flying capacitors run out first",
        Bottleneck::Both => "Tanks and flying capacitors run out together",
    };
    let mut left = vec![counted(found.spare_tanks.len() as u64, "tank")];
    if found.reach.capacitors.is_some() {
        left.push(counted(found.spare_capacitors.len() as u64, "flying capacitor"));
    }
    let inside = html! { p { (words::bottleneck(found)) " Left over: " (left.join(", ")) "." } };
    Finding { heading: heading.to_owned(), remark: None, inside }
}

/// The converters that fail, and what would mend them.
fn failing(stock: &Stock, found: &Allocation) -> Finding {
    let mendable = mendable(found);
    let all = found.rejected.len();
    let more = all.saturating_sub(FAILING);
    let inside = html! {
        table {
            thead { (headings_with_text_last(&["tanks", "exchange that mends it"])) }
            tbody {
                @for own in found.rejected.iter().take(FAILING) {
                    tr {
                        th scope="row" class="wraps" { (tanks(stock, &own.planned)) }
                        td class="wraps" { (words::mend(stock, own)) }
                    }
                }
            }
        }
        @if more > 0 { p class="remark" { (more) " more stand in " code { "not_passing.csv" } "." } }
    };
    let heading = match all {
        1 => {
            format!("One exchanged part mends {} that fails", ["none", "the one"][mendable.min(1)])
        }
        _ => format!("One exchanged part mends {mendable} of the {all} that fail"),
    };
    Finding { heading, remark: None, inside }
}

/// Converters that one exchange makes pass.
fn mendable(found: &Allocation) -> usize {
    found.rejected.iter().filter(|own| matches!(own.mend, Mend::Exchange(_))).count()
}

fn how_sure(told: AllottedStock) -> Vec<String> {
    let method = names::method(told.settings.method).long;
    let mut all = vec![format!(
        "The {method} solver solved every converter with its measured values, at all operating points."
    )];
    all.extend(told.stocked.allocation.as_ref().map(|found| words::proof(found).to_owned()));
    all.push("Values count as measured: the list says nothing of measuring errors.".to_owned());
    all
}

fn changes(found: &Allocation) -> Vec<String> {
    let mut all: Vec<String> = match (found.bottleneck(), found.frequent_miss()) {
        (Bottleneck::Limits, Some(FrequentMiss { missed, converters })) => vec![format!(
            "A wider limit on {} at “{}”: {converters} of {} that fail miss it first.",
            names::limit(&missed.demand).long,
            missed.operating_point,
            found.rejected.len()
        )],
        (Bottleneck::Limits, None) => Vec::new(),
        (Bottleneck::Tanks, _) => vec!["More tanks.".to_owned()],
        (Bottleneck::Capacitors, _) => vec!["More flying capacitors.".to_owned()],
        (Bottleneck::Both, _) => vec!["More tanks and more flying capacitors.".to_owned()],
    };
    let mendable = mendable(found);
    if mendable > 0 {
        all.push(format!(
            "{} in place of those named makes {mendable} more pass.",
            if mendable == 1 { "One part" } else { "A part each" }
        ));
    }
    all.push("Other measured values: the list holds for these parts alone.".to_owned());
    all
}
