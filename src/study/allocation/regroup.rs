//! The best grouping of few tanks. Groups of them are evaluated in one order after the other until
//! they pass; of those that pass, the most that share no part are chosen ([`pack`]).
//!
//! First each converter that fails is regrouped with the converters and spare tanks that are most
//! like it, among groups that the surrogate does not rule out. Each group is tried with the sets of flying
//! capacitors that these converters have, and with some of those left over. Where converters still fail and
//! the stock is small, the whole stock is regrouped, among all groups in all orders. That proves that no
//! other list passes more. All of it has a budget of work, which counts solutions and no time. When it
//! is used up, the list is the best found by then, and nothing is proven.

use itertools::Itertools as _;

use super::allocator::Allocator;
use super::exchange::reordered;
use super::packing::{PackingLimits, pack};
use super::plan::{
    PartSet, PlannedConverter, count_passing, sort_by_result, spare_capacitors, spare_tanks,
};
use crate::study::common::progress::Progress;

/// Ordered groups that are evaluated at most to regroup a whole stock.
const MOST_OF_STOCK: usize = 250_000;
/// Groups that a part of a stock has at most.
const MOST_GROUPS_OF_PART: usize = 20_000;
/// Ordered groups that are evaluated at most in one part of a stock.
const MOST_OF_PART: usize = 50_000;
/// Ordered groups that are evaluated at most in all parts together.
const MOST_OF_PARTS: usize = 200_000;
/// Work of all regrouping, in ordinary solutions: some twenty seconds of one core at most.
const MOST_WORK: u64 = 2_500_000;
/// Groups that are checked between two looks at the work left.
const CHUNK: usize = 512;
/// Groups that the packing of a whole stock tries before it gives up.
const PACKED_OF_STOCK: usize = 50_000_000;
/// Groups that the packing of a part tries before it gives up.
const PACKED_OF_PART: usize = 1_000_000;
/// Groups of a part are evaluated where the surrogate predicts less than so many times the limit. It
/// leaves out some effects, such as the position of phases in the chain, which weigh the more the
/// closer the limit is.
const NOT_RULED_OUT: f64 = 1.4;
/// Sets of flying capacitors left over that a part of the stock has at least, if there are so many.
const SPARE_SETS: usize = 4;

/// A part of the stock that is regrouped.
struct StockPart {
    /// Converters of the plan, by their indices in it.
    converters: Vec<usize>,
    /// Tanks that no converter of the plan takes.
    spare: Vec<usize>,
    /// Sets of flying capacitors that its groups are tried with: one without any where all count as nominal.
    sets: Vec<Vec<usize>>,
}

/// The sets of flying capacitors of a whole stock.
struct StockSets {
    sets: Vec<Vec<usize>>,
    /// Whether none else can be made.
    are_all: bool,
}

/// The work that regrouping may yet do, shown as it is used up.
struct WorkBudget<'a> {
    left: u64,
    progress: &'a mut dyn Progress,
}

impl WorkBudget<'_> {
    fn spend(&mut self, work: u64) {
        let spent = work.min(self.left);
        self.left -= spent;
        self.progress.advance(spent);
    }
}

/// Groups that pass, and whether all were checked.
struct PassingGroups {
    found: Vec<PlannedConverter>,
    complete: bool,
}

impl Allocator<'_> {
    /// Makes more converters of the plan pass, where regrouping does. Whether no other plan passes
    /// more; nothing when the user asked to stop.
    pub(super) fn regroup(
        &self,
        plan: &mut [PlannedConverter],
        progress: &mut dyn Progress,
    ) -> Option<bool> {
        if count_passing(plan) == plan.len() {
            return Some(true);
        }
        progress.stage("regrouping of the stock", MOST_WORK);
        let mut budget = WorkBudget { left: MOST_WORK, progress };
        self.regroup_parts(plan, &mut budget)?;
        let phases = self.count.phases;
        let tank_groups = choices(self.stock.tanks.len(), phases);
        let ordered = (2..=phases).fold(tank_groups, usize::saturating_mul);
        let StockSets { sets, are_all } = self.sets_of_stock(plan, MOST_OF_STOCK / ordered.max(1));
        if count_passing(plan) == plan.len() || ordered.saturating_mul(sets.len()) > MOST_OF_STOCK {
            return Some(count_passing(plan) == plan.len());
        }
        let whole = StockPart {
            converters: (0..plan.len()).collect(),
            spare: spare_tanks(plan, self.stock.tanks.len()),
            sets,
        };
        let groups = self.groups(plan, &whole, |_| true);
        let PassingGroups { found, complete } =
            self.passing_groups(groups, &orders(phases), &mut budget)?;
        let proven = self.replan(plan, &whole, &found, PACKED_OF_STOCK)?;
        let all_tried = proven && complete && are_all;
        Some(count_passing(plan) == plan.len() || all_tried)
    }

    /// The sets that can be made of all flying capacitors in stock, if these are at most so many; else those of
    /// the plan and of what it leaves over. Several capacitors of a set have one order.
    fn sets_of_stock(&self, plan: &[PlannedConverter], most: usize) -> StockSets {
        let (stocked, in_set) = (self.stock.capacitors.len(), self.capacitors_per_converter);
        if !self.stock.lists_capacitors() || in_set == 0 {
            return StockSets { sets: vec![Vec::new()], are_all: true };
        }
        if choices(stocked, in_set) <= most {
            let sets = (0..stocked).combinations(in_set).collect();
            return StockSets { sets, are_all: in_set == 1 };
        }
        let all: Vec<usize> = (0..plan.len()).collect();
        StockSets { sets: self.sets(plan, &all), are_all: false }
    }

    /// The sets of flying capacitors of these converters, and some of those left over.
    fn sets(&self, plan: &[PlannedConverter], converters: &[usize]) -> Vec<Vec<usize>> {
        if !self.stock.lists_capacitors() {
            return vec![Vec::new()];
        }
        let planned = converters.iter().map(|n| plan[*n].capacitors.clone());
        planned.chain(self.spare_sets(plan, converters.len().max(SPARE_SETS))).collect()
    }

    /// At most so many sets of flying capacitors that the plan leaves over, of all values between the largest and
    /// the smallest.
    fn spare_sets(&self, plan: &[PlannedConverter], most: usize) -> Vec<Vec<usize>> {
        let value = |n: &usize| self.stock.capacitors[*n].part.0;
        let mut spare = spare_capacitors(plan, self.stock.capacitors.len());
        spare.sort_by(|a, b| value(b).total_cmp(&value(a)));
        let sets: Vec<&[usize]> =
            spare.chunks_exact(self.capacitors_per_converter.max(1)).collect();
        let taken = sets.len().min(most);
        let place = |n: usize| n * (sets.len() - 1) / (taken - 1).max(1);
        (0..taken).map(|n| sets[place(n)].to_vec()).collect()
    }

    /// Regroups the converters that fail, one after the other, as long as more pass.
    fn regroup_parts(
        &self,
        plan: &mut [PlannedConverter],
        budget: &mut WorkBudget<'_>,
    ) -> Option<()> {
        let phases: Vec<usize> = (0..self.count.phases).collect();
        let orders = [vec![phases.clone()], reordered(&phases)].concat();
        let mut left = MOST_OF_PARTS;
        loop {
            let before = count_passing(plan);
            for failing in 0..plan.len() {
                if plan[failing].evaluation.passes {
                    continue;
                }
                let mut part = self.neighbours(failing, plan);
                let groups = self.affordable_groups(plan, &mut part, orders.len());
                let Some(rest) = left.checked_sub(groups.len() * orders.len()) else { continue };
                left = rest;
                let found = self.passing_groups(groups, &orders, budget)?.found;
                self.replan(plan, &part, &found, PACKED_OF_PART)?;
            }
            if count_passing(plan) == before {
                return Some(());
            }
        }
    }

    /// The groups of a part that the surrogate does not rule out. The part is halved until they are
    /// few enough to be evaluated in so many orders.
    fn affordable_groups(
        &self,
        plan: &[PlannedConverter],
        part: &mut StockPart,
        orders: usize,
    ) -> Vec<PartSet> {
        let keep = |tanks: &[usize]| self.surrogate.expected(tanks) <= NOT_RULED_OUT;
        let mut groups = self.groups(plan, part, keep);
        while groups.len() * orders > MOST_OF_PART && part.converters.len() > 1 {
            part.converters.truncate(part.converters.len().div_ceil(2));
            part.sets = self.sets(plan, &part.converters);
            groups = self.groups(plan, part, keep);
        }
        groups
    }

    /// A converter with the spare tanks that are most like its own, at most as many, and the
    /// converters most like it, as many as can be regrouped together.
    fn neighbours(&self, failing: usize, plan: &[PlannedConverter]) -> StockPart {
        let phases = self.count.phases;
        let effect = |tanks: &[usize]| {
            tanks.iter().map(|n| self.surrogate.total_effect(*n)).sum::<f64>() / tanks.len() as f64
        };
        let middle = effect(&plan[failing].tanks);
        let distance = |tanks: &[usize]| (effect(tanks) - middle).abs();
        let mut spare = spare_tanks(plan, self.stock.tanks.len());
        spare.sort_by(|a, b| distance(&[*a]).total_cmp(&distance(&[*b])));
        let mut converters: Vec<usize> = (0..plan.len()).filter(|n| *n != failing).collect();
        converters.sort_by(|a, b| distance(&plan[*a].tanks).total_cmp(&distance(&plan[*b].tanks)));
        converters.insert(0, failing);
        let few = |tanks: usize| choices(tanks, phases) <= MOST_GROUPS_OF_PART;
        spare.truncate((0..=phases).rev().find(|n| few(phases + n)).unwrap_or(0));
        let tanks = |converters: usize| converters * phases + spare.len();
        converters.truncate((1..=converters.len()).rev().find(|n| few(tanks(*n))).unwrap_or(1));
        let sets = self.sets(plan, &converters);
        StockPart { converters, spare, sets }
    }

    /// The groups to `keep` of the tanks of a part, with each of its sets of flying capacitors.
    fn groups(
        &self,
        plan: &[PlannedConverter],
        part: &StockPart,
        keep: impl Fn(&[usize]) -> bool,
    ) -> Vec<PartSet> {
        let planned = part.converters.iter().map(|n| &plan[*n]);
        let tanks = planned.flat_map(|planned| &planned.tanks).chain(&part.spare).copied();
        tanks
            .combinations(self.count.phases)
            .filter(|tanks| keep(tanks))
            .cartesian_product(&part.sets)
            .map(|(tanks, set)| PartSet { tanks, capacitors: set.clone() })
            .collect()
    }

    /// Those of the groups that pass in one of the orders, by rising sharing error, as far as the
    /// budget goes.
    fn passing_groups(
        &self,
        mut open: Vec<PartSet>,
        orders: &[Vec<usize>],
        budget: &mut WorkBudget<'_>,
    ) -> Option<PassingGroups> {
        let mut found = Vec::new();
        for order in orders {
            let mut failing = Vec::new();
            for groups in open.chunks(CHUNK) {
                if budget.left == 0 {
                    sort_by_result(&mut found);
                    return Some(PassingGroups { found, complete: false });
                }
                let in_order = |group: &PartSet| PartSet {
                    tanks: order.iter().map(|n| group.tanks[*n]).collect(),
                    capacitors: group.capacitors.clone(),
                };
                let ordered = groups.iter().map(in_order).collect();
                let checked = self.check(ordered)?;
                budget.spend(checked.work);
                failing.extend(checked.failing.iter().map(|n| groups[*n].clone()));
                found.extend(checked.passing);
            }
            open = failing;
        }
        sort_by_result(&mut found);
        Some(PassingGroups { found, complete: true })
    }

    /// Plans a part of the stock anew from groups that pass, if more of them share no part than pass
    /// now. Whether no other choice of the groups passes more.
    fn replan(
        &self,
        plan: &mut [PlannedConverter],
        part: &StockPart,
        groups: &[PlannedConverter],
        most_tried: usize,
    ) -> Option<bool> {
        // The numbers of the capacitors follow those of all tanks.
        let items = |group: &PlannedConverter| {
            let capacitors = group.capacitors.iter().map(|n| self.stock.tanks.len() + n);
            group.tanks.iter().copied().chain(capacitors).collect::<Vec<usize>>()
        };
        let items: Vec<Vec<usize>> = groups.iter().map(items).collect();
        let (counted_items, most_groups) = (self.count.phases, part.converters.len());
        let limits = PackingLimits { counted_items, most_groups, most_tried };
        let packing = pack(&items, limits, &|| self.evaluator.stopped());
        if self.evaluator.stopped() {
            return None;
        }
        let given: Vec<PlannedConverter> =
            part.converters.iter().map(|n| plan[*n].clone()).collect();
        if packing.chosen.len() > count_passing(&given) {
            let mut taken: Vec<PlannedConverter> =
                packing.chosen.iter().map(|n| groups[*n].clone()).collect();
            taken.extend(self.plan_the_rest(&taken, &given, part)?);
            for (n, planned) in part.converters.iter().zip(taken) {
                plan[*n] = planned;
            }
        }
        Some(packing.proven)
    }

    /// As many converters as are missing, made of parts that are given and not yet taken.
    fn plan_the_rest(
        &self,
        taken: &[PlannedConverter],
        given: &[PlannedConverter],
        part: &StockPart,
    ) -> Option<Vec<PlannedConverter>> {
        let free = |n: &usize| taken.iter().all(|planned| !planned.tanks.contains(n));
        let tanks = given.iter().flat_map(|planned| &planned.tanks).chain(&part.spare).copied();
        let tanks: Vec<usize> = tanks.filter(free).collect();
        let free = |n: &usize| taken.iter().all(|planned| !planned.capacitors.contains(n));
        let capacitors = part.sets.iter().flatten().copied().unique();
        let capacitors: Vec<usize> = capacitors.filter(free).collect();
        let groups = tanks.chunks_exact(self.count.phases).map(<[usize]>::to_vec);
        let missing = given.len() - taken.len();
        self.evaluate_groups(groups.take(missing).collect(), &capacitors)
    }
}

/// In how many ways so many of `all` can be chosen.
fn choices(all: usize, chosen: usize) -> usize {
    let choose = |so_far: usize, n| so_far.saturating_mul(all.saturating_sub(n)) / (n + 1);
    (0..chosen).fold(1, choose)
}

/// All orders of so many phases: each phase, from the last to the first, goes into every gap that
/// those after it leave.
fn orders(phases: usize) -> Vec<Vec<usize>> {
    let order = |gaps: Vec<usize>| {
        let mut order = Vec::new();
        for (phase, gap) in (0..phases).rev().zip(gaps) {
            order.insert(gap, phase);
        }
        order
    };
    (1..=phases).map(|gaps| 0..gaps).multi_cartesian_product().map(order).collect()
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn orders_are_all_permutations() {
        let found: BTreeSet<Vec<usize>> = orders(4).into_iter().collect();
        assert_eq!(found, (0..4).permutations(4).collect());
        assert_eq!(orders(3).len(), 6);
    }
}
