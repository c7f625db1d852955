//! Sentences that terminal and page of a run share.

use crate::converter::Arrangement;
use crate::report::format::names::{verdict, verdict_if_judged};
use crate::report::format::numbers::{count, counted, given_percent, samples, yield_percent};
use crate::report::format::switching::KeptFigures;
use crate::scenario::Scenario;
use crate::statistics::{IntervalMethod, Verdict};
use crate::study::common::figures::Figure;
use crate::study::explanation::FailureDrivers;
use crate::study::run::{
    Allowance, CommonBins, DecidingRun, Forecast, Joint, Lack, Run, SampleSize,
};

/// What is said where the user stopped the explanation.
pub(super) const INTERRUPTED: &str = "The explanation was interrupted. The run itself is complete: \
                                      verdict, yields and figures are of all samples.";

/// What an interval of a yield is called.
pub(super) const fn interval(method: IntervalMethod) -> &'static str {
    match method {
        IntervalMethod::ClopperPearson => "Clopper–Pearson interval",
        IntervalMethod::Sequential => "sequential interval",
        IntervalMethod::MeasuredFiles => "interval",
    }
}

/// What begins a statement that does not look beyond the measured parts.
const ALONE: &str = "On the measured parts alone";

/// A statement of the samples: with measured parts it is on these alone.
pub(super) fn of_samples(joint: &Joint, statement: &str) -> String {
    match joint.of_measured_parts {
        Some(_) => {
            let mut letters = statement.chars();
            let first = letters.next().map(|first| first.to_lowercase().to_string());
            format!("{ALONE}: {}{}", first.unwrap_or_default(), letters.as_str())
        }
        None => statement.to_owned(),
    }
}

/// What the measured parts alone say, and what a verdict on their whole production takes; none without
/// measured parts.
pub(super) fn measured_parts(joint: &Joint) -> Option<String> {
    let told = [of_measured_parts(joint)?, lack(joint).unwrap_or_default()];
    Some(told.join(" ").trim_end().to_owned())
}

/// What the measured parts alone say; none without measured parts.
pub(super) fn of_measured_parts(joint: &Joint) -> Option<String> {
    let alone = joint.of_measured_parts?;
    let [lower, upper] = [alone.good.lower, alone.good.upper].map(yield_percent);
    Some(format!("{ALONE}: {}, {lower} to {upper}.", verdict(alone.verdict)))
}

/// What a verdict on the whole production takes; none where there is one, or where more samples decide on
/// the measured parts first.
pub(super) fn lack(joint: &Joint) -> Option<String> {
    const TOO_CLOSE: &str =
        "The yield is too close to the target for any practical number of them.";
    let alone = joint.of_measured_parts?;
    let needed = match alone.lack? {
        Lack::Samples(samples) => {
            // Only the chain's verdict makes a run go on.
            let goes_on = alone.good.method == IntervalMethod::Sequential
                && joint.arrangement == Arrangement::Chain;
            let needed = match samples.map(|n| count(rounded_up(n))) {
                None => TOO_CLOSE.to_owned(),
                Some(n) if goes_on => format!("About {n} in all decide {CASES}."),
                Some(n) => format!("A new run of about {n} with another --seed decides {CASES}."),
            };
            return Some(format!(
                "Too few samples were drawn for a verdict on the whole production. {needed}"
            ));
        }
        Lack::Parts(Some(parts)) => format!(
            "A verdict takes at least about {} of each kind, if the yield stays. More samples would not do.",
            count(rounded_up(parts))
        ),
        Lack::Parts(None) => TOO_CLOSE.to_owned(),
    };
    Some(format!(
        "Too few parts were measured for a verdict on the whole production. {needed} A fitted \
         shape (verb shapes) needs fewer, but assumes what the parts do not show."
    ))
}

/// What the target share of chains keeps to over all operating points.
pub(super) fn kept_figures(run: &Run) -> KeptFigures {
    let Some(CommonBins { over_points: [chain, _], .. }) = &run.over_points else {
        return KeptFigures::default();
    };
    let share_of_limit = |figure: Figure| {
        let own = chain.largest.iter().find(|own| own.figure == figure)?;
        Some(own.tolerance_limit.value()? / own.limit?)
    };
    KeptFigures {
        sharing_error: chain.required_limit.upper.value(),
        switch_currents: [Figure::WorstSwitchRms, Figure::WorstSwitchPeak].map(share_of_limit),
    }
}

/// What the verdict of an arrangement, over all ages or at one, is called.
pub(super) fn verdict_word(run: &Run, arrangement: Arrangement, own: Verdict) -> &'static str {
    let judged = run.joint.iter().find(|joint| joint.arrangement == arrangement);
    verdict_if_judged(own, judged.is_some_and(|joint| joint.is_judged))
}

/// A number rounded up to two digits.
fn rounded_up(n: u64) -> u64 {
    let unit = 10_u64.pow(n.max(1).ilog10().saturating_sub(1));
    n.div_ceil(unit) * unit
}

/// What the intervals rest on, and what ended the run.
pub(super) fn sampling(run: &Run) -> String {
    let is_measured = run.joint.iter().any(|joint| joint.of_measured_parts.is_some());
    let (beyond, which) = if is_measured {
        (
            "Intervals of yields are for the whole production of the measured parts. ",
            "For the measured parts alone yields",
        )
    } else {
        ("", "Yields")
    };
    match run.size {
        SampleSize::Fixed(_) => format!(
            "{beyond}{which} have Clopper–Pearson intervals, for a number of samples fixed in advance."
        ),
        SampleSize::UntilDecided(test) => {
            let end = if run.joint[0].lacks_samples() {
                let most = samples(test.most_samples());
                format!("The run ended at the most samples allowed, {most}, without a verdict")
            } else {
                let drawn = samples(run.settings.samples);
                let chain = &run.joint[0];
                let is_open = chain.is_judged && chain.verdict == Verdict::NotDecided;
                let of = if is_open { "measured parts" } else { "chain" };
                let what = if chain.is_judged { "verdict" } else { "yield" };
                format!("The {what} of the {of} ended the run after {drawn}")
            };
            format!("{beyond}{end}. The intervals are sequential: they hold wherever a run ends.")
        }
    }
}

/// What so many samples do to a limit.
pub(super) const fn miss(n: u64) -> &'static str {
    if n == 1 { "misses" } else { "miss" }
}

/// Where the files hold but the first samples.
pub(super) fn first_in_files(run: &Run) -> Option<String> {
    let kept = run.samples_in_files();
    (run.has_files && kept < run.settings.samples).then(|| {
        format!(
            "samples.parquet and population.parquet hold the first {}; every figure is of all.",
            samples(kept)
        )
    })
}

/// How an open verdict can be decided.
pub(super) fn to_decide(run: &Run, joint: &Joint, forecast: &Forecast) -> String {
    const NONE: &str = "The yield is too close to the target for any practical number of samples.";
    let until = forecast.until_decided.map(|deciding| until_decided(run, deciding));
    let new_run = forecast.new_run.map(|n| {
        let often = if until.is_some() { "as often" } else { CASES };
        format!("A new run of {} with another --seed decides {often}.", samples(n))
    });
    let is_open = until.is_none() && new_run.is_none();
    let follows = joint.arrangement == Arrangement::Paralleled;
    let sentences = [
        is_open.then(|| NONE.to_owned()),
        until,
        new_run.clone(),
        new_run.map(|_| errors_add(run)),
        follows.then(|| "--decide follows the chain alone.".to_owned()),
    ];
    sentences.into_iter().flatten().collect::<Vec<_>>().join(" ")
}

/// How often the number told is enough.
const CASES: &str = "in 9 of 10 cases, if the yield stays";

/// What a second run costs.
fn errors_add(run: &Run) -> String {
    let which = if run.size.is_fixed() { "second" } else { "new" };
    format!("A {which} run is a second chance to be wrong: errors add.")
}

/// By how many samples a run until decided comes to a verdict, and what it needs.
fn until_decided(run: &Run, deciding: DecidingRun) -> String {
    let (number, most) = (samples(deciding.samples), count(deciding.samples));
    let raised = format!("`run --decide` with `[run] most_samples` raised to {most}");
    match deciding.allowance {
        Allowance::Enough => {
            format!("`run --decide` goes on until it is decided: within {number} {CASES}.")
        }
        Allowance::RaisedForOtherSamples => {
            format!("{raised} and another --seed decides {CASES}.")
        }
        Allowance::Raised if run.size.is_fixed() => format!("{raised} decides {CASES}."),
        Allowance::Raised => {
            format!("{raised} and the same --seed decides {CASES}: it is still one test.")
        }
    }
}

/// How the verdicts of both arrangements relate.
pub(super) fn both_verdicts(scenario: &Scenario) -> String {
    let limits = &scenario.limits;
    let wrong = given_percent(0.5 * (1.0 - limits.confidence));
    format!(
        "The verdict of the chain answers the question; --decide and --require-pass follow it. The \
         reference is a second statement. Each verdict is wrong in {wrong} of the cases at most, so \
         that both together hold at {}.",
        given_percent(limits.confidence)
    )
}

/// Which failing samples were tried again where these are not all of an arrangement; none where they are.
pub(in crate::report::run) fn tried_again(
    drivers: &FailureDrivers,
    joint: &Joint,
) -> Option<String> {
    let outcomes = &drivers.parts.first()?.change.joint.outcomes;
    let tried = outcomes.saved + outcomes.still_failing;
    let all = joint.good.trials - joint.good.successes;
    (tried < all).then(|| {
        format!(
            "Tried: the first {} of all {}, those among the first {}.",
            count(tried),
            counted(all, "failure"),
            samples(drivers.samples.failing_among)
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_rounded_up_to_two_digits() {
        for (n, rounded) in [(1, 1), (47, 47), (101, 110), (2590, 2600), (99_100, 100_000)] {
            assert_eq!(rounded_up(n), rounded, "{n}");
        }
    }
}
