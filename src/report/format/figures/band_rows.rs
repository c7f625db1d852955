//! Tolerance bands part by part: what is specified now, what to specify, and how wide each could be alone.

use maud::{Markup, html};

use super::numbered_rows::RowLayout;
use super::{Axis, Ends, FigureWidth, Name, drawing, percent, px, text_width};

/// The band of a part.
#[derive(Debug)]
pub(in crate::report) struct BandRow {
    /// The part.
    pub label: String,
    /// What limits it.
    pub remark: String,
    /// The present band.
    pub present: Option<f64>,
    /// The band to specify.
    pub specified: Option<f64>,
    /// The widest band that was confirmed while all others stay.
    pub widest: Option<f64>,
    /// The three in writing.
    pub texts: [String; 3],
}

/// Where things stand at a width.
fn layout(width: FigureWidth) -> RowLayout {
    match width {
        FigureWidth::Wide => RowLayout {
            width: 640.0,
            plot: Ends { from: 182.0, to: 420.0 },
            pitch: 38.0,
            middle: 19.0,
            top: 22.0,
            columns: [480.0, 558.0, 636.0],
            numbers: 23.0,
            is_wide: true,
        },
        FigureWidth::Narrow => RowLayout {
            width: 330.0,
            plot: Ends { from: 4.0, to: 326.0 },
            pitch: 56.0,
            middle: 26.0,
            top: 4.0,
            columns: [80.0, 208.0, 326.0],
            numbers: 48.0,
            is_wide: false,
        },
    }
}

/// What the three numbers of a row are.
const HEADS: [&str; 3] = ["now", "specify", "alone"];

/// Rows on one logarithmic axis. A pale bar reaches to the widest band of the part alone, a solid one to the band
/// to specify, a tick stands at the present band.
pub(in crate::report) fn band_rows(name: &Name, rows: &[BandRow], width: FigureWidth) -> Markup {
    let layout = layout(width);
    let x = axis(rows, layout.plot);
    let bottom = layout.top + layout.pitch * rows.len() as f64 + 2.0;
    let inside = html! {
        @for tick in x.ticks() {
            @let at = px(x.at(tick));
            line class="grid" x1=(at) x2=(at) y1=(px(layout.top)) y2=(px(bottom)) {}
        }
        @for TickNumber { at, text } in numbers(&x) {
            text x=(px(at)) y=(px(bottom + 15.0)) text-anchor="middle" { (text) }
        }
        line class="axis" x1=(px(layout.plot.from)) x2=(px(layout.plot.to)) y1=(px(bottom)) y2=(px(bottom)) {}
        text class="name" x=(px(f64::midpoint(layout.plot.from, layout.plot.to))) y=(px(bottom + 31.0))
            text-anchor="middle" { "band, of the nominal value" }
        @if layout.is_wide {
            @for (head, right) in HEADS.iter().zip(layout.columns) {
                text class="name" x=(px(right)) y=(px(layout.top - 8.0)) text-anchor="end" { (head) }
            }
        }
        @for (n, row) in rows.iter().enumerate() {
            (one_row(&layout, &x, layout.top + n as f64 * layout.pitch, row))
        }
    };
    drawing(name, layout.width, bottom + 36.0, &inside)
}

/// The number of a tick, and its middle.
struct TickNumber {
    at: f64,
    text: String,
}

/// The numbers of those ticks between which there is room, the largest among them.
fn numbers(x: &Axis) -> Vec<TickNumber> {
    let mut kept: Vec<TickNumber> = Vec::new();
    for tick in x.ticks().into_iter().rev() {
        let text = percent(tick);
        let at = x.at(tick).clamp(x.drawn.from + 12.0, x.drawn.to - 14.0);
        let wide = text_width(&text);
        let next = kept.last().map_or(f64::INFINITY, |own| own.at - 0.5 * text_width(&own.text));
        if at + 0.5 * wide + 4.0 < next {
            kept.push(TickNumber { at, text });
        }
    }
    kept
}

/// From a little below the narrowest band to the widest; bands below a thousandth stand at the left end.
fn axis(rows: &[BandRow], drawn: Ends) -> Axis {
    let values = || rows.iter().flat_map(|row| [row.present, row.specified, row.widest]).flatten();
    let most = values().fold(0.0, f64::max);
    let least = values().filter(|x| *x > 1e-3 * most).fold(most, f64::min);
    let (from, to) = if most > 0.0 { (least / 1.6, 1.1 * most) } else { (0.01, 1.0) };
    Axis { from, to, logarithmic: true, drawn }
}

fn one_row(layout: &RowLayout, x: &Axis, top: f64, row: &BandRow) -> Markup {
    let (y, left) = (top + layout.middle, layout.plot.from);
    let bar = |class: &str, to: f64, half: f64, n: usize| {
        html! {
            rect class=(class) x=(px(left)) width=(px((x.at(to) - left).max(0.5))) y=(px(y - half))
                height=(px(2.0 * half)) { title { (row.label) ", " (HEADS[n]) ": " (row.texts[n]) } }
        }
    };
    html! {
        (layout.label(top, "label", [&row.label, &row.remark]))
        @if let Some(widest) = row.widest { (bar("chain band", widest, 8.0, 2)) }
        @if let Some(specified) = row.specified { (bar("chain area", specified, 4.5, 1)) }
        @if let Some(present) = row.present {
            @let at = px(x.at(present));
            line class="median" x1=(at) x2=(at) y1=(px(y - 10.0)) y2=(px(y + 10.0)) {}
        }
        @for ((n, right), text) in layout.columns.iter().enumerate().zip(&row.texts) {
            @let class = if n == 1 { "chain value" } else { "name" };
            text class=(class) x=(px(*right)) y=(px(top + layout.numbers)) text-anchor="end" {
                @if layout.is_wide { (text) } @else { (HEADS[n]) " " (text) }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: an axis from 1/1.6 to 11: 1.1 · 10.
    #[test]
    fn bars_reach_to_their_bands() {
        let row = BandRow {
            label: "<part>".into(),
            remark: "limit".into(),
            present: Some(1.0),
            specified: Some(2.0),
            widest: Some(10.0),
            texts: ["1".into(), "2".into(), "10".into()],
        };
        let name = Name { id: "a".into(), title: "b".into(), description: "c".into() };
        let text = band_rows(&name, &[row], FigureWidth::Narrow).0;
        let at = |band: f64| 322.0 * libm::log(band * 1.6) / libm::log(11.0 * 1.6);
        for band in [2.0, 10.0] {
            assert!(text.contains(&format!("width=\"{}\"", px(at(band)))), "{band}: {text}");
        }
        assert!(text.contains(&format!("x1=\"{}\"", px(4.0 + at(1.0)))), "{text}");
        assert!(text.contains("&lt;part&gt;") && text.contains("specify 2"));
    }
}
