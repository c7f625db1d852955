//! High intervals that falling phases first make a dead time shorter, against chains that were integrated with
//! their dead times apart from this crate (`tests/data/short_high_intervals.json`). Invented designs.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use crate::cases::{converter, number, operating_point};
use fairphase::converter::{Arrangement, FrequencyBand};
use fairphase::solver::{Case, Method, Outcome, high_intervals};
use fairphase::units::{Hertz, Second};
use serde_json::Value;

/// How nodes swing is left out, which moves these currents by up to 0.016 here.
const SWINGS: f64 = 0.02;

#[test]
fn currents_grow_as_in_chains_integrated_with_their_dead_times() {
    let text = include_str!("../data/short_high_intervals.json");
    let file: Value = serde_json::from_str(text).unwrap();
    let cases = file["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 10);
    let band = FrequencyBand { minimum: Hertz(10e3), maximum: Hertz(2e6) };
    for json in cases {
        let (converter, point) = (converter(json), operating_point(json));
        let what = point.name.clone();
        let case = Case::new(point, band, Arrangement::Chain);
        let outcome = Method::Exact.solve(&converter, &case);
        let Outcome::Solved(state) = outcome else { panic!("{what}: {}", outcome.name()) };
        let frequency = number(json, "switching_frequency_Hz");
        assert!((state.switching_frequency.0 / frequency - 1.0).abs() < 2e-4, "{what}: frequency");
        let late = Second(number(json, "dead_time_s"));
        let found = high_intervals(&converter, &case, &state, late).unwrap();
        let [rms, peak] = ["rms_factor", "peak_factor"].map(|key| number(json, key));
        assert!((found.rms - rms).abs() < SWINGS, "{what}: RMS {} {rms}", found.rms);
        assert!((found.peak - peak).abs() < SWINGS, "{what}: peak {} {peak}", found.peak);
        // Without a delay nothing grows.
        let none = high_intervals(&converter, &case, &state, Second(0.0)).unwrap();
        assert!((none.rms - 1.0).abs() < 1e-9 && (none.peak - 1.0).abs() < 1e-9, "{what}");
    }
}
