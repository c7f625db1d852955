//! The list of contents of a page.

use maud::{Markup, PreEscaped, html};

/// A link to every section, as [`super::parts::section`] writes them.
pub(super) fn contents(sections: &Markup) -> Markup {
    let starts = sections.0.split("<section id=\"").skip(1);
    let links = starts.filter_map(|start| {
        let (id, rest) = start.split_once('"')?;
        let (_, heading) = rest.split_once("<h2 id=\"")?.1.split_once('>')?;
        let (heading, _) = heading.split_once("</h2>")?;
        Some(html! { li { a href=(format!("#{id}")) { (PreEscaped(heading)) } } })
    });
    html! { nav aria-label="Contents" { ol { @for link in links { (link) } } } }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::format::page::parts::section;

    /// A heading that looks like markup stays a text, and makes no entry of its own.
    #[test]
    fn every_section_has_its_link_in_their_order() {
        let hostile = "<section id=\"c\"><h2 id=\"c\">d</h2>";
        let sections = html! {
            (section("a", "First & last", &html! { p { "inside" } }))
            (section("b", hostile, &html! { h2 { "no section" } }))
        };
        let escaped = "&lt;section id=&quot;c&quot;&gt;&lt;h2 id=&quot;c&quot;&gt;d&lt;/h2&gt;";
        assert_eq!(
            contents(&sections).0,
            format!(
                "<nav aria-label=\"Contents\"><ol><li><a href=\"#a\">First &amp; last</a></li>\
                 <li><a href=\"#b\">{escaped}</a></li></ol></nav>"
            )
        );
    }
}
