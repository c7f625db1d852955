//! Measured parts in stock: CSV files of tanks and of flying capacitors, one row a part.
//!
//! Values are numbers in the unit that the column names; an empty cell takes the nominal value. A tank is what one phase is built from: choke, resonant capacitor, transformer, rectifier.

use super::tank_cells;
use crate::converter::{Converter, Tank};
use crate::input::csv::{self, Names, ReadFile, Row, Spelling};
use crate::input::diagnostics::{self, Diagnostic, Diagnostics};
use crate::scenario::FARTHEST_PART;
use crate::units::Farad;

/// A measured part.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredPart<T> {
    /// Its serial, unlike that of the others in the file.
    pub serial: String,
    /// What was measured.
    pub part: T,
}

/// The columns of a file of tanks, in their order.
pub const TANK_COLUMNS: [&str; 7] = [
    "serial",
    "resonant_inductance_H",
    "resonant_capacitance_F",
    "magnetising_inductance_H",
    "turns_ratio",
    "series_resistance_ohm",
    "rectifier_drop_V",
];

/// The columns of a file of flying capacitors, in their order.
pub const CAPACITOR_COLUMNS: [&str; 2] = ["serial", "flying_capacitance_F"];

/// Reads the text of a file of measured tanks, enough for one converter at least; `name` is what
/// messages call the file. `nominal` gives the number of phases and the values of empty cells.
///
/// # Errors
///
/// All errors that the text holds.
pub fn parse_tanks(
    name: &str,
    text: &str,
    nominal: &Converter,
) -> Result<ReadFile<Vec<MeasuredPart<Tank>>>, Diagnostics> {
    let format = csv::Format {
        kind: "tanks",
        columns: &TANK_COLUMNS,
        texts: 1,
        optional: &[],
        optional_texts: 0,
        farthest: Some(FARTHEST_PART),
        empty: csv::FOR_THE_NOMINAL,
    };
    let file = File { name, format, least: nominal.phases() };
    let Some(ordinary) = nominal.tanks.first() else {
        return Ok(ReadFile { content: Vec::new(), read_as: None });
    };
    file.parse(text, |row, errors| tank_cells::read(row, 1, ordinary, errors))
}

/// Reads the text of a file of measured flying capacitors, enough for one converter at least, which
/// takes `needed` of them; `name` is what messages call the file.
///
/// # Errors
///
/// All errors that the text holds.
pub fn parse_capacitors(
    name: &str,
    text: &str,
    nominal: Farad,
    needed: usize,
) -> Result<ReadFile<Vec<MeasuredPart<Farad>>>, Diagnostics> {
    let columns = &CAPACITOR_COLUMNS;
    let format = csv::Format {
        kind: "capacitors",
        columns,
        texts: 1,
        optional: &[],
        optional_texts: 0,
        farthest: Some(FARTHEST_PART),
        empty: csv::FOR_THE_NOMINAL,
    };
    let file = File { name, format, least: needed };
    file.parse(text, |row, errors| row.value(1, false, nominal.0, errors).map(Farad))
}

/// What a file is, and how many parts it must hold.
#[derive(Debug)]
struct File<'a> {
    name: &'a str,
    format: csv::Format<'a>,
    least: usize,
}

impl File<'_> {
    fn parse<T>(
        &self,
        text: &str,
        part: impl Fn(&Row<'_>, &mut Vec<Diagnostic>) -> Option<T>,
    ) -> Result<ReadFile<Vec<MeasuredPart<T>>>, Diagnostics> {
        let text = diagnostics::without_mark(text);
        let mut errors = Vec::new();
        let read = self.parts(text, part, &mut errors);
        let found = read.as_ref().map_or(0, |read| read.content.len());
        if errors.is_empty() && found < self.least {
            let end = text.trim_end().len();
            errors.push(Diagnostic::new(
                end..end,
                format!("the {} file lists too few parts: {found}", self.format.kind),
                format!("expected {} at least, as many as one converter takes", self.least),
            ));
        }
        match read {
            Some(read) if errors.is_empty() => Ok(read),
            _ => Err(Diagnostics::new(self.name, text, errors)),
        }
    }

    fn parts<T>(
        &self,
        text: &str,
        part: impl Fn(&Row<'_>, &mut Vec<Diagnostic>) -> Option<T>,
        errors: &mut Vec<Diagnostic>,
    ) -> Option<ReadFile<Vec<MeasuredPart<T>>>> {
        let file = csv::read(text, self.format, errors)?;
        let mut serials = Names::default();
        let mut parts = Vec::new();
        for row in file.rows() {
            let serial = row.name("serial", errors);
            match serial.as_ref().map(|serial| (serial, serials.note(serial))) {
                None | Some((_, Spelling::New)) => {}
                Some((serial, Spelling::Same)) => errors.push(Diagnostic::new(
                    row.span(0),
                    format!("a second part has the serial `{}`", csv::quoted(serial)),
                    "expected a serial of its own",
                )),
                Some((serial, Spelling::Other(first))) => {
                    errors.push(csv::differs_by_case(row.span(0), serial, &first));
                }
            }
            if row.has_all_cells(errors)
                && let (Some(serial), Some(part)) = (serial, part(&row, errors))
            {
                parts.push(MeasuredPart { serial, part });
            }
        }
        Some(ReadFile { content: parts, read_as: file.read_as() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Henry, Volt};

    fn nominal() -> Converter {
        tank_cells::nominal(2)
    }

    /// Serials and values are invented.
    fn tanks(rows: &str) -> Result<Vec<MeasuredPart<Tank>>, Diagnostics> {
        let text = format!("{}\n{rows}", TANK_COLUMNS.join(","));
        parse_tanks("t.csv", &text, &nominal()).map(|read| read.content)
    }

    #[test]
    fn tanks_read_as_written() {
        let read = tanks("A1,4.6e-6,250e-9,23e-6,2.41,0.031,0.71\nA2,,,,,,\n").unwrap();
        assert_eq!((read[0].serial.as_str(), read[1].serial.as_str()), ("A1", "A2"));
        assert_eq!(read[0].part.resonant_inductance, Henry(4.6e-6));
        assert_eq!(read[0].part.rectifier_drop, Volt(0.71));
        assert_eq!(read[1].part, nominal().tanks[0]);
    }

    /// Three times and a third of 4.56 µH, and what may be zero.
    #[test]
    fn values_up_to_the_factor_are_taken() {
        tanks("A1,1.36e-5,,,,0,0\nA2,1.53e-6,,,,1 nohm,0.7 mV\n").unwrap();
        tanks("A1,,,,,9.6e-4,0.0222\nA2,,,,,,\n").unwrap();
        tanks("A1,1.37e-5,,,,,\nA2,,,,,,\n").unwrap_err();
        tanks("A1,1.51e-6,,,,,\nA2,,,,,,\n").unwrap_err();
        let mut without_loss = nominal();
        without_loss.tanks[0].series_resistance.0 = 0.0;
        let text = format!("{}\nA1,,,,,0.03,\nA2,,,,,,\n", TANK_COLUMNS.join(","));
        parse_tanks("t.csv", &text, &without_loss).unwrap();
    }

    #[test]
    fn errors_point_at_their_cells() {
        for (rows, place, words) in [
            ("A1,,,,,,\nA1,,,,,,\n", "3:1", "a second part has the serial `A1`"),
            ("A1,,,,,,\n,4.6e-6,,,,,\n", "3:1", "names no serial"),
            ("A1,,,,,,\na1,,,,,,\n", "3:1", "differs from `A1` above it only in upper"),
            ("A1,-1e-6,,,,,\nA2,,,,,,\n", "2:4", "above zero"),
            ("A1,,,,,,\nA2,,,4 uF,,,\n", "3:6", "has the wrong unit"),
            ("A1,,,,,,\nA2,,,,,\n", "3:8", "6 cells instead of 7"),
            ("A1,,,,,,\n", "2:9", "too few parts: 1"),
            ("A1,4.6,,,,,\nA2,,,,,,\n", "2:4", "in henry, from 1.52 µH to 13.68 µH"),
            ("A1,,247,,,,\nA2,,,,,,\n", "2:5", "is too far from 247 nF"),
            ("A1,,,,,30,\nA2,,,,,,\n", "2:8", "in ohm, from 0 Ω to 90 mΩ"),
            ("A1,,,,,,700\nA2,,,,,,\n", "2:9", "in volt"),
            ("A1,46 µH,,,,,\nA2,,,,,,\n", "2:4", "is too far from 4.56 µH"),
            ("A1,,,,0.4167,,\nA2,,,,,,\n", "2:7", "number from 0.8 to 7.2"),
        ] {
            let shown = tanks(rows).unwrap_err().to_string();
            assert!(shown.contains(&format!("t.csv:{place}\n")), "{place}:\n{shown}");
            assert!(shown.contains(words), "{words}:\n{shown}");
        }
        let text = "serial,flying_capacitance_F\nC1,47e-6\nC2,47\n";
        let shown = parse_capacitors("c.csv", text, Farad(50e-6), 1).unwrap_err().to_string();
        assert!(
            shown.contains("c.csv:3:4\n") && shown.contains("in farad, from 16.6667 µF"),
            "{shown}"
        );
        let text = "serial,flying_capacitance\nC1,50e-6\n";
        let shown = parse_capacitors("c.csv", text, Farad(50e-6), 1).unwrap_err().to_string();
        assert!(shown.contains("c.csv:1:8") && shown.contains("`flying_capacitance_F`"), "{shown}");
        let text = "serial,flying_capacitance_F\nC1,50e-6\nC2,\n";
        let read = parse_capacitors("c.csv", text, Farad(47e-6), 2).unwrap();
        assert_eq!(read.content[1].part, Farad(47e-6));
    }
}
