//! Where the parts and the measured currents come from.

/// A file that was read.
#[derive(Debug, Clone)]
pub struct SourceFile {
    /// Its name.
    pub name: String,
    /// How it was read, where that is not the plain form of a CSV file.
    pub read_as: Option<String>,
}

/// The files that were read.
#[derive(Debug, Clone)]
pub struct UnitsSource {
    /// The parts file, which lists the converters.
    pub parts: SourceFile,
    /// The file of measured currents, if there is one beside the parts file.
    pub measured: Option<SourceFile>,
}

impl UnitsSource {
    /// All files.
    pub(super) fn files(&self) -> impl Iterator<Item = &SourceFile> {
        std::iter::once(&self.parts).chain(&self.measured)
    }
}
