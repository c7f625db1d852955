//! The figure that leads the brief of `units`: how far the sharing errors of the listed converters reach.

use maud::{Markup, html};

use crate::converter::Arrangement;
use crate::report::format::figures::{
    HistogramSamples, HistogramSeries, LabelledBar, Mark, Name, histogram, labelled_bars,
};
use crate::report::format::names;
use crate::report::format::numbers::{counted, given_percent, percent_of_three};
use crate::report::format::page::brief::Finding;
use crate::scenario::Scenario;
use crate::study::units::Listed;

/// So many converters have a bar each; more are counted.
const BARS: usize = 10;
/// Bins of equal ratios.
const BINS: i32 = 48;

/// The largest sharing error of each converter over the operating points.
pub(super) fn sharing_errors(scenario: &Scenario, listed: &Listed) -> Finding {
    let limit = scenario.limits.sharing_error;
    let told = limit.map_or_else(String::new, |limit| format!(", limit {}", given_percent(limit)));
    if listed.verdicts.len() <= BARS {
        return Finding {
            heading: format!("Largest sharing errors in the chain{told}"),
            remark: None,
            inside: html! { div class="bar-figure" { (bars(limit, listed)) } },
        };
    }
    let all = counted(listed.verdicts.len() as u64, "converter");
    Finding {
        heading: format!("Largest sharing errors of {all}{told}"),
        remark: Some(
            "Each converter at its worst operating point, in both arrangements.".to_owned(),
        ),
        inside: html! { div class="compact-figure" { (spread(limit, listed)) } },
    }
}

fn name(title: &str, description: &str) -> Name {
    Name {
        id: "brief-sharing".to_owned(),
        title: title.to_owned(),
        description: description.to_owned(),
    }
}

/// A bar a converter, the worst first.
fn bars(limit: Option<f64>, listed: &Listed) -> Markup {
    let bar = |unit: usize| {
        let value = listed.verdicts[unit][0].sharing_error?;
        let label = listed.of_unit(unit)[0].name.clone();
        Some(LabelledBar { label, value, text: percent_of_three(value) })
    };
    let bars: Vec<LabelledBar> = listed.worst_first().into_iter().filter_map(bar).collect();
    let title = "Sharing errors of the converters in the chain";
    let line = if limit.is_some() { " A line at the limit." } else { "" };
    let text = format!(
        "A bar a converter with its largest sharing error over the operating points.{line}"
    );
    labelled_bars(&name(title, &text), "chain", &bars, limit)
}

/// All converters counted by their largest sharing errors, on a logarithmic axis.
fn spread(limit: Option<f64>, listed: &Listed) -> Markup {
    let of = |place: usize| -> Vec<f64> {
        listed.verdicts.iter().filter_map(|own| own[place].sharing_error).collect()
    };
    let errors = [of(0), of(1)];
    let edges = edges(errors.iter().flatten().copied().chain(limit));
    let counts = errors.map(|errors| counts(&errors, &edges));
    let series = |(arrangement, counts)| HistogramSeries {
        class: Arrangement::name(arrangement),
        name: names::arrangement(arrangement).short,
        counts,
    };
    let shown = HistogramSamples {
        edges: &edges,
        series: Arrangement::ALL
            .into_iter()
            .zip(counts.each_ref().map(Vec::as_slice))
            .map(series)
            .rev()
            .collect(),
        samples: listed.verdicts.len() as u64,
    };
    let title = "Sharing errors of all converters";
    let text = "Share of the converters in each bin of the largest sharing error, for both arrangements, with the limit.";
    let mark = limit.map(|value| Mark { value, label: format!("limit {}", given_percent(value)) });
    histogram(&name(title, text), "sharing error, logarithmic scale", &shown, mark.as_ref())
}

/// Edges of equal ratios about all values above zero; values at zero fall into the first bin.
fn edges(values: impl Iterator<Item = f64>) -> Vec<f64> {
    const ROOM: f64 = 1.05;
    let positive = values.filter(|value| *value > 0.0);
    let none = (f64::INFINITY, 0.0_f64);
    let (low, high) = positive.fold(none, |(low, high), v| (low.min(v), high.max(v)));
    if low > high {
        return vec![0.0, 1.0];
    }
    let (low, high) = (low / ROOM, high * ROOM);
    let share = |n: i32| f64::from(n) / f64::from(BINS);
    (0..=BINS).map(|n| low * libm::pow(high / low, share(n))).collect()
}

fn counts(values: &[f64], edges: &[f64]) -> Vec<u64> {
    let mut counts = vec![0; edges.len().saturating_sub(1)];
    for value in values {
        let above = edges.partition_point(|edge| edge <= value);
        let bin = above.saturating_sub(1).min(counts.len().saturating_sub(1));
        if let Some(count) = counts.get_mut(bin) {
            *count += 1;
        }
    }
    counts
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: the first and the last bin hold the least and the largest value, zero the first one.
    #[test]
    fn every_value_is_counted_once() {
        let values = [0.0, 0.01, 0.02, 1.0];
        let edges = edges(values.into_iter());
        assert!(edges[0] < 0.01 && edges.last().is_some_and(|last| *last > 1.0));
        let counts = counts(&values, &edges);
        assert_eq!(counts.iter().sum::<u64>(), 4);
        assert_eq!((counts[0], counts[counts.len() - 1]), (2, 1));
        assert_eq!(super::edges([0.0].into_iter()), [0.0, 1.0]);
    }
}
