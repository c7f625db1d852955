//! What is on offer.

use maud::{Markup, html};

use super::subject::PageSubject;
use crate::converter::Arrangement;
use crate::report::format::names::{nominal, parameter_and_symbol};
use crate::report::format::numbers::{count, money};
use crate::report::format::page::parts::{headings, number, table};
use crate::report::format::tolerance::tolerance;
use crate::report::grades::words::{reference, weeks};
use crate::scenario::Offer;

/// A row a grade.
pub(super) fn offers(subject: PageSubject) -> Markup {
    let PageSubject { grades, ranking, .. } = subject;
    let names = [
        "part",
        "grade",
        "scatter",
        "price of one",
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
    table(&caption, &headings(3, &names), &rows)
}

/// The grades of a part, the chosen one shaded.
fn rows(subject: PageSubject, offer: &Offer, chosen: usize) -> Markup {
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
                td { (tolerance(&grade.tolerance)) }
                (number(money(grade.price)))
                (number(parts.to_string()))
                (number(count(grade.minimum_quantity)))
                (number(weeks(grade.lead_time)))
            }
        }
    }
}
