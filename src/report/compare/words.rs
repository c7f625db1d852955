//! Sentences and names that terminal and page share.

use crate::printable;
use crate::report::format::numbers::{
    self, NONE, count, given_percent, level, money, percent_of_three, quantity, signed, three,
    yields_alike,
};
use crate::statistics::HIGHEST_SQUARED_LEVEL;
use crate::study::compare::{
    Compared, Comparison, Measured, MeasuredKind, Pairing, RECOMMENDED_SET, ReadResult, ReadYield,
    ValueChange, YieldChange,
};
use crate::units::{Ampere, Farad, Volt, VoltSecond};

/// Letter of a result, the first being A; behind Z come numbers.
pub(super) fn letter(place: usize) -> String {
    u8::try_from(place)
        .ok()
        .filter(|n| *n < 26)
        .map_or_else(|| format!("R{}", place + 1), |n| char::from(b'A' + n).to_string())
}

/// Where a result was read.
pub(super) fn path(read: &ReadResult) -> String {
    printable::line(&read.name).into_owned()
}

/// What a result rests on.
pub(super) fn made_of(read: &ReadResult) -> String {
    let samples = read.samples.map(|n| format!("{} samples", count(n)));
    let seed = read.seed.map(|[seed, stream]| match stream {
        0 => format!("seed {seed}"),
        _ => format!("seed {seed}, stream {stream}"),
    });
    let solver = Some(read.solver.clone()).filter(|own| !own.is_empty());
    let solver = solver.map(|own| format!("{own} solver"));
    let partial = read.is_partial.then(|| "stopped before its end".to_owned());
    let told = [samples, seed, solver, partial];
    told.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// The yield of which a row is about.
pub(super) fn subject(own: &ReadYield) -> String {
    if own.arrangement == RECOMMENDED_SET {
        return RECOMMENDED_SET.to_owned();
    }
    let point = match own.subject.as_str() {
        "all" => "all limits together".to_owned(),
        point => format!("“{point}”"),
    };
    format!("{}: {point}", arrangement(&own.arrangement))
}

/// An arrangement or variant by its word in the files.
pub(super) fn arrangement(name: &str) -> String {
    name.replace('-', " ")
}

/// The yields of both results.
pub(super) fn shares(change: &YieldChange) -> [String; 2] {
    let share = |own: &ReadYield| own.passes.successes as f64 / own.passes.trials as f64;
    yields_alike([share(&change.first), share(&change.other)])
}

/// A difference of yields in points, small ones with a digit more.
pub(super) fn points(share: f64) -> String {
    let points = 100.0 * share;
    signed(points, if points.abs() < 1.0 { 3 } else { 2 })
}

/// Both ends of its interval.
pub(super) fn ends(change: &YieldChange) -> String {
    format!("{} to {}", points(change.difference.lower), points(change.difference.upper))
}

/// Whether the samples show that a yield differs.
pub(super) fn shown(change: &YieldChange) -> &'static str {
    match (change.is_shown(), change.difference.estimate > 0.0) {
        _ if !change.is_judged() => "not judged",
        (false, _) => "not shown",
        (true, true) => "higher",
        (true, false) => "lower",
    }
}

/// How a yield was compared.
pub(super) fn pairing(pairing: Pairing) -> &'static str {
    match pairing {
        Pairing::Paired => "sample by sample",
        Pairing::Independent => "as different samples",
        Pairing::OwnIntervals => "by an interval of each",
    }
}

/// A number that is no yield.
pub(super) fn value(own: &Measured) -> String {
    own.value.map_or_else(
        || NONE.to_owned(),
        |value| match own.kind {
            MeasuredKind::Rating => rating(own, value),
            MeasuredKind::SharingError | MeasuredKind::Band => percent_of_three(value),
            MeasuredKind::Cost => money(value),
        },
    )
}

/// A rating with the unit that stands behind its name; a factor has none.
fn rating(own: &Measured, value: f64) -> String {
    match own.name.rsplit_once(", ").map(|(_, unit)| unit) {
        Some("A") => quantity(Ampere(value)),
        Some("V") => quantity(Volt(value)),
        Some("F") => quantity(Farad(value)),
        Some("Vs") => quantity(VoltSecond(value)),
        _ => three(value),
    }
}

/// The name of a number without the unit that its value has.
fn without_unit(own: &Measured) -> &str {
    let rating = Some(&own.name).filter(|_| own.kind == MeasuredKind::Rating);
    rating.and_then(|name| name.rsplit_once(", ")).map_or(&own.name, |(name, _)| name)
}

/// How much larger the other number is.
pub(super) fn relative(change: &ValueChange) -> String {
    change
        .relative()
        .map_or_else(|| NONE.to_owned(), |share| format!("{}\u{a0}%", signed(100.0 * share, 1)))
}

/// Whether both intervals of a number lie apart.
pub(super) fn apart(change: &ValueChange) -> &'static str {
    match change.is_apart() {
        Some(true) => "intervals apart",
        Some(false) => "intervals overlap",
        None => "no interval told",
    }
}

/// The name of a number with its arrangement.
pub(super) fn measured(own: &Measured) -> String {
    format!(
        "{}: {}",
        arrangement(&own.arrangement),
        without_unit(own).replace('_', " ").replace(" rms ", " RMS ")
    )
}

/// Said where no value of the scenario differs that both summaries hold.
pub(super) fn no_change(first: &ReadResult, other: &ReadResult) -> String {
    let rest = not_held(first, other).into_iter();
    std::iter::once("No value of the scenario differs.").chain(rest).collect::<Vec<_>>().join(" ")
}

/// Said where a summary does not hold the whole scenario.
pub(super) fn not_held(first: &ReadResult, other: &ReadResult) -> Option<&'static str> {
    (!first.has_whole_scenario || !other.has_whole_scenario).then_some(
        "One of the summaries does not hold the whole scenario: compare the scenario files too.",
    )
}

/// What else a verb reads, which is not compared.
fn beside_the_scenario(verb: &str) -> &'static str {
    match verb {
        "grades" => " Files of stock are not compared.",
        "units" => " Files of parts and of currents are not compared.",
        _ => "",
    }
}

/// What must be known before differences are read: other solvers, versions, unfinished results.
pub(super) fn warnings(found: &Comparison) -> Vec<String> {
    let mut all = Vec::new();
    for (n, compared) in found.others.iter().enumerate() {
        let letter = letter(n + 1);
        let (first, other) = (&found.first, &compared.other);
        if first.solver != other.solver {
            all.push(format!(
                "A is by the {} solver, {letter} by the {} solver: what differs may come from the solvers alone.",
                first.solver, other.solver
            ));
        }
        if first.version != other.version {
            all.push(format!(
                "A is from version {}, {letter} from version {}: what differs may come from the program alone.",
                first.version, other.version
            ));
        }
        let are_same = first.seed.is_some() && first.seed == other.seed;
        if compared.basis.is_empty() && are_same && first.samples == other.samples {
            all.push(format!(
                "A and {letter} have the same seed, and no value of the scenario differs.{}",
                beside_the_scenario(&first.verb)
            ));
        }
    }
    let partial = std::iter::once(&found.first).chain(found.others.iter().map(|own| &own.other));
    for (n, _) in partial.enumerate().filter(|(_, own)| own.is_partial) {
        all.push(format!("{} was stopped before its end.", letter(n)));
    }
    all
}

/// The answer on one result: the set of grades to build, if the verb names one, and the yield against that of
/// the first.
pub(super) fn answer(place: usize, first: &ReadResult, compared: &Compared) -> String {
    let letter = letter(place + 1);
    if first.verb != "grades" {
        return yield_answer(&letter, compared);
    }
    let sets = sets_to_build(&letter, first, &compared.other);
    let is_set = |own: &&ValueChange| own.first.arrangement == RECOMMENDED_SET;
    let Some(cost) = compared.values.iter().find(is_set) else { return sets };
    let cost = cost_of_sets(&letter, first, compared, cost);
    format!("{sets} {cost} {}", yield_answer(&letter, compared))
}

/// Which sets both results recommend.
fn sets_to_build(letter: &str, first: &ReadResult, other: &ReadResult) -> String {
    match (&first.recommended, &other.recommended) {
        (Some(own), Some(theirs)) if own == theirs => {
            format!("A and {letter} recommend the same set: “{own}”.")
        }
        (Some(own), Some(theirs)) => {
            format!("A recommends “{own}”. {letter} recommends “{theirs}”.")
        }
        (Some(own), None) => format!("A recommends “{own}”. {letter} recommends no set."),
        (None, Some(theirs)) => format!("{letter} recommends “{theirs}”. A recommends no set."),
        (None, None) => format!("Neither A nor {letter} recommends a set."),
    }
}

/// What a good converter of both recommended sets costs, and whether that differs.
fn cost_of_sets(
    letter: &str,
    first: &ReadResult,
    compared: &Compared,
    change: &ValueChange,
) -> String {
    let currency = |read: &ReadResult| read.basis.get("currency").cloned().unwrap_or_default();
    let [ours, theirs] = [first, &compared.other].map(currency);
    let told = |own: &Measured, currency: &str| {
        let ends = own.interval.map(|ends| format!(" ({} to {})", money(ends[0]), money(ends[1])));
        format!("{} {currency}{}", value(own), ends.unwrap_or_default())
    };
    let verdict = match change.is_apart() {
        _ if ours != theirs => "The currencies differ.",
        Some(true) => "The intervals lie apart: the costs differ.",
        Some(false) => "The intervals overlap: the samples do not show that the costs differ.",
        None => "An interval is missing.",
    };
    format!(
        "Cost per good converter: {letter} {}, A {}. {verdict}",
        told(&change.other, &theirs),
        told(&change.first, &ours)
    )
}

/// How many of the other numbers differ. Of those that are not compared nothing is said.
pub(super) fn others_that_differ(compared: &Compared, differ: usize) -> String {
    match (compared.values.len(), differ) {
        (0, _) => "No other number is compared.".to_owned(),
        (1, 0) => "The other number that is compared does not differ.".to_owned(),
        (1, _) => "The other number that is compared differs.".to_owned(),
        (all, 0) => format!("None of {} other numbers compared differs.", count(all as u64)),
        (all, 1) => format!("1 of {} other numbers compared differs.", count(all as u64)),
        (all, n) => {
            format!("{} of {} other numbers compared differ.", count(n as u64), count(all as u64))
        }
    }
}

/// The yield of a result against that of the first.
fn yield_answer(letter: &str, compared: &Compared) -> String {
    let Some(change) = leading(&compared.yields) else {
        return match compared.values.len() {
            0 => "Of these results the values of the scenario alone are compared.".to_owned(),
            n => format!(
                "{letter} and A have no yield in common, and {} other numbers.",
                count(n as u64)
            ),
        };
    };
    let [from, to] = shares(change);
    let of = subject(&change.first);
    if change.is_shown() {
        return told_difference(letter, change);
    }
    if !change.is_judged() {
        return told_of_not_judged(letter, change);
    }
    let is_equal = |own: &YieldChange| {
        let [from, to] = [&own.first.passes, &own.other.passes];
        (from.successes, from.trials) == (to.successes, to.trials)
    };
    if compared.yields.iter().all(is_equal) && by_change(compared).is_empty() {
        let numbers = match compared.values.len() {
            0 => String::new(),
            1 => ", and the same number that is compared".to_owned(),
            n => format!(", and the same {} numbers that are compared", count(n as u64)),
        };
        return format!("{letter} and A hold the same yields{numbers}.");
    }
    let same =
        format!("The samples do not show that the yields differ: {letter} {to}, A {from} ({of}).");
    match largest_of_others(letter, compared) {
        Some(largest) => format!("{same} {largest}"),
        None => same,
    }
}

/// Why nothing is said of which yield is higher.
fn told_of_not_judged(letter: &str, change: &YieldChange) -> String {
    let of = subject(&change.first);
    let which = match (change.first.is_judged, change.other.is_judged) {
        (false, false) => format!("neither A nor {letter} judges them"),
        (false, true) => "A does not judge them".to_owned(),
        _ => format!("{letter} does not judge them"),
    };
    format!("The yields are not compared: {which} ({of}).")
}

/// The largest difference that is shown. Of many that are looked at, each with an error of its own, some are shown
/// by chance: how many there are is told with it.
fn largest_of_others(letter: &str, compared: &Compared) -> Option<String> {
    let size = |own: &&YieldChange| own.difference.estimate.abs();
    let shown: Vec<&YieldChange> = compared.yields.iter().filter(|own| own.is_shown()).collect();
    let largest =
        told_difference(letter, shown.iter().copied().max_by(|a, b| size(a).total_cmp(&size(b)))?);
    Some(format!(
        "Each looked at by itself, {} of {} yields differ{}. {largest}",
        shown.len(),
        compared.yields.len(),
        if shown.len() == 1 { "s" } else { "" },
    ))
}

/// The yield that the headline is about: of the recommended sets, else of the chain.
fn leading(yields: &[YieldChange]) -> Option<&YieldChange> {
    let first = yields.first()?;
    let chain = yields.iter().find(|own| own.first.arrangement == "chain");
    Some(chain.filter(|_| first.first.arrangement != RECOMMENDED_SET).unwrap_or(first))
}

/// A difference that the samples show.
fn told_difference(letter: &str, change: &YieldChange) -> String {
    let [from, to] = shares(change);
    let (word, of) = (shown(change), subject(&change.first));
    format!("The yield of {letter} is {word}: {to} instead of {from} ({of}).")
}

/// How the yields are compared, and how sure it is.
pub(super) fn method(found: &Comparison) -> Vec<String> {
    let used = |pairing: Pairing| {
        found.others.iter().flat_map(|own| &own.yields).any(|own| own.pairing == pairing)
    };
    let at = level(found.confidence);
    let paired = used(Pairing::Paired).then(|| {
        format!(
            "Sample by sample: both results list the same samples. Newcombe’s interval of the paired difference \
             ({at}), and McNemar’s exact test."
        )
    });
    let independent = used(Pairing::Independent).then(|| {
        format!(
            "As different samples: the intervals of both shares, squared and added ({at}; Newcombe 1998)."
        )
    });
    let own = used(Pairing::OwnIntervals).then(|| {
        format!(
            "By an interval of each: samples of one seed cannot be paired here, a rule ended the sampling, parts \
             are measured, or more than {} is asked for. The difference lies between the ends of both intervals \
             ({at}). Such intervals are wide.",
            given_percent(HIGHEST_SQUARED_LEVEL)
        )
    });
    let all = || found.others.iter().flat_map(|own| &own.yields);
    let below = all().any(|own| !own.has_asked_level).then(|| {
        format!(
            "An interval that a rule or measured parts made keeps the level that it was stated at. Both \
             together leave less than {at}: no difference counts as shown. --confidence asks for less."
        )
    });
    let each = "Each difference is a statement by itself. The errors of several add.".to_owned();
    [paired, independent, own, below, Some(each)].into_iter().flatten().collect()
}

/// A p-value.
pub(super) fn p_value(change: &YieldChange) -> String {
    change.paired.map_or_else(|| NONE.to_owned(), |counts| numbers::p_value(counts.p_value()))
}

/// Samples that pass in one alone, gained before lost.
pub(super) fn gained_and_lost(change: &YieldChange) -> String {
    change.paired.map_or_else(
        || NONE.to_owned(),
        |counts| format!("{}; {}", count(counts.first), count(counts.second)),
    )
}

/// Yields to draw: all, or of more than `most` the first, then those whose difference is shown, then others
/// that differ.
pub(super) fn to_draw<'c>(yields: &[&'c YieldChange], most: usize) -> Vec<&'c YieldChange> {
    let differs = |own: &YieldChange| own.first.passes != own.other.passes;
    let [first, rest @ ..] = yields else { return Vec::new() };
    if yields.len() <= most {
        return yields.to_vec();
    }
    let mut rest: Vec<&YieldChange> = rest.iter().copied().filter(|own| differs(own)).collect();
    rest.sort_by_key(|own| !own.is_shown());
    std::iter::once(*first).chain(rest).take(most).collect()
}

/// The numbers that changed, those that changed most first. Those that one result alone tells come last.
pub(super) fn by_change(compared: &Compared) -> Vec<&ValueChange> {
    let mut all: Vec<&ValueChange> =
        compared.values.iter().filter(|own| own.first.value != own.other.value).collect();
    let size = |own: &ValueChange| match (own.first.value, own.other.value) {
        (Some(_), Some(_)) => own.relative().map_or(f64::INFINITY, f64::abs),
        _ => f64::NEG_INFINITY,
    };
    all.sort_by(|a, b| size(b).total_cmp(&size(a)));
    all
}
