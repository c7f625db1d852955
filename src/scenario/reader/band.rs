//! Tolerance bands: a half width, a letter, or two ends.

use std::ops::Bound;

use toml::Spanned;
use toml::de::DeValue;

use super::field::State;
use super::{Bounds, Field, Reading, ValueKind};
use crate::input::diagnostics::Diagnostic;
use crate::input::quantity::Quantity;
use crate::scenario::letters::{all_letters, ends_of_letter};

/// What the ends of a band may be.
const ANY_END: Bounds =
    Bounds { words: "of either sign", low: Bound::Unbounded, high: Bound::Unbounded };
/// The same, where the band is a fraction of the nominal value.
/// No part is bought that far above nominal: its unit must be wrong.
const END_OF_PART: Bounds = Bounds {
    words: "above −100 %, up to 1000 %",
    low: Bound::Excluded(-1.0),
    high: Bound::Included(10.0),
};

impl<'a> Field<'a> {
    /// The two ends of a band, relative to nominal: typed as a half width within `bounds`, as a
    /// letter of IEC 60062, or as an array of both ends.
    pub(in crate::scenario) fn band_of_part<Q: Quantity>(
        self,
        bounds: Bounds,
    ) -> Reading<'a, [f64; 2]> {
        self.band::<Q>(BandForm { bounds, ends: END_OF_PART, has_letters: true })
    }

    /// The two ends of a band, typed as a half width within `bounds`, or as an array of both ends.
    pub(in crate::scenario) fn band_without_letters<Q: Quantity>(
        self,
        bounds: Bounds,
    ) -> Reading<'a, [f64; 2]> {
        self.band::<Q>(BandForm { bounds, ends: ANY_END, has_letters: false })
    }

    fn band<Q: Quantity>(self, form: BandForm) -> Reading<'a, [f64; 2]> {
        let dimension = Q::DIMENSION;
        let state = match self.entry.map(|(_, value)| value.get_ref()) {
            None => State::Absent,
            Some(DeValue::Array(items)) => {
                self.two_ends::<Q>(&items.iter().collect::<Vec<_>>(), form)
            }
            Some(DeValue::String(text)) if form.has_letters && is_letter(text.trim()) => {
                self.letter(text.trim())
            }
            Some(DeValue::String(text))
                if let Some(meant) = likely_form(text.trim(), dimension.example()) =>
            {
                self.log.report(self.wrong(&format!("is \"{text}\""), &meant));
                State::Wrong
            }
            Some(_) => match self.clone().quantity::<Q>(form.bounds).state {
                State::Given(half) => State::Given([-half.value(), half.value()]),
                State::Absent | State::Wrong => State::Wrong,
            },
        };
        let wanted =
            format!("`{}`, {} such as \"{}\"", self.key, dimension.noun(), dimension.example());
        let BandForm { bounds, ends, has_letters } = form;
        let kind = ValueKind::Band { dimension, bounds, ends, has_letters };
        // No band has a default that is written down.
        let toml = Box::new(|_: &[f64; 2]| String::new());
        Reading { state, wanted, kind, toml, field: self }
    }

    fn letter(&self, text: &str) -> State<[f64; 2]> {
        if let Some(ends) = ends_of_letter(text) {
            return State::Given(ends);
        }
        let letters: String = all_letters().collect();
        let help = match text {
            "E" => Some(
                "E stands for different bands in different documents: write the percentage"
                    .to_owned(),
            ),
            _ => ends_of_letter(&text.to_uppercase())
                .map(|_| format!("did you mean \"{}\"?", text.to_uppercase())),
        };
        let error = self.wrong(
            &format!("is \"{text}\""),
            &format!("one of the letters {letters} of IEC 60062, or a quantity such as \"5 %\""),
        );
        self.log.report(error.with_help(help));
        State::Wrong
    }

    fn two_ends<Q: Quantity>(
        &self,
        items: &[&'a Spanned<DeValue<'a>>],
        form: BandForm,
    ) -> State<[f64; 2]> {
        let &[low, high] = items else {
            let wanted = "two ends, the lower one first, such as [\"-3 %\", \"+8 %\"]";
            let plural = if items.len() == 1 { "" } else { "s" };
            self.log.report(self.wrong(&format!("holds {} item{plural}", items.len()), wanted));
            return State::Wrong;
        };
        // Both are read before one of them ends it, so that all errors are found.
        let ends = [low, high].map(|item| self.quantity_in::<Q>(item, form.ends));
        let [Some(lower), Some(upper)] = ends else { return State::Wrong };
        let (lower, upper) = (lower.value(), upper.value());
        if lower < upper {
            return State::Given([lower, upper]);
        }
        self.log.report(Diagnostic::new(
            high.span(),
            format!("{} has its ends in the wrong order, or at one place", self.name),
            "expected an upper end above the lower one",
        ));
        State::Wrong
    }
}

/// How a band may be typed.
#[derive(Debug, Clone, Copy)]
struct BandForm {
    bounds: Bounds,
    ends: Bounds,
    has_letters: bool,
}

/// How to write a band that is typed as both ends in one text, or as a half width with both signs.
fn likely_form(text: &str, example: &str) -> Option<String> {
    if text.matches('%').count() > 1 {
        Some("two ends, the lower one first, such as [\"-3 %\", \"+8 %\"]".to_owned())
    } else if ["±", "+-", "+/-"].iter().any(|sign| text.starts_with(sign)) {
        Some(format!("a half width without signs, such as \"{example}\""))
    } else {
        None
    }
}

/// Whether a text can only be meant for a letter.
fn is_letter(text: &str) -> bool {
    text.chars().count() == 1 && text.chars().all(char::is_alphabetic)
}
