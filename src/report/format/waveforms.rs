//! The waveforms of a converter in both arrangements, side by side.

use maud::{Markup, html};

use super::figures::{self, Name, WaveformScales, Waveforms};
use super::{names, numbers};
use crate::converter::Arrangement;
use crate::study::common::waveforms::ArrangementWaveforms;

/// What one sees in them.
pub(in crate::report) const WHY: &str = "The chain forces the same charge through every phase in its own half \
    period (shaded). For that it shifts the bridge voltages. In the paralleled reference the bridge voltages are \
    equal, and each phase takes what its tank lets through.";

/// Whose tanks are meant, on pages that tell the basis of comparison.
pub(in crate::report) const TANKS: &str = "Tank currents and voltages are told as those of the chain’s tanks in both \
    arrangements: see “Basis of comparison”.";

/// Both figures, in the same scales. `id` tells them from others of the page, `choice` says which converter it is,
/// with a capital.
pub(in crate::report) fn figures(
    id: &str,
    choice: &str,
    arrangements: &[Option<ArrangementWaveforms>; 2],
) -> Markup {
    let solved = || arrangements.iter().flatten();
    let scales = WaveformScales::of(solved().map(|own| own.phases.as_slice()));
    html! {
        div class="figures" {
            @for (arrangement, waveforms) in Arrangement::ALL.into_iter().zip(arrangements) {
                @if let Some(waveforms) = waveforms {
                    figure {
                        (drawn(id, arrangement, waveforms, &scales))
                        (caption(choice, arrangement, waveforms))
                    }
                }
            }
        }
    }
}

fn drawn(
    id: &str,
    arrangement: Arrangement,
    waveforms: &ArrangementWaveforms,
    scales: &WaveformScales,
) -> Markup {
    let name = Name {
        id: format!("waveforms-{id}-{}", arrangement.name()),
        title: format!("Waveforms over one period, {}", names::arrangement(arrangement).long),
        description: format!(
            "A row a phase: tank and magnetising current, the charge of its own half period shaded and \
             written. Below: rectified currents, bridge voltages, resonant capacitors{}.",
            if arrangement == Arrangement::Chain { ", flying capacitors" } else { "" }
        ),
    };
    let (class, phases) = (arrangement.name(), waveforms.phases.as_slice());
    figures::waveforms(&name, &Waveforms { class, phases, scales })
}

fn caption(choice: &str, arrangement: Arrangement, own: &ArrangementWaveforms) -> Markup {
    let long = names::capital(names::arrangement(arrangement).long);
    html! {
        figcaption {
            b { (long) ": sharing error " (numbers::percent(own.sharing_error)) } " at "
            (numbers::quantity(own.switching_frequency)) ". " (choice)
            "."
        }
    }
}
