//! A Parquet file that is written group by group, with the columns told beforehand.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use parquet::basic::{Compression, LogicalType, Repetition, Type as Physical};
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DataType, DoubleType, Int64Type};
use parquet::errors::{ParquetError, Result as ParquetResult};
use parquet::file::properties::{EnabledStatistics, WriterProperties};
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::types::{ColumnPath, Type, TypePtr};

use super::folder::Folder;
use crate::printable;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::report) enum ColumnKind {
    /// Whole numbers.
    Count,
    /// Few texts that recur.
    Word,
    /// True or false.
    Truth,
    /// Numbers; those that are NaN become nulls.
    Number,
}

/// Values of one column in one group of rows.
#[derive(Debug)]
pub(in crate::report) enum Values<'a> {
    /// Whole numbers.
    Counts(&'a [u64]),
    /// Texts; those that recur are clones of one another, which share their bytes.
    Words(Vec<ByteArray>),
    /// True or false.
    Truths(&'a [bool]),
    /// Numbers, NaN for nulls.
    Numbers(&'a [f64]),
}

/// A Parquet file in the making.
pub(in crate::report) struct ParquetTable {
    /// Where the file will be: what messages call it.
    destination: PathBuf,
    writer: SerializedFileWriter<BufWriter<File>>,
}

impl std::fmt::Debug for ParquetTable {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("ParquetTable")
            .field("destination", &self.destination)
            .finish_non_exhaustive()
    }
}

impl ParquetTable {
    /// Opens the file `name` of a folder with these columns.
    ///
    /// # Errors
    ///
    /// When it cannot be made.
    pub(in crate::report) fn create(
        folder: &Folder,
        name: &str,
        columns: &[(String, ColumnKind)],
    ) -> anyhow::Result<Self> {
        let destination = folder.destination(name);
        let file = File::create(folder.path(name)).map_err(|e| cannot_write(&destination, &e))?;
        let writer = schema(columns).and_then(|schema| {
            SerializedFileWriter::new(BufWriter::new(file), schema, properties(columns).into())
        });
        let writer = writer.map_err(|e| cannot_write(&destination, &e))?;
        Ok(Self { destination, writer })
    }

    /// Writes a group of rows: the values of every column, all of one length.
    ///
    /// # Errors
    ///
    /// When the file cannot be written.
    pub(in crate::report) fn write(&mut self, columns: &[Values<'_>]) -> anyhow::Result<()> {
        let written = self.writer.next_row_group().and_then(|group| write_group(group, columns));
        written.map_err(|e| cannot_write(&self.destination, &e))
    }

    /// Closes the file.
    ///
    /// # Errors
    ///
    /// When it cannot be written.
    pub(in crate::report) fn finish(self) -> anyhow::Result<()> {
        let Self { destination, writer } = self;
        let written = writer.into_inner().and_then(|mut file| Ok(file.flush()?));
        written.map_err(|e| cannot_write(&destination, &e))
    }
}

fn schema(columns: &[(String, ColumnKind)]) -> ParquetResult<TypePtr> {
    let fields = columns.iter().map(|(name, kind)| {
        let (physical, logical, repetition) = match kind {
            ColumnKind::Count => {
                let logical = LogicalType::integer(64, false);
                (Physical::INT64, Some(logical), Repetition::REQUIRED)
            }
            ColumnKind::Word => {
                (Physical::BYTE_ARRAY, Some(LogicalType::String), Repetition::REQUIRED)
            }
            ColumnKind::Truth => (Physical::BOOLEAN, None, Repetition::REQUIRED),
            ColumnKind::Number => (Physical::DOUBLE, None, Repetition::OPTIONAL),
        };
        let field = Type::primitive_type_builder(name, physical)
            .with_logical_type(logical)
            .with_repetition(repetition)
            .build()?;
        Ok(Arc::new(field))
    });
    let fields = fields.collect::<ParquetResult<_>>()?;
    Ok(Arc::new(Type::group_type_builder("table").with_fields(fields).build()?))
}

/// Only texts that recur are worth a dictionary; statistics are kept for each group, not for each
/// of its pages.
fn properties(columns: &[(String, ColumnKind)]) -> WriterProperties {
    let plain = WriterProperties::builder()
        .set_compression(Compression::LZ4_RAW)
        .set_statistics_enabled(EnabledStatistics::Chunk)
        .set_dictionary_enabled(false);
    let words = columns.iter().filter(|(_, kind)| *kind == ColumnKind::Word);
    words
        .fold(plain, |all, (name, _)| {
            all.set_column_dictionary_enabled(ColumnPath::from(name.as_str()), true)
        })
        .build()
}

fn write_group<W: Write + Send>(
    mut group: SerializedRowGroupWriter<'_, W>,
    columns: &[Values<'_>],
) -> ParquetResult<()> {
    let mut known: Vec<i16> = Vec::new();
    for values in columns {
        match values {
            Values::Counts(counts) => {
                let counts: Vec<i64> = counts.iter().map(|n| n.cast_signed()).collect();
                write_column::<Int64Type, _>(&mut group, &counts, None)?;
            }
            Values::Words(words) => write_column::<ByteArrayType, _>(&mut group, words, None)?,
            Values::Truths(truths) => write_column::<BoolType, _>(&mut group, truths, None)?,
            Values::Numbers(numbers) => {
                known.clear();
                known.extend(numbers.iter().map(|x| i16::from(!x.is_nan())));
                if known.contains(&0) {
                    let kept: Vec<f64> = numbers.iter().copied().filter(|x| !x.is_nan()).collect();
                    write_column::<DoubleType, _>(&mut group, &kept, Some(&known))?;
                } else {
                    write_column::<DoubleType, _>(&mut group, numbers, Some(&known))?;
                }
            }
        }
    }
    group.close()?;
    Ok(())
}

/// Writes the group's next column; `known` has a 1 for every row with a value and a 0 for every
/// null.
fn write_column<T: DataType, W: Write + Send>(
    group: &mut SerializedRowGroupWriter<'_, W>,
    values: &[T::T],
    known: Option<&[i16]>,
) -> ParquetResult<()> {
    let Some(mut column) = group.next_column()? else {
        return Err(ParquetError::General("a group has more columns than its schema".into()));
    };
    column.typed::<T>().write_batch(values, known, None)?;
    column.close()
}

/// Names the file and the reason. The Parquet library puts words of its own before what the
/// system said.
fn cannot_write(destination: &Path, error: &dyn std::error::Error) -> anyhow::Error {
    let reason = error.source().map_or_else(|| error.to_string(), ToString::to_string);
    anyhow::anyhow!("cannot write {}: {}", printable::path(destination), reason.trim())
}
