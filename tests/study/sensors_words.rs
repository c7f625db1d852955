//! Every state of the answer of `sensors`: terminal, page and summary say the same, and nothing that
//! the verdicts do not carry.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]

use std::sync::atomic::AtomicBool;

use fairphase::report::sensors::report;
use fairphase::scenario::Scenario;
use fairphase::solver::Method;
use fairphase::statistics::{Confidence, QuantileEnd, QuantileInterval, Verdict, Yield};
use fairphase::study::common::progress::Silent;
use fairphase::study::common::settings::Settings;
use fairphase::study::sensors::{
    BreakEvenFactor, FactorSpan, NoRating, ScaledQuantity, Sensitivity, SensitivityQuestion,
    SensorStudy, TargetComparison, TargetQuantile, Variant, VerifiedBreakEven, joint_level,
    sensors,
};
use serde_json::Value;

const SAMPLES: u64 = 20_000;
const ALL: [Verdict; 3] = [Verdict::Pass, Verdict::NotDecided, Verdict::Fail];

fn lamps() -> Scenario {
    let text = include_str!("../../scenarios/greenhouse-lamps.toml");
    Scenario::parse("lamps.toml", text).unwrap()
}

/// A study of a few samples, whose verdicts and prices are then written over.
fn solved(scenario: &Scenario) -> SensorStudy {
    let settings = Settings { samples: 8, seed: 4, method: Method::Averaged, threads: 1 };
    let request = scenario.sensors.clone().unwrap();
    let mut study =
        sensors(scenario, &request, settings, &AtomicBool::new(false), &mut Silent).unwrap();
    study.samples = SAMPLES;
    study.sensitivities.clear();
    study
}

/// Good samples that give a verdict against 99 %.
fn set(study: &mut SensorStudy, variant: Variant, verdict: Verdict, price: f64) {
    let confidence = Confidence::new(0.95).unwrap();
    let result = &mut study.variants[variant.index()];
    let good = match verdict {
        Verdict::Pass => SAMPLES - 2,
        Verdict::NotDecided => SAMPLES - 200,
        Verdict::Fail => SAMPLES / 2,
    };
    result.good = Yield::new(good, SAMPLES, confidence).unwrap();
    result.joint = Yield::new(good, SAMPLES, joint_level(confidence).unwrap()).unwrap();
    result.verdict = result.joint.verdict(0.99);
    assert_eq!(result.verdict, verdict);
    result.bill.price = price;
}

/// What is shown: terminal and page on one line each with ordinary blanks, and the summary.
struct Shown {
    terminal: String,
    page: String,
    summary: Value,
}

/// An interval of a quantile from 2 up.
fn interval(upper: QuantileEnd) -> QuantileInterval {
    QuantileInterval { lower: QuantileEnd::Value(2.0), upper }
}

fn shown(scenario: &Scenario, study: &SensorStudy) -> Shown {
    let report = report(scenario, scenario.sensors.as_ref().unwrap(), study).unwrap();
    let line = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    Shown {
        terminal: line(&report.screen.text(true)),
        page: line(report.page()),
        summary: report.summary.value().unwrap(),
    }
}

impl Shown {
    fn all_say(&self, words: &str) {
        let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(self.terminal.contains(&words), "{words} in {}", self.terminal);
        assert!(self.page.contains(&words), "{words} in the page");
    }
}

fn checked_state(scenario: &Scenario, study: &SensorStudy) {
    let shown = shown(scenario, study);
    let (headline, decision) =
        (shown.summary["headline"].as_str().unwrap(), &shown.summary["decision"]);
    shown.all_say(headline);
    let starts =
        ["The sensors can go", "The sensors stay", "Nothing need", "Not decided", "No variant"];
    assert_eq!(
        starts.iter().filter(|start| headline.starts_with(**start)).count(),
        1,
        "{headline}"
    );
    let judged =
        |verdict: &str, variant: &str| shown.page.contains(&format!("{verdict}</b> {variant}:"));
    assert!(judged(shown.summary["verdict"].as_str().unwrap(), "(b) chain"), "{headline}");
    assert_eq!(
        judged("pass", "(a) paralleled"),
        headline.starts_with("Nothing need"),
        "{headline}"
    );
    let chain = &shown.summary["verdict"];
    assert_eq!(chain, &shown.summary["variants"][1]["verdict"]);
    assert_eq!(&decision["sensors_can_go"], chain);
    for (start, verdict) in [("The sensors can go", "pass"), ("The sensors stay", "fail")] {
        assert!(!headline.starts_with(start) || chain == verdict, "{headline}: {chain}");
    }
    checked_cost(&shown, headline);
}

/// The lowest cost is claimed, or called not decided, by all in the same state.
fn checked_cost(shown: &Shown, headline: &str) {
    let decision = &shown.summary["decision"];
    let variants = shown.summary["variants"].as_array().unwrap();
    let rivals = decision["may_cost_less"].as_array().unwrap().len();
    let open = headline.matches("The lowest cost is not decided").count();
    assert_eq!(open, rivals.min(1), "{headline}");
    // Each rival once, advice on samples once for all of them.
    let doubts = decision["may_cost_less"].as_array().unwrap().iter();
    let close = doubts.filter(|own| own["reason"] == "costs not distinguished").count();
    assert_eq!(headline.matches("intervals of both costs").count(), close, "{headline}");
    let told = headline.split("The lowest cost is not decided").nth(1).unwrap_or_default();
    assert!(told.matches("decide in 9 of 10").count() <= 1, "{headline}");
    let cheapest = decision["cheapest_that_meets"].as_str();
    let is_secured = decision["lowest_cost_secured"] == true;
    assert_eq!(is_secured, cheapest.is_some() && rivals == 0);
    let taken = variants.iter().find(|v| v["letter"].as_str() == cheapest);
    assert!(taken.is_none_or(|v| v["verdict"] == "pass"));
    let claimed =
        [&shown.terminal, &shown.page].map(|text| text.contains("the lowest of those that meet"));
    assert_eq!(claimed, [cheapest == Some("b") && is_secured; 2], "{}", shown.terminal);
    let any_open = variants.iter().any(|v| v["verdict"] == "not decided");
    let none_passes = cheapest.is_none();
    assert_eq!(headline.starts_with("No variant"), none_passes && !any_open, "{headline}");
    assert_eq!(headline.contains("no variant was shown"), none_passes && any_open, "{headline}");
}

/// All 81 combinations of verdicts, with the chain cheaper than sensors and dearer, and with costs that
/// the samples do not tell apart.
#[test]
fn all_states_of_the_answer_are_told_alike() {
    let scenario = lamps();
    let mut study = solved(&scenario);
    for prices in [
        [140.0, 143.6, 156.5, 160.1],
        [140.0, 170.0, 156.5, 190.0],
        [140.0, 140.01, 140.02, 140.03],
    ] {
        for n in 0..81 {
            for (place, variant) in Variant::ALL.into_iter().enumerate() {
                let verdict = ALL[n / 3_usize.pow(u32::try_from(place).unwrap()) % 3];
                set(&mut study, variant, verdict, prices[place]);
            }
            checked_state(&scenario, &study);
        }
    }
}

/// The case that was told wrongly: (a) is undecided at 142.26, (c) passes at 160.
#[test]
fn a_cheaper_variant_that_is_not_decided_leaves_the_lowest_cost_open() {
    let scenario = lamps();
    let mut study = solved(&scenario);
    set(&mut study, Variant::Paralleled, Verdict::NotDecided, 142.26 * 0.99);
    set(&mut study, Variant::Chain, Verdict::Fail, 150.0);
    set(&mut study, Variant::ParalleledWithSensors, Verdict::Pass, 160.0);
    set(&mut study, Variant::ChainWithSensors, Verdict::Fail, 170.0);
    study.variants[0].samples_to_decide = Some(50_000);
    let shown = shown(&scenario, &study);
    shown.all_say("The sensors stay: (c) meets 99 % (95 % confidence), the chain alone does not.");
    shown.all_say(
        &format!(
            "The lowest cost is not decided: if (a) meets 99 %, it may cost as little as {:.2} per good converter, (c) up \
             to {:.2}. A new study of 50 000 samples with another --seed would decide in 9 of 10 cases, if the yield stays.",
            142.26 * 0.99 / study.variants[0].joint.upper,
            160.0 / study.variants[2].joint.lower,
        ),
    );
    let rival = &shown.summary["decision"]["may_cost_less"][0];
    assert_eq!((&rival["letter"], &rival["reason"]), (&"a".into(), &"verdict not decided".into()));
    assert_eq!(rival["samples_to_decide"], 50_000);
}

/// With 300 samples no variant can meet 99 %: 0.99ⁿ ≤ 0.625 % takes 505, by hand.
#[test]
fn too_few_samples_for_any_pass_are_told() {
    let scenario = lamps();
    let mut study = solved(&scenario);
    assert!(0.99_f64.powi(505) <= 0.00625 && 0.99_f64.powi(504) > 0.00625);
    study.samples = 504;
    let words = "Warning: 504 samples cannot show 99 %, even if all pass: at least 505 are needed.";
    shown(&scenario, &study).all_say(words);
    study.samples = 505;
    assert!(!shown(&scenario, &study).terminal.contains("cannot show"));
}

/// A yield that its own interval decides and the joint one does not.
#[test]
fn a_verdict_that_only_the_own_interval_decides_is_explained() {
    let scenario = lamps();
    let mut study = solved(&scenario);
    let chain = &mut study.variants[Variant::Chain.index()];
    let confidence = Confidence::new(0.95).unwrap();
    let failing = (100..300).find(|failing| {
        let count = |level| Yield::new(SAMPLES - failing, SAMPLES, level).unwrap();
        let [own, joint] = [confidence, joint_level(confidence).unwrap()].map(count);
        own.verdict(0.99) == Verdict::Pass && joint.verdict(0.99) == Verdict::NotDecided
    });
    chain.good = Yield::new(SAMPLES - failing.unwrap(), SAMPLES, confidence).unwrap();
    chain.joint =
        Yield::new(chain.good.successes, SAMPLES, joint_level(confidence).unwrap()).unwrap();
    chain.verdict = Verdict::NotDecided;
    shown(&scenario, &study).all_say(
        "Not decided in (b): the 98.75 % interval that holds with the other verdicts includes 99 %. The \
         95 % interval of one variant alone does not.",
    );
}

fn span(comparison: TargetComparison, from: f64, to: f64) -> FactorSpan {
    FactorSpan { comparison, from, to }
}

/// A search on the part bands of a variant.
fn search(variant: Variant, spans: Vec<FactorSpan>, found: Option<BreakEvenFactor>) -> Sensitivity {
    let break_even = |found| VerifiedBreakEven {
        found,
        fresh: Vec::new(),
        fresh_factor: None,
        contradicted: false,
    };
    Sensitivity {
        question: SensitivityQuestion { variant, scaled: ScaledQuantity::Bands },
        spans,
        samples: SAMPLES,
        break_evens: found.into_iter().map(break_even).collect(),
    }
}

/// (a) fails, (b) passes at the lowest cost, (c) and (d) pass.
fn chain_alone_is_cheapest(scenario: &Scenario) -> SensorStudy {
    let mut study = solved(scenario);
    for (variant, verdict, price) in [
        (Variant::Paralleled, Verdict::Fail, 140.0),
        (Variant::Chain, Verdict::Pass, 143.6),
        (Variant::ParalleledWithSensors, Verdict::Pass, 156.5),
        (Variant::ChainWithSensors, Verdict::Pass, 160.1),
    ] {
        set(&mut study, variant, verdict, price);
    }
    study
}

/// A search whose estimate crosses the target, decided up to `lower` and from `upper` on.
fn crossing(variant: Variant, lower: f64, factor: f64, upper: f64) -> Sensitivity {
    use TargetComparison::{LikelyMeets, LikelyMisses, Meets, Misses};
    let spans = vec![
        span(Meets, 0.7, lower),
        span(LikelyMeets, lower, factor),
        span(LikelyMisses, factor, upper),
        span(Misses, upper, 2.0),
    ];
    let (lower, upper) = (Some(lower), Some(upper));
    search(variant, spans, Some(BreakEvenFactor { factor, lower, upper, meets_below: true }))
}

/// Tells of one search alone, and checks its words, its key and the list in which it stands.
fn checked_search(found: Sensitivity, key: &str, words: &str) {
    let scenario = lamps();
    let mut study = chain_alone_is_cheapest(&scenario);
    study.sensitivities = vec![found];
    let shown = shown(&scenario, &study);
    shown.all_say(words);
    assert_eq!(shown.summary["break_even_searches"][0]["answer"], key);
    let lists = ["would_change_the_answer", "robustness"].map(|key| &shown.summary[key]);
    let place = usize::from(!["not secured", "changes beyond the break-even"].contains(&key));
    let told = |list: &Value| list.as_array().unwrap().iter().any(|s| s == words);
    assert!(told(lists[place]) && !told(lists[1 - place]), "{lists:?}");
}

/// Every state of a break-even, with its words and its key in the summary.
#[test]
fn all_states_of_a_break_even_are_told_alike() {
    let (b, c) = (Variant::Chain, Variant::ParalleledWithSensors);
    let not_secured = "meets 99 % with the scenario’s own part bands. The break-even is 1.02 times \
                       (0.950 to 1.05).";
    checked_search(
        crossing(b, 0.95, 1.02, 1.05),
        "not secured",
        &format!("Not secured: whether (b) {not_secured}"),
    );
    checked_search(
        crossing(c, 0.95, 1.02, 1.05),
        "not secured, same answer",
        &format!("Not secured: whether (c) {not_secured} The answer is the same either way."),
    );
    checked_search(
        crossing(b, 1.2, 1.3, 1.4),
        "changes beyond the break-even",
        "Part bands wider than 1.30 times the scenario’s (1.20 to 1.40): (b) misses 99 %.",
    );
    checked_search(
        crossing(c, 1.2, 1.3, 1.4),
        "holds beyond the break-even",
        "Part bands wider than 1.30 times the scenario’s (1.20 to 1.40): (c) misses 99 %. That alone does \
         not change the answer.",
    );
}

/// A search without a break-even holds only as far as it is decided.
#[test]
fn an_answer_holds_only_where_it_is_decided() {
    use TargetComparison::{LikelyMeets, Meets};
    let none = |spans| search(Variant::ParalleledWithSensors, spans, None);
    checked_search(
        none(vec![span(Meets, 1.0, 8.0)]),
        "no break-even found",
        "The answer holds up to 8 times the part bands for (c), where the search ended.",
    );
    checked_search(
        none(vec![span(Meets, 1.0, 4.0), span(LikelyMeets, 5.0, 8.0)]),
        "no break-even found",
        "The answer holds up to 4 times the part bands for (c). Beyond it is not decided. The search \
         went up to 8.",
    );
    checked_search(
        none(vec![span(LikelyMeets, 1.0, 8.0)]),
        "not secured, same answer",
        "Not secured: whether (c) meets 99 % with the scenario’s own part bands. No break-even was found \
         from 1 to 8 times. The answer is the same either way.",
    );
}

/// An undecided variant or a small study shows no rating, but does not exclude one. The reasons differ.
#[test]
fn a_rating_is_excluded_only_where_the_target_is_missed() {
    let scenario = lamps();
    let mut study = chain_alone_is_cheapest(&scenario);
    let reasons =
        [NoRating::Misses, NoRating::NotDecided, NoRating::TooFewSamples, NoRating::TooFewSamples];
    for (result, reason) in study.variants.iter_mut().zip(reasons) {
        result.joint_rating = Err(reason);
        result.currents = [None; 2];
    }
    let interval = interval(QuantileEnd::TooFewSamples);
    let current = TargetQuantile { value: 6.18, interval };
    study.variants[0].currents = [Some(current); 2];
    study.variants[0].blocking = Some(TargetQuantile { value: 400.0, interval });
    let shown = shown(&scenario, &study);
    shown.all_say("No rating gives 99 % (95 % confidence) in (a).");
    shown.all_say("No rating is shown to give 99 % in (b). The samples do not decide.");
    shown.all_say("No rating is shown to give 99 % in (c) and (d). The samples are too few.");
    let words = ["target missed", "not decided", "too few samples", "too few samples"];
    let told = ["a", "b", "c", "d"].map(|letter| {
        let variants = shown.summary["variants"].as_array().unwrap();
        let variant = variants.iter().find(|v| v["letter"] == letter).unwrap();
        assert!(variant["joint_rating"].is_null());
        variant["no_joint_rating"].as_str().unwrap()
    });
    assert_eq!(told, words);
    for reason in words {
        shown.all_say(reason);
    }
    shown.all_say(
        "Of all samples, good or not, 99 % keep to a switch RMS current of (a) 6.18 A at 400 V.",
    );
    shown.all_say(
        "No switch current that 99 % keep to in (b), (c) and (d): too many samples are out of range or \
         not solved.",
    );
    assert!(!shown.terminal.contains("Switch rating, RMS; peak, for"), "{}", shown.terminal);
}

/// A variant without a current takes nothing from what is said of the others. The page explains the
/// mark of its quantile.
#[test]
fn a_variant_without_a_current_leaves_the_sentences_of_the_others() {
    let scenario = lamps();
    let mut study = chain_alone_is_cheapest(&scenario);
    let interval = interval(QuantileEnd::Value(8.0));
    for result in &mut study.variants {
        let value = 2.0 * result.nominal[0];
        result.currents = [Some(TargetQuantile { value, interval }); 2];
        result.joint_rating = Ok([7.0, 14.0]);
        result.blocking = Some(TargetQuantile { value: 400.0, interval });
    }
    let chain = &mut study.variants[Variant::Chain.index()];
    chain.currents = [None; 2];
    chain.blocking = None;
    chain.joint_rating = Err(NoRating::Misses);
    let mut told = shown(&scenario, &study);
    told.all_say("(a) 7.00; 14.0 A, (c) 7.00; 14.0 A and (d) 7.00; 14.0 A at 400 V.");
    told.all_say(
        "Unequal parts add to the switch RMS current: (a) 100.0 %, (c) 100.0 %, (d) 100.0 %.",
    );
    told.all_say("in (c) than in (a) (not significant).");
    told.all_say(
        "Beyond: the quantile falls among the samples that are out of range or not solved.",
    );
    // (c) and (a) carry the same: an end that is beyond is not for want of samples.
    for (upper, remark) in [
        (QuantileEnd::Beyond, "not significant"),
        (QuantileEnd::TooFewSamples, "too few samples for an interval"),
    ] {
        for variant in [Variant::Paralleled, Variant::ParalleledWithSensors] {
            let current = &mut study.variants[variant.index()].currents[0];
            current.as_mut().unwrap().interval.upper = upper;
        }
        told = shown(&scenario, &study);
        told.all_say(&format!("in (c) than in (a) ({remark})."));
    }
}

/// Where (c) leaves the lowest cost open, the answer is another without it.
#[test]
fn an_open_lowest_cost_that_would_be_settled_is_a_change() {
    let scenario = lamps();
    let mut study = chain_alone_is_cheapest(&scenario);
    let c = Variant::ParalleledWithSensors;
    set(&mut study, c, Verdict::Pass, 143.601);
    assert!(study.decision().doubts[c.index()].is_some());
    study.sensitivities = vec![crossing(c, 1.2, 1.3, 1.4)];
    let shown = shown(&scenario, &study);
    let searched = &shown.summary["break_even_searches"][0];
    assert_eq!(searched["answer"], "changes beyond the break-even");
    assert!(!shown.terminal.contains("does not change the answer"), "{}", shown.terminal);
}

/// A break-even has a lower level than the verdict: where the two part, the levels are told.
#[test]
fn a_break_even_that_the_verdict_does_not_follow_tells_its_level() {
    let scenario = lamps();
    let mut study = chain_alone_is_cheapest(&scenario);
    set(&mut study, Variant::Chain, Verdict::NotDecided, 143.6);
    study.sensitivities = vec![crossing(Variant::Chain, 1.2, 1.3, 1.4)];
    let told = shown(&scenario, &study);
    told.all_say("The break-even is 1.30 times (1.20 to 1.40).");
    told.all_say(
        "An interval of a break-even is a statement by itself (95 %). Verdicts take 98.75 % intervals.",
    );
}

/// Samples that cannot show a pass show none at other bands either.
#[test]
fn a_pass_that_so_few_samples_cannot_show_is_not_claimed() {
    let scenario = lamps();
    let mut study = chain_alone_is_cheapest(&scenario);
    set(&mut study, Variant::Chain, Verdict::Fail, 143.6);
    study.sensitivities = vec![crossing(Variant::Chain, 0.7, 0.8, 0.9)];
    shown(&scenario, &study).all_say("(b) meets 99 %.");
    study.sensitivities[0].samples = 504;
    shown(&scenario, &study).all_say("(b) seems to meet 99 % (too few samples to show it).");
}
