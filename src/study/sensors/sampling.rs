//! The same converters in all variants: drawn once, solved in each at every operating point.

use super::variant::Variant;
use crate::converter::{Converter, Sensors};
use crate::engine::{Batch, EngineError, Layout, Status};
use crate::population::SensorScatter;
use crate::scenario::{Scenario, SensorRequest, Tolerances};
use crate::solver::Case;
use crate::solver::SteadyState;
use crate::solver::trim::{Trim, TrimCase, TrimStart};
use crate::statistics::Distribution;
use crate::study::common::demand::Demand;
use crate::study::common::figures::{Figure, Leg, Side, SolvedConverter, switches};
use crate::study::common::nominal::{BaselineError, require};
use crate::study::common::pairs::{Flags, Pairs};
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::study::common::settings::{Draws, Settings};
use crate::study::common::tally::Tally;

/// Up to so many samples, quantiles are exact.
const EXACT_UP_TO: usize = 1 << 15;
/// Figures of a row that follow those of [`figures`]: phases at an end of their range, largest
/// trim.
const MORE: usize = 2;

/// What a switch is rated for; they stand second and third in [`figures`].
const RATED: [Figure; 2] = [Figure::WorstSwitchRms, Figure::WorstSwitchPeak];

/// Figures of a converter at an operating point; the first four are kept of every variant.
pub(super) fn figures(scenario: &Scenario) -> Vec<Figure> {
    vec![
        Figure::SharingError(scenario.limits.sharing),
        Figure::WorstSwitchRms,
        Figure::WorstSwitchPeak,
        Figure::WorstBlocking,
        Figure::Loss,
    ]
}

/// Switches whose currents differ by less, relatively, are equally loaded.
const NEAR: f64 = 0.99;

/// A limit that a converter of nominal parts misses.
#[derive(Debug, Clone, PartialEq)]
pub struct NominalMiss {
    /// The operating point's name.
    pub operating_point: String,
    /// The demand.
    pub demand: Demand,
    /// The figure there.
    pub value: f64,
}

/// A variant at an operating point.
#[derive(Debug)]
pub(super) struct VariantCase {
    pub variant: Variant,
    pub case: Case,
    /// The nominal converter there.
    pub nominal: SteadyState,
    /// Where the loops start from; none without sensors.
    trim: Option<TrimStart>,
}

/// A converter as it is drawn, with its sensors.
#[derive(Debug, Clone, Copy)]
struct DrawnConverter<'a> {
    converter: &'a Converter,
    sensors: &'a Sensors,
}

/// What is kept of a variant's samples, all operating points together.
#[derive(Debug)]
pub(super) struct VariantTally {
    /// Samples solved at every operating point.
    pub solved: u64,
    /// Largest over the operating points, of samples solved at all of them: sharing error, RMS and
    /// peak current of the worst switch, and the highest blocking voltage.
    pub worst: [Distribution; 4],
    /// RMS and peak current of the worst switch again, of samples that meet all other demands.
    pub rated: [Distribution; 2],
    /// Phases at an end of their range, over all operating points solved.
    pub at_end: u64,
    /// Phases that a loop trims, over all operating points solved.
    pub trimmed: u64,
    /// Samples with a phase at an end.
    pub touched: u64,
    pub largest_trim: f64,
}

/// All samples so far.
#[derive(Debug)]
pub(super) struct Sampled {
    pub samples: u64,
    pub cases: Tally,
    pub variants: Vec<VariantTally>,
    /// How often each two variants are good; those not sampled never are.
    pub pairs: Pairs,
    pub interrupted: bool,
}

/// What is sampled.
pub(super) struct Sampling<'a> {
    pub session: &'a Session<'a>,
    pub request: &'a SensorRequest,
    pub tolerances: Tolerances,
    /// Those of the variants that are sampled.
    pub variant_cases: Vec<&'a VariantCase>,
}

impl VariantCase {
    /// Solves the nominal converter in all variants.
    pub(super) fn all(
        session: &Session,
        request: &SensorRequest,
    ) -> Result<Vec<Self>, BaselineError> {
        let mut all = Vec::new();
        for variant in Variant::ALL {
            let arrangement = variant.arrangement();
            let baselines = session.baselines().iter();
            for baseline in baselines.filter(|b| b.case.arrangement == arrangement) {
                let case = baseline.case.clone();
                let (nominal, trim) = if variant.has_sensors() {
                    let trimmed = trim_case(request, session.settings(), &case);
                    let (outcome, start) = trimmed.prepare(session.nominal());
                    (require(outcome, &case)?, start)
                } else {
                    (baseline.state.clone(), None)
                };
                all.push(Self { variant, case, nominal, trim });
            }
        }
        Ok(all)
    }
}

impl Sampling<'_> {
    /// Goes through all samples; `progress` advances by every sample. Where it is stopped, what is
    /// done is given.
    pub(super) fn run(
        &self,
        draws: Draws,
        progress: &mut dyn Progress,
    ) -> Result<Sampled, EngineError> {
        let figures = figures(self.session.scenario());
        let width = figures.len() + MORE;
        let population = self.session.population(&self.tolerances, draws);
        let scatter = SensorScatter::new(self.request);
        let cases: Vec<Case> = self.variant_cases.iter().map(|v| v.case.clone()).collect();
        let mut all = Sampled::new(self, &cases, &figures);
        let layout = Layout { rows: self.variant_cases.len(), width };
        let fill = |sample: u64, statuses: &mut [Status], numbers: &mut [f64]| {
            let converter = population.draw(sample);
            let sensors = population.draw_sensors(&scatter, sample);
            let drawn = DrawnConverter { converter: &converter, sensors: &sensors };
            let rows = numbers.chunks_mut(width);
            for ((variant_case, status), row) in self.variant_cases.iter().zip(statuses).zip(rows) {
                *status = self.solve(variant_case, drawn, &figures, row);
            }
        };
        let ended = self.session.workers().batches(layout, draws.samples, fill, |batch| {
            all.take(batch, self, &cases, &figures);
            progress.advance(batch.len() as u64);
            Ok(())
        });
        match ended {
            Err(EngineError::Interrupted(_)) => all.interrupted = true,
            other => other?,
        }
        Ok(all)
    }

    /// Solves one converter, and writes its figures into a row.
    fn solve(
        &self,
        variant_case: &VariantCase,
        drawn: DrawnConverter,
        figures: &[Figure],
        row: &mut [f64],
    ) -> Status {
        let case = &variant_case.case;
        let (measured, trims) = row.split_at_mut(figures.len());
        let measurement = self.session.measurement(figures);
        let status = match &variant_case.trim {
            None => {
                let status = measurement.take(drawn.converter, case, measured);
                trims.fill(if status == Status::Solved { 0.0 } else { f64::NAN });
                status
            }
            Some(start) => {
                measured.fill(f64::NAN);
                trims.fill(f64::NAN);
                let loops = trim_case(self.request, self.session.settings(), case);
                let trimmed = loops.settle(drawn.converter, drawn.sensors, start);
                if let Some(state) = trimmed.outcome.solved() {
                    measurement.write(state, &trimmed.converter, case, measured);
                    let at_end = trimmed.at_end.iter().filter(|x| **x).count();
                    trims[0] = at_end as f64;
                    trims[1] = trimmed.trims.iter().fold(0.0, |a, x| f64::max(a, x.abs()));
                }
                Status::from(&trimmed.outcome)
            }
        };
        if variant_case.variant.has_sensors() {
            let phases = drawn.converter.phases() as f64;
            for (value, _) in measured.iter_mut().zip(figures).filter(|(_, f)| **f == Figure::Loss)
            {
                *value += phases * self.request.standing_loss.0;
            }
        }
        status
    }

    /// The nominal converter of a variant, measured at every operating point.
    fn nominals(&self, variant: Variant, mut see: impl FnMut(&VariantCase, &SolvedConverter)) {
        let measurement = self.session.measurement(&[]);
        for variant_case in self.variant_cases.iter().filter(|v| v.variant == variant) {
            let (nominal, case) = (&variant_case.nominal, &variant_case.case);
            see(variant_case, &measurement.solved(nominal, self.session.nominal(), case));
        }
    }

    /// A figure of the nominal converter, the largest over a variant's operating points.
    pub(super) fn nominal(&self, variant: Variant, figure: Figure) -> f64 {
        let mut most = 0.0;
        self.nominals(variant, |_, measured| most = f64::max(most, measured.value(figure)));
        most
    }

    /// The limit that the nominal converter of a variant misses by the largest ratio.
    pub(super) fn nominal_miss(&self, variant: Variant) -> Option<NominalMiss> {
        let mut worst: Option<NominalMiss> = None;
        self.nominals(variant, |variant_case, measured| {
            for demand in
                Demand::all(&self.session.scenario().limits, variant_case.case.arrangement)
            {
                let Some(figure) = demand.figure else { continue };
                let value = measured.value(figure);
                let over =
                    |miss: &NominalMiss| value / demand.limit > miss.value / miss.demand.limit;
                if value > demand.limit && worst.as_ref().is_none_or(over) {
                    let operating_point = variant_case.case.point.name.clone();
                    worst = Some(NominalMiss { operating_point, demand, value });
                }
            }
        });
        worst
    }

    /// The places in a phase's bridge whose switches carry the nominal converter's highest RMS
    /// current; none where all places do.
    pub(super) fn worst_switches(&self, variant: Variant) -> Vec<(Leg, Side)> {
        let (mut most, mut found) = (0.0, Vec::new());
        self.nominals(variant, |variant_case, measured| {
            let all =
                switches(self.session.scenario().phases, variant_case.case.point.drive.legs());
            let own: Vec<_> =
                all.map(|s| ((s.leg, s.side), measured.value(Figure::SwitchRms(s)))).collect();
            let highest = own.iter().fold(0.0, |a, (_, x)| f64::max(a, *x));
            if highest > most {
                most = highest;
                // Phases of a place stand side by side.
                let places = |least: f64| {
                    let loaded = own.iter().filter(|(_, x)| *x >= least);
                    let mut places: Vec<_> = loaded.map(|(place, _)| *place).collect();
                    places.dedup();
                    places
                };
                found = places(highest * NEAR);
                if found.len() == places(0.0).len() {
                    found.clear();
                }
            }
        });
        found
    }
}

fn trim_case<'a>(request: &SensorRequest, settings: Settings, case: &'a Case) -> TrimCase<'a> {
    TrimCase {
        method: settings.method,
        case,
        trim: Trim {
            measured: request.measured,
            parameter: request.trim,
            range: request.trim_range,
            added_resistance: request.added_resistance,
        },
    }
}

impl Sampled {
    fn new(sampling: &Sampling, cases: &[Case], figures: &[Figure]) -> Self {
        let empty = || VariantTally {
            solved: 0,
            worst: std::array::from_fn(|_| Distribution::exact_up_to(EXACT_UP_TO)),
            rated: std::array::from_fn(|_| Distribution::exact_up_to(EXACT_UP_TO)),
            at_end: 0,
            trimmed: 0,
            touched: 0,
            largest_trim: 0.0,
        };
        Self {
            samples: 0,
            cases: Tally::new(cases, figures, &sampling.session.scenario().limits),
            variants: Variant::ALL.iter().map(|_| empty()).collect(),
            pairs: Pairs::new(Variant::ALL.len()),
            interrupted: false,
        }
    }

    fn take(&mut self, batch: &Batch, sampling: &Sampling, cases: &[Case], figures: &[Figure]) {
        self.cases.take(batch, cases, figures);
        let mut good = Variant::ALL.map(|_| Flags::all(batch.len()));
        for variant in Variant::ALL {
            let own: Vec<usize> = (0..cases.len())
                .filter(|c| sampling.variant_cases[*c].variant == variant)
                .collect();
            for n in 0..batch.len() {
                if own.is_empty() || !self.take_one(batch, n, variant, &own) {
                    good[variant.index()].clear(n);
                }
            }
        }
        self.pairs.take(&good, batch.len());
        self.samples += batch.len() as u64;
    }

    /// Takes a sample in one variant, whose cases are `own`; gives whether it is good.
    fn take_one(&mut self, batch: &Batch, n: usize, variant: Variant, own: &[usize]) -> bool {
        let good = own.iter().all(|c| self.cases.cases[*c].count.meets(batch.row(n, *c)));
        let tally = &mut self.variants[variant.index()];
        let rows: Vec<&[f64]> = own
            .iter()
            .filter(|c| batch.row(n, **c).0 == Status::Solved)
            .map(|c| batch.row(n, *c).1)
            .collect();
        if rows.len() == own.len() {
            tally.solved += 1;
            let sample = batch.first + n as u64;
            let most = |column: usize| rows.iter().fold(0.0, |a, row| f64::max(a, row[column]));
            for (column, worst) in tally.worst.iter_mut().enumerate() {
                worst.push(sample, most(column));
            }
            for (place, figure) in RATED.into_iter().enumerate() {
                let good =
                    |c: &usize| self.cases.cases[*c].count.meets_beside(figure, batch.row(n, *c));
                if own.iter().all(good) {
                    tally.rated[place].push(sample, most(1 + place));
                }
            }
        }
        if variant.has_sensors() {
            tally.take_trims(&rows);
        }
        good
    }
}

impl VariantTally {
    fn take_trims(&mut self, rows: &[&[f64]]) {
        let ends = |row: &&[f64]| row[row.len() - MORE];
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count")]
        let at_end = rows.iter().map(ends).sum::<f64>() as u64;
        self.at_end += at_end;
        self.touched += u64::from(at_end > 0);
        self.trimmed += rows.len() as u64;
        self.largest_trim = rows.iter().fold(self.largest_trim, |a, row| a.max(row[row.len() - 1]));
    }
}
