//! The summary of `run`.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Serialize;

use super::batches::BatchesEntry;
use super::over_points::{OverPointsEntry, YieldPointEntry};
use crate::converter::{
    Age, Arrangement, Drive, Measure, Parameter, Rectifier, Shared, Sharing, Tank,
};
use crate::report::format::configuration::json::ConfigurationChoiceEntry;
use crate::report::format::json::{Counts, LimitsInForce, MissedMost};
use crate::report::format::missed::NominalMissEntry;
use crate::report::format::ratings::json::{KeptTogetherEntry, RatingEntry};
use crate::report::format::summary::SummaryFile;
use crate::report::format::switching::json::{
    CaseSwitchingEntry, PopulationSwitchingEntry, SoftSharesEntry,
};
use crate::report::format::tolerance::{CorrelationInForce, ToleranceInForce, TolerancesInForce};
use crate::report::format::what_if::json::WhatIfEntry;
use crate::report::run::explanation::json::{
    DriverDraws, DriverEntry, FailureDriverEntry, LinearModelEntry,
};
use crate::report::run::worst_case::json::{FrequencyExtremesEntry, WorstCaseEntry};
use crate::scenario::Scenario;
use crate::statistics::{Histogram, KeyFigures, Verdict, Yield};
use crate::study::common::figures::Figure;
use crate::study::explanation::{DriverPart, Explanation};
use crate::study::run::{
    AgeYield, CaseResult, Joint, Lack, Run, SampleSize, SolverComparison, Worst,
};
use crate::units::{Ampere, Farad, Hertz, Volt};

/// What `run` found.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct RunResults {
    /// Random stream of the samples: 0 for those of the seed itself, else fresh ones.
    stream: u64,
    /// How the number of samples came about.
    sampling: SamplingEntry,
    limits: LimitsInForce,
    /// The tolerances that the parts were drawn from, by parameter; others are exact.
    tolerances: TolerancesInForce,
    /// Which parameters vary together; all others scatter independently.
    correlations: Vec<CorrelationInForce>,
    /// The limits that the nominal converter misses already; none of a sound design.
    nominal_misses: Vec<NominalMissEntry>,
    /// All operating points and all limits together, by arrangement: `chain`, `paralleled`.
    joint: BTreeMap<&'static str, JointEntry>,
    /// The same at one age alone; empty where new parts alone are judged.
    by_age: Vec<AgeEntry>,
    /// Figures over all operating points together, by arrangement.
    over_points: Vec<OverPointsEntry>,
    /// One entry an operating point and arrangement, at each age that is judged.
    results: Vec<CaseEntry>,
    /// How the switches turn on, beside what `joint` and `results` tell of it; null where the scenario
    /// does not describe them, and with the averaged solver.
    soft_switching: Option<PopulationSwitchingEntry>,
    /// What every part must be rated for: the chain's parts first; empty with the averaged solver.
    ratings: Vec<RatingEntry>,
    /// How many converters keep to all ratings at once, by arrangement. Not here where the samples do not
    /// show it.
    ratings_together: Vec<KeptTogetherEntry>,
    /// Exact against averaged (fundamental harmonic) solver on the same converters.
    solver_comparison: SolversEntry,
    /// Delivered batches of converters; null where the scenario asks for none.
    batches: Option<BatchesEntry>,
    /// How far the explanation came: `complete`, `interrupted`, or `left out`.
    explanation: &'static str,
    /// What drives each limited figure and the output current of every phase: shares of variance.
    drivers: Vec<DriverEntry>,
    /// The same for what the parts of one converter have in common, because they share a lot.
    lot_drivers: Vec<DriverEntry>,
    /// How much of these figures a linear model explains.
    linear_models: Vec<LinearModelEntry>,
    /// What the shares of variance rest on; null where there are none.
    driver_draws: Option<DriverDraws>,
    /// What drives the failures: samples that would pass were one parameter exact.
    failure_drivers: Vec<FailureDriverEntry>,
    /// The same of lots: samples that would pass were all lots of one parameter alike.
    lot_failure_drivers: Vec<FailureDriverEntry>,
    /// The chain under other assumptions about its parts, each changed alone.
    what_if: Vec<WhatIfEntry>,
    /// The worst case of each limited figure, three ways.
    worst_case: Vec<WorstCaseEntry>,
    /// The lowest and highest frequency that converters need with every part inside its band.
    frequency_extremes: Vec<FrequencyExtremesEntry>,
}

/// How the number of samples came about.
#[derive(Debug, Serialize, JsonSchema)]
struct SamplingEntry {
    /// `fixed` in advance, or `until decided`.
    rule: &'static str,
    /// What ended the run: the `number of samples`, the `verdict` of the chain, or the `most samples`.
    ended_by: &'static str,
    /// Most samples of a run until decided; null where the number is fixed.
    most_samples: Option<u64>,
    /// The first so many samples are in `samples.parquet` and `population.parquet`; 0 without these files.
    samples_in_files: u64,
}

/// The yield over all operating points and all limits.
#[derive(Debug, Serialize, JsonSchema)]
struct JointEntry {
    #[serde(rename = "yield")]
    good: Yield,
    /// Whether there can be a verdict: something beside the output is limited, and no part on offer counts as exact.
    judged: bool,
    /// Against the yield target.
    verdict: Verdict,
    /// The yield of the measured parts alone, where `yield` is of all parts of their production; null
    /// without measured parts.
    yield_of_measured_parts: Option<Yield>,
    /// Its verdict; null without measured parts.
    verdict_of_measured_parts: Option<Verdict>,
    /// Where the measured parts alone are decided and their production is not: measured parts that each
    /// file must hold about, for a verdict. Null where none is needed, or a million would not do.
    parts_to_measure: Option<u64>,
    /// Where more samples may decide that: samples in all, about, of a run with the same rule that decides with
    /// a probability of 90 %; from another seed where the number is fixed. Null where none are needed, where
    /// parts must be measured, or 10⁹ would not do.
    samples_for_production: Option<u64>,
    /// Where not decided: samples of a new run, of a size fixed in advance and from another seed, that
    /// decides with a probability of 90 %, if the proportion stays. Null where none would.
    samples_to_decide: Option<u64>,
    /// Where not decided: samples by which `run --decide` decides, likewise, in whole batches. Above
    /// `most_samples` it needs that limit raised. Null for `paralleled`, whose verdict ends no run.
    samples_until_decided: Option<u64>,
    /// The limit missed most often at any one operating point; null where none was missed.
    binding: Option<MissedMost>,
    /// Shares of converters by how their switches turn on; null where that is not judged.
    soft_switching: Option<SoftSharesEntry>,
}

/// All operating points and all limits together, at one age.
#[derive(Debug, Serialize, JsonSchema)]
struct AgeEntry {
    age: Age,
    arrangement: Arrangement,
    #[serde(rename = "yield")]
    good: Yield,
    /// The same of the measured parts alone, where `yield` is of all parts of their production; null
    /// without measured parts.
    yield_of_measured_parts: Option<Yield>,
    /// Against the yield target.
    verdict: Verdict,
}

/// One operating point in one arrangement. A figure is null where it does not apply or nothing was
/// solved.
#[derive(Debug, Serialize, JsonSchema)]
struct CaseEntry {
    /// Name of the operating point; with a service life it tells the age.
    operating_point: String,
    /// Age of the converters; null where new ones alone are judged.
    age: Option<Age>,
    arrangement: Arrangement,
    drive: Drive,
    rectifier: Rectifier,
    /// Whether the scenario left drive or rectifier open, so that the tool chose.
    configuration_chosen: bool,
    /// How it chose; null where nothing was left open.
    configuration_choice: Option<ConfigurationChoiceEntry>,
    #[serde(rename = "input_voltage_V")]
    input_voltage: Volt,
    #[serde(rename = "output_voltage_V")]
    output_voltage: Volt,
    #[serde(rename = "output_current_A")]
    output_current: Ampere,
    /// Switching frequency of the nominal converter.
    #[serde(rename = "nominal_switching_frequency_Hz")]
    nominal_switching_frequency: Hertz,
    counts: Counts,
    /// Share of all samples that meet every limit here.
    #[serde(rename = "yield")]
    good: Yield,
    /// The same of the measured parts alone, where `yield` is of all parts of their production; null
    /// without measured parts.
    yield_of_measured_parts: Option<Yield>,
    /// Samples that miss each limit, by its name; `regulation` counts those that are out of range
    /// or not solved.
    missed: BTreeMap<String, u64>,
    /// The sharing error that the limit is on, a fraction.
    sharing_error: Option<KeyFigures>,
    /// All sharing errors, by shared quantity and measure; fractions.
    sharing_errors: BTreeMap<String, Option<KeyFigures>>,
    #[serde(rename = "switching_frequency_Hz")]
    switching_frequency: Option<KeyFigures>,
    /// Of the switch with the highest RMS current.
    #[serde(rename = "switch_rms_current_A")]
    switch_rms_current: Option<KeyFigures>,
    /// Of the switch with the highest peak current.
    #[serde(rename = "switch_peak_current_A")]
    switch_peak_current: Option<KeyFigures>,
    /// Of the switch that blocks most, with the assumed drift of the flying-capacitor voltages; in the
    /// dead times too, where the scenario describes the switches.
    #[serde(rename = "blocking_voltage_V")]
    blocking_voltage: Option<KeyFigures>,
    /// Sum over the switches of blocking voltage × peak current, as if they had neither drift nor dead times.
    #[serde(rename = "switch_stress_VA")]
    switch_stress: Option<KeyFigures>,
    /// The same with the paralleled reference's tanks carrying the current of the original tanks.
    #[serde(rename = "switch_stress_at_equal_current_VA")]
    switch_stress_at_equal_current: Option<KeyFigures>,
    /// In resistances and rectifiers; with `[converter.losses]` at turn-on too, where that is told.
    #[serde(rename = "loss_W")]
    loss: Option<KeyFigures>,
    /// How the switches turn on; null where that is not judged.
    soft_switching: Option<CaseSwitchingEntry>,
    /// Figures of every phase, switch and flying capacitor, by the columns of `samples.parquet`;
    /// the names end with the unit.
    figures: BTreeMap<String, KeyFigures>,
    /// Of the sharing error that the limit is on; null where nothing was solved.
    histogram: Option<Histogram>,
    /// Yield of the sharing error alone against its limit.
    yield_curve: Vec<YieldPointEntry>,
    /// The converter with the largest sharing error; null where nothing was solved.
    worst: Option<WorstEntry>,
}

/// The converter with the largest sharing error.
#[derive(Debug, Serialize, JsonSchema)]
struct WorstEntry {
    /// Its sample number, from 0.
    sample: u64,
    /// A fraction.
    sharing_error: f64,
    #[serde(rename = "switching_frequency_Hz")]
    switching_frequency: Hertz,
    /// Phase by phase.
    #[serde(rename = "output_current_A")]
    output_current: Vec<Ampere>,
    /// Phase by phase: the tank's parts by name, which ends with the unit.
    parts: Vec<BTreeMap<String, Option<f64>>>,
    /// Between each phase and the next, in the driven leg.
    #[serde(rename = "flying_capacitance_F")]
    flying_capacitance: Vec<Farad>,
    /// The same in the return leg.
    #[serde(rename = "flying_capacitance_return_leg_F")]
    flying_capacitance_return_leg: Vec<Farad>,
}

/// Exact against averaged solver.
#[derive(Debug, Serialize, JsonSchema)]
struct SolversEntry {
    /// Samples that both solvers saw.
    samples: u64,
    /// One entry an operating point and arrangement.
    cases: Vec<SolverCaseEntry>,
}

/// Exact against averaged solver at one operating point in one arrangement.
#[derive(Debug, Serialize, JsonSchema)]
struct SolverCaseEntry {
    /// Name of the operating point.
    operating_point: String,
    arrangement: Arrangement,
    /// Samples that both solvers solved.
    both_solved: u64,
    /// Median; null where neither solved one.
    sharing_error_p50: Option<SolverPair>,
    /// 95 % quantile; null where neither solved one.
    sharing_error_p95: Option<SolverPair>,
    /// A fraction of the exact frequency; null where neither solved one.
    largest_relative_frequency_difference: Option<f64>,
}

/// The same figure by both solvers; a fraction.
#[derive(Debug, Serialize, JsonSchema)]
struct SolverPair {
    exact: f64,
    averaged: f64,
}

/// The summary of a run.
pub(super) fn summary(
    scenario: &Scenario,
    run: &Run,
    explanation: Option<&Explanation>,
) -> SummaryFile<RunResults> {
    let joint = run.joint.iter().enumerate().map(|(n, joint)| {
        let soft_switching = run.switching.as_ref().map(|own| SoftSharesEntry::new(&own.joint[n]));
        (joint.arrangement.name(), JointEntry { soft_switching, ..JointEntry::new(joint) })
    });
    let drivers = explanation.and_then(|explanation| explanation.drivers.as_ref());
    let search = explanation.and_then(|explanation| explanation.switching.as_ref());
    let results = RunResults {
        stream: run.source.stream,
        sampling: SamplingEntry::new(run),
        limits: LimitsInForce::new(scenario),
        tolerances: ToleranceInForce::all(&scenario.tolerances),
        correlations: CorrelationInForce::all(&scenario.tolerances),
        nominal_misses: run.nominal_misses.iter().map(NominalMissEntry::new).collect(),
        joint: joint.collect(),
        by_age: run.by_age.iter().map(AgeEntry::new).collect(),
        over_points: OverPointsEntry::all(run),
        results: (0..run.cases.len()).map(|n| CaseEntry::new(scenario, run, n)).collect(),
        soft_switching: PopulationSwitchingEntry::new(run.switching.as_ref(), search),
        ratings: RatingEntry::all(scenario, &run.ratings),
        ratings_together: KeptTogetherEntry::all(&run.ratings),
        solver_comparison: SolversEntry::new(run),
        batches: run.batches.as_ref().map(BatchesEntry::new),
        explanation: match explanation {
            None => "left out",
            Some(Explanation { interrupted: true, .. }) => "interrupted",
            Some(_) => "complete",
        },
        drivers: DriverEntry::all(run, drivers, DriverPart::Whole),
        lot_drivers: DriverEntry::all(run, drivers, DriverPart::Lot),
        linear_models: LinearModelEntry::all(run, drivers),
        driver_draws: drivers.map(DriverDraws::new),
        failure_drivers: FailureDriverEntry::all(
            run,
            explanation.map_or(&[][..], |explanation| &explanation.failure_drivers),
        ),
        lot_failure_drivers: FailureDriverEntry::all(
            run,
            explanation.map_or(&[][..], |explanation| &explanation.lot_failure_drivers),
        ),
        what_if: WhatIfEntry::all(explanation.and_then(|explanation| explanation.what_if.as_ref())),
        worst_case: WorstCaseEntry::all(run, explanation),
        frequency_extremes: FrequencyExtremesEntry::all(run, explanation),
    };
    SummaryFile::sampled("run", scenario, &run.settings, results)
}

impl SamplingEntry {
    fn new(run: &Run) -> Self {
        let (rule, ended_by, most_samples) = match run.size {
            SampleSize::Fixed(_) => ("fixed", "number of samples", None),
            SampleSize::UntilDecided(test) => {
                let open = run.joint[0].lacks_samples();
                let ended_by = if open { "most samples" } else { "verdict" };
                ("until decided", ended_by, Some(test.most_samples()))
            }
        };
        Self { rule, ended_by, most_samples, samples_in_files: run.samples_in_files() }
    }
}

impl JointEntry {
    fn new(joint: &Joint) -> Self {
        let lack = joint.of_measured_parts.and_then(|alone| alone.lack);
        Self {
            good: joint.good,
            judged: joint.is_judged,
            verdict: joint.verdict,
            yield_of_measured_parts: joint.of_measured_parts.map(|alone| alone.good),
            verdict_of_measured_parts: joint.of_measured_parts.map(|alone| alone.verdict),
            parts_to_measure: match lack {
                Some(Lack::Parts(parts)) => parts,
                _ => None,
            },
            samples_for_production: match lack {
                Some(Lack::Samples(samples)) => samples,
                _ => None,
            },
            samples_to_decide: joint.forecast.and_then(|forecast| forecast.new_run),
            samples_until_decided: joint
                .forecast
                .and_then(|forecast| forecast.until_decided)
                .map(|run| run.samples),
            binding: joint.binding.as_ref().map(MissedMost::new),
            soft_switching: None,
        }
    }
}

impl AgeEntry {
    fn new(own: &AgeYield) -> Self {
        let AgeYield { age, arrangement, good, good_of_measured_parts, verdict } = *own;
        let yield_of_measured_parts = good_of_measured_parts;
        Self { age, arrangement, good, yield_of_measured_parts, verdict }
    }
}

impl CaseEntry {
    fn new(scenario: &Scenario, run: &Run, n: usize) -> Self {
        let result = &run.cases[n];
        let point = &result.baseline.case.point;
        let figure = |f: Figure| run.key_figures(n, f).copied();
        let missed = result.misses.iter().map(|(demand, count)| (demand.name(), *count));
        Self {
            operating_point: point.name.clone(),
            age: scenario.service_life.map(|_| point.condition.age),
            arrangement: result.arrangement(),
            drive: point.drive,
            rectifier: point.rectifier,
            configuration_chosen: result.baseline.choice.is_some(),
            configuration_choice: result
                .baseline
                .choice
                .as_ref()
                .map(ConfigurationChoiceEntry::new),
            input_voltage: point.input_voltage,
            output_voltage: point.output_voltage,
            output_current: point.output_current,
            nominal_switching_frequency: result.baseline.state.switching_frequency,
            counts: Counts::new(result.counts),
            good: result.good,
            yield_of_measured_parts: result.good_of_measured_parts,
            missed: missed.collect(),
            sharing_error: figure(Figure::SharingError(scenario.limits.sharing)),
            sharing_errors: sharing_errors(run, n),
            switching_frequency: figure(Figure::SwitchingFrequency),
            switch_rms_current: figure(Figure::WorstSwitchRms),
            switch_peak_current: figure(Figure::WorstSwitchPeak),
            blocking_voltage: figure(Figure::WorstBlocking),
            switch_stress: figure(Figure::Stress),
            switch_stress_at_equal_current: figure(Figure::StressAtEqualCurrent),
            loss: figure(Figure::Loss),
            soft_switching: run
                .switching
                .as_ref()
                .and_then(|own| own.cases.get(n))
                .map(CaseSwitchingEntry::new),
            figures: figures(run, n),
            histogram: result.histogram.clone(),
            yield_curve: result.curve.iter().map(YieldPointEntry::new).collect(),
            worst: result.worst.as_ref().map(WorstEntry::new),
        }
    }
}

fn sharing_errors(run: &Run, n: usize) -> BTreeMap<String, Option<KeyFigures>> {
    let measures = |share: Shared| Measure::ALL.map(|measure| Sharing { share, measure });
    let summaries = Shared::ALL.into_iter().flat_map(measures).map(|sharing| {
        let name = format!("{} {}", sharing.share.name(), sharing.measure.name());
        (name, run.key_figures(n, Figure::SharingError(sharing)).copied())
    });
    summaries.collect()
}

/// Figures of every phase, switch and flying capacitor, by their names.
fn figures(run: &Run, n: usize) -> BTreeMap<String, KeyFigures> {
    let is_detail = |figure: &&Figure| {
        matches!(
            figure,
            Figure::OutputCurrent(_)
                | Figure::RmsCurrent(_)
                | Figure::PeakCurrent(_)
                | Figure::MeanCurrent(_)
                | Figure::SwitchRms(_)
                | Figure::SwitchPeak(_)
                | Figure::FlyingVoltage(_)
                | Figure::Losses(_)
        )
    };
    let details = run.figures.iter().filter(is_detail);
    details.filter_map(|figure| Some((figure.name(), *run.key_figures(n, *figure)?))).collect()
}

impl WorstEntry {
    fn new(worst: &Worst) -> Self {
        let (converter, state) = (&worst.converter, &worst.state);
        Self {
            sample: worst.sample,
            sharing_error: worst.sharing_error,
            switching_frequency: state.switching_frequency,
            output_current: state.phases.iter().map(|phase| phase.output_current).collect(),
            parts: converter.tanks.iter().map(parts).collect(),
            flying_capacitance: converter.flying.to_vec(),
            flying_capacitance_return_leg: converter.flying_return.to_vec(),
        }
    }
}

fn parts(tank: &Tank) -> BTreeMap<String, Option<f64>> {
    let name = |parameter: Parameter| format!("{}{}", parameter.key(), parameter.unit_suffix());
    Parameter::of_tank().map(|parameter| (name(parameter), tank.value(parameter))).collect()
}

impl SolversEntry {
    fn new(run: &Run) -> Self {
        let cases = run.cases.iter().zip(&run.comparison);
        Self {
            samples: run.compared,
            cases: cases.map(|(case, both)| SolverCaseEntry::new(case, both)).collect(),
        }
    }
}

impl SolverCaseEntry {
    fn new(case: &CaseResult, comparison: &SolverComparison) -> Self {
        let pair =
            |pair: Option<(f64, f64)>| pair.map(|(exact, averaged)| SolverPair { exact, averaged });
        Self {
            operating_point: case.operating_point().to_owned(),
            arrangement: case.arrangement(),
            both_solved: comparison.both_solved,
            sharing_error_p50: pair(comparison.median),
            sharing_error_p95: pair(comparison.p95),
            largest_relative_frequency_difference: comparison.frequency,
        }
    }
}
