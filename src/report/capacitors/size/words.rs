//! What terminal and page both say of the size.

use crate::converter::{RatedPart, Rating};
use crate::report::format::numbers::{
    NONE, count, decimals, given_percent, percent, quantity, signed, yield_interval, yield_percent,
};
use crate::report::format::{names, premises};
use crate::scenario::Scenario;
use crate::statistics::Verdict;
use crate::study::capacitors::size::corner::WornCorner;
use crate::study::capacitors::size::smallest::SizeVerification;
use crate::study::capacitors::size::{SizeResult, SizeStudy};
use crate::study::common::demand::{Binding, Demand};
use crate::study::common::figures::Figure;
use crate::units::Farad;

/// A size with its unit, without the zeros that preferred numbers end with.
pub(super) fn size(capacitance: Farad) -> String {
    let text = quantity(capacitance);
    match text.split_once('\u{a0}') {
        Some((digits, unit)) if digits.contains('.') => {
            format!("{}\u{a0}{unit}", digits.trim_end_matches('0').trim_end_matches('.'))
        }
        _ => text,
    }
}

/// Switching periods until 1 % of the slowest disturbance is left, in a cell.
pub(super) fn periods(own: &SizeResult) -> String {
    let periods = own.settling().map(|speed| speed.periods_to_1_percent);
    let finite = periods.filter(|periods| periods.is_finite());
    finite.map_or_else(|| NONE.to_owned(), |periods| decimals(periods.ceil(), 0))
}

/// Which size the limits ask for.
pub(super) fn answer(scenario: &Scenario, study: &SizeStudy) -> String {
    let target = given_percent(scenario.limits.yield_target);
    if !study.is_judged {
        return format!("No size is named: {}.", not_judged(scenario));
    }
    let (confirmed, run) = (study.confirmed(), study.smallest.confirmed());
    if let (Some(own), Some(run)) = (confirmed, run) {
        return format!(
            "Use {}: on fresh samples {} of the converters with {} meet every limit, target {target}.",
            range(study, run.size),
            yield_interval(&run.good),
            size(own.capacitance)
        );
    }
    let in_question = study.smallest.too_slow_from.unwrap_or(study.sizes.len());
    let Some(largest) = study.sizes.get(in_question.saturating_sub(1)) else {
        return String::new();
    };
    if let Some(last) = study.smallest.found.and(study.smallest.runs.last()) {
        let tried = size(study.sizes[last.size].capacitance);
        return format!(
            "No size is confirmed: fresh samples do not show that {tried} meets the target of {target}."
        );
    }
    if let Some(needed) = study.samples_needed {
        return format!(
            "So few samples cannot show the target of {target}, even if all pass: at least {} are needed.",
            count(needed)
        );
    }
    let largest_size = size(largest.capacitance);
    let which = match study.smallest.too_slow_from {
        Some(0) => "The smallest size",
        Some(_) => "The largest size that settles fast enough",
        None => "The largest size",
    };
    match study.verdict_of(largest) {
        Verdict::Fail => format!(
            "{which}, {largest_size}, misses the target of {target}: {}{}.",
            yield_words(largest),
            limited_by(largest)
        ),
        _ => format!(
            "No size is shown to meet the target of {target}. {which} is {largest_size}: {}{}.",
            yield_words(largest),
            limited_by(largest)
        ),
    }
}

/// Why no size is judged.
fn not_judged(scenario: &Scenario) -> &'static str {
    if premises::has_no_limit(scenario) {
        "no limit is set for the chain"
    } else {
        "parts on offer count as exact"
    }
}

/// A verdict, or that there is none.
pub(super) fn verdict(study: &SizeStudy, verdict: Verdict) -> &'static str {
    // A size that does not deliver every operating point fails, whatever is judged.
    names::verdict_if_judged(verdict, study.is_judged || verdict == Verdict::Fail)
}

/// The sizes to use, from the confirmed one on: `6.8 µF or more`, `6.8 µF to 100 µF`.
fn range(study: &SizeStudy, confirmed: usize) -> String {
    let name = |place: usize| size(study.sizes[place].capacitance);
    match study.upper_end() {
        None => format!("{} or more", name(confirmed)),
        Some(largest) if largest == confirmed => name(confirmed),
        Some(largest) => format!("{} to {}", name(confirmed), name(largest)),
    }
}

/// From which size on the flying capacitors settle too slowly; of larger sizes than were tried, what very large ones
/// tell. None where these meet the target.
fn too_large(study: &SizeStudy) -> Option<String> {
    let Some(from) = study.smallest.too_slow_from else { return beyond_all(study) };
    let from = study.sizes.get(from)?;
    let (from, good) = (size(from.capacitance), yield_words(from));
    Some(format!("Sizes from {from} on lie below the target because they settle slowly: {good}."))
}

/// What very large flying capacitors tell of sizes above those that were tried.
fn beyond_all(study: &SizeStudy) -> Option<String> {
    study.smallest.confirmed()?;
    let (large, last) = (&study.very_large, study.sizes.last()?);
    let said = match study.verdict_of(large) {
        Verdict::Pass => return None,
        Verdict::NotDecided => "are not shown to meet",
        Verdict::Fail => "miss",
    };
    Some(format!(
        "Sizes above {} were not tried. Very large ones {said} the target: {}{}.",
        size(last.capacitance),
        yield_words(large),
        limited_by(large)
    ))
}

/// Which of the sizes to use are not decided by themselves.
fn open_sizes(study: &SizeStudy) -> Option<String> {
    let open: Vec<String> =
        study.open_sizes().into_iter().map(|own| size(own.capacitance)).collect();
    (!open.is_empty()).then(|| {
        format!(
            "Not decided by themselves on the samples of the search: {}. What is confirmed is the smallest size.",
            open.join(", ")
        )
    })
}

/// What follows the answer.
pub(super) fn findings(study: &SizeStudy) -> Vec<String> {
    let mut findings = Vec::new();
    let chosen = study.smallest.confirmed().map(|run| run.size).or(study.smallest.found);
    findings.extend(chosen.map(|chosen| decides(study, chosen)));
    findings.extend(too_large(study));
    findings.extend(open_sizes(study));
    if !study.smallest.alone.is_empty() {
        let sizes = study.smallest.alone.iter().map(|n| size(study.sizes[*n].capacitance));
        let sizes = sizes.collect::<Vec<_>>().join(", ");
        findings.push(format!(
            "Smaller sizes meet the target by themselves, but the yield of a larger one lies below it: \
             {sizes}. They are not chosen."
        ));
    }
    if let Some(present) = study.present() {
        let own = study.verdict_of(present);
        findings.push(format!(
            "The scenario has {}: {}, {}{}.",
            size(present.capacitance),
            yield_words(present),
            verdict(study, own),
            if own == Verdict::Pass { String::new() } else { limited_by(present) }
        ));
    }
    findings.extend(study.confirmed().map(|own| stored(own, study.present())));
    let own = study.confirmed().or_else(|| study.present());
    findings.extend(own.and_then(|own| one_worn_out(study, own)));
    findings.extend(study.least_left.map(|left| traps(study, left)));
    findings
}

/// What all flying capacitors of a size are together, against those of the scenario.
fn stored(own: &SizeResult, present: Option<&SizeResult>) -> String {
    let all = |own: &SizeResult| {
        format!("{} and {}", size(own.total_capacitance), quantity(own.chain_energy))
    };
    let other = present.filter(|present| present.capacitance != own.capacitance);
    let other = other.map(|present| format!(", with the scenario’s size {}", all(present)));
    format!("All flying capacitors together have {} stored{}.", all(own), other.unwrap_or_default())
}

/// What one worn-out flying capacitor among new ones does to the sharing.
fn one_worn_out(study: &SizeStudy, own: &SizeResult) -> Option<String> {
    let worst = WornCorner::worst(&own.corners)?;
    let (left, point) = (given_percent(worst.left), &worst.operating_point);
    let capacitor = format!("With {left} left of one flying capacitor");
    let Some(loads) = &worst.nominal else {
        let status = worst.status;
        return Some(format!(
            "{capacitor} and all others new, the nominal converter is {status} at “{point}”."
        ));
    };
    let new = own.cases.iter().find(|case| case.operating_point == *point);
    let new = new.and_then(|case| Some(percent(case.nominal.as_ref()?.sharing_error)));
    let missed = own.corners.iter().filter(|corner| !corner.is_good()).count();
    let verdict = match missed {
        _ if !study.is_judged => String::new(),
        0 => " It keeps every limit.".to_owned(),
        _ => format!(" It misses limits in {missed} of {} such cases.", own.corners.len()),
    };
    Some(format!(
        "{capacitor}, {} has a nominal sharing error of up to {}. With all new it is {}.{verdict}",
        size(own.capacitance),
        percent(loads.sharing_error),
        new.unwrap_or_else(|| NONE.to_owned())
    ))
}

/// Below which size an aged flying capacitor can trap the controller.
fn traps(study: &SizeStudy, left: f64) -> String {
    let left = given_percent(left);
    let Some((own, worst)) =
        study.largest_trapped().and_then(|own| Some((own, own.traps.first()?)))
    else {
        return format!(
            "With {left} left of one flying capacitor, no size lets a slow controller of the nominal \
             converter get trapped on the capacitive side, where the output is still delivered."
        );
    };
    format!(
        "With {left} left of one flying capacitor, sizes up to {} let a slow controller of the nominal \
         converter get trapped: the resonance passes the frequency. At “{}” it ends at {} with {}.",
        size(own.capacitance),
        worst.operating_point,
        quantity(worst.trap.frequency),
        quantity(worst.trap.current)
    )
}

/// A cell without a value.
pub(super) const NO_VALUE: &str = NONE;

/// What decides between the chosen size and the next smaller one; none where none is chosen.
pub(super) fn what_decides(study: &SizeStudy) -> Option<String> {
    let chosen = study.smallest.confirmed().map(|run| run.size).or(study.smallest.found)?;
    let next = chosen.checked_sub(1).and_then(|n| study.sizes.get(n));
    Some(match next.map(|next| (next, &next.binding)) {
        Some((next, Some(binding))) => {
            let misses = study.verdict_of(next) == Verdict::Fail;
            let many = if misses { "too many converters" } else { "perhaps too many converters" };
            let (limit, smaller) = (names::limit(&binding.demand).long, size(next.capacitance));
            format!("The {limit} decides: {many} miss it with {smaller}")
        }
        Some((next, None)) => format!("{} falls short", size(next.capacitance)),
        None => "The smallest size that was tried meets the target".to_owned(),
    })
}

/// What would change the answer, an aged capacitor included where it does harm.
pub(super) fn changes(study: &SizeStudy) -> Vec<String> {
    let chosen = study.smallest.confirmed().map(|run| run.size).or(study.smallest.found);
    let own = study.confirmed().or_else(|| study.present());
    let is_harmed = |own: &&SizeResult| !own.corners.iter().all(WornCorner::is_good);
    let is_trapped = study.largest_trapped().is_some();
    let told = [
        chosen.map(|chosen| decides(study, chosen)),
        too_large(study),
        open_sizes(study),
        own.filter(is_harmed).and_then(|own| one_worn_out(study, own)),
        study.least_left.filter(|_| is_trapped).map(|left| traps(study, left)),
    ];
    told.into_iter().flatten().collect()
}

/// Which limit the next smaller size misses most often.
fn decides(study: &SizeStudy, chosen: usize) -> String {
    let Some(next) = chosen.checked_sub(1).and_then(|n| study.sizes.get(n)) else {
        return "The smallest size that was tried meets the target. Try smaller ones.".to_owned();
    };
    let tried = study.sizes.get(chosen).map_or_else(String::new, |own| size(own.capacitance));
    let smaller = format!("{}, the next size below {tried}", size(next.capacitance));
    match (&next.good, &next.binding) {
        (None, _) => format!(
            "What decides: with {smaller}, the nominal converter does not reach every \
             operating point."
        ),
        (Some(good), Some(binding)) => format!(
            "What decides: with {smaller}, {} meet every limit{}. Most failures miss \
             the {}.",
            yield_interval(good),
            match study.verdict_of(next) {
                Verdict::Fail => "",
                Verdict::NotDecided => ": so many samples do not show that this is enough",
                Verdict::Pass => ", which fresh samples or larger sizes do not confirm",
            },
            limit_and_point(binding)
        ),
        (Some(_), None) => format!(
            "With {smaller}, no sample fails, but fresh samples do not show that it \
             meets the target."
        ),
    }
}

fn limit_and_point(binding: &Binding) -> String {
    format!("{} at “{}”", names::limit(&binding.demand).long, binding.operating_point)
}

/// The runs on fresh samples, one after the other.
pub(super) fn runs(study: &SizeStudy) -> String {
    let run = |run: &SizeVerification| {
        let verdict = if run.meets { "meets the target" } else { "is not shown to meet it" };
        let capacitance = size(study.sizes[run.size].capacitance);
        format!("{capacitance} {verdict} with {}", yield_interval(&run.good))
    };
    let runs: Vec<String> = study.smallest.runs.iter().map(run).collect();
    if runs.is_empty() { "None was made.".to_owned() } else { runs.join("; ") + "." }
}

/// The limit that most samples miss, after a yield.
fn limited_by(own: &SizeResult) -> String {
    let binding = own.binding.as_ref();
    binding.map_or_else(String::new, |own| format!(", limited by the {}", limit_and_point(own)))
}

/// The yield, or why there is none.
pub(super) fn yield_words(own: &SizeResult) -> String {
    own.good.as_ref().map_or_else(|| not_sampled(own), yield_interval)
}

/// Why a size is not sampled.
pub(super) fn not_sampled(own: &SizeResult) -> String {
    let status = own.cases.iter().map(|case| case.status).find(|status| *status != "solved");
    format!("nominal converter {}", status.unwrap_or("not solved"))
}

/// The limit that most samples miss, in a cell.
pub(super) fn limit_cell(own: &SizeResult) -> String {
    match (&own.good, &own.binding) {
        (None, _) => not_sampled(own),
        (Some(_), Some(binding)) => {
            short_limit(&binding.demand).unwrap_or_else(|| names::limit(&binding.demand).short)
        }
        (Some(_), None) => NONE.to_owned(),
    }
}

/// A limit in fewer words, where flying capacitors are the topic: `ripple, C1`.
fn short_limit(demand: &Demand) -> Option<String> {
    match demand.figure {
        Some(Figure::SharingError(_)) => Some("sharing".to_owned()),
        Some(Figure::Rating(Rating { part: RatedPart::FlyingCapacitor(k), stress })) => {
            Some(format!("{}, C{}", names::stress(stress).short, k + 1))
        }
        _ => None,
    }
}

/// Ends of the interval of a yield, in a cell.
pub(super) fn ends_cell(own: &SizeResult) -> String {
    own.good.map_or_else(
        || NONE.to_owned(),
        |good| format!("{} to {}", yield_percent(good.lower), yield_percent(good.upper)),
    )
}

/// A change in percent with its sign and two decimals; a dash where there is none.
pub(super) fn change(share: Option<f64>) -> String {
    share.map_or_else(|| NONE.to_owned(), |share| signed(100.0 * share, 2))
}

/// A value in a cell; a dash where there is none.
pub(super) fn cell(value: Option<f64>, write: fn(f64) -> String) -> String {
    value.map_or_else(|| NONE.to_owned(), write)
}

/// The sign before a size: the smallest that is confirmed, or the scenario's.
pub(super) fn mark(study: &SizeStudy, own: &SizeResult) -> &'static str {
    let is_confirmed = study.confirmed().is_some_and(|it| it.capacitance == own.capacitance);
    match (is_confirmed, own.is_present) {
        (true, _) => ">",
        (false, true) => "*",
        (false, false) => "",
    }
}
