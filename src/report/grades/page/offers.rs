//! What is on offer.

use maud::{Markup, html};

use crate::converter::Arrangement;
use crate::report::format::names::{nominal, parameter_and_symbol};
use crate::report::format::numbers::{NONE, count, money, percent};
use crate::report::format::page::parts::{folded_table, headings, number};
use crate::report::format::tolerance::tolerance;
use crate::report::grades::subject::GradesSubject;
use crate::report::grades::words::{reference, weeks};
use crate::scenario::{Grade, Matching, Offer};

/// A row a grade.
pub(super) fn offers(subject: GradesSubject) -> Markup {
    let GradesSubject { grades, ranking, .. } = subject;
    let names = [
        "part",
        "grade",
        "scatter",
        "price of one",
        "price breaks",
        "parts per converter",
        "minimum order",
        "lead time, weeks",
    ];
    let chosen = &ranking.recommended().candidate.grades;
    let rows = html! {
        @for (offer, chosen) in grades.offers.iter().zip(chosen) { (rows(subject, offer, *chosen)) }
    };
    let caption = format!(
        "Grades on offer; prices in {}; those of the {} set are shaded",
        grades.currency,
        reference(subject.scenario, ranking)
    );
    folded_table(&caption, &headings(3, &names), &rows)
}

/// The grades of a part, the chosen one shaded.
fn rows(subject: GradesSubject, offer: &Offer, chosen: usize) -> Markup {
    let parts = offer.parameter.parts(subject.ranking.size, Arrangement::Chain);
    html! {
        @for (n, grade) in offer.grades.iter().enumerate() {
            tr class=[(chosen == n).then_some("limited")] {
                @if n == 0 {
                    th scope="rowgroup" rowspan=(offer.grades.len()) {
                        (parameter_and_symbol(offer.parameter)) br;
                        small { (nominal(subject.scenario, offer.parameter)) }
                    }
                }
                th scope="row" { (grade.name) }
                td {
                    (tolerance(&grade.tolerance))
                    @if let Some(own) = grade.tolerance.matching { br; small { (matching(own)) } }
                }
                (number(money(grade.price)))
                td { (lower_prices(grade)) }
                (number(parts.to_string()))
                (number(count(grade.minimum_quantity)))
                (number(weeks(grade.lead_time)))
            }
        }
    }
}

/// The lower prices of larger orders.
fn lower_prices(grade: &Grade) -> String {
    let breaks = grade.price_breaks.iter();
    let all: Vec<String> =
        breaks.map(|own| format!("{} from {}", money(own.price), count(own.quantity))).collect();
    if all.is_empty() { NONE.to_owned() } else { all.join(", ") }
}

/// How parts are matched.
fn matching(own: Matching) -> String {
    format!(
        "measured (standard uncertainty {}) and matched: {} sorted together, {} each",
        percent(own.uncertainty),
        count(own.pieces as u64),
        money(own.cost)
    )
}
