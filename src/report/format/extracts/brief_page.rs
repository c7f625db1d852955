//! The brief as a page of its own: the first sheet with the command that makes it. Nothing in it leads
//! elsewhere, so that it can be passed on alone.

use maud::html;
use roxmltree::{Document, Node};

use super::page_tree::{has_class, text};

/// The brief of a page; none where it has none. `body` is the text of the tree.
pub(super) fn page(page: &str, body: &str, tree: &Document<'_>) -> Option<String> {
    let (head, _) = page.split_once("<body>")?;
    let of_class = |class| tree.descendants().find(|node| has_class(*node, class));
    let (sheet, foot) = (of_class("brief-sheet")?.range(), of_class("brief-foot")?.range());
    // The command is the last line of the foot, before its end tag.
    let end = body.get(foot)?.rfind("</")? + of_class("brief-foot")?.range().start;
    let (before, after) = (body.get(sheet.start..end)?, body.get(end..sheet.end)?);
    let command = command(tree)
        .map(|command| html! { p { b { "Command: " } code { (command) } } }.into_string());
    let sheet = without_links(&[before, &command.unwrap_or_default(), after].concat());
    Some(format!("{head}<body class=\"alone\"><main>{sheet}</main></body></html>"))
}

/// The command that makes the page again.
fn command(tree: &Document<'_>) -> Option<String> {
    let is_about = |node: &Node<'_, '_>| node.attribute("id") == Some("reproduce");
    let section = tree.descendants().find(is_about)?;
    section.descendants().find(|node| node.has_tag_name("code")).map(text)
}

/// The text without the tags of links, which lead to other parts of the page.
fn without_links(text: &str) -> String {
    let mut parts = text.split("<a ");
    let mut out = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        out.push_str(part.split_once('>').map_or(part, |(_, inside)| inside));
    }
    out.replace("</a>", "")
}

#[cfg(test)]
mod tests {
    use super::super::page_tree;
    use super::*;

    #[test]
    fn the_first_sheet_stands_alone_with_its_command() {
        let whole = "<html><head><title>t</title></head><body><div class=\"brief-sheet\"><h1>a</h1>\
            <div class=\"brief-foot\"><p>b <a href=\"#c\">see c</a></p></div></div>\
            <section id=\"reproduce\"><code>fairphase run &lt;x&gt;</code></section>\
            <footer></footer></body></html>";
        let body = page_tree::body(whole).unwrap();
        let tree = Document::parse(&body).unwrap();
        assert_eq!(
            page(whole, &body, &tree).unwrap(),
            "<html><head><title>t</title></head><body class=\"alone\"><main><div class=\"brief-sheet\"><h1>a</h1>\
             <div class=\"brief-foot\"><p>b see c</p><p><b>Command: </b>\
             <code>fairphase run &lt;x&gt;</code></p></div></div></main></body></html>"
        );
        let without = Document::parse("<p/>").unwrap();
        assert_eq!(page(whole, "<p/>", &without), None);
    }
}
