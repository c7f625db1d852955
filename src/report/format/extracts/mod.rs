//! What a page gives to take along: every figure as a drawing of its own, every table as CSV, the brief
//! as a page of its own.
//!
//! They are taken from the finished page (`page_tree`), so that they show what it shows, and no verb
//! can forget one. `drawing` resolves a figure's style (`light_style`) and adds what stands beside it on
//! the page; `table` spreads the cells that span several; `brief_page` frames the first sheet; `extract` gives names.

mod brief_page;
mod drawing;
mod extract;
mod light_style;
mod page_tree;
mod table;

use anyhow::Context;
use roxmltree::{Document, Node};

use self::extract::{Extract, numbered};
use self::light_style::LightStyle;
use super::numbers::{counted, plain};

/// The brief as a page of its own.
pub const BRIEF: &str = "brief.html";

/// Names and contents of the files that were made of a page.
#[derive(Debug)]
pub struct Extracts {
    /// Figures in the order of the page, then tables, then the brief.
    pub files: Vec<(String, String)>,
}

impl Extracts {
    /// All of a page.
    ///
    /// # Errors
    ///
    /// When the page is not as this program writes it.
    pub fn of(page: &str) -> anyhow::Result<Self> {
        let text = page_tree::body(page).context("the page has no body")?;
        let tree = Document::parse(&text).context("the page is not well-formed")?;
        let style = LightStyle::new();
        let figures = figures(&tree, &style);
        let tables = tables(&tree)?;
        let named = numbered("figure", "svg", figures).chain(numbered("table", "csv", tables));
        let brief = brief_page::page(page, &text, &tree).map(|brief| (BRIEF.to_owned(), brief));
        Ok(Self { files: named.chain(brief).collect() })
    }

    /// A line on them.
    pub fn told(&self) -> String {
        let number = |of: &str| self.files.iter().filter(|(name, _)| name.starts_with(of)).count();
        let some = |thing: &str, form: &str| {
            let number = number(thing) as u64;
            (number > 0).then(|| format!("{} ({form})", plain(&counted(number, thing))))
        };
        let brief = (number(BRIEF) > 0).then(|| BRIEF.to_owned());
        let all = [brief, some("figure", "SVG"), some("table", "CSV")];
        format!("Beside it: {}\n", all.into_iter().flatten().collect::<Vec<_>>().join(", "))
    }
}

/// Every figure; of one that is drawn twice, for wide and for narrow pages, the wide drawing.
fn figures(tree: &Document<'_>, style: &LightStyle<'_>) -> Vec<Extract> {
    let is_figure = |node: &Node<'_, '_>| {
        node.has_tag_name("svg")
            && node.attribute("role") == Some("img")
            && !node.ancestors().any(|outer| page_tree::has_class(outer, "narrow-figure"))
    };
    let basis = page_tree::basis(tree);
    let drawn = tree.descendants().filter(is_figure);
    drawn.map(|svg| drawing::stand_alone(svg, style, &basis)).collect()
}

/// Every table with a head: others explain signs.
fn tables(tree: &Document<'_>) -> anyhow::Result<Vec<Extract>> {
    let has_head = |node: &Node<'_, '_>| {
        node.has_tag_name("table") && node.children().any(|part| part.has_tag_name("thead"))
    };
    tree.descendants().filter(has_head).map(table::csv).collect()
}
