//! The worst case of limited figures: the search of the tolerance box against closed forms and all
//! corners, the root-sum-square value against closed forms, and what holds on every demonstration.

use std::sync::atomic::AtomicBool;

use fairphase::converter::{Arrangement, Parameter};
use fairphase::population::Population;
use fairphase::scenario::{Scenario, Tolerance};
use fairphase::solver::Method;
use fairphase::study::common::progress::Silent;
use fairphase::study::common::session::Session;
use fairphase::study::common::settings::Settings;
use fairphase::study::explanation::worst_case::{
    BoxFigure, LocalMaximum, SearchStart, Sensitivities, ToleranceBox, WorstCase, local_maxima,
};
use fairphase::study::explanation::{Explained, KeptSamples, explain};
use fairphase::study::run::{Run, SampleSize, run};

/// A stand-in for a converter: components by a formula, and a limit on how often it is asked.
struct Formula<F> {
    components: F,
    asked: usize,
    most: usize,
}

impl<F: Fn(&[f64]) -> Vec<f64>> Formula<F> {
    fn new(components: F) -> Self {
        Self { components, asked: 0, most: 10_000 }
    }
}

impl<F: Fn(&[f64]) -> Vec<f64>> BoxFigure for Formula<F> {
    fn components(&mut self, point: &[f64]) -> Option<Vec<f64>> {
        self.asked += 1;
        let components = (self.components)(point);
        components.iter().all(|x| x.is_finite()).then_some(components)
    }

    fn is_spent(&self) -> bool {
        self.asked >= self.most
    }
}

/// The largest value found from the corners that the sensitivities point to.
fn largest<F: Fn(&[f64]) -> Vec<f64>>(coordinates: usize, components: F) -> LocalMaximum {
    let mut formula = Formula::new(components);
    let sensitivities = Sensitivities::new(&mut formula, coordinates).unwrap();
    local_maxima(&mut formula, &sensitivities.corners()).swap_remove(0)
}

/// Resonance of Lr and Cr, each ±5 %: extreme values −4.762 % and +5.263 %, root-sum-square ±3.536 %
/// (closed forms 1/1.05 − 1, 1/0.95 − 1, 5 %/√2; recomputed with a general numerical library).
#[test]
fn a_resonance_by_its_closed_form() {
    let resonance = |x: &[f64]| 1.0 / ((1.0 + 0.05 * x[0]) * (1.0 + 0.05 * x[1])).sqrt() - 1.0;
    let highest = largest(2, |x| vec![resonance(x)]);
    assert!((highest.value - 0.05263).abs() < 5e-6 && highest.settled, "{highest:?}");
    assert_eq!(highest.point, [-1.0, -1.0]);
    let lowest = largest(2, |x| vec![-resonance(x)]);
    assert!((lowest.value - 0.04762).abs() < 5e-6, "{lowest:?}");
    let both = largest(2, |x| vec![resonance(x), -resonance(x)]);
    assert_eq!(both.value, highest.value, "the farther end counts");

    let mut formula = Formula::new(|x: &[f64]| vec![resonance(x), -resonance(x)]);
    let sensitivities = Sensitivities::new(&mut formula, 2).unwrap();
    let rss = |share: f64| sensitivities.root_sum_square(|i, j| if i == j { 1.0 } else { share });
    assert!((rss(0.0) - 0.03536).abs() < 5e-6, "{}", rss(0.0));
    // Parts that move together add up: 2.5 % each; against each other nothing is left.
    assert!((rss(1.0) - 0.05).abs() < 1e-6 && rss(-1.0).abs() < 1e-6);
    // √(a² + b² + 2 ρ a b), a = b = 2.5 %.
    assert!((rss(0.6) - 0.025 * 3.2_f64.sqrt()).abs() < 1e-6);
}

/// A maximum inside the box, by hand: no corner comes near it.
#[test]
fn a_maximum_inside_is_found_where_corners_are_wrong() {
    let separate = |x: &[f64]| {
        vec![2.0 - (x[0] - 0.3).powi(2) - 0.5 * (x[1] + 0.45).powi(2) + 0.2 * x[2]]
    };
    let found = largest(3, separate);
    assert!((found.value - 2.2).abs() < 1e-6 && found.settled, "{found:?}");
    let best_corner = corners(3).map(|x| separate(&x)[0]).fold(f64::MIN, f64::max);
    assert!(best_corner < 1.6, "{best_corner}");

    // Two coordinates that must move together: the top is at (0.4, 0.2), and (x − y)² pulls.
    let coupled =
        |x: &[f64]| vec![-(x[0] - 0.4).powi(2) - (x[1] - 0.2).powi(2) - 3.0 * (x[0] - 2.0 * x[1]).powi(2)];
    let found = largest(2, coupled);
    assert!(found.value > -1e-6, "{found:?}");

    // A peak with a kink, at 0.7.
    let kink = largest(1, |x| vec![1.0 - (x[0] - 0.7).abs()]);
    assert!(kink.value > 1.0 - 5e-3, "{kink:?}");
}

/// A hidden corner: in the middle every slope points away from it.
#[test]
fn a_start_at_a_sample_leads_to_a_corner_that_slopes_do_not_show() {
    let hidden = |x: &[f64]| {
        let away: f64 = x.iter().map(|x| (x - 1.0).powi(2)).sum();
        vec![-0.1 * x.iter().sum::<f64>(), 8.0 * libm_exp(-2.0 * away)]
    };
    let mut formula = Formula::new(hidden);
    let mut starts = Sensitivities::new(&mut formula, 4).unwrap().corners();
    starts.truncate(1);
    let without = local_maxima(&mut formula, &starts).swap_remove(0);
    assert!((without.value - 0.4).abs() < 1e-12, "{without:?}");
    starts.push(SearchStart { point: vec![0.5; 4], component: None });
    let with = local_maxima(&mut formula, &starts).swap_remove(0);
    assert!((with.value - 8.0).abs() < 1e-9 && with.point == [1.0; 4], "{with:?}");
}

fn libm_exp(x: f64) -> f64 {
    x.exp()
}

/// Points without a value are passed by; where the work ends early, nothing is called settled.
#[test]
fn points_without_a_value_and_spent_work() {
    let half = |x: &[f64]| vec![if x[0] + x[1] > 0.5 { f64::NAN } else { x[0] + 0.9 * x[1] }];
    let mut formula = Formula::new(half);
    let starts = [SearchStart { point: vec![0.0; 2], component: None }];
    let found = local_maxima(&mut formula, &starts);
    assert!(found[0].point[0] + found[0].point[1] <= 0.5 && found[0].value > 0.0);
    let nowhere = [SearchStart { point: vec![1.0; 2], component: None }];
    assert!(local_maxima(&mut formula, &nowhere).is_empty());
    let mut short = Formula::new(|x: &[f64]| vec![x.iter().sum()]);
    short.most = 12;
    let found = local_maxima(&mut short, &[SearchStart { point: vec![0.0; 9], component: None }]);
    assert!(!found[0].settled && found[0].value > 0.0 && short.asked <= 12);
}

/// All corners of a box.
fn corners(coordinates: usize) -> impl Iterator<Item = Vec<f64>> {
    (0_u32..1 << coordinates).map(move |bits| {
        (0..coordinates).map(|n| if bits >> n & 1 == 1 { 1.0 } else { -1.0 }).collect()
    })
}

/// A run and its worst cases.
struct Studied {
    scenario: Scenario,
    run: Run,
    worst_cases: Vec<WorstCase>,
}

fn studied(scenario: Scenario, samples: u64, method: Method) -> Studied {
    let settings = Settings { samples, seed: scenario.run.seed, method, threads: 0 };
    let stop = AtomicBool::new(false);
    let session = Session::new(&scenario, settings, &stop).unwrap();
    let (size, mut kept) = (SampleSize::Fixed(samples), KeptSamples::default());
    let run = run(&session, settings.seed.into(), size, &mut kept, &mut Silent).unwrap();
    let begin = std::time::Instant::now();
    let explained = Explained { session: &session, run: &run, kept: &kept };
    let worst_cases = explain(explained, &mut Silent).unwrap().worst_cases.unwrap();
    eprintln!("{:?}", begin.elapsed());
    drop(session);
    Studied { scenario, run, worst_cases }
}

fn demo(text: &str) -> Scenario {
    Scenario::parse("demo.toml", text).unwrap()
}

const SHELF: &str = include_str!("../../scenarios/telecom-shelf.toml");
const PUMP: &str = include_str!("../../scenarios/pump-drive.toml");
const SUPPLY: &str = include_str!("../../scenarios/electrolyser-supply.toml");
const RUNWAY: &str = include_str!("../../scenarios/runway-lights.toml");
const LAMPS: &str = include_str!("../../scenarios/greenhouse-lamps.toml");

#[test]
fn look() {
    for (text, method) in [(SHELF, Method::Exact), (PUMP, Method::Exact), (SUPPLY, Method::Exact), (SHELF, Method::Averaged)] {
        let Studied { run, worst_cases, .. } = studied(demo(text), 2000, method);
        for w in &worst_cases {
            let result = &run.cases[w.case];
            let e = w.extreme.as_ref();
            println!(
                "{:22} {:10} {:30} lim {:8.4} nom {:8.4} rss {:8.4} tol {:8.4} max {:8.4} ext {:8.4} {:?} {:?} {:?} {}",
                result.operating_point(), result.arrangement().name(), w.figure.name(), w.limit, w.nominal,
                w.root_sum_square.unwrap_or(f64::NAN), w.tolerance_limit().unwrap_or(f64::NAN),
                w.largest_sample.map_or(f64::NAN, |e| e.value), e.map_or(f64::NAN, |e| e.value),
                e.map(|e| e.settled), e.map(|e| e.at_ends), w.counts, w.unsolved.is_some(),
            );
        }
    }
}
