//! Which separator a file has.

use super::format::Format;
use super::header::is_known;
use super::record;
use super::separator::Separator;
use crate::input::diagnostics::Diagnostic;

/// Rows below the first in which the header is looked for.
const ROWS_SEARCHED: usize = 20;

/// The separator of a file and the byte at which its header begins. Spreadsheets write a first line
/// `sep=;`. Without it the separator is the one by which most names of columns are found in the header.
pub(super) fn separator_of(
    text: &str,
    format: Format<'_>,
    errors: &mut Vec<Diagnostic>,
) -> Option<(Separator, usize)> {
    let first = text.lines().next().unwrap_or_default();
    if let Some(declared) = declaration(first) {
        let Some(separator) = separator_declared(declared) else {
            let label = "expected a comma, a semicolon or a tab";
            let error = Diagnostic::new(4..first.len(), "the separator is not known", label);
            errors.push(error);
            return None;
        };
        let body = text.find('\n').map_or(text.len(), |feed| feed + 1);
        return Some((separator, body));
    }
    let known = known_names(text, format);
    let most = known.into_iter().max().unwrap_or(0);
    if let Some(error) = header_elsewhere(text, format, most) {
        errors.push(error);
        return None;
    }
    if !first.contains([',', ';', '\t']) {
        return fitting_separator(text, errors);
    }
    let mut best = Separator::ALL.into_iter().zip(known).filter(|(_, count)| *count == most);
    let (separator, _) = best.next()?;
    let is_open = most > 0 && best.next().is_some();
    if is_open && format.columns.len() == 1 {
        // A file of one column has no separator. Its commas are decimal ones.
        let separator = if text.contains(',') { Separator::Semicolon } else { Separator::Comma };
        return Some((separator, 0));
    }
    if is_open {
        let label = "expected commas, semicolons or tabs between all names of columns";
        let help = Some("add a first line such as sep=;".to_owned());
        let message = "the header has two separators";
        errors.push(Diagnostic::new(0..first.len(), message, label).with_help(help));
        return None;
    }
    Some((separator, 0))
}

/// The only separator by which no row is longer than the header, and the byte at which that begins. In a
/// file of one column nothing stands between cells, but commas may stand inside them.
pub(super) fn fitting_separator(
    text: &str,
    errors: &mut Vec<Diagnostic>,
) -> Option<(Separator, usize)> {
    let widths = Separator::ALL.map(|separator| {
        let extent = record::Extent { body: 0, most: ROWS_SEARCHED };
        let rows = record::records(text, extent, separator, &mut Vec::new());
        let width = rows.first().map_or(0, record::Record::width);
        if rows.iter().all(|row| row.width() <= width) { width } else { 0 }
    });
    if widths.iter().filter(|width| **width > 1).count() > 1 {
        let first = text.lines().next().unwrap_or_default();
        let label = "expected commas, semicolons or tabs between all names of columns";
        let help = Some("add a first line such as sep=;".to_owned());
        let message = "the header has two separators";
        errors.push(Diagnostic::new(0..first.len(), message, label).with_help(help));
        return None;
    }
    let most = widths.into_iter().max().unwrap_or(0);
    let chosen = widths.iter().position(|width| *width == most).unwrap_or(0);
    Some((Separator::ALL[chosen], 0))
}

/// What a first line `sep=;` says, which some programs put in quotes.
pub(super) fn declaration(first: &str) -> Option<&str> {
    let bare = first.trim_start_matches('"');
    let start = bare.get(..4).filter(|start| start.eq_ignore_ascii_case("sep="))?;
    Some(&bare[start.len()..])
}

/// The separator of a declaration; a closing quote and empty cells may follow.
fn separator_declared(declared: &str) -> Option<Separator> {
    let (first, rest) = declared.as_bytes().split_first()?;
    let is_empty = rest.iter().all(|byte| b"\",;\t ".contains(byte));
    Separator::with_byte(*first).filter(|_| is_empty)
}

/// Whether one of the first rows of a text holds the name of a column.
pub(super) fn knows_name_anywhere(text: &str, format: Format<'_>) -> bool {
    let mut rows = text.lines().take(ROWS_SEARCHED);
    rows.any(|row| known_names(row, format).into_iter().any(|count| count > 0))
}

/// Names of columns in the first row of a text, for each separator.
fn known_names(text: &str, format: Format<'_>) -> [usize; 3] {
    Separator::ALL.map(|separator| {
        record::first(text, separator)
            .map_or(0, |head| head.texts().filter(|name| is_known(name, format)).count())
    })
}

/// The error of a file whose first row holds no header, or less of it than a later one. An empty file
/// is another error.
fn header_elsewhere(text: &str, format: Format<'_>, in_first: usize) -> Option<Diagnostic> {
    let place = text.lines().position(|row| !row.trim().is_empty())?;
    let names_in = |row: &str| known_names(row, format).into_iter().max().unwrap_or(0);
    let later = text.lines().enumerate().skip(place + 1).take(ROWS_SEARCHED);
    let header = later.map(|(line, row)| (line + 1, names_in(row)));
    // One name among many may be a word of the text above the header.
    let least = in_first.max(usize::from(format.columns.len() > 1));
    let header = header.filter(|(_, names)| *names > least).map(|(line, _)| line).next();
    let help = match header {
        Some(line) => format!("the header is in line {line}: remove what stands above it"),
        None if in_first > 0 => return None,
        None => format!("the header must hold {}", format.columns.join(",")),
    };
    let label = "expected the header here: commas, semicolons or tabs between names of columns";
    let message = "the first row is not the header";
    let start = text.len() - text.trim_start().len();
    Some(Diagnostic::new(start..start + 1, message, label).with_help(Some(help)))
}
