//! How many samples keep to several limits at once, against closed forms: repeated studies.
//!
//! Values are uniform from 0 to 1, so that the true share that keeps to all limits is their product. Of
//! figures that are the same in each sample the smallest limit counts.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]

use fairphase::statistics::{Confidence, Estimator, HeldOutLimits, HeldOutPlan, Yield};
use rand::{Rng, RngExt, SeedableRng, rngs::ChaCha8Rng};

/// Studies of samples with so many independent figures, then some that are equal.
struct Studies {
    samples: usize,
    target: f64,
    independent: usize,
    equal: usize,
    /// Share of samples without any value.
    failing: f64,
}

#[derive(Default)]
struct Outcomes {
    studies: u32,
    /// Studies that say something.
    told: u32,
    wrong: u32,
    /// Studies whose samples, counted against the limits that they set themselves, say too much.
    flattered: u32,
}

fn estimator() -> Estimator {
    Estimator::Fixed(Confidence::new(0.95).unwrap())
}

impl Studies {
    fn draw(&self, rng: &mut impl Rng) -> Vec<Vec<f64>> {
        let mut figures = vec![Vec::new(); self.independent + self.equal];
        for _ in 0..self.samples {
            let fails = rng.random::<f64>() < self.failing;
            let same: f64 = rng.random();
            for (n, values) in figures.iter_mut().enumerate() {
                let own: f64 = rng.random();
                let value = if n < self.independent { own } else { same };
                values.push(if fails { f64::NAN } else { value });
            }
        }
        figures
    }

    /// The upper end of the interval of a figure's quantile.
    fn limit(&self, values: &[f64]) -> Option<f64> {
        let mut ordered: Vec<f64> =
            values.iter().map(|x| if x.is_nan() { f64::INFINITY } else { *x }).collect();
        ordered.sort_by(f64::total_cmp);
        let rank = estimator().quantile_ranks(values.len() as u64, self.target).upper?;
        Some(ordered[usize::try_from(rank).unwrap() - 1]).filter(|limit| limit.is_finite())
    }

    fn true_share(&self, limits: &[f64]) -> f64 {
        let (independent, equal) = limits.split_at(self.independent);
        let least = equal.iter().copied().fold(1.0, f64::min);
        (1.0 - self.failing) * independent.iter().product::<f64>() * least
    }

    fn run(&self, studies: u32, seed: u64) -> Outcomes {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let plan =
            HeldOutPlan::of_quantiles(self.samples as u64, self.target, &estimator()).unwrap();
        let mut outcomes = Outcomes { studies, ..Outcomes::default() };
        for _ in 0..studies {
            let figures = self.draw(&mut rng);
            let given: Vec<Option<f64>> = figures.iter().map(|own| self.limit(own)).collect();
            let mut held_out = HeldOutLimits::new(plan, figures.len());
            // In batches that do not end where the first samples do.
            for from in (0..self.samples).step_by(77) {
                let to = self.samples.min(from + 77);
                let batch = figures.iter().map(|own| &own[from..to]).collect::<Vec<_>>();
                held_out.take(from as u64, &batch);
            }
            let Some(kept) = held_out.kept(&given, &estimator()).unwrap() else { continue };
            let limits: Vec<f64> = given.into_iter().flatten().collect();
            let truth = self.true_share(&limits);
            outcomes.told += 1;
            outcomes.wrong += u32::from(kept.lower > truth);
            let keeps = |n: &usize| figures.iter().zip(&limits).all(|(own, l)| own[*n] <= *l);
            let all = (0..self.samples).filter(keeps).count() as u64;
            let flattering =
                Yield::new(all, self.samples as u64, estimator().confidence()).unwrap();
            outcomes.flattered += u32::from(flattering.lower > truth);
        }
        outcomes
    }
}

/// Of 2.5 % that may be wrong, four standard errors more. With many figures and few samples beyond each
/// limit, samples that are counted against their own limits say too much in most studies.
#[test]
fn the_share_that_keeps_to_all_limits_is_seldom_said_too_high() {
    let many = Studies { samples: 400, target: 0.99, independent: 40, equal: 0, failing: 0.0 };
    let mixed = Studies { samples: 1000, target: 0.95, independent: 8, equal: 4, failing: 0.01 };
    let few = Studies { samples: 600, target: 0.9, independent: 1, equal: 3, failing: 0.0 };
    for (studies, seed) in [(many, 1), (mixed, 2), (few, 3)] {
        let Outcomes { studies: all, told, wrong, flattered } = studies.run(1000, seed);
        let share = f64::from(wrong) / f64::from(all);
        let permitted = 0.025 + 4.0 * (0.025_f64 * 0.975 / f64::from(all)).sqrt();
        assert!(share <= permitted, "{} figures: {wrong} wrong", studies.independent);
        assert!(f64::from(told) >= 0.98 * f64::from(all), "{told} of {all} say something");
        if studies.independent == 40 {
            assert!(flattered > all / 2, "{flattered} of {all}");
        }
    }
}
