//! Which of many groups to take so that most of them share no item: set packing, solved exactly.
//!
//! Hard in general, and quick on few items. Of the items left, the one in fewest groups is taken by
//! one of them or goes without. A branch ends where even full use of its items would not do better
//! than what was found: items that no chain of groups connects cannot help each other out, so that
//! whole groups are counted in each such component by itself.

/// What was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Packing {
    /// Places of the groups taken.
    pub chosen: Vec<usize>,
    /// Whether no other choice takes more of them.
    pub proven: bool,
}

/// Chooses the most groups that share no item; `most` is a bound on their number known beforehand.
/// Items are numbers from 0 on. The first `size` items of every group are of the kind that the bound
/// counts; those after them only must not be shared. The search gives up when it has looked at
/// `patience` groups.
pub fn pack(groups: &[Vec<usize>], (size, most): (usize, usize), patience: usize) -> Packing {
    let items = groups.iter().flatten().max().map_or(0, |last| last + 1);
    let (best, chosen) = (Vec::new(), Vec::new());
    let mut search = Search { groups, items, size, most, best, chosen, left: patience };
    search.descend((0..groups.len()).collect());
    let proven = search.left > 0 || search.best.len() == most;
    Packing { chosen: search.best, proven }
}

#[derive(Debug)]
struct Search<'a> {
    groups: &'a [Vec<usize>],
    items: usize,
    size: usize,
    most: usize,
    best: Vec<usize>,
    chosen: Vec<usize>,
    /// Groups that may yet be looked at.
    left: usize,
}

impl Search<'_> {
    /// Goes through all choices among the `live` groups, on top of those chosen.
    fn descend(&mut self, mut live: Vec<usize>) {
        loop {
            if self.chosen.len() > self.best.len() {
                self.best.clone_from(&self.chosen);
            }
            self.left = self.left.saturating_sub(live.len());
            let reachable = self.chosen.len() + self.bound(&live);
            if self.left == 0 || reachable.min(self.most) <= self.best.len() {
                return;
            }
            let Some(item) = self.rarest(&live) else { return };
            let groups = self.groups;
            let (with, without): (Vec<usize>, Vec<usize>) =
                live.iter().partition(|g| groups[**g].contains(&item));
            for group in with {
                let apart = |other: &&usize| {
                    groups[**other].iter().all(|item| !groups[group].contains(item))
                };
                self.left = self.left.saturating_sub(without.len());
                self.chosen.push(group);
                self.descend(without.iter().filter(apart).copied().collect());
                self.chosen.pop();
            }
            live = without;
        }
    }

    /// The counted items of a group.
    fn counted(&self, group: usize) -> &[usize] {
        &self.groups[group][..self.size]
    }

    /// The item that fewest of the groups hold.
    fn rarest(&self, live: &[usize]) -> Option<usize> {
        let mut holders = vec![0_usize; self.items];
        for item in live.iter().flat_map(|group| self.counted(*group)) {
            holders[*item] += 1;
        }
        (0..self.items).filter(|item| holders[*item] > 0).min_by_key(|item| holders[*item])
    }

    /// How many groups the items are enough for, component by component.
    fn bound(&self, live: &[usize]) -> usize {
        let mut parent: Vec<usize> = (0..self.items).collect();
        let mut held = vec![false; self.items];
        for group in live {
            let items = self.counted(*group);
            let first = root(&mut parent, items[0]);
            for item in items {
                held[*item] = true;
                let other = root(&mut parent, *item);
                parent[other] = first;
            }
        }
        let mut counts = vec![0; self.items];
        for item in (0..self.items).filter(|item| held[*item]) {
            counts[root(&mut parent, item)] += 1;
        }
        counts.iter().map(|count: &usize| count / self.size).sum()
    }
}

/// The item that stands for the component of `item`; the way there is halved for the next time.
fn root(parent: &mut [usize], mut item: usize) -> usize {
    while parent[item] != item {
        parent[item] = parent[parent[item]];
        item = parent[item];
    }
    item
}
