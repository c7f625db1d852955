//! That the nominal converter already misses limits: before the verdicts, on terminal and page.

use maud::{Markup, html};

use crate::converter::Arrangement;
use crate::report::format::missed::{self, PARALLELED_HELP};
use crate::study::common::missed::NominalMiss;

/// What begins the list of limits that an arrangement misses.
fn heading(arrangement: Arrangement) -> &'static str {
    match arrangement {
        Arrangement::Chain => "The nominal chain already misses limits of the scenario:",
        Arrangement::Paralleled => "The nominal paralleled reference already misses limits:",
    }
}

/// The same for the terminal; in a line, where limits of its own would help.
fn heading_with_help(misses: &[NominalMiss], arrangement: Arrangement) -> &'static str {
    if arrangement == Arrangement::Paralleled && missed::blocks_too_much(misses) {
        "The nominal paralleled reference misses limits (see [limits.paralleled]):"
    } else {
        heading(arrangement)
    }
}

/// For the terminal, so many lines of an arrangement; nothing where it misses none.
pub(super) fn text(misses: &[NominalMiss], most: usize) -> String {
    let blocks = Arrangement::ALL.map(|arrangement| match missed::nominal(misses, arrangement) {
        lines if lines.is_empty() => String::new(),
        lines => {
            let heading = heading_with_help(misses, arrangement);
            format!("{heading}\n{}", missed::first_lines(&lines, most))
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
            p { strong { (heading(Arrangement::Chain)) } " " (missed::first_few(&misses)) "." }
        }
    }
}

/// For the page; nothing where it misses none.
pub(super) fn page(misses: &[NominalMiss]) -> Markup {
    let is_helped = missed::blocks_too_much(misses);
    html! {
        @for arrangement in Arrangement::ALL {
            @let missed = missed::nominal(misses, arrangement);
            @if !missed.is_empty() {
                div class="notice" {
                    p { strong { (heading(arrangement)) } }
                    ul { @for miss in missed { li { (miss) } } }
                    @if is_helped && arrangement == Arrangement::Paralleled { p { (PARALLELED_HELP) } }
                }
            }
        }
    }
}
