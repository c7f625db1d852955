//! The output folder: files appear in it whole, or not at all.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::Context;
use serde::Deserialize;
use serde_json::{Value, json};
use tempfile::TempDir;

use super::json::text;
use super::summary::SCHEMA_NAME;

/// The file whose presence says that all others are there: it is put in its place last.
const LAST: &str = "summary.json";

/// Result files in the making, in a hidden folder beside their places.
///
/// Dropped without [`finish`](Self::finish), it takes them with it, and the folders that it made.
#[derive(Debug)]
pub struct Folder {
    // Dropped in this order: the hidden folder before those around it.
    making: TempDir,
    out: PathBuf,
    made: Made,
}

/// Folders that were not there before, the innermost first; removed when dropped, if empty.
#[derive(Debug)]
struct Made(Vec<PathBuf>);

impl Made {
    /// Makes a folder and those around it.
    fn all(out: &Path) -> std::io::Result<Self> {
        let missing = out.ancestors().take_while(|p| !p.as_os_str().is_empty() && !p.exists());
        let made = Self(missing.map(Path::to_owned).collect());
        fs::create_dir_all(out)?;
        Ok(made)
    }
}

impl Drop for Made {
    fn drop(&mut self) {
        for folder in &self.0 {
            // Only an empty folder can be removed so: one that somebody uses by now stays.
            if fs::remove_dir(folder).is_err() {
                return;
            }
        }
    }
}

impl Folder {
    /// Opens the output folder, and makes it if need be.
    ///
    /// # Errors
    ///
    /// When it cannot be made or written to.
    pub fn open(out: &Path) -> anyhow::Result<Self> {
        let made = Made::all(out)
            .with_context(|| format!("cannot make the output folder {}", out.display()))?;
        let making = tempfile::Builder::new()
            .prefix(".unfinished-")
            .tempdir_in(out)
            .with_context(|| format!("cannot write to the output folder {}", out.display()))?;
        Ok(Self { making, out: out.to_owned(), made })
    }

    /// Where a file in the making is.
    pub fn path(&self, name: &str) -> PathBuf {
        self.making.path().join(name)
    }

    /// Where it will be once finished.
    pub fn destination(&self, name: &str) -> PathBuf {
        self.out.join(name)
    }

    /// Writes a whole file.
    ///
    /// # Errors
    ///
    /// When it cannot be written.
    pub fn write(&self, name: &str, content: &str) -> anyhow::Result<()> {
        fs::write(self.path(name), content)
            .with_context(|| format!("cannot write {}", self.destination(name).display()))
    }

    /// Adds the summary, with the list of all files, and puts them into their places, the summary last.
    /// Files that the folder's last summary lists and the new one does not go, but for those in
    /// `inputs`; the old summary goes first, so that no moment shows it beside new files.
    ///
    /// # Errors
    ///
    /// When a file cannot be written, moved or removed.
    pub fn finish(mut self, mut summary: Value, inputs: &[&Path]) -> anyhow::Result<Placed> {
        let entries = fs::read_dir(self.making.path())?;
        let mut names: Vec<String> = entries
            .map(|entry| Ok(entry?.file_name().to_string_lossy().into_owned()))
            .collect::<std::io::Result<_>>()?;
        names.sort();
        names.push(LAST.to_owned());
        summary["files"] = json!(names);
        self.write(LAST, &text(&summary)?)?;
        let before = Earlier::read(&self.out);
        match fs::remove_file(self.out.join(LAST)) {
            Err(e) if e.kind() != std::io::ErrorKind::NotFound => return Err(e.into()),
            _ => {}
        }
        let is_input = |stale: &Path| {
            let same = |input: &&Path| input.canonicalize().ok() == stale.canonicalize().ok();
            inputs.iter().any(same)
        };
        for name in before.iter().flat_map(|b| &b.files).filter(|name| !names.contains(name)) {
            let stale = self.out.join(name);
            if stale.symlink_metadata().is_ok_and(|found| found.is_file()) && !is_input(&stale) {
                fs::remove_file(&stale)
                    .with_context(|| format!("cannot remove {}", stale.display()))?;
            }
        }
        for name in &names {
            let to = self.out.join(name);
            fs::rename(self.making.path().join(name), &to)
                .with_context(|| format!("cannot write {}", to.display()))?;
        }
        self.made.0.clear();
        let replaced = before.map(|b| b.verb).filter(|verb| summary["verb"] != json!(verb));
        Ok(Placed { summary, replaced })
    }
}

/// Results in their places.
#[derive(Debug)]
pub struct Placed {
    /// The summary as it was written.
    pub summary: Value,
    /// The verb whose results stood there before, if it was another one.
    pub replaced: Option<String>,
}

/// The results that a folder holds.
#[derive(Debug, Deserialize)]
struct Earlier {
    schema: String,
    verb: String,
    /// Summaries of earlier versions list none.
    #[serde(default)]
    files: Vec<String>,
}

impl Earlier {
    /// Reads the summary in a folder; none where it is not one of this program, or lists files
    /// elsewhere.
    fn read(out: &Path) -> Option<Self> {
        let text = fs::read_to_string(out.join(LAST)).ok()?;
        let found: Self = serde_json::from_str(&text).ok()?;
        let ours = found.schema.starts_with(SCHEMA_NAME);
        let is_inside = |name: &String| Path::new(name).file_name() == Some(name.as_ref());
        (ours && found.files.iter().all(is_inside)).then_some(found)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_appear_together_or_not_at_all() {
        let root = tempfile::tempdir().unwrap();
        let out = root.path().join("a/b");
        let folder = Folder::open(&out).unwrap();
        folder.write("report.html", "x").unwrap();
        assert!(!out.join("summary.json").exists());
        drop(folder);
        assert_eq!(fs::read_dir(root.path()).unwrap().count(), 0, "dropped: nothing is left");
        let folder = Folder::open(&out).unwrap();
        folder.write("report.html", "x").unwrap();
        let placed = folder.finish(json!({}), &[]).unwrap();
        assert_eq!(placed.summary, json!({ "files": ["report.html", "summary.json"] }));
        assert_eq!(entries(&out), ["report.html", "summary.json"]);
    }

    fn entries(out: &Path) -> Vec<String> {
        let name = |entry: std::io::Result<fs::DirEntry>| entry.unwrap().file_name();
        let names = fs::read_dir(out).unwrap().map(name);
        let mut names: Vec<String> = names.map(|name| name.into_string().unwrap()).collect();
        names.sort();
        names
    }

    /// Results of a verb with these files.
    fn results(out: &Path, verb: &str, files: &[&str], inputs: &[&Path]) -> Option<String> {
        let folder = Folder::open(out).unwrap();
        for name in files {
            folder.write(name, verb).unwrap();
        }
        let summary = json!({ "schema": format!("{SCHEMA_NAME}1"), "verb": verb });
        folder.finish(summary, inputs).unwrap().replaced
    }

    #[test]
    fn a_folder_holds_the_results_of_one_verb() {
        let root = tempfile::tempdir().unwrap();
        let out = root.path();
        fs::write(out.join("notes.csv"), "of the user").unwrap();
        assert_eq!(results(out, "run", &["report.html", "worst.csv", "a.parquet"], &[]), None);
        assert_eq!(results(out, "run", &["report.html", "worst.csv"], &[]), None);
        assert_eq!(entries(out), ["notes.csv", "report.html", "summary.json", "worst.csv"]);
        // What a verb was given as input stays.
        let (input, run) = (out.join("./worst.csv"), Some("run".to_owned()));
        assert_eq!(results(out, "units", &["report.html", "units.csv"], &[&input]), run);
        let all = ["notes.csv", "report.html", "summary.json", "units.csv", "worst.csv"];
        assert_eq!(entries(out), all);
        assert_eq!(results(out, "bands", &["report.html"], &[]), Some("units".to_owned()));
        assert_eq!(entries(out), ["notes.csv", "report.html", "summary.json", "worst.csv"]);
    }

    /// A summary that is not one of this program, or that names files elsewhere, is no list of what
    /// may go.
    #[test]
    fn nothing_goes_that_is_not_surely_a_result() {
        let ours = format!("{SCHEMA_NAME}1");
        for (summary, replaced) in [
            ("no JSON".to_owned(), None),
            (
                json!({ "schema": "another/1", "verb": "run", "files": ["mine.csv"] }).to_string(),
                None,
            ),
            (
                json!({ "schema": ours, "verb": "run", "files": ["mine.csv", "../up.csv"] })
                    .to_string(),
                None,
            ),
            (
                json!({ "schema": ours, "verb": "run", "files": ["mine.csv", "/up.csv"] })
                    .to_string(),
                None,
            ),
            (
                json!({ "schema": ours, "verb": "run", "files": ["mine.csv", ".."] }).to_string(),
                None,
            ),
            (json!({ "schema": ours, "verb": "run", "files": 3 }).to_string(), None),
            (
                json!({ "schema": ours, "verb": "run", "files": ["folder"] }).to_string(),
                Some("run"),
            ),
            (json!({ "schema": ours, "verb": "run" }).to_string(), Some("run")),
        ] {
            let root = tempfile::tempdir().unwrap();
            let out = root.path().join("out");
            fs::create_dir_all(out.join("folder")).unwrap();
            for name in ["up.csv", "out/mine.csv"] {
                fs::write(root.path().join(name), "of the user").unwrap();
            }
            fs::write(out.join(LAST), &summary).unwrap();
            let said = results(&out, "bands", &["report.html"], &[]);
            assert_eq!(said.as_deref(), replaced, "{summary}");
            assert_eq!(entries(&out), ["folder", "mine.csv", "report.html", "summary.json"]);
            assert!(root.path().join("up.csv").exists());
        }
    }

    #[test]
    fn only_folders_that_it_made_and_that_are_empty_go_with_it() {
        let root = tempfile::tempdir().unwrap();
        let out = root.path().join("mine/a/b");
        fs::create_dir(root.path().join("mine")).unwrap();
        drop(Folder::open(&out).unwrap());
        assert_eq!(fs::read_dir(root.path().join("mine")).unwrap().count(), 0, "mine stays");
        let folder = Folder::open(&out).unwrap();
        fs::write(root.path().join("mine/a/note"), "by somebody else").unwrap();
        drop(folder);
        assert!(root.path().join("mine/a/note").exists() && !out.exists());
    }
}
