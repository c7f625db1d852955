//! The sizes in the summary.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::Age;
use crate::report::format::json::{Counts, MissedMost};
use crate::report::format::missed::MissedEntry;
use crate::statistics::{KeyFigures, Verdict, Yield};
use crate::study::capacitors::size::corner::WornCorner;
use crate::study::capacitors::size::loads::{BLOCKING_SWITCHES, NominalLoads, PlaceLoads};
use crate::study::capacitors::size::smallest::SizeVerification;
use crate::study::capacitors::size::{
    PlacePurchase, SizeCase, SizePurchase, SizeResult, SizeSamples, SizeStudy, SizeTrap,
};
use crate::units::{Ampere, Farad, Hertz, Joule, Volt};

/// What is known of the sizes.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report::capacitors) struct SizeFindings {
    /// Whether sizes are judged: not without a limit, nor where offers stand in for tolerances.
    judged: bool,
    /// Every size that was tried, rising.
    sweep: Vec<SweepEntry>,
    /// The same with flying capacitors so large that they change nothing.
    very_large: SweepEntry,
    /// The smallest size from which on all meet the target, confirmed on fresh samples; null where there
    /// is none, and where nothing is judged. The largest sizes may settle too slowly: they are left out.
    #[serde(rename = "smallest_F")]
    smallest: Option<Farad>,
    /// The largest size to use, shown to meet the target; null where very large ones meet it too, or none is
    /// confirmed.
    #[serde(rename = "largest_F")]
    largest: Option<Farad>,
    /// The same on the samples of the search, before it was verified.
    #[serde(rename = "found_F")]
    found: Option<Farad>,
    /// Smaller sizes that meet the target on these samples, though a larger one does not.
    #[serde(rename = "alone_F")]
    alone: Vec<Farad>,
    /// Runs on fresh samples; the last one meets the target, or none does.
    verification: Vec<SizeRun>,
}

/// A run on fresh samples.
#[derive(Debug, Serialize, JsonSchema)]
struct SizeRun {
    #[serde(rename = "flying_capacitance_F")]
    flying_capacitance: Farad,
    /// Random stream of the samples, used for nothing else.
    stream: u64,
    #[serde(rename = "yield")]
    verified_yield: Yield,
    /// Whether the lower end of the interval meets the target.
    meets: bool,
    binding: Option<MissedMost>,
}

/// One size: the largest of all operating points and capacitors, and each of them.
#[derive(Debug, Serialize, JsonSchema)]
struct SweepEntry {
    /// Nominal capacitance of every flying capacitor.
    #[serde(rename = "flying_capacitance_F")]
    flying_capacitance: Farad,
    /// Whether it is the scenario's.
    present: bool,
    /// Nominal ripple, lowest to highest; null, as all that is nominal, where nothing is solved.
    #[serde(rename = "ripple_V")]
    ripple: Option<Volt>,
    /// Nominal RMS current.
    #[serde(rename = "rms_current_A")]
    rms_current: Option<Ampere>,
    /// Nominal highest voltage of a flying capacitor, with the assumed drift.
    #[serde(rename = "peak_voltage_V")]
    peak_voltage: Option<Volt>,
    /// Nominal highest blocking voltage of any switch, with the assumed drift.
    #[serde(rename = "blocking_voltage_V")]
    blocking_voltage: Option<Volt>,
    /// Relative change of the nominal frequency against very large flying capacitors.
    frequency_shift: Option<f64>,
    /// 1 − abs(λ), the share that the slowest disturbance of the nominal chain loses in one period, in the
    /// slowest case; null by the averaged solver.
    decay_per_period: Option<f64>,
    /// Switching periods until 1 % of that disturbance is left; null where nothing damps it too.
    periods_to_1_percent: Option<f64>,
    /// Sharing error that 95 % of the samples keep to; null where it lies above all values in some case.
    sharing_error_p95: Option<f64>,
    /// What the size adds to it, against very large flying capacitors.
    added_sharing_error_p95: Option<f64>,
    /// Nominal capacitance of all flying capacitors together.
    #[serde(rename = "total_capacitance_F")]
    total_capacitance: Farad,
    /// Energy of the flying capacitor after phase 1, at its ideal voltage.
    #[serde(rename = "largest_energy_J")]
    largest_energy: Joule,
    /// Energy of all flying capacitors together, at their ideal voltages.
    #[serde(rename = "chain_energy_J")]
    chain_energy: Joule,
    /// Over all limits and operating points; null where the nominal converter does not reach them all.
    #[serde(rename = "yield")]
    good: Option<Yield>,
    /// Not decided where no limit is set for the chain, or parts on offer count as exact.
    verdict: Verdict,
    /// What to buy for a converter; left out where the scenario tells neither a dc bias nor parts on offer.
    #[serde(skip_serializing_if = "Option::is_none")]
    purchase: Option<PurchaseEntry>,
    binding: Option<MissedMost>,
    /// Operating points, at each age and wear.
    cases: Vec<SizeCaseEntry>,
    /// The nominal converter with one worn-out flying capacitor in the driven leg, all others new. Empty
    /// where the scenario does not tell what is left of it.
    one_worn_out: Vec<WornEntry>,
    /// Aged flying capacitors at the lower end of their tolerance, one at a time in the driven leg, that trap a
    /// slow controller on the capacitive side.
    traps: Vec<SizeTrapEntry>,
}

/// Where a slow controller ends that is trapped.
#[derive(Debug, Serialize, JsonSchema)]
struct SizeTrapEntry {
    operating_point: String,
    /// The phase before the aged capacitor, counted from 1.
    place: usize,
    /// What is left of it, as a share of the size.
    capacitance_left: f64,
    #[serde(rename = "switching_frequency_Hz")]
    switching_frequency: Hertz,
    #[serde(rename = "output_current_A")]
    output_current: Ampere,
}

/// What to buy for the flying capacitors of a converter.
#[derive(Debug, Serialize, JsonSchema)]
struct PurchaseEntry {
    places: Vec<PlaceEntry>,
    /// Of all flying capacitors; null where some place has no part on offer.
    price: Option<f64>,
    /// Of the samples with these parts, at what their DC voltage leaves; null where some place has none.
    #[serde(rename = "yield")]
    good: Option<Yield>,
    /// The price over that yield.
    price_per_good_converter: Option<f64>,
}

/// What to buy for a place.
#[derive(Debug, Serialize, JsonSchema)]
struct PlaceEntry {
    /// The phase before the capacitor, counted from 1.
    place: usize,
    /// Ideal voltage at the highest input voltage, and the assumed drift.
    #[serde(rename = "dc_voltage_V")]
    dc_voltage: Volt,
    /// Share of the capacitance that this leaves; null beyond the last voltage that is given.
    capacitance_left: Option<f64>,
    /// Capacitance without dc voltage of which that leaves the size.
    #[serde(rename = "capacitance_to_buy_F")]
    to_buy: Option<Farad>,
    /// The cheapest part on offer that has so much; null where none has.
    #[serde(rename = "part_F")]
    part: Option<Farad>,
    /// What it has at that voltage.
    #[serde(rename = "part_at_dc_voltage_F")]
    part_left: Option<Farad>,
    part_price: Option<f64>,
}

/// The nominal converter of a size with one worn-out flying capacitor.
#[derive(Debug, Serialize, JsonSchema)]
struct WornEntry {
    operating_point: String,
    /// The phase before that capacitor, counted from 1.
    place: usize,
    /// Share of its capacitance that is left.
    capacitance_left: f64,
    /// `solved`, `out of range` or `not solved`.
    status: &'static str,
    /// Null, as all that follows, where it is not solved.
    #[serde(rename = "switching_frequency_Hz")]
    switching_frequency: Option<Hertz>,
    sharing_error: Option<f64>,
    /// Largest of any flying capacitor, lowest to highest.
    #[serde(rename = "ripple_V")]
    ripple: Option<Volt>,
    /// Highest of any switch, with the assumed drift.
    #[serde(rename = "blocking_voltage_V")]
    blocking_voltage: Option<Volt>,
    /// Limits that it misses.
    missed: Vec<MissedEntry>,
}

/// One size at one operating point, age and wear.
#[derive(Debug, Serialize, JsonSchema)]
struct SizeCaseEntry {
    operating_point: String,
    age: Age,
    /// Share of their own capacitance that is left of the flying capacitors, by `end_of_life`.
    capacitance_left: f64,
    /// Of the nominal converter: `solved`, `out of range` or `not solved`.
    status: &'static str,
    /// The nominal converter; null where it is not solved.
    nominal: Option<NominalEntry>,
    /// As above, of this case.
    decay_per_period: Option<f64>,
    /// As above, of this case.
    periods_to_1_percent: Option<f64>,
    /// The samples; null where nothing is sampled.
    samples: Option<SamplesEntry>,
}

/// The nominal converter of a size.
#[derive(Debug, Serialize, JsonSchema)]
struct NominalEntry {
    #[serde(rename = "switching_frequency_Hz")]
    switching_frequency: Hertz,
    sharing_error: f64,
    /// Highest blocking voltage of the switches in each kind of place, in volt, with the assumed drift.
    #[serde(rename = "blocking_voltage_V")]
    blocking_voltage: BTreeMap<String, Volt>,
    /// Limits that it misses.
    missed: Vec<MissedEntry>,
    /// The flying capacitors after each phase; of both legs the larger values.
    flying_capacitors: Vec<FlyingCapacitorEntry>,
}

/// The flying capacitors after one phase.
#[derive(Debug, Serialize, JsonSchema)]
struct FlyingCapacitorEntry {
    /// The phase, counted from 1.
    place: usize,
    #[serde(rename = "ripple_V")]
    ripple: Volt,
    #[serde(rename = "rms_current_A")]
    rms_current: Ampere,
    /// Null by the averaged solver.
    #[serde(rename = "mean_voltage_V")]
    mean_voltage: Option<Volt>,
    #[serde(rename = "peak_voltage_V")]
    peak_voltage: Volt,
}

/// The samples of a size in one case; of capacitors and switches the largest in each sample.
#[derive(Debug, Serialize, JsonSchema)]
struct SamplesEntry {
    counts: Counts,
    /// Samples that meet every limit in this case.
    good: u64,
    sharing_error: Option<KeyFigures>,
    #[serde(rename = "ripple_V")]
    ripple: Option<KeyFigures>,
    #[serde(rename = "rms_current_A")]
    rms_current: Option<KeyFigures>,
    #[serde(rename = "blocking_voltage_V")]
    blocking: Option<KeyFigures>,
    #[serde(rename = "switching_frequency_Hz")]
    frequency: Option<KeyFigures>,
}

/// The findings.
pub(in crate::report::capacitors) fn size_findings(study: &SizeStudy) -> SizeFindings {
    let smallest = &study.smallest;
    let capacitance = |n: usize| study.sizes[n].capacitance;
    let run = |run: &SizeVerification| SizeRun {
        flying_capacitance: capacitance(run.size),
        stream: run.source.stream,
        verified_yield: run.good,
        meets: run.meets,
        binding: run.binding.as_ref().map(MissedMost::new),
    };
    SizeFindings {
        judged: study.is_judged,
        sweep: study.sizes.iter().map(|own| SweepEntry::new(study, own)).collect(),
        very_large: SweepEntry::new(study, &study.very_large),
        smallest: study.confirmed().map(|own| own.capacitance),
        largest: study.upper_end().map(capacitance),
        found: smallest.found.map(capacitance),
        alone: smallest.alone.iter().map(|n| capacitance(*n)).collect(),
        verification: smallest.runs.iter().map(run).collect(),
    }
}

impl SizeTrapEntry {
    fn new(own: &SizeTrap) -> Self {
        Self {
            operating_point: own.operating_point.clone(),
            place: own.place + 1,
            capacitance_left: own.left,
            switching_frequency: own.trap.frequency,
            output_current: own.trap.current,
        }
    }
}

impl PurchaseEntry {
    fn new(own: &SizePurchase) -> Self {
        let place = |(k, place): (usize, &PlacePurchase)| PlaceEntry {
            place: k + 1,
            dc_voltage: place.dc_voltage,
            capacitance_left: place.left,
            to_buy: place.to_buy,
            part: place.offer.map(|offer| offer.capacitance),
            part_left: place.bought(),
            part_price: place.offer.map(|offer| offer.price),
        };
        Self {
            places: own.places.iter().enumerate().map(place).collect(),
            price: own.price,
            good: own.good,
            price_per_good_converter: own.price_per_good,
        }
    }
}

impl SweepEntry {
    fn new(study: &SizeStudy, own: &SizeResult) -> Self {
        Self {
            flying_capacitance: own.capacitance,
            present: own.is_present,
            ripple: own.ripple(),
            rms_current: own.rms_current(),
            peak_voltage: own.peak_voltage(),
            blocking_voltage: own.blocking_voltage(),
            frequency_shift: study.frequency_shift(own),
            decay_per_period: own.settling().map(|speed| speed.decay_per_period),
            periods_to_1_percent: own.settling().map(|speed| speed.periods_to_1_percent),
            sharing_error_p95: own.sharing_error_p95(),
            added_sharing_error_p95: study.added_sharing_error(own),
            total_capacitance: own.total_capacitance,
            largest_energy: own.largest_energy,
            chain_energy: own.chain_energy,
            good: own.good,
            verdict: study.verdict_of(own),
            purchase: own.purchase.as_ref().map(PurchaseEntry::new),
            binding: own.binding.as_ref().map(MissedMost::new),
            cases: own.cases.iter().map(SizeCaseEntry::new).collect(),
            one_worn_out: own.corners.iter().map(WornEntry::new).collect(),
            traps: own.traps.iter().map(SizeTrapEntry::new).collect(),
        }
    }
}

impl WornEntry {
    fn new(own: &WornCorner) -> Self {
        let nominal = own.nominal.as_ref();
        let missed = nominal.map_or(&[][..], |loads| &loads.missed);
        Self {
            operating_point: own.operating_point.clone(),
            place: own.place + 1,
            capacitance_left: own.left,
            status: own.status,
            switching_frequency: nominal.map(|loads| loads.switching_frequency),
            sharing_error: nominal.map(|loads| loads.sharing_error),
            ripple: nominal.map(NominalLoads::ripple),
            blocking_voltage: nominal.map(NominalLoads::highest_blocking),
            missed: missed.iter().map(MissedEntry::new).collect(),
        }
    }
}

impl SizeCaseEntry {
    fn new(own: &SizeCase) -> Self {
        Self {
            operating_point: own.operating_point.clone(),
            age: own.age,
            capacitance_left: own.wear.left(),
            status: own.status,
            nominal: own.nominal.as_ref().map(NominalEntry::new),
            decay_per_period: own.settling.map(|speed| speed.decay_per_period),
            periods_to_1_percent: own.settling.map(|speed| speed.periods_to_1_percent),
            samples: own.samples.as_ref().map(SamplesEntry::new),
        }
    }
}

impl NominalEntry {
    fn new(own: &NominalLoads) -> Self {
        let place = |(n, place): (usize, &PlaceLoads)| FlyingCapacitorEntry {
            place: n + 1,
            ripple: place.ripple,
            rms_current: place.rms_current,
            mean_voltage: place.mean_voltage,
            peak_voltage: place.peak_voltage,
        };
        let blocking = BLOCKING_SWITCHES.iter().map(|part| part.key()).zip(own.blocking);
        Self {
            switching_frequency: own.switching_frequency,
            sharing_error: own.sharing_error,
            blocking_voltage: blocking.collect(),
            missed: own.missed.iter().map(MissedEntry::new).collect(),
            flying_capacitors: own.places.iter().enumerate().map(place).collect(),
        }
    }
}

impl SamplesEntry {
    fn new(own: &SizeSamples) -> Self {
        Self {
            counts: Counts::new(own.statuses),
            good: own.good,
            sharing_error: own.sharing_error,
            ripple: own.ripple,
            rms_current: own.rms_current,
            blocking: own.blocking,
            frequency: own.frequency,
        }
    }
}
