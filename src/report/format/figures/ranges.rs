//! Ranges of figures over the samples, row by row.

use maud::{Markup, html};
use textwrap::core::display_width;

use super::row_names::{DrawnInRow, NamedRows, named_rows};
use super::{
    Axis, ClassName, Ends, Mark, Name, ROW, across, figure, level_line, px, short, upright,
    upright_line,
};

/// How far a figure reaches over the samples. A quantile above all values is none.
#[derive(Debug, Clone, Copy)]
pub(in crate::report) struct Range {
    /// Least value.
    pub least: f64,
    /// 5 % quantile.
    pub low: Option<f64>,
    /// Median.
    pub middle: Option<f64>,
    /// 95 % quantile.
    pub high: Option<f64>,
    /// Greatest value.
    pub greatest: f64,
}

impl Range {
    /// The range in another unit.
    pub(in crate::report) fn map(self, convert: impl Fn(f64) -> f64) -> Self {
        Self {
            least: convert(self.least),
            low: self.low.map(&convert),
            middle: self.middle.map(&convert),
            high: self.high.map(&convert),
            greatest: convert(self.greatest),
        }
    }
}

/// A row of a figure of ranges.
#[derive(Debug)]
pub(in crate::report) struct RangeRow {
    /// The label before it.
    pub label: String,
    /// Ranges with the classes of their arrangements, from top to bottom.
    pub ranges: Vec<(&'static str, Range)>,
}

/// Ranges row by row: a thin line from least to greatest, a box from 5 to 95 %, a tick at 50 %. Where
/// the 95 % quantile lies above all values, the box ends at the greatest.
pub(in crate::report) fn ranges(
    name: &Name,
    axis_name: &str,
    rows: &[RangeRow],
    names: &[ClassName],
    mark: Option<&Mark>,
) -> Markup {
    let longest = rows.iter().map(|row| display_width(&row.label)).max().unwrap_or(0);
    let left = 16.0 + 6.8 * longest as f64;
    let most = rows
        .iter()
        .flat_map(|row| &row.ranges)
        .map(|(_, range)| range.greatest)
        .chain(mark.map(|m| m.value))
        .fold(0.0, f64::max);
    let (top, bottom) = (24.0, 24.0 + ROW * rows.len() as f64);
    let axis = |to: f64| {
        Axis::linear(0.0, if most > 0.0 { 1.02 * most } else { 1.0 }, Ends { from: left, to })
    };
    let drawn = |x: &Axis| -> Vec<DrawnInRow> {
        let ranges = rows.iter().enumerate().flat_map(|(n, row)| {
            let of_row = row.ranges.iter().enumerate();
            of_row.map(move |(k, (class, range))| DrawnInRow {
                class,
                y: range_height(row, n, k),
                across: Ends { from: x.at(range.least), to: x.at(range.greatest) },
            })
        });
        ranges.collect()
    };
    let NamedRows { x, names } = named_rows(names, left, mark, axis, drawn);
    let unit = axis_name.rsplit_once(", ").map_or("", |(_, unit)| unit);
    let inside = html! {
        (across(&x, Ends { from: bottom, to: top }, axis_name, short))
        (upright(&x, Ends { from: bottom, to: top }, mark))
        @for (n, row) in rows.iter().enumerate() {
            text x=(px(left - 8.0)) y=(px(top + (n as f64 + 0.5) * ROW + 4.0)) text-anchor="end" { (row.label) }
            @for (k, (class, range)) in row.ranges.iter().enumerate() {
                g {
                    title { (row.label) ", " (class) ": " (range_told(*range, unit)) }
                    (glyph(&x, range_height(row, n, k), class, *range))
                }
            }
        }
        (names)
    };
    figure(name, bottom + 44.0, &inside)
}

/// The middle of a range of the row `n`.
fn range_height(row: &RangeRow, n: usize, range: usize) -> f64 {
    24.0 + (n as f64 + 0.5) * ROW + 13.0 * (range as f64 - 0.5 * (row.ranges.len() as f64 - 1.0))
}

/// The numbers of a range.
pub(super) fn range_told(range: Range, unit: &str) -> String {
    let middle = range.middle.map(|middle| format!(", median {}", short(middle)));
    let text = format!("{} to {} {unit}", short(range.least), short(range.greatest));
    text.trim_end().to_owned() + &middle.unwrap_or_default()
}

fn glyph(axis: &Axis, y: f64, class: &str, range: Range) -> Markup {
    let Range { least, low, middle, high, greatest } = range.map(|value| axis.at(value));
    html! {
        (level_line(&format!("{class} whisker"), Ends { from: least, to: greatest }, y))
        @if let Some(low) = low {
            @let high = high.unwrap_or(greatest);
            rect class=(format!("{class} area")) x=(px(low)) width=(px((high - low).max(0.5)))
                y=(px(y - 4.5)) height="9" {}
        }
        @if let Some(middle) = middle {
            (upright_line(&format!("{class} tick"), middle, Ends { from: y - 6.5, to: y + 6.5 }))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_are_escaped_and_marks_outside_left_out() {
        let name = Name { id: "a".into(), title: "<b>".into(), description: "&".into() };
        let quantiles = [2.0, 3.0, 4.0].map(Some);
        let [low, middle, high] = quantiles;
        let range = Range { least: 1.0, low, middle, high, greatest: 5.0 };
        let rows = [RangeRow { label: "<i>".into(), ranges: vec![("chain", range)] }];
        let mark = |value| Mark { value, label: "<limit>".into() };
        let text = ranges(&name, "A", &rows, &[], Some(&mark(6.0))).0;
        assert!(text.contains("&lt;i&gt;") && text.contains("&lt;b&gt;") && text.contains("&amp;"));
        assert!(text.contains("&lt;limit&gt;") && !text.contains("<i>"));
    }
}
