//! Parts files: converters whose parts are known, as CSV with one row a phase.
//!
//! Values are numbers in the unit that the column names. An empty cell takes the nominal value; an
//! empty cell of the return leg's flying capacitor takes the driven leg's. Parts that tell losses apart have
//! columns too, which a file need not have.

use std::collections::BTreeMap;
use std::ops::Range;

use super::current_readings::{self, CurrentReading, ReadingCollector, ReadingPlace};
use super::loss_columns::{CellPlace, LossColumn};
use super::tank_cells;
use crate::converter::Converter;
use crate::input::csv::{self, Names, ReadFile, Row, Spelling};
use crate::input::diagnostics::{self, Diagnostic, Diagnostics};
use crate::scenario::PointRequest;
use crate::units::Farad;

/// A converter whose parts are known.
#[derive(Debug, Clone, PartialEq)]
pub struct Unit {
    /// What the parts file calls it.
    pub name: String,
    /// Its parts.
    pub converter: Converter,
}

/// What a parts file lists.
#[derive(Debug, Clone, PartialEq)]
pub struct PartsList {
    /// The converters, in the order of their first rows.
    pub units: Vec<Unit>,
    /// Currents measured on them.
    pub readings: Vec<CurrentReading>,
}

/// What the rows of a parts file refer to.
#[derive(Debug, Clone, Copy)]
pub struct PartsFrame<'a> {
    /// Gives the number of phases and the values of empty cells.
    pub nominal: &'a Converter,
    /// Where currents may have been measured.
    pub operating_points: &'a [PointRequest],
}

/// The columns that a parts file must have, in their order.
pub const COLUMNS: [&str; 10] = [
    "unit",
    "phase",
    "resonant_inductance_H",
    "resonant_capacitance_F",
    "magnetising_inductance_H",
    "turns_ratio",
    "series_resistance_ohm",
    "rectifier_drop_V",
    "flying_capacitance_F",
    "flying_capacitance_return_leg_F",
];

/// The first of the two columns of flying capacitors.
const FLYING: usize = 8;

/// The first of the columns of parts that tell losses apart.
const FIRST_OF_LOSSES: usize = COLUMNS.len() + current_readings::COLUMNS.len();

/// Reads the text of a parts file; `name` is what messages call the file.
///
/// # Errors
///
/// All errors that the text holds.
pub fn parse(
    name: &str,
    text: &str,
    frame: PartsFrame<'_>,
) -> Result<ReadFile<PartsList>, Diagnostics> {
    let text = diagnostics::without_mark(text);
    let mut errors = Vec::new();
    let list = read_list(text, frame, &mut errors);
    match list {
        Some(list) if errors.is_empty() => Ok(list),
        _ => Err(Diagnostics::new(name, text, errors)),
    }
}

fn read_list(
    text: &str,
    frame: PartsFrame<'_>,
    errors: &mut Vec<Diagnostic>,
) -> Option<ReadFile<PartsList>> {
    // Parts may be mismatched on purpose, by any factor, or be those of another converter.
    let losses = LossColumn::all(frame.nominal);
    let optional: Vec<&str> = current_readings::COLUMNS
        .into_iter()
        .chain(losses.iter().map(|column| column.name.as_str()))
        .collect();
    let format = csv::Format {
        kind: "parts",
        columns: &COLUMNS,
        texts: 2,
        optional: &optional,
        optional_texts: current_readings::TEXTS,
        farthest: None,
        empty: csv::FOR_THE_NOMINAL,
    };
    let file = csv::read(text, format, errors)?;
    let mut readings = ReadingCollector::new(frame.nominal.phases(), frame.operating_points);
    let mut drafts: Vec<Draft> = Vec::new();
    let mut names = Names::default();
    let mut indices = BTreeMap::new();
    for row in file.rows() {
        let Some(name) = row.name("unit", errors) else { continue };
        if let Spelling::Other(first) = names.note(&name) {
            errors.push(csv::differs_by_case(row.span(0), &name, &first));
            if let Some(&index) = indices.get(&first) {
                let draft: &mut Draft = &mut drafts[index];
                draft.phases_known = false;
            }
            continue;
        }
        let index = *indices.entry(name.clone()).or_insert_with(|| {
            drafts.push(Draft::new(&name, row.span(0), frame.nominal));
            drafts.len() - 1
        });
        if let Some(phase) = drafts[index].add(&row, &losses, errors) {
            let place = ReadingPlace { unit: index, phase, first_column: COLUMNS.len() };
            readings.add(&row, place, errors);
        }
    }
    if drafts.is_empty() && errors.is_empty() {
        let end = text.trim_end().len();
        errors.push(Diagnostic::new(
            end..end,
            "the parts file lists no unit",
            "expected one row a phase below the header",
        ));
    }
    let units = drafts.into_iter().filter_map(|draft| draft.finish(errors)).collect();
    let content = PartsList { units, readings: readings.found };
    Some(ReadFile { content, read_as: file.read_as() })
}

/// The number of the phase, counted from one.
pub(super) fn phase(row: &Row<'_>, phases: usize, errors: &mut Vec<Diagnostic>) -> Option<usize> {
    let text = row.text(1).unwrap_or_default();
    let phase = whole(&text).parse().ok().filter(|phase| (1..=phases).contains(phase));
    if phase.is_none() {
        errors.push(Diagnostic::new(
            row.span(1),
            format!("the converter has no phase `{}`", csv::quoted(&text)),
            format!("expected a whole number from 1 to {phases}"),
        ));
    }
    phase
}

/// A whole number without its decimals, as spreadsheets write `1.0` or `1,00`. Three of them may be
/// thousands.
fn whole(text: &str) -> &str {
    match text.split_once(['.', ',']) {
        Some((whole, "0" | "00" | "0000")) => whole,
        _ => text,
    }
}

/// A unit of which some rows have been read.
#[derive(Debug)]
struct Draft {
    name: String,
    place: Range<usize>,
    converter: Converter,
    seen: Vec<bool>,
    /// False once a row could not be told apart by its phase.
    phases_known: bool,
}

impl Draft {
    fn new(name: &str, place: Range<usize>, nominal: &Converter) -> Self {
        Self {
            name: name.to_owned(),
            place,
            converter: nominal.clone(),
            seen: vec![false; nominal.phases()],
            phases_known: true,
        }
    }

    /// Takes over one row, and gives the index of its phase; what is wrong with it is reported.
    fn add(
        &mut self,
        row: &Row<'_>,
        losses: &[LossColumn],
        errors: &mut Vec<Diagnostic>,
    ) -> Option<usize> {
        let complete = row.has_all_cells(errors);
        let Some(phase) = phase(row, self.seen.len(), errors) else {
            self.phases_known = false;
            return None;
        };
        if std::mem::replace(&mut self.seen[phase - 1], true) {
            errors.push(Diagnostic::new(
                row.span(1),
                format!("unit `{}` has a second row for phase {phase}", csv::quoted(&self.name)),
                "expected one row a phase",
            ));
            return None;
        }
        if !complete {
            return None;
        }
        self.fill(row, phase - 1, errors);
        for (column, own) in (FIRST_OF_LOSSES..).zip(losses) {
            let place = CellPlace { column, phase: phase - 1 };
            own.fill(row, place, &mut self.converter, errors);
        }
        Some(phase - 1)
    }

    /// Fills in the parts of the phase with the index `index`.
    fn fill(&mut self, row: &Row<'_>, index: usize, errors: &mut Vec<Diagnostic>) {
        if let Some(tank) = tank_cells::read(row, 2, &self.converter.tanks[index], errors) {
            self.converter.tanks[index] = tank;
        }
        match self.converter.flying.get_mut(index) {
            None => report_beyond_last(row, errors),
            Some(flying) => {
                if let Some(own) = row.value(FLYING, false, flying.0, errors) {
                    *flying = Farad(own);
                }
                if let Some(own) = row.value(FLYING + 1, false, flying.0, errors)
                    && let Some(flying_return) = self.converter.flying_return.get_mut(index)
                {
                    *flying_return = Farad(own);
                }
            }
        }
    }

    /// The unit, if all its phases were given.
    fn finish(self, errors: &mut Vec<Diagnostic>) -> Option<Unit> {
        let lacking: Vec<_> = (1..)
            .zip(&self.seen)
            .filter(|(_, seen)| !**seen)
            .map(|(phase, _)| phase.to_string())
            .collect();
        if lacking.is_empty() {
            return Some(Unit { name: self.name, converter: self.converter });
        }
        if self.phases_known {
            errors.push(Diagnostic::new(
                self.place,
                format!("unit `{}` lacks phase {}", csv::quoted(&self.name), lacking.join(", ")),
                format!("expected a row for each of the {} phases", self.seen.len()),
            ));
        }
        None
    }
}

/// After the last phase there is no flying capacitor.
fn report_beyond_last(row: &Row<'_>, errors: &mut Vec<Diagnostic>) {
    for index in [FLYING, FLYING + 1] {
        if row.text(index).is_some() {
            errors.push(Diagnostic::new(
                row.span(index),
                "the last phase has a flying capacitance",
                "expected nothing: there is no next phase to stand between",
            ));
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::converter::{
        Influence, LossParts, ParalleledSwitches, Parameter, PartResponse, SwitchPlace, Tank,
    };
    use crate::units::{Henry, Ohm, Volt};

    fn nominal() -> Converter {
        tank_cells::nominal(3)
    }

    /// The header and rows of invented units.
    fn file(rows: &[&str]) -> String {
        format!("{}\n{}\n", COLUMNS.join(","), rows.join("\n"))
    }

    fn units(text: &str) -> Vec<Unit> {
        let nominal = nominal();
        let read = parse("parts.csv", text, frame(&nominal));
        read.unwrap_or_else(|errors| panic!("{errors}")).content.units
    }

    fn frame(nominal: &Converter) -> PartsFrame<'_> {
        PartsFrame { nominal, operating_points: &[] }
    }

    fn errors(text: &str) -> String {
        parse("parts.csv", text, frame(&nominal())).unwrap_err().to_string()
    }

    #[track_caller]
    fn check(text: &str, place: &str, words: &[&str]) {
        let shown = errors(text);
        assert_eq!(shown.matches("error: ").count(), 1, "{shown}");
        assert!(shown.contains(&format!("--> parts.csv:{place}\n")), "{place}:\n{shown}");
        for word in words {
            assert!(shown.contains(word), "{word:?}:\n{shown}");
        }
    }

    /// Rows of one unit, all nominal but for the one given.
    #[track_caller]
    fn check_row(phase: usize, row: &str, place: &str, words: &[&str]) {
        let mut rows = ["A,1,,,,,,,,", "A,2,,,,,,,,", "A,3,,,,,,,,"];
        rows[phase - 1] = row;
        check(&file(&rows), place, words);
    }

    #[test]
    fn given_cells_are_taken_and_empty_ones_are_nominal() {
        let read = units(&file(&[
            "A,1,4.6e-6,250e-9,2.3e-5,2.41,0,0,5.1e-5,4.9e-5",
            "A,2,,,,,,,5.2e-5,",
            "A,3,,,,,0.04,,,",
        ]));
        let converter = &read[0].converter;
        assert_eq!((read.len(), read[0].name.as_str(), converter.phases()), (1, "A", 3));
        let expected = Tank {
            resonant_inductance: Henry(4.6e-6),
            resonant_capacitance: Farad(250e-9),
            magnetising_inductance: Henry(2.3e-5),
            turns_ratio: 2.41,
            series_resistance: Ohm(0.0),
            rectifier_drop: Volt(0.0),
        };
        assert_eq!(converter.tanks[0], expected);
        assert_eq!(converter.tanks[1], nominal().tanks[1]);
        let expected = Tank { series_resistance: Ohm(0.04), ..nominal().tanks[2] };
        assert_eq!(converter.tanks[2], expected);
        assert_eq!(converter.flying.as_slice(), [Farad(5.1e-5), Farad(5.2e-5)]);
        assert_eq!(converter.flying_return.as_slice(), [Farad(4.9e-5), Farad(5.2e-5)]);
    }

    #[test]
    fn units_come_in_the_order_of_their_first_rows() {
        let rows = ["B,2", "A,1", "B,1", "\"C, # 3\",3", "A,3", "A,2", "B,3"];
        let mut rows: Vec<_> = rows.iter().map(|row| format!("{row},,,,,,,,")).collect();
        rows.extend([" C ,1,,,,,,,,", "C,2,,,,,,,,", "C,3,,,,,,,,"].map(str::to_owned));
        rows.extend(["\"C, # 3\", 1,,,,,,,,", "\"C, # 3\",2,,,,,,,,"].map(str::to_owned));
        let rows: Vec<_> = rows.iter().map(String::as_str).collect();
        let read = units(&file(&rows));
        let names: Vec<_> = read.iter().map(|unit| unit.name.as_str()).collect();
        assert_eq!(names, ["B", "A", "C, # 3", "C"]);
        assert!(read.iter().all(|unit| unit.converter == nominal()));
    }

    #[test]
    fn marks_and_line_ends_of_other_systems_and_blank_lines_change_nothing() {
        let text = file(&["A,1,4e-6,,,,,,,", "A,2,,,,,,,,", "A,3,,,,,,,,"]);
        let other = format!("\u{feff}{}\r\n", text.replace('\n', "\r\n"));
        assert_eq!(units(&other), units(&text));
        assert_eq!(units(text.trim_end()), units(&text));
        check(&other.replace("4e-6", "x").replace("\r\nA,1", "\r\n\r\nA,1"), "3:5", &["`x`"]);
    }

    #[test]
    fn the_header_must_hold_all_columns() {
        let header = COLUMNS.join(",");
        check("", "1:1", &["the parts file is empty", "expected the header unit,phase,"]);
        check("unit,phase\n", "1:11", &["lacks 8 columns", "expected `resonant_inductance_H`"]);
        let text = header.replace("turns_ratio", "turns");
        check(&text, "1:82", &["column `turns` is not known", "expected the column `turns_ratio`"]);
        check(&format!("{header}\n"), "1:185", &["lists no unit", "one row a phase"]);
    }

    #[test]
    fn rows_that_do_not_fit() {
        check_row(2, "A,4,,,,,,,,", "3:3", &["no phase `4`", "from 1 to 3"]);
        check_row(2, "A,0,,,,,,,,", "3:3", &["no phase `0`"]);
        check_row(2, "A,two,,,,,,,,", "3:3", &["no phase `two`"]);
        check_row(2, "A,,,,,,,,,", "3:3", &["no phase ``"]);
        check_row(2, "A,2,,,,,,,", "3:11", &["9 cells instead of 10", "return_leg_F"]);
        check_row(2, "A,2,,,,,,,,,5", "3:13", &["11 cells instead of 10", "expected no cell"]);
        check_row(3, "A,3,,,,,,,5e-5,", "4:11", &["the last phase has a flying capacitance"]);
        check_row(3, "A,3,,,,,,,,5e-5", "4:12", &["the last phase has a flying capacitance"]);
        let rows = ["A,1,,,,,,,,", "A,2,,,,,,,,", "A,2,,,,,,,,", "A,3,,,,,,,,"];
        check(&file(&rows), "4:3", &["unit `A` has a second row for phase 2"]);
        check(&file(&["A,1,,,,,,,,"]), "2:1", &["unit `A` lacks phase 2, 3", "each of the 3"]);
        let rows = ["A,1,,,,,,,,", "A,2,,,,,,,,", "A,3,,,,,,,,", ",1,,,,,,,,"];
        check(&file(&rows), "5:1", &["the row names no unit"]);
        let rows = ["A,1,,,,,,,,", "a,2,,,,,,,,", "A,3,,,,,,,,"];
        check(&file(&rows), "3:1", &["differs", "case"]);
    }

    #[test]
    fn cells_that_are_no_values() {
        for (cell, words) in [
            ("x", "is not a number"),
            ("4.56 V", "has the wrong unit"),
            ("nan", "is not a finite number"),
            ("-inf", "is not a finite number"),
            ("1e999", "is not a finite number"),
            ("0", "is out of range"),
            ("-4.56e-6", "is out of range"),
            ("1e-30", "is too small"),
            ("1e30", "is too large"),
        ] {
            check_row(2, &format!("A,2, {cell} ,,,,,,,"), "3:6", &[words, "above zero"]);
            check_row(2, &format!("A,2,,,,,,,,{cell}"), "3:12", &[words, "return_leg_F"]);
        }
        for index in [6, 7] {
            let row = format!("A,2{}-1{}", ",".repeat(index - 1), ",".repeat(9 - index));
            let position = format!("3:{}", index + 3);
            check_row(2, &row, &position, &["is out of range", "zero or more"]);
        }
        check_row(2, "\"A\",2,\"a,b\",,,,,,,", "3:7", &["`a,b`"]);
    }

    #[test]
    fn all_errors_are_reported_in_the_order_of_the_file() {
        let shown =
            errors(&file(&["A,1,x,y,,,,,,", "A,9,,,,,,,,", "B,1,,,,,,,,-1", "B,2,,,,,,,,"]));
        let places: Vec<_> = shown
            .lines()
            .filter_map(|line| line.trim_start().strip_prefix("--> parts.csv:"))
            .collect();
        assert_eq!(places, ["2:5", "2:7", "3:3", "4:1", "4:12"], "{shown}");
    }

    /// With the parts that tell losses apart: three of them, one of each kind of column.
    #[test]
    fn cells_of_parts_that_tell_losses_apart() {
        let plain = nominal();
        let told = [Some(0.03), Some(0.008), None, None, Some(2.5), None];
        let equal = ParalleledSwitches::with_equal_loss(3);
        let coefficient = PartResponse {
            parameter: Parameter::OnResistance,
            influence: Influence::Temperature,
            values: std::iter::repeat_n(0.007, 12).collect(),
        };
        let losses = Some(Box::new(LossParts::uniform(3, &told, equal)));
        let warm = Converter { losses, responses: vec![coefficient], ..plain };
        let header = "on_resistance_return_leg_high_mohm,primary_winding_resistance_ohm,\
                      switch_thermal_resistance_low_K_per_W,rectifier_resistance_ohm,\
                      temperature_coefficient_on_resistance_low_1_per_K";
        let text = |cells: &str| {
            let rows = format!("A,1,,,,,,,,,{cells}\nA,2,,,,,,,,,,,,,\nA,3,,,,,,,,,,,3 K/W,,\n");
            format!("{},{header}\n{rows}", COLUMNS.join(","))
        };
        let read = parse("parts.csv", &text("33,,2.25,1,-0.001"), frame(&warm)).unwrap();
        let said = read.read_as.unwrap();
        assert!(said.contains("without the column `rectifier_resistance_ohm`"), "{said}");
        let own = &read.content.units[0].converter;
        let part = |parameter, index| own.part(parameter, index).unwrap();
        let low = |phase| SwitchPlace::Low.part(phase, 3);
        let return_high = SwitchPlace::ReturnHigh.part(0, 3);
        assert!((part(Parameter::OnResistance, return_high) - 0.033).abs() < 1e-15);
        let theta = Parameter::SwitchThermalResistance;
        for (phase, expected) in [2.25, 2.5, 3.0].into_iter().enumerate() {
            assert!((part(theta, low(phase)) - expected).abs() < 1e-15, "phase {phase}");
        }
        let coefficients = own.responses[0].values.iter().enumerate();
        for (n, value) in coefficients {
            let expected = if n == low(0) { -0.001 } else { 0.007 };
            assert!((value - expected).abs() < 1e-15, "switch {n}");
        }
        for (cells, words) in [
            ("0,,,,", ["`0`", "out of range", "or nothing for the nominal"]),
            (",,2.5 W,,", ["`2.5 W`", "wrong unit", "or nothing for the nominal"]),
            (",,,,x", ["`x`", "is not a number", "such as -0.0002, or nothing"]),
        ] {
            let shown = parse("parts.csv", &text(cells), frame(&warm)).unwrap_err().to_string();
            assert!(words.iter().all(|word| shown.contains(word)), "{words:?}:\n{shown}");
        }
    }

    proptest! {
        /// Any text is a list of units or of errors.
        #[test]
        fn no_text_goes_without_an_answer(rows in "([AB\"1-4x.,\\n\\r µ]|,,,|A,1|\\n\"){0,60}") {
            match parse("parts.csv", &file(&[&rows]), frame(&nominal())) {
                Ok(list) => prop_assert!(!list.content.units.is_empty()),
                Err(errors) => prop_assert!(errors.to_string().contains("parts.csv:")),
            }
        }
    }
}
