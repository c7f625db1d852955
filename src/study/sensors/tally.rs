//! What is kept of the samples while they pass.

use super::part_tally::PartTally;
use super::variant::Variant;
use super::variant_case::shows_ripple;
use crate::converter::{RatedPart, Rating, Stress};
use crate::engine::{Batch, Status};
use crate::scenario::{Limits, Scenario};
use crate::solver::Case;
use crate::statistics::{Distribution, LargestPairs};
use crate::study::common::demand::Demand;
use crate::study::common::figures::Figure;
use crate::study::common::pairs::{Flags, Pairs};
use crate::study::common::tally::Tally;

/// Up to so many samples, quantiles are exact.
const EXACT_UP_TO: usize = 1 << 15;
/// Number of the figures of a row that follow those of [`figures_of_all`]: phases at an end of their trim
/// range, largest trim, beat frequency.
pub(super) const TRIM_FIGURES: usize = 3;

/// The ripple current of the output, RMS and from peak to peak.
pub(super) const RIPPLE: [Figure; 2] =
    [ripple(Stress::RmsCurrent), ripple(Stress::PeakToPeakCurrent)];

const fn ripple(stress: Stress) -> Figure {
    Figure::Rating(Rating { part: RatedPart::OutputCapacitor, stress })
}

/// What a switch is rated for, with the column in [`figures_of_all`].
const RATED: [(Figure, usize); 2] = [(Figure::WorstSwitchRms, 1), (Figure::WorstSwitchPeak, 2)];

/// Figures of a converter at an operating point in every variant; the first four are kept of every variant.
pub(super) fn figures_of_all(scenario: &Scenario) -> Vec<Figure> {
    let mut figures = vec![
        Figure::SharingError(scenario.limits.sharing),
        Figure::WorstSwitchRms,
        Figure::WorstSwitchPeak,
        Figure::WorstBlocking,
        Figure::Loss,
    ];
    let ripple = scenario.sensors.as_ref().filter(|request| shows_ripple(request)).map(|_| RIPPLE);
    figures.extend(ripple.into_iter().flatten());
    let limited = Demand::figures(&scenario.limits);
    let others = limited.into_iter().filter(|figure| !figures.contains(figure));
    let others: Vec<Figure> = others.collect();
    figures.extend(others);
    figures
}

/// What is kept of a variant's samples, all operating points together.
#[derive(Debug)]
pub(super) struct VariantTally {
    /// Largest over the operating points: sharing error, RMS and peak current of the worst switch, and
    /// the highest blocking voltage. Samples not solved at all of them have no value.
    pub worst: [Distribution; 4],
    /// RMS and peak current of the worst switch again; samples that miss any other demand have no
    /// value.
    pub rated: [Distribution; 2],
    /// Both together; samples that miss any other demand have no value.
    pub rated_together: LargestPairs,
    /// Phases at an end of their range, over all operating points solved.
    pub at_end: u64,
    /// Phases that a loop trims, over all operating points solved.
    pub trimmed: u64,
    /// Samples with a phase at an end.
    pub samples_at_end: u64,
    /// Largest trim of any phase, a fraction.
    pub largest_trim: f64,
    /// Ripple current of the output, RMS and from peak to peak, the largest over the operating points;
    /// without values where it is not compared.
    pub ripple: [Distribution; 2],
    /// Highest beat frequency of any two phases, likewise.
    pub beat: Distribution,
}

/// All samples so far.
#[derive(Debug)]
pub(super) struct SampleTally {
    pub samples: u64,
    pub cases: Tally,
    pub variants: Vec<VariantTally>,
    /// How often each two variants are good; those not sampled never are.
    pub pairs: Pairs,
    pub interrupted: bool,
    /// What loads every part, without sensors and with them; nothing where that is not asked.
    pub parts: [PartTally; 2],
    /// Columns of [`RIPPLE`], where it is compared.
    ripple_columns: Option<[usize; 2]>,
}

impl SampleTally {
    /// Nothing yet. `figures` are the columns of the rows to come; so many of them, the first ones, are taken of
    /// all variants.
    pub(super) fn new(cases: &[Case], figures: &[Figure], common: usize, limits: &Limits) -> Self {
        Self {
            samples: 0,
            cases: Tally::new(cases, figures, limits),
            variants: Variant::ALL.iter().map(|_| VariantTally::new(limits)).collect(),
            pairs: Pairs::new(Variant::ALL.len()),
            interrupted: false,
            parts: Default::default(),
            ripple_columns: ripple_columns(&figures[..common]),
        }
    }

    /// Takes a batch whose cases belong to these variants.
    pub(super) fn take(
        &mut self,
        batch: &Batch,
        variants: &[Variant],
        cases: &[Case],
        figures: &[Figure],
    ) {
        self.cases.take(batch, cases, figures);
        self.parts.iter_mut().for_each(|own| own.take(batch));
        let mut good = Variant::ALL.map(|_| Flags::all(batch.len()));
        for variant in Variant::ALL {
            let columns: Vec<usize> =
                (0..variants.len()).filter(|c| variants[*c] == variant).collect();
            for n in 0..batch.len() {
                if columns.is_empty() || !self.take_sample(batch, n, variant, &columns) {
                    good[variant.index()].clear(n);
                }
            }
        }
        self.pairs.take(&good, batch.len());
        self.samples += batch.len() as u64;
    }

    /// Takes a sample of the batch in one variant, whose cases are at these columns; whether it is
    /// good.
    fn take_sample(
        &mut self,
        batch: &Batch,
        n: usize,
        variant: Variant,
        columns: &[usize],
    ) -> bool {
        let count = |case: usize| &self.cases.cases[case].count;
        let good = columns.iter().all(|c| count(*c).meets(batch.row(n, *c)));
        let tally = &mut self.variants[variant.index()];
        let rows: Vec<&[f64]> = columns
            .iter()
            .map(|c| batch.row(n, *c))
            .filter(|row| row.status == Status::Solved)
            .map(|row| row.figures)
            .collect();
        let sample = batch.first + n as u64;
        let ripple_columns = self.ripple_columns;
        let solved = rows.len() == columns.len();
        // A sample that is not solved, or that no rating makes good, has no value.
        let highest = |counts: bool, column: usize| {
            let highest = || rows.iter().fold(0.0, |a, row| f64::max(a, row[column]));
            if counts { highest() } else { f64::NAN }
        };
        for (column, worst) in tally.worst.iter_mut().enumerate() {
            worst.push(sample, highest(solved, column));
        }
        for (ripple, column) in tally.ripple.iter_mut().zip(ripple_columns.into_iter().flatten()) {
            ripple.push(sample, highest(solved, column));
        }
        if ripple_columns.is_some() {
            let beats = rows.iter().map(|row| row[row.len() - 1]);
            tally.beat.push(sample, if solved { beats.fold(0.0, f64::max) } else { f64::NAN });
        }
        for (rated, (figure, column)) in tally.rated.iter_mut().zip(RATED) {
            let meets = |c: &usize| count(*c).meets_beside(&[figure], batch.row(n, *c));
            rated.push(sample, highest(solved && columns.iter().all(meets), column));
        }
        let both = RATED.map(|(figure, _)| figure);
        let meets = |c: &usize| count(*c).meets_beside(&both, batch.row(n, *c));
        let counts = solved && columns.iter().all(meets);
        tally.rated_together.push(sample, RATED.map(|(_, column)| highest(counts, column)));
        if variant.has_sensors() {
            tally.take_trims(&rows);
        }
        good
    }
}

impl VariantTally {
    fn new(limits: &Limits) -> Self {
        // The first is the sharing error.
        let worst = |place: usize| {
            let limit = limits.sharing_error.filter(|_| place == 0);
            Distribution::exact_up_to(EXACT_UP_TO).marked_at(limit)
        };
        Self {
            worst: std::array::from_fn(worst),
            rated: std::array::from_fn(|_| Distribution::exact_up_to(EXACT_UP_TO)),
            rated_together: LargestPairs::default(),
            at_end: 0,
            trimmed: 0,
            samples_at_end: 0,
            largest_trim: 0.0,
            ripple: std::array::from_fn(|_| Distribution::exact_up_to(EXACT_UP_TO)),
            beat: Distribution::exact_up_to(EXACT_UP_TO),
        }
    }

    fn take_trims(&mut self, rows: &[&[f64]]) {
        let at_end = |row: &&[f64]| row[row.len() - TRIM_FIGURES];
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count")]
        let at_end = rows.iter().map(at_end).sum::<f64>() as u64;
        self.at_end += at_end;
        self.samples_at_end += u64::from(at_end > 0);
        self.trimmed += rows.len() as u64;
        self.largest_trim = rows.iter().fold(self.largest_trim, |a, row| a.max(row[row.len() - 2]));
    }
}

/// Columns of [`RIPPLE`] among figures that hold it.
fn ripple_columns(figures: &[Figure]) -> Option<[usize; 2]> {
    let column = |wanted: &Figure| figures.iter().position(|figure| figure == wanted);
    let [rms, peak_to_peak] = &RIPPLE;
    Some([column(rms)?, column(peak_to_peak)?])
}
