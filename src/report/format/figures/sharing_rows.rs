//! Sharing errors of both arrangements in one picture, though they differ by decades: a row an operating
//! point on one logarithmic axis, so that a distance is a factor.

use maud::{Markup, html};

use super::{
    Axis, CountedBins, Ends, Mark, Name, drawing, fitted, packed_counts, px, short, steps,
    text_width, upright_lines,
};
use crate::report::format::numbers;

/// Height of a row's histograms.
const RIDGE: f64 = 30.0;
/// Below them, the medians.
const MEDIANS: f64 = 15.0;

/// What the picture is drawn for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::report) enum FigureWidth {
    /// A desk or a sheet of paper: labels before the rows.
    Wide,
    /// A column or a telephone: labels above the rows.
    Narrow,
}

/// The samples of one arrangement.
#[derive(Debug)]
pub(in crate::report) struct ArrangementErrors {
    /// Samples in each bin.
    pub counts: Vec<u64>,
    /// Their median; none where it lies above all values.
    pub median: Option<f64>,
    /// Samples over the limit; none where there is no limit.
    pub over: Option<u64>,
}

/// A row.
#[derive(Debug)]
pub(in crate::report) struct SharingRow {
    /// Its name.
    pub label: String,
    /// What it asks for.
    pub remark: String,
    /// With and without charge balancing; none where nothing was solved.
    pub arrangements: [Option<ArrangementErrors>; 2],
    /// Whether the verdict judges it: a rule sets it apart.
    pub is_judged: bool,
}

/// The whole picture.
#[derive(Debug)]
pub(in crate::report) struct SharingRows<'a> {
    /// Edges of the bins, by equal ratios.
    pub edges: &'a [f64],
    /// The limit.
    pub limit: Option<Mark>,
    /// All rows, the judged one last.
    pub rows: Vec<SharingRow>,
    /// Number of samples.
    pub samples: u64,
}

/// Room for the name of a row and what it asks for, where they stand above it.
const ROOM: f64 = 215.0;

/// Classes of the arrangements.
const CLASSES: [&str; 2] = ["chain", "paralleled"];

/// Where things stand at a width.
struct RowsLayout {
    width: f64,
    plot: Ends,
    pitch: f64,
    /// From the top of a row to its base line.
    base: f64,
    top: f64,
    is_wide: bool,
}

impl RowsLayout {
    fn new(width: FigureWidth) -> Self {
        match width {
            FigureWidth::Wide => Self {
                width: 640.0,
                plot: Ends { from: 122.0, to: 506.0 },
                pitch: 60.0,
                base: RIDGE + 6.0,
                top: 40.0,
                is_wide: true,
            },
            FigureWidth::Narrow => Self {
                width: 330.0,
                plot: Ends { from: 6.0, to: 324.0 },
                pitch: 74.0,
                base: RIDGE + 20.0,
                top: 50.0,
                is_wide: false,
            },
        }
    }
}

impl RowsLayout {
    /// How far numbers of medians may reach: below the base lines there is room beside the plot.
    fn end(&self) -> f64 {
        if self.is_wide { self.width } else { self.plot.to }
    }
}

/// Histograms of both arrangements on the same base lines and the same scale of counts, their medians
/// joined, the limit across all rows.
pub(in crate::report) fn sharing_rows(
    name: &Name,
    shown: &SharingRows,
    width: FigureWidth,
) -> Markup {
    let layout = RowsLayout::new(width);
    let x = Axis::over(shown.edges, layout.plot);
    let counts = || shown.rows.iter().flat_map(|row| &row.arrangements).flatten();
    let most = counts().flat_map(|own| &own.counts).fold(1, |a, b| a.max(*b)) as f64;
    let bins = shown.edges.len().saturating_sub(1);
    let scale = RowScale { axis: &x, bins: x.divided(bins, shown.samples), most };
    let bottom = layout.top + layout.pitch * shown.rows.len() as f64 + 4.0;
    let Ends { from, to } = layout.plot;
    let places: Vec<f64> = ticks(&x, &layout).into_iter().map(|tick| x.at(tick)).collect();
    let inside = html! {
        @if let Some(limit) = &shown.limit {
            @let at = x.at(limit.value);
            rect class="beyond-limit" x=(px(at)) y=(px(layout.top)) width=(px(to - at)) height=(px(bottom - layout.top)) {}
        }
        (upright_lines(&places, Ends { from: layout.top, to: bottom }))
        @for tick in ticks(&x, &layout) {
            @let number = short(100.0 * tick);
            // Its number stays inside the drawing.
            @let middle = x.at(tick).min(layout.width - 0.5 * text_width(&number) - 1.0);
            text x=(px(middle)) y=(px(bottom + 16.0)) text-anchor="middle" { (number) }
        }
        line class="axis" x1=(px(from)) x2=(px(to)) y1=(px(bottom)) y2=(px(bottom)) {}
        text class="name" x=(px(f64::midpoint(from, to))) y=(px(bottom + 33.0)) text-anchor="middle" {
            "sharing error of a converter, %; logarithmic scale"
        }
        (heads(&layout, &x, shown))
        @for (n, row) in shown.rows.iter().enumerate() {
            (one_row(&layout, &scale, layout.top + n as f64 * layout.pitch, row))
        }
        @if let Some(limit) = &shown.limit {
            @let at = px(x.at(limit.value));
            line class="limit" x1=(at) x2=(at) y1=(px(layout.top - 4.0)) y2=(px(bottom)) {}
        }
        @for (n, row) in shown.rows.iter().enumerate() {
            (medians(&layout, &x, layout.top + n as f64 * layout.pitch + layout.base + MEDIANS, row))
        }
    };
    drawing(name, layout.width, bottom + 40.0, &inside)
}

/// Round values, as many as leave room for their numbers.
fn ticks(x: &Axis, layout: &RowsLayout) -> Vec<f64> {
    const APART: f64 = 34.0;
    let decade = (layout.plot.to - layout.plot.from) / libm::log10(x.to / x.from).max(1e-9);
    let mantissas: &[f64] = if 0.3 * decade > APART {
        &[1.0, 2.0, 5.0]
    } else if 0.47 * decade > APART {
        &[1.0, 3.0]
    } else {
        &[1.0]
    };
    x.ticks_of(mantissas)
}

/// What stands above the rows: the limit, which side is which, what the numbers behind the rows count.
fn heads(layout: &RowsLayout, x: &Axis, shown: &SharingRows) -> Markup {
    let middle = f64::midpoint(layout.plot.from, layout.plot.to);
    let at = shown.limit.as_ref().map_or(middle, |limit| x.at(limit.value));
    let near = layout.top - 8.0;
    // Where the limit leaves no room on a side, its name begins at the end of the plot.
    let least = layout.plot.from + text_width("with balancing") + 8.0;
    let most = layout.plot.to - text_width("paralleled") - 8.0;
    let between = at.min(most).max(least);
    let total = format!("over the limit, of {}", numbers::count(shown.samples));
    html! {
        @if let Some(limit) = &shown.limit {
            @let half = 0.5 * text_width(&limit.label) + 2.0;
            @let before_total = layout.width - text_width(&total) - 8.0;
            @let end = if layout.is_wide { layout.end().min(before_total) } else { layout.end() };
            @let beside = at.min(end - half).max(half);
            text class="limit-label" x=(px(beside)) y=(px(near - 15.0)) text-anchor="middle" { (limit.label) }
            @if layout.is_wide {
                text x=(px(layout.width)) y=(px(near - 15.0)) text-anchor="end" { (total) }
                text class="chain value" x=(px(layout.width - 72.0)) y=(px(near)) text-anchor="end" { "chain" }
                text class="paralleled value" x=(px(layout.width)) y=(px(near)) text-anchor="end" { "paralleled" }
            } @else {
                text x=(px(layout.width)) y="12" text-anchor="end" { (total) }
            }
        }
        text class="chain value" x=(px(between - 8.0)) y=(px(near)) text-anchor="end" { "with balancing" }
        text class="paralleled value" x=(px(between + 8.0)) y=(px(near)) { "paralleled" }
    }
}

/// The axis of all rows, and the highest count.
struct RowScale<'a> {
    axis: &'a Axis,
    bins: CountedBins,
    most: f64,
}

fn one_row(layout: &RowsLayout, scale: &RowScale, top: f64, row: &SharingRow) -> Markup {
    let RowScale { axis, bins, most } = scale;
    let base = top + layout.base;
    let height = |count: u64| base - RIDGE * count as f64 / most;
    html! {
        @if row.is_judged { line class="rule" x1="0" x2=(px(layout.width)) y1=(px(top)) y2=(px(top)) {} }
        (labels(layout, top, row))
        line class="base" x1=(px(layout.plot.from)) x2=(px(layout.plot.to)) y1=(px(base)) y2=(px(base)) {}
        @for (own, class) in row.arrangements.iter().zip(CLASSES).rev() {
            @if let Some(own) = own {
                path class=(format!("{class} area")) data-name=(row.label) data-bins=(bins.told())
                    data-counts=(packed_counts(&own.counts)) d=(outline(axis, base, &own.counts, &height)) {}
            }
        }
    }
}

/// The outline of the bins that hold anything; the bins divide the axis into equal parts.
fn outline(x: &Axis, base: f64, counts: &[u64], scale: &dyn Fn(u64) -> f64) -> String {
    let wide = (x.drawn.to - x.drawn.from) / counts.len().max(1) as f64;
    let first = counts.iter().position(|n| *n > 0).unwrap_or(0);
    let last = counts.iter().rposition(|n| *n > 0).unwrap_or(0);
    let edge = |n: usize| x.drawn.from + n as f64 * wide;
    let tops = (first..=last).map(|n| (scale(counts.get(n).copied().unwrap_or(0)), edge(n + 1)));
    steps(edge(first), base, tops)
}

/// The row's name and what it asks for; how many samples are over the limit.
fn labels(layout: &RowsLayout, top: f64, row: &SharingRow) -> Markup {
    let over = |n: usize| {
        row.arrangements[n].as_ref().map_or_else(
            || numbers::NONE.to_owned(),
            |own| own.over.map_or_else(String::new, numbers::count),
        )
    };
    html! {
        @if layout.is_wide {
            @let (room, y) = (layout.plot.from - 6.0, top + layout.base);
            @let lines = two_lines(&row.label, room);
            @for (n, line) in lines.iter().enumerate() {
                text class="label" x="0" y=(px(y - 12.0 - 14.0 * (lines.len() - 1 - n) as f64)) { (line) }
            }
            text x="0" y=(px(y + 3.0)) { (fitted(&row.remark, room)) }
            text class="chain value" x=(px(layout.width - 72.0)) y=(px(y)) text-anchor="end" { (over(0)) }
            text class="paralleled value" x=(px(layout.width)) y=(px(y)) text-anchor="end" { (over(1)) }
        } @else {
            text x="0" y=(px(top + 15.0)) {
                tspan class="label" { (fitted(&row.label, ROOM)) }
                @if text_width(&row.label) + text_width(&row.remark) < ROOM - 6.0 {
                    tspan dx="6" { (row.remark) }
                }
            }
            text x=(px(layout.width)) y=(px(top + 15.0)) text-anchor="end" {
                tspan class="chain value" { (over(0)) }
                tspan dx="10" class="paralleled value" { (over(1)) }
            }
        }
    }
}

/// The text in two lines where one has no room for it.
fn two_lines(text: &str, room: f64) -> Vec<String> {
    if text_width(text) <= room {
        return vec![text.to_owned()];
    }
    let fits = |n: &usize| text_width(&text[..*n]) <= room;
    let blanks: Vec<usize> = text.match_indices(' ').map(|(n, _)| n).collect();
    match blanks.into_iter().rev().find(|n| fits(n)) {
        Some(n) => vec![text[..n].to_owned(), fitted(text[n..].trim_start(), room)],
        None => vec![fitted(text, room)],
    }
}

/// The middle of the factor between two medians: half-way, moved away from a number that turns inwards because
/// it has no room outside; none where there is no room at all.
fn factor_place(layout: &RowsLayout, at: [f64; 2], medians: [f64; 2], half: f64) -> Option<f64> {
    const DOT: f64 = 6.0;
    let [left, right] = if at[0] <= at[1] { [0, 1] } else { [1, 0] };
    let width = |n: usize| text_width(&numbers::percent_of_three(medians[n])) + 8.0;
    let inward = [
        if at[left] - width(left) > 0.0 { DOT } else { width(left) + DOT },
        if at[right] + width(right) > layout.end() { width(right) + DOT } else { DOT },
    ];
    let (from, to) = (at[left] + inward[0], at[right] - inward[1]);
    let room = to - from - 2.0 * half;
    (room >= 0.0).then(|| f64::midpoint(from, to))
}

/// Both medians, joined, with the factor between them.
fn medians(layout: &RowsLayout, x: &Axis, y: f64, row: &SharingRow) -> Markup {
    let [chain, paralleled] = row.arrangements.each_ref().map(|own| own.as_ref()?.median);
    let dot = |value: f64, class: &str, is_left: bool| {
        let at = x.at(value);
        let text = numbers::percent_of_three(value);
        let width = text_width(&text) + 8.0;
        let is_left = if is_left { at - width > 0.0 } else { at + width > layout.end() };
        let (beside, anchor) = if is_left { (at - 7.0, "end") } else { (at + 7.0, "start") };
        html! {
            @if is_left { rect class="plate" x=(px(at - width)) y=(px(y - 7.0)) width=(px(width - 5.0)) height="14" {} }
            circle class=(format!("{class} sign-full")) cx=(px(at)) cy=(px(y)) r="3" {}
            text class=(format!("{class} value")) x=(px(beside)) y=(px(y + 4.0)) text-anchor=(anchor) { (text) }
        }
    };
    html! {
        @match (chain, paralleled) {
            // Where nothing scatters both are one.
            (Some(chain), Some(paralleled)) if (x.at(chain) - x.at(paralleled)).abs() < 1.0 => {
                (dot(chain, "chain", false))
            }
            (Some(chain), Some(paralleled)) => {
                @let (from, to) = (x.at(chain), x.at(paralleled));
                line class="base" x1=(px(from)) x2=(px(to)) y1=(px(y)) y2=(px(y)) {}
                @let factor = format!("× {}", numbers::factor(paralleled / chain));
                @let half = 0.5 * text_width(&factor) + 5.0;
                @if let Some(middle) = factor_place(layout, [from, to], [chain, paralleled], half) {
                    rect class="plate" x=(px(middle - half)) y=(px(y - 8.0)) width=(px(2.0 * half)) height="16" {}
                    text class="label" x=(px(middle)) y=(px(y + 4.0)) text-anchor="middle" { (factor) }
                }
                (dot(chain, "chain", from <= to))
                (dot(paralleled, "paralleled", to < from))
            }
            (Some(chain), None) => (dot(chain, "chain", true)),
            (None, Some(paralleled)) => (dot(paralleled, "paralleled", false)),
            (None, None) => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(edges: &[f64]) -> SharingRows<'_> {
        let own = |counts: [u64; 2], median| {
            Some(ArrangementErrors { counts: counts.into(), median, over: Some(7) })
        };
        let row = SharingRow {
            label: "<noon>".into(),
            remark: "5 V".into(),
            arrangements: [own([4, 0], Some(0.01)), own([0, 2], Some(0.5))],
            is_judged: false,
        };
        let limit = Some(Mark { value: 0.1, label: "limit 10 %".into() });
        SharingRows { edges, limit, rows: vec![row], samples: 10 }
    }

    /// By hand: "1.00 %" and "50.0 %" are 37.2 wide, with 8 beside them; the plot ends at 324.
    #[test]
    fn a_factor_keeps_clear_of_the_numbers_of_medians() {
        let layout = RowsLayout::new(FigureWidth::Narrow);
        let place = |at| factor_place(&layout, at, [0.01, 0.5], 20.0);
        assert_eq!(place([100.0, 200.0]), Some(150.0));
        // The right number turns inwards, from 300 to 254.8, and the dot takes 6 on the left.
        let moved = place([100.0, 300.0]).unwrap();
        assert!((moved - f64::midpoint(106.0, 248.8)).abs() < 1e-9, "{moved}");
        assert_eq!(place([220.0, 300.0]), None);
        assert_eq!(place([100.0, 140.0]), None);
    }

    /// By hand: from 0.01 to 1 in two bins; the limit half-way, the medians a factor of 50 apart.
    #[test]
    fn both_arrangements_share_one_scale() {
        let name = Name { id: "a".into(), title: "b".into(), description: "c".into() };
        for (width, (from, to), top) in
            [(FigureWidth::Wide, (122.0, 506.0), 40.0), (FigureWidth::Narrow, (6.0, 324.0), 50.0)]
        {
            let text = sharing_rows(&name, &shown(&[0.01, 0.1, 1.0]), width).0;
            let middle = f64::midpoint(from, to);
            assert!(text.contains(&format!("class=\"limit\" x1=\"{}\"", px(middle))), "{text}");
            let base = top + RowsLayout::new(width).base;
            let chain = steps(from, base, [(base - RIDGE, middle)].into_iter());
            let other = steps(middle, base, [(base - RIDGE / 2.0, to)].into_iter());
            assert!(text.contains(&chain) && text.contains(&other), "{text}");
            assert!(
                text.contains("× 50") && text.contains("&lt;noon&gt;") && !text.contains("<noon>")
            );
        }
    }
}
