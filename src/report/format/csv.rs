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

    /// A text as a page shows it: a number without what groups its digits, all else no formula.
    pub(in crate::report) fn shown(text: &str) -> Self {
        let text = text.replace('\u{2212}', "-");
        let bare = text.replace('\u{a0}', "");
        if is_number(&bare) {
            return Self(bare);
        }
        let text = text.replace('\u{a0}', " ");
        if is_amount(&text) { Self(text) } else { Self::text(&text) }
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

fn is_number(word: &str) -> bool {
    let is_part = |c: char| c.is_ascii_digit() || "+-.".contains(c);
    word.chars().all(is_part) && word.parse::<f64>().is_ok()
}

/// Whether a text is a number with words behind it, such as a unit: `-0.1 to +0.9 %`. Nothing in it
/// computes.
fn is_amount(text: &str) -> bool {
    let is_word = |word: &str| word.chars().all(|c| c.is_alphabetic() || "%°".contains(c));
    let mut words = text.split(' ');
    words.next().is_some_and(is_number) && words.all(|word| is_number(word) || is_word(word))
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
        let mut table = Self::empty();
        table.row(columns.into_iter().map(|name| CsvCell::text(name.as_ref())))?;
        Ok(table)
    }

    /// A file without columns yet: its first row names them.
    pub(in crate::report) fn empty() -> Self {
        Self { writer: csv::Writer::from_writer(Vec::new()) }
    }

    /// The text of the file.
    pub(in crate::report) fn text(self) -> anyhow::Result<String> {
        let bytes = self.writer.into_inner().context("cannot assemble a CSV file")?;
        Ok(String::from_utf8(bytes)?)
    }
}

impl<W: Write> CsvTable<W> {
    /// A file with these columns, written as its rows come.
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

    #[test]
    fn what_a_page_shows_is_a_number_or_harmless() {
        let shown = |text: &str| CsvCell::shown(text).0;
        assert_eq!(shown("\u{2212}20\u{a0}000.5"), "-20000.5");
        assert_eq!(shown("\u{2212}0.10 to +0.94\u{a0}%"), "-0.10 to +0.94 %");
        assert_eq!(shown("5\u{a0}µH"), "5 µH");
        for formula in ["-1+A1", "+1+cmd|x", "-5 A1", "-", "=1", "@x", "-1 (a)", "- 1", "\u{2212}x"]
        {
            assert!(shown(formula).starts_with('\''), "{formula}");
        }
        assert_eq!(shown("a\u{1b}"), "a\\u{1b}");
        assert_eq!(shown(""), "");
    }
}
