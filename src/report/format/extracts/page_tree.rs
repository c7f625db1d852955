//! A finished page as a tree: its body as XML, and how things are found in it.

use roxmltree::{Document, Node};

/// Elements of HTML that have no end (HTML Living Standard, section 13.1.2).
const VOID: [&str; 13] = [
    "area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track",
    "wbr",
];

/// The body of a page as XML, without footer and scripts.
pub(super) fn body(page: &str) -> Option<String> {
    let (_, body) = page.split_once("<body>")?;
    let (body, _) = body.split_once("<footer>")?;
    let mut xml = String::with_capacity(body.len() + 1024);
    xml.push_str("<body>");
    let mut table = OpenTable::default();
    for (n, part) in body.split('<').enumerate() {
        match part.split_once('>').filter(|_| n > 0) {
            Some((tag, text)) => {
                table.close_implied(tag, &mut xml);
                xml.extend(["<", &closed(tag), ">", text]);
            }
            None => xml.push_str(part),
        }
    }
    xml.push_str("</body>");
    // Two characters of Unicode that XML 1.0 (section 2.2) does not allow.
    Some(xml.replace(['\u{fffe}', '\u{ffff}'], "\u{fffd}"))
}

/// What is open of a table whose cells and rows may lack their ends (HTML Living Standard, section 13.1.2.4).
#[derive(Default)]
struct OpenTable {
    cell: Option<&'static str>,
    row: bool,
}

impl OpenTable {
    /// Writes the ends that a tag implies, and notes what it opens and closes.
    fn close_implied(&mut self, tag: &str, xml: &mut String) {
        let name = tag.split(' ').next().unwrap_or("");
        let ends_row = ["tr", "/tbody", "/thead"].contains(&name);
        if ends_row || ["td", "th", "/tr"].contains(&name) {
            xml.push_str(self.cell.take().unwrap_or_default());
        }
        if ends_row && std::mem::take(&mut self.row) {
            xml.push_str("</tr>");
        }
        match name {
            "td" => self.cell = Some("</td>"),
            "th" => self.cell = Some("</th>"),
            "/td" | "/th" => self.cell = None,
            "tr" => self.row = true,
            "/tr" => self.row = false,
            _ => {}
        }
    }
}

/// The inside of a tag with a value for every attribute, and the end of an element that has none.
fn closed(tag: &str) -> String {
    let name = tag.split([' ', '/']).next().unwrap_or("");
    let (mut closed, mut left) = (String::new(), tag);
    while !left.is_empty() {
        let (words, quoted) = left.split_at(left.find(['"', '\'']).unwrap_or(left.len()));
        for (k, word) in words.split(' ').enumerate() {
            let is_bare = k > 0 && !word.is_empty() && word != "/" && !word.ends_with('=');
            closed.extend([if k > 0 { " " } else { "" }, word, if is_bare { "=\"\"" } else { "" }]);
        }
        // A value goes to the next mark like that which it begins with.
        let mut marks = quoted.match_indices(&quoted[..quoted.len().min(1)]);
        let end = marks.nth(1).map_or(quoted.len(), |(at, _)| at + 1);
        closed.push_str(&quoted[..end]);
        left = &quoted[end..];
    }
    if VOID.contains(&name) && !closed.ends_with('/') {
        closed.push('/');
    }
    closed
}

/// Whether an element has a class.
pub(super) fn has_class(node: Node<'_, '_>, class: &str) -> bool {
    node.attribute("class").is_some_and(|all| all.split(' ').any(|own| own == class))
}

/// The text of an element on one line; a line break is a blank, and what is skipped is left out.
pub(super) fn text_without(node: Node<'_, '_>, skipped: &str) -> String {
    let mut text = String::new();
    for inner in node.descendants() {
        let is_skipped =
            inner.ancestors().take_while(|outer| *outer != node).any(|o| has_class(o, skipped));
        if inner.has_tag_name("br") {
            text.push(' ');
        } else if let Some(own) = inner.text().filter(|_| inner.is_text() && !is_skipped) {
            text.push_str(own);
        }
    }
    let words = text.split(|c: char| c.is_whitespace() && c != '\u{a0}');
    words.filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ")
}

/// The text of an element on one line.
pub(super) fn text(node: Node<'_, '_>) -> String {
    text_without(node, "")
}

/// Title of the page, and what its results rest on.
pub(super) fn basis(tree: &Document<'_>) -> String {
    let header = tree.descendants().find(|node| node.has_tag_name("header"));
    let parts = header.into_iter().flat_map(|header| header.children()).map(text);
    parts.filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" · ")
}

/// The nearest element of a name or class around a node.
pub(super) fn around<'a, 'input>(
    node: Node<'a, 'input>,
    name_or_class: &str,
) -> Option<Node<'a, 'input>> {
    node.ancestors().find(|o| o.has_tag_name(name_or_class) || has_class(*o, name_or_class))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_body_becomes_xml() {
        let page = "<html><meta charset=\"utf-8\"><body><details open class=\"a b\">1 &lt; 2<br>\
                    <input type=\"x\" hidden><i/></details>\u{ffff}<footer></footer></body></html>";
        let xml = body(page).unwrap();
        assert_eq!(
            xml,
            "<body><details open=\"\" class=\"a b\">1 &lt; 2<br/><input type=\"x\" hidden=\"\"/>\
             <i/></details>\u{fffd}</body>"
        );
        // Attributes in single quotes, which hold others.
        let both = "<body><p data-a='1 \"2\" 3' title=\"it's\" hidden>x</p><footer>";
        let told = "<body><p data-a='1 \"2\" 3' title=\"it's\" hidden=\"\">x</p></body>";
        assert_eq!(body(both).unwrap(), told);
        let tree = Document::parse(&xml).unwrap();
        let details = tree.root_element().first_element_child().unwrap();
        assert!(has_class(details, "b") && !has_class(details, "a b"));
        assert_eq!(text(details), "1 < 2");
        assert_eq!(body("<p>no body</p>"), None);
    }

    /// Both tables are the same to a browser.
    #[test]
    fn cells_and_rows_get_the_ends_that_they_lack() {
        let whole = "<table><thead><tr><th>a</th><th>b</th></tr></thead><tbody><tr><th>1</th>\
                     <td>2</td></tr><tr><td>3</td></tr></tbody></table>";
        let short =
            "<table><thead><tr><th>a<th>b</thead><tbody><tr><th>1<td>2<tr><td>3</tbody></table>";
        let page = |table: &str| format!("<body>{table}<footer>");
        assert_eq!(body(&page(short)), body(&page(whole)));
        assert!(body(&page(short)).unwrap().contains(whole));
    }

    #[test]
    fn the_text_of_an_element_is_one_line() {
        let tree = Document::parse("<p>a<br/><b>b\n  c</b> <i class=\"x\">d</i></p>").unwrap();
        assert_eq!(text(tree.root_element()), "a b c d");
        assert_eq!(text_without(tree.root_element(), "x"), "a b c");
    }
}
