//! A Parquet file that is written group by group, with the columns told beforehand.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use bytes::Bytes;
use parquet::basic::{Compression, LogicalType, Repetition, Type as Physical};
use parquet::column::writer::{ColumnCloseResult, ColumnWriter, get_column_writer};
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DataType, DoubleType, Int64Type};
use parquet::errors::{ParquetError, Result as ParquetResult};
use parquet::file::properties::{EnabledStatistics, WriterProperties, WriterPropertiesPtr};
use parquet::file::writer::{
    SerializedFileWriter, SerializedPageWriter, SerializedRowGroupWriter, TrackedWrite,
};
use parquet::schema::types::{ColumnDescPtr, ColumnPath, Type, TypePtr};
use rayon::prelude::*;

use super::folder::Folder;
use crate::printable;

/// Columns that are encoded at once. Their bytes stay in memory until they are written.
const AT_ONCE: usize = 16;

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
        let schema = self.writer.schema_descr().columns().to_vec();
        let properties = self.writer.properties().clone();
        let group = self.writer.next_row_group();
        let written = group.and_then(|group| write_group(group, &schema, &properties, columns));
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

/// Writes a group: some columns at a time are encoded in memory, on all threads, and then written in their order.
fn write_group<W: Write + Send>(
    mut group: SerializedRowGroupWriter<'_, W>,
    schema: &[ColumnDescPtr],
    properties: &WriterPropertiesPtr,
    columns: &[Values<'_>],
) -> ParquetResult<()> {
    let encode = |(values, column): (&Values, &ColumnDescPtr)| {
        EncodedColumn::new(values, column.clone(), properties.clone())
    };
    // Both stem from one list. A column too few is an error when the group is closed.
    for (values, columns) in columns.chunks(AT_ONCE).zip(schema.chunks(AT_ONCE)) {
        // Outside of a study's threads none are started for this.
        let encoded: Vec<ParquetResult<EncodedColumn>> = match rayon::current_thread_index() {
            Some(_) => values.par_iter().zip(columns).map(encode).collect(),
            None => values.iter().zip(columns).map(encode).collect(),
        };
        for column in encoded {
            let EncodedColumn { bytes, closed } = column?;
            group.append_column(&bytes, closed)?;
        }
    }
    group.close()?;
    Ok(())
}

/// A column of a group as it stands in the file.
struct EncodedColumn {
    bytes: Bytes,
    closed: ColumnCloseResult,
}

impl EncodedColumn {
    fn new(
        values: &Values,
        column: ColumnDescPtr,
        properties: WriterPropertiesPtr,
    ) -> ParquetResult<Self> {
        let mut bytes = TrackedWrite::new(Vec::new());
        let pages = Box::new(SerializedPageWriter::new(&mut bytes));
        let mut writer = get_column_writer(column, properties, pages);
        write_values(&mut writer, values)?;
        let closed = writer.close()?;
        Ok(Self { bytes: bytes.into_inner()?.into(), closed })
    }
}

fn write_values(writer: &mut ColumnWriter<'_>, values: &Values) -> ParquetResult<()> {
    match values {
        Values::Counts(counts) => {
            let counts: Vec<i64> = counts.iter().map(|n| n.cast_signed()).collect();
            write_column::<Int64Type>(writer, &counts, None)
        }
        Values::Words(words) => write_column::<ByteArrayType>(writer, words, None),
        Values::Truths(truths) => write_column::<BoolType>(writer, truths, None),
        Values::Numbers(numbers) => {
            let known: Vec<i16> = numbers.iter().map(|x| i16::from(!x.is_nan())).collect();
            if known.contains(&0) {
                let kept: Vec<f64> = numbers.iter().copied().filter(|x| !x.is_nan()).collect();
                write_column::<DoubleType>(writer, &kept, Some(&known))
            } else {
                write_column::<DoubleType>(writer, numbers, Some(&known))
            }
        }
    }
}

/// Writes the values of a column; `known` has a 1 for every row with a value and a 0 for every null.
fn write_column<T: DataType>(
    writer: &mut ColumnWriter<'_>,
    values: &[T::T],
    known: Option<&[i16]>,
) -> ParquetResult<()> {
    let Some(column) = T::get_column_writer_mut(writer) else {
        return Err(ParquetError::General("a column of another type than its schema".into()));
    };
    column.write_batch(values, known, None)?;
    Ok(())
}

/// Names the file and the reason. The Parquet library puts words of its own before what the
/// system said.
fn cannot_write(destination: &Path, error: &dyn std::error::Error) -> anyhow::Error {
    let reason = error.source().map_or_else(|| error.to_string(), ToString::to_string);
    anyhow::anyhow!("cannot write {}: {}", printable::path(destination), reason.trim())
}
