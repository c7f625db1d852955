//! Where the parts come from.

/// The file that lists the converters.
#[derive(Debug, Clone)]
pub struct PartsSource {
    /// Its name.
    pub name: String,
    /// How it was read, where that is not the plain form of a CSV file.
    pub read_as: Option<String>,
}
