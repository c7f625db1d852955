//! The figure of settling: voltages after a disturbance.

use maud::{Markup, html};

use crate::report::format::figures::{DecayLine, Name, decay};
use crate::study::capacitors::settling::PointSettling;
use crate::study::common::settling_figures::SETTLED;

/// How a disturbed node comes back at one operating point.
pub(super) fn track(n: usize, point: &PointSettling) -> Markup {
    let Some(nominal) = &point.nominal else { return html! {} };
    let track = &nominal.track;
    let nodes = track.voltages.first().map_or(0, Vec::len);
    let time = |k: usize| k as f64 * f64::from(track.stride);
    // Half as long again as it takes.
    let last = 1.5 * nominal.settling.slowest.periods_until(SETTLED);
    let line = |node: usize| DecayLine {
        label: (node + 1).to_string(),
        points: (track.voltages.iter().enumerate().map(|(k, now)| (time(k), now[node])))
            .take_while(|(periods, _)| *periods <= last)
            .collect(),
    };
    let lines: Vec<DecayLine> = (0..nodes).map(line).collect();
    let name = Name {
        id: format!("settling-{n}"),
        title: format!("Node voltages after a disturbance, {}", point.operating_point),
        description: "The voltages of all nodes after one was moved, as shares of that move, over \
                      switching periods."
            .into(),
    };
    html! {
        figure {
            (decay(&name, &lines, SETTLED))
            figcaption {
                b { (point.operating_point) "." } " Node " (track.node + 1) " was moved. Numbers: \
                 nodes. Shaded: within 1 % of the move."
            }
        }
    }
}
