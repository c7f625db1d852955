//! Values of a scenario as people read them. The comparison knows them by their places in the summary and by
//! the texts that stand there.

use crate::converter::{Parameter, Shared};
use crate::report::format::names;
use crate::report::format::numbers::{
    NONE, given_percent, minus, quantity, significant, without_needless_zeros as trimmed,
};
use crate::study::compare::{BasisChange, Compared, Comparison, ReadResult};
use crate::units::{
    Ampere, Celsius, Farad, Henry, Hertz, KelvinPerWatt, Ohm, PerKelvin, Second, Volt, VoltSecond,
    Watt,
};

/// Keys of fractions, which people read in percent.
const FRACTIONS: [&str; 14] = [
    "band",
    "lower",
    "upper",
    "mean",
    "sigma",
    "mode",
    "nominal",
    "sharing_error",
    "yield_target",
    "confidence",
    "efficiency",
    "agreement",
    "trim_range",
    "standard_uncertainty",
];

/// Shares of parts or of a scatter: fractions too, in a table of whatever unit.
const SHARES: [&str; 2] = ["screened", "lot_share"];

/// Counts, ratios and sums of money: numbers without a unit, in a table of whatever unit.
const PLAIN: [&str; 16] = [
    "alpha",
    "beta",
    "sigmas",
    "bought_per_used",
    "parts",
    "rows",
    "phases",
    "parts_per_converter",
    "minimum_quantity",
    "quantity",
    "pieces",
    "lead_time_weeks",
    "price",
    "cost",
    "failure_cost",
    "other_cost",
];

/// Tables of nothing but such numbers.
const PLAIN_TABLES: [&str; 2] = ["correlations.", "sensors.price."];

/// Writes a number with its unit.
type WithUnit = fn(f64) -> String;

/// Units that end a key, the longer of two with the same end first.
const UNITS: [(&str, WithUnit); 13] = [
    ("_1_per_K", |value| quantity(PerKelvin(value))),
    ("_K_per_W", |value| quantity(KelvinPerWatt(value))),
    ("_FIT", |value| format!("{value}\u{a0}FIT")),
    ("_ohm", |value| quantity(Ohm(value))),
    ("_Hz", |value| quantity(Hertz(value))),
    ("_Vs", |value| quantity(VoltSecond(value))),
    ("_A", |value| quantity(Ampere(value))),
    ("_C", |value| quantity(Celsius(value))),
    ("_F", |value| quantity(Farad(value))),
    ("_H", |value| quantity(Henry(value))),
    ("_V", |value| quantity(Volt(value))),
    ("_W", |value| quantity(Watt(value))),
    ("_s", |value| quantity(Second(value))),
];

/// What a part of the summary is called before the name of one of its entries, in the order in which changes
/// are told. Others follow.
const HEADS: [(&str, &str); 7] = [
    ("phases", "phases"),
    ("points", "point"),
    ("limits", "limit"),
    ("nominal_phase", "nominal"),
    ("tolerances", "tolerance"),
    ("correlations", "correlation"),
    ("offers", "offer"),
];

/// Parts of the summary whose tables may have a unit that holds for all their entries. Others have names from
/// the scenario.
const WITH_TABLES_OF_A_UNIT: [&str; 2] = ["limits", "sensors"];

/// How the unit is written that a key, or else the table that it is in, ends with.
fn unit(place: &str) -> Option<WithUnit> {
    let head = place.split('.').next().unwrap_or(place);
    let keys = if WITH_TABLES_OF_A_UNIT.contains(&head) { usize::MAX } else { 1 };
    let mut keys = place.rsplit('.').take(keys);
    keys.find_map(|key| UNITS.iter().find(|(unit, _)| key.ends_with(unit))).map(|own| own.1)
}

fn without_unit(key: &str) -> &str {
    UNITS.iter().find_map(|(unit, _)| key.strip_suffix(unit)).unwrap_or(key)
}

/// Places whose keys are no words of the trade.
const NAMES: [(&str, &str); 3] = [
    ("limits.neutral_split_V", "assumed drift of each flying-capacitor voltage"),
    ("limits.sharing.measure", "limit, measure of the sharing error"),
    ("limits.sharing.share", "limit, quantity of the sharing error"),
];

/// The name of a place: `tolerance, resonant inductance, band`.
pub(super) fn name(place: &str) -> String {
    if let Some((_, name)) = NAMES.iter().find(|(own, _)| *own == place) {
        return (*name).to_owned();
    }
    let head = |key: &str| {
        HEADS.iter().find(|(own, _)| *own == key).map_or_else(|| key.to_owned(), |own| own.1.into())
    };
    let keys = place.split('.').enumerate();
    let keys = keys.map(|(n, key)| if n == 0 { head(key) } else { without_unit(key).to_owned() });
    let name = keys.collect::<Vec<_>>().join(", ").replace('_', " ").replace(" rms ", " RMS ");
    if let Some(part) = name.strip_prefix("limit, parts, ") {
        return format!("limit, {}", part.trim_end_matches(", limit"));
    }
    name.strip_prefix("converter, ").map_or_else(|| name.clone(), str::to_owned)
}

/// The value at a place with its unit; words as they are.
pub(super) fn value(place: &str, text: &str) -> String {
    let Ok(number) = text.parse::<f64>() else {
        return match text {
            "true" => "yes".to_owned(),
            "false" => "no".to_owned(),
            key if place == "limits.sharing.share" => shared_quantity(key),
            words => words.to_owned(),
        };
    };
    match written(place) {
        Some(written) => trimmed(&written(number)),
        None if text.len() > DIGITS => significant(number, 5),
        None => minus(whole(text)),
    }
}

/// A number as it stands in a summary, without the decimal place that tells nothing.
fn whole(text: &str) -> &str {
    text.strip_suffix(".0").unwrap_or(text)
}

/// The quantity that the phases share, by its key.
fn shared_quantity(key: &str) -> String {
    let own = Shared::ALL.into_iter().find(|own| own.name() == key);
    own.map_or_else(|| key.to_owned(), |own| names::shared(own).long.to_owned())
}

fn last_key(place: &str) -> &str {
    place.rsplit('.').next().unwrap_or(place)
}

/// Longer numbers were computed, not typed.
const DIGITS: usize = 10;

/// A percentage as typed, or with five digits where it was computed.
fn percent(fraction: f64) -> String {
    let typed = given_percent(fraction);
    if typed.chars().count() <= DIGITS {
        typed
    } else {
        format!("{}\u{a0}%", significant(100.0 * fraction, 5))
    }
}

/// Whether the number at a place has no unit.
fn is_plain(place: &str) -> bool {
    PLAIN.contains(&last_key(place)) || PLAIN_TABLES.iter().any(|table| place.starts_with(table))
}

/// How the number at a place is written; nothing where it has no unit.
fn written(place: &str) -> Option<WithUnit> {
    if is_plain(place) {
        return None;
    }
    if SHARES.contains(&last_key(place)) {
        return Some(given_percent);
    }
    let fraction = FRACTIONS.contains(&last_key(place)).then_some(percent as WithUnit);
    unit(place).or(fraction)
}

/// Whether it is known how the number at a place is written.
#[cfg(test)]
pub(super) fn is_known(place: &str) -> bool {
    is_plain(place) || written(place).is_some()
}

/// A change in the scenario, as people read it.
#[derive(Debug, PartialEq)]
pub(super) struct ToldChange {
    pub name: String,
    /// The value in the first and in the other result.
    pub values: [String; 2],
}

/// What differs in the scenario: operating points, limits, parts, then all else. An operating point or an offer of
/// one result alone is told in one line.
pub(super) fn changes(first: &ReadResult, compared: &Compared) -> Vec<ToldChange> {
    let rank = |change: &&BasisChange| {
        let head = change.place.split('.').next().unwrap_or_default();
        HEADS.iter().position(|(own, _)| *own == head).unwrap_or(HEADS.len())
    };
    let both = [first, &compared.other];
    let mut all: Vec<&BasisChange> = compared.basis.iter().collect();
    all.sort_by_key(rank);
    let groups = all.chunk_by(|one, next| {
        let entry = entry_of(&one.place, both);
        entry.is_some() && entry == entry_of(&next.place, both)
    });
    let told = groups.flat_map(|group| match entry_of(&group[0].place, both) {
        Some(entry) if is_of_one(group) => vec![ToldChange {
            name: name(entry),
            values: both.map(|read| entry_told(entry, |place| read.basis.get(place))),
        }],
        _ => group.iter().map(|change| told(change)).collect(),
    });
    told.collect()
}

/// Stands for a value that a result does not have.
const LEFT_OUT: &str = "left out";

fn told(change: &BasisChange) -> ToldChange {
    let text = |text: &Option<String>| {
        text.as_ref().map_or_else(|| LEFT_OUT.to_owned(), |text| value(&change.place, text))
    };
    ToldChange { name: name(&change.place), values: [text(&change.first), text(&change.other)] }
}

/// The place of the operating point or the offer that a place is about. Names may hold dots: an entry has one below
/// its place, in one of the results.
fn entry_of<'p>(place: &'p str, both: [&ReadResult; 2]) -> Option<&'p str> {
    ["points.", "offers."].iter().any(|head| place.starts_with(head)).then_some(())?;
    let mut ends = place.match_indices('.').map(|(end, _)| &place[..end]);
    let is_entry = |entry: &&str| {
        let name = format!("{entry}.name");
        both.iter().any(|read| read.basis.contains_key(&name))
    };
    ends.rfind(is_entry)
}

/// Whether one of the results lacks all of these.
fn is_of_one(changes: &[&BasisChange]) -> bool {
    changes.iter().all(|own| own.first.is_none()) || changes.iter().all(|own| own.other.is_none())
}

/// An entry of one result in one line.
fn entry_told<'t>(entry: &str, text: impl Fn(&str) -> Option<&'t String>) -> String {
    match (text(&format!("{entry}.name")), point_told(entry, &text)) {
        (None, _) => LEFT_OUT.to_owned(),
        (Some(_), Some(point)) => point,
        (Some(_), None) => "offered".to_owned(),
    }
}

/// The voltages and the current of the operating point at a place.
fn point_told<'t>(place: &str, text: impl Fn(&str) -> Option<&'t String>) -> Option<String> {
    let at = |key: &str| {
        let place = format!("{place}.{key}");
        text(&place).map(|text| value(&place, text))
    };
    let [input, output, current] =
        [at("input_voltage_V")?, at("output_voltage_V")?, at("output_current_A")?];
    Some(format!("{input} to {output}, {current}"))
}

/// What all results share of points, limits and nominal phase, in lines with a heading each.
pub(super) fn shared(found: &Comparison) -> Vec<(&'static str, String)> {
    vec![
        ("Operating points", points(found)),
        ("Limits", limits(found)),
        ("Nominal phase", nominal_phase(found)),
    ]
}

/// The text at a place where all results tell the same.
fn common<'f>(found: &'f Comparison, place: &str) -> Option<&'f String> {
    let own = found.first.basis.get(place)?;
    let is_same = |read: &ReadResult| read.basis.get(place) == Some(own);
    found.others.iter().all(|own| is_same(&own.other)).then_some(own)
}

/// Whether all results tell the same below a table of the summary.
fn is_common(found: &Comparison, table: &str) -> bool {
    let is_below = |place: &str| place.split('.').next() == Some(table);
    !found.others.iter().flat_map(|own| &own.basis).any(|change| is_below(&change.place))
}

/// Said of what differs, behind what is shared.
const DIFFERS: &str = "they differ, see the changes";

fn points(found: &Comparison) -> String {
    let names = found.first.points.iter();
    let told = names.filter_map(|name| {
        let told = point_told(&format!("points.{name}"), |place| common(found, place))?;
        Some(format!("“{name}” {told}"))
    });
    with_rest(&told.collect::<Vec<_>>(), "; ", is_common(found, "points"))
}

/// A limit that all results share, with its value; none where it is not shared, or not set.
fn limit(found: &Comparison, place: &str) -> Option<String> {
    let text = common(found, place).filter(|text| text.as_str() != "false")?;
    let name = name(place);
    Some(format!("{} {}", name.trim_start_matches("limit, "), value(place, text)))
}

/// Texts that begin alike up to a comma, as one with that beginning once; others before, as one.
fn by_head(texts: &[String]) -> Vec<String> {
    let split = |text: &String| {
        let (head, rest) = text.split_once(", ").unwrap_or(("", text));
        (head.to_owned(), rest.to_owned())
    };
    let split: Vec<(String, String)> = texts.iter().map(split).collect();
    let groups = split.chunk_by(|a, b| a.0 == b.0);
    let group = |group: &[(String, String)]| {
        let rest: Vec<&str> = group.iter().map(|own| own.1.as_str()).collect();
        let (rest, head) = (rest.join("; "), &group[0].0);
        let Some(first) = head.chars().next() else { return rest };
        let capital: String = first.to_uppercase().collect();
        format!("{capital}{}: {rest}", &head[first.len_utf8()..])
    };
    groups.map(group).collect()
}

/// Which sharing error is meant, where all results mean the same.
fn meant_error(found: &Comparison) -> Option<String> {
    let [measure, share] =
        ["measure", "share"].map(|key| common(found, &format!("limits.sharing.{key}")));
    let of = value("limits.sharing.share", share?);
    Some(format!("Sharing error meant: {} of the {of}", measure?))
}

fn limits(found: &Comparison) -> String {
    let places = found.first.basis.keys().filter(|place| place.starts_with("limits."));
    let limits = places.filter(|place| !place.starts_with("limits.sharing."));
    // What holds for both arrangements comes first.
    let mut limits: Vec<&String> = limits.collect();
    limits.sort_by_key(|place| place.matches('.').count());
    let told = limits.into_iter().filter_map(|place| limit(found, place));
    let told: Vec<String> = told.chain(meant_error(found)).collect();
    if told.is_empty() && is_common(found, "limits") {
        return "not listed in these summaries".to_owned();
    }
    with_rest(&by_head(&told), ". ", is_common(found, "limits"))
}

fn nominal_phase(found: &Comparison) -> String {
    let told = Parameter::ALL.into_iter().filter_map(|parameter| {
        let place = format!("nominal_phase.{}{}", parameter.key(), parameter.unit_suffix());
        let text = common(found, &place)?;
        Some(format!("{} {}", names::parameter(parameter).short, value(&place, text)))
    });
    with_rest(&told.collect::<Vec<_>>(), " · ", is_common(found, "nominal_phase"))
}

fn with_rest(told: &[String], between: &str, is_all: bool) -> String {
    let rest = (!is_all).then(|| DIFFERS.to_owned()).into_iter();
    let none = (told.is_empty() && is_all).then(|| NONE.to_owned());
    let text = told.join(between);
    let pieces = Some(text).filter(|text| !text.is_empty()).into_iter().chain(none).chain(rest);
    pieces.collect::<Vec<_>>().join("; otherwise ")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand, from the rules that words and pages follow.
    #[test]
    fn values_have_the_units_that_people_read() {
        for (place, text, expected) in [
            ("limits.sharing_error", "0.025", "2.5 %"),
            ("tolerances.turns_ratio.lower", "-0.005", "−0.5 %"),
            ("nominal_phase.resonant_inductance_H", "4.56e-6", "4.56 µH"),
            ("nominal_phase.turns_ratio", "4.2", "4.2"),
            ("failure_cost", "400.0", "400"),
            ("points.full load.output_current_A", "62.5", "62.5 A"),
            ("sensors.offset_A.band", "0.08", "80 mA"),
            ("limits.parts.chain.rectifier.reverse_voltage_V.limit", "60.0", "60 V"),
            ("limits.chain.settling_time_s", "0.0034", "3.4 ms"),
            ("limits.chain.soft_switching", "true", "yes"),
            ("sensors.temperature_coefficient_1_per_K.band", "8e-5", "80 ppm/K"),
            ("operating_point.full load.temperature", "80 °C", "80 °C"),
            ("sensors.offset_A.lot_share", "0.5", "50 %"),
            ("sensors.offset_A.sigmas", "3.0", "3"),
            ("tolerances.turns_ratio.bought_per_used", "1.0526315789473684", "1.0526"),
            ("tolerances.turns_ratio.measured.mean", "-0.002796052632", "−0.27961 %"),
            ("sensors.price.chain", "4.5", "4.5"),
            ("correlations.1.coefficient.lower", "-0.25", "−0.25"),
            ("points.full load.drive", "half-bridge", "half-bridge"),
            ("limits.sharing.share", "output-current", "output current"),
        ] {
            let found = value(place, text).replace('\u{a0}', " ");
            assert_eq!(found, expected, "{place}");
        }
    }

    #[test]
    fn names_are_words() {
        for (place, expected) in [
            ("limits.sharing_error", "limit, sharing error"),
            (
                "limits.parts.chain.flying_capacitor_1.rms_current_A.limit",
                "limit, chain, flying capacitor 1, RMS current",
            ),
            ("tolerances.resonant_inductance.band", "tolerance, resonant inductance, band"),
            ("points.full load.input_voltage_V", "point, full load, input voltage"),
            ("nominal_phase.flying_capacitance_F", "nominal, flying capacitance"),
            ("limits.neutral_split_V", "assumed drift of each flying-capacitor voltage"),
            ("converter.frequency.maximum", "frequency, maximum"),
            ("switch.paralleled.dead_time", "switch, paralleled, dead time"),
        ] {
            assert_eq!(name(place), expected);
        }
    }
}
