//! The exact solver on invented designs over the whole plausible space, each answer checked by
//! time stepping of its own. By default a few thousand; see `DEVELOPERS.md` for any number.
#![allow(
    missing_docs,
    unreachable_pub,
    clippy::panic,
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a test"
)]

mod checker;
mod design;
mod slow;
mod tally;
mod verify;

use design::{Design, Scale, Shape};
use fairphase::converter::{
    Arrangement, Converter, Drive, FrequencyBand, OperatingPoint, Rectifier,
};
use fairphase::solver::{Case, Method, Outcome};
use fairphase::units::Hertz;
use rayon::prelude::*;
use slow::{Reached, Slow};
use tally::Tally;

/// Designs of the ordinary test run, and those that are searched through the slow way as well.
const DESIGNS: u64 = 2000;
const SEARCHED: u64 = 24;
/// Ratio of neighbouring frequencies of the slow search; every peak is closed in on besides.
const RATIO: f64 = 1.03;
/// How much more than wanted, relatively, the slow search may find at a frequency above that
/// which was returned, or at one where nothing delivers the output: its own accuracy.
const MARGIN: f64 = 1e-5;

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

/// What the slow search says against an answer; nothing where it agrees. A converter that delivers
/// too much at the highest frequency is out of range by definition.
fn objection(outcome: &Outcome, all: &[Reached]) -> Option<String> {
    let above = match outcome {
        Outcome::Solved(state) => state.switching_frequency.0 * (1.0 + 1e-9),
        Outcome::OutOfRange if all.first().is_some_and(|r| r.delivered >= 1.0) => return None,
        Outcome::OutOfRange => 0.0,
        Outcome::NotSolved(_) => return Some("not solved".into()),
    };
    let most = all
        .iter()
        .filter(|r| r.frequency > above)
        .max_by(|a, b| a.delivered.total_cmp(&b.delivered))?;
    (most.delivered > 1.0 + MARGIN).then(|| format!("{}, but {most:?}", outcome.name()))
}

/// Solved exactly, without a start.
fn solve(
    converter: &Converter,
    point: &OperatingPoint,
    band: FrequencyBand,
    arrangement: Arrangement,
) -> Outcome {
    Method::Exact.solve(converter, &Case::new(point.clone(), band, arrangement))
}

fn search_slowly(number: u64) -> Vec<String> {
    let design = Design::draw(number);
    let (converter, point) = (&design.deviating, &design.point);
    let mut objections = Vec::new();
    for arrangement in Arrangement::ALL {
        let outcome = solve(converter, point, design.band, arrangement);
        let mut band = design.band;
        if let Outcome::Solved(state) = &outcome {
            band.minimum = Hertz(state.switching_frequency.0.min(0.999 * band.maximum.0));
        }
        let slow = Slow::new(converter, point, arrangement);
        let (all, lost) = slow.sweep(&band, RATIO);
        let name = arrangement.name();
        if lost > all.len() / 10 {
            objections.push(format!("{name}: {lost} frequencies could not be settled\n{design}"));
        }
        let most = all.iter().fold(0.0, |most, r| r.delivered.max(most));
        println!(
            "{number} {name}: {}, at most {most:.6}, {lost} of {} unsettled",
            outcome.name(),
            all.len()
        );
        if let Some(text) = objection(&outcome, &all) {
            objections.push(format!("{name}: {text}\n{design}"));
        }
        if let Outcome::Solved(state) = &outcome
            && let Some(delivered) = slow.deliver_at(state.switching_frequency.0)
            && (delivered - 1.0).abs() > 1e-4
        {
            objections.push(format!("{name}: {delivered} of the output\n{design}"));
        }
    }
    objections
}

#[test]
fn no_higher_frequency_delivers_the_output() {
    let (first, count) =
        (number("FAIRPHASE_STRESS_FROM", 0), number("FAIRPHASE_STRESS_SLOW", SEARCHED));
    let objections: Vec<String> =
        (first..first + count).into_par_iter().flat_map_iter(search_slowly).collect();
    assert!(objections.is_empty(), "{}", objections.join("\n"));
}

/// A converter of two slightly unequal phases, Ln = 5, Q = 0.5, gain 1.1, on a band of frequencies
/// that is given by its resonance: the current rises over a peak below it and falls again.
fn over_a_peak(band: (f64, f64)) -> (Converter, OperatingPoint, FrequencyBand) {
    let shape = Shape {
        ln: 5.0,
        q: 0.5,
        gain: 1.1,
        load: 1.0,
        resistance: 0.01,
        flying: 200.0,
        drop: 0.0,
        band,
    };
    let scale = Scale { resonance: 100e3, impedance: 30.0, input: 400.0, output: 48.0 };
    let kind = (Drive::HalfBridge, Rectifier::FullBridge);
    let (mut converter, point, band) = shape.build(2, kind, &scale);
    converter.tanks[0].resonant_inductance.0 *= 1.02;
    (converter, point, band)
}

/// Two frequencies deliver the output. The higher one counts.
#[test]
fn of_two_frequencies_the_higher_is_returned() {
    let (converter, point, band) = over_a_peak((0.3, 2.0));
    for arrangement in Arrangement::ALL {
        let outcome = solve(&converter, &point, band, arrangement);
        let found = outcome.solved().unwrap().switching_frequency.0;
        let (all, _) = Slow::new(&converter, &point, arrangement).sweep(&band, RATIO);
        let crossings: Vec<_> = all
            .windows(2)
            .filter(|w| (w[0].delivered >= 1.0) != (w[1].delivered >= 1.0))
            .map(|w| (w[1].frequency, w[0].frequency))
            .collect();
        assert!(crossings.len() >= 2, "{crossings:?}");
        let (low, high) = crossings[0];
        assert!(found >= low && found <= high, "{found} against {crossings:?}");
    }
}

/// The same in a band narrower than the steps of a search, with the peak inside and too little
/// current at both of its ends.
#[test]
fn a_peak_inside_a_narrow_band_is_seen() {
    let (converter, mut point, band) = over_a_peak((0.3, 2.0));
    for arrangement in Arrangement::ALL {
        let slow = Slow::new(&converter, &point, arrangement);
        let (all, _) = slow.sweep(&band, RATIO);
        let peak = all.iter().max_by(|a, b| a.delivered.total_cmp(&b.delivered)).unwrap();
        let narrow = FrequencyBand {
            minimum: Hertz(0.994 * peak.frequency),
            maximum: Hertz(1.01 * peak.frequency),
        };
        let ends = [narrow.minimum, narrow.maximum].map(|f| slow.deliver_at(f.0).unwrap());
        let wanted = 0.5 * (peak.delivered + ends[0].max(ends[1]));
        let current = point.output_current;
        point.output_current.0 *= wanted;
        let outcome = solve(&converter, &point, narrow, arrangement);
        let found = outcome.solved().unwrap().switching_frequency.0;
        assert!(found > peak.frequency && found < narrow.maximum.0, "{found}, {peak:?}");
        assert!((slow.deliver_at(found).unwrap() / wanted - 1.0).abs() < 1e-6);
        point.output_current = current;
    }
}
