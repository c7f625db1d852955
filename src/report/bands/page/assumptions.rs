//! The recommended set under other assumptions.

use maud::{Markup, html};

use crate::report::bands::words::assumptions::{heading, method, nothing};
use crate::report::format::what_if::page::yields;
use crate::report::format::what_if::words::{THE_VERDICT, sentence};
use crate::study::bands::Bands;

/// The table, or why there is none; none where other assumptions were not asked for.
pub(super) fn assumptions(bands: &Bands) -> Option<Markup> {
    let Some(found) = &bands.other_assumptions else {
        return nothing(bands).map(|why| html! { p { (why) } });
    };
    Some(html! {
        p class="lead" { (sentence(THE_VERDICT, &found.what_if)) }
        (yields(&found.what_if, heading(bands)))
        p class="remark" { (method(bands, found)) }
    })
}
