//! The comparison of part grades: ranking and cost where both are known in closed form, and the
//! solver's trials for any number of threads.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]
#![allow(clippy::float_cmp, reason = "values that must be equal to the bit are compared so")]

use std::sync::atomic::AtomicBool;

use std::cmp::Ordering::Less;

use fairphase::converter::{Arrangement, ConverterSize};
use fairphase::engine::EngineError;
use fairphase::population::RandomSource;
use fairphase::scenario::{Grades, Scenario};
use fairphase::solver::Method;
use fairphase::statistics::Verdict;
use fairphase::study::common::error::StudyError;
use fairphase::study::common::pairs::{Flags, Pairs};
use fairphase::study::common::progress::Silent;
use fairphase::study::common::session::Session;
use fairphase::study::common::settings::Settings;
use fairphase::study::common::trials::{PairedTrials, Trial};
use fairphase::study::grades::{
    BalancingVerdict, GradeSet, Ranking, RankingAnswer, RankingRequest, SetResult, Stage,
    SteppedSet, UndecidedSets, grades as compare, matching_options, rank,
};
use rand::{Rng, SeedableRng, rngs::ChaCha8Rng};

/// Three phases, one operating point; the data in it are invented.
const SHELF: &str = include_str!("../data/shelf.toml");

/// Grades of two parts whose names are the half widths of their bands; prices are filled in.
fn offered(costs: &str, prices: [[f64; 3]; 2]) -> String {
    let mut text = format!("{SHELF}\n[grades]\n{costs}\n");
    for (parameter, prices) in ["resonant_inductance", "turns_ratio"].iter().zip(prices) {
        for (name, price) in ["8", "4", "2"].iter().zip(prices) {
            text.extend([
                format!("[[grade.{parameter}]]\nname = \"{name}\"\nshape = \"uniform\"\n"),
                format!("band = \"{name} %\"\nprice = {price}\n"),
            ]);
        }
    }
    text
}

fn scenario(text: &str) -> Scenario {
    Scenario::parse("shelf.toml", text).unwrap_or_else(|errors| panic!("{errors}"))
}

/// A linear stand-in for the solver: a converter passes when `a x + b y` is at most `limit` in
/// magnitude, x and y uniform within the bands of its two grades; without charge balancing, at most
/// half of it. It stops after `left` rounds.
struct Linear<'a> {
    grades: &'a Grades,
    samples: u64,
    limit: f64,
    left: usize,
}

fn uniform(rng: &mut ChaCha8Rng) -> f64 {
    (rng.next_u64() >> 11) as f64 / 4_503_599_627_370_496.0 - 1.0
}

impl Linear<'_> {
    /// Whether each sample passes.
    fn passed(&self, candidate: &GradeSet, source: RandomSource) -> Vec<bool> {
        let [a, b] = bands(self.grades, &candidate.grades);
        let paralleled = candidate.arrangement == Arrangement::Paralleled;
        let limit = if paralleled { 0.5 * self.limit } else { self.limit };
        let mut rng = ChaCha8Rng::seed_from_u64(source.seed);
        rng.set_stream(source.stream);
        let mut passes = || (a * uniform(&mut rng) + b * uniform(&mut rng)).abs() <= limit;
        (0..self.samples).map(|_| passes()).collect()
    }

    fn try_out(
        &mut self,
        candidates: &[GradeSet],
        source: RandomSource,
    ) -> Result<PairedTrials, StudyError> {
        if self.left == 0 {
            return Err(EngineError::Interrupted(0).into());
        }
        self.left -= 1;
        Ok(tried(&candidates.iter().map(|c| self.passed(c, source)).collect::<Vec<_>>()))
    }
}

/// Trials of candidates whose samples pass so.
fn tried(passed: &[Vec<bool>]) -> PairedTrials {
    let flags = passed.iter().map(|passed| {
        let mut flags = Flags::all(passed.len());
        (0..passed.len()).filter(|n| !passed[*n]).for_each(|n| flags.clear(n));
        flags
    });
    let mut pairs = Pairs::new(passed.len());
    let samples = passed[0].len();
    pairs.take(&flags.collect::<Vec<_>>(), samples);
    let trials = (0..passed.len()).map(|n| Trial {
        good: pairs.good(n),
        samples: samples as u64,
        binding: None,
    });
    PairedTrials { trials: trials.collect(), pairs, interrupted: false }
}

fn bands(grades: &Grades, set: &[usize]) -> [f64; 2] {
    [0, 1].map(|n| grades.offers[n].grades[set[n]].tolerance.band)
}

/// P(abs(x + y) ≤ limit), x and y uniform in ±a and ±b: the sum has a trapezoidal density, so each
/// tail beyond the limit is a triangle, ((a + b − limit)₊² − (abs(a − b) − limit)₊²)/(8 a b).
fn truth([a, b]: [f64; 2], limit: f64) -> f64 {
    let square = |x: f64| x.max(0.0).powi(2);
    1.0 - (square(a + b - limit) - square((a - b).abs() - limit)) / (4.0 * a * b)
}

fn settings(samples: u64) -> Settings {
    Settings { samples, seed: 5, method: Method::Exact, threads: 1 }
}

fn request<'a>(
    scenario: &'a Scenario,
    grades: &'a Grades,
    settings: Settings,
    legs: usize,
) -> RankingRequest<'a> {
    let size = ConverterSize { phases: scenario.phases, legs };
    RankingRequest { scenario, grades, settings, size }
}

fn ranked(
    scenario: &Scenario,
    samples: u64,
    limit: f64,
    left: usize,
) -> Result<Ranking, StudyError> {
    let grades = scenario.grades.as_ref().unwrap();
    let mut bench = Linear { grades, samples, limit, left };
    rank(request(scenario, grades, settings(samples), 1), &mut |_, candidates, seed| {
        bench.try_out(candidates, seed)
    })
}

const COSTS: &str = "quantity = 1000\nfailure_cost = 40\nother_cost = 60";

/// The closed form against brute force on a fine grid.
#[test]
fn the_stand_in_is_what_its_formula_says() {
    for (a, b, limit) in [(0.08, 0.04, 0.07), (0.08, 0.02, 0.03), (0.04, 0.04, 0.01)] {
        let n = 1000;
        let at = |k: i32, band: f64| band * (2.0 * (f64::from(k) + 0.5) / f64::from(n) - 1.0);
        let inside = (0..n)
            .flat_map(|i| (0..n).map(move |k| (i, k)))
            .filter(|(i, k)| (at(*i, a) + at(*k, b)).abs() <= limit)
            .count();
        let share = inside as f64 / f64::from(n * n);
        assert!((share - truth([a, b], limit)).abs() < 2e-3, "{a} {b} {limit}: {share}");
    }
}

/// Every yield and cost within its interval of the truth, the best as the truth has it.
#[test]
fn ranking_and_costs_are_those_of_the_closed_form() {
    let limit = 0.07;
    for failed in ["scrap", "rework"] {
        let costs = format!("{COSTS}\nfailed_converter = \"{failed}\"");
        let text = offered(&costs, [[1.0, 2.0, 3.5], [2.0, 2.5, 4.0]]);
        // So low a target that no set misses it.
        let scenario = scenario(&text.replace("\"99 %\"", "\"10 %\""));
        let grades = scenario.grades.as_ref().unwrap();
        let ranking = ranked(&scenario, 40_000, limit, 100).unwrap();
        let cost = |set: &[usize]| {
            let good = truth(bands(grades, set), limit);
            let price = |n: usize| 3.0 * grades.offers[n].grades[set[n]].price;
            let built = price(0) + price(1) + 60.0 + (1.0 - good) * 40.0;
            if failed == "scrap" { built / good } else { built }
        };
        assert_eq!(ranking.sets.len(), 9);
        for result in &ranking.sets {
            let good = truth(bands(grades, &result.candidate.grades), limit);
            let near = (result.good.estimate - good).abs();
            let error = (good * (1.0 - good) / 40_000.0).sqrt();
            assert!(near <= 4.0 * error, "{:?}: {near} against {error}", result.candidate);
            let slack = 4.0 / 2.0 * (result.cost.upper - result.cost.lower) / 2.0 + 1e-9;
            assert!((result.cost.estimate - cost(&result.candidate.grades)).abs() <= slack);
        }
        let mut order: Vec<&Vec<usize>> = grades.sets.iter().collect();
        order.sort_by(|a, b| cost(a).total_cmp(&cost(b)));
        assert_eq!(&ranking.recommended().candidate.grades, order[0], "{failed}");
        // The differences hold the truth together; the best is a known one, so none errs here.
        for result in &ranking.sets {
            let Some(against) = result.against else { continue };
            let difference = against.cost.unwrap();
            let true_difference = cost(&result.candidate.grades) - cost(order[0]);
            assert!(
                (difference.lower..=difference.upper).contains(&true_difference),
                "{:?}: {difference:?} against {true_difference}",
                result.candidate
            );
        }
    }
}

/// The front by brute force, over all pairs of the results.
#[test]
fn the_front_holds_what_nobody_beats() {
    let scenario = scenario(&offered(COSTS, [[1.0, 2.0, 9.0], [2.0, 2.5, 9.0]]));
    let ranking = ranked(&scenario, 5000, 0.05, 100).unwrap();
    let place = |n: usize| (ranking.sets[n].cost.estimate, ranking.sets[n].good.estimate);
    let mut on_front = 0;
    for n in 0..ranking.sets.len() {
        let (cost, good) = place(n);
        let mut beaten = false;
        for other in 0..ranking.sets.len() {
            let (c, g) = place(other);
            beaten |= (c < cost && g >= good) || (c <= cost && g > good);
        }
        assert_eq!(ranking.sets[n].on_front, !beaten, "{n}");
        on_front += usize::from(!beaten);
    }
    assert!((1..9).contains(&on_front), "{on_front}");
}

/// One price and one band under two names: no sample tells them apart.
#[test]
fn equals_are_called_ties() {
    let text = offered(COSTS, [[1.0, 2.0, 3.5], [2.0, 2.5, 4.0]]);
    let twin = "[[grade.turns_ratio]]\nname = \"2 again\"\nshape = \"uniform\"\nband = \"2 %\"\n\
        price = 4\n";
    let scenario = scenario(&format!("{text}{twin}").replace("price = 3.5", "price = 2.6"));
    let ranking = ranked(&scenario, 20_000, 0.04, 100).unwrap();
    let grades = scenario.grades.as_ref().unwrap();
    assert_eq!(bands(grades, &ranking.recommended().candidate.grades), [0.02, 0.02]);
    let twin = ranking
        .sets
        .iter()
        .find(|s| bands(grades, &s.candidate.grades) == [0.02, 0.02] && s.against.is_some());
    let against = twin.unwrap().against.unwrap();
    assert!(against.is_tie() && !against.is_cheaper(), "{against:?}");
    assert!(ranking.ties().iter().any(|tie| tie.candidate == twin.unwrap().candidate));
    // A tie is nothing that every set is.
    assert!(ranking.ties().len() < 5, "{:?}", ranking.ties());
}

/// With the target above what the cheapest reaches, a dearer one is recommended; where none reaches
/// it, that is said.
#[test]
fn sets_that_surely_miss_the_target_are_not_recommended() {
    let text = offered(COSTS, [[1.0, 3.0, 9.0], [2.0, 5.0, 9.0]]);
    let of = |target: &str, limit: f64| {
        let scenario = scenario(&text.replace("\"99 %\"", target));
        (ranked(&scenario, 10_000, limit, 100).unwrap(), scenario)
    };
    let (low, _) = of("\"50 %\"", 0.06);
    let (high, scenario) = of("\"99 %\"", 0.06);
    assert!(low.recommended().cost.estimate < high.recommended().cost.estimate);
    assert_eq!(high.verdict(0.99), Verdict::Pass);
    let grades = scenario.grades.as_ref().unwrap();
    assert!(truth(bands(grades, &high.recommended().candidate.grades), 0.06) > 0.99);
    let over = high.passed_over();
    assert!(over.iter().any(|set| set.candidate == low.recommended().candidate), "{over:?}");
    let (none, _) = of("\"99 %\"", 0.005);
    assert_eq!(none.verdict(0.99), Verdict::Fail);
    assert!(none.sets.iter().all(|set| set.good.verdict(0.99) == Verdict::Fail));
}

/// Fresh samples are others: the yield is not the one it was picked by, and steps are those of the
/// offers beside the recommended grades.
#[test]
fn the_recommended_set_is_tried_again_on_fresh_samples() {
    let scenario = scenario(&offered(COSTS, [[1.0, 2.0, 3.5], [2.0, 2.5, 4.0]]));
    // The cheapest that meets 99 % has a yield of 0.9922: seven standard errors above it.
    let ranking = ranked(&scenario, 80_000, 0.055, 100).unwrap();
    assert!(ranking.verification.is_fresh());
    let (first, fresh) = (&ranking.sets[ranking.best], ranking.recommended());
    assert_eq!(first.candidate, fresh.candidate);
    assert_ne!(first.good.successes, fresh.good.successes);
    let set = &fresh.candidate.grades;
    for SteppedSet { step, result, stated } in &ranking.steps {
        let mut wanted = set.clone();
        wanted[step.offer] = step.grade;
        assert_eq!(result.candidate.grades, wanted);
        assert_eq!(step.grade.abs_diff(set[step.offer]), 1);
        assert_eq!(step.dearer, step.grade > set[step.offer]);
        assert!(*stated && result.against.is_some());
    }
    let possible: usize = set.iter().map(|grade| if *grade == 1 { 2 } else { 1 }).sum();
    assert_eq!(ranking.steps.len(), possible);
}

/// The same fresh samples give one answer on two sets, whatever table shows it: a step that is not on the
/// short list counts among the ties and the cheaper ones, and a step that is has the same interval.
#[test]
fn a_pair_of_sets_has_one_interval_on_the_fresh_samples() {
    // 99 % asked for: the cheapest set misses it, and no other one is as cheap.
    let scenario = scenario(&offered(COSTS, [[1.0, 3.0, 9.0], [2.0, 5.0, 9.0]]));
    let ranking = with_counts(&scenario, |candidate, _| match candidate.grades[..] {
        [0, 0] => 9_000,
        [0, 1] | [1, 0] => 9_800,
        _ => 10_000,
    });
    assert_eq!(ranking.recommended().candidate.grades, [1, 1]);
    let (mut listed, mut others) = (0, 0);
    for SteppedSet { result, .. } in &ranking.steps {
        let against = result.against.unwrap();
        let of = |sets: Vec<&SetResult>| sets.iter().any(|set| set.candidate == result.candidate);
        assert_eq!(of(ranking.ties()), against.is_tie(), "{:?}", result.candidate);
        assert_eq!(of(ranking.passed_over()), against.is_cheaper(), "{:?}", result.candidate);
        let on_list = ranking.shortlist.iter().find(|set| set.candidate == result.candidate);
        if let Some(set) = on_list {
            let cost = set.against.unwrap().cost.unwrap();
            let other = against.cost.unwrap();
            assert_eq!((cost.lower, cost.upper), (other.lower, other.upper));
            listed += 1;
        } else {
            let set = ranking.sets.iter().find(|set| set.candidate == result.candidate);
            assert!(ranking.last_result(set.unwrap()).source.is_fresh());
            others += 1;
        }
    }
    assert!(listed > 0 && others > 0, "{listed} {others}");
}

/// The comparison where so many of 10 000 samples are good: the first ones, so that sets agree on them.
fn with_counts(scenario: &Scenario, good: impl Fn(&GradeSet, RandomSource) -> usize) -> Ranking {
    let grades = scenario.grades.as_ref().unwrap();
    let mut try_out = |_: Stage, candidates: &[GradeSet], source| {
        let passed = |c: &GradeSet| (0..10_000).map(|n| n < good(c, source)).collect();
        Ok(tried(&candidates.iter().map(passed).collect::<Vec<_>>()))
    };
    rank(request(scenario, grades, settings(10_000), 1), &mut try_out).unwrap()
}

/// Four sets pass on the first samples and miss on the fresh ones; the fifth in the order passes.
#[test]
fn the_short_list_grows_until_something_passes() {
    let scenario = scenario(&offered(COSTS, [[1.0, 2.0, 3.5], [2.0, 2.5, 4.0]]));
    let good =
        |candidate: &GradeSet, source: RandomSource| match (&candidate.grades[..], source.stream) {
            ([2, 2], _) | ([0, _] | [1, 0], 0) => 10_000,
            _ => 9_000,
        };
    let ranking = with_counts(&scenario, good);
    assert_eq!(ranking.shortlist.len(), 8);
    assert_eq!(ranking.recommended().candidate.grades, [2, 2]);
    assert_eq!(ranking.verdict(0.99), Verdict::Pass);
}

/// A set as cheap as the recommended one is named a tie even though its yield is not decided, and
/// one that is surely cheaper is passed over by name.
#[test]
fn ties_and_cheaper_ones_are_named_whatever_their_yield() {
    let scenario = scenario(&offered(COSTS, [[1.0, 2.0, 3.5], [2.0, 2.3, 4.0]]));
    let ranking = with_counts(&scenario, |candidate, _| match candidate.grades[..] {
        [0, 0] => 9_903,
        [0, 1] => 10_000,
        _ => 5_000,
    });
    assert_eq!(ranking.recommended().candidate.grades, [0, 1]);
    assert!(ranking.recommended().on_front, "no other set is better in both");
    let ties = ranking.ties();
    assert_eq!(ties.iter().map(|s| &s.candidate.grades[..]).collect::<Vec<_>>(), [[0, 0]]);
    assert_eq!(ties[0].good.verdict(0.99), Verdict::NotDecided);
    assert!(ties[0].source.is_fresh(), "on the fresh samples, where it was tried");
    let ranking = with_counts(&scenario, |candidate, _| match candidate.grades[..] {
        [0, 0] => 9_880,
        [2, 2] => 10_000,
        _ => 5_000,
    });
    let over = ranking.passed_over();
    assert_eq!(over.iter().map(|s| &s.candidate.grades[..]).collect::<Vec<_>>(), [[0, 0]]);
    assert!(ranking.ties().is_empty() && ranking.runner_up(0.99).is_none());
}

/// Fifteen sets with the same yield. Beside the short list of twelve a lower level would let it pass, on the
/// list it is not decided. Matching is weighed on the cheapest sets, not on those that happen to pass.
#[test]
fn without_a_recommended_set_matching_is_weighed_on_the_cheapest() {
    let more = |price: f64| {
        format!(
            "[[grade.turns_ratio]]\nname = \"{price}\"\nshape = \"uniform\"\nband = \"1 %\"\n\
             price = {price}\n"
        )
    };
    let text = offered(COSTS, [[1.0, 2.0, 30.0], [2.0, 2.3, 4.0]]) + &more(6.0) + &more(7.0);
    let matching = "matching = { pieces = 30, cost = 0.5, uncertainty = \"0.1 %\" }";
    let text = text.replacen("name = \"2\"\n", &format!("name = \"2\"\n{matching}\n"), 1);
    let scenario = scenario(&text);
    let ranking = with_counts(&scenario, |_, _| 9_921);
    assert_eq!(ranking.answer(0.99), RankingAnswer::NotDecided);
    let verdicts = |wanted: Verdict| {
        let sets = ranking.sets.iter().map(|set| ranking.last_result(set).good.verdict(0.99));
        sets.filter(|own| *own == wanted).count()
    };
    assert_eq!([Verdict::NotDecided, Verdict::Pass].map(verdicts), [12, 3], "two levels");
    let options = matching_options(&ranking, scenario.grades.as_ref().unwrap(), 0.99);
    let sets =
        options.iter().map(|own| [own.with, own.without].map(|set| &set.candidate.grades[..]));
    assert_eq!(sets.collect::<Vec<_>>(), [[&[2, 0][..], &[0, 0]]]);
    assert_eq!(options[0].undecided, UndecidedSets::Included);
    assert!(options[0].is_shown() && options[0].is_on_same_samples(), "30 against 1");
}

/// Without charge balancing four capacitors are saved, at a price made up here; the yield decides
/// first, then the cost.
#[test]
fn whether_charge_balancing_pays_is_said() {
    let capacitors = |price: f64| {
        format!(
            "{}[[grade.flying_capacitance]]\nname = \"a\"\nshape = \"uniform\"\nband = \"5 %\"\n\
             price = {price}\n",
            offered(COSTS, [[1.0; 3], [2.0; 3]])
        )
    };
    let worth = |price: f64, plain: usize| {
        let ranking = with_counts(&scenario(&capacitors(price)), |candidate, _| {
            if candidate.arrangement == Arrangement::Chain { 9_990 } else { plain }
        });
        ranking.balancing.unwrap().verdict
    };
    assert_eq!(worth(5.0, 9_990), BalancingVerdict::NotRecommended);
    assert_eq!(
        worth(0.0, 9_960),
        BalancingVerdict::Recommended,
        "as good a standing, but surely dearer"
    );
    assert_eq!(worth(5.0, 9_000), BalancingVerdict::Recommended, "cheap and bad");
    assert_eq!(worth(0.0, 9_989), BalancingVerdict::NotDecided);
}

/// Two sets whose bands are all but equal stand beside the target. The cheaper one passes on the
/// first samples and misses on the fresh ones, made so by hand: the dearer one is recommended.
#[test]
fn a_set_that_misses_on_fresh_samples_gives_way_to_the_next() {
    let scenario = scenario(&offered(COSTS, [[1.0, 2.0, 3.5], [2.0, 2.5, 4.0]]));
    let good =
        |candidate: &GradeSet, source: RandomSource| match (&candidate.grades[..], source.stream) {
            ([0, 0], 0) | ([0, 1], _) => 10_000,
            ([0, 0], _) => 9_000,
            _ => 8_000,
        };
    let ranking = with_counts(&scenario, good);
    assert_eq!(ranking.sets[0].cost.estimate.total_cmp(&ranking.sets[1].cost.estimate), Less);
    assert_eq!(ranking.shortlist.len(), 4);
    assert_eq!(ranking.recommended().candidate.grades, [0, 1]);
    assert_eq!(ranking.verdict(0.99), Verdict::Pass);
    let missed = &ranking.shortlist[0];
    assert_eq!(missed.good.verdict(0.99), Verdict::Fail);
    // 1 − 0.05/9: the intervals of a list of all sets would hold together.
    assert!((missed.good.confidence.get() - (1.0 - 0.05 / 9.0)).abs() < 1e-12);
    assert_eq!(ranking.steps.len(), 3, "steps are those of the recommended set");
}

/// Every set truly yields a hair less than the target, each by its own luck: picking the best of
/// the short list must not turn misses into passes. An interval errs upwards in 2.5 % of the cases;
/// without allowing for the length of the list it was seen to be 5.9 %.
#[test]
fn picking_from_the_short_list_makes_no_passes() {
    let text = offered(COSTS, [[1.0; 3], [2.0; 3]]);
    let scenario = scenario(&text.replace("\"99 %\"", "\"90 %\""));
    let grades = scenario.grades.as_ref().unwrap();
    let (mut rng, repetitions) = (ChaCha8Rng::seed_from_u64(17), 800);
    let mut passes = 0;
    for _ in 0..repetitions {
        let mut try_out = |_: Stage, candidates: &[GradeSet], _| {
            let mut passed = || (0..400).map(|_| uniform(&mut rng) < 0.798).collect();
            Ok(tried(&candidates.iter().map(|_| passed()).collect::<Vec<_>>()))
        };
        let ranking = rank(request(&scenario, grades, settings(400), 1), &mut try_out).unwrap();
        passes += u32::from(ranking.verdict(0.9) == Verdict::Pass);
    }
    // Four standard errors above 2.5 %: 0.047.
    let share = f64::from(passes) / f64::from(repetitions);
    assert!((0.001..0.047).contains(&share), "{share}");
}

/// Without charge balancing the same grades yield less, and their best is found and tried again.
#[test]
fn the_best_without_charge_balancing_stands_beside() {
    let scenario = scenario(&offered(COSTS, [[1.0, 2.0, 3.5], [2.0, 2.5, 4.0]]));
    let grades = scenario.grades.as_ref().unwrap();
    let ranking = ranked(&scenario, 20_000, 0.055, 100).unwrap();
    assert_eq!(ranking.paralleled.len(), 9);
    for plain in &ranking.paralleled {
        let good = truth(bands(grades, &plain.candidate.grades), 0.5 * 0.055);
        let error = (good * (1.0 - good) / 20_000.0).sqrt().max(1e-9);
        assert!((plain.good.estimate - good).abs() <= 4.0 * error, "{plain:?}");
    }
    let best = ranking.without_balancing().unwrap();
    assert!(best.good.estimate < ranking.recommended().good.estimate);
    assert!(best.against.is_some());
}

/// Interrupted at any round, there is what was finished, marked; before the first, an error.
#[test]
fn an_interrupted_comparison_gives_what_it_has() {
    let scenario = scenario(&offered(COSTS, [[1.0, 2.0, 3.5], [2.0, 2.5, 4.0]]));
    assert!(matches!(
        ranked(&scenario, 100, 0.07, 0),
        Err(StudyError::Engine(EngineError::Interrupted(_)))
    ));
    let whole = ranked(&scenario, 2000, 0.07, 3).unwrap();
    assert!(!whole.is_partial() && !whole.steps.is_empty());
    let short = ranked(&scenario, 2000, 0.07, 1).unwrap();
    assert_eq!(short.interrupted, Some(Stage::ShortList));
    assert!(short.sets.len() == 9 && short.shortlist.is_empty() && short.steps.is_empty());
    let steps = ranked(&scenario, 2000, 0.07, 2).unwrap();
    assert_eq!(steps.interrupted, Some(Stage::Steps));
    assert!(!steps.shortlist.is_empty() && steps.steps.is_empty());
}

/// With the solver: what one thread counts, two count, sample by sample.
#[test]
fn trials_do_not_depend_on_threads() {
    let scenario = scenario(&offered(COSTS, [[1.0, 2.0, 3.5], [2.0, 2.5, 4.0]]));
    let grades = scenario.grades.as_ref().unwrap();
    let ranked = |threads: usize| {
        let stop = AtomicBool::new(false);
        let settings = Settings { threads, ..settings(2500) };
        let session = Session::new(&scenario, settings, &stop).unwrap();
        assert_eq!(session.size(), ConverterSize { phases: 3, legs: 2 });
        let ranking = compare(&session, grades, &mut Silent).unwrap();
        let lines = ranking.sets.iter().chain(&ranking.paralleled).chain(&ranking.shortlist);
        let lines = lines.map(|s| format!("{:?} {:?} {:?}", s.good, s.cost, s.against));
        lines.collect::<Vec<_>>()
    };
    assert_eq!(ranked(1), ranked(2));
}
