//! The table `[gain]`: for which loads and input voltage the voltage gain is drawn.

use super::reader::{POSITIVE, Table};
use crate::input::quantity::Ratio;
use crate::units::Volt;

/// What `gain` draws its curves for.
#[derive(Debug, Clone, PartialEq)]
pub struct GainSettings {
    /// Constant output currents, as shares of the largest one of the operating points; one at
    /// least, each above zero.
    pub loads: Vec<f64>,
    /// Input voltage; `None` is the lowest of the operating points.
    pub input_voltage: Option<Volt>,
}

impl Default for GainSettings {
    fn default() -> Self {
        Self { loads: vec![1.0, 0.5, 0.1], input_voltage: None }
    }
}

/// Most loads: each takes a curve in every configuration, and a page holds no more that one can tell
/// apart.
const MOST_LOADS: usize = 50;

/// Reads `[gain]`.
pub(super) fn read(mut table: Table<'_>) -> Option<GainSettings> {
    let default = GainSettings::default().loads.into_iter().map(Ratio).collect();
    let field = table.key(
        "loads",
        "output currents of the curves, as shares of the largest one of the operating points; at \
         most 50",
    );
    let place = field.value_span();
    let loads: Option<Vec<Ratio>> = field.quantities(POSITIVE).or(default);
    let loads = loads.filter(|loads| {
        let fits = loads.len() <= MOST_LOADS;
        if !fits {
            let message = format!("`loads` has {} items", loads.len());
            table.report_at(place, message, &format!("expected at most {MOST_LOADS}"));
        }
        fits
    });
    let input_voltage = table
        .key("input_voltage", "input voltage of the curves")
        .quantity(POSITIVE)
        .optional("the lowest one of the operating points");
    table.finish();
    let loads = loads?.into_iter().map(|ratio| ratio.0).collect();
    Some(GainSettings { loads, input_voltage: input_voltage? })
}
