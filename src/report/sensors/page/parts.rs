//! What the parts and switches of each variant must bear.

use maud::{Markup, html};

use crate::report::format::ratings::{page as ratings, words};
use crate::report::format::switching::page as switching;
use crate::report::sensors::words as told;
use crate::scenario::Scenario;
use crate::study::sensors::{SensorStudy, Variant};

/// What to order: the chain and what sensors would replace it with are open, the others folded.
pub(super) fn what_to_order(scenario: &Scenario, study: &SensorStudy) -> Markup {
    let table = |variant: Variant| {
        let caption = format!("What to order for {}", told::name(variant));
        let parts = &study.parts_of(variant).ratings;
        ratings::of_arrangement(scenario, parts, variant.arrangement(), &caption)
    };
    if study.parts.ratings.parts.is_empty() {
        return html! { p { (words::NEEDS_EXACT) } };
    }
    html! {
        p { (words::meaning(scenario)) " Paralleled tanks are rescaled to the whole input." }
        (table(Variant::Chain))
        (table(Variant::ParalleledWithSensors))
        @for variant in [Variant::Paralleled, Variant::ChainWithSensors] {
            details {
                summary { "What to order for " (told::name(variant)) }
                (table(variant))
            }
        }
        (ratings::details(scenario, &study.parts.ratings, "summary.json"))
        p class="remark" {
            "Limits in [[limits.part]] are judged together. Sensors and trim elements have no rating here: what \
             they bear depends on how they are made."
        }
    }
}

/// How the switches of each variant turn on.
pub(super) fn soft_switching(scenario: &Scenario, study: &SensorStudy) -> Markup {
    html! {
        (switching::inside(scenario, study.parts.switching.as_ref(), None))
        @if let Some(sensed) = &study.sensed_parts.switching {
            (switching::shares(sensed, "The same with sensors: (d) the chain, (c) the paralleled converter"))
        }
        p class="remark" {
            "The first table is without sensors: (b) the chain, (a) the paralleled converter. "
            code { "fairphase run" } " also searches the dead times that fit."
        }
    }
}
