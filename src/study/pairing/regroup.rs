//! The best grouping of few tanks: every group of them is judged in every order, until it passes in
//! one, and of those that pass the most that share no tank are taken ([`pack`]).
//!
//! Small stocks are regrouped whole, which proves that no other list passes more. Of larger ones,
//! each converter that fails is regrouped with the converters and spare tanks that are most like it.

use super::packing::pack;
use super::search::spare_tanks;
use super::{Bench, Build, Surrogate, passing};
use crate::converter::Converter;

/// Ordered groups that are judged at most to regroup a whole stock.
const WHOLE: usize = 30_000;
/// Those to regroup a part of a stock.
const PART: usize = 3_000;
/// Those of all parts together.
const ALL_PARTS: usize = 200_000;

impl Bench<'_> {
    /// Makes more converters of the list pass, where regrouping does. Whether no other list passes
    /// more; nothing when the user asked to stop.
    pub(super) fn regroup(&self, list: &mut [Build], surrogate: &Surrogate) -> Option<bool> {
        if passing(list) == list.len() {
            return Some(true);
        }
        let all: Vec<usize> = (0..list.len()).collect();
        let spare = spare_tanks(list, self.stock.tanks.len());
        if self.orders(self.stock.tanks.len(), all.len()) > WHOLE {
            self.regroup_parts(list, surrogate)?;
            return Some(passing(list) == list.len());
        }
        let proven = self.regroup_these(list, &all, &spare)?;
        // Capacitors stay in the sets that they were dealt in.
        let nominal = self.stock.capacitors_file.is_none();
        Some(passing(list) == list.len() || (proven && nominal))
    }

    /// Ordered groups of so many tanks, with each of the sets of capacitors of so many converters.
    fn orders(&self, tanks: usize, converters: usize) -> usize {
        let sets = if self.stock.capacitors_file.is_some() { converters } else { 1 };
        let phases = self.nominal.phases();
        (0..phases).map(|n| tanks.saturating_sub(n)).fold(sets, usize::saturating_mul)
    }

    /// Regroups the converters that fail, one after the other, as long as more pass.
    fn regroup_parts(&self, list: &mut [Build], surrogate: &Surrogate) -> Option<()> {
        let mut left = ALL_PARTS;
        loop {
            let before = passing(list);
            for failing in 0..list.len() {
                if list[failing].judged.passes {
                    continue;
                }
                let (part, spare) = self.like(failing, list, surrogate);
                let cost =
                    self.orders(part.len() * self.nominal.phases() + spare.len(), part.len());
                if cost > PART || cost > left {
                    continue;
                }
                left -= cost;
                self.regroup_these(list, &part, &spare)?;
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
        list: &[Build],
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
        spare
            .truncate((0..=phases).rev().find(|n| self.orders(phases + n, 1) <= PART).unwrap_or(0));
        let fits = |n: &usize| self.orders(n * phases + spare.len(), *n) <= PART;
        near.truncate((1..=near.len()).rev().find(fits).unwrap_or(1));
        (near, spare)
    }

    /// Regroups these converters of the list and the tanks in `spare`. Whether no other grouping of
    /// theirs passes more.
    fn regroup_these(&self, list: &mut [Build], part: &[usize], spare: &[usize]) -> Option<bool> {
        let mut tanks: Vec<usize> = part.iter().flat_map(|n| list[*n].tanks.clone()).collect();
        tanks.extend(spare);
        let sets: Vec<Vec<usize>> = part.iter().map(|n| list[*n].capacitors.clone()).collect();
        let listed = self.stock.capacitors_file.is_some();
        let sets = if listed { sets } else { vec![Vec::new()] };
        let groups = self.passing_groups(&tanks, &sets)?;
        // A set of capacitors is told by its first; tanks come before all of them.
        let items = |build: &Build| {
            let set = build.capacitors.first().map(|first| self.stock.tanks.len() + first);
            build.tanks.iter().copied().chain(set).collect::<Vec<usize>>()
        };
        let items: Vec<Vec<usize>> = groups.iter().map(items).collect();
        let packing = pack(&items, self.nominal.phases(), part.len());
        let before = part.iter().filter(|n| list[**n].judged.passes).count();
        if packing.chosen.len() > before {
            let mut taken: Vec<Build> = packing.chosen.iter().map(|n| groups[*n].clone()).collect();
            self.fill_up(&mut taken, &tanks, &sets, part.len())?;
            for (place, build) in part.iter().zip(taken) {
                list[*place] = build;
            }
        }
        Some(packing.proven)
    }

    /// All groups of these tanks that pass in some order with one of the sets of capacitors, by
    /// rising sharing error.
    fn passing_groups(&self, tanks: &[usize], sets: &[Vec<usize>]) -> Option<Vec<Build>> {
        let phases: Vec<usize> = (0..self.nominal.phases()).collect();
        let each = |group: Vec<usize>| sets.iter().map(move |set| (group.clone(), set));
        let mut open: Vec<_> = groups(tanks, phases.len()).into_iter().flat_map(each).collect();
        let mut found = Vec::new();
        for order in orders(&phases) {
            let ordered = |group: &[usize]| order.iter().map(|n| group[*n]).collect::<Vec<_>>();
            let converters: Vec<Converter> =
                open.iter().map(|(group, set)| self.converter(&ordered(group), set)).collect();
            let mut failing = Vec::new();
            for ((group, set), judged) in open.into_iter().zip(self.judge.judge(&converters)?) {
                if judged.passes {
                    found.push(Build { tanks: ordered(&group), capacitors: set.clone(), judged });
                } else {
                    failing.push((group, set));
                }
            }
            open = failing;
        }
        found.sort_by(|a, b| a.judged.order().total_cmp(&b.judged.order()));
        Some(found)
    }

    /// Adds converters made of what is left until there are so many.
    fn fill_up(
        &self,
        list: &mut Vec<Build>,
        tanks: &[usize],
        sets: &[Vec<usize>],
        wanted: usize,
    ) -> Option<()> {
        let left: Vec<usize> =
            tanks.iter().copied().filter(|n| list.iter().all(|b| !b.tanks.contains(n))).collect();
        let free = |set: &&Vec<usize>| set.is_empty() || list.iter().all(|b| b.capacitors != **set);
        let sets: Vec<usize> = sets.iter().filter(free).flatten().copied().collect();
        let groups = left.chunks_exact(self.nominal.phases()).map(<[usize]>::to_vec);
        let rest = self.judge_all(&groups.take(wanted - list.len()).collect(), &sets)?;
        list.extend(rest);
        Some(())
    }
}

/// All choices of `size` of these, in the order in which they stand.
fn groups(from: &[usize], size: usize) -> Vec<Vec<usize>> {
    if size == 0 {
        return vec![Vec::new()];
    }
    let Some((first, rest)) = from.split_first() else { return Vec::new() };
    let with = groups(rest, size - 1).into_iter().map(|group| [vec![*first], group].concat());
    with.chain(groups(rest, size)).collect()
}

/// All orders of these.
fn orders(of: &[usize]) -> Vec<Vec<usize>> {
    let Some((first, rest)) = of.split_first() else { return vec![Vec::new()] };
    let longer = |order: Vec<usize>| {
        (0..=order.len()).map(move |at| [&order[..at], &[*first], &order[at..]].concat())
    };
    orders(rest).into_iter().flat_map(longer).collect()
}
