//! A trial against the whole run: the same converters pass.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]

use std::sync::atomic::AtomicBool;

use fairphase::converter::Arrangement;
use fairphase::engine::{Batch, Case};
use fairphase::scenario::Scenario;
use fairphase::solver::Method;
use fairphase::study::figures::Figure;
use fairphase::study::run::{Settings, Watcher, run};
use fairphase::study::trial::trial;

struct Nobody;

impl Watcher for Nobody {
    fn begin(&mut self, _: &[Case], _: &[Figure]) -> anyhow::Result<()> {
        Ok(())
    }

    fn batch(&mut self, _: &Batch, _: &dyn Fn(usize, usize) -> bool) -> anyhow::Result<()> {
        Ok(())
    }
}

#[test]
fn a_trial_counts_what_a_run_counts() {
    let scenario =
        Scenario::parse("shelf", include_str!("../scenarios/telecom-shelf.toml")).unwrap();
    let settings = Settings { samples: 3000, seed: 5, method: Method::Exact, threads: 0 };
    let stop = AtomicBool::new(false);
    let whole = run(&scenario, settings, &stop, &mut Nobody).unwrap();
    for (slot, arrangement) in Arrangement::ALL.into_iter().enumerate() {
        let alone = trial(&scenario, arrangement, settings, &stop).unwrap();
        let joint = &whole.joint[slot];
        assert_eq!(joint.arrangement, arrangement);
        assert_eq!(alone.good.successes, joint.good.successes);
        assert_eq!(alone.passed.len(), 3000);
        let passed = alone.passed.iter().filter(|p| **p).count();
        assert_eq!(passed as u64, joint.good.successes);
        let (point, demand, missed) = joint.binding.clone().unwrap();
        let binding = alone.binding().unwrap();
        assert_eq!(
            (binding.operating_point, binding.demand, binding.missed),
            (point, demand, missed)
        );
    }
}
