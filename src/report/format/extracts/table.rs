//! A table of a page as CSV: what its button gives too.

use roxmltree::Node;

use super::extract::Extract;
use super::page_tree::{around, has_class, text};
use crate::report::format::csv::{CsvCell, CsvTable};

/// Most rows or columns that a cell may span.
const SPAN: usize = 1000;

/// The table, named by its section and its caption.
pub(super) fn csv(table: Node<'_, '_>) -> anyhow::Result<Extract> {
    let grid = grid(table);
    let columns = grid.iter().map(Vec::len).max().unwrap_or(0);
    let mut csv = CsvTable::empty();
    for row in &grid {
        let cells = row.iter().map(|cell| CsvCell::shown(cell.as_deref().unwrap_or("")));
        csv.row(cells.chain(std::iter::repeat(CsvCell::empty())).take(columns))?;
    }
    Ok(Extract { words: name(table), content: csv.text()? })
}

/// The texts of all cells, those that span several places repeated in each.
fn grid(table: Node<'_, '_>) -> Vec<Vec<Option<String>>> {
    let rows: Vec<Node<'_, '_>> =
        table.descendants().filter(|node| node.has_tag_name("tr")).collect();
    let mut grid: Vec<Vec<Option<String>>> = vec![Vec::new(); rows.len()];
    for (r, row) in rows.iter().enumerate() {
        let mut column = 0;
        for cell in row.children().filter(Node::is_element) {
            while grid[r].get(column).is_some_and(Option::is_some) {
                column += 1;
            }
            let [down, along] = ["rowspan", "colspan"].map(|name| {
                let span = cell.attribute(name).and_then(|span| span.parse().ok());
                span.unwrap_or(1_usize).clamp(1, SPAN)
            });
            for spanned in grid.iter_mut().skip(r).take(down) {
                spanned.resize(spanned.len().max(column + along), None);
                spanned[column..column + along].fill(Some(text(cell)));
            }
        }
    }
    grid
}

/// What the table is called: a section may hold several, and several sections one of a name.
fn name(table: Node<'_, '_>) -> String {
    let first = |outer: &str, inner: &str| {
        let outer = around(table, outer)?;
        outer.descendants().find(|node| node.has_tag_name(inner)).map(text)
    };
    if let Some(finding) = first("finding", "h3") {
        return finding;
    }
    let labelled = table.ancestors().find(|outer| has_class(*outer, "frame"));
    let caption = labelled.and_then(|frame| frame.attribute("aria-label"));
    let section = first("section", "h2").unwrap_or_default();
    format!("{section} {}", caption.unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use roxmltree::Document;

    use super::*;

    #[test]
    fn cells_that_span_several_places_stand_in_each() {
        let page = "<section><h2>Full load</h2><div class=\"frame\" aria-label=\"Loads, A\"><table>\
            <thead><tr><th rowspan=\"2\">part</th><th colspan=\"2\">load</th></tr>\
            <tr><th>p50</th><th>max</th></tr></thead>\
            <tbody><tr><th>a \"b\", c</th><td>\u{2212}1\u{a0}234.5</td><td>5<br/><small>sample 3</small></td></tr>\
            <tr><th>=1+1</th><td>+0.5\u{a0}%</td></tr></tbody></table></div></section>";
        let tree = Document::parse(page).unwrap();
        let table = tree.descendants().find(|node| node.has_tag_name("table")).unwrap();
        let extract = csv(table).unwrap();
        assert_eq!(extract.words, "Full load Loads, A");
        let expected = "part,load,load\npart,p50,max\n\"a \"\"b\"\", c\",-1234.5,5 sample 3\n\
                        '=1+1,+0.5 %,\n";
        assert_eq!(extract.content, expected);
    }
}
