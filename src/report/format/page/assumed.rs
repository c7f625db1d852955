//! The parts as the scenario assumes them.

use maud::{Markup, html};

use super::parts::{headings, number, table};
use crate::converter::Parameter;
use crate::report::format::{tolerance, words};
use crate::scenario::{Scenario, Tolerance};

/// Nominal parts with the tolerances assumed, the frequency band and all limits.
pub(in crate::report) fn assumed(scenario: &Scenario) -> Markup {
    let head = headings(2, &["parameter", "shape", "nominal", "band", "lot share"]);
    let rows = html! {
        @for parameter in Parameter::ALL {
            tr {
                th scope="row" { (words::parameter(parameter)) }
                @let nominal = number(words::nominal(scenario, parameter));
                (scatter(scenario.tolerances.get(parameter), &nominal))
            }
        }
    };
    html! {
        p {
            (scenario.phases) " phases; switching frequency from "
            (words::quantity(scenario.frequency.minimum)) " to "
            (words::quantity(scenario.frequency.maximum)) "; assumed drift of each flying-capacitor voltage "
            (words::quantity(scenario.neutral_split)) "."
        }
        (table("Nominal parts and their scatter, as the scenario has them", &head, &rows))
        p class="remark" {
            "The band is the half width, of the nominal value. Uniform: every value inside the band \
             is as likely. Triangular: likeliest at the nominal value, falling straight to nothing \
             at the band. Normal: the band is the given number of standard deviations, and the \
             distribution ends there. The lot share is the part of the variance that the phases of \
             one converter have in common, because their parts come from one lot: it moves the \
             converter as a whole and does little harm to sharing. The parameters scatter \
             independently of each other."
        }
    }
}

fn scatter(assumed: Option<Tolerance>, nominal: &Markup) -> Markup {
    html! {
        @match assumed {
            Some(t) => {
                td { (tolerance::shape(t.shape)) }
                (nominal)
                (number(tolerance::band(t.band)))
                (number(words::given_percent(t.lot_share)))
            }
            None => {
                td { "exact" }
                (nominal)
                (number(words::NONE))
                (number(words::NONE))
            }
        }
    }
}
