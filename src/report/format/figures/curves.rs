//! Figures of the voltage gain: curves over frequency, and the voltages that they cover.

use maud::{Markup, html};

use super::curve_names::{NamedCurve, curve_names};
use super::rectangle::Rectangle;
use super::{
    ACROSS, Axis, Ends, HEIGHT, INSIDE, Mark, Name, UPWARDS, WIDTH, across, drawing, figure, path,
    px, short,
};

/// Height of a bar's row.
const BAR: f64 = 17.0;
/// Room above the bars of one load, for its name.
const ABOVE: f64 = 20.0;
/// Left end of the bars.
const LEFT: f64 = 126.0;

/// A curve over frequency.
#[derive(Debug)]
pub(in crate::report) struct GainLine {
    /// Class of its stroke.
    pub class: String,
    /// The name beside it.
    pub name: String,
    /// Unbroken pieces on the inductive side.
    pub inductive: Vec<Vec<(f64, f64)>>,
    /// Unbroken pieces beyond the peak.
    pub beyond: Vec<Vec<(f64, f64)>>,
}

/// An operating point.
#[derive(Debug)]
pub(in crate::report) struct Dot {
    /// Place along the axes.
    pub at: (f64, f64),
    /// The label beside it.
    pub label: String,
    /// Whether the operating point takes this configuration.
    pub taken: bool,
}

/// Gain over frequency in kilohertz, from end to end of the band, with operating points; what lies
/// above `highest` is left out.
pub(in crate::report) fn gains(
    name: &Name,
    band: Ends,
    highest: f64,
    lines: &[GainLine],
    dots: &[Dot],
) -> Markup {
    let x = Axis::over(&[band.from, band.to], ACROSS);
    let y = Axis::linear(0.0, 1.08 * highest, UPWARDS);
    let drawn = |piece: &[(f64, f64)]| {
        path(piece.iter().filter(|(_, m)| y.holds(*m)).map(|(f, m)| (x.at(*f), y.at(*m))))
    };
    let inside = html! {
        @for tick in y.ticks() {
            @let level = y.at(tick);
            line class="grid" x1=(px(ACROSS.from)) x2=(px(ACROSS.to)) y1=(px(level)) y2=(px(level)) {}
            text x=(px(ACROSS.from - 6.0)) y=(px(level + 4.0)) text-anchor="end" { (y.tick_text(tick)) }
        }
        text class="name" x="2" y="13" { "gain M" }
        (across(&x, UPWARDS, "switching frequency, kHz (the band)", short))
        @for line in lines {
            @for piece in &line.beyond {
                path class=(format!("chain line beyond {}", line.class)) d=(drawn(piece)) {}
            }
            @for piece in &line.inductive {
                path class=(format!("chain line {}", line.class)) d=(drawn(piece)) {}
            }
        }
        (names(&x, &y, lines, dots))
        @for dot in dots { (marked(&x, &y, dot)) }
    };
    figure(name, HEIGHT, &inside)
}

/// The names of the curves on the inductive side, clear of the dots and of what lies beyond the peak.
fn names(x: &Axis, y: &Axis, lines: &[GainLine], dots: &[Dot]) -> Markup {
    let places = |pieces: &[Vec<(f64, f64)>]| -> Vec<[f64; 2]> {
        let drawn = pieces.iter().flatten().filter(|(_, m)| y.holds(*m));
        drawn.map(|(f, m)| [x.at(*f), y.at(*m)]).collect()
    };
    let named: Vec<NamedCurve<'_>> = lines
        .iter()
        .map(|own| NamedCurve { class: "chain", name: &own.name, points: places(&own.inductive) })
        .collect();
    let dots =
        dots.iter().map(|dot| Rectangle::about(x.at(dot.at.0) + 5.0, y.at(dot.at.1) - 5.0, 12.0));
    let beyond = lines.iter().flat_map(|own| places(&own.beyond));
    let beyond = beyond.map(|[across, up]| Rectangle::about(across, up, 3.0));
    let taken: Vec<Rectangle> = dots.chain(beyond).collect();
    curve_names(&named, INSIDE, &taken)
}

fn marked(x: &Axis, y: &Axis, dot: &Dot) -> Markup {
    let (across, up) = (x.at(dot.at.0), y.at(dot.at.1));
    let right = across < 0.85 * WIDTH;
    let (label_x, anchor) = if right { (across + 7.0, "start") } else { (across - 7.0, "end") };
    html! {
        circle class=(if dot.taken { "dot taken" } else { "dot" }) cx=(px(across)) cy=(px(up))
            r="4" {}
        text class="limit-label" x=(px(label_x)) y=(px(up - 5.0)) text-anchor=(anchor) {
            (dot.label)
        }
    }
}

/// The bars of one load.
#[derive(Debug)]
pub(in crate::report) struct LoadBars {
    /// The load.
    pub label: String,
    /// Names of the configurations with the voltages that they cover, if any.
    pub rows: Vec<(String, Option<(f64, f64)>)>,
    /// Voltages that none covers.
    pub gaps: Vec<(f64, f64)>,
}

/// Voltages that each configuration covers, load by load, with those that are asked for upright. The
/// axis ends half as high again as the highest of these; longer bars end with it. `width` is that of the
/// drawing.
pub(in crate::report) fn bars(
    name: &Name,
    groups: &[LoadBars],
    marks: &[Mark],
    highest: f64,
    width: f64,
) -> Markup {
    let most = if highest > 0.0 { highest } else { 1.0 };
    let x = Axis::linear(0.0, most, Ends { from: LEFT, to: width - 14.0 });
    let tall = |g: &LoadBars| ABOVE + BAR * g.rows.len() as f64;
    let top = 22.0;
    let bottom = top + groups.iter().map(tall).sum::<f64>() + 4.0;
    let starts = groups.iter().scan(top, |next, g| {
        let start = *next;
        *next += tall(g);
        Some((start, g))
    });
    let inside = html! {
        (across(&x, Ends { from: bottom, to: top }, "output voltage, V", short))
        @for (start, group) in starts { (group_of_bars(&x, start, group)) }
        @for mark in marks {
            @let across = px(x.at(mark.value));
            line class="target" x1=(across) x2=(across) y1=(px(bottom)) y2=(px(top - 4.0)) {}
            text class="limit-label" x=(across) y=(px(top - 8.0)) text-anchor="middle" {
                (mark.label)
            }
        }
    };
    drawing(name, width, bottom + 44.0, &inside)
}

fn group_of_bars(x: &Axis, top: f64, group: &LoadBars) -> Markup {
    let height = BAR * group.rows.len() as f64;
    html! {
        @for (lowest, highest) in &group.gaps {
            rect class="paralleled area" x=(px(x.at(*lowest)))
                width=(px(x.at(*highest) - x.at(*lowest))) y=(px(top + ABOVE))
                height=(px(height - 3.0)) {}
        }
        text class="name" x="2" y=(px(top + ABOVE - 5.0)) { (group.label) }
        @for (n, (name, range)) in group.rows.iter().enumerate() {
            @let up = top + ABOVE + n as f64 * BAR;
            text x=(px(LEFT - 6.0)) y=(px(up + 11.0)) text-anchor="end" { (name) }
            @if let Some((lowest, highest)) = range.filter(|(lowest, _)| x.holds(*lowest)) {
                rect class="chain area" x=(px(x.at(lowest)))
                    width=(px((x.at(highest) - x.at(lowest)).max(0.5))) y=(px(up + 3.0))
                    height="8" {}
            }
        }
    }
}

/// A sample of how a curve is drawn.
pub(in crate::report) fn stroke(class: &str) -> Markup {
    html! {
        svg class="swatch" viewBox="0 0 26 12" aria-hidden="true" focusable="false" {
            path class=(format!("chain line {class}")) d="M1 6L25 6" {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn name() -> Name {
        Name { id: "a".into(), title: "<b>".into(), description: "c".into() }
    }

    #[test]
    fn curves_and_points_stand_where_their_values_are() {
        let line = GainLine {
            class: "load-1".into(),
            name: "<40 A>".into(),
            inductive: vec![vec![(100.0, 1.0), (200.0, 0.5)]],
            beyond: vec![],
        };
        let dot = Dot { at: (100.0, 1.0), label: "<1>".into(), taken: true };
        let text = gains(&name(), Ends { from: 100.0, to: 200.0 }, 1.0, &[line], &[dot]).0;
        let y = Axis::linear(0.0, 1.08, UPWARDS);
        let line = path([(ACROSS.from, y.at(1.0)), (ACROSS.to, y.at(0.5))].into_iter());
        let up = px(y.at(1.0));
        assert!(text.contains(&format!("d=\"{line}\"")), "{text}");
        assert!(text.contains(&format!("cx=\"{}\" cy=\"{up}\"", px(ACROSS.from))), "{text}");
        assert!(text.contains("&lt;1&gt;") && text.contains("&lt;b&gt;"));
        assert!(text.contains("&lt;40 A&gt;"), "the curve has its name: {text}");
    }

    #[test]
    fn bars_reach_from_the_lowest_to_the_highest_voltage() {
        let group = LoadBars {
            label: "1 A".into(),
            rows: vec![
                ("one".into(), Some((20.0, 50.0))),
                ("none".into(), None),
                ("beyond the axis".into(), Some((160.0, 170.0))),
            ],
            gaps: vec![(50.0, 100.0)],
        };
        let text =
            bars(&name(), &[group], &[Mark { value: 100.0, label: "1".into() }], 150.0, WIDTH).0;
        let x = Axis::linear(0.0, 150.0, Ends { from: LEFT, to: WIDTH - 14.0 });
        let (from, width) = (px(x.at(20.0)), px(x.at(50.0) - x.at(20.0)));
        let bar = format!("class=\"chain area\" x=\"{from}\" width=\"{width}\"");
        assert!(text.contains(&bar), "{text}");
        assert_eq!(text.matches("chain area").count(), 1, "nothing is drawn where nothing is");
        assert_eq!(text.matches("paralleled area").count(), 1);
    }
}
