//! The searches for the break-even factors at which the decision changes, verified on fresh samples.

use schemars::JsonSchema;
use serde::Serialize;

use super::sampling::Sampling;
use super::scaling::{greatest_factor, with_scaled_errors};
use super::survey::{
    BreakEvenFactor, EVALUATIONS, FactorBounds, FactorSpan, TargetComparison, break_evens, survey,
};
use super::suspects::{Counted, Stopped, Suspects, Tried};
use super::variant::Variant;
use super::variant_case::VariantCase;
use crate::converter::Condition;
use crate::population::RandomSource;
use crate::scenario::SensorRequest;
use crate::scenario::Tolerance;
use crate::statistics::{Confidence, Verdict, Yield};
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::study::common::settings::Draws;
use crate::study::common::trials::Solving;

/// Samples of a search with trim loops, at most: they take their time.
const LOOPS: u64 = 5000;

/// What is multiplied.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ScaledQuantity {
    /// All bands of the parts.
    Bands,
    /// All errors of the sensors.
    SensorErrors,
}

/// What is asked at every factor: does this variant meet the target?
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct SensitivityQuestion {
    /// The variant.
    pub variant: Variant,
    /// What is multiplied.
    pub scaled: ScaledQuantity,
}

impl SensitivityQuestion {
    /// The questions on which a decision for the `cheapest` variant depends: the chain, the
    /// paralleled converter with sensors (or, where it is taken, the chain with sensors), and the
    /// bare one where that is taken; of sensors' errors, where any are stated.
    pub fn all(cheapest: Option<Variant>, request: &SensorRequest) -> Vec<Self> {
        let sensed = match cheapest {
            Some(Variant::ChainWithSensors) => Variant::ChainWithSensors,
            _ => Variant::ParalleledWithSensors,
        };
        let bare = (cheapest == Some(Variant::Paralleled)).then_some(Variant::Paralleled);
        let on_bands = bare.into_iter().chain([Variant::Chain, sensed]);
        let mut all: Vec<_> =
            on_bands.map(|variant| Self { variant, scaled: ScaledQuantity::Bands }).collect();
        let of_gain = [&request.gain_error, &request.drift, &request.temperature_coefficient];
        let errors = of_gain.into_iter().chain([&request.offset]);
        if errors.flatten().any(|t| t.reach() > 0.0) {
            all.push(Self { variant: sensed, scaled: ScaledQuantity::SensorErrors });
        }
        all
    }

    fn stage(self) -> &'static str {
        match (self.scaled, self.variant) {
            (ScaledQuantity::Bands, Variant::Paralleled) => "(a) over the bands",
            (ScaledQuantity::Bands, Variant::Chain) => "(b) over the bands",
            (ScaledQuantity::Bands, _) => "loops over the bands",
            (ScaledQuantity::SensorErrors, _) => "loops over the sensors' errors",
        }
    }
}

/// An answered question.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sensitivity {
    /// The question.
    pub question: SensitivityQuestion,
    /// How the yield compares with its target, by rising factors.
    pub spans: Vec<FactorSpan>,
    /// Samples at every factor, those of the search as well as fresh ones; at 1 the search takes
    /// the study's own.
    pub samples: u64,
    /// Where the yield crosses the target.
    pub break_evens: Vec<VerifiedBreakEven>,
}

impl Sensitivity {
    /// The break-even next to the bands or errors as they are.
    pub fn nearest(&self) -> Option<&VerifiedBreakEven> {
        let distance = |c: &&VerifiedBreakEven| libm::log(c.found.factor).abs();
        self.break_evens.iter().min_by(|a, b| distance(a).total_cmp(&distance(b)))
    }

    /// Least and greatest factor evaluated.
    pub fn factor_range(&self) -> (f64, f64) {
        let ends = (self.spans.first(), self.spans.last());
        (ends.0.map_or(1.0, |s| s.from), ends.1.map_or(1.0, |s| s.to))
    }
}

/// A break-even factor, verified on fresh samples that the search did not use.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VerifiedBreakEven {
    /// As the search found it.
    pub found: BreakEvenFactor,
    /// Yields of fresh samples at the ends of its interval, as far as there are any.
    pub fresh: Vec<FreshYield>,
    /// Break-even factor of the fresh samples, between the two ends in a straight line; `None`
    /// where their yields at the ends do not enclose the target.
    pub fresh_factor: Option<f64>,
    /// Whether the interval of fresh samples decides the contrary at an end.
    pub contradicted: bool,
}

/// The yield of fresh samples at a factor.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FreshYield {
    /// The factor.
    pub factor: f64,
    /// The yield.
    pub good: Yield,
}

impl VerifiedBreakEven {
    fn new(found: BreakEvenFactor, fresh: Vec<FreshYield>, target: f64) -> Self {
        let contrary = |f: &FreshYield| {
            let meets = (Some(f.factor) == found.lower) == found.meets_below;
            let comparison = TargetComparison::new(&f.good, target);
            comparison.is_decided() && comparison.meets() != meets
        };
        let fresh_factor = match fresh[..] {
            [low, high] => between(low, high, target),
            _ => None,
        };
        let contradicted = fresh.iter().any(contrary);
        Self { found, fresh, fresh_factor, contradicted }
    }
}

/// Where the line through two yields crosses the target, if between them.
fn between(low: FreshYield, high: FreshYield, target: f64) -> Option<f64> {
    let share = (target - low.good.estimate) / (high.good.estimate - low.good.estimate);
    (0.0..=1.0).contains(&share).then_some(low.factor + share * (high.factor - low.factor))
}

/// What is counted at a factor.
#[derive(Clone, Copy)]
struct CountedSamples {
    question: SensitivityQuestion,
    factor: f64,
    draws: Draws,
    solving: Solving,
}

/// What the searches are made with.
#[derive(Clone, Copy)]
pub(super) struct Searcher<'a> {
    pub session: &'a Session<'a>,
    pub request: &'a SensorRequest,
    pub variant_cases: &'a [VariantCase],
    /// Samples that no search uses.
    pub fresh: RandomSource,
}

impl Searcher<'_> {
    /// Searches, and tries the ends again on fresh samples; `good` is the variant's yield as things
    /// are.
    pub(super) fn answer(
        &self,
        question: SensitivityQuestion,
        good: Yield,
        progress: &mut dyn Progress,
    ) -> Result<Sensitivity, Stopped> {
        let all = self.session.settings().draws();
        let most = if question.variant.has_sensors() { LOOPS } else { all.samples };
        let draws = Draws { samples: all.samples.min(most), ..all };
        progress.stage(question.stage(), (EVALUATIONS + 2) * draws.samples);
        let target = self.session.scenario().limits.yield_target;
        let mut suspects = Suspects::default();
        let spans = survey(self.bounds(question, good.verdict(target)), |factor| {
            let is_unscaled = factor.to_bits() == 1.0_f64.to_bits();
            if is_unscaled {
                return Ok(TargetComparison::new(&good, target));
            }
            self.comparison_at(question, factor, draws, &mut suspects, progress)
        })?;
        let fresh = Draws { source: self.fresh, ..draws };
        let verify = |found: BreakEvenFactor| {
            let ends = found.lower.into_iter().chain(found.upper);
            let yields = ends.map(|factor| {
                let good = self.yield_at(question, factor, fresh, progress)?;
                Ok(FreshYield { factor, good })
            });
            Ok(VerifiedBreakEven::new(found, yields.collect::<Result<_, Stopped>>()?, target))
        };
        let break_evens = break_evens(&spans).into_iter().map(verify);
        let break_evens = break_evens.collect::<Result<_, Stopped>>()?;
        Ok(Sensitivity { question, spans, samples: draws.samples, break_evens })
    }

    /// The factors that are searched: smaller errors cannot end a pass, nor larger ones a miss.
    fn bounds(&self, question: SensitivityQuestion, verdict: Verdict) -> FactorBounds {
        let errors = [&self.request.gain_error, &self.request.drift];
        let most = match question.scaled {
            ScaledQuantity::Bands => {
                greatest_factor(self.session.scenario().tolerances.iter().map(|(_, t)| t.reach()))
            }
            ScaledQuantity::SensorErrors => {
                let coefficient = self.request.temperature_coefficient.iter();
                let hottest = self.hottest_sensor();
                let by_temperature = coefficient.map(|own| hottest * own.reach());
                let reaches = errors.into_iter().flatten().map(Tolerance::reach);
                greatest_factor(reaches.chain(by_temperature))
            }
        };
        FactorBounds {
            least: if verdict == Verdict::Pass { 1.0 } else { 0.0 },
            greatest: if verdict == Verdict::Fail { 1.0 } else { most },
        }
    }

    /// How far the temperature of any sensor lies from the reference, in kelvin.
    fn hottest_sensor(&self) -> f64 {
        let scenario = self.session.scenario();
        let last = (scenario.phases - 1) as f64;
        let ends = scenario.operating_points.iter().flat_map(|point| {
            let Condition { sensor_above_reference, phase_rise, .. } = point.condition;
            [sensor_above_reference, sensor_above_reference + last * phase_rise]
        });
        ends.map(f64::abs).fold(0.0, f64::max)
    }

    /// How the yield at a factor compares with the target: tried until that is certain. Samples that fail are
    /// those to try first at other factors.
    fn comparison_at(
        &self,
        question: SensitivityQuestion,
        factor: f64,
        draws: Draws,
        suspects: &mut Suspects,
        progress: &mut dyn Progress,
    ) -> Result<TargetComparison, Stopped> {
        let scenario = self.session.scenario();
        let confidence = Confidence::new(scenario.limits.confidence)?;
        let compared = |good: u64| {
            let good = Yield::new(good, draws.samples, confidence)?;
            Ok::<_, Stopped>(TargetComparison::new(&good, scenario.limits.yield_target))
        };
        let is_certain =
            |Counted { good, left }: Counted| Ok(compared(good)? == compared(good + left)?);
        let sampled = CountedSamples { question, factor, draws, solving: Solving::UntilClear };
        let Tried { counted, failed } = self.counted(sampled, suspects, is_certain, progress)?;
        suspects.learn(failed);
        compared(counted.good)
    }

    /// The yield at a factor, of samples that are all solved to the end.
    fn yield_at(
        &self,
        question: SensitivityQuestion,
        factor: f64,
        draws: Draws,
        progress: &mut dyn Progress,
    ) -> Result<Yield, Stopped> {
        let confidence = Confidence::new(self.session.scenario().limits.confidence)?;
        let sampled = CountedSamples { question, factor, draws, solving: Solving::ToTheEnd };
        let none = Suspects::default();
        let Tried { counted, .. } = self.counted(sampled, &none, |_| Ok(false), progress)?;
        Ok(Yield::new(counted.good, draws.samples, confidence)?)
    }

    /// The good samples at a factor, until it is certain.
    fn counted(
        &self,
        sampled: CountedSamples,
        suspects: &Suspects,
        is_certain: impl Fn(Counted) -> Result<bool, Stopped>,
        progress: &mut dyn Progress,
    ) -> Result<Tried, Stopped> {
        let CountedSamples { question, factor, draws, solving } = sampled;
        let (bands, errors) = match question.scaled {
            ScaledQuantity::SensorErrors => (1.0, factor),
            ScaledQuantity::Bands => (factor, 1.0),
        };
        let cases = self.variant_cases.iter().filter(|v| v.variant == question.variant);
        let sampling = Sampling {
            session: self.session,
            request: &with_scaled_errors(self.request, errors),
            tolerances: self.session.scenario().tolerances.scaled(bands),
            variant_cases: cases.collect(),
            parts: None,
        };
        sampling.good(draws, suspects, solving, is_certain, progress)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fresh(factor: f64, successes: u64) -> FreshYield {
        let confidence = Confidence::new(0.95).unwrap();
        FreshYield { factor, good: Yield::new(successes, 1000, confidence).unwrap() }
    }

    /// 994 and 984 of 1000 against 99 %: four tenths of the way, by hand. That fresh samples do not
    /// surely say so again is no contradiction; that they surely say the contrary is one.
    #[test]
    fn fresh_samples_estimate_the_break_even_or_contradict_it() {
        let found =
            BreakEvenFactor { factor: 1.3, lower: Some(1.2), upper: Some(1.4), meets_below: true };
        let checked = |low, high| {
            VerifiedBreakEven::new(found, vec![fresh(1.2, low), fresh(1.4, high)], 0.99)
        };
        let near = checked(994, 984);
        assert!((near.fresh_factor.unwrap() - 1.28).abs() < 1e-12 && !near.contradicted);
        let one_sided = checked(994, 991);
        assert_eq!((one_sided.fresh_factor, one_sided.contradicted), (None, false));
        assert!(checked(970, 960).contradicted && checked(1000, 999).contradicted);
        let rising = BreakEvenFactor { meets_below: false, ..found };
        let ends = vec![fresh(1.2, 960), fresh(1.4, 1000)];
        assert!(!VerifiedBreakEven::new(rising, ends, 0.99).contradicted);
    }
}
