//! What sensors change against the chain alone, in numbers.

use maud::{Markup, html};

use crate::report::format::numbers::{NONE, count, p_value, signed};
use crate::report::format::page::brief::Finding;
use crate::report::format::page::parts::{headings, number};
use crate::study::sensors::{SensorStudy, Variant, VariantDifference};

/// Variants that are compared with the chain alone.
const COMPARED: [Variant; 2] = [Variant::ParalleledWithSensors, Variant::ChainWithSensors];

/// The differences of both variants with sensors from the chain alone.
pub(super) fn changes(study: &SensorStudy) -> Finding {
    let all = COMPARED.map(|variant| study.difference(variant, Variant::Chain).ok());
    let row = |name: &str, text: &dyn Fn(&VariantDifference) -> String| {
        html! {
            tr {
                th scope="row" { (name) }
                @for own in &all { (number(own.as_ref().map_or_else(|| NONE.to_owned(), text))) }
            }
        }
    };
    let [chain, with, both] =
        [Variant::Chain, COMPARED[0], COMPARED[1]].map(|variant| study.variant(variant));
    let losses = [with, both].map(|own| Some(own.loss?.mean - chain.loss?.mean));
    Finding {
        heading: heading(all[1].as_ref()),
        remark: None,
        inside: html! {
            table {
                thead { (headings(1, &["against (b) chain alone", "(c)", "(d)"])) }
                tbody {
                    (row(&format!("good ones gained, of {}", count(study.samples)), &|own| count(own.counts.first)))
                    (row("good ones lost", &|own| count(own.counts.second)))
                    (row("p-value (McNemar)", &|own| p_value(own.p_value)))
                    (loss_row(losses))
                }
            }
        },
    }
}

fn loss_row(losses: [Option<f64>; 2]) -> Markup {
    html! {
        tr {
            th scope="row" { "highest mean loss, W" }
            @for own in losses { (number(own.map_or_else(|| NONE.to_owned(), |watt| signed(watt, 2)))) }
        }
    }
}

/// What sensors on top of the chain change.
fn heading(both: Option<&VariantDifference>) -> String {
    match both {
        Some(own) if own.is_significant() => format!(
            "Sensors on top of the chain save {} of {} converters",
            count(own.counts.first),
            count(own.counts.first + own.counts.neither)
        ),
        Some(_) => "Sensors on top of the chain: no difference in yield seen".to_owned(),
        None => "With sensors, against the chain alone".to_owned(),
    }
}
