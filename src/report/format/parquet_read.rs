//! A Parquet file that is read group by group: memory does not grow with the rows.

use std::fs::File;
use std::path::{Path, PathBuf};

use parquet::column::reader::{ColumnReader, ColumnReaderImpl};
use parquet::data_type::{ByteArray, DataType};
use parquet::errors::{ParquetError, Result as ParquetResult};
use parquet::file::reader::{FileReader, SerializedFileReader};

use crate::printable;

/// Rows of a group, at most: more than this program ever writes.
const MOST_ROWS: usize = 1 << 20;

/// The values of a column in a group.
#[derive(Debug)]
pub(in crate::report) enum ReadValues {
    /// Whole numbers.
    Counts(Vec<u64>),
    /// Texts.
    Words(Vec<ByteArray>),
    /// True or false.
    Truths(Vec<bool>),
    /// Numbers, NaN for nulls.
    Numbers(Vec<f64>),
}

/// A file with these columns.
pub(in crate::report) struct ParquetRows {
    path: PathBuf,
    reader: SerializedFileReader<File>,
    columns: usize,
    group: usize,
}

impl ParquetRows {
    /// Opens a file that has just these columns.
    ///
    /// # Errors
    ///
    /// When it cannot be read, or has others.
    pub(in crate::report) fn open(path: &Path, columns: &[&str]) -> anyhow::Result<Self> {
        let file = File::open(path).map_err(|error| cannot_read(path, &error))?;
        let reader = SerializedFileReader::new(file).map_err(|error| cannot_read(path, &error))?;
        let schema = reader.metadata().file_metadata().schema_descr_ptr();
        let found = schema.columns().iter().map(|column| column.name());
        if !found.eq(columns.iter().copied()) {
            anyhow::bail!("{} has other columns than its run", printable::path(path));
        }
        Ok(Self { path: path.to_owned(), reader, columns: columns.len(), group: 0 })
    }

    /// The columns of the next group of rows, all of one length; none behind the last group.
    ///
    /// # Errors
    ///
    /// When the file is damaged.
    pub(in crate::report) fn next_group(&mut self) -> anyhow::Result<Option<Vec<ReadValues>>> {
        if self.group == self.reader.num_row_groups() {
            return Ok(None);
        }
        let group = (0..self.columns).map(|column| self.column(column)).collect();
        self.group += 1;
        let values: ParquetResult<_> = group;
        values.map(Some).map_err(|error| cannot_read(&self.path, &error))
    }

    fn column(&self, column: usize) -> ParquetResult<ReadValues> {
        let group = self.reader.get_row_group(self.group)?;
        let rows = usize::try_from(group.metadata().num_rows()).unwrap_or(usize::MAX);
        if rows > MOST_ROWS {
            return Err(ParquetError::General("a group has too many rows".to_owned()));
        }
        match group.get_column_reader(column)? {
            ColumnReader::Int64ColumnReader(reader) => {
                let values = all(reader, rows)?.values;
                Ok(ReadValues::Counts(values.iter().map(|n| n.cast_unsigned()).collect()))
            }
            ColumnReader::ByteArrayColumnReader(reader) => {
                Ok(ReadValues::Words(all(reader, rows)?.values))
            }
            ColumnReader::BoolColumnReader(reader) => {
                Ok(ReadValues::Truths(all(reader, rows)?.values))
            }
            ColumnReader::DoubleColumnReader(reader) => {
                let ColumnValues { values, levels } = all(reader, rows)?;
                let mut values = values.into_iter();
                let value = |level: &i16| if *level > 0 { values.next() } else { Some(f64::NAN) };
                let numbers: Option<Vec<f64>> = levels.iter().map(value).collect();
                let numbers = numbers.filter(|numbers| numbers.len() == rows);
                numbers.map(ReadValues::Numbers).ok_or_else(short)
            }
            _ => Err(ParquetError::General("a column is of another kind".to_owned())),
        }
    }
}

/// Values of a column, and a level for every row where nulls are allowed.
struct ColumnValues<T> {
    values: Vec<T>,
    levels: Vec<i16>,
}

fn all<T: DataType>(
    mut reader: ColumnReaderImpl<T>,
    rows: usize,
) -> ParquetResult<ColumnValues<T::T>> {
    let (mut values, mut levels) = (Vec::new(), Vec::new());
    let mut read = 0;
    while read < rows {
        let (records, ..) =
            reader.read_records(rows - read, Some(&mut levels), None, &mut values)?;
        if records == 0 {
            return Err(short());
        }
        read += records;
    }
    Ok(ColumnValues { values, levels })
}

fn short() -> ParquetError {
    ParquetError::General("a column has fewer values than its group has rows".to_owned())
}

fn cannot_read(path: &Path, error: &dyn std::error::Error) -> anyhow::Error {
    anyhow::anyhow!(
        "cannot read {}: {}",
        printable::path(path),
        printable::line(&error.to_string())
    )
}
