//! The table `[start_up]`: how the chain is to start.

use std::ops::Bound;

use super::reader::{Bounds, NOT_NEGATIVE, POSITIVE, Table};
use crate::input::quantity::Ratio;
use crate::units::{Farad, Ohm, Second};

/// How the chain is to start, as far as the scenario tells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StartUpSettings {
    /// Time in which the input rises to its voltage.
    pub ramp_time: Second,
    /// Highest factor over its normal voltage that a switch may block.
    pub highest_factor: f64,
    /// Capacitance at the output; none where it is not told.
    pub output_capacitance: Option<Farad>,
    /// Resistive load during the ramp, as a share of the rated output current.
    pub load: f64,
    /// Resistors across the high switches that charge the chain before; none where there are none.
    pub precharge_resistance: Option<Ohm>,
}

impl Default for StartUpSettings {
    fn default() -> Self {
        Self {
            ramp_time: Second(20e-3),
            highest_factor: 1.2,
            output_capacitance: None,
            load: 0.0,
            precharge_resistance: None,
        }
    }
}

const FACTOR: Bounds = Bounds {
    words: "above 1 and at most 12",
    low: Bound::Excluded(1.0),
    high: Bound::Included(12.0),
};

/// Reads `[start_up]`.
pub(super) fn read(mut table: Table<'_>) -> Option<StartUpSettings> {
    let default = StartUpSettings::default();
    let ramp_time = table
        .key("ramp_time", "time in which the input rises to its voltage at a start")
        .quantity(POSITIVE)
        .or(default.ramp_time);
    let highest_factor = table
        .key("highest_factor", "most that a switch may block at a start, over its normal voltage")
        .number(FACTOR, "1.2")
        .or(default.highest_factor);
    let output_capacitance = table
        .key(
            "output_capacitance",
            "capacitance at the output that is to take what the chain delivers",
        )
        .quantity(POSITIVE)
        .optional("not told");
    let load = table
        .key("load", "resistive load during the ramp, as a share of the rated output current")
        .quantity(NOT_NEGATIVE)
        .or(Ratio(default.load));
    let precharge_resistance = table
        .key(
            "precharge_resistance",
            "resistor across each high switch that charges the chain before the gates run",
        )
        .quantity(POSITIVE)
        .optional("no such resistors");
    table.finish();
    Some(StartUpSettings {
        ramp_time: ramp_time?,
        highest_factor: highest_factor?,
        output_capacitance: output_capacitance?,
        load: load?.0,
        precharge_resistance: precharge_resistance?,
    })
}
