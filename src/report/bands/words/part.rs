//! What an arrangement comes to: margins, remarks, which part has the least room.

use super::{MANY, is_short, limit, place, start, subject, times};
use crate::report::format::numbers::{grouped, yield_percent};
use crate::statistics::Verdict;
use crate::study::bands::verification::VERIFICATION_FACTOR;
use crate::study::bands::{ArrangementBands, BandOutcome, Bands, Subject, WidestBand};

/// The meanings of all marks in a part's table.
pub(in crate::report) fn remarks(part: &ArrangementBands, bands: &Bands) -> Vec<String> {
    let any = |is: fn(&BandOutcome) -> bool| part.rows.iter().any(|row| is(&row.outcome()));
    let open: Vec<_> =
        part.rows.iter().filter(|row| matches!(row.outcome(), BandOutcome::Open(_))).collect();
    let mut remarks = Vec::new();
    if any(|own| *own == BandOutcome::NoneMeets) {
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
    if any(|own| matches!(own, BandOutcome::AllMeet(_))) {
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
fn more(open: &[&WidestBand], bands: &Bands) -> String {
    let target = bands.rule.target;
    let enough = |row: &&WidestBand| match row.verifications.last() {
        Some(verification) => {
            Some(verification.good.samples_to_decide(target)?.div_ceil(VERIFICATION_FACTOR))
        }
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
pub(in crate::report) fn together(part: &ArrangementBands, bands: &Bands) -> Option<String> {
    let row = part.row(Subject::Together)?;
    let stop = stopped(row, "them");
    let start = start(bands);
    Some(match (row.outcome(), part.verdict) {
        (BandOutcome::NoneMeets, Verdict::Pass) => {
            format!("Margin: not found. The {start} pass, but exact parts miss the target.")
        }
        (BandOutcome::NoneMeets, _) => {
            "Margin: none. Even exact parts miss the target: no band helps.".into()
        }
        (BandOutcome::Open(None), _) => format!(
            "Margin: open. Whether exact parts meet the target the samples do not tell: {}.",
            more(&[row], bands)
        ),
        (BandOutcome::Open(Some(found)), _) => format!(
            "Margin: open. The search found a common factor of {} for all bands, but fresh \
             samples did not confirm it: {}.",
            times(found),
            more(&[row], bands)
        ),
        (BandOutcome::AllMeet(_), _) => {
            "Margin: all bands may grow together to the widest asked for; nothing stops them."
                .into()
        }
        (BandOutcome::Confirmed(at), _) if at <= 0.0 => {
            "Margin: none was found. Only exact parts were shown to meet the target.".into()
        }
        (BandOutcome::Confirmed(at), _) if at >= 1.0 => format!(
            "Margin: all bands may grow together to {} times what they are{}{stop}.",
            times(at),
            clipped(bands, at)
        ),
        (BandOutcome::Confirmed(at), Verdict::Pass) => format!(
            "Margin: none that so many samples can show. The {start} pass; on fresh samples \
             all together are sure to hold at {} times what they are{stop}.",
            times(at)
        ),
        (BandOutcome::Confirmed(at), Verdict::NotDecided) => format!(
            "Margin: open. Whether the {start} meet the target the samples do not tell; all \
             together are sure to hold at {} times what they are{stop}.",
            times(at)
        ),
        (BandOutcome::Confirmed(at), Verdict::Fail) => format!(
            "Margin: none. All bands together must shrink to {} times what they are{stop}.",
            times(at)
        ),
    })
}

/// The parts that a common factor leaves at the widest band asked for, as a clause.
pub(super) fn clipped(bands: &Bands, factor: f64) -> String {
    let clipped = bands.clipped(factor);
    if clipped.is_empty() {
        return String::new();
    }
    let names = clipped.into_iter().map(|p| subject(Subject::Alone(p))).collect::<Vec<_>>();
    format!(" ({}: no wider than is asked for)", names.join(", "))
}

/// What stops bands, as a clause.
fn stopped(row: &WidestBand, whom: &str) -> String {
    row.binding().map_or_else(String::new, |binding| {
        format!("; {} at “{}” stops {whom}", limit(binding), binding.operating_point)
    })
}

/// Which part has the least room, or which must be tightened first.
pub(in crate::report) fn critical(part: &ArrangementBands) -> Option<String> {
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
        BandOutcome::NoneMeets => "That alone does not suffice".into(),
        BandOutcome::Open(_) => "Whether that alone suffices is open".into(),
        BandOutcome::AllMeet(at) | BandOutcome::Confirmed(at) => {
            format!("With a band of {} it alone suffices", place(row, at))
        }
    };
    Some(match part.verdict {
        Verdict::Pass => format!("Least room: {name}. {gain}{stop}."),
        Verdict::NotDecided => format!("Tighten first, if anything: {name}. {gain}. {alone}."),
        Verdict::Fail => format!("Tighten first: {name}. {gain}. {alone}."),
    })
}

/// Where the trend was seen to be violated, a sentence each.
pub(in crate::report) fn violations(part: &ArrangementBands) -> Vec<String> {
    let each = part.rows.iter().filter_map(|row| {
        let violations = row.search.violations();
        let (narrow, wide) = violations.first()?;
        let more = match violations.len() {
            1 => String::new(),
            n => format!(" (and at {} more places)", n - 1),
        };
        let given = match row.search.widest() {
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
