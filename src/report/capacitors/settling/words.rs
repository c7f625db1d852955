//! What terminal and page both say of settling.

use super::super::undelivered::undelivered;
use crate::converter::Drive;
use crate::report::format::numbers::{
    NONE, decimals, given_percent, minus, quantity, significant, three,
};
use crate::scenario::Scenario;
use crate::solver::settling::{NodeShare, SettlingMode};
use crate::statistics::KeyFigures;
use crate::study::capacitors::settling::{PointSettling, SettlingStudy};
use crate::study::common::settling_figures::SETTLED;
use crate::units::Second;

/// The operating point at which the nominal converter takes longest.
fn slowest(study: &SettlingStudy) -> Option<(&PointSettling, f64, Second)> {
    let all = study.points.iter().filter_map(|point| {
        let nominal = point.nominal.as_ref()?;
        let periods = nominal.settling.slowest.periods_until(SETTLED);
        Some((point, periods, Second(periods * nominal.settling.period.0)))
    });
    all.reduce(|a, b| if b.2 > a.2 { b } else { a })
}

/// How long it takes at worst, in a few words.
pub(super) fn heading(study: &SettlingStudy) -> String {
    match slowest(study) {
        Some((_, _, time)) if time.0.is_finite() => {
            format!("An imbalance is below 1\u{a0}% after {}, nominal", quantity(time))
        }
        Some(_) => "Nothing damps an imbalance".to_owned(),
        None => "How they settle is not known".to_owned(),
    }
}

/// How long it takes at worst.
pub(super) fn answer(study: &SettlingStudy) -> String {
    let Some((point, periods, time)) = slowest(study) else {
        return "How the flying capacitors settle is not known: no operating point is solved exactly."
            .to_owned();
    };
    let name = &point.operating_point;
    if periods.is_infinite() {
        return format!("Nothing damps an imbalance of the flying capacitors at “{name}”.");
    }
    format!(
        "In the nominal converter a small imbalance is below 1 % after {} switching periods, {}, at the \
         slowest point, “{name}”.",
        whole(periods),
        quantity(time)
    )
}

/// What follows the answer.
pub(super) fn findings(scenario: &Scenario, study: &SettlingStudy) -> Vec<String> {
    let mut findings = Vec::new();
    let unsolved = study.points.iter().filter(|point| point.status != "solved");
    let unsolved: Vec<String> = unsolved.map(|point| point.operating_point.clone()).collect();
    findings.extend(undelivered(&unsolved).filter(|_| unsolved.len() < study.points.len()));
    findings.extend(slowest_samples(study));
    let ring = study.points.iter().find_map(|point| {
        let slowest = &point.nominal.as_ref()?.settling.slowest;
        Some((point, slowest.oscillation_periods()?))
    });
    if let Some((point, periods)) = ring {
        findings.push(format!(
            "The voltages ring about their ends, at “{}” once in {} periods: charge goes to and fro \
             between the capacitors and the tanks.",
            point.operating_point,
            three(periods)
        ));
    }
    findings.extend(slowest_load(scenario, study));
    if study.points.iter().any(|point| point.drive == Drive::FullBridge) {
        let modes = match scenario.phases {
            2 => "a neutral mode never decays".to_owned(),
            phases => format!("{} neutral modes never decay, one a node", phases - 1),
        };
        findings.push(format!(
            "In full-bridge drive {modes}. There the voltages of both legs may \
             drift apart, and nothing but leakage or resistors brings them together."
        ));
    }
    findings
}

/// The operating point at which the samples take longest.
fn slowest_samples(study: &SettlingStudy) -> Option<String> {
    let times = study.points.iter().filter_map(|point| {
        let samples = point.samples.as_ref()?;
        Some((point, samples.time?, samples.periods?))
    });
    let p95 = |time: &KeyFigures| time.p95.unwrap_or(f64::INFINITY);
    let (point, time, periods) = times.reduce(|a, b| if p95(&b.1) > p95(&a.1) { b } else { a })?;
    let (Some(time), Some(periods)) = (time.p95, periods.p95) else {
        return Some(format!(
            "More than 5 % of the converters are out of range or undamped at “{}”.",
            point.operating_point
        ));
    };
    Some(format!(
        "95 % of the converters: within {} periods, {}, at “{}”.",
        whole(periods),
        quantity(Second(time)),
        point.operating_point
    ))
}

/// How a time at part load stands to the limit, which holds for the operating points.
fn beyond_limit(scenario: &Scenario, time: f64) -> String {
    match scenario.limits.chain.settling_time.filter(|limit| time > limit.0) {
        Some(limit) => format!(
            ". That is more than the limit of {}, which is judged at the operating points alone",
            quantity(limit)
        ),
        None => String::new(),
    }
}

/// The load at which the nominal converter takes longest, where it takes longer than at full load.
fn slowest_load(scenario: &Scenario, study: &SettlingStudy) -> Option<String> {
    let all = study.points.iter().flat_map(|point| {
        point.over_load.iter().filter_map(move |load| {
            let settled = load.settled.as_ref()?;
            let periods = settled.slowest.periods_until(SETTLED);
            Some((point, load.share, periods / settled.switching_frequency.0))
        })
    });
    let (point, share, time) = all.reduce(|a, b| if b.2 > a.2 { b } else { a })?;
    (share < 1.0 && time.is_finite()).then(|| {
        format!(
            "Over load it takes longest at {} of “{}”: {}{}.",
            given_percent(share),
            point.operating_point,
            quantity(Second(time)),
            beyond_limit(scenario, time)
        )
    })
}

/// The share that a mode loses in one period, in percent.
pub(super) fn decay(mode: &SettlingMode) -> String {
    significant(100.0 * mode.decay_per_period(), 3)
}

/// Periods until a mode is below 1 %.
pub(super) fn periods(mode: &SettlingMode) -> String {
    whole(mode.periods_until(SETTLED))
}

/// Periods, rounded up to whole ones; a dash where there is no end.
pub(super) fn whole(periods: f64) -> String {
    if periods.is_finite() { decimals(periods.ceil(), 0) } else { NONE.to_owned() }
}

/// Periods of one oscillation.
pub(super) fn oscillation(mode: &SettlingMode) -> String {
    mode.oscillation_periods().map_or_else(|| NONE.to_owned(), three)
}

/// By how much a mode moves a node: its amplitude, and how far it is ahead in degrees.
pub(super) fn share(own: &NodeShare) -> String {
    let degrees = own.angle.to_degrees().round();
    let size = three(own.amplitude);
    match degrees.abs() {
        none if none < 0.5 => size,
        opposite if opposite > 179.5 => format!("{size} ∠ 180°"),
        _ => format!("{size} ∠ {}°", minus(&format!("{degrees:.0}"))),
    }
}

/// How an operating point without a result is called.
pub(super) fn unsettled(point: &PointSettling) -> &'static str {
    if point.status == "solved" { "exact solver only" } else { point.status }
}
