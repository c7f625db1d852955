//! Words that terminal and page have in common.

use crate::report::terminal::percent;
use crate::statistics::Verdict;
use crate::study::bands::cheapest::{Cheapest, Ending};
use crate::study::bands::{Bands, Part, Row, Step, Subject};
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
        Subject::Alone(_) => percent(at),
    }
}

/// A factor on bands, three digits.
pub(in crate::report) fn factor(at: f64) -> String {
    format!("× {}", times(at))
}

/// A factor alone, with the digits that matter.
fn times(at: f64) -> String {
    if at < 0.1 { format!("{at:.4}") } else { format!("{at:.2}") }
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
            Self::NoneMeets => {
                Some("(a) even with this part exact the target is missed: other bands must shrink")
            }
            Self::NotProven(_) => {
                Some("(b) the search found a band, no fresh seed confirmed it: more samples may")
            }
            Self::AllMeet(_) => Some("(c) the widest band allowed still meets the target"),
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

/// What all bands together may do.
pub(in crate::report) fn together(part: &Part) -> Option<String> {
    let row = part.row(Subject::Together)?;
    Some(match Fate::of(row) {
        Fate::NoneMeets => "Even exact parts miss the target: no band helps.".into(),
        Fate::NotProven(found) => format!(
            "The search found a common factor of {} for all bands, but no fresh seed \
             confirmed it: take more samples.",
            times(found)
        ),
        Fate::AllMeet(at) => {
            format!("All bands may grow together to {at:.2} times, the widest allowed.")
        }
        Fate::Proven(at) if at >= 1.0 => {
            format!("All bands may grow together to {at:.2} times what they are.")
        }
        Fate::Proven(at) if part.verdict == Verdict::Pass => format!(
            "On fresh seeds all bands together hold at {} times what they are: the present \
             ones pass, with no margin that so many samples can show.",
            times(at)
        ),
        Fate::Proven(at) => {
            format!("All bands together must shrink to {} times what they are.", times(at))
        }
    })
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

/// Where the trend was seen to be violated, a sentence each.
pub(in crate::report) fn violations(part: &Part) -> Vec<String> {
    let each = part.rows.iter().filter_map(|row| {
        let violations = row.edge.violations();
        let (narrow, wide) = violations.first()?;
        let more = match violations.len() {
            1 => String::new(),
            n => format!(" (and at {} more places)", n - 1),
        };
        Some(format!(
            "The trend is violated for {}: {} does better than {}{more}. The band given is below \
             the narrowest one that was seen to fail.",
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
    match cheapest.ending {
        Ending::Proven => "The cheapest of all listed sets that meets the target.",
        Ending::NoneMeets => "Even the narrowest listed bands miss the target.",
        Ending::NotProven => "No listed set that the search found was confirmed by a fresh seed.",
        Ending::TooManyTrials => {
            "The search was cut short by its number of trials: a cheaper set may exist."
        }
    }
}
