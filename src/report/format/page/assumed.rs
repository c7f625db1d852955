//! The parts as the scenario assumes them.

use maud::{Markup, html};

use super::parts::{headings, number, table};
use crate::converter::AssumedDrift;
use crate::report::format::{conditions, names, numbers, tolerance};
use crate::scenario::{Scenario, Tolerance};

/// Nominal parts with the tolerances assumed, the frequency band and all limits.
pub(in crate::report) fn assumed(scenario: &Scenario) -> Markup {
    let head = headings(2, &["parameter", "shape", "nominal", "band", "lot share"]);
    let rows = html! {
        @for parameter in names::told(scenario) {
            tr {
                th scope="row" { (names::parameter_and_symbol(parameter)) }
                @let nominal = number(names::nominal(scenario, parameter));
                (scatter(scenario.tolerances.get(parameter), &nominal))
            }
        }
    };
    html! {
        p {
            (scenario.phases) " phases; switching frequency from "
            (numbers::quantity(scenario.frequency.minimum)) " to "
            (numbers::quantity(scenario.frequency.maximum)) "; drift of each flying-capacitor voltage "
            @match scenario.drift {
                AssumedDrift::Stated(drift) => { "assumed as " (numbers::quantity(drift)) "." }
                AssumedDrift::FromCauses(_) => { "from its causes." }
            }
        }
        (table("Nominal parts and their scatter, as the scenario has them", &head, &rows))
        p class="remark" {
            "The band is the half width, of the nominal value. Uniform: every value inside the band \
             is equally likely. Triangular: the density is highest at the nominal value and falls in \
             a straight line to zero at the band. Normal: the band is the given number of standard \
             deviations σ, and the distribution ends there. The lot share is the part of the \
             variance that the phases of one converter have in common, because their parts come \
             from one lot. It shifts all phases alike, so it affects sharing little. "
            (tolerance::dependence(&scenario.tolerances))
        }
        @for note in tolerance::notes(&scenario.tolerances) { p class="remark" { (note) } }
        @let screened = tolerance::screened(&scenario.tolerances);
        @if !screened.is_empty() {
            p { "At incoming inspection:" }
            ul { @for line in &screened { li { (line) } } }
        }
        (conditions::assumed(scenario))
    }
}

fn scatter(assumed: Option<&Tolerance>, nominal: &Markup) -> Markup {
    html! {
        @match assumed {
            Some(t) => {
                td { (tolerance::shape(t)) }
                (nominal)
                (number(tolerance::band_of(t)))
                (number(numbers::given_percent(t.lot_share)))
            }
            None => {
                td { "exact" }
                (nominal)
                (number(numbers::NONE))
                (number(numbers::NONE))
            }
        }
    }
}
