//! Sentences that terminal and page of a run share.

use crate::report::format::numbers::{count, given_percent, samples};
use crate::scenario::Scenario;
use crate::statistics::{IntervalMethod, Verdict};
use crate::study::run::{Forecast, Run, SampleSize};

/// What an interval of a yield is called.
pub(super) const fn interval(method: IntervalMethod) -> &'static str {
    match method {
        IntervalMethod::ClopperPearson => "Clopper–Pearson interval",
        IntervalMethod::Sequential => "sequential interval",
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
            let end = if run.joint[0].verdict == Verdict::NotDecided {
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
pub(super) fn to_decide(scenario: &Scenario, run: &Run, forecast: &Forecast) -> String {
    const NONE: &str = "The yield is too close to the target for any practical number of samples.";
    let until = forecast.until_decided.map(|n| until_decided(scenario, run, n));
    let new_run = forecast
        .new_run
        .map(|n| format!("A new run of {} with another --seed decides as often.", samples(n)));
    match (until, new_run) {
        (Some(until), Some(new_run)) => format!("{until} {new_run}"),
        (until, new_run) => until.or(new_run).unwrap_or_else(|| NONE.to_owned()),
    }
}

/// By how many samples a run until decided comes to a verdict.
fn until_decided(scenario: &Scenario, run: &Run, by: u64) -> String {
    let cases = "in 9 of 10 cases, if the yield stays";
    let most = scenario.run.most_samples;
    if matches!(run.size, SampleSize::UntilDecided(_)) {
        format!("About {} would decide {cases}.", samples(by))
    } else if by > most {
        let most = count(most);
        format!("`run --decide` takes about {}, above most_samples = {most}.", samples(by))
    } else {
        format!("`run --decide` goes on until it is decided: within {} {cases}.", samples(by))
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
