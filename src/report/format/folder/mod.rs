//! The output folder: a set of result files appears in it whole, or not at all, and nothing in it is
//! lost.
//!
//! - A set is built in a hidden folder (`building`), whose lock keeps other processes out.
//! - It takes the places of the former set in one swap (`swap`). If that fails it is taken back; if
//!   the process is killed, the next one that opens the folder carries it to its end.
//! - Only files with names of results (`result_file`) are replaced or removed, and of these only those
//!   that this program wrote and nobody has changed since (`result_set`). All others are refused
//!   before the work begins, and so are input files.

mod building;
mod error;
mod made;
mod result_file;
mod result_set;
mod same_file;
mod swap;

use std::ffi::OsStr;
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

use anyhow::{Context, anyhow, bail, ensure};

use self::building::BuildingFolder;
pub use self::error::FolderError;
use self::made::MadeFolders;
pub(in crate::report) use self::result_file::PAGE;
use self::result_file::{SUMMARY, is_of_a_page, is_result_file, result_files_in};
pub use self::result_set::SealedFiles;
use self::result_set::{Checksums, FileState, ResultSet, sealed};
pub use self::same_file::is_same_file;
use self::swap::{Swap, SwapError, move_file};
use crate::printable;
use crate::report::format::summary::SummaryText;

/// Most folders for sets that find no place, of one name and a number.
const MOST_BESIDE: usize = 99;

/// What a command writes to its folder, and what it has read.
#[derive(Debug, Clone)]
pub struct FolderRequest {
    /// Names of the files that it may write, beside the summary.
    pub files: Vec<&'static str>,
    /// Whether it writes the figures and tables of its page too.
    pub figures: bool,
    /// Its input files.
    pub inputs: Vec<PathBuf>,
}

/// An output folder held by this process, and a set of result files in the making.
///
/// Dropped before the set is placed, it takes the files with it, and the folders that it made.
#[derive(Debug)]
pub struct Folder {
    // Dropped in this order: the hidden folder before those around it.
    building: BuildingFolder,
    made: MadeFolders,
    out: PathBuf,
    request: FolderRequest,
    former: Option<ResultSet>,
    notes: Vec<String>,
}

impl Folder {
    /// Opens the output folder, and makes it if need be. What a killed process left is brought in
    /// order first.
    ///
    /// # Errors
    ///
    /// When results would take the place of an input file, or of a file that this program did not
    /// write or that was changed since; when another process is at work in the folder; when it cannot
    /// be made or written to.
    pub fn open(out: &Path, request: FolderRequest) -> Result<Self, FolderError> {
        if out.is_file() {
            return Err(FolderError::in_the_way(out, "is a file, no folder"));
        }
        let made = MadeFolders::make(out)
            .with_context(|| format!("cannot make the output folder {}", printable::path(out)))?;
        let building = BuildingFolder::open(out)?;
        let mut folder =
            Self { building, made, out: out.to_owned(), request, former: None, notes: Vec::new() };
        folder.refuse_inputs()?;
        folder.recover()?;
        folder.former = ResultSet::read(out);
        folder.refuse_others()?;
        Ok(folder)
    }

    /// The folder where the results will be.
    pub fn out(&self) -> &Path {
        &self.out
    }

    /// What the user should know of the state in which the folder was found.
    pub fn notes(&self) -> &[String] {
        &self.notes
    }

    /// Where a file in the making is.
    pub fn path(&self, name: &str) -> PathBuf {
        self.building.new_files().join(name)
    }

    /// Where it will be once finished.
    pub fn destination(&self, name: &str) -> PathBuf {
        self.out.join(name)
    }

    /// Whether a file of this path would be one of the results in this folder, by its name.
    pub fn is_place_of_result(&self, path: &Path) -> bool {
        let named = path.file_name().and_then(OsStr::to_str).filter(|name| is_result_file(name));
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
        named.is_some() && is_same_file(folder.unwrap_or(Path::new(".")), &self.out)
    }

    /// Writes a whole file.
    ///
    /// # Errors
    ///
    /// When it cannot be written, when no result file has this name: it would never be placed.
    pub fn write(&self, name: &str, content: impl AsRef<[u8]>) -> anyhow::Result<()> {
        ensure!(is_result_file(name), "{name} is no result file");
        fs::write(self.path(name), content)
            .with_context(|| format!("cannot write {}", printable::path(&self.destination(name))))
    }

    /// Completes the set with its summary and brings it to disk. Partial results never replace complete
    /// ones: they get a folder of their own beside these.
    ///
    /// # Errors
    ///
    /// When a file cannot be written.
    pub fn complete(self, summary: SummaryText) -> anyhow::Result<CompleteSet> {
        let is_complete = self.former.as_ref().is_some_and(|former| !former.is_partial);
        let is_beside = is_complete && summary.is_partial();
        let folder = if is_beside { self.moved_beside()? } else { self };
        let (new, verb) = (folder.building.new_files(), summary.verb().to_owned());
        let written = result_files_in(&new)?;
        let names: Vec<&str> = written.iter().map(String::as_str).collect();
        if let Some(name) = names.iter().find(|name| !folder.writes(name)) {
            bail!("{name} was written but not announced");
        }
        let summary = sealed(summary, &new, &names, folder.staying_inputs())?;
        folder.write(SUMMARY, &summary)?;
        for name in names.into_iter().chain([SUMMARY]) {
            File::open(new.join(name)).and_then(|file| file.sync_all()).with_context(|| {
                format!("cannot write {}", printable::path(&folder.destination(name)))
            })?;
        }
        sync_folder(&new)?;
        let files = result_files_in(&new)?.into_iter().filter(|name| !is_of_a_page(name)).collect();
        Ok(CompleteSet { folder, summary, verb, is_beside, files })
    }

    /// The files in the making, in a folder of their own inside this one.
    fn moved_beside(self) -> anyhow::Result<Self> {
        let is_usable =
            |path: &PathBuf| path.symlink_metadata().map_or(true, |found| found.is_dir());
        for out in numbered(&self.out, "partial").filter(is_usable) {
            let beside = match Self::open(&out, self.request.clone()) {
                Err(FolderError::Failed(error)) => return Err(error),
                Err(_) => continue,
                Ok(beside) => beside,
            };
            for name in result_files_in(&self.building.new_files())? {
                fs::rename(self.path(&name), beside.path(&name)).with_context(|| {
                    format!("cannot write {}", printable::path(&beside.destination(&name)))
                })?;
            }
            return Ok(beside);
        }
        bail!("no room for partial results in {}: remove some folders", printable::path(&self.out))
    }

    /// An input file may be none of the files to be written, and nothing that a killed process left.
    fn refuse_inputs(&self) -> Result<(), FolderError> {
        let (new, old) = (self.building.new_files(), self.building.old_files());
        let has_leftover = ResultSet::read(&new).is_some();
        let mut targets = Vec::new();
        for folder in [&self.out, &new, &old] {
            let is_meant = |name: &String| *folder != self.out || has_leftover || self.writes(name);
            let names = result_files_in(folder)?.into_iter().filter(is_meant);
            targets.extend(names.map(|name| folder.join(name)));
        }
        for target in targets {
            if let Some(input) = self.request.inputs.iter().find(|i| is_same_file(i, &target)) {
                return Err(FolderError::Input { input: input.clone(), target });
            }
        }
        Ok(())
    }

    fn writes(&self, name: &str) -> bool {
        name == SUMMARY
            || self.request.files.contains(&name)
            || self.request.figures && is_of_a_page(name)
    }

    /// Files of the former set that this command reads: they stay, and remain known as ours.
    fn staying_inputs(&self) -> Checksums {
        let is_input = |name: &str| {
            let path = self.destination(name);
            !self.writes(name) && self.request.inputs.iter().any(|input| is_same_file(input, &path))
        };
        self.former.as_ref().map(|former| former.checksums_of(is_input)).unwrap_or_default()
    }

    /// Brings in order what a killed process left. A complete set takes its place; a former set whose
    /// successor is not there comes back; files of unfinished work go.
    fn recover(&mut self) -> Result<(), FolderError> {
        if ResultSet::read(&self.building.new_files()).is_some() {
            match self.swap_in() {
                Ok(()) => {}
                Err(SwapError::TakenBack(_)) => {
                    let kept = self.kept_new_files();
                    let kept = printable::path(&kept);
                    self.notes
                        .push(format!("{kept} holds the results of a command that was killed"));
                }
                Err(SwapError::Torn(reason, further)) => {
                    return Err(self.torn(&reason, &further).into());
                }
            }
        } else if ResultSet::read(&self.out).is_none() {
            let (new, old) = (self.building.new_files(), self.building.old_files());
            Swap { out: &self.out, new: &new, old: &old, mover: &move_file }.restore()?;
        }
        self.building.discard_files();
        Ok(())
    }

    /// Refuses files that would be replaced but are not ours, or were changed.
    fn refuse_others(&mut self) -> Result<(), FolderError> {
        let mut reasons = Vec::new();
        for name in result_files_in(&self.out)? {
            let path = self.destination(&name);
            let Ok(found) = path.symlink_metadata() else { continue };
            let is_changed = match &self.former {
                Some(former) if former.knows(&name) => match former.state(&self.out, &name)? {
                    FileState::Changed => true,
                    _ => continue,
                },
                _ => false,
            };
            let reason = match (is_changed, self.writes(&name)) {
                (true, true) => "was changed after fairphase wrote it",
                (true, false) => {
                    let path = printable::path(&path);
                    self.notes
                        .push(format!("{path} was changed after fairphase wrote it; it stays"));
                    continue;
                }
                (false, true) => foreign(&found),
                (false, false) => continue,
            };
            reasons.push(format!("{} {reason}", printable::path(&path)));
        }
        if reasons.is_empty() { Ok(()) } else { Err(FolderError::InTheWay(reasons)) }
    }

    fn swap_in(&self) -> Result<(), SwapError> {
        let (new, old) = (self.building.new_files(), self.building.old_files());
        Swap { out: &self.out, new: &new, old: &old, mover: &move_file }.finish()
    }

    /// Moves a complete set that found no place into a folder of its own, which stays.
    fn kept_new_files(&mut self) -> PathBuf {
        let new = self.building.new_files();
        let is_free = |path: &PathBuf| path.symlink_metadata().is_err();
        let kept = numbered(&self.out, "unplaced")
            .find(is_free)
            .and_then(|free| fs::rename(&new, &free).ok().map(|()| free));
        self.made.keep();
        // Where it stays in the hidden folder, the next command that opens this one places it.
        kept.unwrap_or_else(|| {
            self.building.keep_files();
            new
        })
    }

    /// Both sets are there, each in two folders; the next command that opens this one finishes it.
    fn torn(&mut self, reason: &anyhow::Error, further: &anyhow::Error) -> anyhow::Error {
        self.made.keep();
        self.building.keep_files();
        anyhow!(
            "{reason:#}. {further:#}. The new results are in {} and {}, the former ones in {} and {}. \
             The next command that writes there brings them in order",
            printable::path(&self.building.new_files()),
            printable::path(&self.out),
            printable::path(&self.building.old_files()),
            printable::path(&self.out),
        )
    }
}

/// A set of result files that is complete and not in its place yet.
#[derive(Debug)]
pub struct CompleteSet {
    folder: Folder,
    summary: String,
    verb: String,
    is_beside: bool,
    files: Vec<String>,
}

/// Results in their places.
#[derive(Debug)]
pub struct PlacedSet {
    /// The folder that holds them.
    pub folder: PathBuf,
    /// Names of its files but those of a page's figures and tables, the summary last.
    pub files: Vec<String>,
    /// Whether that is a folder beside complete results, because these are partial.
    pub is_beside: bool,
    /// The verb whose results stood there before, if it was another one.
    pub replaced: Option<String>,
}

impl CompleteSet {
    /// The summary as it is written.
    pub fn summary(&self) -> &str {
        &self.summary
    }

    /// Puts the files into their places, the summary last, and removes the former set.
    ///
    /// # Errors
    ///
    /// When that fails: the former set stays, and the message tells where the new one is.
    pub fn place(self) -> anyhow::Result<PlacedSet> {
        let Self { mut folder, verb, is_beside, files, .. } = self;
        match folder.swap_in() {
            Ok(()) => {}
            Err(SwapError::Torn(reason, further)) => return Err(folder.torn(&reason, &further)),
            Err(SwapError::TakenBack(reason)) => {
                let kept = folder.kept_new_files();
                bail!(
                    "{reason:#}. The new results are in {}; nothing else in {} was changed",
                    printable::path(&kept),
                    printable::path(&folder.out)
                );
            }
        }
        // The names of the new files are on disk before the former files go.
        let made = folder.made.keep().into_iter().map(|made| made.join(".."));
        let synced =
            std::iter::once(folder.out.clone()).chain(made).try_for_each(|f| sync_folder(&f));
        folder.building.discard_files();
        synced?;
        let replaced = folder.former.take().map(|former| former.verb);
        let replaced = replaced.filter(|former| *former != verb);
        Ok(PlacedSet { folder: folder.out.clone(), files, is_beside, replaced })
    }
}

/// Why something with the name of a result file is not ours.
fn foreign(found: &fs::Metadata) -> &'static str {
    if found.is_dir() {
        "is a folder"
    } else {
        "is not known as a result of this version of fairphase: another file, another version, or a \
         missing or changed summary.json"
    }
}

/// A name inside a folder, then the same with numbers from 2.
fn numbered(folder: &Path, name: &str) -> impl Iterator<Item = PathBuf> {
    let first = folder.join(name);
    let further = (2..=MOST_BESIDE).map(move |n| first.with_file_name(format!("{name}-{n}")));
    std::iter::once(folder.join(name)).chain(further)
}

/// Brings the names in a folder to disk, where the system can do that.
fn sync_folder(folder: &Path) -> anyhow::Result<()> {
    let synced = File::open(folder).and_then(|opened| opened.sync_all());
    match synced {
        Err(error) if !is_unsupported(&error) => {
            Err(error).with_context(|| format!("cannot bring {} to disk", printable::path(folder)))
        }
        _ => Ok(()),
    }
}

/// Some systems and network drives cannot open folders, or bring them to disk.
fn is_unsupported(error: &io::Error) -> bool {
    use io::ErrorKind::{InvalidInput, PermissionDenied, Unsupported};
    matches!(error.kind(), InvalidInput | PermissionDenied | Unsupported)
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::result_file::PAGE;
    use super::*;

    fn request(files: &[&'static str]) -> FolderRequest {
        FolderRequest { files: files.to_vec(), figures: true, inputs: Vec::new() }
    }

    fn opened(out: &Path, files: &[&'static str]) -> Folder {
        Folder::open(out, request(files)).unwrap_or_else(|error| panic!("{error}"))
    }

    /// A complete set of a verb with these files, not placed yet.
    fn complete(out: &Path, verb: &str, files: &[&'static str]) -> CompleteSet {
        let folder = opened(out, files);
        for name in files {
            folder.write(name, verb).unwrap();
        }
        let summary = json!({ "schema": "fairphase-summary/2", "verb": verb });
        folder.complete(SummaryText::of(&summary).unwrap()).unwrap()
    }

    fn entries(out: &Path) -> Vec<String> {
        let name = |entry: io::Result<fs::DirEntry>| entry.unwrap().file_name();
        let names = fs::read_dir(out).unwrap().map(name);
        let mut names: Vec<String> = names.map(|name| name.into_string().unwrap()).collect();
        names.sort();
        names
    }

    #[test]
    fn files_appear_together_or_not_at_all() {
        let root = tempfile::tempdir().unwrap();
        let out = root.path().join("a/b");
        let folder = opened(&out, &[PAGE]);
        folder.write(PAGE, "x").unwrap();
        assert!(!out.join(SUMMARY).exists());
        drop(folder);
        assert_eq!(entries(root.path()).len(), 0, "dropped: nothing is left");
        let set = complete(&out, "run", &[PAGE]);
        assert!(set.summary().contains("\"files\""), "{}", set.summary());
        let placed = set.place().unwrap();
        assert_eq!((placed.folder, placed.replaced), (out.clone(), None));
        assert_eq!(entries(&out), [PAGE, SUMMARY]);
    }

    #[test]
    fn a_folder_holds_the_results_of_one_verb() {
        let root = tempfile::tempdir().unwrap();
        let out = root.path();
        fs::write(out.join("notes.csv"), "of the user").unwrap();
        let placed = |verb, files: &[&'static str]| complete(out, verb, files).place().unwrap();
        assert_eq!(placed("run", &[PAGE, "samples.parquet"]).replaced, None);
        assert_eq!(placed("run", &[PAGE]).replaced, None);
        assert_eq!(entries(out), ["notes.csv", PAGE, SUMMARY]);
        assert_eq!(placed("units", &[PAGE, "units.csv"]).replaced, Some("run".to_owned()));
        assert_eq!(placed("bands", &[PAGE]).replaced, Some("units".to_owned()));
        assert_eq!(entries(out), ["notes.csv", PAGE, SUMMARY]);
    }

    #[test]
    fn a_file_that_was_not_announced_is_not_lost_in_silence() {
        let root = tempfile::tempdir().unwrap();
        let folder = opened(root.path(), &[PAGE]);
        folder.write("gain.csv", "").unwrap();
        let refused =
            folder.complete(SummaryText::of(&json!({ "verb": "run" })).unwrap()).unwrap_err();
        assert_eq!(refused.to_string(), "gain.csv was written but not announced");
    }

    #[test]
    fn only_folders_that_it_made_and_that_are_empty_go_with_it() {
        let root = tempfile::tempdir().unwrap();
        let out = root.path().join("mine/a/b");
        fs::create_dir(root.path().join("mine")).unwrap();
        drop(opened(&out, &[PAGE]));
        assert_eq!(entries(&root.path().join("mine")).len(), 0, "mine stays");
        let folder = opened(&out, &[PAGE]);
        fs::write(root.path().join("mine/a/note"), "by somebody else").unwrap();
        drop(folder);
        assert!(root.path().join("mine/a/note").exists() && !out.exists());
    }

    #[test]
    fn one_process_at_a_time() {
        let root = tempfile::tempdir().unwrap();
        let first = opened(root.path(), &[PAGE]);
        let second = Folder::open(root.path(), request(&[PAGE])).unwrap_err();
        assert!(matches!(&second, FolderError::Busy(out) if out == root.path()), "{second}");
        assert!(!second.is_refusal());
        drop(first);
        drop(opened(root.path(), &[PAGE]));
        assert_eq!(entries(root.path()).len(), 0);
    }

    /// What a killed process left: a complete set takes its place, unfinished files go, and what is
    /// not of this program stays.
    #[test]
    fn what_a_killed_process_left_is_brought_in_order() {
        let root = tempfile::tempdir().unwrap();
        let out = root.path();
        let new = out.join(".unfinished-results/new");
        fs::create_dir_all(&new).unwrap();
        fs::write(new.join("samples.parquet"), "half a file").unwrap();
        fs::write(out.join(".unfinished-results/lock"), "").unwrap();
        drop(opened(out, &[PAGE]));
        assert_eq!(entries(out).len(), 0);

        let built = root.path().join("built");
        complete(&built, "gain", &[PAGE, "gain.csv"]).place().unwrap();
        fs::create_dir_all(out.join(".unfinished-results")).unwrap();
        fs::write(out.join(".unfinished-results/lock"), "").unwrap();
        fs::rename(&built, &new).unwrap();
        drop(opened(out, &[PAGE]));
        assert_eq!(entries(out), ["gain.csv", PAGE, SUMMARY]);

        fs::create_dir_all(&new).unwrap();
        fs::write(new.join("diary.txt"), "of the user").unwrap();
        let refused = Folder::open(out, request(&[PAGE])).unwrap_err();
        assert!(refused.is_refusal() && refused.to_string().contains("diary.txt"), "{refused}");
        assert_eq!(fs::read_to_string(new.join("diary.txt")).unwrap(), "of the user");
        // Without a lock beside them, files of such names are not ours either.
        fs::rename(new.join("diary.txt"), new.join("gain.csv")).unwrap();
        let refused = Folder::open(out, request(&[PAGE])).unwrap_err();
        assert!(refused.is_refusal() && refused.to_string().contains("gain.csv"), "{refused}");
        assert_eq!(fs::read_to_string(new.join("gain.csv")).unwrap(), "of the user");
    }

    /// A process that was killed between the moves of its swap, with something in the way by now.
    #[test]
    fn a_set_that_finds_no_place_is_kept_and_told() {
        let root = tempfile::tempdir().unwrap();
        let out = root.path().join("out");
        let built = root.path().join("built");
        complete(&built, "gain", &[PAGE, "gain.csv"]).place().unwrap();
        fs::create_dir_all(out.join(".unfinished-results")).unwrap();
        fs::write(out.join(".unfinished-results/lock"), "").unwrap();
        fs::rename(&built, out.join(".unfinished-results/new")).unwrap();
        fs::create_dir(out.join("gain.csv")).unwrap();
        let folder = opened(&out, &[PAGE]);
        let kept = out.join("unplaced");
        assert!(folder.notes()[0].starts_with(&printable::path(&kept)), "{:?}", folder.notes());
        drop(folder);
        assert_eq!(entries(&kept), ["gain.csv", PAGE, SUMMARY]);
        assert_eq!(entries(&out), ["gain.csv", "unplaced"]);
    }
}
