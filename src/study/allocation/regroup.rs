//! The best grouping of few tanks: groups of them are judged in one order after the other, until they
//! pass, and of those that pass the most that share no tank are taken ([`pack`]).
//!
//! First each converter that fails is regrouped with the converters and spare tanks that are most like
//! it, among groups that the surrogate does not rule out. Where converters fail still and the stock is
//! small, it is regrouped whole, among all groups in all orders, which proves that no other list
//! passes more.

use super::exchange::{reordered, spare_tanks};
use super::packing::pack;
use super::{Bench, PlannedConverter, Surrogate, passing};
use crate::converter::Converter;

/// Ordered groups that are judged at most to regroup a whole stock.
const WHOLE: usize = 250_000;
/// Groups that a part of a stock has at most.
const PART: usize = 20_000;
/// Ordered groups that are judged at most in one part, and in all of them together.
const JUDGED: (usize, usize) = (50_000, 200_000);
/// Groups that the packing looks at before it gives up: of a whole stock and of a part.
const PATIENCE: (usize, usize) = (50_000_000, 1_000_000);
/// Groups of a part are judged where the surrogate sees them below so many times the limit: what it
/// leaves out, as where phases stand in the chain, weighs the more the closer the limit is.
const NOT_RULED_OUT: f64 = 1.4;

/// A group of tanks with the capacitors that it may be built with.
type Group = (Vec<usize>, Vec<usize>);

impl Bench<'_> {
    /// Makes more converters of the list pass, where regrouping does. Whether no other list passes
    /// more; nothing when the user asked to stop.
    pub(super) fn regroup(
        &self,
        list: &mut [PlannedConverter],
        surrogate: &Surrogate,
    ) -> Option<bool> {
        self.regroup_parts(list, surrogate)?;
        let all: Vec<usize> = (0..list.len()).collect();
        let phases = self.nominal.phases();
        let sets = if self.stock.capacitors_file.is_some() { all.len() } else { 1 };
        let count = self.groups(self.stock.tanks.len()).saturating_mul(sets);
        let ordered = (2..=phases).fold(count, usize::saturating_mul);
        if passing(list) == list.len() || ordered > WHOLE {
            return Some(passing(list) == list.len());
        }
        let spare = spare_tanks(list, self.stock.tanks.len());
        let open = self.all_groups(list, (&all, &spare), |_| true);
        let orders = orders(&(0..phases).collect::<Vec<_>>());
        let found = self.passing_groups(open, &orders)?;
        let proven = self.take(list, (&all, &spare), &found, PATIENCE.0)?;
        // Capacitors stay in the sets that they were dealt in.
        let nominal = self.stock.capacitors_file.is_none();
        Some(passing(list) == list.len() || (proven && nominal))
    }

    /// Number of groups of so many tanks.
    fn groups(&self, tanks: usize) -> usize {
        let choose = |so_far: usize, n| so_far.saturating_mul(tanks.saturating_sub(n)) / (n + 1);
        (0..self.nominal.phases()).fold(1, choose)
    }

    /// Regroups the converters that fail, one after the other, as long as more pass.
    fn regroup_parts(&self, list: &mut [PlannedConverter], surrogate: &Surrogate) -> Option<()> {
        let phases: Vec<usize> = (0..self.nominal.phases()).collect();
        let orders = [vec![phases.clone()], reordered(&phases)].concat();
        let mut left = JUDGED.1;
        loop {
            let before = passing(list);
            for failing in 0..list.len() {
                if list[failing].evaluation.passes {
                    continue;
                }
                let (mut part, spare) = self.like(failing, list, surrogate);
                let keep = |tanks: &[usize]| surrogate.expected(tanks) <= NOT_RULED_OUT;
                let mut open = self.all_groups(list, (&part, &spare), keep);
                while open.len() * orders.len() > JUDGED.0 && part.len() > 1 {
                    part.truncate(part.len().div_ceil(2));
                    open = self.all_groups(list, (&part, &spare), keep);
                }
                let Some(rest) = left.checked_sub(open.len() * orders.len()) else { continue };
                left = rest;
                let found = self.passing_groups(open, &orders)?;
                self.take(list, (&part, &spare), &found, PATIENCE.1)?;
            }
            if passing(list) == before {
                return Some(());
            }
        }
    }

    /// A converter with the spare tanks that are most like its own, at most as many, and the
    /// converters that are, as many as can be regrouped together.
    fn like(
        &self,
        failing: usize,
        list: &[PlannedConverter],
        surrogate: &Surrogate,
    ) -> (Vec<usize>, Vec<usize>) {
        let phases = self.nominal.phases();
        let place = |tanks: &[usize]| {
            tanks.iter().map(|n| surrogate.place(*n)).sum::<f64>() / tanks.len() as f64
        };
        let middle = place(&list[failing].tanks);
        let off = |tanks: &[usize]| (place(tanks) - middle).abs();
        let mut spare = spare_tanks(list, self.stock.tanks.len());
        spare.sort_by(|a, b| off(&[*a]).total_cmp(&off(&[*b])));
        let mut near: Vec<usize> = (0..list.len()).filter(|n| *n != failing).collect();
        near.sort_by(|a, b| off(&list[*a].tanks).total_cmp(&off(&list[*b].tanks)));
        near.insert(0, failing);
        let fits = |n: &usize| self.groups(phases + n) <= PART;
        spare.truncate((0..=phases).rev().find(fits).unwrap_or(0));
        let fits = |n: &usize| self.groups(n * phases + spare.len()) <= PART;
        near.truncate((1..=near.len()).rev().find(fits).unwrap_or(1));
        (near, spare)
    }

    /// The groups to `keep` of the tanks of some converters and spare ones, with each set of the
    /// converters' capacitors.
    fn all_groups(
        &self,
        list: &[PlannedConverter],
        (part, spare): (&[usize], &[usize]),
        keep: impl Fn(&[usize]) -> bool,
    ) -> Vec<Group> {
        let mut tanks: Vec<usize> = part.iter().flat_map(|n| list[*n].tanks.clone()).collect();
        tanks.extend(spare);
        let sets: Vec<Vec<usize>> = if self.stock.capacitors_file.is_some() {
            part.iter().map(|n| list[*n].capacitors.clone()).collect()
        } else {
            vec![Vec::new()]
        };
        let each = |tanks: Vec<usize>| sets.iter().map(move |set| (tanks.clone(), set.clone()));
        let all = choices(&tanks, self.nominal.phases()).into_iter();
        all.filter(|tanks| keep(tanks)).flat_map(each).collect()
    }

    /// Those of the groups that pass in one of the orders, by rising sharing error.
    fn passing_groups(
        &self,
        mut open: Vec<Group>,
        orders: &[Vec<usize>],
    ) -> Option<Vec<PlannedConverter>> {
        let mut found = Vec::new();
        for order in orders {
            let ordered = |tanks: &[usize]| order.iter().map(|n| tanks[*n]).collect::<Vec<_>>();
            let converters: Vec<Converter> =
                open.iter().map(|(tanks, set)| self.converter(&ordered(tanks), set)).collect();
            let mut failing = Vec::new();
            for ((tanks, capacitors), judged) in
                open.into_iter().zip(self.judge.evaluate(&converters)?)
            {
                if judged.passes {
                    found.push(PlannedConverter {
                        tanks: ordered(&tanks),
                        capacitors,
                        evaluation: judged,
                    });
                } else {
                    failing.push((tanks, capacitors));
                }
            }
            open = failing;
        }
        found.sort_by(|a, b| a.evaluation.order().total_cmp(&b.evaluation.order()));
        Some(found)
    }

    /// Builds a part of the list and spare tanks anew from groups that pass, if more of them share no
    /// part than pass now. Whether no other choice of the groups passes more.
    fn take(
        &self,
        list: &mut [PlannedConverter],
        (part, spare): (&[usize], &[usize]),
        groups: &[PlannedConverter],
        patience: usize,
    ) -> Option<bool> {
        // A set of capacitors is told by its first; tanks come before all of them.
        let items = |build: &PlannedConverter| {
            let set = build.capacitors.first().map(|first| self.stock.tanks.len() + first);
            build.tanks.iter().copied().chain(set).collect::<Vec<usize>>()
        };
        let items: Vec<Vec<usize>> = groups.iter().map(items).collect();
        let packing = pack(&items, (self.nominal.phases(), part.len()), patience);
        let before = part.iter().filter(|n| list[**n].evaluation.passes).count();
        if packing.chosen.len() > before {
            let mut taken: Vec<PlannedConverter> =
                packing.chosen.iter().map(|n| groups[*n].clone()).collect();
            let given: Vec<PlannedConverter> = part.iter().map(|n| list[*n].clone()).collect();
            taken.extend(self.of_the_rest(&taken, &given, spare)?);
            for (place, build) in part.iter().zip(taken) {
                list[*place] = build;
            }
        }
        Some(packing.proven)
    }

    /// As many converters as are missing, made of parts that are given and not yet taken.
    fn of_the_rest(
        &self,
        taken: &[PlannedConverter],
        given: &[PlannedConverter],
        spare: &[usize],
    ) -> Option<Vec<PlannedConverter>> {
        let free = |n: &usize| taken.iter().all(|build| !build.tanks.contains(n));
        let tanks = given.iter().flat_map(|build| &build.tanks).chain(spare).copied().filter(free);
        let tanks: Vec<usize> = tanks.collect();
        let free = |n: &usize| taken.iter().all(|build| !build.capacitors.contains(n));
        let capacitors = given.iter().flat_map(|build| &build.capacitors).copied().filter(free);
        let groups = tanks.chunks_exact(self.nominal.phases()).map(<[usize]>::to_vec);
        let missing = given.len() - taken.len();
        self.judge_all(&groups.take(missing).collect(), &capacitors.collect::<Vec<_>>())
    }
}

/// All choices of `size` of these, in the order in which they stand.
fn choices(from: &[usize], size: usize) -> Vec<Vec<usize>> {
    if size == 0 {
        return vec![Vec::new()];
    }
    let Some((first, rest)) = from.split_first() else { return Vec::new() };
    let with = choices(rest, size - 1).into_iter().map(|group| [vec![*first], group].concat());
    with.chain(choices(rest, size)).collect()
}

/// All orders of these.
fn orders(of: &[usize]) -> Vec<Vec<usize>> {
    let Some((first, rest)) = of.split_first() else { return vec![Vec::new()] };
    let longer = |order: Vec<usize>| {
        (0..=order.len()).map(move |at| [&order[..at], &[*first], &order[at..]].concat())
    };
    orders(rest).into_iter().flat_map(longer).collect()
}
