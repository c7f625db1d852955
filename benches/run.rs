//! Time of a whole study without files, one operating point, both arrangements; the items are
//! samples. `cargo bench --bench run`
#![allow(missing_docs, clippy::unwrap_used, reason = "a bench")]

use std::sync::atomic::AtomicBool;

use divan::{Bencher, counter::ItemsCount};
use fairphase::scenario::Scenario;
use fairphase::solver::Method;
use fairphase::study::common::progress::Silent;
use fairphase::study::common::session::Session;
use fairphase::study::common::settings::Settings;
use fairphase::study::run::{NoSink, SampleSize, run};

fn main() {
    divan::main();
}

fn study(bencher: Bencher, method: Method, samples: u64, threads: usize) {
    let text = include_str!("../scenarios/telecom-shelf.toml");
    let mut scenario = Scenario::parse("bench", text).unwrap();
    scenario.operating_points.truncate(1);
    let settings = Settings { samples, seed: 1, method, threads };
    let stop = AtomicBool::new(false);
    bencher.counter(ItemsCount::new(samples)).bench_local(|| {
        let session = Session::new(&scenario, settings, &stop).unwrap();
        let size = SampleSize::Fixed(settings.samples);
        run(&session, settings.seed.into(), size, &mut NoSink, &mut Silent).unwrap()
    });
}

#[divan::bench(args = [1, 2], sample_count = 10)]
fn exact(bencher: Bencher, threads: usize) {
    study(bencher, Method::Exact, 20_480, threads);
}

#[divan::bench(args = [1, 2], sample_count = 10)]
fn averaged(bencher: Bencher, threads: usize) {
    study(bencher, Method::Averaged, 102_400, threads);
}
