//! The output folder: files appear in it whole, or not at all.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::Context;
use tempfile::TempDir;

/// The file whose presence says that all others are there: it is put in its place last.
const LAST: &str = "summary.json";

/// Result files in the making, in a hidden folder beside their places.
///
/// Dropped without [`finish`](Self::finish), it takes them with it, and the folders that it made.
#[derive(Debug)]
pub struct Folder {
    // Dropped in this order: the hidden folder before those that it stands in.
    making: TempDir,
    place: PathBuf,
    made: Made,
}

/// Folders that were not there before, the innermost first; removed when dropped, if empty.
#[derive(Debug)]
struct Made(Vec<PathBuf>);

impl Made {
    /// Makes a folder and those that it stands in.
    fn all(place: &Path) -> std::io::Result<Self> {
        let missing = place.ancestors().take_while(|p| !p.as_os_str().is_empty() && !p.exists());
        let made = Self(missing.map(Path::to_owned).collect());
        fs::create_dir_all(place)?;
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
    pub fn open(place: &Path) -> anyhow::Result<Self> {
        let made = Made::all(place)
            .with_context(|| format!("cannot make the output folder {}", place.display()))?;
        let making = tempfile::Builder::new()
            .prefix(".unfinished-")
            .tempdir_in(place)
            .with_context(|| format!("cannot write to the output folder {}", place.display()))?;
        Ok(Self { making, place: place.to_owned(), made })
    }

    /// Where a file in the making stands.
    pub fn path(&self, name: &str) -> PathBuf {
        self.making.path().join(name)
    }

    /// Where it will stand once finished.
    pub fn place(&self, name: &str) -> PathBuf {
        self.place.join(name)
    }

    /// Writes a whole file.
    ///
    /// # Errors
    ///
    /// When it cannot be written.
    pub fn write(&self, name: &str, content: &str) -> anyhow::Result<()> {
        fs::write(self.path(name), content)
            .with_context(|| format!("cannot write {}", self.place(name).display()))
    }

    /// Puts all files into their places, the summary last; an old summary goes first, so that no
    /// moment shows it beside new files.
    ///
    /// # Errors
    ///
    /// When a file cannot be moved.
    pub fn finish(mut self) -> anyhow::Result<Vec<PathBuf>> {
        let mut names: Vec<_> = fs::read_dir(self.making.path())?
            .map(|entry| Ok(entry?.file_name()))
            .collect::<std::io::Result<_>>()?;
        names.sort_by_key(|name| (name.as_os_str() == LAST, name.clone()));
        match fs::remove_file(self.place.join(LAST)) {
            Err(e) if e.kind() != std::io::ErrorKind::NotFound => return Err(e.into()),
            _ => {}
        }
        let mut placed = Vec::new();
        for name in names {
            let to = self.place.join(&name);
            fs::rename(self.making.path().join(&name), &to)
                .with_context(|| format!("cannot write {}", to.display()))?;
            placed.push(to);
        }
        self.made.0.clear();
        Ok(placed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_appear_together_or_not_at_all() {
        let root = tempfile::tempdir().unwrap();
        let place = root.path().join("a/b");
        let folder = Folder::open(&place).unwrap();
        folder.write("summary.json", "{}").unwrap();
        folder.write("report.html", "x").unwrap();
        assert!(!place.join("summary.json").exists());
        drop(folder);
        assert_eq!(fs::read_dir(root.path()).unwrap().count(), 0, "dropped: nothing is left");
        let folder = Folder::open(&place).unwrap();
        folder.write("summary.json", "{}").unwrap();
        folder.write("report.html", "x").unwrap();
        let placed = folder.finish().unwrap();
        assert!(placed.last().unwrap().ends_with("summary.json"));
        assert_eq!(fs::read_dir(&place).unwrap().count(), 2);
    }

    #[test]
    fn only_folders_that_it_made_and_that_are_empty_go_with_it() {
        let root = tempfile::tempdir().unwrap();
        let place = root.path().join("mine/a/b");
        fs::create_dir(root.path().join("mine")).unwrap();
        drop(Folder::open(&place).unwrap());
        assert_eq!(fs::read_dir(root.path().join("mine")).unwrap().count(), 0, "mine stays");
        let folder = Folder::open(&place).unwrap();
        fs::write(root.path().join("mine/a/note"), "by somebody else").unwrap();
        drop(folder);
        assert!(root.path().join("mine/a/note").exists() && !place.exists());
    }
}
