//! Words and names that all media share.

use itertools::Itertools;

use crate::converter::{Arrangement, Rating};
use crate::report::format::{names, numbers};
use crate::scenario::Limits;
use crate::statistics::QuantileEnd;
use crate::study::common::figures::Figure;
use crate::study::explanation::Explanation;
use crate::study::explanation::worst_case::{UnsolvedConverter, WorstCase};
use crate::study::run::{CaseResult, Run};
use crate::units::{Volt, VoltSecond};

/// The worst cases, where there are any.
pub(in crate::report::run) fn worst_cases(
    explanation: Option<&Explanation>,
) -> Option<&[WorstCase]> {
    explanation.and_then(|explanation| explanation.worst_cases.as_deref())
}

/// What an extreme value is, and what is proved of it.
pub(in crate::report::run) const EXTREME: &str = "An extreme value is the largest that a search finds with every part inside its band. Unless the \
     search was cut short, no part moved alone makes it larger. It is not proved to be the largest.";

/// Name of the extreme converter in `worst_converters.csv`.
pub(in crate::report::run) fn extreme_unit(run: &Run, worst: &WorstCase) -> String {
    let case = &run.cases[worst.case];
    let figure = names::limit(&worst.demand).long;
    format!("extreme {figure}: {} at {}", case.arrangement().name(), case.operating_point())
}

/// Name of the converter that needs the lowest or highest frequency in the same file.
pub(in crate::report::run) fn frequency_unit(case: &CaseResult, end: &str) -> String {
    format!("{end} frequency: {} at {}", case.arrangement().name(), case.operating_point())
}

/// Name of a converter without a steady state in the same file.
pub(in crate::report::run) fn unsolved_unit(case: &CaseResult, status: &str) -> String {
    format!("{status}: {} at {}", case.arrangement().name(), case.operating_point())
}

/// What its values are called: of a demand for soft switching, what swings have to spare.
pub(in crate::report::run) fn name(worst: &WorstCase) -> names::LimitTerm {
    match worst.figure {
        Figure::Switching(_) => names::LimitTerm {
            short: "swing to spare".to_owned(),
            long: "swing to spare, as a share of a full swing".to_owned(),
        },
        _ => names::limit(&worst.demand),
    }
}

/// Whether low values are bad: all other figures are the worse the higher they are.
pub(super) fn is_better_high(figure: Figure) -> bool {
    matches!(figure, Figure::Switching(_))
}

/// A value of a figure with its unit.
pub(in crate::report::run) fn with_unit(figure: Figure, value: f64) -> String {
    match figure {
        Figure::Switching(_) => numbers::percent(-value),
        _ if figure.is_ratio() => numbers::percent(value),
        Figure::Rating(Rating { stress, .. }) => names::stress_value(stress, value),
        _ => format!("{}\u{a0}{}", numbers::four(value), names::unit(figure)),
    }
}

/// The same without the unit, for a table that names it.
pub(in crate::report::run) fn without_unit(figure: Figure, value: f64) -> String {
    match figure {
        Figure::Switching(_) => numbers::in_percent(-value),
        _ if figure.is_ratio() => numbers::in_percent(value),
        _ => numbers::four(value),
    }
}

/// The unit of a table.
pub(in crate::report::run) fn unit(figure: Figure) -> &'static str {
    match names::unit(figure) {
        _ if figure.is_ratio() => "percent",
        Volt::SYMBOL => "volt",
        VoltSecond::SYMBOL => "volt-seconds",
        names::CELSIUS => "degree Celsius",
        _ => "ampere",
    }
}

/// What the target share keeps to, or why there is no such value.
pub(in crate::report::run) fn tolerance_limit(
    worst: &WorstCase,
    write: impl Fn(f64) -> String,
) -> String {
    match worst.tolerance_limit {
        QuantileEnd::Value(value) => write(value),
        QuantileEnd::Beyond => numbers::BEYOND.to_owned(),
        QuantileEnd::TooFewSamples => numbers::TOO_FEW_SAMPLES.to_owned(),
    }
}

/// What the Monte Carlo column holds: `99 % of converters keep to (95 % confidence)`.
pub(in crate::report::run) fn kept_to(limits: &Limits) -> String {
    format!(
        "{} of converters keep to, {} confidence",
        numbers::given_percent(limits.yield_target),
        numbers::given_percent(limits.confidence)
    )
}

/// Of each limited figure of an arrangement the worst case that lies highest against its limit.
pub(in crate::report::run) fn highest<'a>(
    run: &Run,
    worst_cases: &'a [WorstCase],
    arrangement: Arrangement,
) -> Vec<&'a WorstCase> {
    let mut highest: Vec<&WorstCase> = Vec::new();
    for worst in worst_cases.iter().filter(|w| run.cases[w.case].arrangement() == arrangement) {
        match highest.iter_mut().find(|known| known.figure == worst.figure) {
            None => highest.push(worst),
            Some(known) if worst.share_of_limit() > known.share_of_limit() => *known = worst,
            Some(_) => {}
        }
    }
    highest
}

/// What is said of converters inside the bands that have no steady state; none where the searches met
/// none.
pub(in crate::report::run) fn unsolved(run: &Run, explanation: &Explanation) -> Option<String> {
    let limited = explanation.worst_cases.iter().flatten();
    let limited = limited.filter_map(|worst| Some((worst.case, worst.unsolved.as_ref()?)));
    let of_frequency = explanation.frequency_extremes.iter();
    let of_frequency = of_frequency.filter_map(|own| Some((own.case, own.unsolved.as_ref()?)));
    let mut found: Vec<(usize, &UnsolvedConverter)> = limited.chain(of_frequency).collect();
    found.sort_by_key(|(case, _)| *case);
    let named = found.into_iter().map(|(case, unsolved)| {
        let case = &run.cases[case];
        let arrangement = names::arrangement(case.arrangement()).short;
        format!("{} at “{}” ({arrangement})", unsolved.status.name(), case.operating_point())
    });
    let cases: Vec<String> = named.unique().collect();
    (!cases.is_empty()).then(|| {
        format!(
            "With every part inside its band, converters can be {}. Extreme values are of the \
             converters that are solved.",
            cases.join(", ")
        )
    })
}
