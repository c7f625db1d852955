//! What the columns of a kind of file are.

/// What a file holds.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Format<'f> {
    /// The kind of file, as messages name it: "parts".
    pub(crate) kind: &'static str,
    /// The columns, in their plain order: first those of texts, then those of values. The end of a
    /// name gives the unit of its values.
    pub(crate) columns: &'f [&'f str],
    /// How many of the columns hold texts.
    pub(crate) texts: usize,
    /// The factor by which a value may lie above its nominal value and, where it cannot be zero,
    /// below it, with a unit of its own too; none where parts may be mismatched by any factor.
    pub(crate) farthest: Option<f64>,
    /// What an empty cell is for, as "or nothing …" goes on.
    pub(crate) empty: &'static str,
}

/// An empty cell takes the nominal value.
pub(crate) const FOR_THE_NOMINAL: &str = "for the nominal";
