//! The summary of `shapes`.

use schemars::JsonSchema;
use serde::Serialize;

use super::{MeasurementsSource, lines, words};
use crate::converter::Parameter;
use crate::population::measurements::{LeftOutColumn, MeasuredValue};
use crate::report::format::summary::SummaryFile;
use crate::statistics::{FitProbabilities, PearsonCorrelation};
use crate::study::shapes::{
    ColumnCorrelation, ColumnShapes, Estimate, FamilyWithoutFit, Inspection, KnownFit,
    MeasuredShapes, REPLICATES, ShapeFit,
};

/// What fits of measured values are made of.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct ShapesBasis {
    /// Name of the file of measured values.
    file: String,
}

/// What `shapes` found. Deviations are fractions of the nominal value.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct ShapesResults {
    /// How the file was read, such as `with decimal commas`; null for the plain form.
    file_read_as: Option<String>,
    /// Simulated files behind each probability of a fitted shape.
    simulated_files: u64,
    /// One entry a column.
    columns: Vec<ColumnEntry>,
    /// Correlations of all pairs of columns.
    correlations: Vec<CorrelationEntry>,
    /// Columns that are not studied.
    left_out: Vec<LeftOutEntry>,
}

/// Pearson's correlation of two columns.
#[derive(Debug, Serialize, JsonSchema)]
struct CorrelationEntry {
    /// Names of both columns.
    columns: [String; 2],
    /// Rows in which both have a value.
    rows: usize,
    /// With Fisher's 95 % interval.
    coefficient: EstimateEntry,
    /// Lines of a scenario; null where the interval holds zero, or where it cannot state the correlation.
    scenario_lines: Option<String>,
}

/// A column that is not studied.
#[derive(Debug, Serialize, JsonSchema)]
struct LeftOutEntry {
    /// Name of the column.
    column: String,
    /// Why it is not.
    reason: String,
}

/// A column of measured values. Values are in the SI unit.
#[derive(Debug, Serialize, JsonSchema)]
struct ColumnEntry {
    /// Name of the column.
    column: String,
    /// The parameter that it measures; null where its name does not tell.
    parameter: Option<Parameter>,
    /// Symbol of the SI unit; empty where there is none.
    unit: &'static str,
    /// How many values there are.
    values: usize,
    /// Rows in which the column is empty.
    empty_rows: usize,
    /// The value from which deviations count.
    nominal: f64,
    /// Whether the nominal value was given; else it is the median, rounded to four digits.
    nominal_is_given: bool,
    mean: EstimateEntry,
    sigma: EstimateEntry,
    median: f64,
    /// Least value inside the band.
    smallest: f64,
    /// Greatest value inside the band.
    largest: f64,
    /// Values far from the others, which are fitted all the same.
    far_out: Vec<ValueEntry>,
    /// So many of as many normal values lie as far out on average.
    far_out_expected: f64,
    /// Values that differ from all others.
    distinct_values: usize,
    /// Correlation of neighbouring rows; null where it is no more than chance gives.
    neighbour_correlation: Option<f64>,
    /// The inspection that the parts have passed; null where none was told.
    inspection: Option<InspectionEntry>,
    /// Shapes, the closest first.
    shapes: Vec<ShapeEntry>,
    /// Shapes that cannot be fitted to these values.
    not_fitted: Vec<NotFittedEntry>,
    /// Lines of a scenario that draw the measured values themselves; null where it does not take all of them.
    measured_lines: Option<String>,
}

/// An estimate with its 95 % interval.
#[derive(Debug, Serialize, JsonSchema)]
struct EstimateEntry {
    estimate: f64,
    lower: f64,
    upper: f64,
}

/// A value and where it stands.
#[derive(Debug, Serialize, JsonSchema)]
struct ValueEntry {
    /// Line of the file, from 1.
    line: usize,
    value: f64,
}

/// How far the nearer limit is from the process.
#[derive(Debug, Serialize, JsonSchema)]
struct CapabilityEntry {
    estimate: f64,
    /// Ends of its interval for a normal process. Null where the estimate is that of the fitted normal process
    /// before the inspection.
    lower: Option<f64>,
    upper: Option<f64>,
}

/// An inspection to a band about nominal.
#[derive(Debug, Serialize, JsonSchema)]
struct InspectionEntry {
    /// Half width of the band, a fraction of the nominal value; null where its ends are unequal.
    band: Option<f64>,
    /// Ends of the band, as deviations.
    ends: [f64; 2],
    /// Values outside; they are not fitted.
    outside: Vec<ValueEntry>,
    /// Width of the band by six standard deviations; null where nothing scatters, or no normal process that
    /// the band cuts makes such values.
    cp: Option<f64>,
    /// Distance of the nearer limit by three standard deviations.
    cpk: Option<CapabilityEntry>,
    /// Distances from a uniform distribution over the whole band.
    uniform_over_band: Option<DistancesEntry>,
}

/// How far the values lie from a distribution.
#[derive(Debug, Serialize, JsonSchema)]
struct DistancesEntry {
    /// A².
    anderson_darling: f64,
    /// Probability of this distance or a larger one, from the distribution itself.
    anderson_darling_probability: f64,
    /// D.
    kolmogorov_smirnov: f64,
    /// Probability of this distance or a larger one, from the distribution itself.
    kolmogorov_smirnov_probability: f64,
}

/// A fitted shape.
#[derive(Debug, Serialize, JsonSchema)]
struct ShapeEntry {
    /// `uniform`, `normal`, `triangular`, `lognormal` or `beta`.
    shape: &'static str,
    /// Whether the values leave it possible: the probability of A² is above 5 %.
    fits: bool,
    distances: DistancesEntry,
    /// Ends of the band, as deviations.
    band: [f64; 2],
    /// Mean of the process, as a deviation; null where the band tells it.
    mean: Option<f64>,
    /// Standard deviation of the process, of the nominal value; null where the band tells it.
    sigma: Option<f64>,
    /// Exponents of a beta shape at the lower and upper end; null for others.
    exponents: Option<[f64; 2]>,
    /// Share of the process that lies outside the band.
    screened: f64,
    /// Lines of a scenario for this shape.
    scenario_lines: String,
}

/// A shape that cannot be fitted.
#[derive(Debug, Serialize, JsonSchema)]
struct NotFittedEntry {
    shape: &'static str,
    /// Why it cannot.
    reason: String,
}

/// The summary of fitted shapes.
pub(super) fn summary(
    source: &MeasurementsSource,
    found: &MeasuredShapes,
) -> SummaryFile<ShapesResults, ShapesBasis> {
    let results = ShapesResults {
        file_read_as: source.read_as.clone(),
        simulated_files: REPLICATES,
        columns: found.columns.iter().map(|c| ColumnEntry::new(c, source)).collect(),
        correlations: found.correlations.iter().map(CorrelationEntry::new).collect(),
        left_out: source.left_out.iter().map(LeftOutEntry::new).collect(),
    };
    SummaryFile::of_basis("shapes", ShapesBasis { file: source.name.clone() }, results)
}

impl ColumnEntry {
    fn new(column: &ColumnShapes, source: &MeasurementsSource) -> Self {
        let in_unit = |ratio: f64| ratio * column.nominal.value;
        Self {
            column: column.name.clone(),
            parameter: column.parameter,
            unit: column.unit,
            values: column.count(),
            empty_rows: column.empty_rows,
            nominal: column.nominal.value,
            nominal_is_given: column.nominal.is_given,
            mean: EstimateEntry::new(&column.mean),
            sigma: EstimateEntry::new(&column.sd),
            median: column.median,
            smallest: in_unit(column.ratios.smallest()),
            largest: in_unit(column.ratios.largest()),
            far_out: column.far_out.iter().map(ValueEntry::new).collect(),
            far_out_expected: column.expected_far_out,
            distinct_values: column.ratios.distinct(),
            neighbour_correlation: column.neighbour_correlation,
            inspection: column.inspection.as_ref().map(|i| InspectionEntry::new(i, column)),
            shapes: column.fits.iter().map(|fit| ShapeEntry::new(fit, column)).collect(),
            not_fitted: column.without_fit.iter().copied().map(NotFittedEntry::new).collect(),
            measured_lines: lines::of_measured(column, source),
        }
    }
}

impl CorrelationEntry {
    fn new(correlation: &ColumnCorrelation) -> Self {
        let PearsonCorrelation { pairs, estimate, interval } = correlation.found;
        Self {
            columns: correlation.names.clone(),
            rows: pairs,
            coefficient: EstimateEntry::new(&Estimate { estimate, interval }),
            scenario_lines: lines::of_correlation(correlation),
        }
    }
}

impl LeftOutEntry {
    fn new(column: &LeftOutColumn) -> Self {
        Self { column: column.name.clone(), reason: column.reason.clone() }
    }
}

impl EstimateEntry {
    fn new(found: &Estimate) -> Self {
        let Estimate { estimate, interval } = *found;
        Self { estimate, lower: interval.lower, upper: interval.upper }
    }
}

impl ValueEntry {
    fn new(measured: &MeasuredValue) -> Self {
        Self { line: measured.line, value: measured.value }
    }
}

impl InspectionEntry {
    fn new(inspection: &Inspection, column: &ColumnShapes) -> Self {
        let capability = inspection.capability;
        Self {
            band: inspection.half_width(),
            ends: [inspection.band.lower, inspection.band.upper],
            outside: inspection.outside.iter().map(ValueEntry::new).collect(),
            cp: capability.map(|found| found.cp),
            cpk: capability.map(|found| CapabilityEntry {
                estimate: found.cpk,
                lower: found.cpk_interval.map(|own| own.lower),
                upper: found.cpk_interval.map(|own| own.upper),
            }),
            uniform_over_band: column.uniform_over_band.map(|known| DistancesEntry::new(&known)),
        }
    }
}

impl DistancesEntry {
    fn new(known: &KnownFit) -> Self {
        let FitProbabilities { anderson_darling, kolmogorov_smirnov } = known.probabilities;
        Self {
            anderson_darling: known.distances.anderson_darling,
            anderson_darling_probability: anderson_darling,
            kolmogorov_smirnov: known.distances.kolmogorov_smirnov,
            kolmogorov_smirnov_probability: kolmogorov_smirnov,
        }
    }
}

impl ShapeEntry {
    fn new(fit: &ShapeFit, column: &ColumnShapes) -> Self {
        let ShapeFit { distances, probabilities, scatter, .. } = *fit;
        Self {
            shape: fit.shape.family().name(),
            fits: fit.is_possible(),
            distances: DistancesEntry::new(&KnownFit { distances, probabilities }),
            band: [scatter.band.lower, scatter.band.upper],
            mean: scatter.mean,
            sigma: scatter.sigma,
            exponents: scatter.exponents,
            screened: scatter.screened,
            scenario_lines: lines::of_shape(column, fit),
        }
    }
}

impl NotFittedEntry {
    fn new(family: FamilyWithoutFit) -> Self {
        Self { shape: family.family.name(), reason: words::reason(family) }
    }
}
