//! Which separator a file has.

use super::format::Format;
use super::header::is_known;
use super::record;
use super::separator::Separator;
use crate::input::diagnostics::Diagnostic;

/// The separator of a file and the byte at which its header begins. Spreadsheets write a first line
/// `sep=;`. Without it the separator is the one by which most names of columns are found in the header.
pub(super) fn separator_of(
    text: &str,
    format: Format,
    errors: &mut Vec<Diagnostic>,
) -> Option<(Separator, usize)> {
    let first = text.lines().next().unwrap_or_default();
    if first.get(..4).is_some_and(|start| start.eq_ignore_ascii_case("sep=")) {
        let declared = match first.as_bytes()[4..] {
            [byte] => Separator::with_byte(byte),
            _ => None,
        };
        if declared.is_none() {
            let label = "expected a comma, a semicolon or a tab";
            let error = Diagnostic::new(4..first.len(), "the separator is not known", label);
            errors.push(error);
        }
        let body = text.find('\n').map_or(text.len(), |feed| feed + 1);
        return declared.map(|separator| (separator, body));
    }
    let known = Separator::ALL.map(|separator| {
        record::first(text, separator)
            .map_or(0, |head| head.texts().filter(|name| is_known(name, format)).count())
    });
    let most = known.into_iter().max().unwrap_or(0);
    let mut best = Separator::ALL.into_iter().zip(known).filter(|(_, count)| *count == most);
    let (separator, _) = best.next()?;
    if most > 0 && best.next().is_some() {
        let label = "expected commas, semicolons or tabs between all names of columns";
        let help = Some("add a first line such as sep=;".to_owned());
        let message = "the header has two separators";
        errors.push(Diagnostic::new(0..first.len(), message, label).with_help(help));
        return None;
    }
    Some((separator, 0))
}
