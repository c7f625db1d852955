//! The allocator: assembles converters from parts in stock and has them evaluated.

use super::evaluator::ConverterEvaluator;
use super::plan::{GroupCount, PartSet, PlannedConverter, TankGroups};
use super::stock::Stock;
use super::surrogate::Surrogate;
use crate::converter::Converter;

/// What every step of an allocation uses.
#[derive(Clone, Copy)]
pub(super) struct Allocator<'a> {
    pub stock: &'a Stock,
    pub nominal: &'a Converter,
    pub surrogate: &'a Surrogate,
    pub evaluator: &'a dyn ConverterEvaluator,
    /// What is planned.
    pub count: GroupCount,
    /// Flying capacitors that one converter takes.
    pub capacitors_per_converter: usize,
}

/// Converters that were checked.
pub(super) struct CheckedConverters {
    /// Those that pass.
    pub passing: Vec<PlannedConverter>,
    /// Indices of those that fail.
    pub failing: Vec<usize>,
    /// Work done.
    pub work: u64,
}

impl Allocator<'_> {
    /// The nominal converter with these parts of the stock.
    pub(super) fn assemble(&self, parts: &PartSet) -> Converter {
        let mut converter = self.nominal.clone();
        for (phase, n) in converter.tanks.iter_mut().zip(&parts.tanks) {
            *phase = self.stock.tanks[*n].part;
        }
        let slots = converter.flying.iter_mut().chain(&mut converter.flying_return);
        for (slot, n) in slots.zip(&parts.capacitors) {
            *slot = self.stock.capacitors[*n].part;
        }
        converter
    }

    /// Converters with these parts, evaluated; none when the user asked to stop.
    pub(super) fn evaluate(&self, all: Vec<PartSet>) -> Option<Vec<PlannedConverter>> {
        let converters: Vec<Converter> = all.iter().map(|parts| self.assemble(parts)).collect();
        let evaluations = self.evaluator.evaluate(&converters)?;
        Some(all.into_iter().zip(evaluations).map(|(parts, e)| parts.planned(e)).collect())
    }

    /// Converters with these parts, checked; none when the user asked to stop.
    pub(super) fn check(&self, all: Vec<PartSet>) -> Option<CheckedConverters> {
        let converters: Vec<Converter> = all.iter().map(|parts| self.assemble(parts)).collect();
        let checks = self.evaluator.check(&converters)?;
        let (mut passing, mut failing, mut work) = (Vec::new(), Vec::new(), 0);
        for (n, (parts, check)) in all.into_iter().zip(checks).enumerate() {
            work += check.work;
            match check.passing {
                Some(evaluation) => passing.push(parts.planned(evaluation)),
                None => failing.push(n),
            }
        }
        Some(CheckedConverters { passing, failing, work })
    }

    /// Converters with these tanks, evaluated; flying capacitors are taken in their order.
    pub(super) fn evaluate_groups(
        &self,
        groups: TankGroups,
        capacitors: &[usize],
    ) -> Option<Vec<PlannedConverter>> {
        let mut sets = capacitors.chunks(self.capacitors_per_converter.max(1));
        let with_capacitors = |tanks| {
            let capacitors = sets.next().map(<[usize]>::to_vec).unwrap_or_default();
            PartSet { tanks, capacitors }
        };
        self.evaluate(groups.into_iter().map(with_capacitors).collect())
    }
}
