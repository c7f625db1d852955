//! The explanation in the summary of a run.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::{Arrangement, Parameter};
use crate::statistics::{ChangedYield, Difference, OutcomeChanges, VarianceShare, Verdict};
use crate::study::common::figures::Figure;
use crate::study::explanation::{
    Assumption, AssumptionOutcome, CaseDrivers, Change, Driver, DriverPart, DriverShares, Drivers,
    ExactPart, FailureDrivers, FigureDrivers, VerdictChange, WhatIf,
};
use crate::study::run::{CaseResult, Run};

/// What a parameter explains of a figure.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report::run) struct DriverEntry {
    /// Name of the operating point.
    operating_point: String,
    arrangement: Arrangement,
    /// The figure: a column of `samples.parquet`.
    figure: String,
    /// The parameter; correlated ones are one driver, joined by ` + `.
    parameter: String,
    /// Share of the variance that it explains by itself.
    first_order: VarianceShare,
    /// Share of the variance that it explains by itself and together with others.
    total: VarianceShare,
}

/// How much of a figure a linear model explains.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report::run) struct LinearModelEntry {
    /// Name of the operating point.
    operating_point: String,
    arrangement: Arrangement,
    /// The figure: a column of `samples.parquet`.
    figure: String,
    /// Share of the variance that a linear model of all parts explains; null where the samples are too
    /// few to fit one.
    explained: Option<f64>,
}

/// What the shares of variance rest on.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report::run) struct DriverDraws {
    /// Draws of which each driver was exchanged.
    draws: u64,
    /// Exchanged converters that were left out, because they or a base are out of range or not solved.
    left_out: u64,
}

/// What a parameter does to the failures.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report::run) struct FailureDriverEntry {
    /// Name of the operating point, or `all`: all of them together.
    operating_point: String,
    arrangement: Arrangement,
    /// The parameter; `temperature_coefficient.X` or `ageing.X` where it is how parts respond.
    parameter: String,
    /// Share of all samples that fail and would pass were this parameter exact, less those the other way
    /// round.
    saved: Difference,
    /// The yield were it exact.
    #[serde(rename = "yield")]
    good: ChangedYield,
    samples: RetriedEntry,
}

/// Samples that were tried again, by their outcomes before and then.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report::run) struct RetriedEntry {
    /// Samples of which every one that failed was tried again.
    failing_among: u64,
    /// Of these, samples that failed and then pass.
    saved: u64,
    /// Of these, samples that failed and then fail.
    still_failing: u64,
    /// Samples of which every one that passed was tried again.
    passing_among: u64,
    /// Of these, samples that passed and then fail.
    lost: u64,
}

/// The yield and the verdict of the chain under another assumption.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report::run) struct WhatIfEntry {
    /// The assumption that is changed alone: `lot share` (of all parameters), `correlation` (of the
    /// parameters of `between`), `uniform` (instead of normal), `normal` (instead of uniform) or `mean`
    /// (of all parameters, in half widths of the band from its middle).
    assumption: &'static str,
    /// Its value; null of shapes.
    value: Option<f64>,
    /// The parameters that it is about; null where it is about all.
    between: Option<[Parameter; 2]>,
    /// The yield over all operating points and all limits.
    #[serde(rename = "yield")]
    good: ChangedYield,
    /// That yield less the run's.
    difference: Difference,
    verdict: Verdict,
    /// `same`, `changed`, or `open` where the samples do not tell.
    change: &'static str,
    samples: RetriedEntry,
}

impl WhatIfEntry {
    /// All assumptions that were tried.
    pub(in crate::report::run) fn all(found: Option<&WhatIf>) -> Vec<Self> {
        let entries = |found: &WhatIf| -> Vec<Self> {
            found.outcomes.iter().map(|outcome| Self::new(found, outcome)).collect()
        };
        found.map_or_else(Vec::new, entries)
    }

    fn new(found: &WhatIf, outcome: &AssumptionOutcome) -> Self {
        let (assumption, value, between) = match outcome.assumption {
            Assumption::LotShare(share) => ("lot share", Some(share), None),
            Assumption::Correlation { between, coefficient } => {
                ("correlation", Some(coefficient), Some(between))
            }
            Assumption::Uniform => ("uniform", None, None),
            Assumption::Normal => ("normal", None, None),
            Assumption::Mean(mean) => ("mean", Some(mean), None),
        };
        Self {
            assumption,
            value,
            between,
            good: outcome.change.now,
            difference: outcome.change.difference,
            verdict: outcome.verdict,
            change: match found.change(outcome) {
                VerdictChange::Same => "same",
                VerdictChange::Changed => "changed",
                VerdictChange::Open => "open",
            },
            samples: RetriedEntry::new(&outcome.change.outcomes),
        }
    }
}

impl RetriedEntry {
    fn new(outcomes: &OutcomeChanges) -> Self {
        let OutcomeChanges { failing_among, saved, still_failing, passing_among, lost } = *outcomes;
        Self { failing_among, saved, still_failing, passing_among, lost }
    }
}

impl FailureDriverEntry {
    /// All failure drivers: over all operating points, then at each of them where there are several.
    pub(in crate::report::run) fn all(run: &Run, found: &[FailureDrivers]) -> Vec<Self> {
        let mut all = Vec::new();
        for drivers in found {
            let entry = |point: &str, part: &ExactPart, change: &Change| Self {
                operating_point: point.to_owned(),
                arrangement: drivers.arrangement,
                parameter: part.property.key(),
                saved: change.difference,
                good: change.now,
                samples: RetriedEntry::new(&change.outcomes),
            };
            all.extend(drivers.parts.iter().map(|part| entry("all", part, &part.change.joint)));
            let points = run.in_arrangement(drivers.arrangement).enumerate();
            for (n, (_, case)) in points.filter(|_| drivers.has_several_points()) {
                let at_point = |part| entry(case.operating_point(), part, &part.change.points[n]);
                all.extend(drivers.parts.iter().map(at_point));
            }
        }
        all
    }
}

impl DriverEntry {
    /// All shares of parameters, or all of what they have in common in a lot.
    pub(in crate::report::run) fn all(
        run: &Run,
        drivers: Option<&Drivers>,
        part: DriverPart,
    ) -> Vec<Self> {
        let mut all = Vec::new();
        for (case, of_figure) in figures(run, drivers) {
            let wanted = of_figure.shares.iter().filter(|shares| shares.driver.part == part);
            all.extend(wanted.map(|shares| Self::new(case, of_figure.figure, shares)));
        }
        all
    }

    fn new(case: &CaseResult, figure: Figure, found: &DriverShares) -> Self {
        Self {
            operating_point: case.operating_point().to_owned(),
            arrangement: case.arrangement(),
            figure: column(figure),
            parameter: key(&found.driver),
            first_order: found.shares.first_order,
            total: found.shares.total,
        }
    }
}

impl LinearModelEntry {
    /// All linear models.
    pub(in crate::report::run) fn all(run: &Run, drivers: Option<&Drivers>) -> Vec<Self> {
        let entry = |(case, found): (&CaseResult, &FigureDrivers)| Self {
            operating_point: case.operating_point().to_owned(),
            arrangement: case.arrangement(),
            figure: column(found.figure),
            explained: found.linear,
        };
        figures(run, drivers).map(entry).collect()
    }
}

impl DriverDraws {
    pub(in crate::report::run) fn new(drivers: &Drivers) -> Self {
        let left_out = drivers.cases.iter().map(|case| case.left_out).sum();
        Self { draws: drivers.draws, left_out }
    }
}

/// All figures with their drivers, case by case.
fn figures<'a>(
    run: &'a Run,
    drivers: Option<&'a Drivers>,
) -> impl Iterator<Item = (&'a CaseResult, &'a FigureDrivers)> {
    let cases = drivers.map_or(&[][..], |drivers| &drivers.cases);
    let of_case = |(case, found): (&'a CaseResult, &'a CaseDrivers)| {
        found.figures.iter().map(move |figure| (case, figure))
    };
    run.cases.iter().zip(cases).flat_map(of_case)
}

/// The column of `samples.parquet` that holds a figure.
fn column(figure: Figure) -> String {
    match figure {
        // Only the sharing error that the limit is on is explained.
        Figure::SharingError(_) => "sharing_error".to_owned(),
        other => other.name(),
    }
}

/// The keys of a driver's parameters.
fn key(driver: &Driver) -> String {
    driver.properties.iter().map(|p| p.key()).collect::<Vec<_>>().join(" + ")
}
