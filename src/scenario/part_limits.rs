//! The tables `[[limits.part]]`: what single parts must keep to.

use super::reader::{Field, POSITIVE, Presence, Table, listed};
use crate::converter::{Arrangement, MAX_PHASES, RatedPart, Rating, Stress, StressQuantity};
use crate::units::{Ampere, Volt, VoltSecond};

/// Highest load of a part in an arrangement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PartLimit {
    /// The arrangement that it holds for.
    pub arrangement: Arrangement,
    /// The part and what loads it.
    pub rating: Rating,
    /// The limit, in the unit of the stress.
    pub limit: f64,
}

/// All parts, the flying capacitors once.
fn parts() -> impl Iterator<Item = RatedPart> {
    RatedPart::all(2)
}

/// Every stress with what it means to the user.
const STRESSES: [(Stress, &str); 14] = [
    (Stress::RmsCurrent, "highest RMS current"),
    (Stress::MeanCurrent, "highest mean of the absolute current"),
    (Stress::PeakCurrent, "highest peak current"),
    (Stress::TurnOffCurrent, "highest current that a switch interrupts"),
    (Stress::BlockingVoltage, "highest voltage across a switch that blocks"),
    (Stress::MeanVoltage, "highest mean voltage of a flying capacitor"),
    (Stress::PeakVoltage, "highest voltage of a capacitor"),
    (
        Stress::RippleVoltage,
        "highest ripple of a flying capacitor, from its lowest to its highest voltage",
    ),
    (Stress::PeakMagnetisingCurrent, "highest magnetising current of a transformer"),
    (Stress::VoltSeconds, "highest flux linkage of a primary winding"),
    (Stress::PrimaryRmsCurrent, "highest RMS current of a primary winding"),
    (
        Stress::SecondaryRmsCurrent,
        "highest RMS current of a secondary winding; of a tapped one, of each half",
    ),
    (Stress::ReverseVoltage, "highest voltage across a diode that blocks"),
    (
        Stress::PeakToPeakCurrent,
        "highest ripple current of the output, from its lowest to its highest value",
    ),
];

const PARTS: &str = "what single parts must keep to: one table a part";
const ARRANGEMENT: &str = "the arrangement that the limits hold for";
const AFTER_PHASE: &str =
    "of the flying capacitors: number of the phase after which the limited ones lie";
const BOTH: &str =
    "the chain; both for rectifiers and output capacitors; `paralleled` for parts that only it has";

/// Reads the tables; `phases` tells how many flying capacitors there are.
pub(super) fn read_all(limits: &mut Table<'_>, phases: usize) -> Option<Vec<PartLimit>> {
    let field = limits.key("part", PARTS);
    if field.key_span().is_none() {
        return Some(Vec::new());
    }
    let tables = field.tables(Presence::Optional("no limits of single parts"));
    let mut all: Vec<PartLimit> = Vec::new();
    let mut is_right = true;
    for table in tables {
        let own = read(table, phases, &all);
        is_right &= own.is_some();
        all.extend(own.into_iter().flatten());
    }
    is_right.then_some(all)
}

/// The limits of one table, none of which is among the `earlier` ones.
fn read(mut table: Table<'_>, phases: usize, earlier: &[PartLimit]) -> Option<Vec<PartLimit>> {
    let part = table
        .key("part", "the parts that are limited, of one type")
        .choice(parts(), RatedPart::table)
        .required();
    let arrangement = arrangement(&mut table, part);
    let parts = members(&mut table, part, phases);
    let limits = STRESSES.map(|(stress, meaning)| limit(&mut table, part, stress, meaning));
    if part.is_some() && limits.iter().all(|limit| *limit == Some(None)) {
        let message = "[[limits.part]] tells no limit".to_owned();
        table.report_at(
            None,
            message,
            &format!("expected {}", part.map_or_else(String::new, keys)),
        );
    }
    let limits: Option<Vec<_>> = limits.into_iter().collect();
    let own = arrangement.zip(parts).zip(limits);
    let own =
        own.map(|((arrangements, parts), limits)| part_limits(&arrangements, &parts, &limits));
    let is_once = own.as_ref().is_none_or(|own| is_once(&table, own, earlier));
    table.finish();
    own.filter(|_| is_once)
}

/// Each of these limits on each part in each arrangement.
fn part_limits(
    arrangements: &[Arrangement],
    parts: &[RatedPart],
    limits: &[Option<f64>],
) -> Vec<PartLimit> {
    let limited = STRESSES.iter().zip(limits).filter_map(|((stress, _), l)| Some((*stress, (*l)?)));
    let limited: Vec<(Stress, f64)> = limited.collect();
    let mut all = Vec::new();
    for arrangement in arrangements {
        for part in parts {
            all.extend(limited.iter().map(|(stress, limit)| PartLimit {
                arrangement: *arrangement,
                rating: Rating { part: *part, stress: *stress },
                limit: *limit,
            }));
        }
    }
    all
}

/// Whether none of a table's limits is among the earlier ones; reports the first one that is.
fn is_once(table: &Table<'_>, own: &[PartLimit], earlier: &[PartLimit]) -> bool {
    let is_earlier = |limit: &&PartLimit| {
        let is_same = |other: &PartLimit| {
            (other.arrangement, other.rating) == (limit.arrangement, limit.rating)
        };
        earlier.iter().any(is_same)
    };
    let Some(PartLimit { rating: Rating { part, stress }, .. }) = own.iter().find(is_earlier)
    else {
        return true;
    };
    let message = format!("`{}` of the `{}` is limited twice", stress.key(), part.table());
    table.report_at(table.place_of(&[stress.key()]), message, "expected one limit");
    false
}

/// The arrangements that the limits of a part hold for.
fn arrangement(table: &mut Table<'_>, part: Option<RatedPart>) -> Option<Vec<Arrangement>> {
    let field = table.key("arrangement", ARRANGEMENT);
    let place = field.value_span();
    let given = field.choice(Arrangement::ALL, Arrangement::name).optional(BOTH)?;
    let part = part?;
    match given {
        Some(given) if !part.is_in(given) => {
            let message = format!("a {} converter has no `{}`", given.name(), part.table());
            table.report_at(place, message, "expected the other arrangement, or none");
            None
        }
        Some(given) => Some(vec![given]),
        None => {
            let is_in_chain = part.is_in(Arrangement::Chain);
            let is_in_both = is_in_chain && part.is_same_when_rescaled();
            let holds = |own: &Arrangement| {
                is_in_both || part.is_in(*own) && is_in_chain == (*own == Arrangement::Chain)
            };
            Some(Arrangement::ALL.into_iter().filter(holds).collect())
        }
    }
}

/// The parts that a table is about: of flying capacitors all, or those after one phase.
fn members(
    table: &mut Table<'_>,
    part: Option<RatedPart>,
    phases: usize,
) -> Option<Vec<RatedPart>> {
    let field = table.key("after_phase", AFTER_PHASE);
    let place = field.key_span();
    let value_place = field.value_span();
    let after = field.integer(&(1..=MAX_PHASES as u64 - 1)).optional("all of them")?;
    let is_flying = |part| matches!(part, RatedPart::FlyingCapacitor(_));
    let part = part?;
    if place.is_some() && !is_flying(part) {
        let message = "`after_phase` goes with `part = \"flying_capacitor\"` alone".to_owned();
        table.report_at(place, message, "expected another part, or no such key");
        return None;
    }
    if !is_flying(part) {
        return Some(vec![part]);
    }
    if after.is_some_and(|after| after >= phases as u64) {
        let message = format!("{phases} phases have {} flying capacitors in a leg", phases - 1);
        table.report_at(value_place, message, "expected the number of a phase before the last one");
        return None;
    }
    let all = (1..phases).filter(|k| after.is_none_or(|after| after == *k as u64));
    Some(all.map(|k| RatedPart::FlyingCapacitor(k - 1)).collect())
}

/// The limit of one stress; one that the part does not have is an error.
#[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
fn limit(
    table: &mut Table<'_>,
    part: Option<RatedPart>,
    stress: Stress,
    meaning: &'static str,
) -> Option<Option<f64>> {
    const NONE: &str = "no limit";
    let field: Field<'_> = table.key(stress.key(), meaning);
    let place = field.key_span();
    let limit = match stress.quantity() {
        StressQuantity::Current => {
            field.quantity::<Ampere>(POSITIVE).optional(NONE)?.map(|limit| limit.0)
        }
        StressQuantity::Voltage => {
            field.quantity::<Volt>(POSITIVE).optional(NONE)?.map(|limit| limit.0)
        }
        StressQuantity::VoltSeconds => {
            field.quantity::<VoltSecond>(POSITIVE).optional(NONE)?.map(|limit| limit.0)
        }
    };
    let foreign = part.filter(|part| limit.is_some() && !part.stresses().contains(&stress));
    if let Some(part) = foreign {
        let message = format!("`{}` is no rating of the `{}`", stress.key(), part.table());
        table.report_at(place, message, &format!("expected {}", keys(part)));
        return None;
    }
    Some(limit)
}

/// The keys of the limits that a part may have.
fn keys(part: RatedPart) -> String {
    listed(part.stresses().iter().map(|stress| format!("`{}`", stress.key())))
}
