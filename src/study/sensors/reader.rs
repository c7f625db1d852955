//! Reads the results of all variants from the samples.

use super::decision::joint_level;
use super::nominal::NominalConverters;
use super::part_reader::PartReader;
use super::price::{BreakEvenPrice, SensedConverter};
use super::quantile::TargetQuantile;
use super::rating::joint_rating;
use super::result::{SensorStudy, TrimLoops, VariantResult};
use super::sampling::Sampling;
use super::tally::{SampleTally, figures_of_all};
use super::variant::{BillOfParts, Variant};
use super::variant_case::may_trim;
use crate::converter::driven_legs;
use crate::population::RandomSource;
use crate::statistics::{
    Confidence, Edges, Estimator, KeyFigures, StatisticsError, Verdict, Yield,
    samples_without_failure,
};
use crate::study::common::demand::Binding;
use crate::study::common::demand::Demand;
use crate::study::common::error::StudyError;
use crate::study::common::figures::Figure;
use crate::study::common::soft_switching::SharingShift;
use crate::study::common::yield_curve::{YieldPoint, curve_limits};
use crate::study::faults::FaultStudy;

/// Points of a curve.
const POINTS: u32 = 60;
/// Smallest sharing error of a curve, of the largest.
const SHOWN: f64 = 1e-3;

/// Reads the results of all variants from the samples.
pub(super) struct ResultReader<'a> {
    pub sampling: &'a Sampling<'a>,
    pub sampled: &'a SampleTally,
    pub confidence: Confidence,
}

impl ResultReader<'_> {
    pub(super) fn study(&self, faults: FaultStudy) -> Result<SensorStudy, StudyError> {
        let settings = self.sampling.session.settings();
        let loss_point = self.loss_point();
        let mut variants = Variant::ALL
            .into_iter()
            .map(|variant| self.variant(variant, &loss_point))
            .collect::<Result<Vec<_>, StudyError>>()?;
        self.add_curves(&mut variants)?;
        self.add_prices(&mut variants)?;
        let parts = PartReader {
            sampling: self.sampling,
            sampled: self.sampled,
            estimator: Estimator::Fixed(self.confidence),
        };
        Ok(SensorStudy {
            sharing_shift: SharingShift::largest(self.sampling.session),
            parts: parts.results(false)?,
            sensed_parts: parts.results(true)?,
            faults,
            settings,
            samples: self.sampled.samples,
            fewest_samples: self.fewest_samples()?,
            variants,
            pairs: self.sampled.pairs.clone(),
            loss_point,
            sensitivities: Vec::new(),
            verification: RandomSource::from(settings.seed).with_stream(1),
            unfinished: None,
        })
    }

    /// Break-even prices against the chain alone, where the joint intervals of both meet the target.
    fn add_prices(&self, variants: &mut [VariantResult]) -> Result<(), StudyError> {
        let price = &self.sampling.request.price;
        let chain = &variants[Variant::Chain.index()];
        if chain.verdict != Verdict::Pass {
            return Ok(());
        }
        let chain = chain.bill.price;
        let compared =
            |v: &&mut VariantResult| v.variant.has_sensors() && v.verdict == Verdict::Pass;
        for result in variants.iter_mut().filter(compared) {
            let bill = &result.bill;
            let today = bill.sensing(price);
            let rest = bill.price - bill.sensors as f64 * today;
            let sensed = SensedConverter { rest, phases: bill.sensors, today };
            let good = self.sampled.pairs.counts(result.variant.index(), Variant::Chain.index());
            result.break_even = BreakEvenPrice::new(sensed, chain, good, self.confidence)?;
        }
        Ok(())
    }

    /// Yields of the sharing error alone against its limit, over the span of all variants.
    fn add_curves(&self, variants: &mut [VariantResult]) -> Result<(), StudyError> {
        let ordered: Vec<_> = self.sampled.variants.iter().map(|v| v.worst[0].ordered()).collect();
        let limit = self.sampling.session.scenario().limits.sharing_error;
        let quantiles =
            |p: f64| ordered.iter().flatten().filter_map(move |o| o.quantile_of_values(p));
        let most = quantiles(0.999).fold(1.2 * limit.unwrap_or(0.0), f64::max);
        let least = quantiles(0.01).fold(limit.unwrap_or(f64::INFINITY) / 1.2, f64::min);
        let Some(edges) = Edges::by_ratio(least.clamp(most * SHOWN, most), most, POINTS) else {
            return Ok(());
        };
        for (result, ordered) in variants.iter_mut().zip(&ordered) {
            let Some(ordered) = ordered else { continue };
            for limit in curve_limits(&edges, limit) {
                let count = ordered.count_at_most(limit);
                let good = Yield::new(count, self.sampled.samples, self.confidence)?;
                result.curve.push(YieldPoint { limit, good });
            }
        }
        Ok(())
    }

    fn good(&self, variant: Variant, level: Confidence) -> Result<Yield, StudyError> {
        let count = self.sampled.pairs.good(variant.index());
        Ok(Yield::new(count, self.sampled.samples, level)?)
    }

    /// The fewest samples of which the joint interval meets the target, if all pass.
    fn fewest_samples(&self) -> Result<Option<u64>, StudyError> {
        let target = self.sampling.session.scenario().limits.yield_target;
        let tail = joint_level(self.confidence)?.two_sided_tail();
        match samples_without_failure(target, Confidence::new(1.0 - tail)?) {
            Err(StatisticsError::TooManySamples { .. }) => Ok(None),
            other => Ok(Some(other?)),
        }
    }

    fn joint(&self, variant: Variant) -> Result<Yield, StudyError> {
        self.good(variant, joint_level(self.confidence)?)
    }

    /// Cases of a variant, by their indices.
    fn cases(&self, variant: Variant) -> impl Iterator<Item = usize> {
        let cases = self.sampling.variant_cases.iter().enumerate();
        cases.filter(move |(_, v)| v.variant == variant).map(|(n, _)| n)
    }

    fn mean_loss(&self, case: usize) -> Option<f64> {
        let column = self.loss_column()?;
        self.sampled.cases.cases[case].distributions[column].moments().mean()
    }

    fn loss_column(&self) -> Option<usize> {
        figures_of_all(self.sampling.session.scenario()).iter().position(|f| *f == Figure::Loss)
    }

    /// The operating point at which the chain loses most.
    fn loss_point(&self) -> String {
        let losses = self.cases(Variant::Chain).map(|n| (self.mean_loss(n).unwrap_or(0.0), n));
        let most = losses.reduce(|a, b| if b.0 > a.0 { b } else { a });
        most.map_or(String::new(), |(_, n)| self.sampling.variant_cases[n].case.point.name.clone())
    }

    fn variant(&self, variant: Variant, loss_point: &str) -> Result<VariantResult, StudyError> {
        let (scenario, tally) =
            (self.sampling.session.scenario(), &self.sampled.variants[variant.index()]);
        let (good, joint) = (self.good(variant, self.confidence)?, self.joint(variant)?);
        let target = scenario.limits.yield_target;
        let is_judged = Demand::can_be_judged(scenario, variant.arrangement());
        let verdict = if is_judged { joint.verdict(target) } else { Verdict::NotDecided };
        let undecided = is_judged && verdict == Verdict::NotDecided;
        let legs = driven_legs(self.sampling.variant_cases.iter().map(|s| s.case.point.drive));
        let rating = |d| TargetQuantile::new(d, target, self.confidence);
        let at_loss_point = self
            .cases(variant)
            .find(|n| self.sampling.variant_cases[*n].case.point.name == loss_point);
        let loss = at_loss_point.zip(self.loss_column()).and_then(|(case, column)| {
            self.sampled.cases.cases[case].distributions[column].key_figures(self.confidence)
        });
        let [sharing, rms, peak, blocking] = &tally.worst;
        let [rated_rms, rated_peak] = &tally.rated;
        let nominal = NominalConverters {
            session: self.sampling.session,
            variant_cases: &self.sampling.variant_cases,
        };
        let nominal_figure = |figure| nominal.figure(variant, figure);
        Ok(VariantResult {
            variant,
            good,
            joint,
            is_judged,
            verdict,
            samples_to_decide: undecided.then(|| joint.samples_to_decide(target)).flatten(),
            counts: self.counts(variant),
            binding: self.binding(variant),
            sharing: sharing.key_figures(self.confidence),
            curve: Vec::new(),
            rms: rms.key_figures(self.confidence),
            peak: peak.key_figures(self.confidence),
            nominal: [Figure::WorstSwitchRms, Figure::WorstSwitchPeak].map(nominal_figure),
            currents: [rating(rms), rating(peak)],
            joint_rating: joint_rating(&tally.rated_together, target, self.confidence)?,
            ratings: [rating(rated_rms), rating(rated_peak)],
            blocking: rating(blocking),
            nominal_miss: nominal.miss(variant),
            worst_switches: nominal.worst_switches(variant),
            loss,
            ripple: self.ripple(variant),
            bill: BillOfParts::new(variant, scenario, self.sampling.request, legs),
            loops: self.loops(variant)?,
            break_even: None,
        })
    }

    fn ripple(&self, variant: Variant) -> Option<[KeyFigures; 2]> {
        let [rms, peak_to_peak] = &self.sampled.variants[variant.index()].ripple;
        Some([rms.key_figures(self.confidence)?, peak_to_peak.key_figures(self.confidence)?])
    }

    fn counts(&self, variant: Variant) -> [u64; 3] {
        let all = self.cases(variant).map(|n| self.sampled.cases.cases[n].count.statuses);
        all.fold([0; 3], |sum, counts| std::array::from_fn(|n| sum[n] + counts[n]))
    }

    fn binding(&self, variant: Variant) -> Option<Binding> {
        Binding::among(self.cases(variant).map(|n| {
            let name = self.sampling.variant_cases[n].case.point.name.as_str();
            (name, &self.sampled.cases.cases[n].count)
        }))
    }

    fn loops(&self, variant: Variant) -> Result<Option<TrimLoops>, StudyError> {
        let request = self.sampling.request;
        if !variant.has_sensors() || !may_trim(request, variant.arrangement()) {
            return Ok(None);
        }
        let tally = &self.sampled.variants[variant.index()];
        let phases = self.sampling.session.scenario().phases as f64 * tally.trimmed as f64;
        Ok(Some(TrimLoops {
            at_end: if phases > 0.0 { tally.at_end as f64 / phases } else { 0.0 },
            samples_at_end: Yield::new(
                tally.samples_at_end,
                self.sampled.samples,
                self.confidence,
            )?,
            largest_trim: tally.largest_trim,
            beat: tally.beat.key_figures(self.confidence),
        }))
    }
}
