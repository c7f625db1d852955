//! Voltages after a disturbance, period after period.

use maud::{Markup, html};

use super::{
    ACROSS, Axis, Ends, HEIGHT, Name, UPWARDS, across, figure, path, px, short, text_width,
};

/// Kinds of stroke that tell lines apart; further lines begin anew.
const KINDS: usize = 4;
/// Height of a line of text.
const LINE: f64 = 13.0;

/// A voltage over time.
#[derive(Debug)]
pub(in crate::report) struct DecayLine {
    /// The label where it is largest.
    pub label: String,
    /// Switching periods and share of the disturbance.
    pub points: Vec<(f64, f64)>,
}

/// Shares of a disturbance over switching periods; `level` is the share that counts as settled.
pub(in crate::report) fn decay(name: &Name, lines: &[DecayLine], level: f64) -> Markup {
    let all = || lines.iter().flat_map(|line| &line.points);
    let last = all().map(|(periods, _)| *periods).fold(0.0, f64::max);
    let low = all().map(|(_, share)| *share).fold(0.0, f64::min);
    let x = Axis::linear(0.0, if last > 0.0 { last } else { 1.0 }, ACROSS);
    let y = Axis::linear((1.1 * low).max(-1.1), 1.08, UPWARDS);
    let inside = html! {
        @for tick in y.ticks() {
            @let at = y.at(tick);
            line class="grid" x1=(px(ACROSS.from)) x2=(px(ACROSS.to)) y1=(px(at)) y2=(px(at)) {}
            text x=(px(ACROSS.from - 6.0)) y=(px(at + 4.0)) text-anchor="end" { (short(100.0 * tick)) }
        }
        text class="name" x="2" y="13" { "% of the disturbance" }
        (across(&x, UPWARDS, "switching periods", short))
        rect class="beyond-limit" x=(px(ACROSS.from)) width=(px(ACROSS.to - ACROSS.from))
            y=(px(y.at(level))) height=(px((y.at(-level) - y.at(level)).max(1.0))) {}
        @for (k, line) in lines.iter().enumerate() {
            path class=(format!("chain line phase-{}", k % KINDS + 1))
                d=(path(line.points.iter().map(|(t, v)| (x.at(*t), y.at(*v))))) {}
        }
        @for label in labels(&x, &y, lines) {
            text class="limit-label" x=(px(label.across)) y=(px(label.baseline)) { (label.text) }
        }
    };
    figure(name, HEIGHT, &inside)
}

/// A text and where it stands.
#[derive(Debug)]
struct Label<'a> {
    text: &'a str,
    across: f64,
    baseline: f64,
}

/// The label of each line beside its largest value; a label that would cover one above it stands below it.
fn labels<'a>(x: &Axis, y: &Axis, lines: &'a [DecayLine]) -> Vec<Label<'a>> {
    let Ends { from, to } = ACROSS;
    let mut wanted: Vec<Label<'_>> = lines
        .iter()
        .filter_map(|line| {
            let peak = line.points.iter().reduce(|a, b| if b.1.abs() > a.1.abs() { b } else { a });
            let (periods, share) = peak?;
            let across = x.at(*periods).clamp(from, to - 20.0) + 5.0;
            Some(Label { text: &line.label, across, baseline: y.at(*share) + 4.0 })
        })
        .collect();
    wanted.sort_by(|a, b| a.baseline.total_cmp(&b.baseline));
    let mut placed: Vec<Label<'_>> = vec![];
    for mut label in wanted {
        let meets = |other: &&Label<'_>| {
            let (first, next) =
                if other.across <= label.across { (*other, &label) } else { (&label, *other) };
            next.across < first.across + text_width(first.text)
        };
        let above = placed.iter().filter(meets).map(|other| other.baseline);
        label.baseline = above.map(|above| above + LINE).fold(label.baseline, f64::max);
        placed.push(label);
    }
    placed
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two lines begin together at their largest value, a third far away.
    #[test]
    fn labels_do_not_cover_each_other() {
        let line = |label: &str, at: f64| DecayLine {
            label: label.to_owned(),
            points: vec![(at, 1.0), (at + 40.0, 0.1)],
        };
        let lines = [line("1", 0.0), line("3", 0.5), line("2", 40.0)];
        let axes = [Axis::linear(0.0, 100.0, ACROSS), Axis::linear(-0.2, 1.08, UPWARDS)];
        let labels = labels(&axes[0], &axes[1], &lines);
        let baseline = |text: &str| {
            labels.iter().find(|label| label.text == text).map_or(f64::NAN, |label| label.baseline)
        };
        assert!((baseline("1") - baseline("3")).abs() >= LINE, "{labels:?}");
        assert!((baseline("2") - axes[1].at(1.0) - 4.0).abs() < 1e-9, "{labels:?}");
    }
}
