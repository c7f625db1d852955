//! A trial against the whole run: the same converters pass, on the samples of a seed and on fresh
//! ones.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]

use std::sync::atomic::AtomicBool;

use fairphase::converter::Arrangement;
use fairphase::engine::Batch;
use fairphase::population::RandomSource;
use fairphase::scenario::Scenario;
use fairphase::solver::{Case, Method};
use fairphase::study::common::figures::Figure;
use fairphase::study::common::progress::{Progress, Silent};
use fairphase::study::common::session::Session;
use fairphase::study::common::settings::{Draws, Settings};
use fairphase::study::common::trials::{ConverterVariant, Solving, paired_trials, trial};
use fairphase::study::run::{NoSink, SampleSink, SampleSize, run};

#[test]
fn a_trial_counts_what_a_run_counts() {
    let scenario =
        Scenario::parse("shelf", include_str!("../../scenarios/telecom-shelf.toml")).unwrap();
    let settings = Settings { samples: 3000, seed: 5, method: Method::Exact, threads: 0 };
    let stop = AtomicBool::new(false);
    let session = Session::new(&scenario, settings, &stop).unwrap();
    let variants = Arrangement::ALL.map(|arrangement| ConverterVariant {
        tolerances: scenario.tolerances.clone(),
        arrangement,
    });
    let seed = RandomSource::from(5);
    for source in [seed, seed.with_stream(3)] {
        let whole =
            run(&session, source, SampleSize::Fixed(3000), &mut NoSink, &mut Silent).unwrap();
        let draws = Draws { source, ..settings.draws() };
        let both =
            paired_trials(&session, &variants, draws, Solving::ToTheEnd, &mut Silent).unwrap();
        assert!(!both.interrupted);
        for (slot, variant) in variants.iter().enumerate() {
            let alone = trial(&session, variant.clone(), draws, Solving::ToTheEnd).unwrap();
            let joint = &whole.joint[slot];
            assert_eq!(joint.arrangement, variant.arrangement);
            assert_eq!((alone.good, alone.samples), (joint.good.successes, 3000));
            assert!(alone.binding.is_some() && alone.binding == joint.binding);
            assert_eq!(alone, both.trials[slot]);
        }
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
    let session = Session::new(&scenario, settings, &stop).unwrap();
    run(&session, 5.into(), SampleSize::Fixed(2500), &mut flags, &mut Silent).unwrap();
    let chain_alone = flags.0.iter().filter(|[chain, plain]| *chain && !*plain).count() as u64;
    assert!(chain_alone > 100, "{chain_alone}");
    let variant =
        |arrangement| ConverterVariant { tolerances: scenario.tolerances.clone(), arrangement };
    let mut variants = vec![variant(Arrangement::Chain), variant(Arrangement::Paralleled)];
    for copies in [0, 40] {
        variants.extend(vec![variant(Arrangement::Chain); copies]);
        let mut told = Told(0);
        let all =
            paired_trials(&session, &variants, settings.draws(), Solving::ToTheEnd, &mut told)
                .unwrap();
        let counts = all.pairs.counts(0, 1);
        assert_eq!((counts.first, counts.trials()), (chain_alone, 2500));
        assert_eq!(told.0, 2500 * variants.len() as u64, "every converter of a sample");
        assert_eq!(counts.both + counts.first, all.trials[0].good);
    }
}

/// Adds up what it is told.
struct Told(u64);

impl Progress for Told {
    fn stage(&mut self, _: &'static str, _: u64) {}

    fn advance(&mut self, units: u64) {
        self.0 += units;
    }

    fn expect(&mut self, _: u64) {}
}

/// Whether every sample passes in the chain, and paralleled, from the cases of a run.
#[derive(Default)]
struct PerSample(Vec<[bool; 2]>, Vec<Arrangement>);

impl SampleSink for PerSample {
    fn begin(&mut self, cases: &[Case], _: &[Figure]) -> anyhow::Result<()> {
        self.1 = cases.iter().map(|case| case.arrangement).collect();
        Ok(())
    }

    fn take(
        &mut self,
        _: &Batch,
        samples: usize,
        meets: &dyn Fn(usize, usize) -> bool,
    ) -> anyhow::Result<()> {
        for n in 0..samples {
            let passes = |a| (0..self.1.len()).filter(|c| self.1[*c] == a).all(|c| meets(n, c));
            self.0.push(Arrangement::ALL.map(passes));
        }
        Ok(())
    }
}
