//! What every part of the nominal converter carries: its part of the design table, and of the summary.

use std::fmt::Write as _;

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::{Arrangement, UsedDrives};
use crate::report::format::part_loads::{
    self, LimitedLoad, PartGroup, derated, derated_cell, highest_flux_linkage, limit,
};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::check::{Check, NominalCase};
use crate::study::common::loaded_parts::HighestLoad;

/// Up to so many operating points have rows of their own on the terminal.
const POINTS: usize = 4;

/// The table of the chain, and the loads that have a limit.
pub(super) fn text(scenario: &Scenario, check: &Check) -> String {
    if check.method == Method::Averaged {
        return "What every part carries needs the exact solver.\n\n".to_owned();
    }
    let chain = check.highest_loads(Arrangement::Chain);
    let mut text = carried(scenario, check, &chain);
    if let Some(flux) = highest_flux_linkage(scenario, &chain) {
        let _ = writeln!(text, "{flux}");
    }
    let drives = check.cases.iter().map(|case| case.baseline.case.point.drive);
    let return_leg = part_loads::return_leg(UsedDrives::of(drives));
    let falling_first = part_loads::falling_first(scenario, Arrangement::Chain);
    for remark in [return_leg, falling_first].into_iter().flatten() {
        let _ = writeln!(text, "{remark}");
    }
    let _ = writeln!(
        text,
        "{} Nothing was sampled: `run` tells what to order.\nThe paralleled reference: --json.\n",
        part_loads::derating(scenario)
    );
    text + &limited(scenario, check)
}

fn carried(scenario: &Scenario, check: &Check, highest: &[HighestLoad]) -> String {
    let cases: Vec<&NominalCase> =
        check.cases.iter().filter(|case| case.arrangement() == Arrangement::Chain).collect();
    let over_all = || {
        let cell = |rating| {
            let own = highest.iter().find(|own| own.rating == rating)?;
            Some(derated_cell(scenario, rating, own.value))
        };
        vec![PartGroup { name: None, rows: part_loads::rows(scenario.phases, &cell) }]
    };
    let (what, groups) = match cases.len() {
        1 => ("", over_all()),
        2..=POINTS => ("", cases.iter().map(|case| group(scenario, case)).collect()),
        _ => (", at its hardest operating point; each of them: --json", over_all()),
    };
    let heading = if scenario.derating.is_empty() {
        "What every part of the nominal chain carries"
    } else {
        "Loads of every part of the nominal chain, divided by [derating]"
    };
    format!("{heading}{what}\n{}", part_loads::terminal_table(&groups))
}

/// The rows of an operating point.
fn group(scenario: &Scenario, case: &NominalCase) -> PartGroup {
    let cell = |rating| {
        let own = case.loads.iter().find(|own| own.rating == rating)?;
        Some(derated_cell(scenario, rating, own.value))
    };
    PartGroup {
        name: Some(format!("At “{}”:", case.baseline.case.point.name)),
        rows: part_loads::rows(scenario.phases, &cell),
    }
}

/// The loads that `[[limits.part]]` limits, before derating; nothing where it limits none.
fn limited(scenario: &Scenario, check: &Check) -> String {
    let of_arrangement =
        |arrangement| LimitedLoad::all(scenario, arrangement, &check.highest_loads(arrangement));
    let all = Arrangement::ALL.map(of_arrangement).concat();
    LimitedLoad::terminal_table(all, "nominal", "operating\npoint", |place| {
        check.cases[place].baseline.case.point.name.clone()
    })
}

/// What loads a part of the nominal converter, in the unit that ends the name of the figure.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct NominalRatingEntry {
    /// Parts that one orders as one type: `first_high_switch`, `flying_capacitor_1` …
    part: String,
    /// What loads them, with the unit: `rms_current_A` …
    figure: String,
    /// Name of the operating point, or `all`: the highest of all of them.
    operating_point: String,
    arrangement: Arrangement,
    /// The highest load of any such part.
    nominal: f64,
    /// The load over the derating factor; for `all` alone.
    order: Option<f64>,
    /// The limit in `[[limits.part]]`; null where there is none.
    limit: Option<f64>,
}

impl NominalRatingEntry {
    /// All loads of the chain, then of the paralleled reference: of each part over all operating points,
    /// then at each. None by the averaged solver, which does not tell what loads every part.
    pub(super) fn all(scenario: &Scenario, check: &Check) -> Vec<Self> {
        let of_arrangement = |arrangement| {
            let highest = check.highest_loads(arrangement);
            let own = highest.iter();
            own.flat_map(|own| Self::of_load(scenario, check, arrangement, *own))
                .collect::<Vec<_>>()
        };
        Arrangement::ALL.into_iter().flat_map(of_arrangement).collect()
    }

    fn of_load(
        scenario: &Scenario,
        check: &Check,
        arrangement: Arrangement,
        highest: HighestLoad,
    ) -> Vec<Self> {
        let rating = highest.rating;
        let entry = |point: &str, nominal, order| Self {
            part: rating.part.key(),
            figure: rating.stress.column(),
            operating_point: point.to_owned(),
            arrangement,
            nominal,
            order,
            limit: limit(scenario, arrangement, rating),
        };
        let order = derated(scenario, rating, highest.value);
        let mut entries = vec![entry("all", highest.value, Some(order))];
        for case in check.cases.iter().filter(|case| case.arrangement() == arrangement) {
            let own = case.loads.iter().filter(|own| own.rating == rating);
            let point = &case.baseline.case.point.name;
            entries.extend(own.map(|own| entry(point, own.value, None)));
        }
        entries
    }
}
