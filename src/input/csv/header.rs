//! Which column holds what, and in which unit.

use std::ops::Range;

use super::format::Format;
use super::record::Record;
use crate::input::diagnostics::Diagnostic;
use crate::input::quantity::{self, Dimension, UnitInUse};
use crate::printable;

/// A name that is as like to that of a missing column is taken for a misspelt one: 1 is the same name.
const LEAST_LIKENESS: f64 = 0.88;

/// The end of a name whose values are thermal resistances.
const KELVIN_PER_WATT: &str = "_K_per_W";

/// Names of columns longer than this are cut in messages.
const SHOWN: usize = 40;

/// Most names of columns that a message lists.
const LISTED: usize = 12;

/// The columns of a file that are read, in the order of its format, and those that are not. An optional
/// column may be missing.
pub(super) struct Header<'f> {
    pub(super) columns: Vec<Option<HeaderColumn<'f>>>,
    pub(super) ignored: Vec<String>,
}

/// A column that is read.
#[derive(Debug, Clone)]
pub(super) struct HeaderColumn<'f> {
    /// Its name in the plain form.
    pub(super) name: &'f str,
    /// Its place among the columns of the file.
    pub(super) index: usize,
    /// What its values measure; none for texts and plain numbers.
    pub(super) dimension: Option<Dimension>,
    /// The unit that the header gives.
    pub(super) unit: Option<UnitInUse>,
    /// Its name as the file has it.
    pub(super) written: String,
    span: Range<usize>,
}

impl<'f> HeaderColumn<'f> {
    /// The place of its name.
    pub(super) fn span(&self) -> Range<usize> {
        self.span.clone()
    }

    pub(super) fn lacks_unit(&self) -> bool {
        self.dimension.is_some() && self.unit.is_none()
    }

    pub(super) fn without_unit(&self) -> Diagnostic {
        Diagnostic::new(
            self.span.clone(),
            format!("the column `{}` has no unit", self.written),
            format!("expected `{}`, or a unit in every cell of the column", self.name),
        )
    }

    /// Its plain name without unit, and the unit of its values, where that is not the plain one.
    pub(super) fn unusual_unit(&self) -> Option<(&'f str, &str)> {
        let unit = self.unit.as_ref().filter(|unit| unit.power != 0)?;
        Some((base(self.name), &unit.symbol))
    }
}

/// Adds to how a file was read the units of its columns: `with resonant_inductance in µH`.
pub(super) fn add_units(said: &mut Vec<String>, units: impl Iterator<Item = String>) {
    let mut units = units.peekable();
    if let Some(first) = units.next_if(|_| said.is_empty()) {
        said.push(format!("with {first}"));
    }
    said.extend(units);
}

/// Whether a name of the header is one of the format's columns.
pub(super) fn is_known(written: &str, format: Format<'_>) -> bool {
    column_of(written, format).is_some()
}

/// The column that a name of the header means, with its unit.
pub(super) struct ColumnName {
    pub(super) column: usize,
    pub(super) unit: Result<Option<UnitInUse>, quantity::Mistake>,
}

/// Reads the header: every column of the format that is not optional must be there, in any order.
pub(super) fn read<'f>(
    head: &Record,
    format: Format<'f>,
    errors: &mut Vec<Diagnostic>,
) -> Option<Header<'f>> {
    let before = errors.len();
    let mut found: Vec<Option<HeaderColumn<'f>>> = vec![None; format.names().count()];
    let mut strange = Vec::new();
    for (index, written) in head.texts().enumerate() {
        let shown = shortened(written);
        match column_of(written, format) {
            None if written.is_empty() => {}
            None => strange.push((index, format!("`{shown}`"))),
            Some(ColumnName { column, .. }) if found[column].is_some() => {
                errors.push(Diagnostic::new(
                    head.span(index),
                    format!("`{shown}` is a second column `{}`", format.name(column)),
                    "expected every column once",
                ));
            }
            Some(ColumnName { column, unit }) => {
                let name = format.name(column);
                let dimension = dimension_of(column, format);
                let span = head.span(index);
                let unit = unit.unwrap_or_else(|mistake| {
                    errors.push(wrong_unit(&shown, span.clone(), dimension, &mistake));
                    None
                });
                let written = shown;
                found[column] = Some(HeaderColumn { name, index, dimension, unit, written, span });
            }
        }
    }
    report_missing(head, format, &found, &mut strange, errors);
    let ignored = strange.into_iter().map(|(_, name)| name).collect();
    (errors.len() == before).then_some(Header { columns: found, ignored })
}

pub(super) fn wrong_unit(
    shown: &str,
    span: Range<usize>,
    dimension: Option<Dimension>,
    mistake: &quantity::Mistake,
) -> Diagnostic {
    let label = match dimension {
        Some(dimension) => {
            format!("expected a unit of {} such as {}", dimension.noun(), dimension.symbol())
        }
        None => "expected no unit".to_owned(),
    };
    Diagnostic::new(span, format!("the column `{shown}` {mistake}"), label)
        .with_help(mistake.help())
}

/// Reports the columns that are not there: at the name that may be meant for one, the others together.
fn report_missing(
    head: &Record,
    format: Format<'_>,
    found: &[Option<HeaderColumn<'_>>],
    strange: &mut Vec<(usize, String)>,
    errors: &mut Vec<Diagnostic>,
) {
    let names = format.columns.iter().zip(found).filter(|(_, found)| found.is_none());
    let (mut missing, help) =
        (Vec::new(), format!("the header must hold {}", format.columns.join(",")));
    for (name, _) in names {
        let Some(which) = nearest(name, strange) else {
            missing.push(format!("`{name}`"));
            continue;
        };
        let (index, written) = strange.remove(which);
        let message = format!("the column {written} is not known");
        let label = format!("expected the column `{name}`");
        errors
            .push(Diagnostic::new(head.span(index), message, label).with_help(Some(help.clone())));
    }
    let message = match &missing[..] {
        [] => return,
        [one] => format!("the header lacks the column {one}"),
        many => format!("the header lacks {} columns", many.len()),
    };
    let label = format!("expected {}; a cell may be empty {}", missing.join(", "), format.empty);
    errors.push(Diagnostic::new(end(head), message, label).with_help(Some(help)));
}

/// Which of the unknown names is most like that of a column, if one is.
fn nearest(name: &str, strange: &[(usize, String)]) -> Option<usize> {
    let similar = |(_, written): &(usize, String)| {
        strsim::jaro_winkler(&written.trim_matches('`').to_lowercase(), name)
    };
    let all = strange.iter().map(similar).enumerate();
    let near = all.filter(|(_, similarity)| *similarity > LEAST_LIKENESS);
    near.max_by(|a, b| a.1.total_cmp(&b.1)).map(|(which, _)| which)
}

/// The names of a header as messages list them: of many, the first ones.
pub(super) fn listed<'a>(names: impl Iterator<Item = &'a str>) -> String {
    let all: Vec<String> = names.map(|name| format!("`{}`", shortened(name))).collect();
    match &all[..] {
        [first @ .., last] if !first.is_empty() && all.len() <= LISTED => {
            format!("{} or {last}", first.join(", "))
        }
        _ if all.len() <= LISTED => all.join(", "),
        _ => format!("{} and {} more", all[..LISTED].join(", "), all.len() - LISTED),
    }
}

pub(super) fn end(head: &Record) -> Range<usize> {
    let end = head.span(head.width() - 1).end;
    end..end
}

/// A name as messages show it.
pub(super) fn shortened(written: &str) -> String {
    printable::beginning(&printable::line(written), SHOWN).into_owned()
}

/// What the values of a column measure, by the end of its plain name.
pub(super) fn dimension_of(column: usize, format: Format<'_>) -> Option<Dimension> {
    if format.is_text(column) {
        return None;
    }
    let name = format.name(column);
    if name.ends_with(KELVIN_PER_WATT) {
        return Some(Dimension::ThermalResistance);
    }
    match name.rsplit('_').next() {
        Some("A") => Some(Dimension::Current),
        Some("W") => Some(Dimension::Power),
        Some("H") => Some(Dimension::Inductance),
        Some("F") => Some(Dimension::Capacitance),
        Some("ohm") => Some(Dimension::Resistance),
        Some("V") => Some(Dimension::Voltage),
        _ => None,
    }
}

/// A plain name without its unit.
pub(super) fn base(name: &str) -> &str {
    if let Some(base) = name.strip_suffix(KELVIN_PER_WATT) {
        return base;
    }
    match name.rsplit_once('_') {
        Some((base, "A" | "F" | "H" | "V" | "W" | "ohm")) => base,
        _ => name,
    }
}

/// The column that a name means. The longest plain name goes first: one may begin like another.
pub(super) fn column_of(written: &str, format: Format<'_>) -> Option<ColumnName> {
    let mut order: Vec<(usize, &str)> = format.names().enumerate().collect();
    order.sort_by_key(|(_, name)| std::cmp::Reverse(name.len()));
    order.into_iter().find_map(|(column, name)| {
        let rest = after(written.trim(), base(name))?;
        let unit = unit_of(rest, dimension_of(column, format))?;
        Some(ColumnName { column, unit })
    })
}

/// What follows a plain name in a written one. Upper and lower case do not matter, nor whether words are
/// joined by underscores, hyphens or blanks.
fn after<'a>(written: &'a str, name: &str) -> Option<&'a str> {
    let is_joint = |c: char| matches!(c, '_' | '-') || c.is_whitespace();
    let mut rest = written;
    for word in name.split('_') {
        let start =
            if rest.len() == written.len() { rest } else { rest.trim_start_matches(is_joint) };
        if start.len() == rest.len() && rest.len() < written.len() {
            return None;
        }
        let found = start.get(..word.len()).filter(|found| found.eq_ignore_ascii_case(word))?;
        rest = &start[found.len()..];
    }
    Some(rest)
}

/// The unit that follows a name: none where nothing follows, no column where it is no unit.
fn unit_of(
    rest: &str,
    dimension: Option<Dimension>,
) -> Option<Result<Option<UnitInUse>, quantity::Mistake>> {
    let rest = rest.trim();
    if rest.is_empty() {
        return Some(Ok(None));
    }
    let inside = [("(", ")"), ("[", "]")].into_iter().find_map(|(open, close)| {
        let bare = rest.trim_start_matches('_').trim_start();
        bare.strip_prefix(open)?.strip_suffix(close)
    });
    let joined =
        || rest.strip_prefix(['_', '/']).or_else(|| rest.strip_prefix("in ")).map(str::trim);
    match (dimension, inside) {
        (None, Some("1" | "-" | "–" | "")) => Some(Ok(None)),
        (None, Some(unit)) => Some(Err(quantity::Mistake::unknown_unit(unit))),
        (None, None) => None,
        (Some(wanted), Some(unit)) => Some(quantity::unit(unit.trim(), wanted).map(Some)),
        // Without brackets it may be a word: only a unit makes it this column.
        (Some(wanted), None) => match quantity::unit(&joined()?.replace("_per_", "/"), wanted) {
            Ok(unit) => Some(Ok(Some(unit))),
            Err(mistake) if mistake.help().is_some() => Some(Err(mistake)),
            Err(_) => None,
        },
    }
}
