//! `samples.parquet` and `population.parquet`, written as the samples pass.

use std::fs::File;
use std::io::BufWriter;
use std::path::Path;

use polars::prelude::{
    BatchedWriter, Column, DataFrame, NamedFrom, ParquetCompression, ParquetWriter, Series,
};

use crate::converter::{Converter, Parameter};
use crate::engine::{Batch, Case, Status};
use crate::population::Population;
use crate::study::figures::Figure;

/// Rows gathered before they are written: few row groups, so that neither they nor the list of
/// them in the file's footer need memory that grows much with the samples.
const ROWS: usize = 1 << 16;

/// A Parquet file in the making.
struct Table {
    writer: Option<BatchedWriter<BufWriter<File>>>,
    file: Option<BufWriter<File>>,
}

impl std::fmt::Debug for Table {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Table")
    }
}

impl Table {
    fn create(path: &Path) -> anyhow::Result<Self> {
        Ok(Self { writer: None, file: Some(BufWriter::new(File::create(path)?)) })
    }

    fn write(&mut self, columns: Vec<Column>) -> anyhow::Result<()> {
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
            writer.finish()?;
        }
        Ok(())
    }
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
    values: Vec<Vec<Option<f64>>>,
}

impl Samples {
    /// Opens the file; `sharing` is the figure that stands as `sharing_error`.
    ///
    /// # Errors
    ///
    /// When it cannot be made.
    pub fn create(
        path: &Path,
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
            table: Table::create(path)?,
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
                    values.push(Some(row[*column]).filter(|x| !x.is_nan()));
                }
            }
        }
        if self.sample.len() >= ROWS { self.flush() } else { Ok(()) }
    }

    fn flush(&mut self) -> anyhow::Result<()> {
        let take = std::mem::take::<Vec<u64>>;
        let names = |f: &dyn Fn(&Case) -> &str| -> Vec<String> {
            self.case.iter().map(|c| f(&self.cases[*c]).to_owned()).collect()
        };
        let points = names(&|c| &c.point.name);
        let arrangements = names(&|c| c.arrangement.name());
        let statuses: Vec<&str> = self.status.iter().map(|s| s.name()).collect();
        let mut columns = vec![
            Series::new("sample".into(), take(&mut self.sample)).into(),
            Series::new("operating_point".into(), points).into(),
            Series::new("arrangement".into(), arrangements).into(),
            Series::new("status".into(), statuses).into(),
            Series::new("meets_limits".into(), std::mem::take(&mut self.good)).into(),
        ];
        for (values, (_, name)) in self.values.iter_mut().zip(&self.figures) {
            columns.push(Series::new(name.as_str().into(), std::mem::take(values)).into());
        }
        self.case.clear();
        self.status.clear();
        self.table.write(columns)
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
    pub fn create(path: &Path, population: Population) -> anyhow::Result<Self> {
        let columns = names(population.nominal()).len();
        let table = Table::create(path)?;
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
        }
        if self.sample.len() >= ROWS { self.flush() } else { Ok(()) }
    }

    fn flush(&mut self) -> anyhow::Result<()> {
        let mut columns: Vec<Column> =
            vec![Series::new("sample".into(), std::mem::take(&mut self.sample)).into()];
        for (values, name) in self.values.iter_mut().zip(names(self.population.nominal())) {
            columns.push(Series::new(name.into(), std::mem::take(values)).into());
        }
        self.table.write(columns)
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
