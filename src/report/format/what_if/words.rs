//! Sentences about other assumptions.

use crate::report::format::names::{parameter, verdict};
use crate::report::format::numbers::{count, counted, minus, signed};
use crate::statistics::{Difference, Verdict};
use crate::study::common::assumption::Assumption;
use crate::study::common::what_if::{AssumptionOutcome, VerdictChange, WhatIf};

/// Assumptions named in a sentence, at most.
const NAMED: usize = 2;

/// Whose verdict it is in [`sentence`], where only one was told.
pub(in crate::report) const THE_VERDICT: &str = "The verdict";

/// What the assumptions mean.
pub(in crate::report) const MEANING: &str = "Normal instead of uniform: the band is 3 σ. A mean at a \
     quarter: normal parts move their mean, others fill the part of the band about it. Correlations are \
     tried for parts that may share one core.";

/// Another assumption, as what follows "if".
pub(in crate::report) fn assumption(assumption: Assumption) -> String {
    match assumption {
        Assumption::LotShare(share) => format!("all lot shares are {share}"),
        Assumption::Correlation { between: [first, second], coefficient } => format!(
            "{} and {} correlate by {}",
            parameter(first).short,
            parameter(second).short,
            minus(&coefficient.to_string())
        ),
        Assumption::Uniform => "normal parts are uniform".to_owned(),
        Assumption::Normal => "uniform parts are normal".to_owned(),
        Assumption::Mean(mean) if mean < 0.0 => "all means lie a quarter band low".to_owned(),
        Assumption::Mean(_) => "all means lie a quarter band high".to_owned(),
    }
}

/// A change of the yield, of all converters, in percent with a sign.
pub(in crate::report) fn yield_change(share: f64) -> String {
    format!("{}\u{a0}%", signed(100.0 * share, 2))
}

/// Both ends of the interval of such a change.
pub(in crate::report) fn yield_change_ends(difference: &Difference) -> String {
    format!("{} to {}", yield_change(difference.lower), yield_change(difference.upper))
}

/// What an assumption does to the verdict.
pub(in crate::report) fn change(found: &WhatIf, outcome: &AssumptionOutcome) -> String {
    match found.change(outcome) {
        VerdictChange::Same => "same".to_owned(),
        VerdictChange::Changed => format!("becomes {}", verdict(outcome.verdict)),
        VerdictChange::Open => "not decided".to_owned(),
    }
}

/// What changes the verdict of the chain, beside it. The subject is that verdict.
pub(in crate::report) fn sentence(subject: &str, found: &WhatIf) -> String {
    let [pass, fail] = [Verdict::Pass, Verdict::Fail].map(|then| {
        let is_then = |outcome: &&AssumptionOutcome| {
            outcome.verdict == then && found.change(outcome) == VerdictChange::Changed
        };
        let all = found.outcomes.iter().filter(is_then);
        all.map(|outcome| assumption(outcome.assumption)).collect::<Vec<_>>()
    });
    let becomes = |then: Verdict, conditions: &[String]| {
        (!conditions.is_empty())
            .then(|| format!("{subject} becomes {} if {}.", verdict(then), listed(conditions)))
    };
    let is_open = |o: &&AssumptionOutcome| found.change(o) == VerdictChange::Open;
    let open = found.outcomes.iter().filter(is_open).count() as u64;
    let all = found.outcomes.len() as u64;
    let changes = [becomes(Verdict::Pass, &pass), becomes(Verdict::Fail, &fail)];
    let changes: Vec<String> = changes.into_iter().flatten().collect();
    match (changes.is_empty(), open) {
        (true, 0) => {
            format!("{subject} does not change under any of {}.", counted(all, "other assumption"))
        }
        (true, _) if open == all => format!(
            "The samples are too few to tell whether any of {} changes the verdict.",
            counted(all, "other assumption")
        ),
        (true, _) => format!(
            "No assumption was shown to change the verdict, but the samples do not decide {} of {}.",
            count(open),
            count(all)
        ),
        (false, 0) => changes.join(" "),
        (false, _) => format!("{} {}", changes.join(" "), still_open(open, all)),
    }
}

fn still_open(open: u64, all: u64) -> String {
    let are = if open == 1 { "is" } else { "are" };
    format!("{} of {} {are} not decided.", count(open), counted(all, "assumption"))
}

/// Some conditions, and how many others there are.
fn listed(conditions: &[String]) -> String {
    let named = conditions[..conditions.len().min(NAMED)].join(", or if ");
    match conditions.len().saturating_sub(NAMED) {
        0 => named,
        more => format!("{named}, or under {}", counted(more as u64, "other assumption")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::converter::Parameter;
    use crate::report::format::numbers::plain;
    use crate::statistics::{Confidence, Estimator, OutcomeChanges};
    use crate::study::common::what_if::Change;

    fn found(verdict: Verdict, then: &[(Assumption, Verdict)]) -> WhatIf {
        let outcomes = OutcomeChanges {
            failing_among: 100,
            saved: 1,
            still_failing: 2,
            passing_among: 100,
            lost: 3,
        };
        let estimator = Estimator::Fixed(Confidence::new(0.95).unwrap());
        let change = Change::new(outcomes, &estimator).unwrap();
        let outcome = |(assumption, verdict): &(Assumption, Verdict)| AssumptionOutcome {
            assumption: *assumption,
            change,
            verdict: *verdict,
        };
        let outcomes = then.iter().map(outcome).collect();
        WhatIf { verdict, failing_among: 100, passing_among: 100, outcomes }
    }

    /// The four kinds of answer.
    #[test]
    fn every_answer_in_one_sentence() {
        let between = [Parameter::ResonantInductance, Parameter::MagnetisingInductance];
        let pair = Assumption::Correlation { between, coefficient: -0.9 };
        let lot = Assumption::LotShare(0.0);
        let (pass, fail, open) = (Verdict::Pass, Verdict::Fail, Verdict::NotDecided);
        for (verdict, then, expected) in [
            (
                pass,
                vec![(pair, pass), (lot, pass)],
                "The verdict does not change under any of 2 other assumptions.",
            ),
            (
                pass,
                vec![(pair, fail), (lot, fail)],
                "The verdict becomes fail if Lr and Lm correlate by −0.9, or if all lot shares are 0.",
            ),
            (
                fail,
                vec![(pair, pass), (lot, open)],
                "The verdict becomes pass if Lr and Lm correlate by −0.9. 1 of 2 assumptions is not decided.",
            ),
            (
                pass,
                vec![(pair, open), (lot, pass)],
                "No assumption was shown to change the verdict, but the samples do not decide 1 of 2.",
            ),
            (
                pass,
                vec![(pair, open), (lot, open)],
                "The samples are too few to tell whether any of 2 other assumptions changes the verdict.",
            ),
        ] {
            assert_eq!(plain(&sentence(THE_VERDICT, &found(verdict, &then))), expected);
        }
        let many = found(pass, &[(lot, fail); 5]);
        let many = sentence(THE_VERDICT, &many);
        assert!(plain(&many).ends_with("are 0, or under 3 other assumptions."), "{many}");
        let three = sentence(THE_VERDICT, &found(pass, &[(lot, fail); 3]));
        assert!(plain(&three).ends_with("are 0, or under 1 other assumption."), "{three}");
        // Of a verdict that is open itself nothing is told to stay the same.
        let undecided = found(open, &[(lot, open), (pair, fail)]);
        assert_eq!(
            plain(&sentence(THE_VERDICT, &undecided)),
            "The verdict becomes fail if Lr and Lm correlate by −0.9. 1 of 2 assumptions is not decided."
        );
    }
}
