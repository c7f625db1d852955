//! A trial against the whole run: the same converters pass.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]

use std::sync::atomic::AtomicBool;

use fairphase::converter::Arrangement;
use fairphase::engine::Batch;
use fairphase::scenario::Scenario;
use fairphase::solver::Case;
use fairphase::solver::Method;
use fairphase::study::common::figures::Figure;
use fairphase::study::common::settings::Settings;
use fairphase::study::common::trial::{Entry, trial, trials};
use fairphase::study::run::{Watcher, run};

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
        Scenario::parse("shelf", include_str!("../../scenarios/telecom-shelf.toml")).unwrap();
    let settings = Settings { samples: 3000, seed: 5, method: Method::Exact, threads: 0 };
    let stop = AtomicBool::new(false);
    let whole = run(&scenario, settings, &stop, &mut Nobody).unwrap();
    let entries =
        Arrangement::ALL.map(|arrangement| Entry { tolerances: scenario.tolerances, arrangement });
    let both = trials(&scenario, &entries, settings, &stop, |_| ()).unwrap();
    assert!(!both.interrupted);
    for (slot, entry) in entries.into_iter().enumerate() {
        let alone = trial(&scenario, entry, settings, &stop).unwrap();
        let joint = &whole.joint[slot];
        assert_eq!(joint.arrangement, entry.arrangement);
        assert_eq!((alone.good, alone.samples), (joint.good.successes, 3000));
        assert!(alone.binding.is_some() && alone.binding == joint.binding);
        assert_eq!(alone, both.each[slot]);
    }
}

/// Samples that one arrangement passes and the other misses, sample by sample, for batches of any
/// size: many entries make small ones.
#[test]
fn pairs_are_those_of_a_run() {
    let scenario =
        Scenario::parse("shelf", include_str!("../../scenarios/telecom-shelf.toml")).unwrap();
    let settings = Settings { samples: 2500, seed: 5, method: Method::Averaged, threads: 0 };
    let stop = AtomicBool::new(false);
    let mut flags = PerSample::default();
    run(&scenario, settings, &stop, &mut flags).unwrap();
    let chain_alone = flags.0.iter().filter(|[chain, plain]| *chain && !*plain).count() as u64;
    assert!(chain_alone > 100, "{chain_alone}");
    let of = |arrangement| Entry { tolerances: scenario.tolerances, arrangement };
    let mut entries = vec![of(Arrangement::Chain), of(Arrangement::Paralleled)];
    for copies in [0, 40] {
        entries.extend(vec![of(Arrangement::Chain); copies]);
        let mut told = 0;
        let all = trials(&scenario, &entries, settings, &stop, |n| told += n).unwrap();
        let counts = all.pairs.counts(0, 1);
        assert_eq!((counts.first, counts.trials(), told), (chain_alone, 2500, 2500));
        assert_eq!(counts.both + counts.first, all.each[0].good);
    }
}

/// Whether every sample passes in the chain, and paralleled, from the cases of a run.
#[derive(Default)]
struct PerSample(Vec<[bool; 2]>, Vec<Arrangement>);

impl Watcher for PerSample {
    fn begin(&mut self, cases: &[Case], _: &[Figure]) -> anyhow::Result<()> {
        self.1 = cases.iter().map(|case| case.arrangement).collect();
        Ok(())
    }

    fn batch(&mut self, batch: &Batch, meets: &dyn Fn(usize, usize) -> bool) -> anyhow::Result<()> {
        for n in 0..batch.len() {
            let of = |a| (0..self.1.len()).filter(|c| self.1[*c] == a).all(|c| meets(n, c));
            self.0.push(Arrangement::ALL.map(of));
        }
        Ok(())
    }
}
