//! What a study reports while it works.

/// Receives how far a study has come. A stage counts in units of its own: samples, converters,
/// trials.
pub trait Progress: Send {
    /// A stage begins, of so many units at most; of none where nobody knows how many.
    fn stage(&mut self, name: &'static str, units: u64);
    /// So many more are done.
    fn advance(&mut self, units: u64);
    /// So many are still to come in this stage, more or less.
    fn expect(&mut self, units: u64);
}

/// Shows nothing.
#[derive(Debug, Clone, Copy, Default)]
pub struct Silent;

impl Progress for Silent {
    fn stage(&mut self, _: &'static str, _: u64) {}

    fn advance(&mut self, _: u64) {}

    fn expect(&mut self, _: u64) {}
}
