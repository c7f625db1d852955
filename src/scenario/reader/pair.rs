//! Two of a few words, in an array.

use std::ops::Range;

use toml::Spanned;
use toml::de::DeValue;

use super::field::Wanted;
use super::{Field, Reading, ValueKind, listed, nearest, type_name};
use crate::input::diagnostics::Diagnostic;

impl<'a> Field<'a> {
    /// An array of two words, each of `choices`; with their places.
    pub(in crate::scenario) fn pair<T: Copy + 'a>(
        self,
        choices: impl IntoIterator<Item = T>,
        name: fn(T) -> &'static str,
    ) -> Reading<'a, [(T, Range<usize>); 2]> {
        let choices: Vec<T> = choices.into_iter().collect();
        let words: Vec<_> = choices.iter().map(|choice| name(*choice)).collect();
        let word = |item: &Spanned<DeValue<'_>>| {
            let text = item.get_ref().as_str().unwrap_or_default();
            let problem = match item.get_ref() {
                DeValue::String(text) => {
                    format!("\"{text}\" is no parameter of which a phase has one part")
                }
                other => format!("an item is {}", type_name(other)),
            };
            let chosen = choices.iter().find(|choice| name(**choice) == text);
            chosen.map(|choice| (*choice, item.span())).ok_or_else(|| {
                let expected = listed(words.iter().map(|word| format!("\"{word}\"")));
                let near = nearest(text, words.iter().copied());
                Diagnostic::new(item.span(), problem, format!("expected {expected}"))
                    .with_help(near.map(|near| format!("did you mean \"{near}\"?")))
            })
        };
        let wanted = Wanted {
            words: format!("an array of two, such as [\"{}\", \"{}\"]", words[0], words[1]),
            kind: ValueKind::Pair(words.clone()),
            toml: Box::new(move |[(first, _), (second, _)]: &[(T, Range<usize>); 2]| {
                format!("[\"{}\", \"{}\"]", name(*first), name(*second))
            }),
        };
        self.read(wanted, |field, value, kind| match value {
            DeValue::Array(items) => match items.iter().collect::<Vec<_>>().as_slice() {
                [first, second] => Ok([word(first)?, word(second)?]),
                [_] => Err(field.wrong("holds 1 item", kind)),
                other => Err(field.wrong(&format!("holds {} items", other.len()), kind)),
            },
            other => Err(field.wrong_type(other, kind)),
        })
    }
}
