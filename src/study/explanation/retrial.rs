//! Samples of a run with changed converters: which of them pass now.

use super::explained::Explained;
use super::retried::RetriedSamples;
use crate::converter::Arrangement;
use crate::engine::{Batch, Layout, Status};
use crate::population::Population;
use crate::statistics::{Estimator, OutcomeChanges, StatisticsError};
use crate::study::common::demand::{Count, Demand};
use crate::study::common::error::StudyError;
use crate::study::common::figures::Figure;
use crate::study::common::progress::Progress;
use crate::study::common::what_if::Change;

/// Fewer samples say too little.
const LEAST_SAMPLES: u64 = 30;

/// What a change of the converters changes in one arrangement.
#[derive(Debug, Clone)]
pub struct ArrangementChange {
    /// Over all operating points.
    pub joint: Change,
    /// At each operating point, in the scenario's order.
    pub points: Vec<Change>,
}

/// The cases of one arrangement, and the samples that are tried again there.
pub(super) struct Retrial<'a> {
    explained: Explained<'a>,
    arrangement: Arrangement,
    /// Places of the cases in the run.
    cases: Vec<usize>,
    /// The samples.
    pub(super) samples: RetriedSamples,
}

impl<'a> Retrial<'a> {
    /// As many samples as so many solutions allow for so many variants; none where these are too few.
    pub(super) fn new(
        explained: Explained<'a>,
        arrangement: Arrangement,
        variants: usize,
        solves: u64,
    ) -> Option<Self> {
        let Explained { run, kept, .. } = explained;
        let cases: Vec<usize> = run.in_arrangement(arrangement).map(|(place, _)| place).collect();
        let most = solves.checked_div((variants * cases.len()) as u64)?;
        let passes = |sample: u64| cases.iter().all(|case| kept.passes(sample, *case));
        let samples = RetriedSamples::choose(kept.judged(), most, passes);
        let is_enough = most.min(kept.judged()) >= LEAST_SAMPLES;
        is_enough.then_some(Self { explained, arrangement, cases, samples })
    }

    /// Whether any of the run's samples fails.
    pub(super) fn has_failures(&self) -> bool {
        let kept = self.explained.kept;
        self.samples.numbers.iter().any(|k| !self.cases.iter().all(|case| kept.passes(*k, *case)))
    }

    /// Solves the samples of all variants and counts their outcomes.
    pub(super) fn changes(
        &self,
        variants: &[Population],
        progress: &mut dyn Progress,
    ) -> Result<Vec<ArrangementChange>, StudyError> {
        let session = self.explained.session;
        let demands = Demand::all(&session.scenario().limits, self.arrangement);
        let figures: Vec<Figure> = demands.iter().filter_map(|demand| demand.figure).collect();
        let rows = variants.len() * self.cases.len();
        let layout = Layout::of_rows(rows, figures.len());
        let measurement = session.measurement(&figures);
        let fill = |place: u64, statuses: &mut [Status], numbers: &mut [f64]| {
            let sample = self.sample(place);
            let cases = self.cases.len();
            let (statuses, numbers) =
                (statuses.chunks_mut(cases), numbers.chunks_mut(cases * layout.width));
            for (population, (statuses, numbers)) in variants.iter().zip(statuses.zip(numbers)) {
                let converter = population.draw(sample);
                let rows = statuses.iter_mut().zip(numbers.chunks_mut(layout.width));
                for (case, (status, row)) in self.cases.iter().zip(rows) {
                    let case = &self.explained.run.cases[*case].baseline.case;
                    *status = measurement.take(&converter, case, row);
                }
            }
        };
        let demanded: Vec<Count> = self
            .cases
            .iter()
            .map(|case| {
                let case = &self.explained.run.cases[*case].baseline.case;
                Count::new(&session.scenario().limits, case, &figures)
            })
            .collect();
        let mut counts = vec![OutcomeCounts::new(self); variants.len()];
        let samples = self.samples.numbers.len() as u64;
        session.workers().batches(layout, samples, fill, |batch| {
            self.add(batch, &demanded, &mut counts);
            progress.advance((batch.len() * rows) as u64);
            Ok(())
        })?;
        let estimator = self.explained.estimator()?;
        let changes = counts.into_iter().map(|counts| counts.change(&estimator));
        Ok(changes.collect::<Result<_, _>>()?)
    }

    /// The number of the sample in this place.
    fn sample(&self, place: u64) -> u64 {
        let place = usize::try_from(place).unwrap_or(usize::MAX);
        self.samples.numbers.get(place).copied().unwrap_or_default()
    }

    fn add(&self, batch: &Batch, demanded: &[Count], counts: &mut [OutcomeCounts]) {
        let kept = self.explained.kept;
        for n in 0..batch.len() {
            let sample = self.sample(batch.first + n as u64);
            let before: Vec<bool> = self.cases.iter().map(|c| kept.passes(sample, *c)).collect();
            for (variant, counts) in counts.iter_mut().enumerate() {
                let first = variant * self.cases.len();
                let rows = demanded.iter().zip(first..);
                let now: Vec<bool> =
                    rows.map(|(count, row)| count.meets(batch.row(n, row))).collect();
                counts.add(sample, &before, &now);
            }
        }
    }
}

/// Outcomes of one variant, counted.
#[derive(Debug, Clone)]
struct OutcomeCounts {
    joint: OutcomeChanges,
    points: Vec<OutcomeChanges>,
}

impl OutcomeCounts {
    fn new(retrial: &Retrial) -> Self {
        let RetriedSamples { failing_among, passing_among, .. } = retrial.samples;
        let joint = OutcomeChanges { failing_among, passing_among, ..OutcomeChanges::default() };
        // A sample that passes at one operating point may fail at another. So all samples that pass
        // there are known only among those of which all were tried again.
        let passing_among = passing_among.min(failing_among);
        let point = OutcomeChanges { failing_among, passing_among, ..joint };
        Self { joint, points: vec![point; retrial.cases.len()] }
    }

    /// Counts a sample that met all demands of the cases before as told, and does now.
    fn add(&mut self, sample: u64, before: &[bool], now: &[bool]) {
        let all = |outcomes: &[bool]| outcomes.iter().all(|passes| *passes);
        count(&mut self.joint, sample, [all(before), all(now)]);
        for (point, (before, now)) in self.points.iter_mut().zip(before.iter().zip(now)) {
            count(point, sample, [*before, *now]);
        }
    }

    fn change(self, estimator: &Estimator) -> Result<ArrangementChange, StatisticsError> {
        let change = |outcomes| Change::new(outcomes, estimator);
        Ok(ArrangementChange {
            joint: change(self.joint)?,
            points: self.points.into_iter().map(change).collect::<Result<_, _>>()?,
        })
    }
}

fn count(changes: &mut OutcomeChanges, sample: u64, [before, now]: [bool; 2]) {
    let is_counted = sample < if before { changes.passing_among } else { changes.failing_among };
    match (before, now) {
        _ if !is_counted => {}
        (false, true) => changes.saved += 1,
        (false, false) => changes.still_failing += 1,
        (true, false) => changes.lost += 1,
        (true, true) => {}
    }
}
