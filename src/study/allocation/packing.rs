//! Which of many groups to choose so that most of them share no item: set packing, solved exactly.
//!
//! Hard in general, and quick on few items: branch and bound. Of the items left, the one in fewest
//! groups goes to one of them or to none. A branch ends where even full use of its items would not
//! do better than the best choice so far. Items that no chain of groups connects cannot complete each
//! other's groups; therefore the bound counts whole groups in each connected component by itself.

use pathfinding::prelude::separate_components;

/// The groups chosen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Packing {
    /// Indices of the groups chosen.
    pub chosen: Vec<usize>,
    /// Whether no other choice holds more of them.
    pub proven: bool,
}

/// What a packing counts, and where it ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PackingLimits {
    /// The first so many items of every group are of the kind that the bound counts. Those after
    /// them only must not be shared.
    pub counted_items: usize,
    /// A bound on the number of groups that is known beforehand.
    pub most_groups: usize,
    /// The search gives up when it has tried so many groups.
    pub most_tried: usize,
}

/// Chooses the most groups that share no item. Items are numbers from 0 on. `stopped` ends the
/// search early, with the best choice by then.
pub fn pack(groups: &[Vec<usize>], limits: PackingLimits, stopped: &dyn Fn() -> bool) -> Packing {
    let items = groups.iter().flatten().max().map_or(0, |last| last + 1);
    let mut search = PackingSearch {
        groups,
        items,
        limits,
        best: Vec::new(),
        chosen: Vec::new(),
        left: limits.most_tried,
        stopped,
    };
    search.descend((0..groups.len()).collect());
    let proven = search.left > 0 || search.best.len() == limits.most_groups;
    Packing { chosen: search.best, proven }
}

struct PackingSearch<'a> {
    groups: &'a [Vec<usize>],
    items: usize,
    limits: PackingLimits,
    best: Vec<usize>,
    chosen: Vec<usize>,
    /// Groups that may yet be tried.
    left: usize,
    stopped: &'a dyn Fn() -> bool,
}

impl PackingSearch<'_> {
    /// Goes through all choices among the `open` groups, on top of those chosen.
    fn descend(&mut self, mut open: Vec<usize>) {
        loop {
            if self.chosen.len() > self.best.len() {
                self.best.clone_from(&self.chosen);
            }
            self.left = self.left.saturating_sub(open.len());
            if (self.stopped)() {
                self.left = 0;
            }
            let reachable = self.chosen.len() + self.bound(&open);
            if self.left == 0 || reachable.min(self.limits.most_groups) <= self.best.len() {
                return;
            }
            let Some(item) = self.rarest(&open) else { return };
            let groups = self.groups;
            let (with, without): (Vec<usize>, Vec<usize>) =
                open.iter().partition(|g| groups[**g].contains(&item));
            for group in with {
                let disjoint = |other: &&usize| {
                    groups[**other].iter().all(|item| !groups[group].contains(item))
                };
                self.left = self.left.saturating_sub(without.len());
                self.chosen.push(group);
                self.descend(without.iter().filter(disjoint).copied().collect());
                self.chosen.pop();
            }
            open = without;
        }
    }

    /// The counted items of a group.
    fn counted(&self, group: usize) -> &[usize] {
        &self.groups[group][..self.limits.counted_items]
    }

    /// The item that fewest of the groups hold; of equals the first.
    fn rarest(&self, open: &[usize]) -> Option<usize> {
        let mut holders = vec![0_usize; self.items];
        for item in open.iter().flat_map(|group| self.counted(*group)) {
            holders[*item] += 1;
        }
        (0..self.items).filter(|item| holders[*item] > 0).min_by_key(|item| holders[*item])
    }

    /// How many groups the items are enough for, component by component.
    fn bound(&self, open: &[usize]) -> usize {
        let groups: Vec<Vec<usize>> = open.iter().map(|g| self.counted(*g).to_vec()).collect();
        let (component_of_item, _) = separate_components(&groups);
        let items_of_components = component_of_item.values().fold(
            vec![0_usize; groups.len()],
            |mut counts, component| {
                counts[*component] += 1;
                counts
            },
        );
        items_of_components.iter().map(|items| items / self.limits.counted_items).sum()
    }
}
