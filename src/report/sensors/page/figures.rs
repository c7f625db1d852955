//! The pictures of the four variants: sharing errors, switch currents.

use maud::{Markup, html};

use crate::report::format::figures::{self, ClassName, Mark, Name, RangeRow, ShareCurve};
use crate::report::format::names::sharing;
use crate::report::format::numbers::given_percent;
use crate::report::format::page::parts::range;
use crate::report::sensors::brief::class;
use crate::report::sensors::words as told;
use crate::scenario::Scenario;
use crate::study::sensors::{SensorStudy, Variant};

/// Sharing errors and switch currents.
pub(super) fn figures(scenario: &Scenario, study: &SensorStudy) -> Markup {
    html! {
        div class="figures" {
            figure { (curves(scenario, study)) figcaption {
                b { "Sharing error" } ", " (sharing(scenario.limits.sharing))
                ": share of the samples within it."
            } }
            figure { (currents(study)) figcaption {
                b { "RMS current of the worst switch" } " over that of the nominal converter. Line: \
                 least to greatest of the solved samples; box: 5 % to 95 %; tick: median."
                @if study.variants.iter().any(|v| v.rms.is_some_and(|s| s.p95.is_none())) {
                    " A box whose 95 % quantile is beyond ends at the greatest."
                }
            } }
        }
    }
}

fn curves(scenario: &Scenario, study: &SensorStudy) -> Markup {
    let series: Vec<ShareCurve> = study
        .variants
        .iter()
        .map(|v| {
            let points =
                v.curve.iter().map(|p| (p.limit, [p.good.estimate, p.good.lower, p.good.upper]));
            ShareCurve {
                class: class(v.variant),
                name: told::name(v.variant),
                points: points.collect(),
            }
        })
        .collect();
    let name = Name {
        id: "sharing".into(),
        title: "Share of the samples within a sharing error".into(),
        description: "Cumulative curves with confidence bands for the four variants; the table \
                      above holds quantiles."
            .into(),
    };
    let limit = scenario
        .limits
        .sharing_error
        .map(|value| Mark { value, label: format!("limit {}", given_percent(value)) });
    let value = scenario.limits.yield_target;
    let target = Mark { value, label: format!("target {}", given_percent(value)) };
    figures::curves(&name, "sharing error, logarithmic scale", &series, limit.as_ref(), &target)
}

fn currents(study: &SensorStudy) -> Markup {
    let rows: Vec<RangeRow> = study
        .variants
        .iter()
        .map(|v| RangeRow {
            label: String::new(),
            ranges: v
                .rms
                .iter()
                .map(|s| (class(v.variant), range(s).map(|x| x / v.nominal[0])))
                .collect(),
        })
        .collect();
    let name = Name {
        id: "currents".into(),
        title: "RMS current of the worst switch over the nominal converter's".into(),
        description: "Range over the samples for the four variants; the table above holds ratings."
            .into(),
    };
    let nominal = Mark { value: 1.0, label: "equal parts".into() };
    let names: Vec<ClassName> =
        Variant::ALL.map(|own| ClassName { class: class(own), name: told::name(own) }).to_vec();
    let axis = "RMS current of the worst switch / nominal";
    figures::ranges(&name, axis, &rows, &names, Some(&nominal))
}
