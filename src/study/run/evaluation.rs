//! How the results follow from what was kept of the samples.

use crate::converter::{Age, Arrangement, Converter, Sharing};
use crate::engine::{SampleRow, Status};
use crate::population::Population;
use crate::scenario::SAMPLES;
use crate::solver::Case;
use crate::statistics::{
    Distribution, Edges, Estimator, Histogram, Ordered, QuantileEnd, SequentialTest,
    StatisticsError, Verdict, Yield,
};
use crate::study::common::demand::{Binding, Demand};
use crate::study::common::figures::Figure;
use crate::study::common::nominal::Baseline;
use crate::study::common::ratings::{PopulationRatings, RatingReader};
use crate::study::common::session::Session;
use crate::study::common::soft_switching::PopulationSwitching;
use crate::study::common::tally::CaseTally;
use crate::study::common::yield_curve::{YieldPoint, curve_limits};
use crate::study::run::drawn::DrawnConverters;
use crate::study::run::limit_counts;
use crate::study::run::measured::{Lack, MeasuredPartsYield, YieldOf};
use crate::study::run::median_sample::MedianSample;
use crate::study::run::over_points::{CommonBins, OverPointsReader};
use crate::study::run::result::{
    AgeYield, Allowance, CaseResult, DecidingRun, Forecast, Joint, PointWaveforms, ToleranceLimit,
    Worst,
};
use crate::study::run::sampling::Sampled;

/// Bins of a histogram, and points of a yield curve.
const BINS: u32 = 60;
/// Smallest sharing error of a histogram, of its largest.
const SHOWN: f64 = 1e-4;

/// A sample in a case.
struct SolvedRow {
    status: Status,
    figures: Vec<f64>,
}

/// Reads the results of a run from its tally.
pub(super) struct TallyReader<'a> {
    pub(super) session: &'a Session<'a>,
    pub(super) population: &'a Population,
    pub(super) figures: &'a [Figure],
    pub(super) sampled: &'a Sampled,
    pub(super) estimator: Estimator,
}

impl TallyReader<'_> {
    /// Column of the sharing error that the limit speaks of.
    fn column(&self) -> usize {
        let wanted = Figure::SharingError(self.sharing());
        self.figures.iter().position(|figure| *figure == wanted).unwrap_or_default()
    }

    pub(super) fn sharing(&self) -> Sharing {
        self.session.scenario().limits.sharing
    }

    /// The yield of so many good samples.
    fn share(&self, good: u64) -> Result<Yield, StatisticsError> {
        self.estimator.estimate(good, self.sampled.samples)
    }

    /// The yield over all operating points of an arrangement.
    pub(super) fn joint(&self, arrangement: Arrangement) -> Result<Joint, StatisticsError> {
        let slot = usize::from(arrangement == Arrangement::Paralleled);
        let sampled = self.share(self.sampled.tally.joint[slot])?;
        let target = self.session.scenario().limits.yield_target;
        let is_judged = Demand::can_be_judged(self.session.scenario(), arrangement);
        let judged = |verdict| if is_judged { verdict } else { Verdict::NotDecided };
        let verdict_of_samples = judged(self.estimator.verdict(&sampled, target));
        let effects = self.sampled.measured.effects(YieldOf::Joint(arrangement));
        let good = sampled.of_population(&effects);
        let verdict =
            if effects.is_empty() { verdict_of_samples } else { judged(good.verdict(target)) };
        let is_open = verdict == Verdict::NotDecided && verdict_of_samples != Verdict::NotDecided;
        let of_measured_parts = (!effects.is_empty()).then(|| MeasuredPartsYield {
            good: sampled,
            verdict: verdict_of_samples,
            lack: is_open.then(|| Lack::new(&sampled, &effects, &self.estimator, target)),
        });
        let binding = self.binding(arrangement);
        let ends_run = arrangement == Arrangement::Chain;
        let is_forecast = is_judged && verdict_of_samples == Verdict::NotDecided;
        let forecast = is_forecast.then(|| Forecast {
            new_run: sampled.samples_to_decide(target),
            until_decided: ends_run.then(|| self.deciding_run(&sampled)).flatten(),
        });
        Ok(Joint { arrangement, good, is_judged, verdict, of_measured_parts, forecast, binding })
    }

    /// What numbers of failures stand for.
    pub(super) fn yields(&self) -> Result<Vec<Yield>, StatisticsError> {
        let counts = self.sampled.limits.counts();
        limit_counts::yields(&counts, &self.estimator, self.sampled.samples)
    }

    /// Converters to be shown one by one, those with waveforms among them.
    pub(super) fn drawn_converters(
        &self,
        cases: &[CaseResult],
        chain: &Joint,
        waveforms: Option<&PointWaveforms>,
    ) -> Option<DrawnConverters> {
        let limiting = chain.limiting_case(cases).unwrap_or_default();
        let mut drawn = self.sampled.drawn.clone()?;
        let shown = waveforms.iter().flat_map(|own| &own.converters);
        for sample in shown.filter_map(|own| own.sample) {
            let rows = self.solved_again(sample);
            let row =
                |case: usize| SampleRow { status: rows[case].status, figures: &rows[case].figures };
            drawn.add(sample, &row, &self.sampled.tally);
        }
        Some(drawn.converters(self.session, self.population, limiting))
    }

    /// The rows of a sample as they were when it passed. Each was solved before: this takes no time that a wish
    /// to stop could spare.
    fn solved_again(&self, sample: u64) -> Vec<SolvedRow> {
        let converter = self.population.draw(sample);
        let measurement = self.session.measurement(self.figures);
        let cases = self.session.baselines().iter().map(|own| own.case.clone().with_stress());
        let row = |case: Case| {
            let mut figures = vec![f64::NAN; self.figures.len()];
            let status = measurement.take(&converter, &case, &mut figures);
            SolvedRow { status, figures }
        };
        cases.map(row).collect()
    }

    /// How the switches turn on, where that is asked.
    pub(super) fn switching(&self) -> Result<Option<PopulationSwitching>, StatisticsError> {
        let Some(tally) = &self.sampled.switching else { return Ok(None) };
        let of_case = |case, column| self.distribution(case, column);
        tally.shares(self.session, &self.estimator, self.sampled.samples, &of_case).map(Some)
    }

    /// The demand missed most often in an arrangement.
    fn binding(&self, arrangement: Arrangement) -> Option<Binding> {
        let cases = self.session.baselines().iter().map(|baseline| &baseline.case);
        let counts = cases
            .zip(&self.sampled.tally.cases)
            .filter(|(case, _)| case.arrangement == arrangement)
            .map(|(case, tally)| (case.point.name.as_str(), &tally.count));
        Binding::among(counts)
    }

    /// The yields at each age alone; none where new parts alone are judged.
    pub(super) fn by_age(&self) -> Result<Vec<AgeYield>, StatisticsError> {
        let scenario = self.session.scenario();
        let target = scenario.limits.yield_target;
        let ages = scenario.service_life.map_or(&[][..], |_| scenario.ages());
        let all = ages.iter().zip(&self.sampled.tally.by_age).flat_map(|(age, counts)| {
            Arrangement::ALL.into_iter().zip(*counts).map(|(a, good)| (*age, a, good))
        });
        let one = |(age, arrangement, good): (Age, Arrangement, u64)| {
            let sampled = self.share(good)?;
            let effects = self.sampled.measured.effects(YieldOf::AtAge(age, arrangement));
            let good = sampled.of_population(&effects);
            let is_measured = !effects.is_empty();
            let verdict = if !Demand::can_be_judged(self.session.scenario(), arrangement) {
                Verdict::NotDecided
            } else if is_measured {
                good.verdict(target)
            } else {
                self.estimator.verdict(&sampled, target)
            };
            let good_of_measured_parts = is_measured.then_some(sampled);
            Ok(AgeYield { age, arrangement, good, good_of_measured_parts, verdict })
        };
        all.map(one).collect()
    }

    /// The run until decided that decides on the chain, if its yield stays.
    fn deciding_run(&self, chain: &Yield) -> Option<DecidingRun> {
        let scenario = self.session.scenario();
        let (target, most) = (scenario.limits.yield_target, scenario.run.most_samples);
        let test = SequentialTest::new(target, self.estimator.confidence(), most);
        let samples = test.samples_to_decide(chain.successes, chain.trials)?;
        let samples = samples.checked_next_multiple_of(self.sampled.batch)?;
        let is_new = matches!(self.estimator, Estimator::Fixed(_));
        let allowance = if samples <= most {
            Allowance::Enough
        } else if is_new || test.may_go_on_to(samples) {
            Allowance::Raised
        } else {
            Allowance::RaisedForOtherSamples
        };
        SAMPLES.contains(&samples).then_some(DecidingRun { samples, allowance })
    }

    /// The results of all cases.
    pub(super) fn cases(&self) -> Result<Vec<CaseResult>, StatisticsError> {
        let pairs = self.sampled.tally.cases.chunks(Arrangement::ALL.len());
        let edges = pairs.flat_map(|pair| std::iter::repeat_n(self.edges(pair), pair.len()));
        edges.enumerate().map(|(place, edges)| self.case(place, edges.as_ref())).collect()
    }

    /// Edges of the sharing error's histogram: the same for both arrangements of an operating
    /// point. Of equal ratio, because balancing moves the error by decades.
    fn edges(&self, pair: &[CaseTally]) -> Option<Edges> {
        let column = self.column();
        let limit = self.session.scenario().limits.sharing_error;
        let ordered: Vec<_> =
            pair.iter().filter_map(|tally| tally.distributions[column].ordered()).collect();
        let quantiles = |p: f64| ordered.iter().filter_map(move |o| o.quantile_of_values(p));
        let most = quantiles(0.999).fold(1.2 * limit.unwrap_or(0.0), f64::max);
        let least = quantiles(0.001).fold(limit.unwrap_or(f64::INFINITY) / 1.2, f64::min);
        let shown = least.clamp(most * SHOWN, most);
        Edges::by_ratio(shown, most, BINS)
    }

    fn case(&self, place: usize, edges: Option<&Edges>) -> Result<CaseResult, StatisticsError> {
        let (baseline, tally) =
            (&self.session.baselines()[place], &self.sampled.tally.cases[place]);
        let sampled = self.share(tally.count.good)?;
        let arrangement = baseline.case.arrangement;
        let effects = self.sampled.measured.effects(YieldOf::Case(place, arrangement));
        let sharing = &tally.distributions[self.column()];
        let ordered = sharing.ordered();
        let curve = match (&ordered, edges) {
            (Some(ordered), Some(edges)) => self.curve(ordered, edges)?,
            _ => Vec::new(),
        };
        let worst = sharing.max().and_then(|extreme| {
            let converter = self.drawn(extreme.sample, &baseline.case);
            // It was solved before: this takes no time that a wish to stop could spare.
            let outcome = self.session.settings().method.solve(&converter, &baseline.case);
            let state = outcome.solved()?.clone();
            let (sample, sharing_error) = (extreme.sample, extreme.value);
            Some(Worst { sample, sharing_error, converter, state })
        });
        Ok(CaseResult {
            counts: tally.count.statuses,
            good: sampled.of_population(&effects),
            good_of_measured_parts: (!effects.is_empty()).then_some(sampled),
            misses: tally.count.misses.clone(),
            key_figures: tally
                .distributions
                .iter()
                .map(|d| d.key_figures_by(&self.estimator))
                .collect(),
            histogram: ordered.as_ref().zip(edges).map(|(o, e)| Histogram::new(o, e)),
            curve,
            worst,
            tolerance_limits: self.tolerance_limits(tally),
            baseline: baseline.clone(),
        })
    }

    /// The converter of a sample as it is in a case.
    pub(super) fn drawn(&self, sample: u64, case: &Case) -> Converter {
        let (nominal, condition) = (self.session.nominal(), &case.point.condition);
        self.population.draw(sample).as_if_nominal_at(condition, nominal)
    }

    /// The sample whose sharing error in the case at `place` is the median of the solved ones, or near it.
    pub(super) fn median_sample(&self, place: usize) -> Option<MedianSample> {
        let tally = &self.sampled.tally.cases[place];
        let median = tally.distributions[self.column()].ordered()?.quantile_of_values(0.5)?;
        self.sampled.first_errors.nearest(place, median, self.sampled.samples)
    }

    /// Sharing errors and limited figures over all operating points.
    pub(super) fn over_points(&self) -> Result<Option<CommonBins>, StatisticsError> {
        let Some(tally) = &self.sampled.over_points else { return Ok(None) };
        let column = self.column();
        let cases = self.sampled.tally.cases.iter();
        OverPointsReader {
            tally,
            of_cases: cases.map(|case| &case.distributions[column]).collect(),
            limits: &self.session.scenario().limits,
            estimator: &self.estimator,
            samples: self.sampled.samples,
        }
        .read()
        .map(Some)
    }

    /// What every part must be rated for, and how many converters keep to all of it at once.
    pub(super) fn ratings(&self, cases: &[Case]) -> Result<PopulationRatings, StatisticsError> {
        let scenario = self.session.scenario();
        let nominal = |place: usize, figure: Figure| {
            let Baseline { case, state, .. } = &self.session.baselines()[place];
            let measurement = self.session.measurement(&[]);
            measurement.solved(state, self.session.nominal(), case).value(figure)
        };
        RatingReader {
            cases,
            tally: &self.sampled.ratings,
            of_case: &|place, column| self.distribution(place, column),
            nominal: &nominal,
            target: scenario.limits.yield_target,
            estimator: &self.estimator,
        }
        .read()
    }

    fn distribution(&self, case: usize, column: usize) -> &Distribution {
        &self.sampled.tally.cases[case].distributions[column]
    }

    /// What the target share of all converters keeps to, of every limited figure.
    fn tolerance_limits(&self, tally: &CaseTally) -> Vec<ToleranceLimit> {
        let target = self.session.scenario().limits.yield_target;
        let upper = |figure: Figure| {
            let column = self.figures.iter().position(|own| *own == figure)?;
            let ordered = tally.distributions[column].ordered();
            // Where no sample has a value, the limit lies above all values.
            Some(ordered.map_or(QuantileEnd::Beyond, |ordered| {
                ordered.quantile_interval_by(target, &self.estimator).upper
            }))
        };
        let limited = tally.count.misses.iter().filter_map(|(demand, _)| demand.figure);
        limited
            .filter_map(|figure| Some(ToleranceLimit { figure, upper: upper(figure)? }))
            .collect()
    }

    /// The yield of the sharing error alone against its limit.
    fn curve(&self, ordered: &Ordered, edges: &Edges) -> Result<Vec<YieldPoint>, StatisticsError> {
        let limits = curve_limits(edges, self.session.scenario().limits.sharing_error);
        let point = |limit: f64| {
            let good = self.share(ordered.count_at_most(limit))?;
            Ok(YieldPoint { limit, good })
        };
        limits.into_iter().map(point).collect()
    }
}
