//! Waveforms of the nominal and the worst converter: why the phases share.

use maud::{Markup, html};

use crate::converter::Arrangement;
use crate::report::format::figures::{self, Name, largest_current};
use crate::report::format::names;
use crate::report::format::numbers::count;
use crate::report::format::page::parts::folded;
use crate::study::run::{ConverterWaveforms, PointWaveforms};

/// The worst converter, and the nominal one folded away.
pub(super) fn section(own: &PointWaveforms) -> Markup {
    let worst = own.converters.iter().find(|one| one.sample.is_some());
    let nominal = own.converters.iter().find(|one| one.sample.is_none());
    html! {
        p {
            "The chain forces the same charge through every phase in its own half period (shaded). In the \
             paralleled reference each phase takes what its tank lets through. One period at “"
            (own.operating_point) "”; the thin line is the magnetising current, the rectifier carries the \
             distance to it."
        }
        @if let Some(worst) = worst { (converter(worst)) }
        @if let Some(nominal) = nominal {
            (folded("The nominal converter at the same operating point", &converter(nominal)))
        }
    }
}

fn converter(own: &ConverterWaveforms) -> Markup {
    let which = own.sample.map_or_else(
        || "the nominal converter".to_owned(),
        |n| format!("sample {}, the largest sharing error of the chain", count(n)),
    );
    let id = own.sample.map_or("nominal", |_| "worst");
    let largest = own.arrangements.iter().flatten().map(|phases| largest_current(phases));
    let largest = largest.fold(0.0, f64::max);
    html! {
        div class="figures" {
            @for (arrangement, phases) in Arrangement::ALL.into_iter().zip(&own.arrangements) {
                @if let Some(phases) = phases {
                    @let long = names::arrangement(arrangement).long;
                    @let name = Name {
                        id: format!("waveforms-{id}-{}", arrangement.name()),
                        title: format!("Tank and magnetising current of every phase, {long}"),
                        description: "A row a phase over one period; the charge of its own half period is shaded and written.".to_owned(),
                    };
                    figure {
                        (figures::waveforms(&name, arrangement.name(), phases, largest))
                        figcaption { b { (names::capital(long)) } ": " (which) ". Currents of the original tanks." }
                    }
                }
            }
        }
    }
}
