//! Figures over all operating points together, against the same samples counted one by one.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]

use std::sync::atomic::AtomicBool;

use fairphase::converter::Arrangement;
use fairphase::engine::{Batch, Status};
use fairphase::scenario::Scenario;
use fairphase::solver::{Case, Method};
use fairphase::statistics::{QuantileEnd, Verdict};
use fairphase::study::common::figures::Figure;
use fairphase::study::common::progress::Silent;
use fairphase::study::common::session::Session;
use fairphase::study::common::settings::Settings;
use fairphase::study::run::{Run, SampleSink, SampleSize, run};

/// Sharing error of every sample in every case, NaN where it is not solved, and whether it meets all
/// demands there.
#[derive(Default)]
struct Errors {
    cases: Vec<Case>,
    column: usize,
    samples: Vec<Vec<(f64, bool)>>,
}

impl SampleSink for Errors {
    fn begin(&mut self, cases: &[Case], figures: &[Figure]) -> anyhow::Result<()> {
        self.cases = cases.to_vec();
        self.column = figures.iter().position(|f| matches!(f, Figure::SharingError(_))).unwrap();
        Ok(())
    }

    fn take(
        &mut self,
        batch: &Batch,
        samples: usize,
        meets: &dyn Fn(usize, usize) -> bool,
    ) -> anyhow::Result<()> {
        let value = |n: usize, case: usize| {
            let row = batch.row(n, case);
            if row.status == Status::Solved { row.figures[self.column] } else { f64::NAN }
        };
        let of = |n: usize| (0..self.cases.len()).map(|c| (value(n, c), meets(n, c))).collect();
        self.samples.extend((0..samples).map(of));
        Ok(())
    }
}

impl Errors {
    /// Of every sample the largest error over the points of an arrangement, and whether it is good.
    fn largest(&self, arrangement: Arrangement) -> Vec<(f64, bool)> {
        let own = |c: &usize| self.cases[*c].arrangement == arrangement;
        let cases: Vec<usize> = (0..self.cases.len()).filter(own).collect();
        let of = |sample: &Vec<(f64, bool)>| {
            let unsolved = cases.iter().any(|c| sample[*c].0.is_nan());
            let most = cases.iter().map(|c| sample[*c].0).fold(0.0, f64::max);
            let most = if unsolved { f64::INFINITY } else { most };
            (most, cases.iter().all(|c| sample[*c].1))
        };
        self.samples.iter().map(of).collect()
    }
}

fn made(text: &str, samples: u64) -> (Scenario, Run, Errors) {
    let scenario = Scenario::parse("a scenario", text).unwrap();
    let settings = Settings { samples, seed: 5, method: Method::Averaged, threads: 0 };
    let stop = AtomicBool::new(false);
    let session = Session::new(&scenario, settings, &stop).unwrap();
    let mut errors = Errors::default();
    let size = SampleSize::Fixed(samples);
    let found = run(&session, 5.into(), size, &mut errors, &mut Silent).unwrap();
    drop(session);
    (scenario, found, errors)
}

/// The frequency band is narrowed so that some converters are out of range.
#[test]
fn the_largest_over_all_points_are_those_of_the_samples() {
    let shelf = include_str!("../../scenarios/telecom-shelf.toml");
    let narrow = shelf.replacen("90 kHz", "131.5 kHz", 1);
    assert_ne!(narrow, shelf);
    for text in [shelf, &narrow] {
        let (scenario, run, errors) = made(text, 3000);
        let limit = scenario.limits.sharing_error.unwrap();
        for own in &run.over_points.as_ref().unwrap().over_points {
            let samples = errors.largest(own.arrangement);
            let over = samples.iter().filter(|(most, _)| *most > limit).count() as u64;
            assert_eq!(own.over_limit, Some(over));
            let figures = own.largest[0].key_figures.unwrap();
            let mut sorted: Vec<f64> = samples.iter().map(|(most, _)| *most).collect();
            sorted.sort_by(f64::total_cmp);
            assert_eq!(figures.p50, Some(sorted[1499]).filter(|most| most.is_finite()));
            let unsolved = sorted.iter().filter(|most| most.is_infinite()).count() as u64;
            assert_eq!((figures.count, figures.not_finite), (3000 - unsolved, unsolved));
            let histogram = own.histogram.as_ref().unwrap();
            let binned: u64 = histogram.counts.iter().sum();
            assert_eq!(binned + histogram.below + histogram.above, 3000 - unsolved);
        }
        let unsolved = run.totals(Arrangement::Chain)[1];
        assert_eq!(unsolved > 0, text != shelf, "{unsolved}");
    }
}

/// More samples than are kept one by one, with a limit where they crowd: what is told at the limit itself is counted,
/// over all points and in each.
#[test]
fn counts_at_the_limit_are_exact_for_any_number_of_samples() {
    let shelf = include_str!("../../scenarios/telecom-shelf.toml");
    let text = shelf.replacen("sharing_error = \"2.5 %\"", "sharing_error = \"0.95 %\"", 1);
    assert_ne!(text, shelf);
    let (scenario, run, errors) = made(&text, 40_000);
    let limit = scenario.limits.sharing_error.unwrap();
    for (own, joint) in run.over_points.as_ref().unwrap().over_points.iter().zip(&run.joint) {
        let samples = errors.largest(own.arrangement);
        let over = samples.iter().filter(|(most, _)| *most > limit).count() as u64;
        assert_eq!(own.over_limit, Some(over));
        assert!(joint.good.successes + over <= 40_000);
        let at_limit = own.curve.iter().find(|point| point.limit >= limit).unwrap();
        assert_eq!(at_limit.good, joint.good);
    }
    for (case, found) in run.cases.iter().enumerate() {
        let within = errors.samples.iter().filter(|own| own[case].0 <= limit).count() as u64;
        let at_limit = found.curve.iter().find(|point| point.limit >= limit).unwrap();
        assert_eq!(at_limit.good.successes, within, "case {case}");
    }
}

/// The yield at the scenario's limit is the joint yield; at others it is that of a scenario with such a
/// limit, and the verdict changes where the required limit says.
#[test]
fn the_curve_is_the_joint_yield_at_other_limits() {
    let shelf = include_str!("../../scenarios/telecom-shelf.toml");
    let (scenario, run, _) = made(shelf, 2000);
    let limit = scenario.limits.sharing_error.unwrap();
    let chain = &run.over_points.as_ref().unwrap().over_points[0];
    let good = |limit: f64| chain.curve.iter().find(|p| p.limit >= limit).unwrap().good.successes;
    assert_eq!(good(limit), run.joint[0].good.successes);
    let with_limit = |limit: f64| {
        let text = format!("sharing_error = \"{} %\"", 100.0 * limit);
        let other = shelf.replacen("sharing_error = \"2.5 %\"", &text, 1);
        assert_ne!(other, shelf);
        made(&other, 2000).1
    };
    for point in [10, 40, 70].map(|n| chain.curve[n]) {
        let other = with_limit(point.limit);
        assert_eq!(other.joint[0].good.successes, point.good.successes, "{}", point.limit);
    }
    let required = chain.required_limit;
    let [QuantileEnd::Value(pass), QuantileEnd::Value(fail)] = [required.upper, required.lower]
    else {
        panic!("{required:?}")
    };
    assert!(fail < pass);
    let verdict = |limit: f64| with_limit(limit).joint[0].verdict;
    let verdicts = [pass * 1.0001, pass * 0.9999, fail * 1.0001, fail * 0.9999].map(verdict);
    let [pass, open, fail] = [Verdict::Pass, Verdict::NotDecided, Verdict::Fail];
    assert_eq!(verdicts, [pass, open, open, fail]);
}
