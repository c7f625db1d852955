//! Every way out of the program makes text from outside safe to show: no file goes around them.

use super::files_of_the_crate;
use super::source::Files;

/// What writes text where somebody sees it, with the only files that may use it.
const SINKS: [(&str, &[&str]); 12] = [
    ("stdout()", &["cli/output.rs"]),
    ("stderr()", &["cli/output.rs", "cli/progress.rs"]),
    ("error.print()", &["cli/mod.rs"]),
    // Names as they are: the summary holds them, and messages write them out.
    (".display()", &["input/file.rs", "scenario/mod.rs"]),
    ("println!", &[]),
    ("print!", &[]),
    ("dbg!", &[]),
    // Extracts are made of a page, which is safe by then.
    (
        ".into_string()",
        &[
            "report/format/page/mod.rs",
            "report/format/extracts/brief_page.rs",
            "report/format/extracts/drawing.rs",
        ],
    ),
    ("Writer::from_writer", &["report/format/csv.rs"]),
    ("WriterBuilder", &[]),
    ("serde_json::to_string", &["report/format/json.rs"]),
    ("serde_json::to_writer", &["report/format/json.rs"]),
];

/// Files that use a sink which is not theirs.
fn around_the_sinks(files: &Files) -> Vec<String> {
    let mut wrong = Vec::new();
    for (file, text) in files {
        let code = text.split("#[cfg(test)]").next().unwrap();
        let used = SINKS.iter().filter(|(sink, _)| code.contains(sink));
        let strange = used.filter(|(_, allowed)| !allowed.contains(&file.as_str()));
        wrong.extend(strange.map(|(sink, _)| format!("{file}: {sink}")));
    }
    wrong
}

#[test]
fn no_file_goes_around_the_sinks() {
    let files = files_of_the_crate();
    assert_eq!(around_the_sinks(&files), Vec::<String>::new());
    for (sink, allowed) in SINKS {
        for file in allowed {
            assert!(files[*file].contains(sink), "{file} does not use {sink}");
        }
    }
    for file in ["cli/output.rs", "report/format/page/mod.rs", "report/format/csv.rs"] {
        assert!(files[file].contains("printable::line"), "{file}");
    }
    assert!(files["report/format/json.rs"].contains("printable::json"));
}

#[test]
fn ways_around_are_seen() {
    let seen = |file: &str, text: &str| around_the_sinks(&super::texts(&[(file, text)]));
    assert_eq!(seen("cli/run.rs", "writeln!(io::stderr(), \"x\")"), ["cli/run.rs: stderr()"]);
    let page = "document(x).into_string()";
    assert_eq!(seen("report/run/page/mod.rs", page), ["report/run/page/mod.rs: .into_string()"]);
    assert!(seen("report/format/page/mod.rs", page).is_empty());
    assert!(seen("a.rs", "#[cfg(test)] mod tests { println!() }").is_empty());
}
