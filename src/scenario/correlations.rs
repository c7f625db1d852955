//! The tables `[[correlation]]`: which parameters of a phase vary together.

use std::ops::{Bound, Range};

use itertools::Itertools as _;

use super::grades::Grades;
use super::reader::{Bounds, Presence, Table};
use super::tolerance::{Correlation, CorrelationError, Member, Tolerance, Tolerances, errors};
use crate::converter::Parameter;

const COEFFICIENT: Bounds = Bounds {
    words: "above −1 and below 1",
    low: Bound::Excluded(-1.0),
    high: Bound::Excluded(1.0),
};

const CORRELATION: &str = "two parameters of a phase that vary together, such as those of one core";

/// A correlation and where its coefficients stand.
struct Placed {
    correlation: Correlation,
    place: Range<usize>,
    across: Range<usize>,
}

/// Reads `[[correlation]]` and adds it to the tolerances. Those of grades take part too.
pub(super) fn read(
    root: &mut Table<'_>,
    tolerances: Option<Tolerances>,
    grades: Option<&Grades>,
) -> Option<Tolerances> {
    let field = root.key("correlation", CORRELATION);
    if field.key_span().is_none() {
        return tolerances;
    }
    let tables = field.tables(Presence::Optional("all parameters scatter independently"));
    let read: Vec<_> = tables.into_iter().map(read_pair).collect();
    let (Some(placed), Some(tolerances)) =
        (read.into_iter().collect::<Option<Vec<_>>>(), tolerances)
    else {
        return None;
    };
    if !are_known(root, &placed, &tolerances, grades) {
        return None;
    }
    let correlations = placed.iter().map(|placed| placed.correlation);
    let tolerances = correlations.fold(tolerances, |all, one| all.with_correlation(one));
    // Only a scenario that is right so far: the matrices take milliseconds.
    if root.has_errors() {
        return None;
    }
    let errors = all_errors(&tolerances, grades);
    for error in &errors {
        report(root, &placed, error);
    }
    errors.is_empty().then_some(tolerances)
}

fn read_pair(mut table: Table<'_>) -> Option<Placed> {
    let span = table.span();
    let between = table
        .key("between", "two different parameters of a phase, both with a tolerance or grades")
        .pair(Parameter::ALL.into_iter().filter(|own| own.is_one_a_phase()), Parameter::key)
        .required();
    let field = table.key("coefficient", "Pearson's correlation of their values in one phase");
    let place = field.value_span().unwrap_or(span);
    let coefficient = field.number(COEFFICIENT, "0.9").required();
    let field = table.key(
        "coefficient_across",
        "Pearson's correlation of their values in two different phases of one converter",
    );
    let across_place = field.value_span().unwrap_or_else(|| place.clone());
    let across = field.number(COEFFICIENT, "0.2").optional("as far as their lots make it");
    let [(first, _), (second, other)] = between?;
    if first == second {
        let message = format!("`between` names `{}` twice", first.key());
        table.report_at(Some(other), message, "expected two different parameters");
        return None;
    }
    table.finish();
    let mut between = [first, second];
    between.sort_by_key(|parameter| parameter.index());
    let correlation = Correlation { between, coefficient: coefficient?, across: across? };
    Some(Placed { correlation, place, across: across_place })
}

/// Whether every pair is given once, and every parameter scatters; reported where not.
fn are_known(
    root: &Table<'_>,
    placed: &[Placed],
    tolerances: &Tolerances,
    grades: Option<&Grades>,
) -> bool {
    let mut known = true;
    for (n, Placed { correlation, place, .. }) in placed.iter().enumerate() {
        let between = correlation.between;
        if placed[..n].iter().any(|before| before.correlation.between == between) {
            let message = format!("the correlation of {} is given twice", names(between));
            root.report_at(Some(place.clone()), message, "expected each pair once");
            known = false;
        }
        for parameter in between {
            if let Some((message, expected)) = exact(parameter, tolerances, grades) {
                root.report_at(Some(place.clone()), message, &expected);
                known = false;
            }
        }
    }
    known
}

/// Why a parameter has no correlation, and what was expected: it does not scatter. One exact grade
/// beside others that scatter is allowed.
fn exact(
    parameter: Parameter,
    tolerances: &Tolerances,
    grades: Option<&Grades>,
) -> Option<(String, String)> {
    let key = parameter.key();
    if offers(grades, parameter).any(|tolerance| tolerance.matching.is_some()) {
        let message = format!("a grade of `{key}` is matched, so it correlates with nothing");
        return Some((message, "expected no `matching`, or no correlation".to_owned()));
    }
    let known = tolerances.get(parameter);
    let is_exact = |tolerance: &Tolerance| tolerance.band == 0.0;
    let mut offers = offers(grades, parameter).peekable();
    if known.is_none() && offers.peek().is_none() {
        let message = format!("`{key}` has no tolerance, so it correlates with nothing");
        return Some((message, format!("expected a table [tolerance.{key}] beside it")));
    }
    if known.is_some_and(is_exact) || (offers.peek().is_some() && offers.all(is_exact)) {
        let message = format!("the band of `{key}` is 0 %, so it correlates with nothing");
        return Some((message, "expected a band above 0 %, or no correlation".to_owned()));
    }
    None
}

/// The tolerances of the grades on offer for a parameter.
fn offers(grades: Option<&Grades>, parameter: Parameter) -> impl Iterator<Item = &Tolerance> {
    let offers = grades.into_iter().flat_map(|grades| &grades.offers);
    let own = offers.filter(move |offer| offer.parameter == parameter);
    own.flat_map(|offer| offer.grades.iter().map(|grade| &grade.tolerance))
}

/// What is wrong with the correlations with the tolerances of the scenario and a choice of grades: the first of all
/// choices with which something is.
fn all_errors(tolerances: &Tolerances, grades: Option<&Grades>) -> Vec<CorrelationError> {
    let correlations = tolerances.correlations();
    let is_member = |p: &Parameter| correlations.iter().any(|c| c.between.contains(p));
    let members = Parameter::ALL.into_iter().filter(is_member).map(|parameter| {
        let own = tolerances.get(parameter).into_iter();
        let all = own.chain(offers(grades, parameter));
        all.map(|tolerance| Member::new(parameter, tolerance)).collect::<Vec<_>>()
    });
    let choices = members.multi_cartesian_product();
    let mut wrong = choices.map(|members| errors(members, correlations));
    wrong.find(|errors| !errors.is_empty()).unwrap_or_default()
}

fn report(root: &Table<'_>, placed: &[Placed], error: &CorrelationError) {
    match error {
        CorrelationError::OutOfReach { between, is_across, range } => {
            let own = placed.iter().find(|placed| placed.correlation.between == *between);
            let [what, reason] = if *is_across {
                ["`coefficient_across`", "in different phases only what lots share can correlate"]
            } else {
                ["`coefficient`", "shapes and lot shares allow no other"]
            };
            let place = own.map(|own| if *is_across { &own.across } else { &own.place });
            let message = format!("{what} of {} is out of reach", names(*between));
            let expected = format!("expected {}: {reason}", reachable(*range));
            root.report_at(place.cloned(), message, &expected);
        }
        CorrelationError::NotDefinite { excluded, nearest } => {
            let is_named = |placed: &&Placed| {
                excluded.iter().any(|pair| pair.between == placed.correlation.between)
            };
            let place = placed.iter().rfind(is_named).map(|placed| placed.place.clone());
            let asked = |pair: &Correlation| {
                let mut all = placed.iter().map(|placed| &placed.correlation);
                all.find(|asked| asked.between == pair.between)
            };
            let named = excluded.iter().map(|pair| {
                let open = if asked(pair).is_none() { " (not given)" } else { "" };
                told(pair) + open
            });
            let message = format!("these correlations exclude each other: {}", named.format(", "));
            let is_new = |pair: &&Correlation| match asked(pair) {
                Some(asked) => asked != *pair,
                None => pair.coefficient != 0.0 || pair.across.is_some_and(|across| across != 0.0),
            };
            let changed = nearest.iter().filter(is_new).map(told).format(", ");
            let expected = format!("expected a positive definite matrix; the nearest: {changed}");
            root.report_at(place, message, &expected);
        }
    }
}

fn names(between: [Parameter; 2]) -> String {
    between.map(|parameter| format!("`{}`", parameter.key())).join(" and ")
}

fn told(correlation: &Correlation) -> String {
    let Correlation { between, coefficient, across } = correlation;
    // A zero without its sign.
    let across = across.map_or_else(String::new, |across| format!(" (across {})", across + 0.0));
    format!("{} {}{across}", names(*between), coefficient + 0.0)
}

/// A range in as few decimals as show it, two at least; a single value where it is no wider.
fn reachable([low, high]: [f64; 2]) -> String {
    for decimals in 2..=4 {
        let scale = 10_f64.powi(decimals);
        // Rounded inwards, so that what is said can be had; a zero without its sign.
        let [low, high] = [(scale * low).ceil(), (scale * high).floor()].map(|x| x / scale + 0.0);
        if low < high {
            let digits = decimals.unsigned_abs() as usize;
            return format!("from {low:.digits$} to {high:.digits$}");
        }
    }
    let middle = (1e5 * (low + high)).round() / 2e5;
    format!("{}", middle + 0.0)
}
