//! How much of each limit is used: bars in percent of it, so that different units share one axis.

use maud::{Markup, html};

use super::{Axis, Ends, Name, drawing, fitted, px, short, text_width};

/// Width of the drawing, and where bars end at most.
const WIDTH: f64 = 320.0;
const RIGHT: f64 = 214.0;
/// Room between the bars and what stands behind them.
const BESIDE: f64 = 8.0;
/// Height of a limit's name, of a bar, and the room above the bars.
const NAME: f64 = 18.0;
const BAR: f64 = 14.0;
const TOP: f64 = 18.0;
/// The axis ends here at most: longer bars end in a point, and their numbers tell.
const MOST: f64 = 2.5;
/// Length of that point.
const POINT: f64 = 7.0;

/// A limit with what uses it.
#[derive(Debug)]
pub(in crate::report) struct LimitUse {
    /// What is limited.
    pub label: String,
    /// One bar an arrangement that has the limit.
    pub bars: Vec<UsedLimit>,
}

/// What an arrangement uses of a limit.
#[derive(Debug)]
pub(in crate::report) struct UsedLimit {
    /// Class of the arrangement.
    pub class: &'static str,
    /// The used part, 1 for all of it; infinite where no value keeps the target share.
    pub share: f64,
    /// The value and the limit.
    pub text: String,
}

/// Bars of all limits, with the line of the limit at 100 %.
pub(in crate::report) fn limit_uses(name: &Name, uses: &[LimitUse]) -> Markup {
    let shares = uses.iter().flat_map(|own| &own.bars).map(|bar| bar.share);
    let most = 1.05 * shares.fold(1.05, f64::max);
    let right = right(uses);
    let x = Axis::linear(0.0, most.min(MOST), Ends { from: 1.0, to: right });
    let tall = |own: &LimitUse| NAME + BAR * own.bars.len() as f64 + 4.0;
    let bottom = TOP + uses.iter().map(tall).sum::<f64>();
    let starts = uses.iter().scan(TOP, |next, own| {
        let start = *next;
        *next += tall(own);
        Some((start, own))
    });
    let limit = px(x.at(1.0));
    let inside = html! {
        rect class="beyond-limit" x=(limit) y=(px(TOP)) width=(px(right - x.at(1.0))) height=(px(bottom - TOP)) {}
        @for tick in x.ticks().into_iter().filter(|tick| x.at(*tick) < right - 8.0) {
            text x=(px(x.at(tick))) y=(px(bottom + 15.0)) text-anchor=(if tick > 0.0 { "middle" } else { "start" }) {
                (short(100.0 * tick))
            }
        }
        text class="name" x=(px(right + BESIDE)) y=(px(bottom + 15.0)) { "% of the limit" }
        @for (start, own) in starts {
            text class="label" x="4" y=(px(start + 13.0)) { (fitted(&own.label, WIDTH - 4.0)) }
            @let low = start + NAME + own.bars.len() as f64 * BAR;
            @for (n, bar) in own.bars.iter().enumerate() {
                @let top = start + NAME + n as f64 * BAR;
                polygon class=(format!("{} area", bar.class)) points=(outline(&x, bar.share, top)) {
                    title { (own.label) ", " (bar.class) ": " (bar.text) }
                }
                text class=(format!("{} value", bar.class)) x=(px(right + BESIDE)) y=(px(top + 9.5)) { (bar.text) }
            }
            line class="limit" x1=(limit) x2=(limit) y1=(px(start + NAME - 3.0)) y2=(px(low)) {}
        }
        text class="limit-label" x=(limit) y=(px(TOP - 6.0)) text-anchor="middle" { "limit" }
        line class="axis" x1="1" x2="1" y1=(px(TOP)) y2=(px(bottom)) {}
    };
    drawing(name, WIDTH, bottom + 20.0, &inside)
}

/// The corners of a bar: a rectangle, or one that points to where it goes on.
fn outline(x: &Axis, share: f64, top: f64) -> String {
    let (end, low) = (x.at(share), top + BAR - 3.0);
    let goes_on = share > MOST;
    let shoulder = if goes_on { end - POINT } else { end };
    let tip = goes_on.then_some([end, 0.5 * (top + low)]);
    let corners = [[1.0, top], [shoulder, top]].into_iter().chain(tip);
    let corners = corners.chain([[shoulder, low], [1.0, low]]);
    let places: Vec<String> = corners.map(|[x, y]| format!("{},{}", px(x), px(y))).collect();
    places.join(" ")
}

/// Where bars end: the longest text behind them needs its room.
fn right(uses: &[LimitUse]) -> f64 {
    let texts = uses.iter().flat_map(|own| &own.bars).map(|bar| text_width(&bar.text));
    RIGHT.min(WIDTH - BESIDE - texts.fold(0.0, f64::max))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: an axis to 105 % of the longest bar, 2, and the limit at 1 of 2.1.
    #[test]
    fn bars_are_as_long_as_their_shares() {
        let name = Name { id: "a".into(), title: "b".into(), description: "c".into() };
        let bar = |class, share| UsedLimit { class, share, text: "<x>".into() };
        let bars = vec![bar("chain", 0.5), bar("paralleled", 2.0)];
        let text = limit_uses(&name, &[LimitUse { label: "<r>".into(), bars }]).0;
        // The first bar lies from 36 to 47, below the name of the limit; the second one from 50 to 61.
        for (share, top, low) in [(0.5, 36, 47), (2.0, 50, 61)] {
            let end = px(1.0 + (RIGHT - 1.0) * share / 2.1);
            let corners = format!("points=\"1,{top} {end},{top} {end},{low} 1,{low}\"");
            assert!(text.contains(&corners), "{corners} in {text}");
        }
        assert!(
            text.contains(&format!("class=\"limit\" x1=\"{}\"", px(1.0 + (RIGHT - 1.0) / 2.1)))
        );
        assert!(text.contains("&lt;r&gt;") && !text.contains("<x>"));
        let endless = limit_uses(
            &name,
            &[LimitUse { label: "r".into(), bars: vec![bar("chain", f64::INFINITY)] }],
        );
        assert!(endless.0.contains("points=\"1,36 207,36 214,41.5 207,47 1,47\""), "{}", endless.0);
    }
}
