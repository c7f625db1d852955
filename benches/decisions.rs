//! Time of whole decisions without files, each verb on its demo with few samples; the items are samples.
//! `cargo bench --bench decisions`
#![allow(missing_docs, clippy::unwrap_used, reason = "a bench")]

use std::sync::atomic::AtomicBool;

use divan::Bencher;
use divan::counter::ItemsCount;
use fairphase::scenario::Scenario;
use fairphase::solver::Method;
use fairphase::study::bands::bands as find_bands;
use fairphase::study::common::progress::Silent;
use fairphase::study::common::session::Session;
use fairphase::study::common::settings::Settings;
use fairphase::study::grades::grades as compare_grades;
use fairphase::study::sensors::sensors as compare_sensors;

const SAMPLES: u64 = 1000;

fn main() {
    divan::main();
}

fn decide(bencher: Bencher, text: &str, decision: impl Fn(&Scenario, Settings, &AtomicBool)) {
    let scenario = Scenario::parse("bench", text).unwrap();
    let settings = Settings { samples: SAMPLES, seed: 1, method: Method::Exact, threads: 1 };
    let stop = AtomicBool::new(false);
    let bencher = bencher.counter(ItemsCount::new(SAMPLES));
    bencher.bench_local(|| decision(&scenario, settings, &stop));
}

#[divan::bench(sample_count = 9, sample_size = 1)]
fn bands(bencher: Bencher) {
    let text = include_str!("../scenarios/runway-lights.toml");
    decide(bencher, text, |scenario, settings, stop| {
        find_bands(scenario, settings, stop, &mut Silent).unwrap();
    });
}

#[divan::bench(sample_count = 9, sample_size = 1)]
fn grades(bencher: Bencher) {
    let text = include_str!("../scenarios/seabed-node.toml");
    decide(bencher, text, |scenario, settings, stop| {
        let session = Session::new(scenario, settings, stop).unwrap().for_many_samples();
        compare_grades(&session, scenario.grades.as_ref().unwrap(), &mut Silent).unwrap();
    });
}

#[divan::bench(sample_count = 9, sample_size = 1)]
fn sensors(bencher: Bencher) {
    let text = include_str!("../scenarios/greenhouse-lamps.toml");
    decide(bencher, text, |scenario, settings, stop| {
        let request = scenario.sensors.as_ref().unwrap();
        compare_sensors(scenario, request, settings, stop, &mut Silent).unwrap();
    });
}
