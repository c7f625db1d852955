//! CSV files as they are written: the only place that does.
//!
//! A spreadsheet takes a cell that begins with `=`, `+`, `-` or `@` for a formula. So a text that does
//! gets a single quote before it, as OWASP's page "CSV Injection" recommends. Numbers stay as they
//! are. The reader of this program takes the quote off again.

use std::io::Write;

use anyhow::Context;

use crate::printable;

/// A cell of a CSV file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::report) struct CsvCell(String);

impl CsvCell {
    /// A text: never a formula.
    pub(in crate::report) fn text(text: &str) -> Self {
        Self(printable::cell(&printable::line(text)).into_owned())
    }

    /// A number in the shortest form that reads back as the same double; empty where there is none.
    pub(in crate::report) fn number(value: impl Into<Option<f64>>) -> Self {
        Self(value.into().map_or_else(String::new, |value| value.to_string()))
    }

    /// A whole number.
    pub(in crate::report) fn count(n: u64) -> Self {
        Self(n.to_string())
    }

    /// `true` or `false`.
    pub(in crate::report) fn flag(flag: bool) -> Self {
        Self(flag.to_string())
    }

    /// Nothing.
    pub(in crate::report) const fn empty() -> Self {
        Self(String::new())
    }
}

/// A CSV file in the making.
pub(in crate::report) struct CsvTable<W: Write = Vec<u8>> {
    writer: csv::Writer<W>,
}

impl CsvTable {
    /// A file in memory with these columns and no row.
    ///
    /// # Errors
    ///
    /// None that can happen in memory, as for all that follow.
    pub(in crate::report) fn with_columns(
        columns: impl IntoIterator<Item = impl AsRef<str>>,
    ) -> anyhow::Result<Self> {
        Self::into_writer(Vec::new(), columns)
    }

    /// The text of the file.
    pub(in crate::report) fn text(self) -> anyhow::Result<String> {
        let bytes = self.writer.into_inner().context("cannot assemble a CSV file")?;
        Ok(String::from_utf8(bytes)?)
    }
}

impl<W: Write> CsvTable<W> {
    /// The same, written as its rows come.
    ///
    /// # Errors
    ///
    /// When it cannot be written, as for all that follow.
    pub(in crate::report) fn into_writer(
        writer: W,
        columns: impl IntoIterator<Item = impl AsRef<str>>,
    ) -> anyhow::Result<Self> {
        let mut table = Self { writer: csv::Writer::from_writer(writer) };
        table.row(columns.into_iter().map(|name| CsvCell::text(name.as_ref())))?;
        Ok(table)
    }

    /// Adds a row, with a cell for every column.
    pub(in crate::report) fn row(
        &mut self,
        cells: impl IntoIterator<Item = CsvCell>,
    ) -> anyhow::Result<()> {
        Ok(self.writer.write_record(cells.into_iter().map(|cell| cell.0))?)
    }

    /// Writes what is left.
    pub(in crate::report) fn finish(mut self) -> anyhow::Result<()> {
        Ok(self.writer.flush()?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The characters are those of OWASP's page "CSV Injection" (from memory): equals, plus, minus, at
    /// sign, tab and carriage return, each at the beginning of a cell.
    #[test]
    fn texts_are_no_formulas_and_numbers_stay_numbers() {
        let mut table = CsvTable::with_columns(["serial", "value"]).unwrap();
        for text in ["=1+1", "+A1", "-A1", "@SUM(A1)", "\t=1", "\r=1", "'=1", "it's = x", "a,b"] {
            table.row([CsvCell::text(text), CsvCell::number(-4.5e-6)]).unwrap();
        }
        table.row([CsvCell::number(None), CsvCell::flag(true)]).unwrap();
        let text = table.text().unwrap();
        let cells: Vec<&str> =
            text.lines().skip(1).filter_map(|line| line.strip_suffix(",-0.0000045")).collect();
        let wanted = [
            "'=1+1",
            "'+A1",
            "'-A1",
            "'@SUM(A1)",
            "\\u{9}=1",
            "\\u{d}=1",
            "''=1",
            "it's = x",
            "\"a,b\"",
        ];
        assert_eq!(cells, wanted);
        assert!(text.ends_with("\n,true\n"), "{text}");
    }
}
