//! Sentences of the brief.

use crate::converter::TrimmedQuantity;
use crate::report::format::numbers::{
    count, counted, given_percent, money, quantity, without_needless_zeros as trimmed,
};
use crate::report::format::tolerance::band;
use crate::report::format::{names, premises};
use crate::report::sensors::words as told;
use crate::scenario::{Scenario, SensorRequest, Tolerance};
use crate::study::sensors::{SensorStudy, Variant};
use crate::units::Ampere;

/// What the page answers.
pub(super) fn question(scenario: &Scenario) -> String {
    format!("Can the {} current sensors and their control loops be left out?", scenario.phases)
}

/// The answer with what a good converter costs with and without them.
pub(super) fn answer(scenario: &Scenario, study: &SensorStudy) -> String {
    let mut answer = vec![told::short_answer(scenario, study)];
    let [chain, sensed] = [Variant::Chain, Variant::ParalleledWithSensors]
        .map(|variant| study.variant(variant).price_per_good());
    if let (Some(chain), Some(sensed)) = (chain, sensed) {
        let [chain, sensed] = [chain, sensed].map(money);
        answer.push(format!("A good one costs {chain}, with sensors instead {sensed}."));
    }
    if told::open_cost(scenario, study).is_some() {
        answer.push("The lowest cost is not decided.".to_owned());
    }
    answer.join(" ")
}

/// What the numbers rest on.
pub(super) fn how_sure(scenario: &Scenario, study: &SensorStudy) -> Vec<String> {
    let method = names::method(study.settings.method).long;
    let mut failed = study.variants.iter().map(|own| own.counts[1] + own.counts[2]);
    let unsolved = if failed.all(|n| n == 0) {
        "every case is solved".to_owned()
    } else {
        let told = study.variants.iter().map(|own| {
            format!("({}) {}", own.variant.letter(), count(own.counts[1] + own.counts[2]))
        });
        let told: Vec<String> = told.collect();
        format!("cases without a solution, {}, count as failures", told.join(", "))
    };
    let mut told = vec![
        format!(
            "{} with the same parts in all four variants, by the {method} solver; {unsolved}.",
            counted(study.samples, "converter")
        ),
        format!(
            "Intervals of {} cover the error of sampling, not wrong bands, prices or failure rates.",
            given_percent(scenario.limits.confidence)
        ),
        "The phases of a chain fail together, and sensors do not see every fault: see “When one part fails”.".to_owned(),
    ];
    told.extend(premises::sentences(scenario, None));
    told
}

/// The sensors and their loops in one line.
pub(super) fn sensors(request: &SensorRequest) -> String {
    let share = |name: &str, own: Option<&Tolerance>| {
        let own = own.filter(|own| own.reach() > 0.0)?;
        Some(format!("{name} ±\u{a0}{}", given_percent(own.reach())))
    };
    let offset = request.offset.as_ref().filter(|own| own.reach() > 0.0);
    let mut all = vec![format!("one a phase, of the {}", names::shared(request.measured).long)];
    all.extend(share("gain", request.gain_error.as_ref()));
    all.extend(share("drift", request.drift.as_ref()));
    all.extend(
        offset.map(|own| format!("offset ±\u{a0}{}", trimmed(&quantity(Ampere(own.reach()))))),
    );
    let trimmed = match request.trim {
        TrimmedQuantity::Part(part) => names::parameter(part).long,
        TrimmedQuantity::SwitchingFrequency => "frequency of each paralleled phase",
    };
    all.push(format!("loops trim the {trimmed} by {}", band(request.trim_range)));
    all.join(" · ")
}
