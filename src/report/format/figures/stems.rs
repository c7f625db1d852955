//! Values on one line, each with a stem to its label: above and below in turn.

use maud::{Markup, html};

use super::spaced::{SpacedLabel, spaced};
use super::{Axis, Ends, Mark, Name, drawing, px, text_width};

/// Height of the line that the stems stand on, the length of a stem, where the numbers are, and the height
/// of the drawing.
const LINE: f64 = 66.0;
const STEM: f64 = 20.0;
const AXIS: f64 = 132.0;
const HEIGHT: f64 = AXIS + 36.0;
/// Room at both ends.
const MARGIN: f64 = 6.0;
/// Least distance of two labels.
const APART: f64 = 8.0;
/// Least distance of a label to the line of the limit.
const CLEAR: f64 = 5.0;

/// A value with its label.
#[derive(Debug)]
pub(in crate::report) struct Stem {
    /// The value.
    pub value: f64,
    /// How it is written.
    pub text: String,
    /// What it is.
    pub label: String,
}

/// The line that values stand on.
#[derive(Debug)]
pub(in crate::report) struct StemAxis {
    /// Width of the drawing.
    pub width: f64,
    /// What the numbers are.
    pub name: String,
    /// By what numbers of the axis are multiplied: 100 for percent.
    pub scale: f64,
    /// The limit, drawn upright.
    pub limit: Option<Mark>,
}

/// Stems from zero to the largest value or the limit.
pub(in crate::report) fn stems(
    name: &Name,
    axis: &StemAxis,
    class: &str,
    stems: &[Stem],
) -> Markup {
    let limit = axis.limit.as_ref().map_or(0.0, |mark| axis.scale * mark.value);
    let most = stems.iter().map(|stem| axis.scale * stem.value).fold(limit, f64::max);
    let ends = Ends { from: MARGIN, to: axis.width - MARGIN };
    let x = Axis::linear(0.0, if most > 0.0 { 1.04 * most } else { 1.0 }, ends);
    let mut sorted: Vec<&Stem> = stems.iter().collect();
    sorted.sort_by(|a, b| a.value.total_cmp(&b.value));
    let places: Vec<f64> = sorted.iter().map(|stem| x.at(axis.scale * stem.value)).collect();
    let upright = axis.limit.as_ref().map(|_| x.at(limit));
    let centres = centres(&sorted, &places, axis.width, upright);
    let is_right = x.at(limit) > axis.width - 40.0;
    let inside = html! {
        @if axis.limit.is_some() {
            rect class="beyond-limit" x=(px(x.at(limit))) y=(px(LINE - STEM)) width=(px(ends.to - x.at(limit)))
                height=(px(2.0 * STEM)) {}
        }
        (numbers(&x, &axis.name))
        line class="axis" x1=(px(ends.from)) x2=(px(ends.to)) y1=(px(LINE)) y2=(px(LINE)) {}
        @if let Some(mark) = &axis.limit {
            line class="limit" x1=(px(x.at(limit))) x2=(px(x.at(limit))) y1=(px(LINE - STEM)) y2=(px(AXIS)) {}
            text class="limit-label" x=(px(x.at(limit) + if is_right { -5.0 } else { 5.0 })) y=(px(AXIS - 5.0))
                text-anchor=(if is_right { "end" } else { "start" }) { (mark.label) }
        }
        @for (n, stem) in sorted.iter().enumerate() { (one(class, stem, places[n], centres[n], n % 2 == 0)) }
    };
    drawing(name, axis.width, HEIGHT, &inside)
}

/// The axis with its numbers, and what they are at its end.
fn numbers(x: &Axis, name: &str) -> Markup {
    html! {
        line class="axis" x1=(px(x.drawn.from)) x2=(px(x.drawn.to)) y1=(px(AXIS)) y2=(px(AXIS)) {}
        @for tick in x.ticks() {
            @let at = px(x.at(tick));
            line class="axis" x1=(at) x2=(at) y1=(px(AXIS)) y2=(px(AXIS + 4.0)) {}
            text x=(at) y=(px(AXIS + 17.0)) text-anchor="middle" { (x.tick_text(tick)) }
        }
        text class="name" x=(px(x.drawn.to)) y=(px(AXIS + 32.0)) text-anchor="end" { (name) }
    }
}

fn one(class: &str, stem: &Stem, place: f64, centre: f64, above: bool) -> Markup {
    let (tip, value, label) = if above {
        (LINE - STEM, LINE - STEM - 17.0, LINE - STEM - 4.0)
    } else {
        (LINE + STEM, LINE + STEM + 12.0, LINE + STEM + 25.0)
    };
    let path = format!("M{} {}L{} {}", px(place), px(LINE), px(centre), px(tip));
    html! {
        path class=(format!("{class} stem")) d=(path) {}
        circle class=(format!("{class} sign-full")) cx=(px(place)) cy=(px(LINE)) r="4" {
            title { (stem.label) ": " (stem.text) }
        }
        text class=(format!("{class} value")) x=(px(centre)) y=(px(value)) text-anchor="middle" { (stem.text) }
        text x=(px(centre)) y=(px(label)) text-anchor="middle" { (stem.label) }
    }
}

/// Middles of the labels: as near to their values as those of one side leave room, and inside. Those below stand
/// beside the line of the limit, which goes down to the axis.
fn centres(stems: &[&Stem], places: &[f64], width: f64, limit: Option<f64>) -> Vec<f64> {
    let half = |n: usize| 0.5 * text_width(&stems[n].label).max(text_width(&stems[n].text));
    let mut centres = places.to_vec();
    let ends = Ends { from: -0.5 * APART, to: width + 0.5 * APART };
    for (n, centre) in centres.iter_mut().enumerate().skip(1).step_by(2) {
        let room = half(n) + CLEAR;
        if let Some(limit) = limit.filter(|limit| (*centre - limit).abs() < room) {
            *centre = if *centre <= limit { limit - room } else { limit + room };
        }
    }
    for side in 0..2 {
        let own = (side..stems.len()).step_by(2);
        let label = |n: usize| SpacedLabel { at: centres[n], room: 2.0 * half(n) + APART };
        let wanted: Vec<SpacedLabel> = own.clone().map(label).collect();
        own.zip(spaced(&wanted, ends)).for_each(|(n, centre)| centres[n] = centre);
    }
    centres
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_of_a_side_do_not_overlap() {
        let stem = |value| Stem { value, text: "1".into(), label: "a label of it".into() };
        let all = [2.0, 2.1, 2.2, 2.3, 2.4].map(stem);
        let stems: Vec<&Stem> = all.iter().collect();
        let centres = centres(&stems, &[100.0, 101.0, 102.0, 103.0, 104.0], 320.0, None);
        let wide = text_width("a label of it") + APART;
        assert!(centres[2] - centres[0] >= wide - 1e-9 && centres[4] - centres[2] >= wide - 1e-9);
        assert!(centres[3] - centres[1] >= wide - 1e-9, "{centres:?}");
        assert!(centres[0] >= 0.5 * wide - APART && centres[4] <= 320.0);
    }

    /// The second label stands below the line of values, where the limit's line crosses it.
    #[test]
    fn no_label_lies_on_the_line_of_the_limit() {
        let stem = |value| Stem { value, text: "1".into(), label: "a label of it".into() };
        let all = [2.0, 2.1].map(stem);
        let stems: Vec<&Stem> = all.iter().collect();
        let half = 0.5 * text_width("a label of it");
        for (limit, is_left) in [(152.0, true), (148.0, false), (400.0, true)] {
            let found = centres(&stems, &[140.0, 150.0], 500.0, Some(limit));
            let gap = if is_left { limit - found[1] } else { found[1] - limit };
            assert!(gap >= half + CLEAR - 1e-9, "{limit}: {found:?}");
            assert!((found[0] - 140.0).abs() < 1e-9, "above is no line: {found:?}");
        }
        assert!((centres(&stems, &[140.0, 150.0], 500.0, Some(400.0))[1] - 150.0).abs() < 1e-9);
    }
}
