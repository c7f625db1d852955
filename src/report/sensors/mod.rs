//! The case for or against current sensors, in words that terminal and page share, and its outputs.

pub mod json;
pub mod terminal;

use super::terminal::{grouped, percent, yield_percent};
use crate::scenario::Scenario;
use crate::statistics::{Verdict, Yield};
use crate::study::sensors::{
    FreshYields, Search, SensorStudy, Unfinished, Variant, VariantResult, VerifiedFlip,
};

/// A variant in a table: `(b) chain`.
pub(super) fn name(variant: Variant) -> String {
    let words = match variant {
        Variant::Paralleled => "paralleled",
        Variant::Chain => "chain",
        Variant::ParalleledWithSensors => "paralleled + sensors",
        Variant::ChainWithSensors => "chain + sensors",
    };
    format!("({}) {words}", variant.letter())
}

/// The answer in a sentence.
pub(super) fn headline(study: &SensorStudy) -> &'static str {
    match study.verdict() {
        Verdict::Pass => "The sensors can be dropped: the chain alone meets the target.",
        Verdict::Fail => "The sensors cannot be dropped: the chain alone misses the target.",
        Verdict::NotDecided => {
            "Not decided: the target lies inside the interval of the chain's yield."
        }
    }
}

/// A yield with its interval.
pub(super) fn with_interval(good: &Yield) -> String {
    let [estimate, lower, upper] = [good.estimate, good.lower, good.upper].map(yield_percent);
    format!("{estimate} ({lower} to {upper})")
}

/// The numbers that carry the answer, a sentence each.
pub(super) fn carrying(scenario: &Scenario, study: &SensorStudy) -> Vec<String> {
    let chain = study.of(Variant::Chain);
    let mut all = vec![format!(
        "(b) meets every limit at every operating point in {} of {} converters: {} against a \
         target of {}.",
        grouped(chain.good.successes),
        grouped(study.samples),
        with_interval(&chain.good),
        yield_percent(scenario.limits.yield_target),
    )];
    if chain.verdict == Verdict::NotDecided {
        all.push(chain.samples_to_decide.map_or_else(
            || "No practical number of samples would decide.".to_owned(),
            |n| format!("About {} samples would decide, at this proportion.", grouped(n)),
        ));
    }
    all.push(on_top(study));
    all.push(instead(study));
    all.extend(ratings(study));
    all.push(costs(study));
    all
}

/// What sensors buy on top of the chain.
fn on_top(study: &SensorStudy) -> String {
    let (gained, lost) = study.apart(Variant::ChainWithSensors, Variant::Chain);
    let both = study.of(Variant::ChainWithSensors);
    let loops = both.loops.map_or(0.0, |l| l.at_end);
    let worth = match gained.cmp(&lost) {
        std::cmp::Ordering::Greater => "Sensors on top of the chain buy yield",
        std::cmp::Ordering::Equal => "Sensors on top of the chain buy no yield",
        std::cmp::Ordering::Less => "Sensors on top of the chain cost yield",
    };
    format!(
        "{worth}: (d) saves {} converters that (b) fails and spoils {} that (b) keeps; p95 of the \
         sharing error {} against {}. {} of its phases stand at the end of the trim range.",
        grouped(gained),
        grouped(lost),
        p95(both),
        p95(study.of(Variant::Chain)),
        percent(loops),
    )
}

/// What sensors do instead of the chain.
fn instead(study: &SensorStudy) -> String {
    let with = study.of(Variant::ParalleledWithSensors);
    format!(
        "Sensors instead of the chain, (c): {} good, {} of (a) without either; p95 of the sharing \
         error {}.",
        with_interval(&with.good),
        yield_percent(study.of(Variant::Paralleled).good.estimate),
        p95(with),
    )
}

/// The 95 % quantile of a variant's sharing error.
fn p95(result: &VariantResult) -> String {
    result.sharing.map_or_else(|| "unknown".into(), |s| percent(s.p95))
}

/// The ratings of (a) and (b), and how much smaller a switch may be.
fn ratings(study: &SensorStudy) -> Option<String> {
    let [plain, chain] = [Variant::Paralleled, Variant::Chain].map(|v| study.of(v));
    let (a, b) = (plain.ratings[0]?.current, chain.ratings[0]?.current);
    let (over_a, over_b) = (plain.oversize()[0]?, chain.oversize()[0]?);
    let smaller = 1.0 - over_b / over_a;
    let how = if smaller >= 0.0 { "smaller" } else { "larger" };
    Some(format!(
        "RMS switch rating at the target yield: (b) {b:.2} A, {over_b:.3} times the nominal \
         converter's worst switch; (a) {a:.2} A, {over_a:.3} times. Measured by what equal parts \
         would need, a switch of (b) may be {} {how} than one of (a).",
        percent(smaller.abs()),
    ))
}

fn costs(study: &SensorStudy) -> String {
    let of = |variant: Variant| {
        let result = study.of(variant);
        let price = result.price_per_good().map_or_else(|| "none".into(), |p| format!("{p:.2}"));
        let (letter, fit) = (variant.letter(), result.bill.failure_rate);
        format!("({letter}) {price} and {fit:.0} FIT")
    };
    let each = Variant::ALL.map(of);
    format!("Price for a good converter, and failure rate: {}.", each.join(", "))
}

/// Under which conditions the answer would be another, a sentence each.
pub(super) fn flips(scenario: &Scenario, study: &SensorStudy) -> Vec<String> {
    let mut all = Vec::new();
    all.extend(study.target_flip.as_ref().map(|flip| at_target(scenario, study, flip)));
    all.extend(study.better_flip.as_ref().map(|flip| at_turn(study, flip)));
    all.extend(
        [Variant::ParalleledWithSensors, Variant::ChainWithSensors].map(|v| price(study, v)),
    );
    all
}

fn factor(x: f64) -> String {
    format!("{x:.3}")
}

fn fresh(study: &SensorStudy, yields: &[FreshYields]) -> String {
    let each = yields.iter().map(|f| {
        let own =
            f.yields.iter().map(|(v, good)| format!("({}) {}", v.letter(), with_interval(good)));
        format!("{}: {}", factor(f.factor), own.collect::<Vec<_>>().join(", "))
    });
    let each: Vec<_> = each.collect();
    if each.is_empty() {
        return String::new();
    }
    format!(" Fresh samples (seed {}), at factor {}.", study.fresh_seed, each.join("; at "))
}

fn at_target(scenario: &Scenario, study: &SensorStudy, flip: &VerifiedFlip) -> String {
    let target = yield_percent(scenario.limits.yield_target);
    let meets = study.of(Variant::Chain).good.estimate >= scenario.limits.yield_target;
    match (flip.search, meets) {
        (Search::Found(f), true) => format!(
            "Bands: the yield of (b) falls below {target} when all bands of the parts are {} to {} \
             times as wide.{}",
            factor(f.holds),
            factor(f.turned),
            fresh(study, &flip.fresh),
        ),
        (Search::Found(f), false) => format!(
            "Bands: the yield of (b) reaches {target} when all bands of the parts are {} to {} times \
             as wide.{}",
            factor(f.turned),
            factor(f.holds),
            fresh(study, &flip.fresh),
        ),
        (Search::None { greatest, .. }, true) => {
            format!(
                "Bands: (b) meets {target} even with all bands {} times as wide.",
                factor(greatest)
            )
        }
        (Search::None { least, .. }, false) => {
            format!(
                "Bands: (b) misses {target} even with all bands {} times as wide.",
                factor(least)
            )
        }
    }
}

fn at_turn(study: &SensorStudy, flip: &VerifiedFlip) -> String {
    let [chain, rival] =
        [Variant::Chain, Variant::ParalleledWithSensors].map(|v| study.of(v).good.estimate);
    let (now, then) = if rival > chain { ("(c)", "(b)") } else { ("(b)", "(c)") };
    match flip.search {
        Search::Found(f) => format!(
            "Sensors instead: {now} has the higher yield of (b) and (c) now; {then} has it with all \
             bands {} times as wide, not yet at {}.{}",
            factor(f.turned),
            factor(f.holds),
            fresh(study, &flip.fresh),
        ),
        Search::None { least, greatest } => format!(
            "Sensors instead: {now} has the higher yield of (b) and (c), or as high a one, with all \
             bands from {} to {} times as wide.",
            factor(least),
            factor(greatest),
        ),
    }
}

fn price(study: &SensorStudy, variant: Variant) -> String {
    let letter = variant.letter();
    let Some(even) = study.of(variant).break_even else {
        return format!("Price: no good converter, so no break-even price for ({letter}).");
    };
    let range = format!("{:.2} to {:.2}", even.interval.lower, even.interval.upper);
    if even.estimate > 0.0 {
        format!(
            "Price: ({letter}) costs less per good converter than (b) below {:.2} a sensor \
             ({range}).",
            even.estimate
        )
    } else {
        format!(
            "Price: ({letter}) costs more per good converter than (b) even with sensors as a gift: \
             break-even at {:.2} a sensor ({range}).",
            even.estimate
        )
    }
}

/// What is missing of a study that was stopped.
pub(super) fn unfinished(study: &SensorStudy) -> Option<String> {
    Some(match study.unfinished? {
        Unfinished::Samples => format!(
            "PARTIAL: stopped after {} of {} samples; break-even factors were not searched for.",
            grouped(study.samples),
            grouped(study.settings.samples)
        ),
        Unfinished::Factors => "PARTIAL: stopped before all break-even factors were found.".into(),
    })
}
