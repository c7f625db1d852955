//! A scenario to begin from, which holds every key that there is.

/// A commented scenario. A `#` without a blank behind it comments out a key or a table that may be
/// left out; the keys show their defaults, or an example where there is none.
pub const DRAFT: &str = include_str!("draft.toml");

/// The draft with all that is commented out: the scenario that holds every key.
pub fn complete() -> String {
    let uncommented = |line: &'static str| match line.strip_prefix('#') {
        Some(code) if code.starts_with(|c: char| c.is_alphanumeric() || c == '[') => code,
        _ => line,
    };
    DRAFT.lines().map(uncommented).flat_map(|line| [line, "\n"]).collect()
}
