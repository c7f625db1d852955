//! The frame of every page: head, title block, footer, style. A page opens offline, needs no script
//! and prints. It holds no date and no number of threads, so that the same result gives the same
//! bytes.

pub(in crate::report) mod assumed;
pub(in crate::report) mod brief;
pub(in crate::report) mod parts;
pub(in crate::report) mod prose;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::printable;
use crate::report::format::numbers::UNITS;

const STYLE: &str = include_str!("style.css");

/// What a browser may load for a page: nothing but the style within it (W3C, Content Security Policy
/// Level 3).
const POLICY: &str =
    "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'";

/// What pages of `run` and `units` are about.
pub(in crate::report) const SHARING: &str = "Current sharing";

/// A page with its head, its title block and what stands below it; `kind` says what it is about.
pub(in crate::report) fn document(
    kind: &str,
    title: &str,
    fields: &[(&str, String)],
    inside: &Markup,
) -> String {
    page(kind, title, &html! { (header(kind, title, fields)) (inside) })
}

/// The frame of every page.
fn page(kind: &str, title: &str, inside: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en-GB" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="generator" content=(generator());
                title { (title) " – " (kind.to_lowercase()) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                (inside)
                footer { p { (generator()) ". Results of a model: measure before you rely on them." } }
            }
        }
    };
    // Whatever comes from outside is made safe here, so that no page can forget it.
    with_shapes_closed(&with_units_held(&printable::lines(&page.into_string())))
}

/// The page with the empty elements of its drawings closed where they begin: a twentieth shorter.
fn with_shapes_closed(page: &str) -> String {
    ["line", "rect", "path", "circle"]
        .iter()
        .fold(page.to_owned(), |page, shape| page.replace(&format!("></{shape}>"), "/>"))
}

/// A page that begins with its brief: a line with the title and what the results rest on, the brief, then
/// what stands below it.
pub(in crate::report) fn briefed_document(
    kind: &str,
    title: &str,
    fields: &[String],
    brief: &Markup,
    inside: &Markup,
) -> String {
    let head = html! {
        div class="brief-sheet" {
            header class="line" {
                h1 { (title) }
                p { (fields.join(" · ")) }
            }
            (brief)
        }
    };
    page(kind, title, &html! { (head) (inside) })
}

/// The page with no line break before a unit that ends a text, such as the heading of a column.
fn with_units_held(page: &str) -> String {
    UNITS.iter().fold(page.to_owned(), |page, unit| {
        page.replace(&format!(" {unit}<"), &format!("\u{a0}{unit}<"))
    })
}

pub(in crate::report) fn generator() -> String {
    format!("fairphase {}", env!("CARGO_PKG_VERSION"))
}

/// Whether a value takes the room of two fields: in one it would break within a name.
fn is_long(value: &str) -> bool {
    value.chars().count() > 16
}

/// The title, and what the results rest on in a block like that of a drawing.
fn header(kind: &str, title: &str, fields: &[(&str, String)]) -> Markup {
    html! {
        header {
            div {
                p class="kind" { (kind) " of an interleaved LLC converter" }
                h1 { (title) }
            }
            dl class="block" {
                @for (n, (name, value)) in fields.iter().enumerate() {
                    div class=[(n < 2 || is_long(value)).then_some("wide")] { dt { (name) } dd { (value) } }
                }
            }
        }
    }
}
