//! Measured parts in stock, allotted to converters.

use crate::report::format::numbers::decimals;
use crate::report::grades::words;
use crate::study::allocation::{PassingRange, REPEATS, StockAllocation};

/// Converters that fail and are listed at most.
const LISTED: usize = 8;

/// How many converters pass, by the way of allotting the tanks.
pub(super) fn allocation(StockAllocation { stock, allocation }: &StockAllocation) -> String {
    let Some(found) = allocation else {
        return "Stock: interrupted before the tanks were allotted.\n\n".into();
    };
    let PassingRange { mean, least, most } = found.at_random;
    let by_then = if found.partial { ", by the interruption" } else { "" };
    let proof = if found.proven { " (no other list passes more: proven)" } else { "" };
    let text = format!(
        "Stock: {} tanks make {} converters. Passing converters{by_then}:\n  \
         allotted as in build_list.csv   {:>5}{proof}\n  \
         sorted by resonance             {:>5}\n  \
         at random, mean of {REPEATS} draws   {:>7} ({least} to {most})\n{}\n",
        stock.tanks.len(),
        found.converters,
        found.allocated,
        found.sorted,
        decimals(mean, 1),
        words::bottleneck(found),
    );
    let mended = found.rejected.iter().take(LISTED).enumerate().map(|(n, own)| {
        format!("  converter {}: {}\n", found.build_list.len() + n + 1, words::mend(stock, own))
    });
    let heading = if found.rejected.is_empty() { "" } else { "What would mend those that fail:\n" };
    let more = match found.rejected.len().saturating_sub(LISTED) {
        0 => String::new(),
        more => format!("  and {more} more, listed in not_passing.csv\n"),
    };
    text + heading + &mended.collect::<String>() + &more + "\n"
}
