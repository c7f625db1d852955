//! Converters that are planned, and the parts that they take from the stock.

use std::collections::BTreeSet;

use super::evaluator::Evaluation;
use crate::converter::Parameter;

/// Tanks grouped to converters: for each converter the indices of its tanks in the stock, phase by
/// phase.
pub type TankGroups = Vec<Vec<usize>>;

/// How many converters are planned, and with how many phases.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GroupCount {
    /// Converters.
    pub converters: usize,
    /// Phases of each.
    pub phases: usize,
}

/// The parts of one converter.
#[derive(Debug, Clone)]
pub(super) struct PartSet {
    /// Indices of its tanks in the stock, phase by phase.
    pub tanks: Vec<usize>,
    /// Indices of its flying capacitors, as in [`PlannedConverter`].
    pub capacitors: Vec<usize>,
}

impl PartSet {
    pub(super) fn planned(self, evaluation: Evaluation) -> PlannedConverter {
        PlannedConverter { tanks: self.tanks, capacitors: self.capacitors, evaluation }
    }
}

/// A converter to be built.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedConverter {
    /// Indices of its tanks in the stock, phase by phase.
    pub tanks: Vec<usize>,
    /// Indices of the flying capacitors of the driven leg, then of the return leg; empty when all
    /// count as nominal.
    pub capacitors: Vec<usize>,
    /// What the evaluator says of it.
    pub evaluation: Evaluation,
}

/// What would mend a converter that fails.
#[derive(Debug, Clone, PartialEq)]
pub enum Mend {
    /// This part in place of the one that it has.
    Exchange(PartExchange),
    /// No exchange of one part that was tried makes it pass.
    SeveralParts,
    /// Nothing was tried: too many converters fail, or the user asked to stop.
    NotTried,
}

/// The exchange of a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PartExchange {
    /// What the part is.
    pub parameter: Parameter,
    /// Index of the tank that holds it, or of the flying capacitor, in the stock.
    pub stocked: usize,
    /// The value that it should have, in the parameter's unit.
    pub value: f64,
}

/// A converter that fails, with what would mend it.
#[derive(Debug, Clone, PartialEq)]
pub struct RejectedConverter {
    /// The converter.
    pub planned: PlannedConverter,
    /// What would mend it.
    pub mend: Mend,
}

impl PlannedConverter {
    pub(super) fn parts(&self) -> PartSet {
        PartSet { tanks: self.tanks.clone(), capacitors: self.capacitors.clone() }
    }
}

/// Number of converters that pass.
pub(super) fn count_passing(plan: &[PlannedConverter]) -> usize {
    plan.iter().filter(|planned| planned.evaluation.passes).count()
}

/// Converters that pass first, by rising sharing error.
pub(super) fn sort_by_result(plan: &mut [PlannedConverter]) {
    plan.sort_by(|a, b| a.evaluation.sort_key().total_cmp(&b.evaluation.sort_key()));
}

/// The tanks that no converter of the plan takes, of so many in stock.
pub(super) fn spare_tanks(plan: &[PlannedConverter], in_stock: usize) -> Vec<usize> {
    let used: BTreeSet<usize> = plan.iter().flat_map(|planned| &planned.tanks).copied().collect();
    (0..in_stock).filter(|tank| !used.contains(tank)).collect()
}

/// The flying capacitors that no converter of the plan takes, of so many in stock.
pub(super) fn spare_capacitors(plan: &[PlannedConverter], in_stock: usize) -> Vec<usize> {
    let used: BTreeSet<usize> =
        plan.iter().flat_map(|planned| &planned.capacitors).copied().collect();
    (0..in_stock).filter(|capacitor| !used.contains(capacitor)).collect()
}
