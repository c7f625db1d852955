//! Waveforms of the nominal, the median and the worst converter: why the phases share.

use maud::{Markup, html};

use crate::converter::Arrangement;
use crate::report::format::figures::{self, Name, WaveformScales, Waveforms};
use crate::report::format::names;
use crate::report::format::numbers::{self, count};
use crate::report::format::page::parts::folded;
use crate::study::run::{ArrangementWaveforms, ConverterWaveforms, PointWaveforms, WaveformChoice};

/// The worst converter, and the others folded away.
pub(super) fn section(own: &PointWaveforms) -> Markup {
    html! {
        p {
            "The chain forces the same charge through every phase in its own half period (shaded). For that it \
             shifts the bridge voltages. In the paralleled reference the bridge voltages are equal, and each \
             phase takes what its tank lets through. One period at “" (own.operating_point) "”."
        }
        @for shown in own.converters.iter().rev() {
            @let Which { heading, .. } = which(shown);
            @if shown.choice == WaveformChoice::Worst {
                (converter(shown))
            } @else {
                (folded(&heading, &converter(shown)))
            }
        }
    }
}

/// How a converter is called.
struct Which {
    id: &'static str,
    heading: String,
    /// How it was chosen.
    choice: String,
}

fn which(shown: &ConverterWaveforms) -> Which {
    let sample = shown.sample.map_or_else(String::new, |n| format!("sample {}", count(n)));
    let heading = |name: &str| format!("The {name} converter at the same operating point");
    match shown.choice {
        WaveformChoice::Nominal => Which {
            id: "nominal",
            heading: heading("nominal"),
            choice: "the nominal converter".to_owned(),
        },
        WaveformChoice::Median(median) => Which {
            id: "median",
            heading: heading("median"),
            choice: format!(
                "{sample}, whose sharing error in the chain is {} of all solved samples",
                match median.among_first {
                    None => "the median".to_owned(),
                    Some(n) => format!("the nearest, among the first {}, to the median", count(n)),
                }
            ),
        },
        WaveformChoice::Worst => Which {
            id: "worst",
            heading: heading("worst"),
            choice: format!("{sample}, with the largest sharing error in the chain"),
        },
    }
}

fn converter(own: &ConverterWaveforms) -> Markup {
    let which = which(own);
    let solved = || own.arrangements.iter().flatten();
    let scales = WaveformScales::of(solved().map(|own| own.phases.as_slice()));
    html! {
        div class="figures" {
            @for (arrangement, waveforms) in Arrangement::ALL.into_iter().zip(&own.arrangements) {
                @if let Some(waveforms) = waveforms {
                    figure { (figure(&which, arrangement, waveforms, &scales)) }
                }
            }
        }
    }
}

fn figure(
    which: &Which,
    arrangement: Arrangement,
    waveforms: &ArrangementWaveforms,
    scales: &WaveformScales,
) -> Markup {
    let ArrangementWaveforms { phases, sharing_error, switching_frequency } = waveforms;
    let long = names::arrangement(arrangement).long;
    let name = Name {
        id: format!("waveforms-{}-{}", which.id, arrangement.name()),
        title: format!("Waveforms over one period, {long}"),
        description: format!(
            "A row a phase: tank and magnetising current, the charge of its own half period shaded and \
             written. Below: rectified currents, bridge voltages, resonant capacitors{}.",
            if arrangement == Arrangement::Chain { ", flying capacitors" } else { "" }
        ),
    };
    let class = arrangement.name();
    html! {
        (figures::waveforms(&name, &Waveforms { class, phases, scales }))
        figcaption {
            b { (names::capital(long)) ": sharing error " (numbers::percent(*sharing_error)) } " at "
            (numbers::quantity(*switching_frequency)) ". " (names::capital(&which.choice))
            ". Currents and voltages of the original tanks."
        }
    }
}
