//! The table `[converter.chain.drift]`: what brings the flying-capacitor voltages of both legs apart.

use std::ops::{Bound, Range};

use super::reader::{Bounds, NOT_NEGATIVE, POSITIVE, Table};
use crate::converter::{AssumedDrift, Charging, DriftCauses, Leakage};
use crate::input::diagnostics::Diagnostic;
use crate::input::quantity::Ratio;
use crate::units::{Ampere, Second, Siemens, Volt};

const SPREAD: Bounds = Bounds {
    words: "from 0 % to below 100 %",
    low: Bound::Included(0.0),
    high: Bound::Excluded(1.0),
};

/// What the chain says of its drift, and where.
#[derive(Debug, Clone)]
pub(super) struct DriftRequest {
    pub(super) assumed: AssumedDrift,
    place: Option<Range<usize>>,
}

/// Reads the drift of a chain from its table: the voltage, or its causes.
pub(super) fn read(chain: &mut Table<'_>) -> Option<DriftRequest> {
    let field = chain.key(
        "neutral_split",
        "assumed drift of each flying-capacitor voltage by leakage and \
        pre-charge, in full-bridge drive; the blocking voltages include it, in the worst \
        combination",
    );
    let place = field.value_span();
    let stated: Volt = field.quantity(NOT_NEGATIVE).or(Volt(0.0))?;
    let field = chain.key(
        "drift",
        "causes from which the drift of each flying-capacitor voltage follows, instead of \
        `neutral_split`",
    );
    let causes_place = field.key_span();
    let causes = match field.table().optional("the drift is `neutral_split`")? {
        Some(table) => Some(causes(table)?),
        None => None,
    };
    let Some(causes) = causes else {
        return Some(DriftRequest { assumed: AssumedDrift::Stated(stated), place });
    };
    // A drift of nothing states nothing.
    if stated.0 > 0.0 {
        let message = "`neutral_split` and `drift` both tell the drift".to_owned();
        chain.report_at(causes_place, message, "expected one of the two");
        return None;
    }
    Some(DriftRequest { assumed: AssumedDrift::FromCauses(causes), place: causes_place })
}

fn causes(mut table: Table<'_>) -> Option<DriftCauses> {
    let charging = charging(&mut table);
    let capacitor_leakage = leakage(&mut table, &OF_CAPACITORS);
    let switch_leakage = leakage(&mut table, &OF_SWITCHES);
    let turn_off_skew = table
        .key("turn_off_skew", "how far apart in time the two legs of a phase may turn off")
        .quantity(NOT_NEGATIVE)
        .or(Second(0.0));
    let operating_time = table
        .key("operating_time", "time in operation until the capacitors are discharged again")
        .quantity(POSITIVE)
        .optional("without end");
    let balancing_resistance = table
        .key("balancing_resistance", "resistor across each flying capacitor")
        .quantity(POSITIVE)
        .optional("no resistors");
    let balancing_tolerance = table
        .key(
            "balancing_tolerance",
            "tolerance of the balancing resistors, also of those that are looked for",
        )
        .quantity(SPREAD)
        .or(Ratio(0.01));
    let highest_wanted = table
        .key(
            "highest_drift",
            "drift by leakage that balancing resistors are to keep to; `capacitors` finds them",
        )
        .quantity(POSITIVE)
        .optional("what the limit `blocking_voltage` leaves");
    table.finish();
    Some(DriftCauses {
        charging: charging?,
        capacitor_leakage: capacitor_leakage?,
        switch_leakage: switch_leakage?,
        turn_off_skew: turn_off_skew?,
        operating_time: operating_time?,
        balancing_resistance: balancing_resistance?,
        balancing_mismatch: balancing_tolerance?.0,
        highest_wanted: highest_wanted?,
    })
}

fn charging(table: &mut Table<'_>) -> Option<Charging> {
    let tolerance: Option<Ratio> = table
        .key(
            "charging_resistor_tolerance",
            "tolerance of the resistors that charge the flying capacitors before the gates run",
        )
        .quantity(SPREAD)
        .optional("the gates charge them, so that the tolerance of the capacitors counts")?;
    let by_resistors = |Ratio(mismatch)| Charging::ByResistors { mismatch };
    Some(tolerance.map_or(Charging::ByGates, by_resistors))
}

/// The keys of one kind of leakage, with their meanings.
struct LeakageKeys {
    most: (&'static str, &'static str),
    at: (&'static str, &'static str),
    least: (&'static str, &'static str),
}

const OF_CAPACITORS: LeakageKeys = LeakageKeys {
    most: ("leakage_current", "highest leakage current of a flying capacitor"),
    at: (
        "leakage_voltage",
        "voltage at which the leakage currents hold; needed with `leakage_current`",
    ),
    least: ("least_leakage_current", "lowest leakage current of a flying capacitor"),
};

const OF_SWITCHES: LeakageKeys = LeakageKeys {
    most: ("switch_leakage_current", "highest leakage current of a switch that blocks"),
    at: (
        "switch_leakage_voltage",
        "voltage at which the leakage currents of switches hold; needed with `switch_leakage_current`",
    ),
    least: ("least_switch_leakage_current", "lowest leakage current of a switch that blocks"),
};

/// Leakage as a conductance: the current over the voltage at which it holds.
fn leakage(table: &mut Table<'_>, keys: &LeakageKeys) -> Option<Leakage> {
    let most: Option<Option<Ampere>> =
        table.key(keys.most.0, keys.most.1).quantity(NOT_NEGATIVE).optional("no leakage");
    let at: Option<Option<Volt>> = table
        .key(keys.at.0, keys.at.1)
        .quantity(POSITIVE)
        .needed_if(most.flatten().is_some(), "without leakage none is needed");
    let field = table.key(keys.least.0, keys.least.1);
    let place = field.value_span();
    let least: Option<Ampere> = field.quantity(NOT_NEGATIVE).or(Ampere(0.0));
    // All keys are read before an error in one of them ends it.
    let (most, at, least) = (most?, at?, least?);
    let Some((most, at)) = most.zip(at) else {
        if least.0 > 0.0 {
            let message = format!("`{}` stands without `{}`", keys.least.0, keys.most.0);
            table.report_at(place, message, "expected both");
            return None;
        }
        return Some(Leakage::default());
    };
    if least.0 > most.0 {
        let message = format!("`{}` is {least}, above `{}`", keys.least.0, keys.most.0);
        table.report_at(place, message, &format!("expected at most {most}"));
        return None;
    }
    Some(Leakage { least: Siemens(least.0 / at.0), most: Siemens(most.0 / at.0) })
}

impl DriftRequest {
    /// Reports a voltage that no chain of so many phases can drift by: body diodes of the first and the
    /// last phase hold it below the voltage of a phase.
    pub(super) fn check(&self, root: &Table<'_>, phases: usize, highest_input: Volt) {
        let AssumedDrift::Stated(drift) = self.assumed else { return };
        let most = Volt(highest_input.0 / phases as f64);
        if drift <= most {
            return;
        }
        let message = format!(
            "`neutral_split` is {drift}, but body diodes hold the drift below {most}: the highest \
             input voltage over the number of phases"
        );
        let label = format!("expected at most {most}");
        let place = self.place.clone().unwrap_or_else(|| root.span());
        let help =
            "to derive the drift from its causes, write a table [converter.chain.drift] for it";
        root.report(Diagnostic::new(place, message, label).with_help(Some(help.to_owned())));
    }
}
