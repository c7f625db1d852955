//! Small figures as inline SVG: histogram, curve with band, ranges.
//!
//! Colours and strokes are classes of the page's style sheet, so that one figure serves light,
//! dark and print. Coordinates are those of the view box, which scales with the page. Shapes are
//! told apart by fill and stroke too, not by colour alone.
//!
//! Why own code: the failure curve and a histogram were also drawn with plotters 0.3.7 and poloto 19.1.2. They
//! take 4.5 and 2.9 kB here, 12.1 and 12.0 kB there, 6.9 and 6.5 kB there, for 3 and 2 packages more. Neither
//! names a figure for assistive technology, puts a label at the end of a line or draws for a narrow page.
//! plotters looks as well, but writes colours and sizes into every shape: no dark theme, no style for
//! paper. poloto has classes, but no logarithmic axis, no band, and a legend at the side.

mod band_rows;
mod bars;
mod chances;
mod converter_scatter;
mod cost_failures;
mod counted;
mod curve_names;
mod curves;
mod dead_times;
mod decay;
mod densities;
mod differences;
mod factor_strips;
mod failure_curve;
mod histogram;
mod labelled_bars;
mod limit_plot;
mod limit_use;
mod numbered_rows;
mod over_load;
mod over_size;
mod pen;
mod price_lines;
mod ranges;
mod rectangle;
mod row_names;
mod scatter;
mod share_curves;
mod sharing_rows;
mod spaced;
mod stacked;
mod stems;
mod value_bars;
mod variant_rows;
mod waveforms;
mod worst_case;

use maud::{Markup, html};
use textwrap::core::display_width;

pub(in crate::report) use self::band_rows::{BandRow, band_rows};
pub(in crate::report) use self::bars::{Bar, Chart, ChartPoint, ChartSize, band_bars, chart};
pub(in crate::report) use self::chances::{Chance, ChanceAxes, chances};
pub(in crate::report) use self::converter_scatter::{
    ConverterMark, ScatterAxes, converter_scatter, converter_scatter_places,
};
pub(in crate::report) use self::cost_failures::{CostAxes, CostDot, cost_failures};
use self::counted::CountedBins;
pub(in crate::report) use self::counted::packed_counts;
pub(in crate::report) use self::curves::{Dot, GainLine, LoadBars, bars, gains, stroke};
pub(in crate::report) use self::dead_times::{DeadTimeLine, dead_times};
pub(in crate::report) use self::decay::{DecayLine, decay};
pub(in crate::report) use self::densities::{Densities, DensityCurve, densities, probability_plot};
pub(in crate::report) use self::differences::{DifferenceRow, differences};
pub(in crate::report) use self::factor_strips::{FactorStrip, StripPart, factor_strips};
pub(in crate::report) use self::failure_curve::{FailureAxes, FailureLine, failure_curves};
pub(in crate::report) use self::histogram::{HistogramSamples, HistogramSeries, histogram};
pub(in crate::report) use self::labelled_bars::{LabelledBar, labelled_bars};
pub(in crate::report) use self::limit_plot::{LimitPlot, limit_plot, limit_plot_places};
pub(in crate::report) use self::limit_use::{LimitUse, UsedLimit, limit_uses};
pub(in crate::report) use self::over_load::{OverLoadAxes, PhaseCurrents, over_load};
pub(in crate::report) use self::over_size::{SizeAxes, SizeLine, over_size};
use self::pen::Pen;
pub(in crate::report) use self::price_lines::{PriceLines, price_lines};
pub(in crate::report) use self::ranges::{Range, RangeRow, ranges};
use self::rectangle::Rectangle;
pub(in crate::report) use self::row_names::ClassName;
pub(in crate::report) use self::scatter::{Spot, scatter};
pub(in crate::report) use self::share_curves::{ShareCurve, curves};
pub(in crate::report) use self::sharing_rows::{
    ArrangementErrors, FigureWidth, SharingRow, SharingRows, sharing_rows,
};
pub(in crate::report) use self::stacked::{BarPart, StackedBar, stacked};
pub(in crate::report) use self::stems::{Stem, StemAxis, stems};
pub(in crate::report) use self::value_bars::{ValueBar, ValueRow, value_bars};
pub(in crate::report) use self::variant_rows::{VariantRow, VariantRows, variant_rows};
pub(in crate::report) use self::waveforms::{WaveformScales, Waveforms, waveforms};
pub(in crate::report) use self::worst_case::{
    WorstCaseGroup, WorstCaseMarks, worst_case_legend, worst_cases,
};
use super::blocks::fitted_in_the_middle;
use super::numbers::{minus, without_dust};

/// Width of every figure.
pub(in crate::report) const WIDTH: f64 = 420.0;
/// Height of a histogram or curve.
const HEIGHT: f64 = 250.0;
/// Left and right end of the plot of a histogram or curve.
const ACROSS: Ends = Ends { from: 52.0, to: WIDTH - 20.0 };
/// Lower and upper end of the same.
const UPWARDS: Ends = Ends { from: HEIGHT - 44.0, to: 24.0 };
/// Where names may stand inside of it.
const INSIDE: Rectangle = Rectangle {
    left: ACROSS.from + 2.0,
    top: UPWARDS.to,
    right: ACROSS.to,
    bottom: UPWARDS.from - 2.0,
};
/// Height of one row of a figure of ranges.
const ROW: f64 = 34.0;

/// What a figure is called, for those who do not see it.
#[derive(Debug)]
pub(in crate::report) struct Name {
    /// An identifier, unique in the page.
    pub id: String,
    /// A few words.
    pub title: String,
    /// What it shows, in a sentence or two.
    pub description: String,
}

/// A line across the plot.
#[derive(Debug)]
pub(in crate::report) struct Mark {
    /// Where.
    pub value: f64,
    /// The label beside it.
    pub label: String,
}

/// Both ends of a range of values, or of a line in the view box.
#[derive(Debug, Clone, Copy)]
pub(in crate::report) struct Ends {
    /// The left or lower end.
    pub from: f64,
    /// The right or upper end.
    pub to: f64,
}

/// How values become places in the view box.
#[derive(Debug, Clone, Copy)]
struct Axis {
    from: f64,
    to: f64,
    logarithmic: bool,
    /// Ends in the view box.
    drawn: Ends,
}

impl Axis {
    fn linear(from: f64, to: f64, drawn: Ends) -> Self {
        Self { from, to, logarithmic: false, drawn }
    }

    /// Over rising edges: those that begin above zero are taken as equal ratios, others as equal
    /// steps.
    fn over(edges: &[f64], drawn: Ends) -> Self {
        let from = edges.first().copied().unwrap_or(0.0);
        let to = edges.last().copied().unwrap_or(1.0);
        Self { from, to, logarithmic: from > 0.0, drawn }
    }

    /// The place of a value; values outside are drawn at the end.
    fn at(&self, value: f64) -> f64 {
        let along = |x: f64| if self.logarithmic { libm::log(x) } else { x };
        let inside = value.clamp(self.from, self.to);
        let span = along(self.to) - along(self.from);
        let share = if span > 0.0 { (along(inside) - along(self.from)) / span } else { 0.5 };
        self.drawn.from + share * (self.drawn.to - self.drawn.from)
    }

    /// The axis as so many bins, in which so many samples are counted.
    fn divided(&self, bins: usize, samples: u64) -> CountedBins {
        let Self { from, to, drawn, .. } = self;
        CountedBins { ends: [*from, *to], drawn: [drawn.from, drawn.to], bins, samples }
    }

    fn holds(&self, value: f64) -> bool {
        (self.from..=self.to).contains(&value)
    }

    /// Round values at which to write numbers.
    fn ticks(&self) -> Vec<f64> {
        if self.logarithmic { self.ticks_by_ratio() } else { self.ticks_by_step() }
    }

    /// The number at a tick: three digits, and more where the next tick would have the same.
    fn tick_text(&self, tick: f64) -> String {
        let step = if self.logarithmic { None } else { self.step() };
        let order = |value: f64| libm::log10(value.abs()).floor();
        let more = step.filter(|_| tick != 0.0).map_or(0.0, |step| order(tick) - order(step));
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few digits")]
        let decimals = more.clamp(2.0, 15.0) as usize;
        rounded(tick, decimals)
    }

    /// From one tick to the next, where the axis has a length.
    fn step(&self) -> Option<f64> {
        let span = self.to - self.from;
        let power = libm::pow(10.0, libm::log10(span / 5.0).floor());
        let steps = [1.0, 2.0, 5.0, 10.0].map(|m| m * power);
        (span > 0.0).then(|| steps.into_iter().find(|step| span / step <= 5.0).unwrap_or(span))
    }

    fn ticks_by_step(&self) -> Vec<f64> {
        let span = self.to - self.from;
        let Some(step) = self.step() else { return vec![self.from] };
        let first = (self.from / step - 1e-9).ceil();
        (0..=6_i32)
            .map(|n| (first + f64::from(n)) * step)
            .filter(|x| *x <= self.to + 1e-9 * span)
            .collect()
    }

    fn ticks_by_ratio(&self) -> Vec<f64> {
        let decades = libm::log10(self.to / self.from);
        let mantissas: &[f64] = if decades < 1.2 {
            &[1.0, 1.5, 2.0, 3.0, 5.0, 7.0]
        } else if decades < 2.2 {
            &[1.0, 2.0, 5.0]
        } else if decades < 3.5 {
            &[1.0, 3.0]
        } else {
            &[1.0]
        };
        self.ticks_of(mantissas)
    }

    /// These multiples of the powers of ten.
    fn ticks_of(&self, mantissas: &[f64]) -> Vec<f64> {
        let first = libm::log10(self.from).floor();
        (0..=40_i32)
            .map(|n| libm::pow(10.0, first + f64::from(n)))
            .take_while(|power| *power <= self.to)
            .flat_map(|power| mantissas.iter().map(move |m| m * power))
            .filter(|x| self.holds(*x))
            .collect()
    }
}

/// A number as an axis has it: three digits, without needless zeros, rounding dust and the sign of
/// zero.
pub(in crate::report) fn short(value: f64) -> String {
    rounded(value, 2)
}

/// A number with so many digits behind the first, without needless zeros.
fn rounded(value: f64, digits: usize) -> String {
    let value = without_dust(value);
    let rounded = format!("{value:.digits$e}").parse().unwrap_or(value);
    minus(&rounded.to_string())
}

/// About how wide a letter is.
const LETTER: f64 = 6.2;

/// About how wide a text of so many letters is.
fn text_width(text: &str) -> f64 {
    LETTER * display_width(text) as f64
}

/// The text, cut in the middle where it is wider than there is room: names differ at their ends.
fn fitted(text: &str, room: f64) -> String {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few dozen")]
    let letters = (room / LETTER).max(1.0) as usize;
    fitted_in_the_middle(text, letters)
}

/// The texts of a scale, without those that would touch one before them; the last one is always shown.
fn apart(texts: Vec<(f64, String)>) -> Vec<(f64, String)> {
    const BETWEEN: f64 = 6.0;
    let half = |text: &str| 0.5 * text_width(text);
    let touch = |one: &(f64, String), other: &(f64, String)| {
        (other.0 - one.0).abs() < half(&one.1) + half(&other.1) + BETWEEN
    };
    let last = texts.len().saturating_sub(1);
    let mut shown: Vec<(f64, String)> = Vec::new();
    for (n, own) in texts.into_iter().enumerate() {
        if n == last {
            while shown.pop_if(|before| touch(before, &own)).is_some() {}
        }
        if shown.last().is_none_or(|before| !touch(before, &own)) {
            shown.push(own);
        }
    }
    shown
}

fn percent(fraction: f64) -> String {
    format!("{} %", short(100.0 * fraction))
}

fn px(value: f64) -> String {
    pen::tenths(pen::rounded(value))
}

/// A path through points.
fn path(mut points: impl Iterator<Item = (f64, f64)>) -> String {
    let mut pen = Pen::default();
    points.next().into_iter().for_each(|(x, y)| pen.begin(x, y));
    points.for_each(|(x, y)| pen.line(x, y));
    pen.drawn()
}

/// The outline of bars that adjoin: from a corner the top of each and its right end, then back to the base.
fn steps(start: f64, base: f64, tops: impl Iterator<Item = (f64, f64)>) -> String {
    let mut pen = Pen::default();
    pen.begin(start, base);
    for (top, right) in tops {
        pen.upright(top);
        pen.level(right);
    }
    pen.upright(base);
    pen.drawn()
}

/// A level line.
fn level_line(class: &str, across: Ends, y: f64) -> Markup {
    let mut pen = Pen::default();
    pen.begin(across.from, y);
    pen.level(across.to);
    html! { path class=(class) d=(pen.drawn()) {} }
}

/// An upright line.
fn upright_line(class: &str, x: f64, upwards: Ends) -> Markup {
    let mut pen = Pen::default();
    pen.begin(x, upwards.from);
    pen.upright(upwards.to);
    html! { path class=(class) d=(pen.drawn()) {} }
}

/// Level lines of a grid.
fn level_lines(levels: &[f64], across: Ends) -> Markup {
    let mut pen = Pen::default();
    for y in levels {
        pen.begin(across.from, *y);
        pen.level(across.to);
    }
    html! { path class="grid" d=(pen.drawn()) {} }
}

/// Upright lines of a grid.
fn upright_lines(places: &[f64], upwards: Ends) -> Markup {
    let mut pen = Pen::default();
    for x in places {
        pen.begin(*x, upwards.from);
        pen.upright(upwards.to);
    }
    html! { path class="grid" d=(pen.drawn()) {} }
}

fn figure(name: &Name, height: f64, inside: &Markup) -> Markup {
    drawing(name, WIDTH, height, inside)
}

/// A drawing of this width, which a page shows about as wide as it is drawn.
fn drawing(name: &Name, width: f64, height: f64, inside: &Markup) -> Markup {
    let (title, description) = (format!("{}-title", name.id), format!("{}-text", name.id));
    html! {
        svg viewBox=(format!("0 0 {width:.0} {height:.0}")) role="img"
            aria-labelledby=(format!("{title} {description}")) {
            title id=(title) { (name.title) }
            desc id=(description) { (name.description) }
            (inside)
        }
    }
}

/// The horizontal axis with its numbers, grid and name.
fn across(axis: &Axis, plot: Ends, name: &str, number: fn(f64) -> String) -> Markup {
    let Ends { from: low, to: high } = plot;
    let places: Vec<f64> = axis.ticks().into_iter().map(|tick| axis.at(tick)).collect();
    html! {
        (upright_lines(&places, Ends { from: low, to: high }))
        g text-anchor="middle" {
            @for tick in axis.ticks() {
                text x=(px(axis.at(tick))) y=(px(low + 16.0)) { (number(tick)) }
            }
        }
        line class="axis" x1=(px(axis.drawn.from)) x2=(px(axis.drawn.to)) y1=(px(low)) y2=(px(low)) {}
        text class="name" x=(px(f64::midpoint(axis.drawn.from, axis.drawn.to)))
            y=(px(low + 36.0)) text-anchor="middle" { (name) }
    }
}

/// The vertical axis of shares, with its numbers, grid and name.
fn upwards(axis: &Axis, name: &str) -> Markup {
    upwards_over(axis, ACROSS, name)
}

/// The same for a plot of another width.
fn upwards_over(axis: &Axis, across: Ends, name: &str) -> Markup {
    let levels: Vec<f64> = axis.ticks().into_iter().map(|tick| axis.at(tick)).collect();
    html! {
        (level_lines(&levels, across))
        g text-anchor="end" {
            @for tick in axis.ticks() {
                text x=(px(across.from - 9.0)) y=(px(axis.at(tick) + 4.0)) { (percent(tick)) }
            }
        }
        text class="name" x="2" y="13" { (name) }
    }
}

/// An upright line with its label above the plot.
fn upright(axis: &Axis, plot: Ends, mark: Option<&Mark>) -> Markup {
    let Ends { from: low, to: high } = plot;
    html! {
        @if let Some(mark) = mark.filter(|m| axis.holds(m.value)) {
            @let x = axis.at(mark.value);
            @let anchor = if x > 0.62 * WIDTH {
                "end"
            } else if x < 0.38 * WIDTH {
                "start"
            } else {
                "middle"
            };
            line class="limit" x1=(px(x)) x2=(px(x)) y1=(px(low)) y2=(px(high - 6.0)) {}
            text class="limit-label" x=(px(x)) y=(px(high - 10.0)) text-anchor=(anchor) {
                (mark.label)
            }
        }
    }
}

/// What names must not cover: these, and the upright line of a limit.
fn taken(mut all: Vec<Rectangle>, x: &Axis, limit: Option<&Mark>) -> Vec<Rectangle> {
    all.extend(limit.filter(|limit| x.holds(limit.value)).map(|limit| {
        let at = x.at(limit.value);
        Rectangle { left: at - 3.0, right: at + 3.0, ..INSIDE }
    }));
    all
}

/// What the label of a target takes, below its line at the right end, and the line.
fn beside_target(level: f64, label: &str) -> Vec<Rectangle> {
    let (top, right) = (level - 2.0, ACROSS.to);
    let label = Rectangle { left: right - text_width(label), top, right, bottom: level + 18.0 };
    vec![label, Rectangle { left: ACROSS.from, top, right, bottom: level + 2.0 }]
}

/// The name of a level line above it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct LevelName<'l> {
    pub text: &'l str,
    pub x: f64,
    pub anchor: &'static str,
}

/// At the left end of the line, if neither a curve nor the upright line of a limit is near there, else at its right
/// end. Where both are taken, the first word of the name alone: the scale tells the number.
pub(super) fn name_of_level(
    drawn: Ends,
    level: f64,
    label: &str,
    near: impl IntoIterator<Item = (f64, f64)>,
) -> LevelName<'_> {
    let is_beside = |(_, y): &(f64, f64)| (level - 22.0..level + 2.0).contains(y);
    let near: Vec<f64> = near.into_iter().filter(is_beside).map(|(x, _)| x).collect();
    let word = label.split(' ').next().unwrap_or(label).trim_end_matches(':');
    let places = [label, word].into_iter().flat_map(|text| {
        let wide = text_width(text) + 8.0;
        let left = (drawn.from + wide, LevelName { text, x: drawn.from + 4.0, anchor: "start" });
        let right = (drawn.to - wide, LevelName { text, x: drawn.to, anchor: "end" });
        [left, right]
    });
    let is_free = |(end, name): &(f64, LevelName<'_>)| {
        near.iter().all(|x| if name.anchor == "end" { x < end } else { x > end })
    };
    let mut places = places.filter(is_free).map(|(_, name)| name);
    places.next().unwrap_or(LevelName { text: word, x: drawn.to, anchor: "end" })
}

/// A sample of how an arrangement is drawn.
pub(in crate::report) fn swatch(class: &str) -> Markup {
    html! { i class=(class) {} }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_by_hand() {
        let linear = Axis::linear(0.0, 10.0, Ends { from: 100.0, to: 200.0 });
        for (value, place) in [(0.0, 100.0), (2.5, 125.0), (10.0, 200.0), (11.0, 200.0)] {
            assert!((linear.at(value) - place).abs() < 1e-9, "{value}");
        }
        let ratio = Axis::over(&[0.01, 0.1, 1.0], Ends { from: 0.0, to: 50.0 });
        for (value, place) in [(0.01, 0.0), (0.1, 25.0), (1.0, 50.0), (0.0, 0.0)] {
            assert!((ratio.at(value) - place).abs() < 1e-9, "{value}");
        }
        assert!(!Axis::over(&[0.0, 0.1], Ends { from: 0.0, to: 50.0 }).logarithmic);
    }

    #[test]
    fn a_long_name_keeps_both_of_its_ends() {
        assert_eq!(fitted("full load, new", 14.0 * LETTER), "full load, new");
        assert_eq!(fitted("extreme current: chain, dusk", 14.0 * LETTER), "extrem…n, dusk");
    }

    /// Letters are 6.2 wide: "100" takes 18.6.
    #[test]
    fn texts_of_a_scale_do_not_touch() {
        let scale = |places: &[f64]| {
            let all = apart(places.iter().map(|at| (*at, "100".to_owned())).collect());
            all.into_iter().map(|(at, _)| at).collect::<Vec<_>>()
        };
        assert_eq!(scale(&[0.0, 25.0, 50.0]), [0.0, 25.0, 50.0]);
        assert_eq!(scale(&[0.0, 20.0, 40.0, 70.0]), [0.0, 40.0, 70.0]);
        assert_eq!(scale(&[0.0, 30.0, 40.0]), [0.0, 40.0], "the last one stays");
    }

    #[test]
    fn ticks_are_round_and_inside() {
        let texts = |axis: Axis| {
            axis.ticks().into_iter().map(|tick| axis.tick_text(tick)).collect::<Vec<_>>()
        };
        let drawn = Ends { from: 0.0, to: 1.0 };
        assert_eq!(texts(Axis::linear(0.0, 1.0, drawn)), ["0", "0.2", "0.4", "0.6", "0.8", "1"]);
        assert_eq!(texts(Axis::linear(0.0, 13.0, drawn)), ["0", "5", "10"]);
        assert_eq!(texts(Axis::linear(3.0, 3.0, drawn)), ["3"]);
        let near = Axis::linear(0.7305, 0.7325, drawn);
        assert_eq!(texts(near), ["0.7305", "0.731", "0.7315", "0.732", "0.7325"], "each its own");
        assert_eq!(texts(Axis::linear(1234.0, 1252.0, drawn)), ["1235", "1240", "1245", "1250"]);
        assert_eq!(texts(Axis::linear(-0.2, 0.2, drawn)), ["−0.2", "−0.1", "0", "0.1", "0.2"]);
        let over = |from, to| texts(Axis::over(&[from, to], drawn));
        assert_eq!(over(0.004, 0.3), ["0.005", "0.01", "0.02", "0.05", "0.1", "0.2"]);
        assert_eq!([short(-3.72e-15), short(-0.0), short(-0.25)], ["0", "0", "−0.25"]);
        assert_eq!(over(0.001, 1.0), ["0.001", "0.003", "0.01", "0.03", "0.1", "0.3", "1"]);
    }
}
