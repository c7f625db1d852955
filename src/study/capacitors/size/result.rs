//! What is known of every size.

use super::corner::WornCorner;
use super::loads::{NominalLoads, SettlingSpeed};
use super::prepared::Wear;
use super::purchase::SizePurchase;
use super::smallest::SmallestSize;
use super::trap::SizeTrap;
use crate::converter::Age;
use crate::statistics::{KeyFigures, Verdict, Yield};
use crate::study::bands::rule::Rule;
use crate::study::common::demand::Binding;
use crate::units::{Ampere, Farad, Hertz, Joule, Volt};

/// What the samples of a size tell in one case.
#[derive(Debug, Clone, PartialEq)]
pub struct SizeSamples {
    /// Solved, out of range, not solved.
    pub statuses: [u64; 3],
    /// Samples that meet all demands in this case.
    pub good: u64,
    /// Sharing error.
    pub sharing_error: Option<KeyFigures>,
    /// Largest ripple of any flying capacitor, V.
    pub ripple: Option<KeyFigures>,
    /// Largest RMS current of any flying capacitor, A.
    pub rms_current: Option<KeyFigures>,
    /// Highest blocking voltage of any switch, V.
    pub blocking: Option<KeyFigures>,
    /// Switching frequency, Hz.
    pub frequency: Option<KeyFigures>,
}

/// A size at one operating point, age and wear.
#[derive(Debug, Clone, PartialEq)]
pub struct SizeCase {
    /// Name of the operating point.
    pub operating_point: String,
    /// The age.
    pub age: Age,
    /// What is left of the flying capacitors.
    pub wear: Wear,
    /// The word for what became of the nominal converter.
    pub status: &'static str,
    /// The nominal converter; none where it is not solved.
    pub nominal: Option<NominalLoads>,
    /// How fast it settles; none where it is not solved, and by the averaged solver.
    pub settling: Option<SettlingSpeed>,
    /// The samples; none where the nominal converter does not deliver every operating point.
    pub samples: Option<SizeSamples>,
}

/// What is known of one size.
#[derive(Debug, Clone, PartialEq)]
pub struct SizeResult {
    /// Nominal flying capacitance.
    pub capacitance: Farad,
    /// Whether it is the scenario's.
    pub is_present: bool,
    /// Nominal capacitance of all flying capacitors of a converter together.
    pub total_capacitance: Farad,
    /// Energy of the flying capacitor after phase 1 at its ideal voltage and the highest input voltage.
    pub largest_energy: Joule,
    /// The same of all flying capacitors together.
    pub chain_energy: Joule,
    /// What to buy for it; none where the scenario tells neither a dc bias nor parts on offer.
    pub purchase: Option<SizePurchase>,
    /// Samples that meet all demands in all cases, at the scenario's confidence. None where the nominal
    /// converter does not deliver every operating point: then nothing is sampled.
    pub good: Option<Yield>,
    /// The demand missed most often, and where.
    pub binding: Option<Binding>,
    /// One a case.
    pub cases: Vec<SizeCase>,
    /// With one worn-out flying capacitor, at each place and operating point.
    pub corners: Vec<WornCorner>,
    /// Aged flying capacitors, one at a time, that trap the controller on the capacitive side.
    pub traps: Vec<SizeTrap>,
}

/// What is known of all sizes.
#[derive(Debug)]
pub struct SizeStudy {
    /// When a size meets the target.
    pub rule: Rule,
    /// Whether limits are set that a size has to meet, and no part on offer counts as exact. Else none is named.
    pub is_judged: bool,
    /// The share of a size that an aged flying capacitor at the lower end of its tolerance has; none where the
    /// scenario does not tell how it ages.
    pub least_left: Option<f64>,
    /// The fewest samples that can show that the target is met, if all pass; none where these suffice.
    pub samples_needed: Option<u64>,
    /// The sizes, rising; the scenario's is among them.
    pub sizes: Vec<SizeResult>,
    /// Flying capacitors so large that they change nothing.
    pub very_large: SizeResult,
    /// The smallest from which on all meet the target, except those that settle too slowly.
    pub smallest: SmallestSize,
}

impl SizeResult {
    /// What the parts on offer for it have at their dc voltages, place by place; none where they are not known.
    pub fn bought(&self) -> Option<Vec<Farad>> {
        self.purchase.as_ref()?.bought()
    }

    /// Largest ripple of any flying capacitor of the nominal converter in any case; none where nothing is
    /// solved.
    pub fn ripple(&self) -> Option<Volt> {
        self.largest(|loads| loads.ripple().0).map(Volt)
    }

    /// Largest RMS current of any flying capacitor, of the nominal converter.
    pub fn rms_current(&self) -> Option<Ampere> {
        self.largest(|loads| loads.rms_current().0).map(Ampere)
    }

    /// Highest voltage of any flying capacitor, of the nominal converter.
    pub fn peak_voltage(&self) -> Option<Volt> {
        self.largest(|loads| loads.peak_voltage().0).map(Volt)
    }

    /// Highest blocking voltage of any switch, of the nominal converter.
    pub fn blocking_voltage(&self) -> Option<Volt> {
        self.largest(|loads| loads.highest_blocking().0).map(Volt)
    }

    /// How fast it settles in the case in which that takes longest.
    pub fn settling(&self) -> Option<SettlingSpeed> {
        let speeds = self.cases.iter().filter_map(|case| case.settling);
        speeds.reduce(|a, b| if b.periods_to_1_percent > a.periods_to_1_percent { b } else { a })
    }

    fn largest(&self, value: impl Fn(&NominalLoads) -> f64) -> Option<f64> {
        let loads = self.cases.iter().filter_map(|case| case.nominal.as_ref());
        loads.map(value).reduce(f64::max)
    }

    /// Sharing error that 95 % of all samples keep to, the largest of all cases. None where it lies above
    /// all values in some case, and where nothing is sampled.
    pub fn sharing_error_p95(&self) -> Option<f64> {
        let values = self.cases.iter().map(SizeCase::sharing_error_p95);
        values.reduce(|a, b| Some(a?.max(b?))).flatten()
    }
}

impl SizeCase {
    fn sharing_error_p95(&self) -> Option<f64> {
        self.samples.as_ref()?.sharing_error?.p95
    }

    /// Relative change of the nominal switching frequency against very large flying capacitors.
    pub fn frequency_shift(&self, very_large: &Self) -> Option<f64> {
        let frequency = |case: &Self| Some(case.nominal.as_ref()?.switching_frequency);
        let (Hertz(own), Hertz(other)) = (frequency(self)?, frequency(very_large)?);
        Some(own / other - 1.0)
    }

    /// What the size adds to the sharing error that 95 % of all samples keep to, against very large flying
    /// capacitors on the same samples.
    pub fn added_sharing_error(&self, very_large: &Self) -> Option<f64> {
        Some(self.sharing_error_p95()? - very_large.sharing_error_p95()?)
    }
}

impl SizeStudy {
    /// The frequency shift of a size that is the largest either way.
    pub fn frequency_shift(&self, size: &SizeResult) -> Option<f64> {
        let cases = size.cases.iter().zip(&self.very_large.cases);
        let shifts = cases.filter_map(|(own, other)| own.frequency_shift(other));
        shifts.reduce(|a, b| if b.abs() > a.abs() { b } else { a })
    }

    /// The largest of what a size adds to the sharing error in any case; none where it is not known in all
    /// of them.
    pub fn added_sharing_error(&self, size: &SizeResult) -> Option<f64> {
        let cases = size.cases.iter().zip(&self.very_large.cases);
        let added = cases.map(|(own, other)| own.added_sharing_error(other));
        added.reduce(|a, b| Some(a?.max(b?))).flatten()
    }

    /// Verdict of a yield against the target; not decided where nothing is judged.
    pub fn verdict(&self, good: &Yield) -> Verdict {
        if self.is_judged { good.verdict(self.rule.target) } else { Verdict::NotDecided }
    }

    /// Verdict of a size on the samples of the search; one that is not sampled fails, whatever is judged.
    pub fn verdict_of(&self, size: &SizeResult) -> Verdict {
        size.good.as_ref().map_or(Verdict::Fail, |good| self.verdict(good))
    }

    /// The smallest size that fresh samples confirm.
    pub fn confirmed(&self) -> Option<&SizeResult> {
        self.sizes.get(self.smallest.confirmed()?.size)
    }

    /// Place of the largest size to use, where a size is confirmed. None where there is no end: all sizes that
    /// were tried, and very large ones, are not shown to miss the target.
    pub fn upper_end(&self) -> Option<usize> {
        let is_endless = self.smallest.too_slow_from.is_none()
            && self.verdict_of(&self.very_large) == Verdict::Pass;
        self.smallest.upper_end().filter(|_| !is_endless)
    }

    /// Sizes above the confirmed one, up to the end of those to use, that the samples of the search do not show to
    /// meet the target: their estimates meet it.
    pub fn open_sizes(&self) -> Vec<&SizeResult> {
        let Some(confirmed) = self.smallest.confirmed() else { return Vec::new() };
        let above = self.sizes.iter().enumerate().skip(confirmed.size + 1);
        let end = self.upper_end().unwrap_or(self.sizes.len());
        let to_use = above.filter(|(place, _)| *place <= end).map(|(_, own)| own);
        to_use.filter(|own| self.verdict_of(own) != Verdict::Pass).collect()
    }

    /// The largest size that costs no more than another and is shown to meet the target too.
    pub fn equal_price(&self, size: &SizeResult) -> Option<&SizeResult> {
        let price = |own: &SizeResult| own.purchase.as_ref()?.price;
        let own = price(size)?;
        let meeting = self.sizes.iter().filter(|own| self.verdict_of(own) == Verdict::Pass);
        let mut larger = meeting.filter(|other| other.capacitance > size.capacitance);
        larger.rfind(|other| price(other).is_some_and(|other| other <= own))
    }

    /// The parts on offer with the lowest price per good converter on the samples of the search, among those that
    /// these show to meet the target.
    pub fn cheapest_per_good(&self) -> Option<&SizePurchase> {
        let meets =
            |own: &SizePurchase| own.good.is_some_and(|good| self.verdict(&good) == Verdict::Pass);
        let all = self.sizes.iter().filter_map(|own| own.purchase.as_ref());
        let priced = all.filter(|own| meets(own));
        let priced = priced.filter_map(|own| Some((own, own.price_per_good?)));
        Some(priced.reduce(|a, b| if b.1 < a.1 { b } else { a })?.0)
    }

    /// The largest size with which an aged flying capacitor can trap the controller.
    pub fn largest_trapped(&self) -> Option<&SizeResult> {
        self.sizes.iter().rev().find(|own| !own.traps.is_empty())
    }

    /// The scenario's own size.
    pub fn present(&self) -> Option<&SizeResult> {
        self.sizes.iter().find(|size| size.is_present)
    }
}
