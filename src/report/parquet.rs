//! `samples.parquet` and `population.parquet`, written as the samples pass.

use std::fs::File;
use std::io::BufWriter;
use std::path::{Path, PathBuf};

use polars::prelude::{
    BatchedWriter, Column, DataFrame, Float64Chunked, IntoColumn, NamedFrom, NewChunkedArray,
    ParquetCompression, ParquetWriter, PolarsError, Series,
};

use super::folder::Folder;
use crate::converter::{Converter, Parameter};
use crate::engine::{Batch, Case, Status};
use crate::population::Population;
use crate::study::figures::Figure;

/// Rows of a row group of `samples.parquet`: they are gathered in memory at 8 bytes a number,
/// while the list of the groups, which the footer needs, takes some 3 kB a column and group for
/// good. At a million samples of four operating points both weigh the same.
const ROWS: usize = 1 << 16;
/// Rows of a row group of `population.parquet`, which has but one a sample: so gathering ends to
/// grow with the samples as early as elsewhere.
const PARTS_ROWS: usize = 1 << 15;

/// A Parquet file in the making.
struct Table {
    /// Where the file will stand: what messages call it.
    place: PathBuf,
    writer: Option<BatchedWriter<BufWriter<File>>>,
    file: Option<BufWriter<File>>,
}

impl std::fmt::Debug for Table {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Table").field("place", &self.place).finish_non_exhaustive()
    }
}

impl Table {
    fn create(folder: &Folder, name: &str) -> anyhow::Result<Self> {
        let place = folder.place(name);
        let file = File::create(folder.path(name)).map_err(|e| cannot_write(&place, e))?;
        Ok(Self { place, writer: None, file: Some(BufWriter::new(file)) })
    }

    /// Writes a row group.
    fn write(&mut self, columns: Vec<Column>) -> anyhow::Result<()> {
        self.append(columns).map_err(|e| cannot_write(&self.place, e))
    }

    fn append(&mut self, columns: Vec<Column>) -> Result<(), PolarsError> {
        let frame = DataFrame::new_infer_height(columns)?;
        if let Some(file) = self.file.take() {
            let writer = ParquetWriter::new(file)
                .with_compression(ParquetCompression::Lz4Raw)
                .set_parallel(false)
                .batched(frame.schema())?;
            self.writer = Some(writer);
        }
        if let Some(writer) = &mut self.writer {
            writer.write_batch(&frame)?;
        }
        Ok(())
    }

    fn finish(self) -> anyhow::Result<()> {
        if let Some(writer) = self.writer {
            writer.finish().map_err(|e| cannot_write(&self.place, e))?;
        }
        Ok(())
    }
}

/// Names the file and the reason. The Parquet library presents a full disk as a file "out of
/// specification"; what the system said stands at the end.
fn cannot_write(place: &Path, error: impl std::error::Error) -> anyhow::Error {
    let text = error.to_string();
    let reason = text.rsplit("underlying IO error: ").next().unwrap_or(&text);
    anyhow::anyhow!("cannot write {}: {}", place.display(), reason.trim())
}

/// A column of numbers; those that are NaN become nulls. Where there are none, nothing is copied.
fn numbers(name: &str, values: &mut Vec<f64>) -> Column {
    let values = std::mem::take(values);
    let array = if values.iter().any(|x| x.is_nan()) {
        let known = values.iter().map(|x| Some(*x).filter(|x| !x.is_nan()));
        Float64Chunked::from_iter_options(name.into(), known)
    } else {
        Float64Chunked::from_vec(name.into(), values)
    };
    array.into_column()
}

/// Rows of `samples.parquet`: one a sample, operating point and arrangement.
#[derive(Debug)]
pub struct Samples {
    table: Table,
    cases: Vec<Case>,
    /// Columns with their places in a row of figures.
    figures: Vec<(usize, String)>,
    sample: Vec<u64>,
    case: Vec<usize>,
    status: Vec<Status>,
    good: Vec<bool>,
    values: Vec<Vec<f64>>,
}

impl Samples {
    /// Opens the file; `sharing` is the figure that stands as `sharing_error`.
    ///
    /// # Errors
    ///
    /// When it cannot be made.
    pub fn create(
        folder: &Folder,
        cases: &[Case],
        figures: &[Figure],
        sharing: Figure,
    ) -> anyhow::Result<Self> {
        // A switch carries its phase's current during half a period: the phases' columns tell.
        let kept = |f: &Figure| !matches!(f, Figure::SwitchRms(_) | Figure::SwitchPeak(_));
        let figures: Vec<(usize, String)> = figures
            .iter()
            .enumerate()
            .filter(|(_, f)| kept(f))
            .map(|(n, f)| (n, if *f == sharing { "sharing_error".into() } else { f.name() }))
            .collect();
        Ok(Self {
            table: Table::create(folder, "samples.parquet")?,
            cases: cases.to_vec(),
            sample: Vec::new(),
            case: Vec::new(),
            status: Vec::new(),
            good: Vec::new(),
            values: vec![Vec::new(); figures.len()],
            figures,
        })
    }

    /// Takes a batch.
    ///
    /// # Errors
    ///
    /// When the file cannot be written.
    pub fn take(
        &mut self,
        batch: &Batch,
        good: &dyn Fn(usize, usize) -> bool,
    ) -> anyhow::Result<()> {
        for n in 0..batch.len() {
            for case in 0..self.cases.len() {
                let (status, row) = batch.row(n, case);
                self.sample.push(batch.first + n as u64);
                self.case.push(case);
                self.status.push(status);
                self.good.push(good(n, case));
                for (values, (column, _)) in self.values.iter_mut().zip(&self.figures) {
                    values.push(row[*column]);
                }
                if self.sample.len() == ROWS {
                    self.flush()?;
                }
            }
        }
        Ok(())
    }

    fn flush(&mut self) -> anyhow::Result<()> {
        let names = |f: &dyn Fn(&Case) -> &str| -> Vec<&str> {
            self.case.iter().map(|c| f(&self.cases[*c])).collect()
        };
        let points = names(&|c| &c.point.name);
        let arrangements = names(&|c| c.arrangement.name());
        let statuses: Vec<&str> = self.status.iter().map(|s| s.name()).collect();
        let mut columns = vec![
            Series::new("sample".into(), &self.sample).into(),
            Series::new("operating_point".into(), points).into(),
            Series::new("arrangement".into(), arrangements).into(),
            Series::new("status".into(), statuses).into(),
            Series::new("meets_limits".into(), &self.good).into(),
        ];
        let values = self.values.iter_mut().zip(&self.figures);
        columns.extend(values.map(|(values, (_, name))| numbers(name, values)));
        self.table.write(columns)?;
        self.sample.clear();
        self.case.clear();
        self.status.clear();
        self.good.clear();
        Ok(())
    }

    /// Writes what is left and closes the file.
    ///
    /// # Errors
    ///
    /// When the file cannot be written.
    pub fn finish(mut self) -> anyhow::Result<()> {
        self.flush()?;
        self.table.finish()
    }
}

/// Rows of `population.parquet`: the parts of every sample.
#[derive(Debug)]
pub struct Parts {
    table: Table,
    population: Population,
    sample: Vec<u64>,
    values: Vec<Vec<f64>>,
}

impl Parts {
    /// Opens the file.
    ///
    /// # Errors
    ///
    /// When it cannot be made.
    pub fn create(folder: &Folder, population: Population) -> anyhow::Result<Self> {
        let columns = names(population.nominal()).len();
        let table = Table::create(folder, "population.parquet")?;
        Ok(Self { table, population, sample: Vec::new(), values: vec![Vec::new(); columns] })
    }

    /// Takes the samples of a batch.
    ///
    /// # Errors
    ///
    /// When the file cannot be written.
    pub fn take(&mut self, batch: &Batch) -> anyhow::Result<()> {
        for n in 0..batch.len() as u64 {
            let converter = self.population.draw(batch.first + n);
            self.sample.push(batch.first + n);
            for (values, value) in self.values.iter_mut().zip(parts(&converter)) {
                values.push(value);
            }
            if self.sample.len() == PARTS_ROWS {
                self.flush()?;
            }
        }
        Ok(())
    }

    fn flush(&mut self) -> anyhow::Result<()> {
        let mut columns: Vec<Column> = vec![Series::new("sample".into(), &self.sample).into()];
        let names = names(self.population.nominal());
        let values = self.values.iter_mut().zip(names);
        columns.extend(values.map(|(values, name)| numbers(&name, values)));
        self.table.write(columns)?;
        self.sample.clear();
        Ok(())
    }

    /// Writes what is left and closes the file.
    ///
    /// # Errors
    ///
    /// When the file cannot be written.
    pub fn finish(mut self) -> anyhow::Result<()> {
        self.flush()?;
        self.table.finish()
    }
}

/// The columns of a converter's parts, in the order of [`parts`].
fn names(converter: &Converter) -> Vec<String> {
    let phases = 1..=converter.phases();
    let mut names: Vec<String> = phases
        .flat_map(|k| {
            Parameter::of_tank().map(move |p| format!("{}_{k}{}", p.key(), p.unit_suffix()))
        })
        .collect();
    for leg in ["", "_return_leg"] {
        names.extend((1..converter.phases()).map(|k| format!("flying_capacitance{leg}_{k}_F")));
    }
    names
}

fn parts(converter: &Converter) -> impl Iterator<Item = f64> {
    let tanks =
        converter.tanks.iter().flat_map(|t| Parameter::of_tank().filter_map(|p| t.value(p)));
    tanks.chain(converter.flying.iter().chain(&converter.flying_return).map(|c| c.0))
}
