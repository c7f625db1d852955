//! How far something may grow: strips over a factor, filled where a target is met, pale where the samples do
//! not decide.

use maud::{Markup, html};

use super::{Axis, Ends, Name, drawing, fitted, px, text_width};
use crate::report::format::numbers::three;

/// Width of the drawing, height of a strip's label and of the strip, and room above all.
const WIDTH: f64 = 320.0;
const LABEL: f64 = 18.0;
const STRIP: f64 = 13.0;
const TOP: f64 = 18.0;
/// Room behind the strips for their numbers.
const NUMBERS: f64 = 62.0;
/// Numbers that an axis may have.
const NUMBERED: [f64; 17] =
    [0.125, 0.2, 0.3, 0.5, 0.7, 1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0];

/// A part of a strip.
#[derive(Debug, Clone, Copy)]
pub(in crate::report) struct StripPart {
    /// Its ends.
    pub ends: Ends,
    /// Whether the target is met there; none where it is not decided.
    pub meets: Option<bool>,
}

/// A strip.
#[derive(Debug)]
pub(in crate::report) struct FactorStrip {
    /// Class of its arrangement.
    pub class: &'static str,
    /// What grows, of what.
    pub label: String,
    /// Its parts, by rising factors.
    pub parts: Vec<StripPart>,
    /// The factor at which the target is just met, if one was found.
    pub even: Option<f64>,
    /// What stands behind it.
    pub text: String,
}

/// Strips on one logarithmic axis, with a line at 1.
pub(in crate::report) fn factor_strips(name: &Name, strips: &[FactorStrip]) -> Markup {
    let ends = || strips.iter().flat_map(|own| &own.parts).map(|part| part.ends);
    let from = ends().map(|own| own.from).fold(1.0, f64::min);
    let to = ends().map(|own| own.to).fold(1.0, f64::max);
    let drawn = Ends { from: 1.0, to: WIDTH - NUMBERS };
    let x = Axis { from, to: to.max(1.01 * from), logarithmic: true, drawn };
    let row = LABEL + STRIP + 8.0;
    let bottom = TOP + row * strips.len() as f64;
    let one = px(x.at(1.0));
    let inside = html! {
        @for tick in numbered(&x) {
            @let at = px(x.at(tick));
            line class="grid" x1=(at) x2=(at) y1=(px(TOP)) y2=(px(bottom)) {}
            text x=(at) y=(px(bottom + 15.0)) text-anchor=(if x.at(tick) < 12.0 { "start" } else { "middle" }) {
                (x.tick_text(tick))
            }
        }
        @for (n, strip) in strips.iter().enumerate() { (one_strip(&x, TOP + n as f64 * row, strip)) }
        @for top in (0..strips.len()).map(|n| TOP + n as f64 * row + LABEL) {
            line class="limit" x1=(one) x2=(one) y1=(px(top - 3.0)) y2=(px(top + STRIP + 3.0)) {}
        }
        text class="limit-label" x=(one) y=(px(TOP - 5.0))
            text-anchor=(if x.at(1.0) < 50.0 { "start" } else { "middle" }) { "as assumed" }
        text class="name" x=(px(WIDTH)) y=(px(bottom + 15.0)) text-anchor="end" { "times" }
    };
    drawing(name, WIDTH, bottom + 20.0, &inside)
}

/// Those numbers of the axis between which there is room.
fn numbered(x: &Axis) -> Vec<f64> {
    let mut taken: Vec<f64> = vec![1.0];
    for tick in NUMBERED.into_iter().filter(|tick| x.holds(*tick)) {
        if taken.iter().all(|own| (x.at(*own) - x.at(tick)).abs() > 30.0) {
            taken.push(tick);
        }
    }
    taken
}

fn one_strip(x: &Axis, top: f64, strip: &FactorStrip) -> Markup {
    let low = top + LABEL;
    html! {
        text class=(format!("{} value", strip.class)) x="4" y=(px(top + 13.0)) {
            (fitted(&strip.label, WIDTH - 4.0))
        }
        @for part in &strip.parts {
            @let (from, to) = (x.at(part.ends.from), x.at(part.ends.to));
            @let class = match part.meets {
                Some(true) => format!("{} area", strip.class),
                Some(false) => "missed".to_owned(),
                None => format!("{} band", strip.class),
            };
            rect class=(class) x=(px(from)) width=(px((to - from).max(0.5)))
                y=(px(low)) height=(px(STRIP)) { title { (strip.label) ": " (told(part)) } }
        }
        @if let Some(even) = strip.even {
            @let at = px(x.at(even));
            line class="median" x1=(at) x2=(at) y1=(px(low - 3.0)) y2=(px(low + STRIP + 3.0)) {}
        }
        @let right = WIDTH - NUMBERS + 6.0;
        text class=(format!("{} value", strip.class)) x=(px(right)) y=(px(low + 10.5)) {
            (fitted(&strip.text, NUMBERS.max(text_width(&strip.text))))
        }
    }
}

/// What holds from where to where.
fn told(part: &StripPart) -> String {
    let what = match part.meets {
        Some(true) => "meets the target",
        Some(false) => "misses the target",
        None => "not decided",
    };
    format!("{what}, {} to {} times", three(part.ends.from), three(part.ends.to))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strips_begin_and_end_at_their_factors() {
        let part = |from, to, meets| StripPart { ends: Ends { from, to }, meets };
        let strip = FactorStrip {
            class: "chain",
            label: "<bands>".into(),
            parts: vec![part(1.0, 2.0, Some(true)), part(2.0, 4.0, None)],
            even: Some(2.0),
            text: "× 2".into(),
        };
        let name = Name { id: "a".into(), title: "b".into(), description: "c".into() };
        let text = factor_strips(&name, &[strip]).0;
        // Two of four by ratio: half of the axis.
        let half = px(0.5 * (WIDTH - NUMBERS - 1.0));
        assert_eq!(text.matches(&format!("width=\"{half}\"")).count(), 2, "{text}");
        assert!(text.contains("chain area") && text.contains("chain band"));
        assert!(text.contains("&lt;bands&gt;") && text.contains(">4</text>"));
    }
}
