//! Which samples pass, read from `samples.parquet` one group of rows after the other: memory does not grow with
//! the samples.

use std::collections::BTreeMap;
use std::fs::File;
use std::path::Path;

use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::reader::RowIter;
use parquet::record::{Field, Row};
use parquet::schema::types::Type;

use super::error::CompareError;

/// What a yield is of: operating point, or `all`, and arrangement.
pub(super) type PassKey = [String; 2];

/// A sample with what it passes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct SamplePasses {
    /// Its number.
    pub sample: u64,
    /// Whether it passes, by operating point and arrangement, and at all points together.
    pub passes: BTreeMap<PassKey, bool>,
}

/// The samples of a file in their order.
pub(super) struct PassReader {
    rows: RowIter<'static>,
    path: String,
    /// The first row of the sample to come.
    ahead: Option<PassRow>,
}

/// What a row tells.
struct PassRow {
    sample: u64,
    key: PassKey,
    passes: bool,
}

/// The columns that are read.
const COLUMNS: [&str; 4] = ["sample", "operating_point", "arrangement", "meets_limits"];

impl PassReader {
    /// Opens a file; `name` is what messages call it.
    ///
    /// # Errors
    ///
    /// [`CompareError::Samples`] where it is not one of ours.
    pub(super) fn open(path: &Path, name: String) -> Result<Self, CompareError> {
        let wrong = |reason: String| CompareError::Samples { path: name.clone(), reason };
        let file = File::open(path).map_err(|error| wrong(error.to_string()))?;
        let reader = SerializedFileReader::new(file).map_err(|error| wrong(error.to_string()))?;
        let schema = reader.metadata().file_metadata().schema().clone();
        let wanted = COLUMNS
            .iter()
            .map(|name| schema.get_fields().iter().find(|field| field.name() == *name).cloned());
        let fields: Option<Vec<_>> = wanted.collect();
        let fields = fields.ok_or_else(|| wrong("it lacks columns of samples".to_owned()))?;
        let projection = Type::group_type_builder(schema.name())
            .with_fields(fields)
            .build()
            .map_err(|error| wrong(error.to_string()))?;
        let rows = RowIter::from_file_into(Box::new(reader))
            .project(Some(projection))
            .map_err(|error| wrong(error.to_string()))?;
        let mut opened = Self { rows, path: name, ahead: None };
        opened.ahead = opened.row()?;
        Ok(opened)
    }

    fn row(&mut self) -> Result<Option<PassRow>, CompareError> {
        let wrong = |reason: String| CompareError::Samples { path: self.path.clone(), reason };
        let Some(row) = self.rows.next() else { return Ok(None) };
        let row = row.map_err(|error| wrong(error.to_string()))?;
        told(&row).map(Some).ok_or_else(|| wrong("a row is not one of samples".to_owned()))
    }

    /// The next sample; none behind the last.
    ///
    /// # Errors
    ///
    /// [`CompareError::Samples`] where the file is damaged.
    pub(super) fn next_sample(&mut self) -> Result<Option<SamplePasses>, CompareError> {
        let Some(first) = self.ahead.take() else { return Ok(None) };
        let mut found = SamplePasses { sample: first.sample, passes: BTreeMap::new() };
        let mut row = Some(first);
        while let Some(own) = row {
            if own.sample != found.sample {
                self.ahead = Some(own);
                break;
            }
            let [_, arrangement] = &own.key;
            let all = found.passes.entry(["all".to_owned(), arrangement.clone()]).or_insert(true);
            *all &= own.passes;
            *found.passes.entry(own.key).or_insert(true) &= own.passes;
            row = self.row()?;
        }
        Ok(Some(found))
    }
}

fn told(row: &Row) -> Option<PassRow> {
    let (mut sample, mut point, mut arrangement, mut passes) = (None, None, None, None);
    for (name, field) in row.get_column_iter() {
        match (name.as_str(), field) {
            ("sample", Field::Long(n)) => sample = u64::try_from(*n).ok(),
            ("sample", Field::ULong(n)) => sample = Some(*n),
            ("operating_point", Field::Str(text)) => point = Some(text.clone()),
            ("arrangement", Field::Str(text)) => arrangement = Some(text.clone()),
            ("meets_limits", Field::Bool(own)) => passes = Some(*own),
            _ => {}
        }
    }
    Some(PassRow { sample: sample?, key: [point?, arrangement?], passes: passes? })
}
