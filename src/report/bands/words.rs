//! Words that terminal and page have in common.

use crate::converter::Parameter;
use crate::report::terminal::{percent, yield_percent};
use crate::statistics::Verdict;
use crate::study::bands::cheapest::{Cheapest, Ending};
use crate::study::bands::looks::rounded_down;
use crate::study::bands::map;
use crate::study::bands::{Bands, Part, Proposal, Row, Source, Step, Subject};
use crate::study::demand::Binding;
use crate::study::figures::Figure;

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
        Subject::Alone(_) if at <= 0.0 => "0 %".into(),
        Subject::Alone(_) => percent(at),
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
    percent(rounded_down(at))
}

/// What became of the search for the widest band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::report) enum Fate {
    /// Even a band of zero fails.
    NoneMeets,
    /// No look at a fresh seed confirms what was found here.
    NotProven(f64),
    /// Nothing wider was allowed.
    AllMeet(f64),
    /// A fresh seed confirms this band.
    Proven(f64),
}

impl Fate {
    pub(in crate::report) fn of(row: &Row) -> Self {
        match (row.edge.widest(), row.proven()) {
            (None, _) => Self::NoneMeets,
            (Some(found), None) => Self::NotProven(found.at),
            (Some(_), Some(look)) if row.edge.failing().is_none() && look.at >= row.edge.top => {
                Self::AllMeet(look.at)
            }
            (Some(_), Some(look)) => Self::Proven(look.at),
        }
    }

    /// The band in a table, with a mark where a remark explains it.
    pub(in crate::report) fn text(self, row: &Row) -> String {
        match self {
            Self::NoneMeets => "none (a)".into(),
            Self::NotProven(_) => "open (b)".into(),
            Self::AllMeet(at) => format!("{} (c)", place(row, at)),
            Self::Proven(at) => place(row, at),
        }
    }

    /// What the mark means.
    fn remark(self) -> Option<&'static str> {
        match self {
            Self::NoneMeets => Some(
                "(a) no band: even with this part exact the target is missed; other bands must \
                 shrink",
            ),
            Self::NotProven(_) => Some(
                "(b) not proven: the search found a band, but on fresh samples the lower end of \
                 the yield’s interval missed the target; more samples may prove one",
            ),
            Self::AllMeet(_) => Some(
                "(c) as wide as the scenario lets it be asked ([bands] widest), and still good: \
                 nothing stops it",
            ),
            Self::Proven(_) => None,
        }
    }
}

/// The meanings of all marks in a part's table.
pub(in crate::report) fn remarks(part: &Part) -> Vec<&'static str> {
    let mut remarks: Vec<_> = part.rows.iter().filter_map(|row| Fate::of(row).remark()).collect();
    remarks.sort_unstable();
    remarks.dedup();
    remarks
}

/// The margin of the present bands: what all bands together may do.
pub(in crate::report) fn together(part: &Part) -> Option<String> {
    let row = part.row(Subject::Together)?;
    let stop = stopped(row, "them");
    Some(match Fate::of(row) {
        Fate::NoneMeets if part.verdict == Verdict::Pass => {
            "Margin: not found. The present bands pass, but exact parts miss the target.".into()
        }
        Fate::NoneMeets => "Margin: none. Even exact parts miss the target: no band helps.".into(),
        Fate::NotProven(found) => format!(
            "Margin: open. The search found a common factor of {} for all bands, but fresh \
             samples did not confirm it: take more samples.",
            times(found)
        ),
        Fate::AllMeet(at) => {
            format!(
                "Margin: all bands may grow together to {} times, the widest asked for.",
                times(at)
            )
        }
        Fate::Proven(at) if at >= 1.0 => {
            format!(
                "Margin: all bands may grow together to {} times what they are{stop}.",
                times(at)
            )
        }
        Fate::Proven(at) if part.verdict == Verdict::Pass => format!(
            "Margin: none that so many samples can show. The present bands pass; on fresh samples \
             all together are sure to hold at {} times what they are{stop}.",
            times(at)
        ),
        Fate::Proven(at) => format!(
            "Margin: none. All bands together must shrink to {} times what they are{stop}.",
            times(at)
        ),
    })
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
    if part.verdict == Verdict::Pass {
        return Some(match row.margin() {
            Some(margin) => {
                format!("Least room: {name}, alone {} times its band{stop}.", times(margin))
            }
            None => format!("Least room: {name}; no band of it was proven on fresh samples{stop}."),
        });
    }
    let (exact, present) = (row.passing_if_exact(), part.present.successes);
    if exact <= present {
        return None;
    }
    let alone = match Fate::of(row) {
        Fate::NoneMeets => "That alone does not suffice".into(),
        Fate::NotProven(_) => "No band of it alone was proven to suffice".into(),
        Fate::AllMeet(at) | Fate::Proven(at) => {
            format!("With a band of {} it alone suffices", place(row, at))
        }
    };
    let share = |passing: u64| yield_percent(passing as f64 / part.present.trials as f64);
    Some(format!(
        "Tighten first: {name}. Exact, it takes the yield from {} to {}. {alone}.",
        share(present),
        share(exact)
    ))
}

/// What the drawing may say, and where that comes from.
pub(in crate::report) fn proposal(bands: &Bands) -> String {
    let proposals = bands.proposals();
    let passes = bands.parts.first().is_some_and(|part| part.verdict == Verdict::Pass);
    match proposals.first().map(|proposal| proposal.source) {
        Some(Source::Cheapest) => {
            let price = bands.cheapest.as_ref().and_then(|found| found.choice.as_ref());
            let price = price.map_or(0.0, |choice| choice.price);
            format!(
                "For the drawing: the cheapest set on offer, {price:.2} for its parts of a converter."
            )
        }
        Some(Source::Factor(at)) => {
            format!("For the drawing: all present bands times {}.", times(at))
        }
        None if passes => {
            "For the drawing: the present bands. No wider set was proven on fresh samples.".into()
        }
        None => "For the drawing: nothing yet. No set of bands was proven on fresh samples.".into(),
    }
}

/// Heading of a proposed set in a table.
pub(in crate::report) fn source(source: Source) -> String {
    match source {
        Source::Cheapest => "cheapest set".into(),
        Source::Factor(at) => format!("all {}", factor(at)),
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
pub(in crate::report) fn banded(bands: &Bands, proposals: &[Proposal]) -> Vec<Parameter> {
    let has = |p: &Parameter| {
        bands.present.get(*p).is_some()
            || proposals.iter().any(|own| own.tolerances.get(*p).is_some())
    };
    Parameter::ALL.into_iter().filter(has).collect()
}

/// The parameters that count as exact, and what that means; none where all have a tolerance.
pub(in crate::report) fn exact(bands: &Bands) -> Option<String> {
    let exact = Parameter::ALL.into_iter().filter(|p| bands.present.get(*p).is_none());
    let names: Vec<_> = exact.map(|p| p.key().replace('_', " ")).collect();
    (!names.is_empty()).then(|| {
        format!(
            "Taken as exact, for want of a [tolerance] table: {}. The verdict on the present bands, \
             the margins and the map count on it.",
            names.join(", ")
        )
    })
}

/// A confidence level, or an error: two decimals at most.
pub(in crate::report) fn level(x: f64) -> String {
    format!("{} %", (1e4 * x).round() / 100.0)
}

/// How sure the answers are, one by one and all at once.
pub(in crate::report) fn sureness(bands: &Bands) -> String {
    let (each, together) = (bands.error_each(), bands.confidence_together());
    let together = if together > 0.0 {
        format!("that all hold at once is sure to {} at least", level(together))
    } else {
        "of all at once nothing is claimed".into()
    };
    format!(
        "{} statements are made here. Each by itself is wrong in at most {} of such searches, the \
         set for the drawing, the better of two, in at most {}; {together}.",
        bands.statements(),
        level(each),
        level(2.0 * each),
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

/// What a search that was stopped had still to do.
pub(in crate::report) fn unfinished(bands: &Bands) -> String {
    let names: Vec<_> = bands.unfinished.iter().map(|step| self::step(*step)).collect();
    format!("Interrupted: these results are partial. Not finished: {}.", names.join("; "))
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
pub(in crate::report) fn ending(cheapest: &Cheapest) -> &'static str {
    match (cheapest.ending, &cheapest.choice) {
        (Ending::Proven, _) => "The cheapest of all sets on offer that meets the target.",
        (Ending::NoneMeets, _) => "No set on offer meets the target.",
        (Ending::NotProven, _) => {
            "No set on offer that the search found was confirmed on fresh samples: more samples may."
        }
        (Ending::TooManyTrials, Some(_)) => {
            "A set that meets the target; the search was cut short by its number of trials, so \
             that a cheaper one may exist."
        }
        (Ending::TooManyTrials, None) => {
            "The search was cut short by its number of trials before any set was seen to meet the \
             target."
        }
    }
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
