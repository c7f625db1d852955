//! The tables `[[capacitors.dc_bias]]` and `[[capacitors.part]]`: what a dc voltage leaves of a flying
//! capacitor, and which ones are on offer.

use std::ops::Bound;

use super::reader::{Bounds, NOT_NEGATIVE, POSITIVE, Presence, Table};
use crate::input::quantity::Ratio;
use crate::units::{Farad, Volt};

/// Share of its capacitance that a dc voltage leaves of a flying capacitor: straight lines between the given
/// points, from all of it without voltage.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DcBias {
    /// Voltages, rising, with the share that is left.
    pub points: Vec<BiasPoint>,
}

/// What is left at a voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BiasPoint {
    /// DC voltage.
    pub voltage: Volt,
    /// Share of the capacitance that is left, above 0 and at most 1.
    pub left: f64,
}

/// A flying capacitor on offer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CapacitorOffer {
    /// Capacitance without dc voltage.
    pub capacitance: Farad,
    /// Price of one, in any one currency.
    pub price: f64,
}

impl DcBias {
    /// Share that is left at a voltage; all of it where nothing is given, none beyond the last point.
    pub fn left(&self, voltage: Volt) -> Option<f64> {
        let mut before = BiasPoint { voltage: Volt(0.0), left: 1.0 };
        for point in &self.points {
            if voltage <= point.voltage {
                let span = point.voltage.0 - before.voltage.0;
                let share = (voltage.0 - before.voltage.0) / span;
                return Some(before.left + share * (point.left - before.left));
            }
            before = *point;
        }
        self.points.is_empty().then_some(1.0)
    }
}

/// What may be left.
const LEFT: Bounds = Bounds {
    words: "above 0 % and at most 100 %",
    low: Bound::Excluded(0.0),
    high: Bound::Included(1.0),
};

const BIAS: &str = "capacitance of the flying capacitors at a dc voltage, as of class II ceramics. One table a \
                    point, with rising voltages; straight lines between, all of it at 0 V";
const OFFERS: &str = "flying capacitors on offer: one table a capacitance";

/// Reads `[[capacitors.dc_bias]]`.
pub(super) fn read_bias(capacitors: &mut Table<'_>) -> Option<DcBias> {
    let field = capacitors.key("dc_bias", BIAS);
    if field.key_span().is_none() {
        return Some(DcBias::default());
    }
    let mut points: Vec<BiasPoint> = Vec::new();
    let mut is_read = true;
    for table in field.tables(Presence::Optional("the whole capacitance")) {
        match bias_point(table, points.last()) {
            Some(point) => points.push(point),
            None => is_read = false,
        }
    }
    is_read.then_some(DcBias { points })
}

fn bias_point(mut table: Table<'_>, before: Option<&BiasPoint>) -> Option<BiasPoint> {
    let field = table.key("voltage", "dc voltage of the capacitor; above that of the point before");
    let place = field.value_span();
    let voltage: Option<Volt> = field.quantity(POSITIVE).required();
    let left = table.key("share", "share of its capacitance that is left there");
    let left: Option<Ratio> = left.quantity(LEFT).required();
    if let (Some(voltage), Some(before)) = (voltage, before)
        && voltage <= before.voltage
    {
        let message = "the voltages of [[capacitors.dc_bias]] do not rise".to_owned();
        table.report_at(place, message, "expected a higher voltage than in the table before");
        table.finish();
        return None;
    }
    table.finish();
    Some(BiasPoint { voltage: voltage?, left: left?.0 })
}

/// Reads `[[capacitors.part]]`, by rising capacitance.
pub(super) fn read_offers(capacitors: &mut Table<'_>) -> Option<Vec<CapacitorOffer>> {
    let field = capacitors.key("part", OFFERS);
    if field.key_span().is_none() {
        return Some(Vec::new());
    }
    let tables = field.tables(Presence::Optional("no prices"));
    let read: Vec<Option<CapacitorOffer>> = tables.into_iter().map(offer).collect();
    let mut offers = read.into_iter().collect::<Option<Vec<_>>>()?;
    offers.sort_by(|a, b| a.capacitance.0.total_cmp(&b.capacitance.0));
    Some(offers)
}

fn offer(mut table: Table<'_>) -> Option<CapacitorOffer> {
    let capacitance =
        table.key("capacitance", "capacitance without dc voltage").quantity(POSITIVE).required();
    let price = table
        .key("price", "price of one, in any one currency")
        .number(NOT_NEGATIVE, "1.20")
        .required();
    table.finish();
    Some(CapacitorOffer { capacitance: capacitance?, price: price? })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 100 %, 80 % and 50 % at 0 V, 100 V and 200 V.
    #[test]
    fn shares_lie_on_straight_lines() {
        let point = |voltage: f64, left: f64| BiasPoint { voltage: Volt(voltage), left };
        let bias = DcBias { points: vec![point(100.0, 0.8), point(200.0, 0.5)] };
        for (voltage, left) in [(0.0, 1.0), (50.0, 0.9), (100.0, 0.8), (150.0, 0.65), (200.0, 0.5)]
        {
            let found = bias.left(Volt(voltage)).unwrap();
            assert!((found - left).abs() < 1e-12, "{voltage} V: {found}");
        }
        assert_eq!(bias.left(Volt(200.1)), None);
        assert_eq!(DcBias::default().left(Volt(1e3)), Some(1.0));
    }
}
