//! Keys that nobody asked for, and where they may belong.

use super::description::{Description, KeyDescription, ValueKind};
use super::{ANY_PARAMETER, listed, nearest};
use crate::input::diagnostics::Diagnostic;

/// More tables that know a key do not tell where it belongs.
const TABLES: usize = 2;

/// A key that nobody asked for.
#[derive(Debug)]
pub(super) struct UnknownKey {
    pub(super) key: String,
    /// The keys that its table knows.
    pub(super) known: Vec<&'static str>,
    pub(super) error: Diagnostic,
}

impl UnknownKey {
    /// The error, with the table in which the key belongs, or the key that was probably meant.
    pub(super) fn located(self, all: &Description) -> Diagnostic {
        let tables = self.tables(all);
        let help = if tables.is_empty() {
            let near = nearest(&self.key, self.known.iter().copied());
            near.map(|near| format!("did you mean `{near}`?"))
        } else {
            Some(format!("`{}` belongs {}", self.key, listed(tables.into_iter())))
        };
        self.error.with_help(help)
    }

    /// The tables that know it; none where they are many.
    fn tables(&self, all: &Description) -> Vec<String> {
        let is_known = |own: &&KeyDescription| own.key == self.key;
        let tables: Vec<_> = all.keys.iter().filter(is_known).collect();
        if tables.len() > TABLES || tables.iter().any(|own| own.table.contains(ANY_PARAMETER)) {
            return Vec::new();
        }
        tables.iter().map(|own| header(&own.table, all)).collect()
    }
}

/// In which table, as files show it.
fn header(path: &str, all: &Description) -> String {
    let is_repeated =
        all.keys.iter().any(|own| own.path() == path && own.kind == ValueKind::Tables);
    match path {
        "" => "at the top of the scenario, above all tables".to_owned(),
        _ if is_repeated => format!("in [[{path}]]"),
        _ => format!("in [{path}]"),
    }
}
