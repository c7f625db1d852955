//! The worst case three ways: marks on a line for each operating point and arrangement.

use maud::{Markup, html};

use super::{
    ACROSS, Axis, Ends, Mark, Name, WIDTH, across, figure, fitted, level_line, px, short, upright,
    upright_line,
};

/// Height of the name of an operating point, and of one line below it.
const NAME: f64 = 20.0;
const LINE: f64 = 15.0;
/// Room for the name of an operating point; narrow pages show letters an eighth larger.
const ROOM: f64 = 0.88 * WIDTH;
/// The largest value over the smallest one that the axis shows.
const SPAN: f64 = 300.0;
/// Up to this ratio of both ends the axis has equal steps, beyond it equal ratios.
const NARROW: f64 = 2.5;

/// The marks of one arrangement, all in multiples of the limit.
#[derive(Debug, Clone, Copy)]
pub(in crate::report) struct WorstCaseMarks {
    /// Class of the arrangement.
    pub class: &'static str,
    /// The nominal value.
    pub nominal: f64,
    /// The root-sum-square value.
    pub root_sum_square: Option<f64>,
    /// What the target share keeps to.
    pub tolerance_limit: Option<f64>,
    /// The largest sample.
    pub largest_sample: Option<f64>,
    /// The extreme value.
    pub extreme: Option<f64>,
}

/// The lines of an operating point.
#[derive(Debug)]
pub(in crate::report) struct WorstCaseGroup {
    /// Its name.
    pub label: String,
    /// One a line.
    pub marks: Vec<WorstCaseMarks>,
}

impl WorstCaseMarks {
    /// All values that there are.
    fn values(&self) -> impl Iterator<Item = f64> {
        let found = [self.root_sum_square, self.tolerance_limit, self.largest_sample, self.extreme];
        found.into_iter().flatten().chain([self.nominal])
    }
}

/// Lines with marks, and the limit upright at 1.
pub(in crate::report) fn worst_cases(name: &Name, groups: &[WorstCaseGroup]) -> Markup {
    let values = || groups.iter().flat_map(|group| &group.marks).flat_map(WorstCaseMarks::values);
    let most = 1.15 * values().fold(1.0, f64::max);
    let least = values().fold(1.0, f64::min).max(most / SPAN) / 1.08;
    let ends = Ends { from: 14.0, to: ACROSS.to };
    let x = if most > NARROW * least {
        Axis::over(&[least, most], ends)
    } else {
        Axis::linear(least, most, ends)
    };
    let tall = |group: &WorstCaseGroup| NAME + LINE * group.marks.len() as f64;
    let top = 24.0;
    let bottom = top + groups.iter().map(tall).sum::<f64>() + 4.0;
    let starts = groups.iter().scan(top, |next, group| {
        let start = *next;
        *next += tall(group);
        Some((start, group))
    });
    let limit = Mark { value: 1.0, label: "limit".into() };
    let inside = html! {
        (across(&x, Ends { from: bottom, to: top }, "multiples of the limit", short))
        (upright(&x, Ends { from: bottom, to: top }, Some(&limit)))
        @for (start, group) in starts {
            text class="limit-label" x="2" y=(px(start + 14.0)) { (fitted(&group.label, ROOM)) }
            @for (n, marks) in group.marks.iter().enumerate() {
                g { (line(&x, start + NAME + (n as f64 + 0.5) * LINE, marks)) }
            }
        }
    };
    figure(name, bottom + 44.0, &inside)
}

/// A line from the nominal to the farthest value, with a mark for each way.
fn line(x: &Axis, y: f64, marks: &WorstCaseMarks) -> Markup {
    let class = marks.class;
    let (nominal, farthest) = (x.at(marks.nominal), x.at(marks.values().fold(0.0, f64::max)));
    let shape = |way: Way, value: Option<f64>| {
        value.map_or_else(String::new, |value| way.shape(x.at(value), y))
    };
    let root_sum_square = shape(Way::RootSumSquare, marks.root_sum_square);
    let largest = shape(Way::LargestSample, marks.largest_sample);
    let tolerance_limit = shape(Way::ToleranceLimit, marks.tolerance_limit);
    let extreme = shape(Way::Extreme, marks.extreme);
    html! {
        title { (told(marks)) }
        (level_line(&format!("{class} whisker"), Ends { from: nominal, to: farthest }, y))
        (upright_line("tick", nominal, Ends { from: y - 4.0, to: y + 4.0 }))
        (signs("open", class, &[root_sum_square, largest].concat()))
        (signs("full", class, &[tolerance_limit, extreme].concat()))
    }
}

/// The values of a line.
fn told(marks: &WorstCaseMarks) -> String {
    let named = [
        ("nominal", Some(marks.nominal)),
        ("root-sum-square", marks.root_sum_square),
        ("tolerance limit", marks.tolerance_limit),
        ("largest sample", marks.largest_sample),
        ("extreme", marks.extreme),
    ];
    let texts =
        named.iter().filter_map(|(name, value)| Some(format!("{name} {}", short((*value)?))));
    format!("{}: {} times the limit", marks.class, texts.collect::<Vec<_>>().join(", "))
}

/// What a mark stands for.
#[derive(Debug, Clone, Copy)]
enum Way {
    RootSumSquare,
    ToleranceLimit,
    LargestSample,
    Extreme,
}

impl Way {
    /// The path of a diamond, a square, a ring, a triangle. All turn the same way: none is a hole in another.
    fn shape(self, x: f64, y: f64) -> String {
        let steps = match self {
            Self::RootSumSquare => "m-5 0l5 -5l5 5l-5 5z",
            Self::ToleranceLimit => "m-3 -4h6v8h-6z",
            Self::LargestSample => "m-3.5 0a3.5 3.5 0 1 1 7 0a3.5 3.5 0 1 1 -7 0z",
            Self::Extreme => "l-7 6v-12z",
        };
        format!("M{} {}{steps}", px(x), px(y))
    }
}

/// Signs that are all open or all full: shapes, not colours alone.
fn signs(filling: &str, class: &str, shapes: &str) -> Markup {
    html! {
        @if !shapes.is_empty() { path class=(format!("{class} sign-{filling}")) d=(shapes) {} }
    }
}

/// What the marks mean: five of them stand too close in a row for names beside them.
pub(in crate::report) fn worst_case_legend() -> Markup {
    let swatch = |mark: Markup, text: &str| {
        html! {
            span {
                svg class="swatch" viewBox="0 0 26 12" aria-hidden="true" focusable="false" { (mark) }
                " " (text)
            }
        }
    };
    let nominal = html! { line class="tick" x1="13" x2="13" y1="2" y2="10" {} };
    html! {
        span class="legend" {
            (swatch(nominal, "nominal"))
            (swatch(signs("open", "chain", &Way::RootSumSquare.shape(13.0, 6.0)), "root-sum-square"))
            (swatch(signs("full", "chain", &Way::ToleranceLimit.shape(13.0, 6.0)), "tolerance limit"))
            (swatch(signs("open", "chain", &Way::LargestSample.shape(13.0, 6.0)), "largest sample"))
            (swatch(signs("full", "chain", &Way::Extreme.shape(16.0, 6.0)), "extreme value"))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: the axis reaches from 0.5/1.08 to 4.6, by equal ratios.
    #[test]
    fn marks_stand_where_their_values_are() {
        let name = Name { id: "a".into(), title: "b".into(), description: "c".into() };
        let marks = WorstCaseMarks {
            class: "chain",
            nominal: 0.5,
            root_sum_square: Some(1.0),
            tolerance_limit: None,
            largest_sample: Some(2.0),
            extreme: Some(4.0),
        };
        let group = WorstCaseGroup { label: "<full>".into(), marks: vec![marks] };
        let text = worst_cases(&name, &[group]).0;
        let (from, to) = (14.0, ACROSS.to);
        let at = |value: f64| {
            let (least, most) = (0.5_f64 / 1.08, 4.6_f64);
            px(from + (to - from) * (value / least).ln() / (most / least).ln())
        };
        for value in [1.0, 2.0, 4.0] {
            assert!(text.contains(&format!("M{} 51.5", at(value))), "{value}: {text}");
        }
        let long = WorstCaseGroup { label: "full load ".repeat(12), marks: vec![marks] };
        let text_of_long = worst_cases(&name, &[long]).0;
        assert!(text_of_long.contains("full load full") && text_of_long.contains('…'));
        assert!(text.contains("&lt;full&gt;") && !text.contains("NaN"));
        assert_eq!(text.matches("sign-full").count(), 1, "no mark without a value");
    }
}
