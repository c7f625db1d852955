//! Converters with one driver exchanged, solved and counted.

use rayon::prelude::*;

use super::models::Models;
use super::question::{DrawDeviations, DriverQuestion};
use super::result::{CaseDrivers, DriverShares, Drivers, FigureDrivers};
use crate::converter::Converter;
use crate::engine::{Batch, Layout, Status};
use crate::statistics::{MixedDraw, PickFreeze};
use crate::study::common::error::StudyError;
use crate::study::common::figures::Figure;
use crate::study::common::progress::Progress;
use crate::study::explanation::explained::Explained;

/// Draws of the stand-ins.
const STAND_IN_DRAWS: u64 = 2048;
/// The number of the first sample that the stand-ins are drawn from: beyond all samples of runs.
const STAND_IN_SAMPLES: u64 = 1 << 40;

/// A converter that is solved for every draw.
#[derive(Debug, Clone, Copy)]
struct ExchangedRow {
    driver: usize,
    case: usize,
}

/// The sums of one case, and where their values stand.
struct CaseSums {
    case: usize,
    /// Rows of a draw, one a driver that the case has.
    rows: Vec<usize>,
    /// Column of every figure of the case.
    columns: Vec<usize>,
    /// One a figure and driver, figure by figure.
    sums: Vec<PickFreeze>,
    left_out: u64,
}

/// What is solved and counted.
struct Exchange<'a> {
    question: &'a DriverQuestion<'a>,
    models: &'a Models,
    rows: Vec<ExchangedRow>,
    /// Columns of a solved row: all figures asked for.
    columns: Vec<Figure>,
}

/// Solves and counts all draws.
pub(super) fn answer(
    question: &DriverQuestion,
    models: &Models,
    progress: &mut dyn Progress,
) -> Result<Drivers, StudyError> {
    let exchange = Exchange::new(question, models);
    let mut sums: Vec<CaseSums> =
        (0..question.figures.len()).map(|case| exchange.empty(case)).collect();
    exchange.add_solved(&mut sums, progress)?;
    exchange.add_stand_ins(&mut sums)?;
    let cases = sums.iter().map(|sums| exchange.drivers_of(sums)).collect();
    Ok(Drivers { draws: question.draws, cases })
}

impl<'a> Exchange<'a> {
    fn new(question: &'a DriverQuestion<'a>, models: &'a Models) -> Self {
        let rows = (0..question.drivers.len()).flat_map(|driver| {
            let cases =
                (0..question.figures.len()).filter(move |case| question.acts(driver, *case));
            cases.map(move |case| ExchangedRow { driver, case })
        });
        let mut columns: Vec<Figure> = Vec::new();
        for figure in question.figures.iter().flatten() {
            if !columns.contains(figure) {
                columns.push(*figure);
            }
        }
        Self { question, models, rows: rows.collect(), columns }
    }

    fn empty(&self, case: usize) -> CaseSums {
        let rows: Vec<usize> =
            (0..self.rows.len()).filter(|row| self.rows[*row].case == case).collect();
        let column = |figure: &Figure| self.columns.iter().position(|column| column == figure);
        let models = self.models.cases[case].iter();
        let sums =
            models.flat_map(|m| std::iter::repeat_n(PickFreeze::about(m.centre), rows.len()));
        CaseSums {
            case,
            sums: sums.collect(),
            rows,
            columns: self.question.figures[case].iter().filter_map(column).collect(),
            left_out: 0,
        }
    }

    fn layout(&self) -> Layout {
        Layout::of_rows(self.rows.len(), self.columns.len())
    }

    /// Solves the exchanged converters and counts them.
    fn add_solved(
        &self,
        sums: &mut [CaseSums],
        progress: &mut dyn Progress,
    ) -> Result<(), StudyError> {
        let (question, session) = (self.question, self.question.explained.session);
        let fill = |draw: u64, statuses: &mut [Status], numbers: &mut [f64]| {
            self.solve(draw, statuses, numbers);
        };
        session.workers().batches(self.layout(), question.draws, fill, |batch| {
            let draws: Vec<u64> = (0..batch.len()).map(|n| batch.first + n as u64).collect();
            let deviations = |draw: &u64| question.deviations(*draw, *draw + question.draws);
            let all: Vec<DrawDeviations> = draws.par_iter().map(deviations).collect();
            sums.par_iter_mut().for_each(|sums| {
                for (n, deviations) in all.iter().enumerate() {
                    self.count(batch, n, deviations, sums);
                }
            });
            progress.advance((batch.len() * self.rows.len()) as u64);
            Ok(())
        })?;
        Ok(())
    }

    /// Solves all exchanged converters of a draw.
    fn solve(&self, draw: u64, statuses: &mut [Status], numbers: &mut [f64]) {
        let Explained { session, run, .. } = self.question.explained;
        let measurement = session.measurement(&self.columns);
        let pair = self.question.pair(draw, draw + self.question.draws);
        let mut built: Option<(usize, Converter)> = None;
        let outputs = statuses.iter_mut().zip(numbers.chunks_mut(self.layout().width));
        for (row, (status, numbers)) in self.rows.iter().zip(outputs) {
            let converter = match built.take() {
                Some((driver, converter)) if driver == row.driver => converter,
                _ => self.question.exchanged(row.driver, &pair),
            };
            *status = measurement.take(&converter, &run.cases[row.case].baseline.case, numbers);
            built = Some((row.driver, converter));
        }
    }

    /// Counts a draw of a batch in one case.
    fn count(&self, batch: &Batch, n: usize, deviations: &DrawDeviations, into: &mut CaseSums) {
        let kept = self.question.explained.kept;
        let (draw, case) = (deviations.draw, into.case);
        let figures = self.question.figures[case].iter().zip(&self.models.cases[case]);
        let mut sums = into.sums.iter_mut();
        for ((figure, model), column) in figures.zip(&into.columns) {
            let base = [draw, draw + self.question.draws].map(|k| kept.figure(k, case, *figure));
            let expected = model.stand_in.as_ref().map(|stand_in| deviations.values(stand_in));
            for row in &into.rows {
                let solved = batch.row(n, *row);
                let (Some(sums), [Some(first), Some(second)]) = (sums.next(), base) else {
                    continue;
                };
                if solved.status != Status::Solved {
                    continue;
                }
                let values = MixedDraw { first, second, mixed: solved.figures[*column] };
                match &expected {
                    None => sums.push(values),
                    Some(expected) => {
                        sums.push_with_stand_in(values, expected(self.rows[*row].driver));
                    }
                }
            }
        }
        into.left_out += self.left_out(batch, n, draw, into);
    }

    /// Exchanged converters of a draw that have no figure to compare.
    fn left_out(&self, batch: &Batch, n: usize, draw: u64, sums: &CaseSums) -> u64 {
        let kept = self.question.explained.kept;
        let is_solved = |sample: u64| kept.is_solved(sample, sums.case);
        let both = is_solved(draw) && is_solved(draw + self.question.draws);
        let missing = |row: &&usize| !both || batch.row(n, **row).status != Status::Solved;
        sums.rows.iter().filter(missing).count() as u64
    }

    /// Adds draws of the stand-ins alone.
    fn add_stand_ins(&self, sums: &mut [CaseSums]) -> Result<(), StudyError> {
        let workers = self.question.explained.session.workers();
        let draws: Vec<u64> = (0..STAND_IN_DRAWS).map(|draw| STAND_IN_SAMPLES + 2 * draw).collect();
        for block in draws.chunks(512) {
            let all = workers.map(block, |draw| self.question.deviations(*draw, *draw + 1))?;
            let mut places: Vec<&mut CaseSums> = sums.iter_mut().collect();
            workers.for_each(&mut places, |sums| self.add_stand_ins_of_case(&all, sums));
        }
        Ok(())
    }

    fn add_stand_ins_of_case(&self, all: &[DrawDeviations], into: &mut CaseSums) {
        let drivers = into.rows.len().max(1);
        let models = self.models.cases[into.case].iter();
        for (model, sums) in models.zip(into.sums.chunks_mut(drivers)) {
            let Some(stand_in) = &model.stand_in else { continue };
            for deviations in all {
                let expected = deviations.values(stand_in);
                for (sums, row) in sums.iter_mut().zip(&into.rows) {
                    sums.push_stand_in(expected(self.rows[*row].driver));
                }
            }
        }
    }

    fn drivers_of(&self, sums: &CaseSums) -> CaseDrivers {
        let figures = self.question.figures[sums.case].iter().zip(&self.models.cases[sums.case]);
        let of_figures = figures.zip(sums.sums.chunks(sums.rows.len().max(1)));
        let figures = of_figures.filter_map(|((figure, model), of_drivers)| {
            let shares: Option<Vec<DriverShares>> = of_drivers
                .iter()
                .zip(&sums.rows)
                .map(|(sums, row)| {
                    let driver = self.question.drivers[self.rows[*row].driver].clone();
                    let shares = sums.shares(self.question.confidence)?;
                    Some(DriverShares { driver, shares })
                })
                .collect();
            Some(FigureDrivers { figure: *figure, linear: model.linear, shares: shares? })
        });
        CaseDrivers { left_out: sums.left_out, figures: figures.collect() }
    }
}
