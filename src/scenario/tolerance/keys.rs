//! What the readers of tolerances share.

use std::cell::RefCell;
use std::ops::{Bound, Range};
use std::path::{Path, PathBuf};

use super::shape::ShapeName;
use crate::converter::{ConverterSize, Parameter};
use crate::input::diagnostics::{Diagnostics, InputError};
use crate::input::file::InputFile;
use crate::scenario::reader::{Bounds, Table};

/// What the reader of a part's tolerance must know beside its table.
#[derive(Clone, Copy)]
pub(in crate::scenario) struct PartContext<'a> {
    /// The nominal values, as far as they are known: a band relative to zero is an error.
    pub(in crate::scenario) nominal: &'a dyn Fn(Parameter) -> Option<f64>,
    /// Whether the scenario gives a nominal value.
    pub(in crate::scenario) is_told: &'a dyn Fn(Parameter) -> bool,
    /// How many parts a converter has; the least possible where it is not known.
    pub(in crate::scenario) size: ConverterSize,
    /// The files of measured parts.
    pub(in crate::scenario) files: &'a MeasuredFiles<'a>,
}

/// What a half width may be.
pub(in crate::scenario) const BAND: Bounds = Bounds {
    words: "of zero or more and below 100 %",
    low: Bound::Included(0.0),
    high: Bound::Excluded(1.0),
};
/// The files of measured parts that a scenario names.
pub(in crate::scenario) struct MeasuredFiles<'a> {
    folder: PathBuf,
    read: &'a dyn Fn(&Path) -> Result<InputFile, InputError>,
    found: RefCell<Vec<InputFile>>,
    pub(super) errors: RefCell<Vec<Diagnostics>>,
}

impl<'a> MeasuredFiles<'a> {
    /// Files relative to the folder of a scenario file.
    pub(in crate::scenario) fn beside(
        scenario: &Path,
        read: &'a dyn Fn(&Path) -> Result<InputFile, InputError>,
    ) -> Self {
        let folder = scenario.parent().unwrap_or(Path::new("")).to_owned();
        Self { folder, read, found: RefCell::default(), errors: RefCell::default() }
    }

    /// Reads a file, once however often it is named.
    pub(super) fn read(&self, name: &str) -> Result<InputFile, InputError> {
        let path = self.folder.join(name);
        if let Some(known) = self.found.borrow().iter().find(|file| file.path == path) {
            return Ok(known.clone());
        }
        let file = (self.read)(&path)?;
        self.found.borrow_mut().push(file.clone());
        Ok(file)
    }

    /// The paths of all files that were read, and what is wrong with their content.
    pub(in crate::scenario) fn finish(self) -> (Vec<PathBuf>, Vec<Diagnostics>) {
        let paths = self.found.into_inner().into_iter().map(|file| file.path).collect();
        (paths, self.errors.into_inner())
    }
}

/// A key that goes with some shapes only.
#[derive(Debug, Clone, Copy)]
pub(super) struct ShapeKey {
    pub(super) key: &'static str,
    pub(super) shapes: &'static [ShapeName],
}

impl ShapeKey {
    /// Notes down with which shapes it goes, and reports it where it was given for another one.
    pub(super) fn check(
        self,
        table: &Table<'_>,
        name: Option<ShapeName>,
        place: Option<Range<usize>>,
    ) {
        let words: Vec<_> = self.shapes.iter().map(|shape| shape.word()).collect();
        table.only_with(self.key, "shape", words.clone());
        if let Some(name) = name.filter(|name| !self.shapes.contains(name))
            && place.is_some()
        {
            let shapes: Vec<_> = words.iter().map(|word| format!("\"{word}\"")).collect();
            let message = format!("`{}` does not go with the shape \"{}\"", self.key, name.word());
            let expected = format!("expected only where the shape is {}", shapes.join(" or "));
            table.report_at(place, message, &expected);
        }
    }
}
