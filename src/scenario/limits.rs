//! The table `[limits]`: what a converter must keep to, and how many of them must.

use super::reader::{Bounds, POSITIVE, Table};
use crate::converter::{Arrangement, Measure, Shared, Sharing};
use crate::input::quantity::{Quantity, Ratio};
use crate::units::{Ampere, Volt};

/// What the switches of an arrangement must keep to; `None` is no limit.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SwitchLimits {
    /// Highest root-mean-square current of any switch.
    pub rms_current: Option<Ampere>,
    /// Highest peak current of any switch.
    pub peak_current: Option<Ampere>,
    /// Highest voltage across any blocking switch.
    pub blocking_voltage: Option<Volt>,
}

/// What a converter must keep to, and how many of them must.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Which sharing error is meant.
    pub sharing: Sharing,
    /// Highest sharing error, a fraction; `None` is no limit.
    pub sharing_error: Option<f64>,
    /// Limits of the switches in the chain.
    pub chain: SwitchLimits,
    /// Limits of the switches in the paralleled reference.
    pub paralleled: SwitchLimits,
    /// Share of the converters that must keep to all limits, between 0 and 1.
    pub yield_target: f64,
    /// Confidence level of every interval, between 0 and 1.
    pub confidence: f64,
}

impl Limits {
    /// Limits of the switches of an arrangement.
    pub fn switches(&self, arrangement: Arrangement) -> &SwitchLimits {
        match arrangement {
            Arrangement::Chain => &self.chain,
            Arrangement::Paralleled => &self.paralleled,
        }
    }
}

const INSIDE: Bounds = Bounds { words: "above 0 % and below 100 %", hold: |x| 0.0 < x && x < 1.0 };

/// Reads `[limits]`.
pub(super) fn read(mut table: Table<'_>) -> Option<Limits> {
    let default = Sharing::default();
    let share = table.key("share").choice(Shared::ALL, Shared::name).or(default.share);
    let measure = table.key("measure").choice(Measure::ALL, Measure::name).or(default.measure);
    let sharing_error = table.key("sharing_error").quantity::<Ratio>(POSITIVE).optional();
    let chain = switches(&mut table, SwitchLimits::default());
    let paralleled = table.key("paralleled").table().or_empty().and_then(|mut own| {
        let limits = switches(&mut own, chain.unwrap_or_default());
        own.finish();
        limits
    });
    let yield_target = table.key("yield_target").quantity(INSIDE).or(Ratio(0.99));
    let confidence = table.key("confidence").quantity(INSIDE).or(Ratio(0.95));
    table.finish();
    Some(Limits {
        sharing: Sharing { share: share?, measure: measure? },
        sharing_error: sharing_error?.map(|ratio| ratio.0),
        chain: chain?,
        paralleled: paralleled?,
        yield_target: yield_target?.0,
        confidence: confidence?.0,
    })
}

/// The limits of the switches; those left out are taken from `base`.
fn switches(table: &mut Table<'_>, base: SwitchLimits) -> Option<SwitchLimits> {
    #[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
    fn limit<Q: Quantity>(
        table: &mut Table<'_>,
        key: &'static str,
        base: Option<Q>,
    ) -> Option<Option<Q>> {
        table.key(key).quantity(POSITIVE).optional().map(|own| own.or(base))
    }
    let rms_current = limit(table, "switch_rms_current", base.rms_current);
    let peak_current = limit(table, "switch_peak_current", base.peak_current);
    let blocking_voltage = limit(table, "blocking_voltage", base.blocking_voltage);
    Some(SwitchLimits {
        rms_current: rms_current?,
        peak_current: peak_current?,
        blocking_voltage: blocking_voltage?,
    })
}
