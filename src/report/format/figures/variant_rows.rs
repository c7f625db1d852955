//! Ways to build one converter, a row each: how it shares, how many are good, what a good one costs, how often
//! it fails.

use maud::{Markup, html};

use super::numbered_rows::RowLayout;
use super::ranges::range_told;
use super::{Axis, Ends, FigureWidth, Mark, Name, Range, drawing, px, short, text_width};

/// A way to build the converter.
#[derive(Debug)]
pub(in crate::report) struct VariantRow {
    /// Class of its shapes.
    pub class: &'static str,
    /// Class of its arrangement, for texts.
    pub arrangement: &'static str,
    /// Its name.
    pub label: String,
    /// What it adds.
    pub remark: String,
    /// Sharing errors of the samples; none where nothing was solved.
    pub errors: Option<Range>,
    /// Sign and yield, and the interval.
    pub good: [String; 2],
    /// Cost per good converter, and its difference.
    pub cost: [String; 2],
    /// Failure rate, and its difference.
    pub rate: [String; 2],
    /// Whether it is the one to build.
    pub is_taken: bool,
}

/// The whole picture.
#[derive(Debug)]
pub(in crate::report) struct VariantRows {
    /// All rows.
    pub rows: Vec<VariantRow>,
    /// The limit of the sharing error.
    pub limit: Option<Mark>,
    /// What is written below the heads of the numbers.
    pub heads: [[String; 2]; 3],
}

/// Where things stand at a width.
fn layout(width: FigureWidth) -> RowLayout {
    match width {
        FigureWidth::Wide => RowLayout {
            width: 640.0,
            plot: Ends { from: 170.0, to: 392.0 },
            pitch: 54.0,
            middle: 34.0,
            top: 40.0,
            columns: [478.0, 558.0, 635.0],
            numbers: 22.0,
            is_wide: true,
        },
        FigureWidth::Narrow => RowLayout {
            width: 330.0,
            plot: Ends { from: 4.0, to: 326.0 },
            pitch: 80.0,
            middle: 40.0,
            top: 36.0,
            columns: [98.0, 208.0, 322.0],
            numbers: 59.0,
            is_wide: false,
        },
    }
}

/// Boxes of the sharing error on one logarithmic axis, the numbers beside or below them.
pub(in crate::report) fn variant_rows(
    name: &Name,
    shown: &VariantRows,
    width: FigureWidth,
) -> Markup {
    let layout = layout(width);
    let x = axis(shown, layout.plot);
    let bottom = layout.top + layout.pitch * shown.rows.len() as f64;
    let inside = html! {
        (errors_axis(&layout, &x, bottom, shown))
        (heads(&layout, &shown.heads))
        @for (n, row) in shown.rows.iter().enumerate() {
            (one_row(&layout, &x, layout.top + n as f64 * layout.pitch, row))
        }
        @for (n, row) in shown.rows.iter().enumerate() {
            @let top = layout.top + n as f64 * layout.pitch;
            @if row.is_taken {
                rect class="taken-row" x="0.8" y=(px(top)) width=(px(layout.width - 1.6)) height=(px(layout.pitch)) {}
            }
        }
    };
    drawing(name, layout.width, bottom + 38.0, &inside)
}

/// From the least to the greatest error and the limit.
fn axis(shown: &VariantRows, drawn: Ends) -> Axis {
    let errors = || shown.rows.iter().filter_map(|row| row.errors);
    let limit = shown.limit.as_ref().map(|mark| mark.value);
    let low = |own: Range| own.low.unwrap_or(own.least);
    let from = errors().map(low).chain(limit).filter(|x| *x > 0.0).fold(f64::INFINITY, f64::min);
    let to = errors().map(|own| own.greatest).chain(limit).fold(0.0, f64::max);
    if from.is_finite() && to > from {
        Axis { from: 0.8 * from, to: 1.1 * to, logarithmic: true, drawn }
    } else {
        Axis { from: 0.001, to: 2.0, logarithmic: true, drawn }
    }
}

/// Grid, numbers, limit and name of the axis of errors.
fn errors_axis(layout: &RowLayout, x: &Axis, bottom: f64, shown: &VariantRows) -> Markup {
    let Ends { from, to } = layout.plot;
    let (top, limit) = (layout.top, shown.limit.as_ref());
    html! {
        @if let Some(limit) = limit {
            @let at = x.at(limit.value);
            rect class="beyond-limit" x=(px(at)) y=(px(top)) width=(px(to - at)) height=(px(bottom - top)) {}
        }
        @for tick in x.ticks() {
            @let at = px(x.at(tick));
            line class="grid" x1=(at) x2=(at) y1=(px(top)) y2=(px(bottom)) {}
            text x=(px(x.at(tick).clamp(from + 12.0, to - 12.0))) y=(px(bottom + 16.0)) text-anchor="middle" {
                (short(100.0 * tick))
            }
        }
        line class="axis" x1=(px(from)) x2=(px(to)) y1=(px(bottom)) y2=(px(bottom)) {}
        text class="name" x=(px(f64::midpoint(from, to))) y=(px(bottom + 33.0)) text-anchor="middle" {
            "sharing error, %; logarithmic scale"
        }
        @if let Some(limit) = limit {
            @let at = px(x.at(limit.value));
            @for stretch in limit_stretches(layout, shown.rows.len(), bottom) {
                line class="limit" x1=(at) x2=(at) y1=(px(stretch.from)) y2=(px(stretch.to)) {}
            }
            text class="limit-label" x=(at) y=(px(top - 9.0)) text-anchor="middle" { (limit.label) }
        }
    }
}

/// Where the line of the limit is drawn: across all rows, or beside the boxes alone where words stand above and
/// below these.
fn limit_stretches(layout: &RowLayout, rows: usize, bottom: f64) -> Vec<Ends> {
    const BESIDE: f64 = 9.0;
    if layout.is_wide {
        return vec![Ends { from: layout.top - 4.0, to: bottom }];
    }
    let middle = |n: usize| layout.top + n as f64 * layout.pitch + layout.middle;
    let beside = (0..rows).map(|n| Ends { from: middle(n) - BESIDE, to: middle(n) + BESIDE });
    std::iter::once(Ends { from: layout.top - 5.0, to: layout.top }).chain(beside).collect()
}

/// What the columns of numbers are; where there is little room each number tells it.
fn heads(layout: &RowLayout, heads: &[[String; 2]; 3]) -> Markup {
    html! {
        @if layout.is_wide {
            @for (own, right) in heads.iter().zip(layout.columns) {
                text class="name" x=(px(right)) y=(px(layout.top - 23.0)) text-anchor="end" { (own[0]) }
                text x=(px(right)) y=(px(layout.top - 9.0)) text-anchor="end" { (own[1]) }
            }
        }
    }
}

fn one_row(layout: &RowLayout, x: &Axis, top: f64, row: &VariantRow) -> Markup {
    let class = format!("{} value", row.arrangement);
    html! {
        (layout.label(top, &class, [&row.label, &row.remark]))
        @if let Some(errors) = row.errors { (error_box(x, top + layout.middle, row, errors)) }
        @else {
            text x=(px(layout.plot.from)) y=(px(top + layout.middle + 4.0)) { "none solved" }
        }
        @let named = [row.good[0].clone(), format!("cost {}", row.cost[0]), format!("{} in 10⁹ h", row.rate[0])];
        @for ((own, right), named) in [&row.good, &row.cost, &row.rate].into_iter().zip(layout.columns).zip(named) {
            text class="value" x=(px(right)) y=(px(top + layout.numbers)) text-anchor="end" {
                @if layout.is_wide { (own[0]) } @else { (named) }
            }
            text x=(px(right)) y=(px(top + layout.numbers + 15.0)) text-anchor="end" { (own[1]) }
        }
    }
}

/// The middle nine tenths as a box with the median, a line to the greatest.
fn error_box(x: &Axis, y: f64, row: &VariantRow, errors: Range) -> Markup {
    let Range { least, low, middle, high, greatest } = errors;
    let (from, end) = (x.at(low.unwrap_or(least)), x.at(greatest));
    let to = high.map_or(end, |high| x.at(high));
    html! {
        line class=(format!("{} whisker", row.class)) x1=(px(to)) x2=(px(end)) y1=(px(y)) y2=(px(y)) {}
        line class=(format!("{} whisker", row.class)) x1=(px(end)) x2=(px(end)) y1=(px(y - 4.0)) y2=(px(y + 4.0)) {}
        rect class=(format!("{} area", row.class)) x=(px(from)) width=(px((to - from).max(1.0)))
            y=(px(y - 6.0)) height="12" { title { (row.label) ": " (range_told(errors.map(|e| 100.0 * e), "%")) } }
        @if let Some(middle) = middle {
            @let at = x.at(middle);
            @let label = format!("{} %", super::super::numbers::three(100.0 * middle));
            @let half = 0.5 * text_width(&label);
            line class="median" x1=(px(at)) x2=(px(at)) y1=(px(y - 8.0)) y2=(px(y + 8.0)) {}
            text class=(format!("{} value", row.arrangement)) y=(px(y - 11.0)) text-anchor="middle"
                x=(px(at.clamp(x.drawn.from + half, x.drawn.to - half))) { (label) }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: a logarithmic axis over two decades and a bit; a tenfold error is half as far as one of a
    /// hundred.
    #[test]
    fn boxes_stand_at_their_errors() {
        let errors = Range {
            least: 0.01,
            low: Some(0.0125),
            middle: Some(0.1),
            high: Some(0.5),
            greatest: 1.0 / 1.1,
        };
        let row = |errors| VariantRow {
            class: "chain",
            arrangement: "chain",
            label: "<b>".into(),
            remark: "&".into(),
            errors,
            good: ["1".into(), "2".into()],
            cost: ["3".into(), "4".into()],
            rate: ["5".into(), "6".into()],
            is_taken: true,
        };
        let limit = Some(Mark { value: 0.1, label: "limit".into() });
        let heads = || std::array::from_fn(|_| ["head".to_owned(), "below".to_owned()]);
        let shown = VariantRows { rows: vec![row(Some(errors)), row(None)], limit, heads: heads() };
        let name = Name { id: "a".into(), title: "b".into(), description: "c".into() };
        let text = variant_rows(&name, &shown, FigureWidth::Wide).0;
        // 0.8 · 0.0125 = 0.01 to 1: the middle is 0.1.
        let middle = px(f64::midpoint(170.0, 392.0));
        assert!(text.contains(&format!("class=\"median\" x1=\"{middle}\"")), "{text}");
        assert!(text.contains(&format!("class=\"limit\" x1=\"{middle}\"")), "{text}");
        assert!(text.contains("none solved") && text.contains("&lt;b&gt;"));
        let narrow = variant_rows(&name, &shown, FigureWidth::Narrow).0;
        // Beside the boxes of both rows, and below its own label.
        assert_eq!(narrow.matches("class=\"limit\"").count(), 3);
        assert!(
            !narrow.contains("head") && narrow.contains("cost 3") && narrow.contains("5 in 10⁹ h")
        );
    }
}
