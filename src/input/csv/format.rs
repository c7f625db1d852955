//! What the columns of a kind of file are.

/// What a file holds.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Format<'f> {
    /// The kind of file, as messages name it: "parts".
    pub(crate) kind: &'static str,
    /// The columns that it must have, in their plain order: first those of texts, then those of values.
    /// The end of a name gives the unit of its values.
    pub(crate) columns: &'f [&'f str],
    /// How many of these columns hold texts.
    pub(crate) texts: usize,
    /// Columns that it may have: first those of texts, then those of values. They are counted after the
    /// others.
    pub(crate) optional: &'f [&'f str],
    /// How many of these hold texts.
    pub(crate) optional_texts: usize,
    /// The factor by which a value may lie above its nominal value and, where it cannot be zero,
    /// below it, with a unit of its own too; none where parts may be mismatched by any factor.
    pub(crate) farthest: Option<f64>,
    /// What an empty cell is for, as "or nothing …" goes on.
    pub(crate) empty: &'static str,
}

impl<'f> Format<'f> {
    /// All columns, those that must be there first.
    pub(super) fn names(self) -> impl Iterator<Item = &'f str> {
        self.columns.iter().chain(self.optional).copied()
    }

    /// The plain name of a column.
    pub(super) fn name(self, column: usize) -> &'f str {
        let optional = || self.optional[column - self.columns.len()];
        self.columns.get(column).copied().unwrap_or_else(optional)
    }

    /// Whether a column holds texts.
    pub(super) fn is_text(self, column: usize) -> bool {
        match column.checked_sub(self.columns.len()) {
            None => column < self.texts,
            Some(optional) => optional < self.optional_texts,
        }
    }
}

/// An empty cell takes the nominal value.
pub(crate) const FOR_THE_NOMINAL: &str = "for the nominal";

/// Why a cell of a file of measurements is empty.
pub(crate) const NOT_MEASURED: &str = "where none was measured";
