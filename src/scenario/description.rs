//! What scenario files may hold: noted down by the reader itself while it reads the scenario that
//! holds every key.

use std::path::Path;

use super::reader::{Description, Log};
use super::tolerance::MeasuredFiles;
use super::{Asked, Reader, document, draft, read_root};
use crate::input::file::InputFile;

/// Every key that the reader asks for, and the rules between keys.
pub(super) fn describe() -> Description {
    described(&draft::complete())
}

/// Stands for the file that the draft names: the data are invented.
fn measured_parts(path: &Path) -> InputFile {
    let text = "rectifier_drop_mV\n780\n790\n795\n800\n800\n805\n815\n830\n";
    InputFile { path: path.to_owned(), text: text.to_owned() }
}

fn described(text: &str) -> Description {
    let (table, _) = document::parse(text);
    let log = Log::new(true);
    let files = MeasuredFiles::beside(Path::new(""), &|path| Ok(measured_parts(path)));
    read_root(&table, Reader { name: "draft.toml", asked: Asked::Nothing, files: &files }, &log);
    log.description()
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use toml::{Table, Value};

    use super::super::reader::{Presence, ValueKind};
    use super::super::{Derating, Scenario};
    use super::*;
    use crate::converter::Condition;

    /// All values at a path; an array of tables stands for its items, and `X` for every key.
    fn values<'v>(value: &'v Value, path: &[&str]) -> Vec<&'v Value> {
        match (value, path) {
            (Value::Array(items), [_, ..]) => items.iter().flat_map(|v| values(v, path)).collect(),
            (_, []) => vec![value],
            (Value::Table(table), ["X", rest @ ..]) => {
                table.values().flat_map(|v| values(v, rest)).collect()
            }
            (Value::Table(table), [key, rest @ ..]) => {
                table.get(*key).map_or(Vec::new(), |v| values(v, rest))
            }
            _ => Vec::new(),
        }
    }

    fn in_the_draft(path: &str) -> Vec<Value> {
        let draft: Table = draft::complete().parse().unwrap();
        let path: Vec<_> = path.split('.').collect();
        values(&Value::Table(draft), &path).into_iter().cloned().collect()
    }

    /// What a branch of the reader asks for only where something is given is noted down too, as
    /// the complete draft gives it all.
    #[test]
    fn the_complete_draft_reads_and_holds_every_key() {
        Scenario::parse("scenarios/draft.toml", &draft::complete())
            .unwrap_or_else(|e| panic!("{e}"));
        let all = describe();
        assert!(all.keys.len() > 80, "{}", all.keys.len());
        for key in &all.keys {
            let path = key.path();
            assert!(!in_the_draft(&path).is_empty(), "the draft lacks {path}");
            let is_table = matches!(key.kind, ValueKind::Table | ValueKind::Tables);
            assert_eq!(is_table, all.keys_of_table(&path).next().is_some(), "{path}");
        }
    }

    #[test]
    fn the_draft_shows_defaults_as_they_are() {
        let mut seen = 0;
        for key in describe().keys {
            let Presence::Default(default) = &key.presence else { continue };
            let default: Table = format!("x = {default}").parse().unwrap();
            for shown in in_the_draft(&key.path()) {
                assert_eq!(shown, default["x"], "{}", key.path());
                seen += 1;
            }
        }
        assert!(seen > 20, "{seen}");
    }

    /// What is commented out changes nothing: the draft reads as if it were not there.
    #[test]
    fn keys_that_are_commented_out_show_what_stands_without_them() {
        let bare: String =
            draft::DRAFT.lines().filter(|l| !l.starts_with('#')).collect::<Vec<_>>().join("\n");
        let parse = |text: &str| {
            let own = Scenario::parse("scenarios/draft.toml", text);
            Scenario { written: BTreeMap::new(), ..own.unwrap_or_else(|e| panic!("{e}")) }
        };
        assert_eq!(parse(&bare), parse(draft::DRAFT));
        // With the defaults told, and without the tables at the end, it is the same scenario but
        // for the keys that have no default.
        let of_losses = |line: &&str| {
            let keys = ["junction_temperature", "efficiency", "settling_time"];
            keys.iter().any(|key| line.starts_with(key))
        };
        let complete = draft::complete();
        let complete: Vec<&str> = complete.lines().filter(|line| !of_losses(line)).collect();
        let complete = complete.join("\n");
        let mut told = parse(complete.split("# ---- For `bands`").next().unwrap());
        assert!(told.gain.input_voltage.is_some() && told.bands.trade.is_some());
        told.gain.input_voltage = None;
        told.bands.trade = None;
        assert_ne!(told.operating_points[0].condition, Condition::default());
        told.operating_points[0].condition = Condition::default();
        assert!(!told.limits.parts.is_empty() && !told.derating.is_empty());
        told.limits.parts.clear();
        told.derating = Derating::default();
        assert_eq!(told, parse(&bare));
    }

    /// Other scenarios ask for nothing that the complete draft does not ask for.
    #[test]
    fn no_scenario_asks_for_more() {
        let all = describe();
        for text in [
            include_str!("../../scenarios/greenhouse-lamps.toml"),
            include_str!("../../scenarios/seabed-node.toml"),
            include_str!("../../scenarios/runway-lights.toml"),
            include_str!("../../tests/data/shelf.toml"),
            "",
        ] {
            let asked = described(text);
            assert!(asked.keys.len() > 20);
            for key in asked.keys {
                let known = all.keys.iter().any(|k| {
                    (k.path(), &k.kind, k.meaning) == (key.path(), &key.kind, key.meaning)
                });
                assert!(known, "{key:?}");
            }
            assert!(asked.rules.iter().all(|rule| all.rules.contains(rule)));
        }
    }
}
