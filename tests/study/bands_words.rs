//! Every state of the answer of `bands`: terminal, page and summary say the same.
#![allow(missing_docs, clippy::unwrap_used, reason = "a test")]

use fairphase::report::bands::report;
use fairphase::scenario::{Scenario, Tolerances};
use fairphase::statistics::Verdict;
use fairphase::study::bands::Bands;
use fairphase::study::common::settings::Draws;
use fairphase::study::common::trials::Trial;
use serde_json::Value;

use crate::bands::{
    LR, SAMPLES, all_or_half, band, failing, priced_scenario, scenario, shown, study_of, with_steps,
};

/// A state, and what must be told of it.
struct ToldState {
    verdict: Verdict,
    /// What follows "Bands to specify: ".
    specified: &'static str,
    /// What follows "Margin: ".
    margin: &'static str,
    /// Whether the summary has a set of bands to specify, and a margin.
    in_summary: [bool; 2],
}

fn found(scenario: &Scenario, evaluate: impl Fn(&Tolerances, Draws) -> Trial) -> Bands {
    study_of(scenario, SAMPLES, evaluate).unwrap()
}

fn checked(scenario: &Scenario, bands: &Bands, state: &ToldState) -> Value {
    assert_eq!(bands.parts[0].verdict, state.verdict);
    let told = [("Bands to specify: ", state.specified), ("Margin: ", state.margin)];
    for shown in shown(scenario, bands) {
        for (heading, words) in told {
            assert!(shown.contains(&format!("{heading}{words}")), "{heading}{words} in {shown}");
        }
    }
    let summary = report(scenario, bands).unwrap().summary.value().unwrap();
    let decision = &summary["decision"];
    let present = ["bands_to_specify", "margin"].map(|key| !decision[key].is_null());
    assert_eq!(present, state.in_summary, "{decision}");
    assert_eq!(decision["verdict"], serde_json::to_value(state.verdict).unwrap());
    summary
}

/// Without prices: present bands that pass with room, up to the widest asked for, without room shown;
/// that are open and that miss; and exact parts that are open and that miss.
#[test]
fn all_states_of_bands_without_prices_are_told_alike() {
    use Verdict::{Fail, NotDecided, Pass};
    // One step, so wide that it meets the target only where everything does.
    let scenario = with_steps(scenario(), &[0.45]);
    let state = |verdict, specified, margin, in_summary| ToldState {
        verdict,
        specified,
        margin,
        in_summary,
    };
    let square = |share: f64| {
        move |bands: &Tolerances, draw| failing(share * (band(bands, LR) / 0.1).powi(2), draw)
    };
    let room = found(&scenario, |bands, draw| all_or_half(band(bands, LR) <= 0.2, draw));
    let told = state(Pass, "all present bands times ", "all bands together can be ", [true; 2]);
    checked(&scenario, &room, &told);
    let widest = found(&scenario, |_, draw| all_or_half(true, draw));
    let told = state(
        Pass,
        "a set that can be ordered, every band a step.",
        "all bands together can be as wide as the scenario asks for.",
        [true; 2],
    );
    checked(&scenario, &widest, &told);
    let narrow = found(&scenario, |bands, draw| {
        let kind = if draw.source.is_fresh() { 0.0085 } else { 0.0099 };
        square(kind)(bands, draw)
    });
    let told = state(
        Pass,
        "the present bands. Fresh samples confirmed no wider set.",
        "not shown by so many samples.",
        [false, true],
    );
    checked(&scenario, &narrow, &told);
    let told =
        state(NotDecided, "all present bands times 0.9", "not decided for the present", [true; 2]);
    checked(&scenario, &found(&scenario, square(0.0095)), &told);
    let told = state(
        Fail,
        "all present bands times 0.",
        "none. All bands together must shrink",
        [true; 2],
    );
    checked(&scenario, &found(&scenario, square(0.02)), &told);
    let told = state(
        NotDecided,
        "none yet. Fresh samples confirmed no set of bands.",
        "not decided, not even for exact parts.",
        [false; 2],
    );
    checked(&scenario, &found(&scenario, |_, draw| failing(0.0095, draw)), &told);
    let told = state(
        Fail,
        "none. Even exact parts miss the target.",
        "none. Even exact parts miss the target",
        [false; 2],
    );
    checked(&scenario, &found(&scenario, |_, draw| failing(0.02, draw)), &told);
}

/// With prices: the cheapest set settled, a cheaper one left open, all missing, and none confirmed. Sets
/// of Lr, which has 10 % at present: 1 % at 3.00, 5 % at 2.00 and 20 % at 1.00 for each of three phases.
#[test]
fn all_states_of_the_cheapest_set_are_told_alike() {
    use Verdict::{Fail, Pass};
    let list = "resonant_inductance = [{ band = \"1 %\", price = 3 }, { band = \"5 %\", price = 2 }, \
                { band = \"20 %\", price = 1 }]\n";
    let scenario = priced_scenario(list);
    // Shares that fail up to 1 %, 5 %, 10 % and beyond, in the search and on fresh samples.
    let by_width = |search: [f64; 4], fresh: [f64; 4]| {
        found(&scenario, move |bands: &Tolerances, draw: Draws| {
            let wide = [0.01, 0.05, 0.1].iter().filter(|own| band(bands, LR) > **own).count();
            failing(if draw.source.is_fresh() { fresh[wide] } else { search[wide] }, draw)
        })
    };
    for (search, fresh, verdict, specified, ending, source) in [
        (
            [0.0, 0.0, 0.0, 0.02],
            [0.0, 0.0, 0.0, 0.02],
            Pass,
            "the cheapest set on offer that meets the target. Its parts cost 6.00",
            "The cheapest of all sets on offer that meets the target.",
            "confirmed",
        ),
        (
            [0.0, 0.0, 0.0, 0.0095],
            [0.0, 0.0, 0.0, 0.0095],
            Pass,
            "the cheapest confirmed set on offer. A cheaper one may meet the target. Its parts cost 6.00",
            "The cheapest confirmed set. 1 cheaper set is not decided: more samples may decide.",
            "confirmed",
        ),
        (
            [0.02; 4],
            [0.02; 4],
            Fail,
            "none. Every set on offer misses the target.",
            "None. Every set on offer misses the target.",
            "every set misses the target",
        ),
        (
            [0.0; 4],
            [0.02; 4],
            Fail,
            "none yet. Fresh samples confirmed no set on offer.",
            "Not decided. The search found sets on offer that meet the target.",
            "open",
        ),
    ] {
        let bands = by_width(search, fresh);
        for shown in shown(&scenario, &bands) {
            assert!(
                shown.contains(&format!("Bands to specify: {specified}")),
                "{specified} in {shown}"
            );
            assert!(shown.contains(ending), "{ending} in {shown}");
            assert!(!shown.contains("cheapest set on offer. Its"), "a claim without a condition");
        }
        assert_eq!(bands.parts[0].verdict, verdict);
        let summary = report(&scenario, &bands).unwrap().summary.value().unwrap();
        assert_eq!(summary["cheapest"]["ending"], source);
        let specified = &summary["decision"]["bands_to_specify"];
        assert_eq!(specified.is_null(), source != "confirmed");
    }
}
