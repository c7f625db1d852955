//! Names of the variants.

use crate::report::format::names;
use crate::study::sensors::{NoRating, SensorStudy, Variant, VariantResult};

/// A variant in a table: `(b) chain`.
pub(in crate::report::sensors) fn name(variant: Variant) -> String {
    let words = match variant {
        Variant::Paralleled => "paralleled",
        Variant::Chain => "chain",
        Variant::ParalleledWithSensors => "paralleled + sensors",
        Variant::ChainWithSensors => "chain + sensors",
    };
    format!("{} {words}", parenthesised(variant))
}

/// Its verdict, or that it is not judged.
pub(in crate::report::sensors) fn verdict(result: &VariantResult) -> &'static str {
    names::verdict_if_judged(result.verdict, result.is_judged)
}

/// What a table says in place of a rating: the word that the summary has for the reason.
pub(in crate::report::sensors) fn no_rating(reason: NoRating) -> &'static str {
    match reason {
        NoRating::Misses => "target missed",
        NoRating::NotDecided => "not decided",
        NoRating::TooFewSamples => "too few samples",
    }
}

/// A variant's letter in a sentence: `(b)`.
pub(super) fn parenthesised(variant: Variant) -> String {
    format!("({})", variant.letter())
}

/// The variants of which something holds: `(c) and (d)`.
pub(super) fn letters(study: &SensorStudy, holds: impl Fn(&VariantResult) -> bool) -> String {
    letters_of(study.variants.iter().filter(|v| holds(v)).map(|v| v.variant))
}

/// `(b), (c) and (d)`.
pub(super) fn letters_of(variants: impl Iterator<Item = Variant>) -> String {
    listed(&variants.map(parenthesised).collect::<Vec<_>>())
}

/// `x, y and z`.
pub(super) fn listed(texts: &[String]) -> String {
    match texts {
        [] => String::new(),
        [only] => only.clone(),
        [others @ .., last] => format!("{} and {last}", others.join(", ")),
    }
}
