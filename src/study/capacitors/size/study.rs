//! All sizes: nominal loads, samples, and the smallest that meets the target.

use super::corner::corners;
use super::loads::NominalLoads;
use super::prepared::{PreparedSize, prepare};
use super::result::{SizeCase, SizeResult, SizeSamples, SizeStudy};
use super::sampled::{CaseSamples, SampledSize, sample};
use super::smallest::{SizeEvaluator, SmallestSize};
use crate::scenario::Scenario;
use crate::statistics::{Confidence, StatisticsError, Yield};
use crate::study::bands::rule::{Rule, VERIFICATION_FACTOR};
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
    let mut sizes = sizes(scenario);
    let tried = sizes.len();
    sizes.push(session.scenario().flying_capacitance);
    progress.stage("nominal converters", 0);
    let prepared = prepare(scenario, session, &sizes)?;
    let draws = session.settings().draws();
    progress.stage("samples of all sizes", draws.samples);
    let sampled = sample_solved(scenario, session, &prepared, progress)?;
    let trials: Vec<Option<&Trial>> =
        sampled[..tried].iter().map(|own| own.as_ref().map(|own| &own.trial)).collect();
    progress.stage("fresh samples", VERIFICATION_FACTOR * draws.samples);
    let mut solver = SolvedSizes { scenario, session, prepared: &prepared, progress };
    let smallest = SmallestSize::find(&trials, &rule, draws, &mut solver)?;
    let corners = corners(scenario, session, &prepared)?;
    let result = |n: usize| -> Result<SizeResult, StudyError> {
        let (own, corners) = (&prepared[n], corners[n].clone());
        let result = SizeResult::new(scenario, session, rule.plain, own, sampled[n].as_ref())?;
        Ok(SizeResult { corners, ..result })
    };
    let sizes = (0..tried).map(result).collect::<Result<_, _>>()?;
    let needed = Yield::new(1, 1, rule.shared)?.samples_to_decide(rule.target);
    let samples_needed = needed.filter(|needed| draws.samples < *needed);
    Ok(SizeStudy { rule, samples_needed, sizes, very_large: result(tried)?, smallest })
}

/// Draws the same samples for all sizes whose nominal converter delivers every operating point.
fn sample_solved(
    scenario: &Scenario,
    session: &Session,
    prepared: &[PreparedSize],
    progress: &mut dyn Progress,
) -> Result<Vec<Option<SampledSize>>, StudyError> {
    let solved: Vec<&PreparedSize> = prepared.iter().filter(|own| own.is_solved()).collect();
    let draws = session.settings().draws();
    let mut sampled = sample(scenario, session, &solved, draws, progress)?.into_iter();
    let of = |own: &PreparedSize| if own.is_solved() { sampled.next() } else { None };
    Ok(prepared.iter().map(of).collect())
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

/// Yields of the converters of a session.
struct SolvedSizes<'a> {
    scenario: &'a Scenario,
    session: &'a Session<'a>,
    prepared: &'a [PreparedSize],
    progress: &'a mut dyn Progress,
}

impl SizeEvaluator for SolvedSizes<'_> {
    fn trial(&mut self, size: usize, draws: Draws) -> Result<Trial, StudyError> {
        let sizes = [&self.prepared[size]];
        let sampled = sample(self.scenario, self.session, &sizes, draws, self.progress)?;
        let mut trials = sampled.into_iter().map(|own| own.trial);
        Ok(trials.next().ok_or(StatisticsError::NoTrials)?)
    }
}

impl SizeResult {
    fn new(
        scenario: &Scenario,
        session: &Session,
        confidence: Confidence,
        prepared: &PreparedSize,
        sampled: Option<&SampledSize>,
    ) -> Result<Self, StudyError> {
        let capacitance = prepared.capacitance;
        let [largest_energy, chain_energy] = energies(scenario, session.size().legs, capacitance);
        let trial = sampled.map(|own| &own.trial);
        let good = trial.map(|trial| Yield::new(trial.good, trial.samples, confidence));
        let case = |n: usize| {
            let own = &prepared.cases[n];
            let samples = sampled.map(|size| SizeSamples::new(&size.cases[n], confidence));
            SizeCase {
                operating_point: own.case.point.name.clone(),
                age: own.case.point.condition.age,
                wear: own.wear,
                status: own.outcome.name(),
                nominal: NominalLoads::new(scenario, own),
                samples,
            }
        };
        Ok(Self {
            capacitance,
            is_present: is_same(capacitance, scenario.flying_capacitance),
            largest_energy,
            chain_energy,
            good: good.transpose()?,
            binding: trial.and_then(|trial| trial.binding.clone()),
            cases: (0..prepared.cases.len()).map(case).collect(),
            corners: Vec::new(),
        })
    }
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
