//! Cost over a price: a way that has the part rises, one without it stays level; where they cross both cost the
//! same.

use maud::{Markup, html};

use super::{Axis, Ends, Name, drawing, px, text_width};
use crate::report::format::numbers::money;

/// Width of the drawing, of the plot, and its height.
const WIDTH: f64 = 320.0;
const ACROSS: Ends = Ends { from: 40.0, to: WIDTH - 8.0 };
const UPWARDS: Ends = Ends { from: 130.0, to: 24.0 };

/// What is drawn.
#[derive(Debug)]
pub(in crate::report) struct PriceLines {
    /// Name of the axis of prices.
    pub axis: String,
    /// Cost at a price of 0, and what it rises per unit of price.
    pub rising: [f64; 2],
    /// Name and class of the rising line.
    pub rising_name: [String; 2],
    /// Cost without the part.
    pub level: f64,
    /// Name and class of the level line.
    pub level_name: [String; 2],
    /// Today's price.
    pub today: f64,
    /// Price at which both cost the same, where it is above zero.
    pub even: Option<f64>,
    /// Its interval.
    pub interval: Option<Ends>,
}

/// Both lines, today's price and the price at which they cross.
pub(in crate::report) fn price_lines(name: &Name, shown: &PriceLines) -> Markup {
    let at = |price: f64| shown.rising[0] + shown.rising[1] * price;
    // Beyond the higher price there is room for its label.
    let most = 1.3 * shown.today.max(shown.even.unwrap_or(0.0)).max(1e-6);
    let x = Axis::linear(0.0, most, ACROSS);
    let costs = [at(0.0), at(most), shown.level];
    let (low, high) = (
        costs.iter().copied().fold(f64::INFINITY, f64::min),
        costs.iter().copied().fold(0.0, f64::max),
    );
    let margin = (0.12 * (high - low)).max(1e-3 * high);
    let y = Axis::linear(low - margin, high + margin, UPWARDS);
    let inside = html! {
        (grid(&x, &y, &shown.axis))
        @if let Some(interval) = shown.interval.filter(|own| own.to > 0.0) {
            @let (from, to) = (x.at(interval.from), x.at(interval.to));
            rect class="beyond-limit" x=(px(from)) width=(px((to - from).max(0.5))) y=(px(UPWARDS.to))
                height=(px(UPWARDS.from - UPWARDS.to)) {}
        }
        (line(&x, &y, [0.0, most].map(|price| [price, shown.level]), &shown.level_name))
        (line(&x, &y, [0.0, most].map(|price| [price, at(price)]), &shown.rising_name))
        @if let Some(even) = shown.even {
            @let told = told_interval(shown.interval);
            @let side = side(&x, even, shown.today, &money(even));
            (marked(&x, &y, [even, shown.level], side, "dot", [&money(even), &format!("both cost the same{told}")]))
        }
        @let now = format!("now {}", money(shown.today));
        @let side = side(&x, shown.today, shown.even.unwrap_or(shown.today), &now);
        (marked(&x, &y, [shown.today, at(shown.today)], side, "dot taken", [&now, &shown.rising_name[0]]))
        (labels(&x, &y, shown, most))
    };
    drawing(name, WIDTH, UPWARDS.from + 36.0, &inside)
}

fn grid(x: &Axis, y: &Axis, name: &str) -> Markup {
    html! {
        text class="name" x="0" y="12" { "cost per good converter" }
        @for tick in y.ticks() {
            @let level = px(y.at(tick));
            line class="grid" x1=(px(ACROSS.from)) x2=(px(ACROSS.to)) y1=(level) y2=(level) {}
            text x=(px(ACROSS.from - 6.0)) y=(px(y.at(tick) + 4.0)) text-anchor="end" { (y.tick_text(tick)) }
        }
        line class="axis" x1=(px(ACROSS.from)) x2=(px(ACROSS.to)) y1=(px(UPWARDS.from)) y2=(px(UPWARDS.from)) {}
        @for tick in x.ticks() {
            text x=(px(x.at(tick))) y=(px(UPWARDS.from + 15.0)) text-anchor="middle" { (x.tick_text(tick)) }
        }
        text class="name" x=(px(ACROSS.to)) y=(px(UPWARDS.from + 31.0)) text-anchor="end" { (name) }
    }
}

/// The interval of the price at which both cost the same, for those who point at it.
fn told_interval(interval: Option<Ends>) -> String {
    interval.map_or_else(String::new, |own| format!(", {} to {}", money(own.from), money(own.to)))
}

fn line(x: &Axis, y: &Axis, ends: [[f64; 2]; 2], [name, class]: &[String; 2]) -> Markup {
    let points = ends.map(|[price, cost]| (x.at(price), y.at(cost)));
    let [from, to] = ends.map(|[_, cost]| money(cost));
    html! {
        path class=(format!("{class} line")) d=(super::path(points.into_iter())) {
            title { (name) @if from == to { ": " (from) " at any price" } @else { ": " (from) " to " (to) } }
        }
    }
}

/// The side of its price on which a label stands.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Side {
    Left,
    Right,
}

/// The right side, unless the label would end beyond the plot or run into what stands at a higher price.
fn side(x: &Axis, price: f64, other: f64, label: &str) -> Side {
    let end = x.at(price) + text_width(label) + 6.0;
    let is_in_the_way = other > price && end > x.at(other);
    if is_in_the_way || end > ACROSS.to { Side::Left } else { Side::Right }
}

/// A point with a line down to its price.
fn marked(
    x: &Axis,
    y: &Axis,
    [price, cost]: [f64; 2],
    side: Side,
    class: &str,
    [label, told]: [&str; 2],
) -> Markup {
    let (at, level) = (x.at(price), y.at(cost));
    let is_left = side == Side::Left;
    html! {
        line class="drop" x1=(px(at)) x2=(px(at)) y1=(px(level)) y2=(px(UPWARDS.from)) {}
        circle class=(class) cx=(px(at)) cy=(px(level)) r="4" { title { (label) ": " (told) ", " (money(cost)) " per good converter" } }
        text class="value" x=(px(at + if is_left { -5.0 } else { 5.0 })) y=(px(UPWARDS.from - 5.0))
            text-anchor=(if is_left { "end" } else { "start" }) { (label) }
    }
}

/// The names of both lines: the rising one's above its end, the level one's away from it.
fn labels(x: &Axis, y: &Axis, shown: &PriceLines, most: f64) -> Markup {
    let end = shown.rising[0] + shown.rising[1] * most;
    let is_above = end > shown.level;
    let level = y.at(shown.level) + if is_above { 14.0 } else { -6.0 };
    let rising = if is_above {
        y.at(shown.rising[0] + shown.rising[1] * 0.55 * most) - 10.0
    } else {
        y.at(end) + 14.0
    };
    html! {
        text class=(format!("{} value", shown.level_name[1])) x=(px(x.at(0.42 * most))) y=(px(level)) { (shown.level_name[0]) }
        text class=(format!("{} value", shown.rising_name[1])) x=(px(x.at(0.55 * most) - 6.0)) y=(px(rising))
            text-anchor="end" { (shown.rising_name[0]) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 100 + 2 p against 104 cross at a price of 2, half-way to 4 today with 30 % more.
    #[test]
    fn lines_cross_at_the_price() {
        let shown = PriceLines {
            axis: "<price>".into(),
            rising: [100.0, 2.0],
            rising_name: ["with".into(), "paralleled".into()],
            level: 104.0,
            level_name: ["without".into(), "chain".into()],
            today: 4.0,
            even: Some(2.0),
            interval: None,
        };
        let name = Name { id: "a".into(), title: "b".into(), description: "c".into() };
        let text = price_lines(&name, &shown).0;
        let at = |price: f64| px(ACROSS.from + price / 5.2 * (ACROSS.to - ACROSS.from));
        assert!(text.contains(&format!("class=\"dot\" cx=\"{}\"", at(2.0))), "{text}");
        assert!(text.contains(&format!("class=\"dot taken\" cx=\"{}\"", at(4.0))), "{text}");
        assert!(text.contains("now 4.00") && text.contains("&lt;price&gt;"));
    }

    /// A letter takes 6.2 px, a price of 1 takes 52 px: four letters at 3.5 would run into the line at 4.
    #[test]
    fn labels_keep_clear_of_each_other_and_of_the_end() {
        let x = Axis::linear(0.0, 5.2, ACROSS);
        assert_eq!(side(&x, 2.0, 4.0, "2.00"), Side::Right);
        assert_eq!(side(&x, 3.5, 4.0, "3.50"), Side::Left);
        assert_eq!(side(&x, 4.0, 3.5, "now 4.00"), Side::Right, "the lower one gives way");
        assert_eq!(side(&x, 5.0, 3.5, "now 5.00"), Side::Left, "the plot ends");
    }
}
