//! All figures of a variant.

use schemars::JsonSchema;
use serde::Serialize;

use crate::report::format::json::{Counts, MissedMost};
use crate::statistics::{Interval, KeyFigures, QuantileInterval, Verdict, Yield};
use crate::study::common::missed::NominalMiss;
use crate::study::sensors::{
    BillOfParts, BreakEvenPrice, NoRating, SensorStudy, TargetQuantile, TrimLoops, Variant,
    VariantResult,
};

/// A variant. Currents, voltages and sharing errors are those of the worst operating point of each
/// sample.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct VariantSummary {
    /// The variant.
    variant: Variant,
    /// Its letter, a to d.
    letter: char,
    /// Share of the converters that keep to all limits at all operating points, with the interval of
    /// this variant alone.
    #[serde(rename = "yield")]
    good: Yield,
    /// The same with the interval that holds together with those of the other variants.
    joint_yield: Yield,
    /// Whether its arrangement has a limit, and no part on offer counts as exact.
    judged: bool,
    /// What the joint interval says of the target; not decided where it is not judged.
    verdict: Verdict,
    /// Samples of a new study with another seed that decides in 9 of 10 cases, if the yield stays; null
    /// where the verdict is decided, or no practical number would do.
    samples_to_decide: Option<u64>,
    /// The limit missed most often at any one operating point; null where none was missed.
    binding: Option<MissedMost>,
    /// Outcomes of all operating points together.
    counts: Counts,
    /// Sharing error, a fraction.
    sharing_error: Option<KeyFigures>,
    /// RMS current of the worst switch.
    #[serde(rename = "switch_rms_current_A")]
    rms: Option<KeyFigures>,
    /// Peak current of the worst switch.
    #[serde(rename = "switch_peak_current_A")]
    peak: Option<KeyFigures>,
    /// RMS current of the nominal converter's worst switch.
    #[serde(rename = "nominal_switch_rms_current_A")]
    nominal_rms: f64,
    /// Peak current of the nominal converter's worst switch.
    #[serde(rename = "nominal_switch_peak_current_A")]
    nominal_peak: f64,
    /// RMS and peak rating, both together, with which the target is met at the confidence; null where
    /// no rating was shown to be enough.
    joint_rating: Option<JointRating>,
    /// Why no rating was shown to be enough; null where one was.
    no_joint_rating: Option<NoRating>,
    /// RMS rating, without one of the peak, at which the target share of all converters is good; null
    /// where none is enough.
    #[serde(rename = "required_rms_rating_A")]
    required_rms_rating: Option<RequiredRating>,
    /// Peak rating, without one of the RMS current, at which the target share of all converters is
    /// good; null where none is enough.
    #[serde(rename = "required_peak_rating_A")]
    required_peak_rating: Option<RequiredRating>,
    /// RMS switch current that the target share of all converters keeps to, good or not.
    #[serde(rename = "rms_current_at_target_A")]
    rms_at_target: Option<QuantileAtTarget>,
    /// Peak switch current that the target share of all converters keeps to, good or not.
    #[serde(rename = "peak_current_at_target_A")]
    peak_at_target: Option<QuantileAtTarget>,
    /// Blocking voltage that the target share of all converters keeps to, good or not.
    #[serde(rename = "blocking_voltage_at_target_V")]
    blocking_at_target: Option<QuantileAtTarget>,
    /// RMS switch current at the target over that of the nominal converter.
    rms_current_over_nominal: Option<f64>,
    /// Peak switch current at the target over that of the nominal converter.
    peak_current_over_nominal: Option<f64>,
    /// The limit that the nominal converter misses already; null of a sound design.
    nominal_misses: Option<NominalMissSummary>,
    /// Loss at the operating point where the chain loses most.
    #[serde(rename = "loss_W")]
    loss: LossSummary,
    /// Ripple current of the output, largest over the operating points; null unless loops trim
    /// frequencies.
    output_ripple: Option<OutputRippleSummary>,
    /// Parts added, price, failure rate.
    parts: PartsSummary,
    /// Share of converters that fail within a year of service.
    failing_within_a_year: f64,
    /// All parts added.
    parts_added: usize,
    /// Price over yield; null without a good converter.
    cost_per_good_converter: Option<f64>,
    /// The same at the ends of the joint interval; null where the lower end is 0.
    cost_per_good_converter_interval: Option<Interval>,
    /// How the trim loops fare; null without, and in a chain whose loops would trim frequencies.
    loops: Option<LoopSummary>,
    /// Price of sensor and trim element of a phase below which the variant costs less per good
    /// converter than (b); null unless both meet the target.
    break_even_price_per_phase: Option<BreakEvenPriceSummary>,
}

/// Ratings of the worst switch that hold together.
#[derive(Debug, Serialize, JsonSchema)]
struct JointRating {
    #[serde(rename = "rms_A")]
    rms: f64,
    #[serde(rename = "peak_A")]
    peak: f64,
}

/// A rating that a yield asks for.
#[derive(Debug, Serialize, JsonSchema)]
struct RequiredRating {
    /// The rating at which the target share of the samples is good.
    value: f64,
    /// Its interval.
    interval: QuantileInterval,
    /// The rating to take, the upper end of the interval: with it the target is met at the confidence.
    /// Null where that end is.
    at_confidence: Option<f64>,
}

/// What the target share of all converters keeps to.
#[derive(Debug, Serialize, JsonSchema)]
struct QuantileAtTarget {
    /// The quantile at the target.
    value: f64,
    /// Its interval.
    interval: QuantileInterval,
}

/// A limit that the nominal converter misses.
#[derive(Debug, Serialize, JsonSchema)]
struct NominalMissSummary {
    operating_point: String,
    /// The limited figure, or `regulation` for the frequency inside the band.
    limit: String,
    /// The value of the limit, in the figure's unit.
    allowed: f64,
    /// What the nominal converter has; null where it is not known.
    value: Option<f64>,
}

/// The loss at an operating point.
#[derive(Debug, Serialize, JsonSchema)]
struct LossSummary {
    operating_point: String,
    /// Loss of the solved samples, sensors and trim elements included.
    loss: Option<KeyFigures>,
}

/// The parts that a variant adds, and the whole converter with them.
#[derive(Debug, Serialize, JsonSchema)]
struct PartsSummary {
    flying_capacitors: usize,
    sensors: usize,
    trim_elements: usize,
    /// Price of the converter with them.
    price: f64,
    /// Failure rate of the converter with them: the sum over all parts, in FIT.
    #[serde(rename = "failure_rate_FIT")]
    failure_rate: f64,
}

/// How the trim loops fare.
#[derive(Debug, Serialize, JsonSchema)]
struct LoopSummary {
    /// Share of the phases, over all solved operating points, at an end of the trim range.
    at_end: f64,
    /// Share of the samples with such a phase.
    samples_at_end: Yield,
    /// Largest trim seen, a fraction.
    largest_trim: f64,
    /// Highest frequency at which the output ripple of any two phases beats: twice the difference of their
    /// switching frequencies, and once behind a voltage doubler; null unless they have frequencies of their own.
    #[serde(rename = "beat_Hz")]
    beat: Option<KeyFigures>,
}

/// Ripple current of the output capacitors. Of phases that do not keep step it is that of the worst
/// instant, from peak to peak.
#[derive(Debug, Serialize, JsonSchema)]
struct OutputRippleSummary {
    #[serde(rename = "rms_A")]
    rms: KeyFigures,
    #[serde(rename = "peak_to_peak_A")]
    peak_to_peak: KeyFigures,
}

/// A break-even price.
#[derive(Debug, Serialize, JsonSchema)]
struct BreakEvenPriceSummary {
    /// From the estimated yields.
    estimate: f64,
    /// From the interval of the ratio of both yields; null where a yield may be zero.
    interval: Option<Interval>,
    /// Price of sensor and trim element of a phase in the scenario.
    present: f64,
    /// Whether the variant costs less than (b) at the present price, by the estimate.
    cheaper_at_present: bool,
    /// Whether the interval excludes the present price.
    secured: bool,
}

impl VariantSummary {
    pub(super) fn new(study: &SensorStudy, result: &VariantResult) -> Self {
        let [rms_current_over_nominal, peak_current_over_nominal] = result.oversize();
        Self {
            variant: result.variant,
            letter: result.variant.letter(),
            good: result.good,
            joint_yield: result.joint,
            judged: result.is_judged,
            verdict: result.verdict,
            samples_to_decide: result.samples_to_decide,
            binding: result.binding.as_ref().map(MissedMost::new),
            counts: Counts::new(result.counts),
            sharing_error: result.sharing,
            rms: result.rms,
            peak: result.peak,
            nominal_rms: result.nominal[0],
            nominal_peak: result.nominal[1],
            joint_rating: result.joint_rating.ok().map(|[rms, peak]| JointRating { rms, peak }),
            no_joint_rating: result.joint_rating.err(),
            required_rms_rating: result.ratings[0].map(RequiredRating::new),
            required_peak_rating: result.ratings[1].map(RequiredRating::new),
            rms_at_target: result.currents[0].map(QuantileAtTarget::new),
            peak_at_target: result.currents[1].map(QuantileAtTarget::new),
            blocking_at_target: result.blocking.map(QuantileAtTarget::new),
            rms_current_over_nominal,
            peak_current_over_nominal,
            nominal_misses: result.nominal_miss.as_ref().map(NominalMissSummary::new),
            loss: LossSummary { operating_point: study.loss_point.clone(), loss: result.loss },
            output_ripple: result
                .ripple
                .map(|[rms, peak_to_peak]| OutputRippleSummary { rms, peak_to_peak }),
            parts: PartsSummary::new(&result.bill),
            failing_within_a_year: result.bill.failing_within_a_year(),
            parts_added: result.bill.added(),
            cost_per_good_converter: result.price_per_good(),
            cost_per_good_converter_interval: Some(result.cost_interval())
                .filter(|cost| cost.upper.is_finite()),
            loops: result.loops.as_ref().map(LoopSummary::new),
            break_even_price_per_phase: result.break_even.map(BreakEvenPriceSummary::new),
        }
    }
}

impl RequiredRating {
    fn new(quantile: TargetQuantile) -> Self {
        let at_confidence = quantile.required_rating();
        Self { value: quantile.value, interval: quantile.interval, at_confidence }
    }
}

impl QuantileAtTarget {
    fn new(quantile: TargetQuantile) -> Self {
        Self { value: quantile.value, interval: quantile.interval }
    }
}

impl NominalMissSummary {
    fn new(miss: &NominalMiss) -> Self {
        Self {
            operating_point: miss.operating_point.clone(),
            limit: miss.missed.demand.name(),
            allowed: miss.missed.demand.limit,
            value: miss.missed.value,
        }
    }
}

impl PartsSummary {
    fn new(bill: &BillOfParts) -> Self {
        Self {
            flying_capacitors: bill.flying_capacitors,
            sensors: bill.sensors,
            trim_elements: bill.trim_elements,
            price: bill.price,
            failure_rate: bill.failure_rate,
        }
    }
}

impl LoopSummary {
    fn new(loops: &TrimLoops) -> Self {
        Self {
            at_end: loops.at_end,
            samples_at_end: loops.samples_at_end,
            largest_trim: loops.largest_trim,
            beat: loops.beat,
        }
    }
}

impl BreakEvenPriceSummary {
    fn new(price: BreakEvenPrice) -> Self {
        Self {
            estimate: price.estimate,
            interval: price.interval,
            present: price.today,
            cheaper_at_present: price.is_met_today(),
            secured: price.is_secured(),
        }
    }
}
