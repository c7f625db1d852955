//! That the nominal converter already misses limits: before the verdicts, on terminal and page.

use maud::{Markup, html};

use crate::converter::Arrangement;
use crate::report::format::missed;
use crate::study::common::missed::NominalMiss;

/// What begins the list of limits that an arrangement misses.
fn heading(arrangement: Arrangement) -> &'static str {
    match arrangement {
        Arrangement::Chain => "The nominal chain already misses limits of the scenario:",
        Arrangement::Paralleled => "The nominal paralleled reference already misses limits:",
    }
}

/// For the terminal, so many lines of an arrangement; nothing where it misses none.
pub(super) fn text(misses: &[NominalMiss], most: usize) -> String {
    let blocks = Arrangement::ALL.map(|arrangement| match missed::nominal(misses, arrangement) {
        misses if misses.is_empty() => String::new(),
        misses => {
            format!("{}\n{}", heading(arrangement), missed::first_lines(&misses, most))
        }
    });
    let text = blocks.concat();
    if text.is_empty() { text } else { text + "\n" }
}

/// That the chain misses some, for the brief; nothing where it misses none.
pub(super) fn of_chain(misses: &[NominalMiss]) -> Markup {
    let misses = missed::nominal(misses, Arrangement::Chain);
    html! {
        @if !misses.is_empty() {
            p { strong { (heading(Arrangement::Chain)) } " " (misses.join("; ")) "." }
        }
    }
}

/// For the page; nothing where it misses none.
pub(super) fn page(misses: &[NominalMiss]) -> Markup {
    html! {
        @for arrangement in Arrangement::ALL {
            @let misses = missed::nominal(misses, arrangement);
            @if !misses.is_empty() {
                div class="notice" {
                    p { strong { (heading(arrangement)) } }
                    ul { @for miss in misses { li { (miss) } } }
                }
            }
        }
    }
}
