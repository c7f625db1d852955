//! Values over the size of a capacitor, on a logarithmic axis.

use maud::{Markup, html};

use super::{
    ACROSS, Axis, Ends, HEIGHT, Mark, Name, UPWARDS, WIDTH, across, drawing, name_of_level, path,
    px, short,
};

/// Places looked at between two points of a curve.
const BETWEEN: u8 = 8;

/// Both axes.
#[derive(Debug)]
pub(in crate::report) struct SizeAxes {
    /// Smallest and largest size, in microfarad.
    pub sizes: Ends,
    /// What the upright axis shows, with its unit.
    pub name: &'static str,
    /// Its ends; one that begins above zero is logarithmic.
    pub values: Ends,
    /// How its numbers are written.
    pub number: fn(f64) -> String,
    /// Width of the drawing.
    pub width: f64,
}

impl SizeAxes {
    /// Left and right end of the plot.
    fn across(&self) -> Ends {
        Ends { to: ACROSS.to - WIDTH + self.width, ..ACROSS }
    }
}

/// A value over the size.
#[derive(Debug)]
pub(in crate::report) struct SizeLine {
    /// Class of its stroke.
    pub class: &'static str,
    /// Unbroken pieces.
    pub pieces: Vec<Vec<(f64, f64)>>,
    /// Ends of the interval about each piece: lower and upper.
    pub bands: Vec<Vec<(f64, [f64; 2])>>,
}

/// Lines over the size with their bands and a dot a size. `limit` is drawn level, and what lies beyond it
/// shaded; `marked` is drawn upright.
pub(in crate::report) fn over_size(
    name: &Name,
    axes: &SizeAxes,
    lines: &[SizeLine],
    limit: Option<&Mark>,
    marked: Option<&Mark>,
) -> Markup {
    let Ends { from, to } = axes.values;
    let drawn_over = axes.across();
    let x = Axis::over(&[axes.sizes.from, axes.sizes.to], drawn_over);
    let y =
        if from > 0.0 { Axis::over(&[from, to], UPWARDS) } else { Axis::linear(from, to, UPWARDS) };
    let limit = limit.filter(|limit| y.holds(limit.value));
    let mut taken = drawn_places(&x, &y, lines);
    let marked = marked.filter(|mark| x.holds(mark.value));
    let crossed = limit.zip(marked).map(|(limit, mark)| (x.at(mark.value), y.at(limit.value)));
    taken.extend(crossed);
    let inside = html! {
        (beyond(&x, &y, limit))
        @for tick in y.ticks() {
            @let level = y.at(tick);
            line class="grid" x1=(px(drawn_over.from)) x2=(px(drawn_over.to)) y1=(px(level)) y2=(px(level)) {}
            text x=(px(drawn_over.from - 6.0)) y=(px(level + 4.0)) text-anchor="end" { ((axes.number)(tick)) }
        }
        text class="name" x="2" y="13" { (axes.name) }
        (across(&x, UPWARDS, "flying capacitance, µF", short))
        @for line in lines { (drawn(&x, &y, line)) }
        (level(&x, &y, limit, &taken))
        (upright(&x, marked))
    };
    drawing(name, axes.width, HEIGHT, &inside)
}

fn drawn(x: &Axis, y: &Axis, line: &SizeLine) -> Markup {
    let curve = |piece: &[(f64, f64)]| path(piece.iter().map(|(c, v)| (x.at(*c), y.at(*v))));
    let band = |piece: &[(f64, [f64; 2])]| {
        let lower = piece.iter().map(|(c, [lower, _])| (x.at(*c), y.at(*lower)));
        let upper = piece.iter().rev().map(|(c, [_, upper])| (x.at(*c), y.at(*upper)));
        path(lower.chain(upper))
    };
    html! {
        @for piece in &line.bands { path class=(format!("{} band", line.class)) d=(band(piece)) {} }
        @for piece in &line.pieces { path class=(format!("{} line", line.class)) d=(curve(piece)) {} }
    }
}

/// What lies beyond a limit that no value may exceed.
fn beyond(x: &Axis, y: &Axis, limit: Option<&Mark>) -> Markup {
    html! {
        @if let Some(limit) = limit {
            @let level = y.at(limit.value);
            rect class="beyond-limit" x=(px(x.drawn.from)) width=(px(x.drawn.to - x.drawn.from))
                y=(px(UPWARDS.to)) height=(px(level - UPWARDS.to)) {}
        }
    }
}

fn level(x: &Axis, y: &Axis, limit: Option<&Mark>, taken: &[(f64, f64)]) -> Markup {
    html! {
        @if let Some(limit) = limit {
            @let level = y.at(limit.value);
            @let name = name_of_level(x.drawn, level, &limit.label, taken.iter().copied());
            line class="limit" x1=(px(x.drawn.from)) x2=(px(x.drawn.to)) y1=(px(level)) y2=(px(level)) {}
            text class="limit-label" x=(px(name.x)) y=(px(level - 5.0)) text-anchor=(name.anchor) {
                (name.text)
            }
        }
    }
}

/// Where curves run, with places between their points: a steep piece has none of its own beside a label.
fn drawn_places(x: &Axis, y: &Axis, lines: &[SizeLine]) -> Vec<(f64, f64)> {
    let pieces = lines.iter().flat_map(|line| &line.pieces);
    let between = |pair: &[(f64, f64)]| {
        let [from, to] = [pair[0], pair[1]].map(|(c, v)| (x.at(c), y.at(v)));
        (0..=BETWEEN).map(move |n| {
            let share = f64::from(n) / f64::from(BETWEEN);
            (from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1))
        })
    };
    pieces.flat_map(|piece| piece.windows(2).flat_map(between)).collect()
}

fn upright(x: &Axis, marked: Option<&Mark>) -> Markup {
    html! {
        @if let Some(mark) = marked {
            @let across = x.at(mark.value);
            @let to_the_left = across > 0.6 * x.drawn.to;
            line class="target" x1=(px(across)) x2=(px(across)) y1=(px(UPWARDS.from)) y2=(px(UPWARDS.to)) {}
            text class="limit-label" x=(px(if to_the_left { across - 5.0 } else { across + 5.0 }))
                y=(px(UPWARDS.to + 12.0)) text-anchor=(if to_the_left { "end" } else { "start" }) {
                (mark.label)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const AXES: SizeAxes = SizeAxes {
        sizes: Ends { from: 1.0, to: 100.0 },
        name: "V",
        values: Ends { from: 0.01, to: 1.0 },
        number: short,
        width: WIDTH,
    };

    #[test]
    fn lines_and_limits_stand_where_their_values_are() {
        let name = Name { id: "a".into(), title: "<b>".into(), description: "c".into() };
        let line = SizeLine {
            class: "chain",
            pieces: vec![vec![(1.0, 1.0), (10.0, 0.1)]],
            bands: vec![vec![(1.0, [0.5, 1.0]), (10.0, [0.05, 0.2])]],
        };
        let limit = Mark { value: 0.1, label: "<limit>".into() };
        let marked = Mark { value: 1000.0, label: "outside".into() };
        let text = over_size(&name, &AXES, &[line], Some(&limit), Some(&marked)).0;
        let middle = |ends: Ends| f64::midpoint(ends.from, ends.to);
        let line = [(ACROSS.from, UPWARDS.to), (middle(ACROSS), middle(UPWARDS))];
        assert!(text.contains(&format!("d=\"{}\"", path(line.into_iter()))));
        let up = px(middle(UPWARDS));
        assert!(text.contains(&format!("y1=\"{up}\" y2=\"{up}\"")), "{text}");
        assert!(text.contains("&lt;limit&gt;") && !text.contains("outside"), "{text}");
    }

    #[test]
    fn a_steep_curve_does_not_cross_the_name_of_the_limit() {
        let name = Name { id: "a".into(), title: "b".into(), description: "c".into() };
        let anchor = |from: f64| {
            let piece = vec![(from, 1.0), (1.2 * from, 0.01)];
            let line = SizeLine { class: "chain", pieces: vec![piece], bands: vec![] };
            let limit = Mark { value: 0.1, label: "limit".into() };
            let text = over_size(&name, &AXES, &[line], Some(&limit), None).0;
            let label = text.split("class=\"limit-label\"").nth(1).expect("a label").to_owned();
            if label.split('>').next().is_some_and(|own| own.contains("end")) {
                "end"
            } else {
                "start"
            }
        };
        assert_eq!(anchor(1.0), "end");
        assert_eq!(anchor(50.0), "start");
    }
}
