//! Words that terminal and page have in common.

use crate::converter::{Arrangement, Parameter};
use crate::report::terminal::{grouped, interval, percent, yield_percent};
use crate::statistics::Verdict;
use crate::study::bands::cheapest::{Cheapest, Choice, Ending};
use crate::study::bands::looks::{LOOK_TIMES, rounded_down};
use crate::study::bands::map;
use crate::study::bands::{Bands, Outcome, Part, Proposal, Row, Source, Step, Subject};
use crate::study::demand::Binding;
use crate::study::figures::Figure;

/// More samples than anybody waits for.
const MANY: u64 = 10_000_000;

/// What is varied.
pub(in crate::report) fn subject(subject: Subject) -> String {
    match subject {
        Subject::Together => "all bands together".into(),
        Subject::Alone(parameter) => parameter.key().replace('_', " "),
    }
}

/// A place of a row: a band, or a factor.
pub(in crate::report) fn place(row: &Row, at: f64) -> String {
    match row.subject {
        Subject::Together => factor(at),
        Subject::Alone(_) => band(at),
    }
}

/// What all but the cheapest set starts from.
pub(in crate::report) fn start(bands: &Bands) -> &'static str {
    if bands.on_offer { "set on offer" } else { "present bands" }
}

/// What an interval says about the target.
pub(in crate::report) fn outcome(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Pass => "meets",
        Verdict::NotDecided => "open",
        Verdict::Fail => "misses",
    }
}

/// A factor on bands, three digits.
pub(in crate::report) fn factor(at: f64) -> String {
    format!("× {}", times(at))
}

/// A factor alone, with three digits: those with which it was proven.
pub(in crate::report) fn times(at: f64) -> String {
    let decimals = [100.0, 10.0, 1.0, 0.1, 0.01].iter().filter(|bound| at < **bound).count();
    format!("{at:.decimals$}")
}

/// A band in percent, never wider than it is.
pub(in crate::report) fn band(at: f64) -> String {
    if at > 0.0 { percent(rounded_down(at)) } else { "0 %".into() }
}

/// Whether a row stays below present bands that were shown to meet the target.
fn is_short(part: &Part, row: &Row) -> bool {
    part.verdict == Verdict::Pass && row.margin().is_some_and(|margin| margin < 1.0)
}

/// The widest band in a table, with a mark where a remark explains it.
pub(in crate::report) fn widest(part: &Part, row: &Row) -> String {
    match row.outcome() {
        Outcome::NoneMeets => "none (a)".into(),
        Outcome::Open(_) => "open (b)".into(),
        Outcome::AllMeet(at) => format!("{} (c)", place(row, at)),
        Outcome::Proven(at) if is_short(part, row) => format!("{} (d)", place(row, at)),
        Outcome::Proven(at) => place(row, at),
    }
}

/// The meanings of all marks in a part's table.
pub(in crate::report) fn remarks(part: &Part, bands: &Bands) -> Vec<String> {
    let any = |is: fn(&Outcome) -> bool| part.rows.iter().any(|row| is(&row.outcome()));
    let open: Vec<_> =
        part.rows.iter().filter(|row| matches!(row.outcome(), Outcome::Open(_))).collect();
    let mut remarks = Vec::new();
    if any(|own| *own == Outcome::NoneMeets) {
        remarks.push(
            "(a) no band: even with this part exact the target is missed; other bands must shrink"
                .to_owned(),
        );
    }
    if !open.is_empty() {
        let passes = match part.verdict {
            Verdict::Pass => format!("; the {}, which pass, hold as they are", start(bands)),
            _ => String::new(),
        };
        remarks.push(format!(
            "(b) open: no band was confirmed on fresh samples; {}{passes}",
            more(&open, bands)
        ));
    }
    if any(|own| matches!(own, Outcome::AllMeet(_))) {
        remarks.push(
            "(c) as wide as the scenario lets it be asked ([bands] widest), and still good: \
             nothing stops it"
                .to_owned(),
        );
    }
    if part.rows.iter().any(|row| is_short(part, row)) {
        remarks.push(format!(
            "(d) less than the {}, which pass: they hold as they are; that a search with few \
             samples stays below them says nothing against them",
            start(bands)
        ));
    }
    remarks
}

/// How many samples may tell what is open, by the yields seen so far.
fn more(open: &[&Row], bands: &Bands) -> String {
    let target = bands.rule.target;
    let enough = |row: &&Row| match row.looks.last() {
        Some(look) => Some(look.good.samples_to_decide(target)?.div_ceil(LOOK_TIMES)),
        None => row.exact.samples_to_decide(target),
    };
    let most = open.iter().map(enough).collect::<Option<Vec<_>>>();
    match most.and_then(|all| all.into_iter().max()) {
        // Where the last look came too close, the search at more samples begins farther in.
        Some(most) if most < MANY => {
            let most = most.max(2 * bands.settings.samples);
            format!("some {} samples may tell (--samples)", grouped(two_digits(most)))
        }
        _ => "it lies too close to the target for any reasonable number of samples".into(),
    }
}

/// A number rounded up to two digits.
fn two_digits(n: u64) -> u64 {
    let scale = 10_u64.pow(n.max(10).ilog10() - 1);
    n.div_ceil(scale) * scale
}

/// The margin of the present bands: what all bands together may do.
pub(in crate::report) fn together(part: &Part, bands: &Bands) -> Option<String> {
    let row = part.row(Subject::Together)?;
    let stop = stopped(row, "them");
    let start = start(bands);
    Some(match (row.outcome(), part.verdict) {
        (Outcome::NoneMeets, Verdict::Pass) => {
            format!("Margin: not found. The {start} pass, but exact parts miss the target.")
        }
        (Outcome::NoneMeets, _) => {
            "Margin: none. Even exact parts miss the target: no band helps.".into()
        }
        (Outcome::Open(None), _) => format!(
            "Margin: open. Whether exact parts meet the target the samples do not tell: {}.",
            more(&[row], bands)
        ),
        (Outcome::Open(Some(found)), _) => format!(
            "Margin: open. The search found a common factor of {} for all bands, but fresh \
             samples did not confirm it: {}.",
            times(found),
            more(&[row], bands)
        ),
        (Outcome::AllMeet(_), _) => {
            "Margin: all bands may grow together to the widest asked for; nothing stops them."
                .into()
        }
        (Outcome::Proven(at), _) if at <= 0.0 => {
            "Margin: none was found. Only exact parts were shown to meet the target.".into()
        }
        (Outcome::Proven(at), _) if at >= 1.0 => format!(
            "Margin: all bands may grow together to {} times what they are{}{stop}.",
            times(at),
            clipped(bands, at)
        ),
        (Outcome::Proven(at), Verdict::Pass) => format!(
            "Margin: none that so many samples can show. The {start} pass; on fresh samples \
             all together are sure to hold at {} times what they are{stop}.",
            times(at)
        ),
        (Outcome::Proven(at), Verdict::NotDecided) => format!(
            "Margin: open. Whether the {start} meet the target the samples do not tell; all \
             together are sure to hold at {} times what they are{stop}.",
            times(at)
        ),
        (Outcome::Proven(at), Verdict::Fail) => format!(
            "Margin: none. All bands together must shrink to {} times what they are{stop}.",
            times(at)
        ),
    })
}

/// The parts that a common factor leaves at the widest band asked for, as a clause.
fn clipped(bands: &Bands, factor: f64) -> String {
    let clipped = bands.clipped(factor);
    if clipped.is_empty() {
        return String::new();
    }
    let names = clipped.into_iter().map(|p| subject(Subject::Alone(p))).collect::<Vec<_>>();
    format!(" ({}: no wider than is asked for)", names.join(", "))
}

/// What stops bands, as a clause.
fn stopped(row: &Row, whom: &str) -> String {
    row.binding().map_or_else(String::new, |binding| {
        format!("; {} at “{}” stops {whom}", limit(binding), binding.operating_point)
    })
}

/// Which part has the least room, or which must be tightened first.
pub(in crate::report) fn critical(part: &Part) -> Option<String> {
    let row = part.critical()?;
    let (name, stop) = (subject(row.subject), stopped(row, "it"));
    if part.has_room() {
        return Some(match row.margin() {
            Some(margin) if margin >= 1.0 => {
                format!("Least room: {name}, alone {} times its band{stop}.", times(margin))
            }
            _ => format!(
                "Least room: {name}; alone {} times its band by the search, which fresh samples \
                 did not confirm{stop}.",
                times(row.room())
            ),
        });
    }
    let (exact, present) = (row.exact.successes, row.passing_at_present());
    if exact <= present {
        return None;
    }
    let share = |passing: u64| yield_percent(passing as f64 / row.exact.trials as f64);
    let gain = format!("Exact, it takes the yield from {} to {}", share(present), share(exact));
    let alone = match row.outcome() {
        Outcome::NoneMeets => "That alone does not suffice".into(),
        Outcome::Open(_) => "Whether that alone suffices is open".into(),
        Outcome::AllMeet(at) | Outcome::Proven(at) => {
            format!("With a band of {} it alone suffices", place(row, at))
        }
    };
    Some(match part.verdict {
        Verdict::Pass => format!("Least room: {name}. {gain}{stop}."),
        Verdict::NotDecided => format!("Tighten first, if anything: {name}. {gain}. {alone}."),
        Verdict::Fail => format!("Tighten first: {name}. {gain}. {alone}."),
    })
}

/// What the drawing may say, and where that comes from.
pub(in crate::report) fn proposal(bands: &Bands) -> String {
    let own = match bands.proposal().map(|proposal| proposal.source) {
        Some(Source::Cheapest) => {
            let price = bands.cheapest.as_ref().and_then(|found| found.choice.as_ref());
            let price = price.map_or(0.0, |choice| choice.price);
            format!("the cheapest set on offer, {price:.2} for its parts of a converter.")
        }
        Some(Source::Factor(at)) => {
            format!("all present bands times {}{}.", times(at), clipped(bands, at))
        }
        Some(Source::Only(parameter)) => {
            format!("the widest band of {}.", subject(Subject::Alone(parameter)))
        }
        None => nothing(bands),
    };
    format!("For the drawing: {own}")
}

fn nothing(bands: &Bands) -> String {
    let passes = bands.parts.first().is_some_and(|part| part.verdict == Verdict::Pass);
    let several = bands.present.iter().count() > 1;
    let what = if bands.priced { "set on offer" } else { "wider set" };
    if !bands.priced && several && bands.present.iter().all(|(_, own)| own.band <= 0.0) {
        "a row of the table, or a pair from the map. All bands are 0 % at present, so that there is \
         no common factor."
            .into()
    } else if passes {
        format!("the present bands. No {what} was proven on fresh samples.")
    } else {
        let what = if bands.priced { "set on offer" } else { "set of bands" };
        format!("nothing yet. No {what} was proven on fresh samples.")
    }
}

/// What is to be minded about a proposed set: bands of 0 %.
pub(in crate::report) fn exact_parts(proposal: &Proposal) -> Option<String> {
    let exact = proposal.tolerances.iter().filter(|(_, own)| own.band <= 0.0);
    let names: Vec<_> = exact.map(|(p, _)| subject(Subject::Alone(p))).collect();
    (!names.is_empty()).then(|| {
        format!(
            "Nobody sells a band of 0 %: {}. The set holds only with parts that are exact there.",
            names.join(", ")
        )
    })
}

/// Where present bands were not shown to pass: a pair from the map that meets the target.
pub(in crate::report) fn pair(bands: &Bands) -> Option<String> {
    let chain = bands.parts.first().filter(|part| part.verdict != Verdict::Pass)?;
    let map = bands.map.as_ref().filter(|_| chain.arrangement == Arrangement::Chain)?;
    let Some(pair) = map.widest_pair() else {
        return Some(
            "From the map: no pair of bands above 0 % was shown to meet the target.".into(),
        );
    };
    let [first, second] = [0, 1]
        .map(|n: usize| format!("{} {}", subject(Subject::Alone(map.pair[n])), band(pair[n])));
    let listed = if bands.priced { "; whether such bands are on offer was not asked" } else { "" };
    Some(format!(
        "From the map: {first} with {second} meets the target, all other bands as they are{listed}."
    ))
}

/// That margins know of no price lists.
pub(in crate::report) fn unlisted(bands: &Bands) -> Option<&'static str> {
    (bands.priced && !bands.parts.is_empty()).then_some(
        "Margins, widest bands and map take any band, also of parts that come only in those on offer.",
    )
}

/// What it means that parts on offer have no tolerance of their own.
pub(in crate::report) fn on_offer(bands: &Bands) -> Option<String> {
    if !bands.on_offer {
        return None;
    }
    let proven = bands.cheapest.as_ref().is_some_and(|found| found.proven().is_some());
    Some(if proven {
        "The set on offer: parts on offer have no [tolerance] table of their own, so verdict, margins \
         and map are asked of the cheapest set on offer that was proven."
            .into()
    } else {
        "Parts on offer have no [tolerance] table of their own, and no set on offer was proven: there \
         is none for verdict, margins and map to stand on."
            .into()
    })
}

/// Heading of a proposed set in a table.
pub(in crate::report) fn source(source: Source) -> String {
    match source {
        Source::Cheapest => "cheapest set".into(),
        Source::Factor(at) => format!("all {}", factor(at)),
        Source::Only(_) => "widest".into(),
    }
}

/// A parameter's band in a proposed set, with the name of the part to buy if it has one.
pub(in crate::report) fn proposed(
    bands: &Bands,
    proposal: &Proposal,
    parameter: Parameter,
) -> Option<String> {
    let band = self::band(proposal.tolerances.get(parameter)?.band);
    let chosen = bands.cheapest.as_ref().and_then(|found| found.chosen(parameter));
    Some(match chosen.and_then(|offered| offered.name.as_ref()) {
        Some(name) if proposal.source == Source::Cheapest => format!("{name}, {band}"),
        _ => band,
    })
}

/// Parameters that have a band now or in a proposed set.
pub(in crate::report) fn banded(bands: &Bands, proposal: &Proposal) -> Vec<Parameter> {
    let has =
        |p: &Parameter| bands.present.get(*p).is_some() || proposal.tolerances.get(*p).is_some();
    Parameter::ALL.into_iter().filter(has).collect()
}

/// The parameters that count as exact, and what that means; none where all have a tolerance.
pub(in crate::report) fn exact(bands: &Bands) -> Option<String> {
    let exact = Parameter::ALL.into_iter().filter(|p| bands.present.get(*p).is_none());
    let names: Vec<_> = exact.map(|p| p.key().replace('_', " ")).collect();
    (!names.is_empty() && !bands.parts.is_empty()).then(|| {
        format!(
            "Taken as exact, for want of a [tolerance] table: {}. The verdict on the {}, the margins \
             and the map count on it.",
            names.join(", "),
            start(bands)
        )
    })
}

/// A confidence level, or an error: two decimals at most.
pub(in crate::report) fn level(x: f64) -> String {
    format!("{} %", (1e4 * x).round() / 100.0)
}

/// How sure the answers are, the drawing's first, then all at once.
pub(in crate::report) fn sureness(bands: &Bands) -> String {
    let (each, together) = (bands.error_each(), bands.confidence_together());
    let together = if together > 0.0 {
        format!("that all hold at once is sure to {} at least", level(together))
    } else {
        "of all at once nothing is claimed".into()
    };
    let drawing = bands.proposal().map_or_else(String::new, |_| {
        format!("That the set for the drawing holds is sure to {}. ", level(1.0 - each))
    });
    let made = match bands.statements() {
        1 => "1 statement is".into(),
        n => format!("{n} statements are"),
    };
    format!(
        "{drawing}{made} made here. Each by itself is wrong in at most {} of such searches; \
         {together}.",
        level(each),
    )
}

/// The limit that is missed, in a word or two.
pub(in crate::report) fn limit(binding: &Binding) -> String {
    match binding.demand.figure {
        None => "frequency band".into(),
        Some(Figure::SharingError(_)) => "sharing error".into(),
        Some(Figure::WorstSwitchRms) => "switch RMS".into(),
        Some(Figure::WorstSwitchPeak) => "switch peak".into(),
        Some(Figure::WorstBlocking) => "blocking".into(),
        Some(figure) => figure.name().replace('_', " "),
    }
}

/// What the fresh samples say of a point of the map.
pub(in crate::report) fn point(fate: map::Fate) -> &'static str {
    match fate {
        map::Fate::Meets => "meets",
        map::Fate::Open => "open",
        map::Fate::Misses => "misses",
    }
}

/// Where the trend was seen to be violated, a sentence each.
pub(in crate::report) fn violations(part: &Part) -> Vec<String> {
    let each = part.rows.iter().filter_map(|row| {
        let violations = row.edge.violations();
        let (narrow, wide) = violations.first()?;
        let more = match violations.len() {
            1 => String::new(),
            n => format!(" (and at {} more places)", n - 1),
        };
        let given = match row.edge.widest() {
            Some(_) => "The band given is below the narrowest one that was seen to fail",
            None => "No band is given, because the narrowest one fails",
        };
        Some(format!(
            "The trend is violated for {}: {} does better than {}{more}. {given}.",
            subject(row.subject),
            place(row, *wide),
            place(row, *narrow)
        ))
    });
    each.collect()
}

/// What a search that was stopped had still to do. Its last step is lost, however far it was.
pub(in crate::report) fn unfinished(bands: &Bands) -> String {
    let mut names = bands.unfinished.iter().map(|step| self::step(*step));
    let lost = names.next().unwrap_or_default();
    let rest: Vec<_> = names.collect();
    let rest =
        if rest.is_empty() { String::new() } else { format!(" Not begun: {}.", rest.join("; ")) };
    format!("Interrupted: these results are partial. Broken off and lost: {lost}.{rest}")
}

fn step(step: Step) -> String {
    match step {
        Step::Present(a) => format!("present bands, {}", a.name()),
        Step::Widest(a, s) => format!("{}, {}", subject(s), a.name()),
        Step::Cheapest => "the cheapest set".into(),
        Step::Trade => "the trade between two bands".into(),
    }
}

/// What came of the search for the cheapest set.
pub(in crate::report) fn ending(found: &Cheapest) -> String {
    let open = match found.open {
        1 => "one may: the samples do not tell".into(),
        n => format!("{} may: the samples do not tell", grouped(n as u64)),
    };
    match (found.ending, &found.choice) {
        (Ending::Proven, _) if found.open == 0 => {
            "The cheapest of all sets on offer that meets the target.".into()
        }
        (Ending::Proven, _) => {
            format!("The cheapest set that was shown to meet the target. Of cheaper ones {open}.")
        }
        (Ending::NoneMeets, _) if found.open == 0 => "Every set on offer misses the target.".into(),
        (Ending::NoneMeets, _) => {
            format!("Open. No set on offer was shown to meet the target; of them {open}.")
        }
        (Ending::NotProven, _) => {
            "Open. No set on offer that the search found was confirmed on fresh samples: more \
             samples may."
                .into()
        }
        (Ending::TooManyTrials, Some(_)) => {
            "A set that meets the target; the search was cut short by its number of trials, so \
             that a cheaper one may exist."
                .into()
        }
        (Ending::TooManyTrials, None) => {
            "The search was cut short by its number of trials before any set was seen to meet the \
             target."
                .into()
        }
    }
}

/// Sets that were passed over though they may meet the target, and the best where none was proven.
pub(in crate::report) fn others(found: &Cheapest) -> Vec<String> {
    let mut others = Vec::new();
    if !found.passed_over.is_empty() {
        let each: Vec<_> = found.passed_over.iter().map(|own| set(found, own)).collect();
        let more = match found.open - found.passed_over.len() {
            0 => String::new(),
            n => format!("; and {} more", grouped(n as u64)),
        };
        others.push(format!("Left open: {}{more}.", each.join("; ")));
    }
    if let Some(best) = &found.best {
        let stop = best.binding.as_ref().map_or_else(String::new, |binding| {
            format!("; missed most: {} at “{}”", limit(binding), binding.operating_point)
        });
        others.push(format!(
            "Best set tried, on the samples of the search: {}: {}{stop}.",
            set(found, &best.choice),
            interval(&best.good)
        ));
    }
    others
}

/// A set with its price.
fn set(found: &Cheapest, choice: &Choice) -> String {
    let parts = found.catalogue.priced.iter().zip(&choice.set).map(|(part, n)| {
        let (name, own) = (subject(Subject::Alone(part.parameter)), &part.offers[*n]);
        let band = band(own.tolerance.band);
        own.name
            .as_ref()
            .map_or_else(|| format!("{name} {band}"), |grade| format!("{name} {grade} ({band})"))
    });
    format!("{} at {:.2}", parts.collect::<Vec<_>>().join(", "), choice.price)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_proven_factor_is_written_with_all_its_digits() {
        for (at, written) in [
            (0.655, "0.655"),
            (1.5, "1.50"),
            (0.008_37, "0.00837"),
            (0.0456, "0.0456"),
            (12.3, "12.3"),
            (123.0, "123"),
        ] {
            assert_eq!(times(rounded_down(at)), written);
        }
    }

    #[test]
    fn a_band_is_never_written_wider_than_it_is() {
        // 15 % × 1.67: to the nearest tenth it would be 25.1 %.
        for (at, written) in [(0.250_5, "25.0 %"), (0.006_126, "0.612 %"), (0.075, "7.50 %")] {
            assert_eq!(band(at), written);
        }
    }
}
