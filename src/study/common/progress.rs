//! What a study that goes through several stages reports while it works.

/// Whoever shows how far the work has come.
pub trait Progress: Send {
    /// A stage begins that solves so many converters at most.
    fn stage(&mut self, name: &'static str, converters: u64);
    /// So many are done.
    fn advance(&mut self, converters: u64);
}
