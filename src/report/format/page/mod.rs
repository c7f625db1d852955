//! The frame of every page: head, line with the title, footer, style. A page opens offline, is complete
//! where scripts are off, and prints. It holds no date and no number of threads, so that the same result gives the same
//! bytes.

pub(in crate::report) mod assumed;
pub(in crate::report) mod brief;
pub(in crate::report) mod brief_basis;
mod contents;
pub(in crate::report) mod parts;
pub(in crate::report) mod picker;
pub(in crate::report) mod prose;

use base64::prelude::{BASE64_STANDARD, Engine};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use sha2::{Digest, Sha256};

use self::contents::contents;
use crate::printable;
use crate::report::format::numbers::UNITS;

/// The style of all pages.
pub(in crate::report) const STYLE: &str = include_str!("style.css");

/// What a page adds where scripts run: a file a purpose, and the attribute without which it has nothing to do.
const SCRIPTS: [(&str, &str); 8] = [
    ("", include_str!("shared.js")),
    (" data-point=", include_str!("points.js")),
    ("", include_str!("tables.js")),
    (" data-limits=", include_str!("limits.js")),
    (" data-converters=", include_str!("picker.js")),
    (" data-kind=\"samples\"", include_str!("samples.js")),
    (" data-kind=\"units\"", include_str!("units.js")),
    ("", include_str!("marks.js")),
];

/// The script of a page that holds this: what it needs of all.
fn script(inside: &str) -> String {
    let needed = SCRIPTS.iter().filter(|(attribute, _)| inside.contains(attribute));
    needed.map(|(_, text)| packed(text)).collect::<Vec<_>>().join("\n")
}

/// A style or script without indents and lines of comment, which are for those who change it.
fn packed(text: &str) -> String {
    let lines = text.lines().map(str::trim_start).filter(|line| !line.starts_with("//"));
    lines.collect::<Vec<_>>().join("\n")
}

/// What a browser may load for a page: nothing but the style within it and the script of these bytes (W3C,
/// Content Security Policy Level 3).
fn policy(script: &str) -> String {
    let digest = BASE64_STANDARD.encode(Sha256::digest(script));
    format!(
        "default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'; base-uri 'none'; \
         form-action 'none'"
    )
}

/// What pages of `run` and `units` are about.
pub(in crate::report) const SHARING: &str = "Current sharing";

/// The frame of every page.
fn page(kind: &str, title: &str, mut inside: Markup) -> String {
    let script = script(&inside.0);
    // Each text goes as soon as the next one is there: with many operating points they have megabytes.
    inside = PreEscaped(with_plain_quotes(&inside.0));
    let mut page = html! {
        (DOCTYPE)
        html lang="en-GB" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy(&script));
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="generator" content=(generator());
                title { (title) " – " (kind.to_lowercase()) }
                style { (PreEscaped(packed(STYLE))) }
            }
            body {
                (inside)
                footer { p { (generator()) ". Results of a model: measure before you rely on them." } }
                script { (PreEscaped(&script)) }
            }
        }
    }
    .into_string();
    drop(inside);
    // Whatever comes from outside is made safe here, so that no page can forget it.
    page = with_units_held(&printable::lines(&page));
    for shortened in [with_shapes_closed, with_plain_numbers, without_ends_of_cells] {
        page = shortened(&page);
    }
    page
}

/// What markup holds, with attributes that hold many quotation marks, such as data for a script, in single ones:
/// five characters a mark shorter.
fn with_plain_quotes(inside: &str) -> String {
    // Marks that are written out delimit attributes; texts hold none.
    let pieces = inside.split('"').enumerate();
    let quoted = |(n, piece): (usize, &str)| match (n % 2, piece.contains("&quot;")) {
        (0, _) => piece.to_owned(),
        (_, false) => format!("\"{piece}\""),
        (_, true) => format!("'{}'", piece.replace('\'', "&#39;").replace("&quot;", "\"")),
    };
    pieces.map(quoted).collect()
}

/// The page with the empty elements of its drawings closed where they begin: a twentieth shorter. What
/// holds an element, such as a title, does not end in an attribute, and stays.
fn with_shapes_closed(page: &str) -> String {
    ["line", "rect", "path", "circle"]
        .iter()
        .fold(page.to_owned(), |page, shape| replace(&page, &format!("\"></{shape}>"), "\"/>"))
}

/// The page with cells of numbers, which are most of all, written without their class, and cells of texts with
/// one.
fn with_plain_numbers(page: &str) -> String {
    let texts = ["<td>", "<td rowspan", "<td colspan"].iter();
    let marked = texts.fold(page.to_owned(), |page, cell| {
        replace(&page, cell, &cell.replacen("<td", "<td class=\"t\"", 1))
    });
    replace(&marked, "<td class=\"n\">", "<td>")
}

/// The page without the ends of cells and rows where the next one begins or the table part ends: there they say
/// nothing (HTML, section 13.1.2.4, optional tags). The end of a cell within another cell stays.
fn without_ends_of_cells(page: &str) -> String {
    // No page holds this character: what has been left out is left out once.
    const LEFT_OUT: &str = "\u{1}";
    let cells = ["</td>", "</th>"].map(|end| (end, ["<td", "<th", "</tr>"]));
    let rows = ("</tr>", ["<tr", "</tbody>", "</thead>"]);
    let mut short = page.to_owned();
    for (end, all) in cells.into_iter().chain([rows]) {
        for next in all {
            short = replace(&short, &format!("{end}{next}"), &format!("{LEFT_OUT}{next}"));
        }
    }
    replace(&short, LEFT_OUT, "")
}

/// A page that begins with its brief: a line with the title and what the results rest on, the brief, then
/// a list of the sections below it, and these.
pub(in crate::report) fn briefed_document(
    kind: &str,
    title: &str,
    fields: &[String],
    brief: &Markup,
    sections: Markup,
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
    let inside = html! { (head) (contents(&sections)) main { (sections) } };
    drop(sections);
    page(kind, title, inside)
}

/// The page with no line break before a unit that ends a text, such as the heading of a column.
fn with_units_held(page: &str) -> String {
    let mut held = String::with_capacity(roomy(page));
    for piece in page.split_inclusive('<') {
        let ends = piece.strip_suffix('<').and_then(|text| text.rsplit_once(' '));
        match ends.filter(|(_, unit)| UNITS.contains(unit)) {
            Some((text, unit)) => held.extend([text, "\u{a0}", unit, "<"]),
            None => held.push_str(piece),
        }
    }
    held
}

/// Does as [`str::replace`] does, in room that is given at once: a page has megabytes where it tells of many
/// operating points, and a text that grows moves into twice the room.
fn replace(page: &str, from: &str, to: &str) -> String {
    let mut replaced = String::with_capacity(roomy(page));
    let mut pieces = page.split(from);
    replaced.extend(pieces.next());
    pieces.for_each(|piece| replaced.extend([to, piece]));
    replaced
}

/// Room for a page that may become longer by a part.
const fn roomy(page: &str) -> usize {
    page.len() + page.len() / 8
}

pub(in crate::report) fn generator() -> String {
    format!("fairphase {}", env!("CARGO_PKG_VERSION"))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A circle with a title keeps its end: otherwise those that follow would lie within it, unseen.
    #[test]
    fn shapes_that_hold_something_keep_their_ends() {
        let empty = "<circle r=\"1\"></circle>";
        let titled = "<circle r=\"1\"><title>a</title></circle>";
        assert_eq!(with_shapes_closed(empty), "<circle r=\"1\"/>");
        assert_eq!(with_shapes_closed(titled), titled);
    }

    /// HTML, section 13.1.2.3: either mark may delimit a value that does not hold it.
    #[test]
    fn attributes_that_hold_marks_are_held_by_single_ones() {
        let inside = html! { p title="a" data-own="{\"b\": \"it's <c>\"}" { "d \"e\"" } };
        let expected =
            "<p title=\"a\" data-own='{\"b\": \"it&#39;s &lt;c&gt;\"}'>d &quot;e&quot;</p>";
        assert_eq!(with_plain_quotes(&inside.0), expected);
    }

    #[test]
    fn cells_of_numbers_are_the_plain_ones() {
        let cells = "<td>a</td><td rowspan=\"2\">b</td><td class=\"n\">1</td><td class=\"n\" rowspan=\"2\">2</td>";
        let expected = "<td class=\"t\">a</td><td class=\"t\" rowspan=\"2\">b</td><td>1</td><td class=\"n\" rowspan=\"2\">2</td>";
        assert_eq!(with_plain_numbers(cells), expected);
    }

    #[test]
    fn ends_of_cells_and_rows_are_left_out_where_the_next_begins() {
        let table = "<tbody><tr><th>a</th><td>1</td><td>2</td></tr><tr><td>3</td></tr></tbody>";
        let expected = "<tbody><tr><th>a<td>1<td>2<tr><td>3</tbody>";
        assert_eq!(without_ends_of_cells(table), expected);
        for nested in ["<tr><td><th>a</th></td></tr>", "<tr><th><td>a</td></th></tr>"] {
            assert!(without_ends_of_cells(nested).contains("a</t"), "it is seen");
        }
    }

    /// The policy lets the script of the page run, as it stands there, and no other. FIPS 180-4, section
    /// 6.2, with the example of NIST for "abc".
    #[test]
    fn the_policy_allows_the_script_of_the_page_alone() {
        let [without, page] = [html! {}, html! { p data-limits="" {} }]
            .map(|inside| briefed_document("Kind", "A title", &[], &html! {}, inside));
        assert!(without.len() + 5_000 < page.len(), "a script is there where it is needed");
        let script = page.split_once("<script>").unwrap().1.split_once("</script>").unwrap().0;
        let digest = BASE64_STANDARD.encode(Sha256::digest(script));
        assert!(page.contains(&format!("script-src 'sha256-{digest}'")));
        let abc = "ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0=";
        assert_eq!(BASE64_STANDARD.encode(Sha256::digest("abc")), abc);
    }
}
