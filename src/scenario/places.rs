//! Where in a scenario file an error belongs that shows only when the scenario is worked on.

use std::ops::Range;

use toml::de::{DeTable, DeValue};

use super::document;
use crate::converter::Age;
use crate::input::diagnostics::{Diagnostic, Diagnostics};
use crate::input::file::InputFile;

/// A place in a scenario file; where it is left out, the one that stands for its default.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// The table of the operating point with this name.
    OperatingPoint(String),
    /// The number of samples.
    Samples,
    /// The yield target.
    YieldTarget,
    /// A limit by its key, of the chain or else of the paralleled reference.
    Limit(&'static str),
    /// The limits of single parts.
    PartLimits,
}

/// Whether an operating point of this name is called so, at any age at which it is judged.
fn is_called(point: &str, name: &str) -> bool {
    name.strip_prefix(point).is_some_and(|rest| {
        let is_age = |age: &str| Age::ALL.into_iter().any(|own| own.name() == age);
        rest.is_empty() || rest.strip_prefix(", ").is_some_and(is_age)
    })
}

impl Place {
    /// The error `message` at this place of a scenario file, with what was `expected` there.
    pub fn error(
        &self,
        file: &InputFile,
        message: &str,
        expected: &str,
        help: Option<String>,
    ) -> Diagnostics {
        let span = self.find(&document::parse(&file.text).0).unwrap_or(0..0);
        let error = Diagnostic::new(span, message, expected).with_help(help);
        Diagnostics::new(file.name(), file.text.as_str(), [error])
    }

    fn find(&self, root: &DeTable<'_>) -> Option<Range<usize>> {
        match self {
            Self::OperatingPoint(name) => {
                let mut points = root.get("operating_point")?.get_ref().as_array()?.iter();
                let is_it = |point: &DeValue<'_>| {
                    let found = point.get("name").and_then(|found| found.get_ref().as_str());
                    found.is_some_and(|found| is_called(found.trim(), name))
                };
                Some(points.find(|point| is_it(point.get_ref()))?.span())
            }
            Self::Samples => key(root, "run", "samples").or_else(|| Self::YieldTarget.find(root)),
            Self::PartLimits => key(root, "limits", "part"),
            Self::Limit(limit) => key(root, "limits", limit).or_else(|| {
                let paralleled = root.get("limits")?.get_ref().get("paralleled")?;
                Some(paralleled.get_ref().get(limit)?.span())
            }),
            Self::YieldTarget => {
                let header = || Some(root.get("limits")?.span());
                let failures = || key(root, "limits", "failure_target");
                key(root, "limits", "yield_target").or_else(failures).or_else(header)
            }
        }
    }
}

fn key(root: &DeTable<'_>, table: &str, key: &str) -> Option<Range<usize>> {
    Some(root.get(table)?.get_ref().get(key)?.span())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The data in it are invented.
    const SHELF: &str = include_str!("../../tests/data/shelf.toml");

    fn found(place: &Place, text: &str) -> String {
        let span = place.find(&document::parse(text).0).unwrap_or(0..0);
        text[span].to_owned()
    }

    #[test]
    fn places_are_those_of_the_file() {
        let point = Place::OperatingPoint("full load".into());
        assert_eq!(found(&point, SHELF), "[[operating_point]]");
        let aged = Place::OperatingPoint("full load, end of life".into());
        assert_eq!(found(&aged, SHELF), "[[operating_point]]");
        assert_eq!(found(&Place::Samples, SHELF), "20000");
        assert_eq!(found(&Place::YieldTarget, SHELF), "\"99 %\"");
        let without = SHELF.replace("samples = 20000", "");
        assert_eq!(found(&Place::Samples, &without), "\"99 %\"");
        let without = without.replace("yield_target  = \"99 %\"", "");
        assert_eq!(found(&Place::Samples, &without), "[limits]");
        assert_eq!(found(&Place::OperatingPoint("none".into()), SHELF), "");
    }
}
