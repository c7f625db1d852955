//! The explanation in the summary of a run.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::Arrangement;
use crate::report::format::what_if::json::RetriedEntry;
use crate::statistics::{ChangedYield, Difference, VarianceShare};
use crate::study::common::figures::Figure;
use crate::study::common::what_if::Change;
use crate::study::explanation::{
    CaseDrivers, Driver, DriverPart, DriverShares, Drivers, ExactPart, FailureDrivers,
    FigureDrivers,
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
