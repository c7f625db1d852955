//! The case for or against current sensors: four variants of the same converters.
//!
//! (a) paralleled; (b) a chain with charge-balancing capacitors; (c) paralleled with a current
//! sensor and a trim loop a phase; (d) both. All see the same parts, sample by sample, and (c) and
//! (d) the same sensors, so that they differ by what is built, not by the luck of the draw.

mod flip;
mod rating;
mod sampling;
mod variant;

use std::sync::atomic::AtomicBool;

use serde::Serialize;

pub use self::flip::{Direction, EVALUATIONS, Flip, Search, greatest_factor, search, widened};
pub use self::rating::Rating;
use self::sampling::{Sampled, Sampling, figures};
pub use self::variant::{BillOfParts, Variant, break_even_price};
use super::demand::Binding;
use super::figures::Figure;
use super::progress::Progress;
use super::run::{CurvePoint, RunError, Settings, with_limit};
use crate::engine::EngineError;
use crate::scenario::{Scenario, SensorRequest};
use crate::statistics::{Confidence, Edges, Interval, Summary, Verdict, Yield};

/// Points of a curve.
const POINTS: u32 = 60;
/// Smallest sharing error of a curve, of the largest.
const SHOWN: f64 = 1e-3;

/// The result.
#[derive(Debug)]
pub struct SensorStudy {
    /// How it was carried out; the samples are those asked for.
    pub settings: Settings,
    /// Samples done: fewer than asked for where it was stopped.
    pub samples: u64,
    /// (a) to (d).
    pub variants: Vec<VariantResult>,
    /// `[v][w]`: samples good in the v-th variant and not in the w-th.
    pub only: [[u64; 4]; 4],
    /// Operating point at which the losses are told: that with the highest loss.
    pub loss_point: String,
    /// Factor on all bands at which the chain alone no longer stands as it does to the target.
    pub target_flip: Option<VerifiedFlip>,
    /// Factor on all bands at which the paralleled converter with sensors, or no longer it, has
    /// the higher yield than the chain.
    pub better_flip: Option<VerifiedFlip>,
    /// Seed of the samples that verify these factors; the search did not see them.
    pub fresh_seed: u64,
    /// What was left undone when it was stopped; none of a whole study.
    pub unfinished: Option<Unfinished>,
}

/// Where a study was stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
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
    pub sharing: Option<Summary>,
    /// Share of all samples within a limit of it; the limits are the same for all variants.
    pub curve: Vec<CurvePoint>,
    /// RMS current of the worst switch, largest over the operating points.
    pub rms: Option<Summary>,
    /// Peak current of the worst switch, likewise.
    pub peak: Option<Summary>,
    /// What the nominal converter's worst switch carries: RMS, peak, A.
    pub nominal: [f64; 2],
    /// RMS and peak rating that the target asks for.
    pub ratings: [Option<Rating>; 2],
    /// Loss at [`SensorStudy::loss_point`], sensors and trim elements included.
    pub loss: Option<Summary>,
    /// Parts, price, failure rate.
    pub bill: BillOfParts,
    /// How the loops fare; none without.
    pub loops: Option<Loops>,
    /// The price of one sensor below which this variant costs less per good converter than the
    /// chain alone; none without sensors, or without a good converter.
    pub break_even: Option<Price>,
}

/// How the trim loops fare.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Loops {
    /// Share of the phases, over all solved operating points, at an end of the trim range.
    pub at_end: f64,
    /// Share of the samples with such a phase.
    pub samples_at_end: Yield,
    /// Largest trim seen, a fraction.
    pub largest_trim: f64,
}

/// A break-even price.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Price {
    /// From the estimated yields.
    pub estimate: f64,
    /// From the ends of the yields' intervals that favour the chain, and from those that favour the
    /// sensors: wider than an interval of the price, because both are off at once.
    pub interval: Interval,
}

/// A turn with what fresh samples say on both sides of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VerifiedFlip {
    /// What the search found.
    pub search: Search,
    /// At the factor where the finding still holds, and where it has turned: yields of the chain
    /// and of the paralleled converter with sensors, where it takes part.
    pub fresh: Vec<FreshYields>,
}

/// Yields of samples that a search did not see.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FreshYields {
    /// Factor on all bands.
    pub factor: f64,
    /// Of each variant that takes part.
    pub yields: Vec<(Variant, Yield)>,
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
) -> Result<SensorStudy, RunError> {
    let confidence = Confidence::new(scenario.limits.confidence)?;
    let sampling = Sampling::new(scenario, request, settings, &Variant::ALL)?;
    progress.stage("four variants", settings.samples);
    let sampled = sampling.run(stop, |n| progress.advance(n))?;
    if sampled.samples == 0 {
        return Err(EngineError::Interrupted(0).into());
    }
    let view = View { sampling: &sampling, sampled: &sampled, confidence };
    let mut study = view.study()?;
    if sampled.interrupted {
        study.unfinished = Some(Unfinished::Samples);
        return Ok(study);
    }
    let factors = Factors { scenario, request, settings, fresh: study.fresh_seed, stop };
    match factors.find(&study, progress) {
        Ok((target, better)) => {
            (study.target_flip, study.better_flip) = (Some(target), Some(better));
        }
        Err(Stopped::Interrupted(target)) => {
            study.target_flip = target;
            study.unfinished = Some(Unfinished::Factors);
        }
        Err(Stopped::Failed(e)) => return Err(e),
    }
    Ok(study)
}

/// Why a search ended early.
enum Stopped {
    /// By the user; the first factor may be known.
    Interrupted(Option<VerifiedFlip>),
    Failed(RunError),
}

impl<E: Into<RunError>> From<E> for Stopped {
    fn from(e: E) -> Self {
        Self::Failed(e.into())
    }
}

/// Samples of the search that compares two variants, at most: with wide bands loops take their time.
/// Fresh samples are as many as the study has.
const COMPARED: u64 = 5000;

/// The search for the factors on all bands.
#[derive(Clone, Copy)]
struct Factors<'a> {
    scenario: &'a Scenario,
    request: &'a SensorRequest,
    settings: Settings,
    fresh: u64,
    stop: &'a AtomicBool,
}

/// The two variants that the second search compares: the chain, the paralleled with sensors.
const RIVALS: [Variant; 2] = [Variant::Chain, Variant::ParalleledWithSensors];

impl Factors<'_> {
    fn find(
        &self,
        study: &SensorStudy,
        progress: &mut dyn Progress,
    ) -> Result<(VerifiedFlip, VerifiedFlip), Stopped> {
        let greatest = greatest_factor(self.scenario);
        let target = self.scenario.limits.yield_target;
        let [chain, rival] = RIVALS.map(|v| study.of(v).good.estimate);
        let meets = chain >= target;
        progress.stage("bands at the target", (EVALUATIONS + 2) * self.settings.samples);
        let direction = if meets { Direction::Up } else { Direction::Down };
        let found = search(meets, direction, greatest, |factor| {
            let yields = self.yields(factor, self.settings.seed, &RIVALS[..1], progress)?;
            Ok::<_, Stopped>(yields[0].1.estimate >= target)
        })?;
        let target_flip = self.verify(found, &RIVALS[..1], progress)?;
        match self.find_better(rival > chain, greatest, progress) {
            Ok(better) => Ok((target_flip, better)),
            Err(Stopped::Interrupted(_)) => Err(Stopped::Interrupted(Some(target_flip))),
            Err(failed) => Err(failed),
        }
    }

    /// Where the paralleled converter with sensors becomes better than the chain, or no longer is.
    fn find_better(
        &self,
        better: bool,
        greatest: f64,
        progress: &mut dyn Progress,
    ) -> Result<VerifiedFlip, Stopped> {
        let few = Factors {
            settings: Settings { samples: self.settings.samples.min(COMPARED), ..self.settings },
            ..*self
        };
        let most = 2 * EVALUATIONS * few.settings.samples + 2 * self.settings.samples;
        progress.stage("bands at the turn", most);
        let found = search(better, Direction::Both, greatest, |factor| {
            let yields = few.yields(factor, self.settings.seed, &RIVALS, progress)?;
            Ok::<_, Stopped>(yields[1].1.estimate > yields[0].1.estimate)
        })?;
        self.verify(found, &RIVALS, progress)
    }

    /// Yields at both ends of what was found, of samples that the search did not see.
    fn verify(
        &self,
        found: Search,
        variants: &[Variant],
        progress: &mut dyn Progress,
    ) -> Result<VerifiedFlip, Stopped> {
        let ends = match found {
            Search::Found(flip) => vec![flip.holds, flip.turned],
            Search::None { .. } => Vec::new(),
        };
        let fresh = ends
            .into_iter()
            .map(|factor| {
                let yields = self.yields(factor, self.fresh, variants, progress)?;
                Ok(FreshYields { factor, yields })
            })
            .collect::<Result<_, Stopped>>()?;
        Ok(VerifiedFlip { search: found, fresh })
    }

    fn yields(
        &self,
        factor: f64,
        seed: u64,
        variants: &[Variant],
        progress: &mut dyn Progress,
    ) -> Result<Vec<(Variant, Yield)>, Stopped> {
        let confidence = Confidence::new(self.scenario.limits.confidence)?;
        let wider = widened(self.scenario, factor);
        let settings = Settings { seed, ..self.settings };
        let sampling = Sampling::new(&wider, self.request, settings, variants)?;
        let sampled = sampling.run(self.stop, |n| progress.advance(n))?;
        if sampled.interrupted {
            return Err(Stopped::Interrupted(None));
        }
        let good = |v: &Variant| {
            let count = sampled.variants[v.index()].good;
            Ok((*v, Yield::new(count, sampled.samples, confidence)?))
        };
        variants.iter().map(good).collect()
    }
}

/// How results are read from the samples.
struct View<'a> {
    sampling: &'a Sampling<'a>,
    sampled: &'a Sampled,
    confidence: Confidence,
}

impl View<'_> {
    fn study(&self) -> Result<SensorStudy, RunError> {
        let settings = self.sampling.settings;
        let loss_point = self.loss_point();
        let mut variants = Variant::ALL
            .into_iter()
            .map(|variant| self.variant(variant, &loss_point))
            .collect::<Result<Vec<_>, RunError>>()?;
        self.add_curves(&mut variants)?;
        let chain = (variants[Variant::Chain.index()].bill.price, self.good(Variant::Chain)?);
        for result in variants.iter_mut().filter(|v| v.variant.has_sensors()) {
            let sensor = self.sampling.request.price.sensor;
            result.break_even = break_even(&result.bill, sensor, result.good, chain);
        }
        Ok(SensorStudy {
            settings,
            samples: self.sampled.samples,
            variants,
            only: self.sampled.only,
            loss_point,
            target_flip: None,
            better_flip: None,
            fresh_seed: settings.seed.wrapping_add(1),
            unfinished: None,
        })
    }

    /// Yields of the sharing error alone against its limit, over the span of all variants.
    fn add_curves(&self, variants: &mut [VariantResult]) -> Result<(), RunError> {
        let ordered: Vec<_> = self.sampled.variants.iter().map(|v| v.worst[0].ordered()).collect();
        let limit = self.sampling.scenario.limits.sharing_error;
        let at = |p: f64| ordered.iter().flatten().filter_map(move |o| o.quantile(p));
        let most = at(0.999).fold(1.2 * limit.unwrap_or(0.0), f64::max);
        let least = at(0.01).fold(limit.unwrap_or(f64::INFINITY) / 1.2, f64::min);
        let Some(edges) = Edges::by_ratio(least.clamp(most * SHOWN, most), most, POINTS) else {
            return Ok(());
        };
        for (result, ordered) in variants.iter_mut().zip(&ordered) {
            let Some(ordered) = ordered else { continue };
            for limit in with_limit(&edges, limit) {
                let count = ordered.count_at_most(limit);
                let good = Yield::new(count, self.sampled.samples, self.confidence)?;
                result.curve.push(CurvePoint { limit, good });
            }
        }
        Ok(())
    }

    fn good(&self, variant: Variant) -> Result<Yield, RunError> {
        let count = self.sampled.variants[variant.index()].good;
        Ok(Yield::new(count, self.sampled.samples, self.confidence)?)
    }

    /// Cases of a variant, by their places.
    fn cases(&self, variant: Variant) -> impl Iterator<Item = usize> {
        let stands = self.sampling.stands.iter().enumerate();
        stands.filter(move |(_, s)| s.variant == variant).map(|(n, _)| n)
    }

    fn mean_loss(&self, case: usize) -> Option<f64> {
        let column = self.loss_column()?;
        self.sampled.cases.cases[case].distributions[column].moments().mean()
    }

    fn loss_column(&self) -> Option<usize> {
        figures(self.sampling.scenario).iter().position(|f| *f == Figure::Loss)
    }

    /// The operating point at which the chain loses most.
    fn loss_point(&self) -> String {
        let losses = self.cases(Variant::Chain).map(|n| (self.mean_loss(n).unwrap_or(0.0), n));
        let most = losses.reduce(|a, b| if b.0 > a.0 { b } else { a });
        most.map_or(String::new(), |(_, n)| self.sampling.stands[n].case.point.name.clone())
    }

    fn variant(&self, variant: Variant, loss_point: &str) -> Result<VariantResult, RunError> {
        let (scenario, tally) = (self.sampling.scenario, &self.sampled.variants[variant.index()]);
        let good = self.good(variant)?;
        let target = scenario.limits.yield_target;
        let verdict = good.verdict(target);
        let undecided = verdict == Verdict::NotDecided;
        let legs = self.sampling.stands.iter().map(|s| s.case.point.drive.legs()).max();
        let rating = |d| Rating::new(d, self.sampled.samples, target, self.confidence);
        let at_loss_point =
            self.cases(variant).find(|n| self.sampling.stands[*n].case.point.name == loss_point);
        let loss = at_loss_point.zip(self.loss_column()).and_then(|(case, column)| {
            self.sampled.cases.cases[case].distributions[column].summary(self.confidence)
        });
        let [sharing, rms, peak] = &tally.worst;
        let nominal = |figure| self.sampling.nominal(variant, figure);
        Ok(VariantResult {
            variant,
            good,
            verdict,
            samples_to_decide: undecided.then(|| good.samples_to_decide(target)).flatten(),
            counts: self.counts(variant),
            binding: self.binding(variant),
            sharing: sharing.summary(self.confidence),
            curve: Vec::new(),
            rms: rms.summary(self.confidence),
            peak: peak.summary(self.confidence),
            nominal: [nominal(Figure::WorstSwitchRms), nominal(Figure::WorstSwitchPeak)],
            ratings: [rating(rms), rating(peak)],
            loss,
            bill: BillOfParts::new(variant, scenario, self.sampling.request, legs.unwrap_or(1)),
            loops: self.loops(variant)?,
            break_even: None,
        })
    }

    fn counts(&self, variant: Variant) -> [u64; 3] {
        let all = self.cases(variant).map(|n| self.sampled.cases.cases[n].count.statuses);
        all.fold([0; 3], |sum, own| std::array::from_fn(|n| sum[n] + own[n]))
    }

    fn binding(&self, variant: Variant) -> Option<Binding> {
        Binding::among(self.cases(variant).map(|n| {
            let name = self.sampling.stands[n].case.point.name.as_str();
            (name, &self.sampled.cases.cases[n].count)
        }))
    }

    fn loops(&self, variant: Variant) -> Result<Option<Loops>, RunError> {
        if !variant.has_sensors() {
            return Ok(None);
        }
        let tally = &self.sampled.variants[variant.index()];
        let phases = self.sampling.scenario.phases as f64 * tally.trimmed as f64;
        Ok(Some(Loops {
            at_end: if phases > 0.0 { tally.at_end as f64 / phases } else { 0.0 },
            samples_at_end: Yield::new(tally.touched, self.sampled.samples, self.confidence)?,
            largest_trim: tally.largest_trim,
        }))
    }
}

/// The break-even price of a sensor in a variant with this bill, whose sensors cost `sensor` each.
fn break_even(
    bill: &BillOfParts,
    sensor: f64,
    good: Yield,
    (chain_price, chain): (f64, Yield),
) -> Option<Price> {
    let rest = bill.price - bill.sensors as f64 * sensor;
    let at = |with: f64, without: f64| {
        break_even_price((rest, bill.sensors, with), (chain_price, without))
    };
    Some(Price {
        estimate: at(good.estimate, chain.estimate)?,
        interval: Interval {
            lower: at(good.lower, chain.upper)?,
            upper: at(good.upper, chain.lower)?,
        },
    })
}

impl SensorStudy {
    /// The result of a variant.
    pub fn of(&self, variant: Variant) -> &VariantResult {
        &self.variants[variant.index()]
    }

    /// Whether the sensors can go: the chain alone against the target.
    pub fn verdict(&self) -> Verdict {
        self.of(Variant::Chain).verdict
    }

    /// Samples good in one variant alone, and in the other alone.
    pub fn apart(&self, one: Variant, other: Variant) -> (u64, u64) {
        let (v, w) = (one.index(), other.index());
        (self.only[v][w], self.only[w][v])
    }
}

impl VariantResult {
    /// Price of the variant for every good converter; none without one.
    pub fn price_per_good(&self) -> Option<f64> {
        (self.good.successes > 0).then(|| self.bill.price / self.good.estimate)
    }

    /// Required rating over what the nominal converter's worst switch carries: RMS, peak. It is
    /// how far unequal parts oversize the switch, and compares switches of different voltage.
    pub fn oversize(&self) -> [Option<f64>; 2] {
        std::array::from_fn(|n| self.ratings[n].map(|r| r.current / self.nominal[n]))
    }
}
