//! `--figures`: what a page gives to take along, read back with libraries for XML and CSV.
#![allow(missing_docs, clippy::panic, clippy::unwrap_used, reason = "a test")]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use roxmltree::Document;

use crate::support::{
    SHELF, changed, command, entries, fairphase, folder_with, interrupted, is_in_the_making, json,
    succeed, wait_until,
};

const LAMPS: &str = include_str!("../../scenarios/greenhouse-lamps.toml");
const GAIN: &str = "gain shelf.toml --solver averaged --quiet --out out";

/// The files that were made of a page, by their names.
fn extracts(out: &Path) -> BTreeMap<String, String> {
    let is_one =
        |name: &String| ["figure-", "table-", "brief."].iter().any(|kind| name.starts_with(kind));
    let names = entries(out).into_iter().filter(is_one);
    names.map(|name| (name.clone(), fs::read_to_string(out.join(name)).unwrap())).collect()
}

/// A drawing that needs nothing around it (SVG 1.1, sections 5.1 and 5.4): XML of the right namespace with
/// a size, a title and a description, colours of its own and text as text.
fn check_drawing(name: &str, text: &str) {
    let tree = Document::parse(text).unwrap_or_else(|error| panic!("{name}: {error}"));
    let root = tree.root_element();
    assert!(root.has_tag_name(("http://www.w3.org/2000/svg", "svg")), "{name}");
    let size = |of: &str| root.attribute(of).unwrap().parse::<f64>().unwrap();
    let units: Vec<&str> = root.attribute("viewBox").unwrap().split(' ').collect();
    let scale = size("width") / units[2].parse::<f64>().unwrap();
    // A high drawing keeps letters that can be read.
    let is_legible = scale > 1.04;
    assert!((300.0..=1120.0).contains(&size("width")) && is_legible, "{name}");
    assert!(size("height") <= 600.0 || scale < 1.06, "{name}");
    let named = root.attribute("aria-labelledby").unwrap().split(' ').map(|id| {
        let found = tree.descendants().find(|node| node.attribute("id") == Some(id));
        found.and_then(|node| node.text()).unwrap_or_default()
    });
    assert!(named.into_iter().all(|words| words.len() > 5), "{name}");
    let elements = || root.descendants().filter(roxmltree::Node::is_element);
    assert!(
        elements().filter(|node| node.has_tag_name("text")).count() > 3,
        "{name}: text as text"
    );
    for attribute in elements().flat_map(|node| node.attributes()) {
        let (key, value) = (attribute.name(), attribute.value());
        assert!(!value.contains("var(") && !value.contains("url("), "{name}: {key}={value}");
        assert!(!["class", "style", "href"].contains(&key), "{name}: {key}");
    }
    let is_active = |name: &str| ["script", "foreignObject", "image", "a", "style"].contains(&name);
    assert!(elements().all(|node| !is_active(node.tag_name().name())), "{name}");
}

/// A table (RFC 4180): rows of one length, with a heading, and no cell that a spreadsheet computes.
fn check_table(name: &str, text: &str) {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
    let rows: Vec<csv::StringRecord> = reader
        .records()
        .collect::<Result<_, _>>()
        .unwrap_or_else(|error| panic!("{name}: {error}"));
    assert!(rows.len() > 1 && rows[0].iter().any(|cell| !cell.is_empty()), "{name}");
    for cell in rows.iter().flatten() {
        let computes = cell.starts_with(['=', '@', '\t', '\r'])
            || cell.starts_with(['+', '-']) && cell.contains(['(', '|', '!', '*', '"']);
        assert!(!computes && !cell.contains(['\u{a0}', '\u{2212}', '\n']), "{name}: {cell}");
    }
}

/// Opening tags of a page that hold some words.
fn tags(page: &str, words: &str) -> usize {
    page.split('<').filter(|part| part.split('>').next().unwrap().contains(words)).count()
}

#[test]
fn every_figure_and_table_of_the_page_stands_beside_it() {
    let folder = folder_with(&[("lamps.toml", LAMPS)]);
    let line = "sensors lamps.toml --samples 60 --solver averaged --quiet";
    succeed(folder.path(), &format!("{line} --out plain --threads 1"));
    succeed(folder.path(), &format!("{line} --out out --figures --threads 2"));
    succeed(folder.path(), &format!("{line} --out again --figures --threads 1"));
    let out = folder.path().join("out");
    let found = extracts(&out);
    assert_eq!(found, extracts(&folder.path().join("again")), "the same bytes");
    let page = fs::read_to_string(out.join("report.html")).unwrap();
    let plain = fs::read_to_string(folder.path().join("plain/report.html")).unwrap();
    assert_eq!(page, plain, "the page does not tell of its extracts");
    let of =
        |kind: &str| found.iter().filter(|(name, _)| name.starts_with(kind)).collect::<Vec<_>>();
    // One of two drawings of a figure is for narrow pages.
    let drawings = tags(&page, "role=\"img\"") - page.matches("\"narrow-figure\"").count();
    assert!(drawings > 3 && of("figure-").len() == drawings, "{:?}", found.keys());
    assert_eq!(of("table-").len(), page.matches("<thead>").count());
    for (name, text) in of("figure-") {
        check_drawing(name, text);
    }
    for (name, text) in of("table-") {
        check_table(name, text);
    }
    let listed = json(&out.join("summary.json"))["files"].clone();
    let listed: Vec<String> = serde_json::from_value(listed).unwrap();
    assert!(found.keys().all(|name| listed.contains(name)) && listed.len() == found.len() + 2);
    let brief = &found["brief.html"];
    assert!(
        brief.contains(
            "<code>fairphase sensors lamps.toml --samples 60 --seed 11 --solver averaged"
        )
    );
    assert!(brief.contains("High voltage can kill") && !brief.contains("<script"));
    assert_eq!(tags(brief, "href="), 0, "it leads nowhere");
}

/// Every file of a folder, hidden ones apart: those are in the making.
fn visible_files(out: &Path) -> BTreeMap<String, Vec<u8>> {
    let names = entries(out).into_iter().filter(|name| !name.starts_with('.'));
    names.map(|name| (name.clone(), fs::read(out.join(name)).unwrap())).collect()
}

#[test]
fn killed_at_work_it_leaves_the_former_figures_as_they_are() {
    let folder = folder_with(&[("lamps.toml", LAMPS)]);
    let out = folder.path().join("out");
    let line = "sensors lamps.toml --solver averaged --quiet --out out --figures --samples";
    succeed(folder.path(), &format!("{line} 60"));
    let before = visible_files(&out);
    assert!(before.keys().filter(|name| name.starts_with("figure-")).count() > 3);
    let mut child = command(folder.path(), &format!("{line} 1000000000")).spawn().unwrap();
    wait_until(&mut child, |_| is_in_the_making(&out));
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(visible_files(&out) == before);
}

/// Of a study that is asked to stop, the figures are those of its page, which says that it is not whole.
#[test]
fn figures_of_a_partial_study_are_those_of_its_page() {
    let folder = folder_with(&[("lamps.toml", LAMPS)]);
    let out = folder.path().join("out");
    let line = "sensors lamps.toml --solver averaged --samples 1000000000 --out out --figures";
    interrupted(folder.path(), line, &out);
    assert_eq!(json(&out.join("summary.json"))["partial"], true);
    let found = extracts(&out);
    let page = fs::read_to_string(out.join("report.html")).unwrap();
    let drawings = tags(&page, "role=\"img\"") - page.matches("\"narrow-figure\"").count();
    let figures = || found.iter().filter(|(name, _)| name.starts_with("figure-"));
    assert_eq!(figures().count(), drawings);
    for (name, text) in figures() {
        check_drawing(name, text);
    }
    assert!(found["brief.html"].contains("PARTIAL"));
}

#[test]
fn figures_of_a_former_command_go_and_foreign_files_stay() {
    let folder = folder_with(&[("shelf.toml", SHELF)]);
    let out = folder.path().join("out");
    let said = succeed(folder.path(), "gain shelf.toml --solver averaged --out out --figures");
    let made = extracts(&out);
    let figures = made.keys().filter(|name| name.starts_with("figure-")).count();
    let told = format!("Beside it: brief.html, {figures} figures (SVG), ");
    assert!(figures > 1 && said.contains(&told), "{said}");
    // A second command with the option replaces them, one without it takes them away.
    succeed(folder.path(), &format!("{GAIN} --figures"));
    assert_eq!(extracts(&out), made);
    let (changed_one, foreign) = (made.keys().nth(1).unwrap(), "figure-99-of-mine.svg");
    fs::write(out.join(foreign), "mine").unwrap();
    fs::write(out.join(changed_one), "edited").unwrap();
    fs::write(out.join("figure-mine.svg"), "mine too").unwrap();
    let said = fairphase(folder.path(), &format!("{GAIN} --figures"));
    assert_eq!((said.status, said.stdout.as_str()), (2, ""));
    for words in [
        format!("{changed_one} was changed after fairphase wrote it"),
        format!("{foreign} is not known as a result"),
    ] {
        assert!(said.stderr.contains(&words), "{}", said.stderr);
    }
    let said = fairphase(folder.path(), "gain shelf.toml --solver averaged --out out");
    assert_eq!(said.status, 0);
    assert!(said.stderr.contains(&format!("{changed_one} was changed after")), "{}", said.stderr);
    let left = ["figure-99-of-mine.svg", "figure-mine.svg", changed_one.as_str()];
    let mut expected = left.to_vec();
    expected.extend(["gain.csv", "report.html", "summary.json"]);
    expected.sort_unstable();
    assert_eq!(entries(&out), expected);
    assert_eq!(fs::read_to_string(out.join(foreign)).unwrap(), "mine");
    assert_eq!(fs::read_to_string(out.join(changed_one)).unwrap(), "edited");
}

/// Names that are markup, formulas and paths: text in what is written, and no part of a file's name.
#[test]
fn hostile_names_stay_text() {
    let name = r#"=1+1</text><script>alert(1)</script>&\"../x\uffff"#;
    let text = changed(SHELF, "full load", name);
    let text = changed(&text, "Shelf supply", r"-2+3<svg onload=x> ]]> &amp;");
    let folder = folder_with(&[("shelf.toml", &text)]);
    succeed(folder.path(), "run shelf.toml --samples 20 --no-explain --quiet --out out --figures");
    let out = folder.path().join("out");
    let found = extracts(&out);
    let mut seen = [0; 2];
    for (name, text) in &found {
        let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || "-.".contains(c);
        assert!(name.chars().all(plain) && !name.contains(".."), "{name}");
        if name.starts_with("figure-") {
            check_drawing(name, text);
            let tree = Document::parse(text).unwrap();
            let texts = tree.descendants().filter_map(|node| node.text());
            seen[0] += texts.filter(|text| text.contains("<svg onload=x> ]]> &amp;")).count();
        } else if name.starts_with("table-") {
            check_table(name, text);
            seen[1] += text.matches("'=1+1</text><script>").count();
        } else {
            assert!(!text.contains("<script"), "{name}");
        }
    }
    assert!(seen.iter().all(|times| *times > 3), "{seen:?}");
}
