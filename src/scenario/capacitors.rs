//! The table `[capacitors]`: which sizes of flying capacitors `capacitors` tries.

use std::ops::Bound;

use super::capacitor_parts::{CapacitorOffer, DcBias, read_bias, read_offers};
use super::reader::{Bounds, POSITIVE, Table};
use crate::input::quantity::Ratio;
use crate::units::Farad;

/// Smallest size where the scenario names none, in resonant capacitances.
const SMALLEST: f64 = 3.0;
/// Largest size where the scenario names none, in resonant capacitances.
const LARGEST: f64 = 3000.0;
/// Most sizes: each takes as many samples as a run.
const MOST_SIZES: usize = 60;

/// Preferred numbers for resistors and capacitors, IEC 60063 (values from memory).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum PreferredSeries {
    /// Three values a decade.
    E3,
    /// Six values a decade.
    #[default]
    E6,
    /// Twelve values a decade.
    E12,
}

impl PreferredSeries {
    const ALL: [Self; 3] = [Self::E3, Self::E6, Self::E12];

    /// Its name in the standard.
    pub const fn name(self) -> &'static str {
        match self {
            Self::E3 => "E3",
            Self::E6 => "E6",
            Self::E12 => "E12",
        }
    }

    /// Its values of one decade, in tenths.
    const fn tenths(self) -> &'static [u32] {
        match self {
            Self::E3 => &[10, 22, 47],
            Self::E6 => &[10, 15, 22, 33, 47, 68],
            Self::E12 => &[10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82],
        }
    }

    /// Its values from `low` to `high`, rising.
    fn values(self, [low, high]: [Farad; 2]) -> Vec<Farad> {
        let decades = -20..=9_i32;
        let all = decades.flat_map(|power| {
            // Read from text, so that each value is the double nearest to its decimal number.
            let value = move |tenths: &u32| format!("{tenths}e{}", power - 1).parse().ok();
            self.tenths().iter().filter_map(value)
        });
        let slack = 1e-9;
        all.filter(|value| (low.0 * (1.0 - slack)..=high.0 * (1.0 + slack)).contains(value))
            .map(Farad)
            .collect()
    }
}

/// Which sizes of flying capacitors are tried.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CapacitorSettings {
    /// The smallest; none is 3 times the resonant capacitance.
    pub smallest: Option<Farad>,
    /// The largest; none is 3000 times the resonant capacitance.
    pub largest: Option<Farad>,
    /// The preferred numbers between.
    pub series: PreferredSeries,
    /// Share of its capacitance that a worn-out flying capacitor has left, above 0 and below 1; none
    /// where the scenario does not tell.
    pub end_of_life: Option<f64>,
    /// What a dc voltage leaves of a flying capacitor.
    pub dc_bias: DcBias,
    /// Flying capacitors on offer, by rising capacitance.
    pub offers: Vec<CapacitorOffer>,
}

impl CapacitorSettings {
    /// The sizes, rising: those of the series between both ends.
    pub fn sizes(&self, resonant_capacitance: Farad) -> Vec<Farad> {
        let times = |factor: f64| Farad(factor * resonant_capacitance.0);
        let low = self.smallest.unwrap_or_else(|| times(SMALLEST));
        let high = self.largest.unwrap_or_else(|| times(LARGEST));
        self.series.values([low, high])
    }
}

/// What may be left of a worn-out part.
const LEFT: Bounds = Bounds {
    words: "above 0 % and below 100 %",
    low: Bound::Excluded(0.0),
    high: Bound::Excluded(1.0),
};

/// What the sizes must fit to.
#[derive(Debug, Clone, Copy)]
pub(super) struct SizeContext {
    /// Nominal resonant capacitance, if it is known.
    pub(super) resonant_capacitance: Option<Farad>,
    /// Whether `[ageing.flying_capacitance]` tells how the flying capacitors age.
    pub(super) has_drift: bool,
}

/// Reads `[capacitors]`.
pub(super) fn read(mut table: Table<'_>, context: SizeContext) -> Option<CapacitorSettings> {
    let place = table.span();
    let smallest = table
        .key("smallest", "smallest flying capacitance that is tried")
        .quantity::<Farad>(POSITIVE)
        .optional("3 times the resonant capacitance");
    let largest = table
        .key("largest", "largest flying capacitance that is tried")
        .quantity::<Farad>(POSITIVE)
        .optional("3000 times the resonant capacitance");
    let series = table
        .key("series", "preferred numbers of IEC 60063 that are tried, at most 60 of them")
        .choice(PreferredSeries::ALL, PreferredSeries::name)
        .or(PreferredSeries::default());
    let field = table.key("end_of_life", END_OF_LIFE);
    let given_at = field.value_span();
    let end_of_life = field.quantity::<Ratio>(LEFT).optional("new capacitors alone");
    if given_at.is_some() && context.has_drift {
        let message = "`end_of_life` and [ageing.flying_capacitance] both tell how they age";
        table.report_at(given_at, message.to_owned(), "expected one of the two");
    }
    let (dc_bias, offers) = (read_bias(&mut table), read_offers(&mut table));
    let settings = CapacitorSettings {
        smallest: smallest?,
        largest: largest?,
        series: series?,
        end_of_life: end_of_life?.map(|left| left.0),
        dc_bias: dc_bias?,
        offers: offers?,
    };
    if let Some(resonant) = context.resonant_capacitance {
        let sizes = settings.sizes(resonant).len();
        if !(2..=MOST_SIZES).contains(&sizes) {
            let name = settings.series.name();
            let [plural, lie] = if sizes == 1 { ["", "lies"] } else { ["s", "lie"] };
            let message =
                format!("{sizes} value{plural} of {name} {lie} from `smallest` to `largest`");
            let expected = format!("expected 2 to {MOST_SIZES} of them");
            table.report_at(Some(place), message, &expected);
        }
    }
    table.finish();
    Some(settings)
}

const END_OF_LIFE: &str = "share of its capacitance that a worn-out flying capacitor has left; each size is then \
                           judged new and worn out; not together with [ageing.flying_capacitance]";

#[cfg(test)]
mod tests {
    use super::*;

    /// The decade from 1 µF of each series, and ends that are values themselves.
    #[test]
    fn sizes_are_preferred_numbers() {
        let micro = |low: f64, high: f64, series| {
            let (smallest, largest) = (Some(Farad(low * 1e-6)), Some(Farad(high * 1e-6)));
            let settings =
                CapacitorSettings { smallest, largest, series, ..CapacitorSettings::default() };
            settings.sizes(Farad(1e-9)).into_iter().map(|size| size.0).collect::<Vec<_>>()
        };
        assert_eq!(micro(1.0, 9.9, PreferredSeries::E3), [1e-6, 2.2e-6, 4.7e-6]);
        let wanted = [4.7e-6, 6.8e-6, 10e-6, 15e-6, 22e-6];
        assert_eq!(micro(4.7, 22.0, PreferredSeries::E6), wanted);
        assert_eq!(micro(1.0, 9.9, PreferredSeries::E12).len(), 12);
    }

    #[test]
    fn sizes_left_out_follow_the_resonant_capacitance() {
        let sizes = CapacitorSettings::default().sizes(Farad(100e-9));
        assert_eq!((sizes[0], sizes[sizes.len() - 1]), (Farad(330e-9), Farad(220e-6)));
        assert_eq!(sizes.len(), 18);
    }
}
