//! CSV files from test rooms and spreadsheets: the one reader for all of them.
//!
//! It takes what is unambiguous, and says how it read it where that is not the plain form (commas,
//! decimal points, a column's own unit). What may mean two things is refused with its place.
//! `scenarios/README.md` has the rules for users; the plain form is that of RFC 4180.
//!
//! - `format`: what the columns of a kind of file are;
//! - `separator`, `detection`: commas, semicolons or tabs, from the header or a first line `sep=`;
//! - `record`: rows with the places of their cells;
//! - `header`: which column holds what, in which unit;
//! - `decimals`: decimal points or decimal commas, from all numbers of the file;
//! - `file`: all of that together;
//! - `columns`, `free_header`: columns of numbers in files that hold anything besides;
//! - `row`: values, near enough to their nominal values; `names`: what rows are about.

mod columns;
mod decimals;
mod detection;
mod file;
mod format;
mod free_header;
mod header;
mod names;
mod record;
mod row;
mod separator;

pub(crate) use self::columns::{ColumnRequest, NumberColumn, read_columns};
pub use self::file::ReadFile;
pub(crate) use self::file::{names_of_other_columns, read};
pub(crate) use self::format::{FOR_THE_NOMINAL, Format, NOT_MEASURED};
pub(crate) use self::names::{Names, Spelling, differs_by_case, quoted};
pub(crate) use self::row::Row;
