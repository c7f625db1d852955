//! The samples of a size: how many pass, and what loads the capacitors.

use super::prepared::{PreparedCase, PreparedSize};
use crate::converter::{RatedPart, Rating, Stress};
use crate::engine::{Batch, SampleRow};
use crate::population::Population;
use crate::scenario::Scenario;
use crate::statistics::Distribution;
use crate::study::common::demand::{Binding, Count, Demand};
use crate::study::common::error::StudyError;
use crate::study::common::figures::Figure;
use crate::study::common::progress::Progress;
use crate::study::common::session::{PlannedRow, SamplePlan, Session};
use crate::study::common::settings::Draws;
use crate::study::common::trials::Trial;

/// The figures of which distributions are kept, each the largest of some columns.
struct Columns {
    figures: Vec<Figure>,
    sharing_error: Vec<usize>,
    ripple: Vec<usize>,
    rms_current: Vec<usize>,
    blocking: Vec<usize>,
    frequency: Vec<usize>,
}

impl Columns {
    fn new(scenario: &Scenario) -> Self {
        let mut figures = Demand::figures(&scenario.limits);
        let mut of = |wanted: Vec<Figure>| -> Vec<usize> {
            let column = |figure: Figure| {
                figures.iter().position(|own| *own == figure).unwrap_or_else(|| {
                    figures.push(figure);
                    figures.len() - 1
                })
            };
            wanted.into_iter().map(column).collect()
        };
        let at_all_places = |stress| -> Vec<Figure> {
            let part = |k: usize| RatedPart::FlyingCapacitor(k - 1);
            (1..scenario.phases).map(|k| Figure::Rating(Rating { part: part(k), stress })).collect()
        };
        let sharing_error = of(vec![Figure::SharingError(scenario.limits.sharing)]);
        let ripple = of(at_all_places(Stress::RippleVoltage));
        let rms_current = of(at_all_places(Stress::RmsCurrent));
        let blocking = of(vec![Figure::WorstBlocking]);
        let frequency = of(vec![Figure::SwitchingFrequency]);
        Self { figures, sharing_error, ripple, rms_current, blocking, frequency }
    }
}

/// What became of the samples of one size in one case.
#[derive(Debug)]
pub(super) struct CaseSamples {
    /// Counts, and the demands with the samples that miss them.
    pub count: Count,
    /// Sharing error.
    pub sharing_error: Distribution,
    /// Largest ripple of any flying capacitor, V.
    pub ripple: Distribution,
    /// Largest RMS current of any flying capacitor, A.
    pub rms_current: Distribution,
    /// Highest blocking voltage of any switch, V.
    pub blocking: Distribution,
    /// Switching frequency, Hz.
    pub frequency: Distribution,
}

impl CaseSamples {
    fn add(&mut self, sample: u64, row: SampleRow, columns: &Columns) -> bool {
        let largest = |columns: &[usize]| {
            columns.iter().map(|column| row.figures[*column]).reduce(|a, b| {
                // A value that is not there leaves no largest one.
                if a.is_nan() || a >= b { a } else { b }
            })
        };
        for (distribution, columns) in [
            (&mut self.sharing_error, &columns.sharing_error),
            (&mut self.ripple, &columns.ripple),
            (&mut self.rms_current, &columns.rms_current),
            (&mut self.blocking, &columns.blocking),
            (&mut self.frequency, &columns.frequency),
        ] {
            distribution.push(sample, largest(columns).unwrap_or(f64::NAN));
        }
        self.count.add(row)
    }
}

/// What became of the samples of one size.
#[derive(Debug)]
pub(super) struct SampledSize {
    /// How many pass.
    pub trial: Trial,
    /// One a case.
    pub cases: Vec<CaseSamples>,
}

/// Draws converters with flying capacitors of a size. The same draws give all sizes the same parts, and
/// flying capacitors with the same deviations.
///
/// # Errors
///
/// When the user asks to stop.
pub(super) fn sample(
    scenario: &Scenario,
    session: &Session,
    size: &PreparedSize,
    draws: Draws,
    progress: &mut dyn Progress,
) -> Result<SampledSize, StudyError> {
    let columns = Columns::new(scenario);
    let population = |own: &PreparedCase| {
        let nominal = own.converter.clone();
        Population::with_tolerances(nominal, &scenario.tolerances, draws.source)
    };
    let populations: Vec<Population> = size.cases.iter().map(population).collect();
    let cases = size.cases.iter().map(|own| &own.case).enumerate();
    let settling_limit = scenario.limits.chain.settling_time;
    let row = |(population, case)| PlannedRow {
        settling_limit,
        ..PlannedRow::of_figures(population, case)
    };
    let rows: Vec<PlannedRow> = cases.map(row).collect();
    let figures = &columns.figures;
    let method = session.settings().method;
    let plan = SamplePlan { method, populations: &populations, rows: &rows, figures };
    let mut tally = SizeTally::new(scenario, size, &columns);
    session.evaluate(&plan, draws.samples, |batch| {
        tally.take(batch);
        progress.advance(batch.len() as u64);
        Ok(())
    })?;
    Ok(tally.finish(size))
}

/// What has become of the samples so far.
struct SizeTally<'a> {
    columns: &'a Columns,
    cases: Vec<CaseSamples>,
    /// Samples that pass.
    good: u64,
    samples: u64,
}

impl<'a> SizeTally<'a> {
    fn new(scenario: &Scenario, size: &PreparedSize, columns: &'a Columns) -> Self {
        let empty = || Distribution::exact_up_to(0);
        let cases = size.cases.iter().map(|own| CaseSamples {
            count: Count::new(&scenario.limits, &own.case, &columns.figures),
            sharing_error: empty(),
            ripple: empty(),
            rms_current: empty(),
            blocking: empty(),
            frequency: empty(),
        });
        Self { columns, cases: cases.collect(), good: 0, samples: 0 }
    }

    fn take(&mut self, batch: &Batch) {
        for n in 0..batch.len() {
            let sample = batch.first + n as u64;
            let mut all = true;
            for (row, case) in self.cases.iter_mut().enumerate() {
                all &= case.add(sample, batch.row(n, row), self.columns);
            }
            self.good += u64::from(all);
        }
        self.samples += batch.len() as u64;
    }

    fn finish(self, size: &PreparedSize) -> SampledSize {
        let Self { cases, good, samples, .. } = self;
        let names = size.cases.iter().map(|own| own.case.point.name.as_str());
        let binding = Binding::among(names.zip(cases.iter().map(|own| &own.count)));
        SampledSize { trial: Trial { good, samples, binding }, cases }
    }
}
