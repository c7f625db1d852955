//! The page of listed units: the answer, a row a converter, then phases, figures and what is measured.

use maud::{Markup, html};

use super::source::UnitsSource;
use super::{brief, converters, losses, measured, over_load, part_loads, phases, switching, words};
use crate::converter::Drive;
use crate::report::format::command;
use crate::report::format::configuration::page as choice;
use crate::report::format::missed;
use crate::report::format::page::parts::{
    arrangement, headings, headings_with_text_last, number, remarked, section, table,
};
use crate::report::format::page::prose::{self, read_as};
use crate::report::format::page::{SHARING, briefed_document, generator};
use crate::report::format::waveforms as drawn_waveforms;
use crate::report::format::{names, numbers};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::units::{
    Listed, PointStatistics, UnitVerdict, WorstSwitches, WorstUnitWaveforms,
};

/// Most rows of converters, and of operating points.
const ROWS: usize = 100;

/// The whole page.
pub(super) fn page(
    scenario: &Scenario,
    source: &UnitsSource,
    listed: &Listed,
    method: Method,
) -> String {
    let mut fields = vec![scenario.source_name.clone(), source.parts.name.clone()];
    fields.extend(source.measured.as_ref().map(|file| file.name.clone()));
    fields.extend([generator(), format!("{} solver", names::method(method).long)]);
    let drives: Vec<Drive> = listed.results.iter().map(|result| result.point.drive).collect();
    let inside = html! {
        (converters::page(scenario, listed))
        (section("verdict", "Verdict", &verdict(scenario, source, listed, method)))
        (measured::page(listed))
        (over_load::page(scenario, listed))
        (section("phases", "Currents of the phases", &phases::page(scenario, listed)))
        (part_loads::page(scenario, listed))
        (losses::page(listed))
        (switching::page(scenario, listed))
        @if let Some(own) = &listed.worst_waveforms {
            (section("waveforms", "Why they share", &waveforms(own, listed.verdicts.len() == 1)))
        }
        (section("basis", "Basis of comparison", &prose::basis(scenario)))
        (section("validity", "Limits of validity", &prose::model(scenario, &drives)))
        (section("cautions", "Cautions", &prose::cautions()))
        (section("reproduce", "Making it again", &html! {
            p { "In a folder that holds these files:" }
            pre { code { (again(scenario, source, listed, method)) } }
        }))
    };
    let brief = brief::sheet(scenario, source, listed, method);
    briefed_document(SHARING, &scenario.title, &fields, &brief, inside)
}

/// The command that makes it again.
fn again(scenario: &Scenario, source: &UnitsSource, listed: &Listed, method: Method) -> String {
    let options = command::UnitsOptions {
        parts: &source.parts.name,
        measured: source.measured.as_ref().map(|file| file.name.as_str()),
        measuring_uncertainty: listed.measuring_uncertainty,
        over_load: listed.over_load.is_some(),
    };
    command::units(scenario, &options, method)
}

/// How many converters meet every limit, what the others miss, and a row a converter.
fn verdict(scenario: &Scenario, source: &UnitsSource, listed: &Listed, method: Method) -> Markup {
    let [chain, paralleled] = words::answer(scenario, listed);
    html! {
        @if method == Method::Averaged {
            p class="notice" {
                "A quick look only: the averaged (fundamental harmonic) solver may understate sharing \
                 errors. Take decisions from the exact solver."
            }
        }
        p class="lead" { strong { (chain) } " " (paralleled) }
        @for met in &listed.limits_met {
            @if !met.missed.is_empty() {
                p { (words::misses_heading(met.arrangement)) }
                ul { @for miss in words::misses(met) { li { (miss) } } }
            }
        }
        @for file in source.files() { (read_as(&file.name, file.read_as.as_deref())) }
        (unit_table(listed))
        (statistics(listed))
        p class="remark" {
            "Sharing error: " (names::sharing(scenario.limits.sharing)) ". A converter that is out of \
             range or not solved does not meet its limits."
        }
        (choice::choices(listed.choices.iter()))
    }
}

/// The waveforms of the worst converter.
fn waveforms(own: &WorstUnitWaveforms, is_one: bool) -> Markup {
    let WorstUnitWaveforms { unit, operating_point, arrangements } = own;
    let (choice, whose) = if is_one {
        (format!("“{unit}” at “{operating_point}”"), "the converter")
    } else {
        let choice = format!("The worst in the chain: “{unit}” at “{operating_point}”");
        (choice, "the worst converter in the chain")
    };
    html! {
        p {
            (drawn_waveforms::WHY) " " (drawn_waveforms::TANKS) " One period of " (whose) ", where its sharing error is largest. " code { "--waveforms FILE.csv" } " writes those of all."
        }
        (drawn_waveforms::figures("unit", &choice, arrangements))
    }
}

/// A row a converter, over all operating points.
fn unit_table(listed: &Listed) -> Markup {
    let names = [
        "converter",
        "limits",
        "sharing error",
        "worst switch RMS, A",
        "switch peak, A",
        "blocking, V",
        "paralleled: limits",
        "paralleled: sharing error",
        "missed most in the chain",
    ];
    let order = listed.worst_first();
    let rows = html! { @for unit in order.iter().take(ROWS) { (unit_row(listed, *unit)) } };
    let caption = words::at_worst_points(order.len() == 1);
    html! {
        (table(caption, &headings_with_text_last(&names), &rows))
        @if order.len() > ROWS {
            p {
                "Shown are the worst " (ROWS) " of " (numbers::count(order.len() as u64))
                " converters. All are in " code { "units.csv" } " and " code { "summary.json" } "."
            }
        }
    }
}

fn unit_row(listed: &Listed, unit: usize) -> Markup {
    let results = listed.of_unit(unit);
    let [chain, paralleled] = &listed.verdicts[unit];
    let error = |verdict: &UnitVerdict| {
        verdict.sharing_error.map_or_else(|| numbers::NONE.into(), numbers::percent)
    };
    let legs = results.iter().map(|result| result.point.drive.legs()).max().unwrap_or(1);
    let miss = chain.worst_miss.as_ref().map_or_else(
        || numbers::NONE.to_owned(),
        |miss| match miss.missed.demand.figure {
            Some(_) => {
                format!("{}, {}", missed::figure_and_limit(&miss.missed), miss.operating_point)
            }
            None => format!("no steady state, {}", miss.operating_point),
        },
    );
    html! {
        tr class=[(!chain.meets_limits).then_some("limited")] {
            th scope="row" { (results[0].name) }
            (number(met(chain)))
            (number(error(chain)))
            (switch_cells(chain.worst_switches.as_ref(), legs))
            (number(met(paralleled)))
            (number(error(paralleled)))
            td { (miss) }
        }
    }
}

/// Whether a converter meets its limits, in a word.
fn met(verdict: &UnitVerdict) -> &'static str {
    match verdict {
        UnitVerdict { unsolved: 1.., .. } => "unsolved",
        UnitVerdict { meets_limits: true, .. } => "met",
        _ => "missed",
    }
}

/// RMS with the switch that carries it, peak and blocking voltage.
fn switch_cells(worst: Option<&WorstSwitches>, legs: usize) -> Markup {
    html! {
        @match worst {
            Some(worst) => {
                @match worst.switch {
                    Some(switch) => (remarked(&numbers::four(worst.rms_current.0), &names::switch(switch, legs))),
                    None => (number(numbers::four(worst.rms_current.0))),
                }
                (number(numbers::four(worst.peak_current.0)))
                (number(numbers::four(worst.blocking_voltage.0)))
            },
            None => @for _ in 0..3 { (number(numbers::NONE)) },
        }
    }
}

/// All converters at each operating point; nothing for a single one.
fn statistics(listed: &Listed) -> Markup {
    if listed.verdicts.len() == 1 {
        return html! {};
    }
    let names = [
        "operating point",
        "arrangement",
        "solved",
        "meet limits",
        "sharing error, median",
        "largest",
        "switch RMS, largest, A",
        "peak, largest, A",
        "blocking, largest, V",
    ];
    let rows = html! {
        @for found in listed.statistics.iter().take(ROWS) { (statistics_row(found)) }
    };
    html! {
        (table("All converters at each operating point", &headings(2, &names), &rows))
        @if listed.statistics.len() > ROWS {
            p { "Shown are the first " (ROWS) " cases. All are in " code { "summary.json" } "." }
        }
    }
}

fn statistics_row(found: &PointStatistics) -> Markup {
    let error = |value: Option<f64>| value.map_or_else(|| numbers::NONE.into(), numbers::percent);
    let worst = |value: fn(&WorstSwitches) -> f64| {
        let worst = found.worst_switches.as_ref();
        worst.map_or_else(|| numbers::NONE.into(), |worst| numbers::four(value(worst)))
    };
    html! {
        tr data-point=(found.operating_point) data-arrangement=(found.arrangement.name()) {
            th scope="row" { (found.operating_point) }
            (arrangement(found.arrangement))
            (number(numbers::count(found.solved as u64)))
            (number(numbers::count(found.meeting as u64)))
            (number(error(found.median_sharing_error)))
            (number(error(found.largest_sharing_error)))
            (number(worst(|worst| worst.rms_current.0)))
            (number(worst(|worst| worst.peak_current.0)))
            (number(worst(|worst| worst.blocking_voltage.0)))
        }
    }
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::AtomicBool;

    use super::*;
    use crate::engine::EngineError;
    use crate::population::parts_file::Unit;
    use crate::report::units::SourceFile;
    use crate::study::common::error::StudyError;
    use crate::study::units::{UnitsRequest, units};

    /// Invented converters.
    const SHELF: &str = include_str!("../../../scenarios/telecom-shelf.toml");

    fn request(units: &[Unit], method: Method) -> UnitsRequest<'_> {
        let (measuring_uncertainty, over_load) = (None, false);
        UnitsRequest { units, readings: &[], measuring_uncertainty, over_load, method, threads: 1 }
    }

    fn source(name: &str) -> UnitsSource {
        let parts = SourceFile { name: name.into(), read_as: None };
        UnitsSource { parts, measured: None }
    }

    /// A unit with a hostile name and one that cannot deliver: what is not solved is shown too.
    #[test]
    fn listed_units_are_all_shown_and_their_names_escaped() {
        let scenario = Scenario::parse("shelf.toml", SHELF).unwrap();
        let good = scenario.nominal_converter();
        let mut bad = good.clone();
        for tank in &mut bad.tanks {
            tank.turns_ratio *= 10.0;
        }
        let listed = [
            Unit { name: "<script>alert(1)</script>".into(), converter: good },
            Unit { name: "ten times the turns".into(), converter: bad },
        ];
        let stop = AtomicBool::new(false);
        let request = request(&listed, Method::Exact);
        let results = units(&scenario, request, &stop).unwrap();
        let page = page(&scenario, &source("my parts.csv"), &results, Method::Exact);
        assert!(page.matches("<script").count() == 1 && page.contains("&lt;script&gt;"));
        assert_eq!(page.matches(">out of range</b>").count(), 8, "four points, both arrangements");
        assert!(page.contains("fairphase units shelf.toml --parts 'my parts.csv' --solver exact"));
        for heading in ["Verdict", "Currents of the phases", "Limits of validity", "Cautions"] {
            assert!(page.contains(&format!("{heading}</h2>")), "{heading}");
        }
        let worst = page.find(">ten times the turns<").unwrap();
        let row = page.find("<th scope=\"row\">&lt;script&gt;").unwrap();
        assert!(worst < row, "the worst comes first");
        stop.store(true, std::sync::atomic::Ordering::Relaxed);
        let stopped = units(&scenario, request, &stop);
        assert!(
            matches!(stopped, Err(StudyError::Engine(EngineError::Stopped))),
            "heard the wish to stop"
        );
    }

    /// However many converters there are, the page shows the worst and says where the others are.
    #[test]
    fn the_page_of_many_units_stays_small() {
        let scenario = Scenario::parse("shelf.toml", SHELF).unwrap();
        let unit = |n: usize| {
            let mut converter = scenario.nominal_converter();
            converter.tanks[0].turns_ratio *= 1.0 + 1e-6 * n as f64;
            Unit { name: format!("unit {n}"), converter }
        };
        let many: Vec<Unit> = (0..4_000).map(unit).collect();
        let request = request(&many, Method::Averaged);
        let results = units(&scenario, request, &AtomicBool::new(false)).unwrap();
        let page = page(&scenario, &source("many.csv"), &results, Method::Averaged);
        assert!(page.len() < 400_000, "{}", page.len());
        assert!(page.contains("Shown are the worst 100 of 4\u{a0}000 converters."));
        assert!(page.contains("Drawn are the worst "), "as many as fit");
    }
}
