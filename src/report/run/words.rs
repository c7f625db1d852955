//! Sentences that terminal and page of a run share.

use crate::converter::Arrangement;
use crate::report::format::numbers::{count, given_percent, samples};
use crate::scenario::Scenario;
use crate::statistics::{IntervalMethod, Verdict};
use crate::study::run::{Allowance, DecidingRun, Forecast, Joint, Run, SampleSize};

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

/// What the intervals rest on, and what ended the run.
pub(super) fn sampling(run: &Run) -> String {
    match run.size {
        SampleSize::Fixed(_) => {
            "Yields have Clopper–Pearson intervals, for a number of samples fixed in advance."
                .to_owned()
        }
        SampleSize::UntilDecided(test) => {
            let end = if run.joint[0].verdict_of_samples() == Verdict::NotDecided {
                let most = samples(test.most_samples());
                format!("The run ended at the most samples allowed, {most}, without a verdict")
            } else {
                let drawn = samples(run.settings.samples);
                format!("The verdict of the chain ended the run after {drawn}")
            };
            format!("{end}. The intervals are sequential: they hold wherever a run ends.")
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
    (kept < run.settings.samples).then(|| {
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
