//! `samples.parquet` and `population.parquet`, written as the samples pass.

use std::ops::Range;
use std::path::Path;

use anyhow::{Context, ensure};
use parquet::data_type::ByteArray;

use super::columns::{FigureColumn, OF_ROWS};
use crate::engine::{Batch, SampleRow, Status};
use crate::population::{Population, columns};
use crate::printable;
use crate::report::format::folder::Folder;
use crate::report::format::parquet::{ColumnKind, ParquetTable, Values};
use crate::report::format::parquet_read::{ParquetRows, ReadValues};
use crate::solver::Case;

/// Rows of a row group of `samples.parquet`: they are gathered in memory at 8 bytes a number,
/// while the list of the groups, which the footer needs, takes some 3 kB a column and group for
/// good. At a million samples of four operating points both weigh the same.
const ROWS: usize = 1 << 16;
/// Rows that are gathered at once: their figures stay in the fast memory of a processor.
const BLOCK: usize = 64;
/// Rows of a row group of `population.parquet`, which has but one a sample: so gathering ends to
/// grow with the samples as early as elsewhere.
const PARTS_ROWS: usize = 1 << 15;

/// Rows of `samples.parquet`: one a sample, operating point and arrangement.
#[derive(Debug)]
pub struct Samples {
    table: ParquetTable,
    cases: Vec<Case>,
    figures: Vec<FigureColumn>,
    sample: Vec<u64>,
    case: Vec<usize>,
    status: Vec<Status>,
    good: Vec<bool>,
    values: Vec<Vec<f64>>,
}

impl Samples {
    /// Opens the file with columns of these figures.
    ///
    /// # Errors
    ///
    /// When it cannot be made.
    pub fn create(
        folder: &Folder,
        cases: &[Case],
        figures: Vec<FigureColumn>,
    ) -> anyhow::Result<Self> {
        let columns: Vec<(String, ColumnKind)> = OF_ROWS
            .map(|(name, kind)| (name.to_owned(), kind))
            .into_iter()
            .chain(figures.iter().map(|own| (own.name.clone(), ColumnKind::Number)))
            .collect();
        Ok(Self {
            table: ParquetTable::create(folder, "samples.parquet", &columns)?,
            cases: cases.to_vec(),
            sample: Vec::new(),
            case: Vec::new(),
            status: Vec::new(),
            good: Vec::new(),
            values: vec![Vec::new(); figures.len()],
            figures,
        })
    }

    /// Takes the first `samples` of a batch.
    ///
    /// # Errors
    ///
    /// When the file cannot be written.
    pub fn take(
        &mut self,
        batch: &Batch,
        samples: usize,
        good: &dyn Fn(usize, usize) -> bool,
    ) -> anyhow::Result<()> {
        let mut rows = 0..samples * self.cases.len();
        while !rows.is_empty() {
            let block = next_block(&mut rows, ROWS - self.sample.len());
            self.gather(batch, block, good);
            self.flush_full()?;
        }
        Ok(())
    }

    /// Takes a block of rows, column by column.
    fn gather(&mut self, batch: &Batch, block: Range<usize>, good: &dyn Fn(usize, usize) -> bool) {
        let cases = self.cases.len();
        let mut figures = Vec::with_capacity(BLOCK);
        for (n, case) in block.map(|row| (row / cases, row % cases)) {
            let SampleRow { status, figures: row } = batch.row(n, case);
            self.sample.push(batch.first + n as u64);
            self.case.push(case);
            self.status.push(status);
            self.good.push(good(n, case));
            figures.push(row);
        }
        for (values, column) in self.values.iter_mut().zip(&self.figures) {
            values.extend(figures.iter().map(|row| row[column.place]));
        }
    }

    /// Rows of a sample.
    pub fn cases(&self) -> u64 {
        self.cases.len().max(1) as u64
    }

    /// Takes the samples of these numbers from a file that was written in the same way; `advance` is told how
    /// many rows were taken.
    ///
    /// # Errors
    ///
    /// When it does not hold these samples, when the file cannot be written, when `advance` fails.
    pub fn append(
        &mut self,
        file: &Path,
        samples: Range<u64>,
        advance: &mut dyn FnMut(u64) -> anyhow::Result<()>,
    ) -> anyhow::Result<()> {
        let figures = self.figures.iter().map(|own| own.name.as_str());
        let names: Vec<&str> = OF_ROWS.iter().map(|(name, _)| *name).chain(figures).collect();
        let mut rows = ParquetRows::open(file, &names)?;
        let cases = 0..self.cases.len();
        let mut expected = samples.flat_map(|sample| cases.clone().map(move |case| (sample, case)));
        let damaged = || format!("{} does not hold the samples of its part", printable::path(file));
        while let Some(group) = rows.next_group()? {
            let group = SampleGroup::of(&group).with_context(damaged)?;
            for row in 0..group.samples.len() {
                let (sample, case) = expected.next().with_context(damaged)?;
                ensure!(group.samples[row] == sample, damaged());
                self.sample.push(sample);
                self.case.push(case);
                self.status.push(group.status(row).with_context(damaged)?);
                self.good.push(group.good[row]);
                for (values, read) in self.values.iter_mut().zip(&group.figures) {
                    values.push(read[row]);
                }
                self.flush_full()?;
            }
            advance(group.samples.len() as u64)?;
        }
        ensure!(expected.next().is_none(), damaged());
        Ok(())
    }

    fn flush_full(&mut self) -> anyhow::Result<()> {
        if self.sample.len() == ROWS { self.flush() } else { Ok(()) }
    }

    fn flush(&mut self) -> anyhow::Result<()> {
        let of_cases = |name: &dyn Fn(&Case) -> &str| -> Vec<ByteArray> {
            let names: Vec<ByteArray> = self.cases.iter().map(|own| name(own).into()).collect();
            self.case.iter().map(|case| names[*case].clone()).collect()
        };
        let points = of_cases(&|case| &case.point.name);
        let arrangements = of_cases(&|case| case.arrangement.name());
        let names = Status::ALL.map(|status| ByteArray::from(status.name()));
        let statuses = self.status.iter().map(|own| names[*own as usize].clone()).collect();
        let mut columns = vec![
            Values::Counts(&self.sample),
            Values::Words(points),
            Values::Words(arrangements),
            Values::Words(statuses),
            Values::Truths(&self.good),
        ];
        columns.extend(self.values.iter().map(|values| Values::Numbers(values)));
        self.table.write(&columns)?;
        self.values.iter_mut().for_each(Vec::clear);
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

/// The first of the rows left, no more than there is room for.
fn next_block(rows: &mut Range<usize>, room: usize) -> Range<usize> {
    let block = rows.start..rows.end.min(rows.start + room.min(BLOCK));
    rows.start = block.end;
    block
}

/// Columns of a group of rows.
struct SampleGroup<'a> {
    samples: &'a [u64],
    statuses: &'a [ByteArray],
    good: &'a [bool],
    figures: Vec<&'a [f64]>,
}

impl<'a> SampleGroup<'a> {
    /// None where they are of other kinds.
    fn of(columns: &'a [ReadValues]) -> Option<Self> {
        let [
            ReadValues::Counts(samples),
            ReadValues::Words(_),
            ReadValues::Words(_),
            ReadValues::Words(statuses),
            ReadValues::Truths(good),
            figures @ ..,
        ] = columns
        else {
            return None;
        };
        let numbers = |own: &'a ReadValues| match own {
            ReadValues::Numbers(numbers) => Some(numbers.as_slice()),
            _ => None,
        };
        let figures: Vec<&[f64]> = figures.iter().map(numbers).collect::<Option<_>>()?;
        let rows = samples.len();
        let is_whole = statuses.len() == rows
            && good.len() == rows
            && figures.iter().all(|own| own.len() == rows);
        is_whole.then_some(Self { samples, statuses, good, figures })
    }

    fn status(&self, row: usize) -> Option<Status> {
        Status::ALL.into_iter().find(|status| status.name().as_bytes() == self.statuses[row].data())
    }
}

/// Rows of `population.parquet`: the parts of every sample.
#[derive(Debug)]
pub struct Parts {
    table: ParquetTable,
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
        let names = columns::names(population.nominal());
        let values = vec![Vec::new(); names.len()];
        let columns: Vec<(String, ColumnKind)> =
            std::iter::once(("sample".to_owned(), ColumnKind::Count))
                .chain(names.into_iter().map(|name| (name, ColumnKind::Number)))
                .collect();
        let table = ParquetTable::create(folder, "population.parquet", &columns)?;
        Ok(Self { table, population, sample: Vec::new(), values })
    }

    /// Takes the first `samples` of a batch, which holds their parts.
    ///
    /// # Errors
    ///
    /// When the file cannot be written.
    pub fn take(&mut self, batch: &Batch, samples: usize) -> anyhow::Result<()> {
        let mut rows = 0..samples;
        while !rows.is_empty() {
            let block = next_block(&mut rows, PARTS_ROWS - self.sample.len());
            self.sample.extend(block.clone().map(|n| batch.first + n as u64));
            for (place, column) in self.values.iter_mut().enumerate() {
                column.extend(block.clone().map(|n| batch.own(n)[place]));
            }
            self.flush_full()?;
        }
        Ok(())
    }

    /// Draws the samples of these numbers.
    ///
    /// # Errors
    ///
    /// When the file cannot be written.
    pub fn draw(&mut self, samples: Range<u64>) -> anyhow::Result<()> {
        for sample in samples {
            let converter = self.population.draw(sample);
            self.push(sample, columns::values(&converter))?;
        }
        Ok(())
    }

    fn push(&mut self, sample: u64, values: impl Iterator<Item = f64>) -> anyhow::Result<()> {
        self.sample.push(sample);
        self.values.iter_mut().zip(values).for_each(|(column, value)| column.push(value));
        self.flush_full()
    }

    fn flush_full(&mut self) -> anyhow::Result<()> {
        if self.sample.len() == PARTS_ROWS { self.flush() } else { Ok(()) }
    }

    fn flush(&mut self) -> anyhow::Result<()> {
        let mut columns = vec![Values::Counts(&self.sample)];
        columns.extend(self.values.iter().map(|values| Values::Numbers(values)));
        self.table.write(&columns)?;
        self.values.iter_mut().for_each(Vec::clear);
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
