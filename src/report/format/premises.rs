//! What all results of a study rest on, and what is easily forgotten: limits that are not set, parts that do
//! not scatter. Parts that are bought by grade scatter as these tell; to other studies they are exact.

use std::collections::BTreeMap;

use super::names::{parameter, told};
use crate::converter::{Arrangement, Drive, Parameter, SwitchTiming};
use crate::scenario::{Grades, Scenario, Shape};
use crate::study::common::demand::Demand;

/// From so many phases on overshoot is less certain.
const MANY_PHASES: usize = 4;

/// Which limits are missing; none where the sharing error has one.
pub(in crate::report) fn missing_limit(scenario: &Scenario) -> Option<&'static str> {
    match scenario.limits.sharing_error {
        _ if has_no_limit(scenario) => Some(
            "The scenario sets no limit for the chain: every converter with a steady state counts as good.",
        ),
        None => Some(
            "The scenario sets no limit on the sharing error: the verdict does not judge sharing.",
        ),
        Some(_) => None,
    }
}

/// What to know before a verdict; none where the scenario limits and scatters what is judged.
pub(in crate::report) fn warnings(scenario: &Scenario, bought: Option<&Grades>) -> Vec<String> {
    let limits = missing_limit(scenario);
    let alike = "No [tolerance] table scatters a part: all converters drawn are alike.";
    let scatter = scenario.tolerances.scattered().next().is_none() && bought.is_none();
    let scatter = scatter.then_some(alike);
    let told = [limits, scatter, open_overshoot(scenario)].into_iter().flatten().map(str::to_owned);
    let offers = exact_offers(scenario).filter(|_| bought.is_none());
    offers.into_iter().chain(told).chain(columns_drawn_apart(scenario)).collect()
}

/// That the limit on what switches of the chain block may be missed by more than is told; none elsewhere. In a half
/// bridge of many phases that switch at once, currents that the dead times shift make more overshoot.
pub(in crate::report) fn open_overshoot(scenario: &Scenario) -> Option<&'static str> {
    let timing = scenario.switch.map(|own| own.chain.timing);
    let mut drives = scenario.operating_points.iter().map(|point| point.drive);
    let is_open = timing == Some(SwitchTiming::Together)
        && scenario.phases >= MANY_PHASES
        && scenario.limits.chain.blocking_voltage.is_some()
        && drives.any(|drive| drive != Some(Drive::FullBridge));
    is_open.then_some(
        "With all phases at once a half bridge of four phases or more may block more than told. In simulated \
         chains it was up to twice the voltage of a phase more.",
    )
}

/// That columns of one file of measured parts are drawn apart, where no correlation says how their rows go
/// together: a sentence or two a file.
fn columns_drawn_apart(scenario: &Scenario) -> impl Iterator<Item = String> {
    let mut columns: BTreeMap<&str, Vec<Parameter>> = BTreeMap::new();
    for (own, tolerance) in scenario.tolerances.iter() {
        if let Shape::Measured(parts) = &tolerance.shape {
            columns.entry(&parts.file).or_default().push(own);
        }
    }
    let is_told = |pair: [Parameter; 2]| {
        let mut all = scenario.tolerances.correlations().iter();
        all.any(|told| pair.iter().all(|own| told.between.contains(own)))
    };
    columns.into_iter().filter_map(move |(file, columns)| {
        let alone = |own: &&Parameter| {
            columns.iter().any(|other| other != *own && !is_told([**own, *other]))
        };
        let names: Vec<&str> =
            columns.iter().filter(alone).map(|own| parameter(*own).long).collect();
        (!names.is_empty()).then(|| {
            format!(
                "Columns of {file} are drawn independently of each other: {}. If a row's values are correlated, \
                 say so with [[correlation]]: `shapes` tells the coefficient.",
                names.join(", ")
            )
        })
    })
}

/// That parts on offer count as exact; none where there are none.
pub(in crate::report) fn exact_offers(scenario: &Scenario) -> Option<String> {
    let offers = scenario.exact_offers();
    let names: Vec<&str> = offers.iter().map(|own| parameter(*own).long).collect();
    (!names.is_empty()).then(|| {
        format!(
            "On offer in [grade] tables, and exact here without a [tolerance] table: {}. This says nothing \
             of converters with the parts on offer; `grades` does.",
            names.join(", ")
        )
    })
}

/// Whether a chain is good wherever it has a steady state.
pub(in crate::report) fn has_no_limit(scenario: &Scenario) -> bool {
    !Demand::is_any_set(&scenario.limits, Arrangement::Chain)
}

/// All of it, a sentence each.
pub(in crate::report) fn sentences(scenario: &Scenario, bought: Option<&Grades>) -> Vec<String> {
    let mut all = warnings(scenario, bought);
    all.extend(exact_parts(scenario, bought));
    all
}

/// The warnings for a terminal, before the answer.
pub(in crate::report) fn text(scenario: &Scenario, bought: Option<&Grades>) -> String {
    let lines = warnings(scenario, bought).into_iter().map(|line| line + "\n");
    let text: String = lines.collect();
    if text.is_empty() { text } else { text + "\n" }
}

/// Which parts count as exact and need not be, a sentence each.
pub(in crate::report) fn exact_sentences(scenario: &Scenario) -> Vec<String> {
    exact_offers(scenario).into_iter().chain(exact_parts(scenario, None)).collect()
}

/// The parts that count as exact; none where all scatter, or none does.
fn exact(scenario: &Scenario, bought: Option<&Grades>) -> Vec<Parameter> {
    let is_bought = |parameter: &Parameter| {
        let mut offers = bought.iter().flat_map(|grades| &grades.offers);
        offers.any(|offer| offer.parameter == *parameter)
    };
    let scatters = |own: &Parameter| scenario.tolerances.get(*own).is_some() || is_bought(own);
    let (scattered, exact): (Vec<_>, Vec<_>) = told(scenario).partition(scatters);
    if scattered.is_empty() { Vec::new() } else { exact }
}

/// Their names, for a place that says what they are.
pub(in crate::report) fn exact_names(
    scenario: &Scenario,
    bought: Option<&Grades>,
) -> Option<String> {
    let names: Vec<&str> =
        exact(scenario, bought).into_iter().map(|own| parameter(own).long).collect();
    (!names.is_empty()).then(|| names.join(", "))
}

/// The same as a sentence.
pub(in crate::report) fn exact_parts(
    scenario: &Scenario,
    bought: Option<&Grades>,
) -> Option<String> {
    assumed_exact(exact(scenario, bought).into_iter())
}

/// The same for a terminal, behind the answer.
pub(in crate::report) fn exact_text(scenario: &Scenario, bought: Option<&Grades>) -> String {
    exact_parts(scenario, bought).map_or_else(String::new, |exact| exact + "\n")
}

/// That these parts count as exact; none where there are none.
pub(in crate::report) fn assumed_exact(parts: impl Iterator<Item = Parameter>) -> Option<String> {
    let names: Vec<&str> = parts.map(|own| parameter(own).long).collect();
    (!names.is_empty()).then(|| {
        let names = names.join(", ");
        format!("Assumed exact, without a [tolerance] table: {names}. All results depend on it.")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Limits and tolerances of the chain are set; the data in it are invented.
    const SHELF: &str = include_str!("../../../tests/data/shelf.toml");

    /// The scenario without the tables whose names begin like this.
    fn without(beginnings: &[&str]) -> Scenario {
        let tables = SHELF.split("\n[").enumerate().filter(|(n, table)| {
            let table = table.trim_start_matches('[');
            *n == 0 || !beginnings.iter().any(|beginning| table.starts_with(beginning))
        });
        let text: Vec<&str> = tables.map(|(_, table)| table).collect();
        Scenario::parse("shelf.toml", &text.join("\n[")).unwrap()
    }

    #[test]
    fn a_complete_scenario_needs_no_warning() {
        let scenario = without(&[]);
        assert_eq!(warnings(&scenario, None), Vec::<String>::new());
        assert_eq!(text(&scenario, None), "");
        assert!(!has_no_limit(&scenario));
    }

    #[test]
    fn limits_that_are_not_set_are_told() {
        let scenario = without(&["limits"]);
        assert!(has_no_limit(&scenario));
        let told = warnings(&scenario, None);
        assert_eq!(told.len(), 1, "{told:?}");
        assert!(told[0].starts_with("The scenario sets no limit for the chain"), "{told:?}");
        assert!(text(&scenario, None).ends_with("\n\n"), "a line is left free before the answer");
    }

    /// Three columns of one file; correlations are told of pairs.
    #[test]
    fn columns_of_one_file_that_are_drawn_apart_are_told() {
        let column = |key: &str, column: &str| {
            format!(
                "[tolerance.{key}]\nshape = \"measured\"\nfile = \"incoming-transformers.csv\"\ncolumn = \"{column}\"\n"
            )
        };
        let correlated = |first: &str, second: &str| {
            format!("[[correlation]]\nbetween = [\"{first}\", \"{second}\"]\ncoefficient = 0.2\n")
        };
        let names = ["resonant_inductance", "magnetising_inductance", "series_resistance"];
        let columns =
            ["resonant_inductance_H", "magnetising_inductance_H", "series_resistance_ohm"];
        let parts: Vec<&str> = SHELF.split_inclusive("\n\n").collect();
        let rest: String = parts.into_iter().filter(|own| !own.contains("[tolerance.")).collect();
        let mut scenario = format!("{rest}\n");
        let told = |text: &str| {
            warnings(&Scenario::parse("scenarios/shelf.toml", text).unwrap(), None).pop()
        };
        scenario += &column(names[0], columns[0]);
        assert_eq!(told(&scenario), None, "a column alone");
        scenario += &column(names[1], columns[1]);
        let two = told(&scenario).unwrap();
        assert!(two.contains("of incoming-transformers.csv are drawn independently"), "{two}");
        assert!(two.contains(": resonant inductance, magnetising inductance. "), "{two}");
        scenario += &correlated(names[0], names[1]);
        assert_eq!(told(&scenario), None, "how they go together is told");
        scenario += &column(names[2], columns[2]);
        scenario += &correlated(names[0], names[2]);
        let pair = told(&scenario).unwrap();
        assert!(pair.contains(": magnetising inductance, series resistance. "), "{pair}");
    }

    #[test]
    fn parts_that_all_are_alike_are_told_unless_they_are_bought() {
        let scenario = without(&["tolerance"]);
        let told = warnings(&scenario, None);
        assert_eq!(told.len(), 1, "{told:?}");
        assert!(told[0].starts_with("No [tolerance] table scatters a part"), "{told:?}");
        assert_eq!(exact_parts(&scenario, None), None, "one warning says it for all");
    }

    #[test]
    fn exact_parts_are_named_beside_those_that_scatter() {
        let scenario = without(&[]);
        let told = exact_parts(&scenario, None).expect("the turns ratio is exact");
        assert!(told.contains(parameter(Parameter::TurnsRatio).long), "{told}");
        assert!(sentences(&scenario, None).contains(&told));
        let names = exact_names(&scenario, None).expect("the same names");
        assert!(told.contains(&names), "{told}");
    }
}
