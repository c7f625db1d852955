//! Everything about one column of measured values.

use std::sync::atomic::AtomicBool;

use super::error::ShapesError;
use super::fit::ShapeFit;
use super::inspection::{Inspection, KnownFit};
use super::nominal::Nominal;
use super::scatter::StatedShape;
use super::simulation::{self, FitQuestion, REPLICATES};
use super::task::ColumnTask;
use crate::converter::Parameter;
use crate::population::measurements::{LEAST_VALUES, MeasuredValue};
use crate::scenario::FARTHEST_PART;
use crate::statistics::shapes::{NoFit, ShapeFamily, SortedValues};
use crate::statistics::{
    Confidence, Interval, Moments, expected_far_out, far_out, median, neighbour_correlation,
    neighbours_depend, sd_interval,
};

/// Confidence level of all intervals.
pub(super) const CONFIDENCE: f64 = 0.95;

/// An estimate with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The estimate.
    pub estimate: f64,
    /// Its interval, at 95 %.
    pub interval: Interval,
}

/// What was found about a column.
#[derive(Debug, Clone)]
pub struct ColumnShapes {
    /// Its name.
    pub name: String,
    /// The parameter that it measures, as far as its name tells.
    pub parameter: Option<Parameter>,
    /// Symbol of the SI unit; empty where there is none.
    pub unit: &'static str,
    /// Rows in which it is empty.
    pub empty_rows: usize,
    /// The value from which deviations count.
    pub nominal: Nominal,
    /// The inspection, where the user told of one.
    pub inspection: Option<Inspection>,
    /// How far the values lie from a uniform distribution over its whole band, a usual assumption.
    pub uniform_over_band: Option<KnownFit>,
    /// The values that were fitted, over nominal, rising.
    pub ratios: SortedValues,
    /// Mean, in the unit of the column.
    pub mean: Estimate,
    /// Standard deviation, in the unit of the column.
    pub sd: Estimate,
    /// Median, in the unit of the column.
    pub median: f64,
    /// Values far from the others; they are fitted all the same.
    pub far_out: Vec<MeasuredValue>,
    /// So many values of a normal column lie as far out on average.
    pub expected_far_out: f64,
    /// The correlation of neighbouring rows, where it is more than chance makes of independent ones.
    pub neighbour_correlation: Option<f64>,
    /// Shapes by their Anderson-Darling distance, the closest first.
    pub fits: Vec<ShapeFit>,
    /// Families without a shape for these values.
    pub without_fit: Vec<FamilyWithoutFit>,
}

/// A family of shapes that the values leave without a fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FamilyWithoutFit {
    /// The family.
    pub family: ShapeFamily,
    /// Why it has no shape for them.
    pub reason: NoFit,
}

impl ColumnShapes {
    /// Studies a column.
    pub(super) fn new(task: ColumnTask<'_>, stop: &AtomicBool) -> Result<Self, ShapesError> {
        let column = task.column;
        let confidence = Confidence::new(CONFIDENCE)?;
        let all: Vec<f64> = column.values.iter().map(|measured| measured.value).collect();
        let nominal = Nominal::new(task.nominal, &all);
        let inspection = task.band.map(|band| Inspection::new(band, column, nominal, confidence));
        let limits = inspection.as_ref().map(Inspection::limits);
        let ratios = match &inspection {
            None => all.iter().map(|value| value / nominal.value).collect(),
            Some(inspection) => {
                let ratios = all.iter().map(|value| inspection.ratio(*value, nominal));
                ratios.filter(|ratio| inspection.passes(*ratio)).collect()
            }
        };
        let ratios = SortedValues::new(ratios)
            .filter(|ratios| ratios.count() >= LEAST_VALUES && ratios.smallest() < ratios.largest())
            .ok_or_else(|| ShapesError::FewInside { column: column.name.clone() })?;
        let uniform = inspection.as_ref().and_then(|i| i.uniform_over_band(&ratios));
        let FamilyFits { fits, without_fit } = FamilyFits::new(&ratios, limits, stop)?;
        Ok(Self {
            name: column.name.clone(),
            parameter: column.parameter,
            unit: column.unit,
            empty_rows: column.empty_rows,
            nominal,
            mean: mean(&all, confidence),
            sd: sd(&all, confidence),
            median: median(&all).unwrap_or(nominal.value),
            far_out: far_out(&all).into_iter().map(|index| column.values[index]).collect(),
            expected_far_out: expected_far_out(all.len()),
            neighbour_correlation: neighbours(&all),
            inspection,
            uniform_over_band: uniform,
            ratios,
            fits,
            without_fit,
        })
    }

    /// How many values a scenario does not draw: they lie too far from nominal for a part.
    pub fn not_drawn(&self) -> usize {
        let ends = (1.0 / FARTHEST_PART)..=FARTHEST_PART;
        self.ratios.values().iter().filter(|ratio| !ends.contains(ratio)).count()
    }

    /// How many values there are, with those outside the band.
    pub fn count(&self) -> usize {
        let outside = self.inspection.as_ref().map_or(0, |inspection| inspection.outside.len());
        self.ratios.count() + outside
    }

    /// Shapes that the values leave possible, the closest first.
    pub fn possible(&self) -> impl Iterator<Item = &ShapeFit> {
        self.fits.iter().filter(|fit| fit.is_possible())
    }
}

/// All families: the shapes that there are, the closest first, and the reasons of the others.
struct FamilyFits {
    fits: Vec<ShapeFit>,
    without_fit: Vec<FamilyWithoutFit>,
}

impl FamilyFits {
    fn new(
        ratios: &SortedValues,
        limits: Option<Interval>,
        stop: &AtomicBool,
    ) -> Result<Self, ShapesError> {
        let (mut fits, mut without_fit) = (Vec::new(), Vec::new());
        for family in ShapeFamily::ALL {
            match StatedShape::fit(family, ratios, limits) {
                Ok(stated) => fits.extend(judged(stated, ratios, stop)?),
                Err(reason) => without_fit.push(FamilyWithoutFit { family, reason }),
            }
        }
        fits.sort_by(|a, b| a.distances.anderson_darling.total_cmp(&b.distances.anderson_darling));
        Ok(Self { fits, without_fit })
    }
}

/// A shape with its distances and their probabilities.
fn judged(
    StatedShape { shape, limits, scatter }: StatedShape,
    ratios: &SortedValues,
    stop: &AtomicBool,
) -> Result<Option<ShapeFit>, ShapesError> {
    let Some(distances) = shape.distances(ratios) else { return Ok(None) };
    let question = FitQuestion { shape, distances, limits };
    let probabilities = simulation::probabilities(question, REPLICATES, stop)?;
    Ok(Some(ShapeFit { shape, distances, probabilities, scatter }))
}

/// The mean with Student's interval.
fn mean(values: &[f64], confidence: Confidence) -> Estimate {
    let moments: Moments = values.iter().collect();
    let estimate = moments.mean().unwrap_or(0.0);
    Estimate::new(estimate, moments.mean_interval(confidence))
}

/// The standard deviation with Bonett's interval.
fn sd(values: &[f64], confidence: Confidence) -> Estimate {
    let moments: Moments = values.iter().collect();
    Estimate::new(moments.sd().unwrap_or(0.0), sd_interval(values, confidence))
}

impl Estimate {
    fn new(estimate: f64, interval: Option<Interval>) -> Self {
        let interval = interval.unwrap_or(Interval { lower: estimate, upper: estimate });
        Self { estimate, interval }
    }
}

fn neighbours(values: &[f64]) -> Option<f64> {
    neighbours_depend(values).then(|| neighbour_correlation(values)).flatten()
}
