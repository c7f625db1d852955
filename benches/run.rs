//! Time of a whole study without files, one operating point, both arrangements; the items are
//! samples. `cargo bench --bench run`
#![allow(missing_docs, clippy::unwrap_used, reason = "a bench")]

use std::sync::atomic::AtomicBool;

use divan::{Bencher, counter::ItemsCount};
use fairphase::engine::Batch;
use fairphase::scenario::Scenario;
use fairphase::solver::Case;
use fairphase::solver::Method;
use fairphase::study::common::figures::Figure;
use fairphase::study::common::settings::Settings;
use fairphase::study::run::{Watcher, run};

fn main() {
    divan::main();
}

struct Nobody;

impl Watcher for Nobody {
    fn begin(&mut self, _: &[Case], _: &[Figure]) -> anyhow::Result<()> {
        Ok(())
    }

    fn batch(&mut self, _: &Batch, _: &dyn Fn(usize, usize) -> bool) -> anyhow::Result<()> {
        Ok(())
    }
}

fn study(bencher: Bencher, method: Method, samples: u64, threads: usize) {
    let text = include_str!("../scenarios/telecom-shelf.toml");
    let mut scenario = Scenario::parse("bench", text).unwrap();
    scenario.operating_points.truncate(1);
    let settings = Settings { samples, seed: 1, method, threads };
    let stop = AtomicBool::new(false);
    bencher
        .counter(ItemsCount::new(samples))
        .bench_local(|| run(&scenario, settings, &stop, &mut Nobody).unwrap());
}

#[divan::bench(args = [1, 2], sample_count = 10)]
fn exact(bencher: Bencher, threads: usize) {
    study(bencher, Method::Exact, 20_480, threads);
}

#[divan::bench(args = [1, 2], sample_count = 10)]
fn averaged(bencher: Bencher, threads: usize) {
    study(bencher, Method::Averaged, 102_400, threads);
}
