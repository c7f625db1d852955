//! The worst case of limited figures: the search of the tolerance box against closed forms and all
//! corners, the root-sum-square value against closed forms, and what holds on every demonstration.
#![allow(clippy::unwrap_used, reason = "a test")]

use std::sync::atomic::AtomicBool;

use fairphase::converter::{Arrangement, Parameter};
use fairphase::engine::Status;
use fairphase::scenario::{Scenario, Tolerance};
use fairphase::solver::Method;
use fairphase::study::common::figures::Figure;
use fairphase::study::common::progress::Silent;
use fairphase::study::common::session::Session;
use fairphase::study::common::settings::Settings;
use fairphase::study::explanation::worst_case::{
    BoxFigure, FrequencyExtremes, LocalMaximum, SearchStart, Sensitivities, ToleranceBox,
    WorstCase, local_maxima,
};
use fairphase::study::explanation::{Explained, explain, samples_to_keep};
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
    assert_eq!(both.point, highest.point, "the farther end counts");

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
    let separate =
        |x: &[f64]| vec![2.0 - (x[0] - 0.3).powi(2) - 0.5 * (x[1] + 0.45).powi(2) + 0.2 * x[2]];
    let found = largest(3, separate);
    assert!((found.value - 2.2).abs() < 1e-6 && found.settled, "{found:?}");
    let best_corner = corners(3).map(|x| separate(&x)[0]).fold(f64::MIN, f64::max);
    assert!(best_corner < 1.6, "{best_corner}");

    // Two coordinates that must move together: the top is at (0.4, 0.2), and (x − y)² pulls.
    let coupled = |x: &[f64]| {
        vec![-(x[0] - 0.4).powi(2) - (x[1] - 0.2).powi(2) - 3.0 * (x[0] - 2.0 * x[1]).powi(2)]
    };
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
        vec![-0.1 * x.iter().sum::<f64>(), 8.0 * (-2.0 * away).exp()]
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

/// By hand: component k is √2 along (cos θ, sin θ) with θ = 45° − 2° k, so that the first is highest, at (1, 1).
/// Of 62 coordinates two have some influence: 60 are moved in the first sweep, and again at the end of each
/// of three climbs. The other starts then take little.
#[test]
fn coordinates_without_influence_take_little_work() {
    let angle = |k: u32| (45.0 - 2.0 * f64::from(k)).to_radians();
    let components = |x: &[f64]| {
        let rest: f64 = x[2..].iter().sum();
        let own = |k: u32| x[0] * angle(k).cos() + x[1] * angle(k).sin() + 1e-7 * rest;
        (0..8).map(own).collect()
    };
    let mut formula = Formula::new(components);
    let sensitivities = Sensitivities::new(&mut formula, 62).unwrap();
    let before = formula.asked;
    let found = local_maxima(&mut formula, &sensitivities.corners()).swap_remove(0);
    assert_eq!(found.point, [1.0; 62]);
    assert!((found.value - (2.0_f64.sqrt() + 60e-7)).abs() < 1e-12 && found.settled, "{found:?}");
    let asked = formula.asked - before;
    assert!((62..5 * 62).contains(&asked), "{asked}");
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
    frequencies: Vec<FrequencyExtremes>,
}

fn studied(scenario: Scenario, samples: u64, method: Method) -> Studied {
    let settings = Settings { samples, seed: scenario.run.seed, method, threads: 0 };
    let stop = AtomicBool::new(false);
    let session = Session::new(&scenario, settings, &stop).unwrap();
    let (size, mut kept) = (SampleSize::Fixed(samples), samples_to_keep(&scenario));
    let run = run(&session, settings.seed.into(), size, &mut kept, &mut Silent).unwrap();
    let explained = Explained { session: &session, run: &run, kept: &kept };
    let explanation = explain(explained, &mut Silent).unwrap();
    let (worst_cases, frequencies) =
        (explanation.worst_cases.unwrap(), explanation.frequency_extremes);
    drop(session);
    Studied { scenario, run, worst_cases, frequencies }
}

fn demo(text: &str) -> Scenario {
    Scenario::parse("demo.toml", text).unwrap()
}

const SHELF: &str = include_str!("../../scenarios/telecom-shelf.toml");
const PUMP: &str = include_str!("../../scenarios/pump-drive.toml");
const SUPPLY: &str = include_str!("../../scenarios/electrolyser-supply.toml");
const RUNWAY: &str = include_str!("../../scenarios/runway-lights.toml");
const LAMPS: &str = include_str!("../../scenarios/greenhouse-lamps.toml");

const MAGNET: &str = include_str!("../../scenarios/foundry-magnet.toml");

const DEMOS: [&str; 5] = [SHELF, PUMP, SUPPLY, RUNWAY, LAMPS];

/// Two phases of the shelf on two thirds of its bus, in full bridge, at two of its operating points,
/// with every limit: 6 parts a phase and 2 flying capacitors. Invented.
fn two_phases() -> Scenario {
    let text = SHELF
        .replace("phases = 3", "phases = 2")
        .replace("\"380 V\"", "\"253.3 V\"")
        .replace("\"3 kW\"", "\"2 kW\"")
        .replace("\"1.5 kW\"", "\"1 kW\"")
        .replace("\"62.5 A\"", "\"42 A\"");
    let mut scenario = demo(&text);
    scenario
        .operating_points
        .retain(|point| ["full load", "battery low"].contains(&point.name.as_str()));
    scenario
}

impl Studied {
    fn session<'a>(&'a self, stop: &'a AtomicBool) -> Session<'a> {
        Session::new(&self.scenario, self.run.settings, stop).unwrap()
    }

    /// The box of a worst case.
    fn tolerance_box(&self, worst: &WorstCase) -> ToleranceBox {
        let case = &self.run.cases[worst.case].baseline.case;
        let nominal = self.scenario.nominal_converter();
        ToleranceBox::new(&nominal, &self.scenario.tolerances, &case.point, case.arrangement)
    }
}

/// The figure of a worst case at a point of its box; less than any where that is not solved.
fn value(session: &Session, studied: &Studied, worst: &WorstCase, point: &[f64]) -> f64 {
    let case = &studied.run.cases[worst.case].baseline.case;
    let converter = studied.tolerance_box(worst).converter(point);
    let mut row = [f64::NAN];
    session.measurement(&[worst.figure]).take(&converter, case, &mut row);
    if row[0].is_nan() { f64::NEG_INFINITY } else { row[0] }
}

/// No corner is worse than what the search found: all of 2¹¹ to 2¹⁴ corners, by both solvers.
#[test]
fn no_corner_of_a_small_box_is_worse() {
    for (scenario, method) in [
        (demo(PUMP), Method::Exact),
        (two_phases(), Method::Averaged),
        (two_phases(), Method::Exact),
    ] {
        let studied = studied(scenario, 100, method);
        let stop = AtomicBool::new(false);
        let session = studied.session(&stop);
        for worst in &studied.worst_cases {
            let case = &studied.run.cases[worst.case];
            let coordinates = studied.tolerance_box(worst).size();
            let is_short = method == Method::Exact && coordinates > 12;
            if is_short && worst.figure != studied.worst_cases[0].figure {
                continue;
            }
            let all: Vec<Vec<f64>> = corners(coordinates).collect();
            let values = session
                .workers()
                .map(&all, |corner| value(&session, &studied, worst, corner))
                .unwrap();
            let highest = values.into_iter().fold(f64::NEG_INFINITY, f64::max);
            let found = worst.extreme.as_ref().unwrap();
            let name = (case.operating_point(), case.arrangement().name(), worst.figure, method);
            assert!(
                found.value >= highest * (1.0 - 1e-6),
                "{name:?}: {} of {highest}",
                found.value
            );
        }
    }
}

/// The frequencies of all 2¹¹ corners lie between the lowest and the highest found. A band that ends between
/// the highest one and those of all samples is left by a converter that the search meets.
#[test]
fn frequencies_reach_as_far_as_those_of_all_corners() {
    let found = studied(demo(PUMP), 100, Method::Exact);
    let stop = AtomicBool::new(false);
    let session = found.session(&stop);
    for own in &found.frequencies {
        let case = &found.run.cases[own.case].baseline.case;
        let (nominal, tolerances) =
            (found.scenario.nominal_converter(), &found.scenario.tolerances);
        let tolerance_box = ToleranceBox::new(&nominal, tolerances, &case.point, case.arrangement);
        let all: Vec<Vec<f64>> = corners(tolerance_box.size()).collect();
        let frequency = |corner: &Vec<f64>| {
            let mut row = [f64::NAN];
            let converter = tolerance_box.converter(corner);
            session.measurement(&[Figure::SwitchingFrequency]).take(&converter, case, &mut row);
            row[0]
        };
        let values = session.workers().map(&all, frequency).unwrap();
        let [lowest, highest] =
            [&own.lowest, &own.highest].map(|extreme| extreme.as_ref().unwrap().value);
        assert!(own.unsolved.is_none() && lowest < own.nominal && own.nominal < highest);
        for value in values {
            assert!(lowest <= value * (1.0 + 1e-6) && value <= highest * (1.0 + 1e-6), "{value}");
        }
    }
    let highest = found.frequencies.iter().map(|own| own.highest.as_ref().unwrap().value);
    let highest = highest.fold(0.0, f64::max);
    let sampled = (0..found.run.cases.len())
        .map(|case| found.run.key_figures(case, Figure::SwitchingFrequency).unwrap().max)
        .fold(0.0, f64::max);
    let mut narrow = demo(PUMP);
    narrow.frequency.maximum.0 = 0.5 * (highest + sampled);
    let left = studied(narrow, 100, Method::Exact);
    assert!(left.run.cases.iter().all(|case| case.counts == [100, 0, 0]));
    let is_left = |own: &FrequencyExtremes| {
        own.unsolved.as_ref().is_some_and(|unsolved| unsolved.status == Status::OutOfRange)
    };
    assert!(left.frequencies.iter().any(is_left), "{sampled} {highest}");
}

/// One part moved alone, to any of 17 places, makes nothing larger.
#[test]
fn no_single_part_makes_an_extreme_value_larger() {
    let studied = studied(demo(SHELF), 100, Method::Exact);
    let stop = AtomicBool::new(false);
    let session = studied.session(&stop);
    let mut settled = 0;
    for worst in studied.worst_cases.iter().filter(|worst| worst.case < 4) {
        let found = worst.extreme.as_ref().unwrap();
        if !found.settled {
            continue;
        }
        settled += 1;
        let point = studied.tolerance_box(worst).point(&found.converter);
        for coordinate in 0..point.len() {
            for place in (-8..=8).map(|n| f64::from(n) / 8.0) {
                let mut moved = point.clone();
                moved[coordinate] = place;
                let value = value(&session, &studied, worst, &moved);
                assert!(
                    value <= found.value * (1.0 + 1e-5),
                    "{:?} {coordinate} {place}",
                    worst.figure
                );
            }
        }
    }
    assert!(settled >= 12, "{settled} of 16");
}

/// The magnet's supply with parts that neither warm nor age, so that its converters are the same at all operating
/// points, and with so many points that searches are short. Invented.
fn magnet_at_many_points() -> Scenario {
    let [cold, delivered, coefficients, limits] =
        ["[[operating_point]]\nname = \"cold", "# ---- As", "[temperature_coefficient", "[limits]"]
            .map(|place| MAGNET.find(place).unwrap());
    let points = [(430, 4), (430, 3), (425, 4), (425, 3), (415, 4), (410, 4), (410, 3), (400, 4)];
    let further = points.iter().enumerate().map(|(n, (volts, kilowatts))| {
        MAGNET[cold..delivered]
            .replace("cold start", &format!("cold start {n}"))
            .replace("420 V", &format!("{volts} V"))
            .replace("4 kW", &format!("{kilowatts} kW"))
    });
    let further: String = further.collect();
    demo(&format!(
        "{}{further}{}{}",
        &MAGNET[..cold],
        &MAGNET[delivered..coefficients],
        &MAGNET[limits..]
    ))
}

/// What is found at one operating point is not worse at another than what is found there.
#[test]
fn no_extreme_converter_of_one_point_is_worse_at_another() {
    let studied = studied(magnet_at_many_points(), 100, Method::Exact);
    let stop = AtomicBool::new(false);
    let session = studied.session(&stop);
    let arrangement = |worst: &WorstCase| studied.run.cases[worst.case].arrangement();
    let mut compared = 0;
    for worst in &studied.worst_cases {
        let is_like = |other: &&WorstCase| {
            other.figure == worst.figure && arrangement(other) == arrangement(worst)
        };
        let own = worst.extreme.as_ref().unwrap().value;
        let elsewhere = studied.worst_cases.iter().filter(|other| other.case != worst.case);
        for other in elsewhere.filter(is_like) {
            let point =
                studied.tolerance_box(worst).point(&other.extreme.as_ref().unwrap().converter);
            let value = value(&session, &studied, worst, &point);
            // Where a phase barely conducts, the sharing error of one converter differs by up to 6e-5, seen here, with the
            // start of the solver.
            assert!(value <= own * (1.0 + 2e-4), "{worst:?} {other:?} {value}");
            compared += 1;
        }
    }
    assert!(compared > 20, "{compared}");
}

/// On every demonstration: the extreme value is never below the largest sample, which is never below
/// the tolerance limit. In the chain every search settles.
#[test]
fn extreme_values_are_never_below_the_largest_sample() {
    for (text, method) in DEMOS
        .into_iter()
        .map(|text| (text, Method::Exact))
        .chain(DEMOS.into_iter().map(|text| (text, Method::Averaged)))
    {
        let mut scenario = demo(text);
        if method == Method::Averaged {
            // Limits that the exact solver alone can tell.
            scenario.limits.chain.soft_turn_on = None;
            scenario.limits.paralleled.soft_turn_on = None;
            scenario.limits.parts.clear();
        }
        let Studied { run, worst_cases, .. } = studied(scenario, 500, method);
        assert!(!worst_cases.is_empty());
        for worst in &worst_cases {
            let case = &run.cases[worst.case];
            let name = (case.operating_point(), case.arrangement().name(), worst.figure, method);
            let found = worst.extreme.as_ref().unwrap();
            let largest = worst.largest_sample.unwrap().value;
            assert!(found.value >= largest * (1.0 - 1e-9), "{name:?}: {} {largest}", found.value);
            assert!(worst.tolerance_limit.value().is_none_or(|limit| limit <= largest), "{name:?}");
            assert!(worst.root_sum_square.unwrap() >= worst.nominal * (1.0 - 1e-9), "{name:?}");
            let is_chain = case.arrangement() == Arrangement::Chain;
            assert!(found.settled || !is_chain, "{name:?}: {:?}", worst.counts);
        }
    }
}

/// As an engineer would build it by hand: one phase has all its parts at one end or the other, the
/// others have theirs at the opposite ends. Of all 2⁶ such corners the worst is far outside of what was
/// sampled and of the root-sum-square value. The search finds no less.
#[test]
fn a_corner_built_by_hand_is_far_outside_of_the_samples() {
    let studied = studied(demo(SHELF), 2000, Method::Exact);
    let stop = AtomicBool::new(false);
    let session = studied.session(&stop);
    let worst = &studied.worst_cases[0];
    let tolerance_box = studied.tolerance_box(worst);
    // Six parameters of three phases, in the order of the phases, then four flying capacitors.
    assert_eq!(tolerance_box.size(), 22);
    let built = corners(6).map(|signs| {
        let of_tanks = signs.iter().flat_map(|sign| [*sign, -sign, -sign]);
        of_tanks.chain([0.0; 4]).collect::<Vec<f64>>()
    });
    let by_hand = built.map(|point| value(&session, &studied, worst, &point)).fold(0.0, f64::max);
    let sampled = worst.largest_sample.unwrap().value;
    let (rss, found) = (worst.root_sum_square.unwrap(), worst.extreme.as_ref().unwrap().value);
    assert!(by_hand > 1.5 * sampled && sampled > 1.2 * rss, "{by_hand} {sampled} {rss}");
    assert!(found >= by_hand, "{found} {by_hand}");
    assert!(worst.times_as_far().unwrap() > 1.5);
}

/// Parts that share their whole scatter move as one; a lot share just below one says the same by the
/// quadratic form. What moves all phases alike leaves the sharing error as it is.
#[test]
fn lots_enter_the_root_sum_square_value_as_a_quadratic_form() {
    let with_share = |share: f64| {
        let mut scenario = demo(SHELF);
        for parameter in Parameter::ALL {
            let Some(own) = scenario.tolerances.get(parameter).cloned() else { continue };
            let tolerance = Tolerance { lot_share: share, ..own };
            scenario.tolerances = scenario.tolerances.with(parameter, Some(tolerance));
        }
        studied(scenario, 64, Method::Exact)
    };
    let [alone, nearly, whole] = [0.0, 1.0 - 1e-9, 1.0].map(with_share);
    let boxes = [&nearly, &whole].map(|s| s.tolerance_box(&s.worst_cases[0]).size());
    assert_eq!(boxes, [22, 7]);
    let figures = whole.worst_cases.iter().map(|worst| worst.figure);
    let is_sharing: Vec<bool> = figures.map(|f| matches!(f, Figure::SharingError(_))).collect();
    for (n, is_sharing) in is_sharing.into_iter().enumerate() {
        let [alone, nearly, whole] =
            [&alone, &nearly, &whole].map(|s| s.worst_cases[n].root_sum_square.unwrap());
        assert!((nearly - whole).abs() < 1e-4 * alone, "{n}: {nearly} {whole}");
        if is_sharing {
            assert!(whole < 0.12 * alone, "{n}: {whole} {alone}");
        }
    }
}
