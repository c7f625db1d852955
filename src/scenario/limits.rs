//! The table `[limits]`: what a converter must keep to, and how many of them must.

use std::ops::{Bound, Range};

use super::part_limits::{self, PartLimit};
use super::reader::{Bounds, POSITIVE, Table};
use crate::converter::{Arrangement, Measure, Shared, Sharing};
use crate::input::diagnostics::Diagnostic;
use crate::input::quantity::{self, Ratio};
use crate::units::{Ampere, Celsius, Second, Volt};

/// What an arrangement must keep to, most of it its switches; `None` is no limit.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SwitchLimits {
    /// Highest root-mean-square current of any switch.
    pub rms_current: Option<Ampere>,
    /// Highest peak current of any switch.
    pub peak_current: Option<Ampere>,
    /// Highest voltage across any blocking switch.
    pub blocking_voltage: Option<Volt>,
    /// Highest junction temperature of any switch or diode.
    pub junction_temperature: Option<Celsius>,
    /// Lowest efficiency, a fraction.
    pub efficiency: Option<f64>,
    /// Where every switch must turn on softly: the highest voltage at which it does, as a share of the
    /// phase's interval voltage.
    pub soft_turn_on: Option<f64>,
    /// Longest time until a small imbalance of the flying-capacitor voltages is below 1 %; of a chain alone.
    pub settling_time: Option<Second>,
}

/// What a converter must keep to, and how many of them must.
#[derive(Debug, Clone, PartialEq)]
pub struct Limits {
    /// Which sharing error is meant.
    pub sharing: Sharing,
    /// Highest sharing error, a fraction; `None` is no limit.
    pub sharing_error: Option<f64>,
    /// Limits of the switches in the chain.
    pub chain: SwitchLimits,
    /// Limits of the switches in the paralleled reference.
    pub paralleled: SwitchLimits,
    /// Limits of single parts.
    pub parts: Vec<PartLimit>,
    /// Share of the converters that must keep to all limits, between 0 and 1.
    pub yield_target: f64,
    /// Confidence level of every interval, between 0 and 1.
    pub confidence: f64,
}

impl Limits {
    /// Whether any junction temperature is limited.
    pub(super) fn limit_junctions(&self) -> bool {
        [self.chain, self.paralleled].iter().any(|own| own.junction_temperature.is_some())
    }

    /// Whether any efficiency is limited.
    pub(super) fn limit_efficiency(&self) -> bool {
        [self.chain, self.paralleled].iter().any(|own| own.efficiency.is_some())
    }

    /// Whether a part is limited by what only a steady state with the loads of every part tells.
    pub fn needs_stress(&self) -> bool {
        !self.parts.is_empty()
    }

    /// Limits of the switches of an arrangement.
    pub fn switches(&self, arrangement: Arrangement) -> &SwitchLimits {
        match arrangement {
            Arrangement::Chain => &self.chain,
            Arrangement::Paralleled => &self.paralleled,
        }
    }
}

/// Junction temperatures that a limit may be.
const JUNCTION: Bounds = Bounds {
    words: "from 0 °C to 500 °C",
    low: Bound::Included(0.0),
    high: Bound::Included(500.0),
};

/// Less is no confidence: a slip, such as 0.95 %.
const CONFIDENCE: Bounds = Bounds {
    words: "from 50 % to less than 100 %",
    low: Bound::Included(0.5),
    high: Bound::Excluded(1.0),
};

/// Less is a slip, such as 0.94 %.
const EFFICIENCY: Bounds = Bounds {
    words: "from 10 % to less than 100 %",
    low: Bound::Included(0.1),
    high: Bound::Excluded(1.0),
};

const INSIDE: Bounds = Bounds {
    words: "above 0 % and below 100 %",
    low: Bound::Excluded(0.0),
    high: Bound::Excluded(1.0),
};

const DEFAULT_TARGET: &str = "what `failure_target` leaves, else `\"99 %\"`";
const DEFAULT_FAILURES: &str = "what `yield_target` leaves";
const PARALLELED: &str = "limits of the paralleled reference, whose switches are others";
const SETTLING: &str = "longest time until a small imbalance of the flying capacitors is below 1 %, in the slowest \
                        mode that decays; of the chain alone. It needs the exact solver";
const AS_CHAIN: &str = "as in `[limits]`";

/// Reads `[limits]` of a converter with so many phases. `soft_share` is the highest turn-on voltage that
/// counts as soft; none where the switches are not described.
pub(super) fn read(mut table: Table<'_>, phases: usize, soft_share: Option<f64>) -> Option<Limits> {
    let default = Sharing::default();
    let share = table
        .key("share", "the quantity that the phases are to share")
        .choice(Shared::ALL, Shared::name)
        .or(default.share);
    let measure = table
        .key(
            "measure",
            "the sharing error, with m the mean over the phases: max abs(x − m)/m, \
            (max x − m)/m or (max x − min x)/m",
        )
        .choice(Measure::ALL, Measure::name)
        .or(default.measure);
    let field = table.key("sharing_error", "highest sharing error");
    let place = field.value_span();
    let sharing_error = field.quantity::<Ratio>(POSITIVE).optional("no limit");
    let no_limit = BaseLimits { limits: SwitchLimits::default(), words: "no limit", soft_share };
    let chain = switches(&mut table, no_limit);
    let paralleled = table.key("paralleled", PARALLELED).table();
    let paralleled = paralleled.or_empty(AS_CHAIN).and_then(|mut own| {
        let base = BaseLimits { limits: chain.unwrap_or_default(), words: AS_CHAIN, soft_share };
        let limits = switches(&mut own, base);
        own.finish();
        limits
    });
    let settling_time =
        table.key("settling_time", SETTLING).quantity(POSITIVE).optional("no limit");
    let parts = part_limits::read_all(&mut table, phases);
    let yield_target = yield_target(&mut table);
    let confidence = table
        .key("confidence", "confidence level of every interval")
        .quantity(CONFIDENCE)
        .or(Ratio(0.95));
    let can_be_missed = match (measure, sharing_error.flatten()) {
        (Some(measure), Some(limit)) => can_be_missed(&table, place, limit, measure, phases),
        _ => true,
    };
    table.finish();
    Some(Limits {
        sharing: Sharing { share: share?, measure: measure? },
        sharing_error: sharing_error?.map(|ratio| ratio.0).filter(|_| can_be_missed),
        chain: SwitchLimits { settling_time: settling_time?, ..chain? },
        paralleled: paralleled?,
        parts: parts?,
        yield_target: yield_target?,
        confidence: confidence?.0,
    })
}

/// Whether a converter of so many phases can miss a limit on the sharing error: one that none can is a slip of
/// the pen, which is reported.
fn can_be_missed(
    table: &Table<'_>,
    place: Option<Range<usize>>,
    limit: Ratio,
    measure: Measure,
    phases: usize,
) -> bool {
    let largest = Ratio(measure.largest(phases));
    if limit.0 < largest.0 {
        return true;
    }
    let message = format!("no converter of {phases} phases misses this limit");
    let expected =
        format!("expected less than {}, where one phase carries all", quantity::written(largest));
    table.report_at(place, message, &expected);
    false
}

/// The yield target, given as such or by the failures that it leaves.
fn yield_target(table: &mut Table<'_>) -> Option<f64> {
    let field = table.key("yield_target", "share of all converters that must meet every limit");
    let (place, typed) = (field.value_span(), field.peek_text());
    let passing: Option<Ratio> = field.quantity(INSIDE).optional(DEFAULT_TARGET)?;
    let field = table.key(
        "failure_target",
        "share of all converters that may miss a limit: what `yield_target` leaves; one of the two is enough, and both must agree",
    );
    let failures_place = field.value_span();
    let failing: Option<Ratio> = field.quantity(INSIDE).optional(DEFAULT_FAILURES)?;
    if let Some(help) = passing.zip(typed).and_then(|(passing, typed)| low_target(passing.0, typed))
    {
        let label = "expected the share that meets every limit";
        let message = "so low a yield target lets most converters fail";
        let error =
            Diagnostic::new(place.unwrap_or_default(), message, label).with_help(Some(help));
        table.report(error);
        return None;
    }
    match (passing, failing) {
        (Some(passing), Some(failing)) if (passing.0 + failing.0 - 1.0).abs() > 1e-12 => {
            let message = "`yield_target` and `failure_target` do not agree".to_owned();
            table.report_at(failures_place, message, "expected one of the two");
            None
        }
        (Some(passing), _) => Some(passing.0),
        (None, Some(failing)) => Some(1.0 - failing.0),
        (None, None) => Some(0.99),
    }
}

/// What a yield target may have been meant as that lets most converters fail: a share of failures in ppm, or a
/// fraction with a percent sign behind it.
fn low_target(target: f64, typed: &str) -> Option<String> {
    let typed = typed.trim_end();
    if typed.ends_with("ppm") && target < 0.5 {
        let percent = quantity::written(Ratio(1.0 - target));
        return Some(format!(
            "if it is the share that may fail, write failure_target for yield_target, or {percent}"
        ));
    }
    let is_fraction = typed.ends_with('%') && target < 0.01;
    is_fraction.then(|| {
        format!("if it is meant as a fraction, write {}", quantity::written(Ratio(100.0 * target)))
    })
}

/// Limits for those left out.
#[derive(Clone, Copy)]
struct BaseLimits {
    limits: SwitchLimits,
    /// What they are, in words.
    words: &'static str,
    /// The highest turn-on voltage that counts as soft, if the switches are described.
    soft_share: Option<f64>,
}

/// Whether every switch must turn on softly. None within is no limit.
#[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
fn soft_turn_on(table: &mut Table<'_>, base: &BaseLimits) -> Option<Option<f64>> {
    let field = table.key(
        "soft_switching",
        "whether every switch must turn on softly, as `[switch]` tells; where that is not decided, a \
         converter misses it",
    );
    let place = field.value_span();
    let is_asked: Option<bool> = field.boolean().optional(base.words)?;
    match (is_asked, base.soft_share) {
        (None, _) => Some(base.limits.soft_turn_on),
        (Some(false), _) => Some(None),
        (Some(true), Some(share)) => Some(Some(share)),
        (Some(true), None) => {
            let message =
                "soft switching is a limit, and nothing describes the switches".to_owned();
            table.report_at(place, message, "expected a table `[switch]` in the scenario");
            None
        }
    }
}

/// The limits of the switches; those left out are taken from `base`.
fn switches(table: &mut Table<'_>, base: BaseLimits) -> Option<SwitchLimits> {
    let left_out = base.words;
    let rms_current = table
        .key("switch_rms_current", "highest RMS current of any one switch")
        .quantity(POSITIVE)
        .optional(left_out);
    let peak_current = table
        .key("switch_peak_current", "highest peak current of any one switch")
        .quantity(POSITIVE)
        .optional(left_out);
    let blocking_voltage = table
        .key("blocking_voltage", "highest voltage across any one switch that blocks")
        .quantity(POSITIVE)
        .optional(left_out);
    let junction_temperature = table
        .key("junction_temperature", "highest junction temperature of any one switch or diode")
        .quantity(JUNCTION)
        .optional(left_out);
    let efficiency = table
        .key("efficiency", "lowest efficiency: output power over output power and all losses")
        .quantity::<Ratio>(EFFICIENCY)
        .optional(left_out);
    let soft_turn_on = soft_turn_on(table, &base);
    let base = base.limits;
    Some(SwitchLimits {
        rms_current: rms_current?.or(base.rms_current),
        peak_current: peak_current?.or(base.peak_current),
        blocking_voltage: blocking_voltage?.or(base.blocking_voltage),
        junction_temperature: junction_temperature?.or(base.junction_temperature),
        efficiency: efficiency?.map(|own| own.0).or(base.efficiency),
        soft_turn_on: soft_turn_on?,
        settling_time: base.settling_time,
    })
}
