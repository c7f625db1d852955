//! Loads of single parts as tables: a row a part, a column a kind of load; and a line a load with its
//! limit. What the loads are, nominal, sampled or of listed converters, the verbs say.

use crate::converter::{
    Arrangement, RatedPart, Rating, Stress, StressQuantity, SwitchTiming, UsedDrives,
};
use crate::report::format::names;
use crate::report::format::numbers::{percent, three, three_up};
use crate::report::format::terminal;
use crate::scenario::Scenario;
use crate::study::common::loaded_parts::HighestLoad;

/// Headings of the table; the first column names the part.
pub(in crate::report) const COLUMNS: [&str; 7] =
    ["part", "RMS\nA", "mean\nA", "peak\nA", "turn-off\nA", "voltage\nV", "ripple"];

/// A row of the table: the name of the part, and a cell for each further column.
pub(in crate::report) struct PartRow {
    pub(in crate::report) name: String,
    pub(in crate::report) cells: [String; COLUMNS.len() - 1],
}

/// A row in the making: the part's name and the load of each column.
struct RowPlan {
    name: String,
    stresses: [Option<Stress>; COLUMNS.len() - 1],
}

/// The loads that one part shows in a row; a transformer has three rows.
fn plans(part: RatedPart) -> Vec<RowPlan> {
    use Stress::{
        BlockingVoltage, MeanCurrent, PeakCurrent, PeakMagnetisingCurrent, PeakToPeakCurrent,
        PeakVoltage, PrimaryRmsCurrent, ReverseVoltage, RippleVoltage, RmsCurrent,
        SecondaryRmsCurrent, TurnOffCurrent,
    };
    let name = names::rated_part(part);
    let row = |stresses| vec![RowPlan { name: name.clone(), stresses }];
    let (rms, mean, peak) = (Some(RmsCurrent), Some(MeanCurrent), Some(PeakCurrent));
    match part {
        RatedPart::ResonantInductor => row([rms, None, peak, None, None, None]),
        RatedPart::ResonantCapacitor => row([rms, None, None, None, Some(PeakVoltage), None]),
        RatedPart::FlyingCapacitor(_) => {
            row([rms, None, None, None, Some(PeakVoltage), Some(RippleVoltage)])
        }
        RatedPart::Rectifier => row([rms, mean, peak, None, Some(ReverseVoltage), None]),
        RatedPart::OutputCapacitor => row([rms, None, None, None, None, Some(PeakToPeakCurrent)]),
        RatedPart::HeldLowSwitch => row([rms, mean, peak, None, None, None]),
        RatedPart::Transformer => {
            let winding = |what: &str, rms, peak| RowPlan {
                name: format!("{name}, {what}"),
                stresses: [rms, None, peak, None, None, None],
            };
            vec![
                winding("primary", Some(PrimaryRmsCurrent), None),
                winding("secondary", Some(SecondaryRmsCurrent), None),
                winding("magnetising", None, Some(PeakMagnetisingCurrent)),
            ]
        }
        _ => row([rms, mean, peak, Some(TurnOffCurrent), Some(BlockingVoltage), None]),
    }
}

/// The rows of a converter with so many phases: of the parts that have a cell. `cell` writes a load, and
/// gives none where the part has no such load.
pub(in crate::report) fn rows(
    phases: usize,
    cell: &dyn Fn(Rating) -> Option<String>,
) -> Vec<PartRow> {
    let row = |part: RatedPart, RowPlan { name, stresses }: RowPlan| {
        let written = stresses.map(|stress| cell(Rating { part, stress: stress? }));
        let is_there = written.iter().any(Option::is_some);
        is_there.then(|| PartRow { name, cells: written.map(Option::unwrap_or_default) })
    };
    // Where the return leg's low switches have a row for both drives, that of one alone would mislead.
    let has_both = cell(Rating { part: RatedPart::ReturnLowSwitch, stress: Stress::RmsCurrent });
    let hidden = has_both.map(|_| RatedPart::HeldLowSwitch);
    RatedPart::all(phases)
        .filter(|part| Some(*part) != hidden)
        .flat_map(|part| plans(part).into_iter().filter_map(move |plan| row(part, plan)))
        .collect()
}

/// The number of a cell: in the column of ripples it has its unit, which is not the same for all parts.
pub(in crate::report) fn cell_text(stress: Stress, number: String) -> String {
    match stress {
        Stress::RippleVoltage => format!("{number}\u{a0}V"),
        Stress::PeakToPeakCurrent => format!("{number}\u{a0}A"),
        _ => number,
    }
}

/// The load of a part over its derating factor, where there is one: what it must be rated for then.
pub(in crate::report) fn derated(scenario: &Scenario, rating: Rating, load: f64) -> f64 {
    load / scenario.derating.factor(rating).unwrap_or(1.0)
}

/// A known load in its cell: three digits; rounded up where it is divided by a derating factor.
pub(in crate::report) fn derated_cell(scenario: &Scenario, rating: Rating, load: f64) -> String {
    let number = match scenario.derating.factor(rating) {
        Some(factor) => three_up(load / factor),
        None => three(load),
    };
    cell_text(rating.stress, number)
}

/// What the numbers of a table are divided by.
pub(in crate::report) fn derating(scenario: &Scenario) -> &'static str {
    if scenario.derating.is_empty() {
        "No derating."
    } else {
        "Divided by the factors of [derating], ripples apart."
    }
}

/// The flux linkage, which has no column.
pub(in crate::report) fn flux_linkage(volt_seconds: &str) -> String {
    format!("Flux linkage of the primary winding: {volt_seconds}\u{a0}µVs peak.")
}

/// The same of known loads; none where it is not among them.
pub(in crate::report) fn highest_flux_linkage(
    scenario: &Scenario,
    loads: &[HighestLoad],
) -> Option<String> {
    let rating = Rating { part: RatedPart::Transformer, stress: Stress::VoltSeconds };
    let found = loads.iter().find(|own| own.rating == rating)?;
    Some(flux_linkage(&derated_cell(scenario, rating, 1e6 * found.value)))
}

/// What to know of the low switches of a return leg that some operating points hold on and others switch; none
/// where there are none.
pub(in crate::report) fn return_leg(drives: UsedDrives) -> Option<String> {
    drives.are_both().then(|| {
        "Low switches, return leg: half-bridge drive holds them on, in full-bridge drive they switch. Their \
         row holds for both. The other rows of low switches are for the driven leg."
            .to_owned()
    })
}

/// Whether the phases of the chain that fall switch before the others.
pub(in crate::report) fn is_falling_first(scenario: &Scenario) -> bool {
    scenario.switch.is_some_and(|switch| switch.chain.timing == SwitchTiming::FallingFirst)
}

/// What to know of the inner low switches of a chain whose falling phases go first; none of other switches.
pub(in crate::report) fn falling_first(
    scenario: &Scenario,
    arrangement: Arrangement,
) -> Option<String> {
    (arrangement == Arrangement::Chain && is_falling_first(scenario)).then(|| {
        "Falling phases first: inner low switches carry their whole tank current in the dead times and \
         interrupt it. Their row holds that."
            .to_owned()
    })
}

/// A load with its unit, three digits.
pub(in crate::report) fn with_unit(stress: Stress, value: f64) -> String {
    written(stress, value, three)
}

/// A rating with its unit, three digits, rounded up.
pub(in crate::report) fn rating_with_unit(stress: Stress, value: f64) -> String {
    written(stress, value, three_up)
}

fn written(stress: Stress, value: f64, number: fn(f64) -> String) -> String {
    match stress.quantity() {
        StressQuantity::VoltSeconds => format!("{}\u{a0}µVs", number(1e6 * value)),
        _ => format!("{}\u{a0}{}", number(value), names::stress_unit(stress)),
    }
}

/// The part and what loads it.
pub(in crate::report) fn part_and_load(rating: Rating) -> String {
    format!("{}: {}", names::rated_part(rating.part), names::stress(rating.stress).short)
}

/// The limit of a part in an arrangement, where the scenario has one.
pub(in crate::report) fn limit(
    scenario: &Scenario,
    arrangement: Arrangement,
    rating: Rating,
) -> Option<f64> {
    let mut limits = scenario.limits.parts.iter();
    let found = limits.find(|l| (l.arrangement, l.rating) == (arrangement, rating))?;
    Some(found.limit)
}

/// A load beside its limit, in words.
#[derive(Clone)]
pub(in crate::report) struct LimitedLoad {
    pub(in crate::report) load: String,
    pub(in crate::report) arrangement: Arrangement,
    pub(in crate::report) highest: String,
    pub(in crate::report) limit: String,
    /// Load over limit, in percent.
    pub(in crate::report) used: String,
    pub(in crate::report) is_missed: bool,
    /// Which of the results has it.
    pub(in crate::report) place: usize,
}

impl LimitedLoad {
    /// Those of an arrangement that have a limit, before derating.
    pub(in crate::report) fn all(
        scenario: &Scenario,
        arrangement: Arrangement,
        loads: &[HighestLoad],
    ) -> Vec<Self> {
        let limited = loads.iter().filter_map(|own| {
            let limit = limit(scenario, arrangement, own.rating)?;
            let stress = own.rating.stress;
            Some(Self {
                load: part_and_load(own.rating),
                arrangement,
                highest: with_unit(stress, own.value),
                limit: names::stress_value(stress, limit),
                used: percent(own.use_of(limit)),
                is_missed: own.value > limit,
                place: own.place,
            })
        });
        limited.collect()
    }

    /// All of them as a table for the terminal: `of_what` heads the loads, and `place` the column that
    /// `name` fills. Nothing where no load has a limit.
    pub(in crate::report) fn terminal_table(
        all: Vec<Self>,
        of_what: &str,
        place: &str,
        name: impl Fn(usize) -> String,
    ) -> String {
        if all.is_empty() {
            return String::new();
        }
        let head = ["part and load", "arrangement", of_what, "limit", "used", place];
        let mut table = terminal::table(&head);
        if let Some(column) = table.column_mut(5) {
            column.set_cell_alignment(comfy_table::CellAlignment::Left);
        }
        for own in all {
            table.add_row([
                own.load,
                names::arrangement(own.arrangement).short.to_owned(),
                own.highest,
                own.limit,
                own.used,
                name(own.place),
            ]);
        }
        format!("Limits of single parts, before derating\n{}\n", terminal::trimmed(&table))
    }
}

/// The table for the terminal. Above the rows of each group stands its name, if it has one.
pub(in crate::report) fn terminal_table(groups: &[PartGroup]) -> String {
    let mut table = terminal::table(&COLUMNS);
    if let Some(column) = table.column_mut(1) {
        column.set_cell_alignment(comfy_table::CellAlignment::Right);
    }
    for row in groups.iter().flat_map(|group| &group.rows) {
        table.add_row(std::iter::once(&row.name).chain(&row.cells));
    }
    let text = terminal::trimmed(&table);
    let mut lines = text.lines();
    // Names and cells of parts are short: a row is a line, below the two of the headings.
    let mut written: Vec<String> = lines.by_ref().take(2).map(str::to_owned).collect();
    for group in groups {
        written.extend(group.name.clone());
        written.extend(lines.by_ref().take(group.rows.len()).map(str::to_owned));
    }
    written.extend(lines.map(str::to_owned));
    written.iter().fold(String::new(), |text, line| text + line + "\n")
}

/// Rows of one table that belong together.
pub(in crate::report) struct PartGroup {
    pub(in crate::report) name: Option<String>,
    pub(in crate::report) rows: Vec<PartRow>,
}
