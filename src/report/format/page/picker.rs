//! Converters one by one: a picture of all, and for a script what it tells of one that is picked.

use maud::{Markup, html};
use serde::Serialize;

use crate::converter::Arrangement;
use crate::report::format::figures::{
    ConverterMark, Mark, Name, ScatterAxes, converter_scatter, converter_scatter_places,
};
use crate::report::format::{json, numbers};
use crate::scenario::Scenario;
use crate::study::common::demand::Demand;

/// Digits of a value of a part or of a phase.
pub(in crate::report) const VALUE_DIGITS: u32 = 3;

/// What a script tells of a picked converter, and what else the kind of page tells.
#[derive(Debug, Serialize)]
pub(in crate::report) struct PickerData<T: Serialize> {
    /// Names of the operating points.
    pub points: Vec<String>,
    pub phases: usize,
    /// Digits of a result.
    pub digits: u32,
    /// Lowest and highest of the three results of every case: sharing error, RMS and peak current of the worst
    /// switch.
    pub results: Vec<[[f64; 2]; 3]>,
    /// Lowest and highest of the largest sharing error and switch RMS current, where converters tell theirs.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub largest: Option<[[f64; 2]; 2]>,
    /// How many of the first tell their results, where not all do.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub whole: Option<usize>,
    /// Of these the verdicts in words, where they are told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub verdicts: Option<Vec<String>>,
    /// A line a converter, the first to be picked first: whether each arrangement passes; the largest values,
    /// results and columns as places between lowest and highest in base 64; the name.
    pub converters: Vec<String>,
    #[serde(flatten)]
    pub more: T,
}

/// The data with the places of the picture.
#[derive(Debug, Serialize)]
struct PlacedData<'a, T: Serialize> {
    /// Ends of both axes and their places.
    places: [f64; 8],
    /// Whether each arrangement has a limit.
    limited: [bool; 2],
    #[serde(flatten)]
    data: &'a PickerData<T>,
}

/// The picture and the box that a script fills. `kind` says which script.
pub(in crate::report) fn picker<T: Serialize>(
    scenario: &Scenario,
    kind: &str,
    marks: &[ConverterMark],
    caption: &Markup,
    data: &PickerData<T>,
) -> Markup {
    let axes = axes(scenario);
    let name = Name {
        id: "converters-figure".to_owned(),
        title: "Sharing error over switch current of single converters, balanced chain".to_owned(),
        description: "A mark a converter at its largest values over all operating points; crosses miss a limit."
            .to_owned(),
    };
    let places = converter_scatter_places(&axes, marks);
    let limited = Arrangement::ALL.map(|own| Demand::is_any_set(&scenario.limits, own));
    html! {
        div class="figures" {
            figure data-kind=(kind) data-converters=(json::line(&PlacedData { places, limited, data })) {
                (converter_scatter(&name, &axes, marks))
                figcaption { (caption) }
            }
            div class="picked" data-by-script {}
        }
    }
}

fn axes(scenario: &Scenario) -> ScatterAxes {
    let limits = &scenario.limits;
    let rms = limits
        .chain
        .rms_current
        .map(|limit| Mark { value: limit.0, label: format!("limit {}\u{a0}A", limit.0) });
    let error = limits.sharing_error.map(|limit| Mark {
        value: 100.0 * limit,
        label: format!("limit {}", numbers::given_percent(limit)),
    });
    ScatterAxes {
        names: ["switch RMS current, A".to_owned(), "sharing error, %".to_owned()],
        limits: [rms, error],
    }
}

/// The lowest and the highest, equal where they differ by rounding alone; zeros of nothing.
pub(in crate::report) fn ends(values: impl Iterator<Item = f64>) -> [f64; 2] {
    let ends = values.fold(None, |ends: Option<[f64; 2]>, v| {
        Some(ends.map_or([v, v], |[low, high]| [low.min(v), high.max(v)]))
    });
    let [low, high] = ends.unwrap_or_default();
    if high - low > 1e-12 * high.abs() { [low, high] } else { [low, low] }
}

/// The place of a value between both ends of a range, in so many digits of base 64 (the alphabet of RFC
/// 4648); nothing where the range is a point, dashes where there is no value.
pub(in crate::report) fn digits(value: Option<f64>, [low, high]: [f64; 2], number: u32) -> String {
    const ALPHABET: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let Some(value) = value else { return "-".repeat(number as usize) };
    if high <= low {
        return String::new();
    }
    let most = f64::from(64_u32.pow(number) - 1);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within the range")]
    let place = (most * (value - low) / (high - low)).round().clamp(0.0, most) as u32;
    let digit = |n: u32| char::from(ALPHABET[(place / 64_u32.pow(n) % 64) as usize]);
    (0..number).rev().map(digit).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4648, table 1: A is 0, Z is 25, / is 63.
    #[test]
    fn values_are_places_between_both_ends() {
        let range = [1.0, 2.0];
        assert_eq!([1.0, 2.0, 1.5].map(|v| digits(Some(v), range, 2)), ["AA", "//", "gA"]);
        assert_eq!(digits(Some(1.0 + 25.0 / 4095.0), range, 2), "AZ");
        assert_eq!(digits(Some(1.0), [1.0, 1.0], 3), "");
        assert_eq!([range, [1.0, 1.0]].map(|range| digits(None, range, 3)), ["---", "---"]);
        assert_eq!(
            ends([3.0, 1.0, 2.0].into_iter()).map(f64::to_bits),
            [1.0, 3.0].map(f64::to_bits)
        );
    }
}
