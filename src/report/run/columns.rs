//! Which columns `samples.parquet` has, and whether there is one.

use std::fmt;
use std::str::FromStr;

use crate::printable;
use crate::report::format::parquet::ColumnKind;
use crate::scenario::{Scenario, nearest};
use crate::study::common::figures::Figure;

/// What is asked of the files of the samples.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SampleColumns {
    /// All columns.
    All,
    /// The columns of these names, beside those that say what a row is about.
    Named(Vec<String>),
    /// No files of the samples.
    NoFiles,
}

/// A column of `samples.parquet` that holds a figure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FigureColumn {
    /// Its place in a row of figures.
    pub(super) place: usize,
    pub(super) name: String,
}

impl FromStr for SampleColumns {
    type Err = &'static str;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        match text.trim() {
            "all" => return Ok(Self::All),
            "none" => return Ok(Self::NoFiles),
            _ => {}
        }
        let names: Vec<String> = text.split(',').map(|name| name.trim().to_owned()).collect();
        if names.iter().any(String::is_empty) {
            return Err("expected all, none, or names of columns with commas between them");
        }
        Ok(Self::Named(names))
    }
}

impl fmt::Display for SampleColumns {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::All => f.write_str("all"),
            Self::Named(names) => f.write_str(&names.join(",")),
            Self::NoFiles => f.write_str("none"),
        }
    }
}

impl SampleColumns {
    /// Whether files of the samples are written.
    pub fn has_files(&self) -> bool {
        *self != Self::NoFiles
    }

    /// The columns of the file, in the order of these figures; none where there are no files.
    ///
    /// # Errors
    ///
    /// The whole message, when a name is not that of a column.
    pub fn of_figures(
        &self,
        figures: &[Figure],
        scenario: &Scenario,
    ) -> Result<Option<Vec<FigureColumn>>, String> {
        let all = figures.iter().enumerate();
        let all = all.map(|(place, figure)| (figure, column(place, *figure, scenario)));
        match self {
            Self::NoFiles => Ok(None),
            Self::All => {
                let usual = all.filter(|(figure, _)| is_usual(**figure, scenario));
                Ok(Some(usual.map(|(_, column)| column).collect()))
            }
            Self::Named(names) => {
                let all: Vec<FigureColumn> = all.map(|(_, column)| column).collect();
                let is_known = |name: &&String| all.iter().any(|column| column.name == **name);
                match names.iter().find(|name| !is_known(name)) {
                    Some(unknown) => Err(unknown_column(unknown, &all)),
                    None => {
                        Ok(Some(all.into_iter().filter(|own| names.contains(&own.name)).collect()))
                    }
                }
            }
        }
    }
}

/// The column of a figure; that which the limit is on is called `sharing_error`.
fn column(place: usize, figure: Figure, scenario: &Scenario) -> FigureColumn {
    let is_limited = figure == Figure::SharingError(scenario.limits.sharing);
    FigureColumn { place, name: if is_limited { "sharing_error".into() } else { figure.name() } }
}

/// Whether a figure has a column where nobody asks for it by name.
fn is_usual(figure: Figure, scenario: &Scenario) -> bool {
    match figure {
        // A switch carries its phase's current during half a period: the phases' columns tell.
        Figure::SwitchRms(_) | Figure::SwitchPeak(_) => false,
        Figure::Rating(_) => scenario.run.rating_columns,
        _ => true,
    }
}

/// Columns of `samples.parquet` that say what a row is about.
pub(super) const OF_ROWS: [(&str, ColumnKind); 5] = [
    ("sample", ColumnKind::Count),
    ("operating_point", ColumnKind::Word),
    ("arrangement", ColumnKind::Word),
    ("status", ColumnKind::Word),
    ("meets_limits", ColumnKind::Truth),
];

fn unknown_column(name: &str, all: &[FigureColumn]) -> String {
    let meant = nearest(name, all.iter().map(|column| column.name.as_str()));
    let meant = meant.map_or_else(String::new, |meant| format!("; did you mean {meant}?"));
    if OF_ROWS.iter().any(|(own, _)| *own == name) {
        return format!(
            "error: --columns: \"{}\" is in samples.parquet always\n  expected names of figures\n",
            printable::line(name)
        );
    }
    format!(
        "error: --columns: samples.parquet has no column \"{}\"{meant}\n  expected all, none, or \
         names of columns with commas between them: reports/README.md lists them\n",
        printable::line(name)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_list_of_columns_is_read() {
        let read = |text: &str| text.parse::<SampleColumns>();
        assert_eq!(read("all"), Ok(SampleColumns::All));
        assert_eq!(read(" none "), Ok(SampleColumns::NoFiles));
        let named = SampleColumns::Named(vec!["sharing_error".into(), "loss_W".into()]);
        assert_eq!(read("sharing_error, loss_W"), Ok(named));
        for wrong in ["", "loss_W,", ",", "a,,b"] {
            assert!(read(wrong).is_err(), "{wrong}");
        }
    }
}
