//! Measured parts in stock, and the converters that they make.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::Parameter;
use crate::study::allocation::{
    Allocation, Bottleneck, Mend, MissedLimit, PassingRange, PlannedConverter, REPEATS,
    RejectedConverter, Stock, StockAllocation,
};

/// A stock and its allocation to converters.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct AllocationSummary {
    /// Name of the file that lists the tanks.
    tanks_file: String,
    /// Name of the file that lists the flying capacitors; null where they count as nominal.
    capacitors_file: Option<String>,
    /// How the file of tanks was read, such as `with decimal commas`; null for the plain form.
    tanks_read_as: Option<String>,
    /// The same of the file of flying capacitors.
    capacitors_read_as: Option<String>,
    /// Tanks in stock.
    tanks: usize,
    /// Flying capacitors in stock.
    flying_capacitors: usize,
    /// The converters to build; null where it was interrupted before there was a list.
    result: Option<BuildPlan>,
}

/// The converters to build, and how many pass.
#[derive(Debug, Serialize, JsonSchema)]
struct BuildPlan {
    /// Converters that the stock is enough for.
    converters: usize,
    /// Whether it was interrupted: the list is the best by then.
    partial: bool,
    /// Passing converters of the list.
    passing_allotted: usize,
    /// Whether no other list of these parts passes more, proven.
    allotted_is_proven_most: bool,
    /// Passing converters where tanks are sorted by series resonance.
    passing_sorted_by_resonance: usize,
    /// Passing converters where tanks are allotted at random, again and again.
    passing_at_random: RandomPassing,
    /// Serials of the tanks left over.
    left_over_tanks: Vec<String>,
    /// Serials of the flying capacitors left over.
    left_over_flying_capacitors: Vec<String>,
    /// Converters that the tanks alone are enough for.
    tanks_are_enough_for: usize,
    /// Converters that the flying capacitors alone are enough for; null where they count as nominal.
    flying_capacitors_are_enough_for: Option<usize>,
    /// What keeps the number of passing converters down: `tanks`, `flying capacitors`, `both` or
    /// `limits`, which some converters miss.
    bottleneck: Bottleneck,
    /// The converters to build, all of which pass, by rising sharing error.
    build_list: Vec<ConverterToBuild>,
    /// The converters that fail, with what would mend them.
    not_passing: Vec<ConverterToMend>,
}

/// Passing converters of random allotments.
#[derive(Debug, Serialize, JsonSchema)]
struct RandomPassing {
    /// On average.
    mean: f64,
    /// In the worst draw.
    least: usize,
    /// In the best draw.
    most: usize,
    /// Number of draws.
    repeats: usize,
}

/// A converter to build.
#[derive(Debug, Serialize, JsonSchema)]
struct ConverterToBuild {
    /// Its number, from 1.
    converter: usize,
    /// Serials of its tanks, phase by phase.
    tanks: Vec<String>,
    /// Serials of its flying capacitors: of the driven leg, then of the return leg, from the input
    /// down; empty where they count as nominal.
    flying_capacitors: Vec<String>,
    /// Whether it keeps to all limits.
    pass: bool,
    /// Largest sharing error at any operating point, a fraction; null where it is not solved.
    sharing_error: Option<f64>,
    /// A limit that it misses; null where it passes.
    missed: Option<MissedLimitSummary>,
}

/// A converter that fails.
#[derive(Debug, Serialize, JsonSchema)]
struct ConverterToMend {
    #[serde(flatten)]
    converter: ConverterToBuild,
    /// The exchange of one part that makes it pass; null where none does, or none was tried.
    exchange: Option<ExchangeSummary>,
    /// Whether exchanges were tried.
    exchanges_tried: bool,
}

/// A part in place of another one.
#[derive(Debug, Serialize, JsonSchema)]
struct ExchangeSummary {
    /// Serial of the tank that holds the part, or of the flying capacitor.
    serial: String,
    parameter: Parameter,
    /// The value that the part should have, in the parameter's unit.
    value: f64,
}

/// A limit that a converter misses.
#[derive(Debug, Serialize, JsonSchema)]
struct MissedLimitSummary {
    operating_point: String,
    /// The limited figure, or `regulation` for the frequency inside the band.
    limit: String,
}

impl AllocationSummary {
    pub(super) fn new(StockAllocation { stock, allocation }: &StockAllocation) -> Self {
        Self {
            tanks_file: stock.tanks_file.clone(),
            capacitors_file: stock.capacitors_file.clone(),
            tanks_read_as: stock.tanks_read_as.clone(),
            capacitors_read_as: stock.capacitors_read_as.clone(),
            tanks: stock.tanks.len(),
            flying_capacitors: stock.capacitors.len(),
            result: allocation.as_ref().map(|found| BuildPlan::new(stock, found)),
        }
    }
}

fn tank_serials(stock: &Stock, tanks: &[usize]) -> Vec<String> {
    tanks.iter().map(|n| stock.tanks[*n].serial.clone()).collect()
}

fn capacitor_serials(stock: &Stock, capacitors: &[usize]) -> Vec<String> {
    capacitors.iter().map(|n| stock.capacitors[*n].serial.clone()).collect()
}

impl BuildPlan {
    fn new(stock: &Stock, found: &Allocation) -> Self {
        let list = found.build_list.iter().enumerate();
        let rejected = found.rejected.iter().enumerate();
        Self {
            converters: found.converters,
            partial: found.partial,
            passing_allotted: found.allocated,
            allotted_is_proven_most: found.proven,
            passing_sorted_by_resonance: found.sorted,
            passing_at_random: RandomPassing::new(found.at_random),
            left_over_tanks: tank_serials(stock, &found.spare_tanks),
            left_over_flying_capacitors: capacitor_serials(stock, &found.spare_capacitors),
            tanks_are_enough_for: found.reach.tanks,
            flying_capacitors_are_enough_for: found.reach.capacitors,
            bottleneck: found.bottleneck(),
            build_list: list.map(|(n, build)| ConverterToBuild::new(stock, n + 1, build)).collect(),
            not_passing: rejected
                .map(|(n, own)| ConverterToMend::new(stock, found.build_list.len() + n + 1, own))
                .collect(),
        }
    }
}

impl ConverterToMend {
    fn new(stock: &Stock, number: usize, rejected: &RejectedConverter) -> Self {
        let exchange = match rejected.mend {
            Mend::Exchange(own) => Some(ExchangeSummary {
                serial: stock.serial_of(own).to_owned(),
                parameter: own.parameter,
                value: own.value,
            }),
            Mend::SeveralParts | Mend::NotTried => None,
        };
        Self {
            converter: ConverterToBuild::new(stock, number, &rejected.planned),
            exchange,
            exchanges_tried: rejected.mend != Mend::NotTried,
        }
    }
}

impl RandomPassing {
    fn new(PassingRange { mean, least, most }: PassingRange) -> Self {
        Self { mean, least, most, repeats: REPEATS }
    }
}

impl ConverterToBuild {
    fn new(stock: &Stock, number: usize, build: &PlannedConverter) -> Self {
        Self {
            converter: number,
            tanks: tank_serials(stock, &build.tanks),
            flying_capacitors: capacitor_serials(stock, &build.capacitors),
            pass: build.evaluation.passes,
            sharing_error: build.evaluation.sharing_error,
            missed: build.evaluation.missed.as_ref().map(MissedLimitSummary::new),
        }
    }
}

impl MissedLimitSummary {
    fn new(missed: &MissedLimit) -> Self {
        Self { operating_point: missed.operating_point.clone(), limit: missed.demand.name() }
    }
}
