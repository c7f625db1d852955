//! All sizes: nominal loads, samples, and the smallest that meets the target.

use super::corner::corners;
use super::loads::{NominalLoads, SettlingSpeed};
use super::prepared::PreparedSize;
use super::purchase::SizePurchase;
use super::result::{SizeCase, SizeResult, SizeSamples, SizeStudy};
use super::sampled::{CaseSamples, SampledSize, sample};
use super::smallest::{SizeEvaluator, SmallestSize};
use super::trap::{least_left, traps};
use crate::converter::Arrangement;
use crate::scenario::Scenario;
use crate::statistics::{Confidence, Verdict, Yield};
use crate::study::bands::rule::{Rule, VERIFICATION_FACTOR};
use crate::study::common::demand::Demand;
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::study::common::settings::Draws;
use crate::study::common::trials::Trial;
use crate::units::{Farad, Joule};

/// Tries all sizes and verifies the smallest that meets the target.
///
/// # Errors
///
/// When the user asks to stop.
pub(in crate::study) fn size(
    scenario: &Scenario,
    session: &Session,
    progress: &mut dyn Progress,
) -> Result<SizeStudy, StudyError> {
    let limits = &scenario.limits;
    let rule = Rule::new(limits.yield_target, limits.confidence)?;
    let (draws, sizes) = (session.settings().draws(), sizes(scenario));
    progress.stage("samples of all sizes", (sizes.len() as u64 + 1) * draws.samples);
    let mut solver = SizeSolver { scenario, session, confidence: rule.plain, progress };
    let mut tried = sizes.iter().map(|size| solver.tried(*size)).collect::<Result<Vec<_>, _>>()?;
    let very_large = solver.tried(session.scenario().flying_capacitance)?.result;
    solver.try_parts_on_offer(tried.iter_mut().map(|own| &mut own.result).collect())?;
    solver.progress.stage("fresh samples", VERIFICATION_FACTOR * draws.samples);
    // Where nothing is judged, every size would meet the target.
    let is_judged = Demand::can_be_judged(scenario, Arrangement::Chain);
    let trials = tried.iter().map(|own| own.trial.as_ref().filter(|_| is_judged));
    let trials: Vec<Option<&Trial>> = trials.collect();
    let mut evaluator = FreshSizes { solver, sizes: &sizes };
    let smallest = SmallestSize::find(&trials, &rule, draws, &mut evaluator)?;
    let needed = Yield::new(1, 1, rule.plain)?.samples_to_decide(rule.target);
    let sizes: Vec<SizeResult> = tried.into_iter().map(|own| own.result).collect();
    // More samples help only where some size may still meet the target.
    let may_meet = |own: &SizeResult| {
        own.good.as_ref().is_some_and(|good| good.verdict(rule.target) != Verdict::Fail)
    };
    let is_few = |needed: &u64| draws.samples < *needed && sizes.iter().any(may_meet);
    let samples_needed = needed.filter(|needed| is_judged && is_few(needed));
    let least_left = least_left(scenario);
    Ok(SizeStudy { rule, is_judged, least_left, samples_needed, sizes, very_large, smallest })
}

/// A size that was tried on the samples of the search.
struct TriedSize {
    result: SizeResult,
    /// None where nothing is sampled.
    trial: Option<Trial>,
}

/// Tries one size after the other: no more than one is kept with all its solutions.
struct SizeSolver<'a> {
    scenario: &'a Scenario,
    session: &'a Session<'a>,
    confidence: Confidence,
    progress: &'a mut dyn Progress,
}

impl SizeSolver<'_> {
    /// A size on the samples of the search; nothing is sampled where its nominal converter does not deliver
    /// every operating point.
    fn tried(&mut self, size: Farad) -> Result<TriedSize, StudyError> {
        let Self { scenario, session, .. } = *self;
        let prepared = PreparedSize::new(scenario, session, size)?;
        let draws = session.settings().draws();
        let sampled = if prepared.is_solved() {
            Some(sample(scenario, session, &prepared, draws, self.progress)?)
        } else {
            self.progress.advance(draws.samples);
            None
        };
        let result = self.result(size, &prepared, sampled.as_ref())?;
        Ok(TriedSize { result, trial: sampled.map(|own| own.trial) })
    }

    /// Samples converters with the parts on offer that are taken for each size. Neighbouring sizes take the same
    /// ones.
    fn try_parts_on_offer(&mut self, sizes: Vec<&mut SizeResult>) -> Result<(), StudyError> {
        let mut bought: Vec<Vec<Farad>> = sizes.iter().filter_map(|own| own.bought()).collect();
        bought.dedup();
        let draws = self.session.settings().draws();
        self.progress.stage("samples with parts on offer", bought.len() as u64 * draws.samples);
        let yields: Vec<Option<Yield>> =
            bought.iter().map(|places| self.yield_with(places)).collect::<Result<_, _>>()?;
        for size in sizes {
            let parts = size.bought();
            let known = bought.iter().position(|own| Some(own) == parts.as_ref());
            if let Some(purchase) = &mut size.purchase {
                purchase.set_yield(known.and_then(|n| yields[n]));
            }
        }
        Ok(())
    }

    /// The yield with a capacitance for each place; none where the nominal converter does not deliver every
    /// operating point.
    fn yield_with(&mut self, places: &[Farad]) -> Result<Option<Yield>, StudyError> {
        let Self { scenario, session, confidence, .. } = *self;
        let prepared = PreparedSize::of_places(scenario, session, places)?;
        let draws = session.settings().draws();
        if !prepared.is_solved() {
            self.progress.advance(draws.samples);
            return Ok(None);
        }
        let trial = sample(scenario, session, &prepared, draws, self.progress)?.trial;
        Ok(Some(Yield::new(trial.good, trial.samples, confidence)?))
    }

    fn result(
        &self,
        capacitance: Farad,
        prepared: &PreparedSize,
        sampled: Option<&SampledSize>,
    ) -> Result<SizeResult, StudyError> {
        let Self { scenario, session, confidence, .. } = *self;
        let legs = session.size().legs;
        let [largest_energy, chain_energy] = energies(scenario, legs, capacitance);
        let capacitors = (legs * (scenario.phases - 1)) as f64;
        let trial = sampled.map(|own| &own.trial);
        let good =
            trial.map(|trial| Yield::new(trial.good, trial.samples, confidence)).transpose()?;
        let case = |n: usize| {
            let own = &prepared.cases[n];
            SizeCase {
                operating_point: own.case.point.name.clone(),
                age: own.case.point.condition.age,
                wear: own.wear,
                status: own.outcome.name(),
                nominal: NominalLoads::new(scenario, own),
                settling: SettlingSpeed::new(own),
                samples: sampled.map(|size| SizeSamples::new(&size.cases[n], confidence)),
            }
        };
        Ok(SizeResult {
            capacitance,
            is_present: is_same(capacitance, scenario.flying_capacitance),
            total_capacitance: Farad(capacitors * capacitance.0),
            largest_energy,
            chain_energy,
            purchase: SizePurchase::new(scenario, prepared, legs, capacitance),
            good,
            binding: trial.and_then(|trial| trial.binding.clone()),
            cases: (0..prepared.cases.len()).map(case).collect(),
            corners: corners(scenario, session, prepared)?,
            traps: traps(scenario, session, prepared)?,
        })
    }
}

/// Sizes on fresh samples.
struct FreshSizes<'a> {
    solver: SizeSolver<'a>,
    sizes: &'a [Farad],
}

impl SizeEvaluator for FreshSizes<'_> {
    fn trial(&mut self, size: usize, draws: Draws) -> Result<Trial, StudyError> {
        let SizeSolver { scenario, session, progress, .. } = &mut self.solver;
        let prepared = PreparedSize::new(scenario, session, self.sizes[size])?;
        Ok(sample(scenario, session, &prepared, draws, *progress)?.trial)
    }
}

/// The sizes to try: those of the scenario's grid, and its own.
fn sizes(scenario: &Scenario) -> Vec<Farad> {
    let mut sizes = scenario.capacitors.sizes(scenario.nominal.resonant_capacitance);
    let own = scenario.flying_capacitance;
    if !sizes.iter().any(|size| is_same(*size, own)) {
        sizes.push(own);
        sizes.sort_by(|a, b| a.0.total_cmp(&b.0));
    }
    sizes
}

/// Whether two sizes differ by rounding alone.
fn is_same(a: Farad, b: Farad) -> bool {
    (a.0 / b.0 - 1.0).abs() < 1e-9
}

impl SizeSamples {
    fn new(own: &CaseSamples, confidence: Confidence) -> Self {
        Self {
            statuses: own.count.statuses,
            good: own.count.good,
            sharing_error: own.sharing_error.key_figures(confidence),
            ripple: own.ripple.key_figures(confidence),
            rms_current: own.rms_current.key_figures(confidence),
            blocking: own.blocking.key_figures(confidence),
            frequency: own.frequency.key_figures(confidence),
        }
    }
}

/// `½ C v²` of the flying capacitor after phase 1, and of all of them, at the ideal voltages
/// `v(k) = Vin (N − k)/N` and the highest input voltage.
fn energies(scenario: &Scenario, legs: usize, capacitance: Farad) -> [Joule; 2] {
    let inputs = scenario.operating_points.iter().map(|point| point.input_voltage.0);
    let input = inputs.fold(0.0, f64::max);
    let phases = scenario.phases as f64;
    let energy = |k: usize| {
        let voltage = input * (phases - k as f64) / phases;
        0.5 * capacitance.0 * voltage * voltage
    };
    let all: f64 = (1..scenario.phases).map(energy).sum();
    [Joule(energy(1)), Joule(legs as f64 * all)]
}
