//! What the parts and switches of each variant must bear.

use maud::{Markup, html};

use crate::converter::TrimmedQuantity;
use crate::report::format::ratings::{page as ratings, words};
use crate::report::format::switching::page as switching;
use crate::report::sensors::words as told;
use crate::scenario::{Scenario, SensorRequest};
use crate::study::sensors::{SensorStudy, Variant};

/// What to order: the chain and what sensors would replace it with are open, the others folded.
pub(super) fn what_to_order(scenario: &Scenario, study: &SensorStudy) -> Markup {
    let caption = |variant: Variant| format!("What to order for {}", told::name(variant));
    let table = |variant: Variant| {
        let parts = &study.parts_of(variant).ratings;
        ratings::of_arrangement(scenario, parts, variant.arrangement(), &caption(variant))
    };
    let at_each_point = |variant: Variant| {
        let parts = &study.parts_of(variant).ratings;
        ratings::at_each_point(scenario, parts, variant.arrangement(), &caption(variant))
    };
    if study.parts.ratings.parts.is_empty() {
        return html! { p { (words::NEEDS_EXACT) } };
    }
    html! {
        p { (words::meaning(scenario)) " Paralleled tanks are rescaled to the whole input." }
        @for variant in [Variant::Chain, Variant::ParalleledWithSensors] {
            div data-arrangement=(variant.arrangement().name()) {
                (table(variant))
                details {
                    summary { "The same for " (told::name(variant)) ", at each operating point" }
                    (at_each_point(variant))
                }
            }
        }
        @for variant in [Variant::Paralleled, Variant::ChainWithSensors] {
            details data-arrangement=(variant.arrangement().name()) {
                summary { (caption(variant)) }
                (table(variant))
                (at_each_point(variant))
            }
        }
        (ratings::details(scenario, &study.parts.ratings, "summary.json"))
        p class="remark" {
            @if !scenario.limits.parts.is_empty() { "Limits in [[limits.part]] are judged together. " }
            "Sensors and trim elements have no rating here: what they bear depends on how they are made."
        }
    }
}

/// How the switches of each variant turn on.
pub(super) fn soft_switching(
    scenario: &Scenario,
    request: &SensorRequest,
    study: &SensorStudy,
) -> Markup {
    html! {
        (switching::inside(scenario, study.parts.switching.as_ref(), None))
        @if let Some(sensed) = &study.sensed_parts.switching {
            (switching::shares(sensed, "The same with sensors: (d) the chain, (c) the paralleled converter"))
        }
        p class="remark" {
            "The first table is without sensors: (b) the chain, (a) the paralleled converter. "
            @if request.trim == TrimmedQuantity::SwitchingFrequency {
                "How (c) turns on is judged at the common frequency, without its trims. "
            }
            code { "fairphase run" } " also searches the dead times that fit."
        }
    }
}
