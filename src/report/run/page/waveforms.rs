//! Waveforms of the nominal, the median and the worst converter: why the phases share.

use maud::{Markup, html};

use crate::report::format::names::capital;
use crate::report::format::numbers::count;
use crate::report::format::page::parts::folded;
use crate::report::format::waveforms;
use crate::study::run::{ConverterWaveforms, PointWaveforms, WaveformChoice};

/// The worst converter, and the others folded away.
pub(super) fn section(own: &PointWaveforms) -> Markup {
    html! {
        p { (waveforms::WHY) " " (waveforms::TANKS) " One period at “" (own.operating_point) "”." }
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
    let Which { id, choice, .. } = which(own);
    waveforms::figures(id, &capital(&choice), &own.arrangements)
}
