//! The case for or against current sensors: four variants of the same converters.
//!
//! (a) paralleled; (b) a chain with charge-balancing capacitors; (c) paralleled with a current
//! sensor and a trim loop a phase; (d) both. All see the same parts, sample by sample, and (c) and
//! (d) the same sensors, so that they differ by what is built, not by the luck of the draw.

mod decision;
mod difference;
mod price;
mod quantile;
mod results;
mod sampling;
mod sensitivity;
mod survey;
mod variant;

use std::sync::atomic::AtomicBool;

use schemars::JsonSchema;
use serde::Serialize;

pub use self::decision::Decision;
pub use self::difference::VariantDifference;
pub use self::price::{BreakEvenPrice, break_even_price};
pub use self::quantile::TargetQuantile;
use self::results::View;
pub use self::sampling::NominalMiss;
use self::sampling::{Sampling, VariantCase};
pub use self::sensitivity::{
    FreshYield, ScaledQuantity, Sensitivity, SensitivityQuestion, VerifiedBreakEven,
};
use self::sensitivity::{Searcher, Stopped};
pub use self::survey::{
    BreakEvenFactor, FactorBounds, FactorSpan, TargetComparison, break_evens, survey, widened,
};
pub use self::variant::{BillOfParts, Variant};
use crate::engine::EngineError;
use crate::population::RandomSource;
use crate::scenario::{Scenario, SensorRequest};
use crate::statistics::{Confidence, KeyFigures, Verdict, Yield};
use crate::study::common::demand::Binding;
use crate::study::common::error::StudyError;
use crate::study::common::figures::{Leg, Side};
use crate::study::common::pairs::Pairs;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::study::common::settings::Settings;
use crate::study::common::yield_curve::YieldPoint;

/// The result.
#[derive(Debug)]
pub struct SensorStudy {
    /// How it was carried out; the samples are those asked for.
    pub settings: Settings,
    /// Samples done: fewer than asked for where it was stopped.
    pub samples: u64,
    /// (a) to (d).
    pub variants: Vec<VariantResult>,
    /// How often each two variants are good on the same samples.
    pub pairs: Pairs,
    /// Operating point at which the losses are told: that with the highest loss.
    pub loss_point: String,
    /// Where variants cease or begin to meet the target, in the order of [`SensitivityQuestion::all`]; those
    /// that were answered.
    pub sensitivities: Vec<Sensitivity>,
    /// The samples that verify these factors; the search did not use them.
    pub verification: RandomSource,
    /// What was left undone when it was stopped; none of a whole study.
    pub unfinished: Option<Unfinished>,
}

/// Where a study was stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Unfinished {
    /// Not all samples were solved, and no factor was searched for.
    Samples,
    /// All samples were solved; not all factors were found.
    Factors,
}

/// What became of a variant.
#[derive(Debug)]
pub struct VariantResult {
    /// The variant.
    pub variant: Variant,
    /// Share that meets all limits at all operating points.
    pub good: Yield,
    /// Against the target.
    pub verdict: Verdict,
    /// When not decided: samples that would decide.
    pub samples_to_decide: Option<u64>,
    /// Samples solved, out of range, not solved, all operating points together.
    pub counts: [u64; 3],
    /// The demand missed most often at any one operating point.
    pub binding: Option<Binding>,
    /// Sharing error, largest over the operating points.
    pub sharing: Option<KeyFigures>,
    /// Share of all samples within a limit of it; the limits are the same for all variants.
    pub curve: Vec<YieldPoint>,
    /// RMS current of the worst switch, largest over the operating points.
    pub rms: Option<KeyFigures>,
    /// Peak current of the worst switch, likewise.
    pub peak: Option<KeyFigures>,
    /// What the nominal converter's worst switch carries: RMS, peak, A.
    pub nominal: [f64; 2],
    /// RMS and peak current that the target share of all converters keeps to, good or not.
    pub currents: [Option<TargetQuantile>; 2],
    /// RMS and peak rating at which the target share of all converters is good.
    pub ratings: [Option<TargetQuantile>; 2],
    /// Blocking voltage that the target share of all converters keeps to.
    pub blocking: Option<TargetQuantile>,
    /// The limit that the nominal converter misses already; none of a sound design.
    pub nominal_miss: Option<NominalMiss>,
    /// Switches with the nominal converter's highest RMS current; empty where all carry it.
    pub worst_switches: Vec<(Leg, Side)>,
    /// Loss at [`SensorStudy::loss_point`], sensors and trim elements included.
    pub loss: Option<KeyFigures>,
    /// Parts, price, failure rate.
    pub bill: BillOfParts,
    /// How the loops fare; none without.
    pub loops: Option<TrimLoops>,
    /// The price of sensor and trim element of a phase below which this variant costs less per good
    /// converter than the chain alone; none without sensors, or unless both surely meet the target.
    pub break_even: Option<BreakEvenPrice>,
}

/// How the trim loops fare.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TrimLoops {
    /// Share of the phases, over all solved operating points, at an end of the trim range.
    pub at_end: f64,
    /// Share of the samples with such a phase.
    pub samples_at_end: Yield,
    /// Largest trim seen, a fraction.
    pub largest_trim: f64,
}

/// Carries out the study.
///
/// # Errors
///
/// When the nominal converter does not work in some variant; when it is stopped before anything
/// is done. Stopped later, it gives what is done, marked as [`Unfinished`].
pub fn sensors(
    scenario: &Scenario,
    request: &SensorRequest,
    settings: Settings,
    stop: &AtomicBool,
    progress: &mut dyn Progress,
) -> Result<SensorStudy, StudyError> {
    let confidence = Confidence::new(scenario.limits.confidence)?;
    let session = Session::new(scenario, settings, stop)?;
    let variant_cases = VariantCase::all(&session, request)?;
    let sampling = Sampling {
        session: &session,
        request,
        tolerances: scenario.tolerances,
        variant_cases: variant_cases.iter().collect(),
    };
    progress.stage("four variants", settings.samples);
    let sampled = sampling.run(settings.draws(), progress)?;
    if sampled.samples == 0 {
        return Err(EngineError::Interrupted(0).into());
    }
    let view = View { sampling: &sampling, sampled: &sampled, confidence };
    let mut study = view.study()?;
    if sampled.interrupted {
        study.unfinished = Some(Unfinished::Samples);
        return Ok(study);
    }
    let fresh = study.verification;
    let searcher = Searcher { session: &session, request, variant_cases: &variant_cases, fresh };
    for question in SensitivityQuestion::all(study.decision().cheapest, request) {
        match searcher.answer(question, study.variant(question.variant).good, progress) {
            Ok(turn) => study.sensitivities.push(turn),
            Err(Stopped::Interrupted) => {
                study.unfinished = Some(Unfinished::Factors);
                break;
            }
            Err(Stopped::Failed(e)) => return Err(e),
        }
    }
    Ok(study)
}

impl SensorStudy {
    /// The result of a variant.
    pub fn variant(&self, variant: Variant) -> &VariantResult {
        &self.variants[variant.index()]
    }

    /// Whether the sensors can go: the chain alone against the target.
    pub fn verdict(&self) -> Verdict {
        self.variant(Variant::Chain).verdict
    }
}

impl VariantResult {
    /// Price of the variant for every good converter, those that fail being scrapped; none without
    /// a good one.
    pub fn price_per_good(&self) -> Option<f64> {
        (self.good.successes > 0).then(|| self.bill.price / self.good.estimate)
    }

    /// The current that the target share keeps to over what the nominal converter's worst switch
    /// carries: RMS, peak. It is how far unequal parts oversize the switch.
    pub fn oversize(&self) -> [Option<f64>; 2] {
        std::array::from_fn(|n| self.currents[n].map(|r| r.value / self.nominal[n]))
    }

    /// What unequal parts add to the RMS current of the worst switch, a fraction of the nominal one.
    pub fn rms_excess(&self) -> Option<f64> {
        Some(self.oversize()[0]? - 1.0)
    }

    /// Share of the samples that miss the limit missed most often.
    pub fn missed_share(&self) -> Option<f64> {
        Some(self.binding.as_ref()?.missed as f64 / self.good.trials as f64)
    }
}
