//! What the study of sensors results in.

use schemars::JsonSchema;
use serde::Serialize;

use super::price::BreakEvenPrice;
use super::quantile::TargetQuantile;
use super::rating::NoRating;
use super::sensitivity::Sensitivity;
use super::variant::{BillOfParts, Variant};
use crate::converter::Leg;
use crate::population::RandomSource;
use crate::statistics::{Confidence, KeyFigures, Verdict, Yield};
use crate::study::common::demand::Binding;
use crate::study::common::figures::Side;
use crate::study::common::missed::NominalMiss;
use crate::study::common::pairs::Pairs;
use crate::study::common::ratings::PopulationRatings;
use crate::study::common::settings::Settings;
use crate::study::common::soft_switching::{PopulationSwitching, SharingShift};
use crate::study::common::yield_curve::YieldPoint;
use crate::study::faults::FaultStudy;

/// The result of the study.
#[derive(Debug)]
pub struct SensorStudy {
    /// By how much the dead time shifts sharing of the chain at most, which yields leave out; none where that is
    /// small.
    pub sharing_shift: Option<SharingShift>,
    /// How it was carried out; the samples are those asked for.
    pub settings: Settings,
    /// Samples done: fewer than asked for where it was stopped.
    pub samples: u64,
    /// The fewest samples with which a variant can meet the target, if all of them pass; none where
    /// 10¹² are not enough.
    pub fewest_samples: Option<u64>,
    /// (a) to (d).
    pub variants: Vec<VariantResult>,
    /// How often each two variants are good on the same samples.
    pub pairs: Pairs,
    /// Operating point at which the losses are given: that with the highest loss.
    pub loss_point: String,
    /// What parts and switches bear without sensors: (b) the chain, (a) paralleled.
    pub parts: PartLoadResults,
    /// The same with sensors: (d) the chain, (c) paralleled.
    pub sensed_parts: PartLoadResults,
    /// What becomes of the nominal converter without sensors when one part fails.
    pub faults: FaultStudy,
    /// Where variants cease or begin to meet the target, in the order of the questions; those that
    /// were answered.
    pub sensitivities: Vec<Sensitivity>,
    /// The samples that verify these factors; the search did not use them.
    pub verification: RandomSource,
    /// What was left undone when it was stopped; none of a whole study.
    pub unfinished: Option<Unfinished>,
}

/// What parts and switches bear in a chain and in paralleled bridges.
#[derive(Debug)]
pub struct PartLoadResults {
    /// What every part must be rated for.
    pub ratings: PopulationRatings,
    /// How the switches turn on; none where the scenario does not describe them, and with the averaged solver.
    pub switching: Option<PopulationSwitching>,
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
    /// Share that meets all limits at all operating points, with the interval of this variant alone.
    pub good: Yield,
    /// The same with an interval that holds together with those of the other variants, at the
    /// [`joint_level`](super::joint_level).
    pub joint: Yield,
    /// Whether its arrangement has a limit, and no part on offer counts as exact. Else there is no verdict, and it
    /// is no rival of another variant.
    pub is_judged: bool,
    /// What the joint interval says of the target: the verdicts of all variants hold together. Not decided where it
    /// is not judged.
    pub verdict: Verdict,
    /// When not decided: samples of a new study, from another seed, that decides in 9 of 10 cases, if
    /// the yield stays.
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
    /// RMS and peak rating, both together, at which the target share of all converters is good: one
    /// statement at the confidence. Or why none was shown to be enough.
    pub joint_rating: Result<[f64; 2], NoRating>,
    /// RMS rating, and peak rating, each without the other, at which that share is good.
    pub ratings: [Option<TargetQuantile>; 2],
    /// Blocking voltage that the target share of all converters keeps to.
    pub blocking: Option<TargetQuantile>,
    /// The limit that the nominal converter misses already; none of a sound design.
    pub nominal_miss: Option<NominalMiss>,
    /// Switches with the nominal converter's highest RMS current; empty where all carry it.
    pub worst_switches: Vec<(Leg, Side)>,
    /// Loss at [`SensorStudy::loss_point`], sensors and trim elements included.
    pub loss: Option<KeyFigures>,
    /// Ripple current of the output, RMS and from peak to peak, largest over the operating points; none
    /// unless loops trim frequencies.
    pub ripple: Option<[KeyFigures; 2]>,
    /// Parts, price, failure rate.
    pub bill: BillOfParts,
    /// The trim loops; none without, and where they have nothing to trim.
    pub loops: Option<TrimLoops>,
    /// The price of sensor and trim element of a phase below which this variant costs less per good
    /// converter than the chain alone; none without sensors, or unless the
    /// whole interval of both meets the target.
    pub break_even: Option<BreakEvenPrice>,
}

/// A cost per good converter as a straight line over the price of a part of every phase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CostOverPrice {
    /// Cost were the part free.
    pub at_zero: f64,
    /// What it rises per unit of price.
    pub per_unit: f64,
}

/// What the trim loops had to do.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TrimLoops {
    /// Share of the phases, over all solved operating points, at an end of the trim range.
    pub at_end: f64,
    /// Share of the samples with such a phase.
    pub samples_at_end: Yield,
    /// Largest trim seen, a fraction.
    pub largest_trim: f64,
    /// Highest frequency in hertz at which the output ripple of any two phases beats, largest over the operating points; none unless
    /// they have frequencies of their own.
    pub beat: Option<KeyFigures>,
}

impl SensorStudy {
    /// What parts and switches bear in a variant, and in the other arrangement.
    pub fn parts_of(&self, variant: Variant) -> &PartLoadResults {
        if variant.has_sensors() { &self.sensed_parts } else { &self.parts }
    }

    /// The result of a variant.
    pub fn variant(&self, variant: Variant) -> &VariantResult {
        &self.variants[variant.index()]
    }

    /// Whether the samples are so few that no variant can meet the target, even if all pass.
    pub fn cannot_pass(&self) -> bool {
        self.fewest_samples.is_none_or(|fewest| self.samples < fewest)
    }

    /// The level of each variant's interval behind the verdicts.
    pub fn joint_level(&self) -> Confidence {
        self.variant(Variant::Chain).joint.confidence
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

    /// What a good converter costs over the price of sensor and trim element of a phase; none without
    /// sensors, a break-even price or a good converter.
    pub fn cost_over_price(&self) -> Option<CostOverPrice> {
        let phases = self.bill.sensors as f64;
        let today = self.break_even?.today;
        let good = self.good.estimate;
        (good > 0.0).then(|| CostOverPrice {
            at_zero: (self.bill.price - phases * today) / good,
            per_unit: phases / good,
        })
    }

    /// Whether the interval of this variant alone decides what the joint one leaves open.
    pub fn is_decided_alone(&self, target: f64) -> bool {
        self.is_open() && self.good.verdict(target) != Verdict::NotDecided
    }

    /// Whether it is judged, and the samples do not decide.
    pub fn is_open(&self) -> bool {
        self.is_judged && self.verdict == Verdict::NotDecided
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
