//! Measured parts in stock, allotted to converters.

use crate::report::format::blocks;
use crate::report::format::numbers::{counted, decimals};
use crate::report::format::screen::headed;
use crate::report::grades::words;
use crate::study::allocation::{Allocation, PassingRange, REPEATS, Stock, StockAllocation};

/// Characters of a bar for all converters that the stock makes.
const BAR: u32 = 20;

/// How many converters pass, by the way of allotting the tanks; of those that fail so many are listed with
/// what would mend them.
pub(super) fn allocation(stocked: &StockAllocation, most: usize) -> String {
    let StockAllocation { stock, allocation } = stocked;
    let Some(found) = allocation else {
        return "Stock: interrupted before the tanks were allotted.\n".into();
    };
    let PassingRange { mean, least, most: most_at_random } = found.at_random;
    let by_then = if found.partial { ", by the interruption" } else { "" };
    let proof = if found.proven { "No other list passes more: proven.\n" } else { "" };
    let bar = |passing: f64| blocks::bar(passing / found.converters as f64, BAR);
    let text = format!(
        "Stock: {} make {}. Passing converters{by_then}:\n\
         allotted as in build_list.csv {:>5} {}\n\
         sorted by resonance           {:>5} {}\n\
         at random, {REPEATS} draws, mean    {:>5} {} ({least} to {most_at_random})\n{proof}{}\n",
        counted(stock.tanks.len() as u64, "tank"),
        counted(found.converters as u64, "converter"),
        found.allocated,
        bar(found.allocated as f64),
        found.sorted,
        bar(found.sorted as f64),
        decimals(mean, 1),
        bar(mean),
        words::bottleneck(found),
    );
    text + &mends(stock, found, most)
}

/// What would mend each converter that fails.
pub(super) fn mended(StockAllocation { stock, allocation }: &StockAllocation) -> String {
    allocation.as_ref().map_or_else(String::new, |found| mends(stock, found, usize::MAX))
}

fn mends(stock: &Stock, found: &Allocation, most: usize) -> String {
    let lines: Vec<String> = found
        .rejected
        .iter()
        .enumerate()
        .map(|(n, own)| {
            format!("converter {}: {}", found.build_list.len() + n + 1, words::mend(stock, own))
        })
        .collect();
    headed("What would mend those that fail:", &lines, most)
}
