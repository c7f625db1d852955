//! The exact solver on invented designs over the whole plausible space, each answer checked by
//! time stepping of its own. By default a few thousand; see `DEVELOPERS.md` for any number.
#![allow(missing_docs, unreachable_pub, clippy::panic, clippy::unwrap_used, reason = "a test")]

#[path = "stress/checker.rs"]
mod checker;
#[path = "stress/design.rs"]
mod design;
#[path = "stress/tally.rs"]
mod tally;
#[path = "stress/verify.rs"]
mod verify;

use design::Design;
use rayon::prelude::*;
use tally::Tally;

/// Designs of the ordinary test run.
const DESIGNS: u64 = 2000;

fn number(variable: &str, default: u64) -> u64 {
    match std::env::var(variable) {
        Ok(text) => text.parse().unwrap_or_else(|_| panic!("{variable}={text}: not a number")),
        Err(_) => default,
    }
}

#[test]
fn solved_designs_hold_and_cold_and_warm_answers_agree() {
    let (first, count) = (number("FAIRPHASE_STRESS_FROM", 0), number("FAIRPHASE_STRESS", DESIGNS));
    let tally = (first..first + count)
        .into_par_iter()
        .fold(Tally::default, |mut tally, n| {
            tally.take(&Design::draw(n));
            tally
        })
        .reduce(Tally::default, Tally::merge);
    println!("{tally}");
    assert!(tally.is_accepted(), "{tally}");
}
