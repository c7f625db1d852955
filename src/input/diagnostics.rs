//! What is wrong with an input file, and where: all errors of a file at once.

use std::collections::HashSet;
use std::fmt;
use std::ops::Range;
use std::path::PathBuf;

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};

use crate::printable;

/// Errors beyond this many are counted and not shown: a file of another kind has thousands.
const SHOWN: usize = 40;

/// Longest part of a line that is marked, in bytes.
const MARKED: usize = 60;

/// Longest part of a line that is shown after the mark, in bytes.
const AFTER_MARK: usize = 200;

/// One error in an input file.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Diagnostic {
    /// The bytes of the file that the error points at.
    pub span: Range<usize>,
    /// What is wrong.
    pub message: String,
    /// What was expected at that place.
    pub label: String,
    /// What to write instead.
    pub help: Option<String>,
}

impl Diagnostic {
    /// An error at `span`, with what is wrong and what was expected.
    pub fn new(span: Range<usize>, message: impl Into<String>, label: impl Into<String>) -> Self {
        Self { span, message: message.into(), label: label.into(), help: None }
    }

    /// The same error with a proposal what to write instead, if there is one.
    #[must_use]
    pub fn with_help(mut self, help: Option<String>) -> Self {
        self.help = help;
        self
    }
}

/// A place in a text, both parts counted from one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Position {
    /// Line, ended by a line feed.
    pub line: usize,
    /// Column, in characters.
    pub column: usize,
}

/// All errors of one file, in the order of their places, with the file's name and text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Diagnostics {
    name: String,
    text: String,
    list: Vec<Diagnostic>,
    /// Errors in files that this one names.
    others: Vec<Diagnostics>,
}

impl Diagnostics {
    /// Gathers the errors of the file `name`, whose text is `text`; repeated ones count once.
    pub fn new(
        name: impl Into<String>,
        text: impl Into<String>,
        errors: impl IntoIterator<Item = Diagnostic>,
    ) -> Self {
        let mut list: Vec<_> = errors.into_iter().collect();
        list.sort_by_key(|error| error.span.start);
        let mut seen = HashSet::new();
        list.retain(|error| seen.insert(error.clone()));
        Self {
            name: printable::line(&name.into()).into_owned(),
            text: text.into(),
            list,
            others: Vec::new(),
        }
    }

    /// The same errors, and after them those of files that this one names.
    #[must_use]
    pub fn with_others(mut self, others: Vec<Self>) -> Self {
        self.others = others;
        self
    }

    /// The errors in the order of their places, without those of other files.
    pub fn errors(&self) -> &[Diagnostic] {
        &self.list
    }

    /// Where an error stands.
    pub fn position(&self, error: &Diagnostic) -> Position {
        position(&self.text, error.span.start)
    }

    /// Writes the errors for a terminal, with the line of each and a caret below.
    pub fn render(&self, colours: bool) -> String {
        let renderer =
            if colours { Renderer::styled().hyperlink(false) } else { Renderer::plain() };
        let mut parts: Vec<_> =
            self.list.iter().take(SHOWN).map(|error| self.render_one(&renderer, error)).collect();
        if let Some(more) = self.list.len().checked_sub(SHOWN).filter(|more| *more > 0) {
            parts.push(format!("{more} further errors in {} are not shown", self.name));
        }
        parts.extend(self.others.iter().map(|other| other.render(colours)));
        parts.join("\n\n")
    }

    /// Only the line of the error is handed on: an error that spans lines is shown by its first.
    fn render_one(&self, renderer: &Renderer, error: &Diagnostic) -> String {
        let start = floor(&self.text, error.span.start);
        let (first, last) = line_bounds(&self.text, start);
        let end = error.span.end.min(start + MARKED);
        let end = floor(&self.text, end).clamp(start, last);
        let last = floor(&self.text, last.min(end + AFTER_MARK));
        // A message may hold a list, one item a line.
        let (message, label) = (printable::lines(&error.message), printable::line(&error.label));
        let snippet = Snippet::source(&self.text[first..last])
            .line_start(position(&self.text, start).line)
            .path(&self.name)
            .annotation(AnnotationKind::Primary.span(start - first..end - first).label(&*label));
        let mut group = Group::with_title(Level::ERROR.primary_title(&*message)).element(snippet);
        if let Some(help) = &error.help {
            group = group.element(Level::HELP.message(printable::line(help)));
        }
        renderer.render(&[group])
    }
}

impl fmt::Display for Diagnostics {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.render(false))
    }
}

impl std::error::Error for Diagnostics {}

/// Line and column of a byte of `text`.
fn position(text: &str, offset: usize) -> Position {
    let offset = floor(text, offset);
    let (first, _) = line_bounds(text, offset);
    Position {
        line: 1 + text[..first].matches('\n').count(),
        column: 1 + text[first..offset].chars().count(),
    }
}

/// The bytes of the line that holds `offset`, its end of line left out.
fn line_bounds(text: &str, offset: usize) -> (usize, usize) {
    let first = text[..offset].rfind('\n').map_or(0, |feed| feed + 1);
    let last = text[offset..].find('\n').map_or(text.len(), |feed| offset + feed);
    let carriage_return = text[first..last].ends_with('\r') && last > offset;
    (first, if carriage_return { last - 1 } else { last })
}

/// The nearest start of a character at or before `offset`.
fn floor(text: &str, offset: usize) -> usize {
    text.floor_char_boundary(offset)
}

/// Why an input file cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum InputError {
    /// The file cannot be read at all.
    #[error("error: cannot read {}: {cause}", printable::path(path))]
    Unreadable {
        /// The file as named by the caller.
        path: PathBuf,
        /// What the system says.
        #[source]
        cause: std::io::Error,
    },
    /// The file can be read and holds errors.
    #[error(transparent)]
    Invalid(#[from] Diagnostics),
}

/// The text without a byte-order mark.
pub fn without_mark(text: &str) -> &str {
    text.strip_prefix('\u{feff}').unwrap_or(text)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn one(text: &str, span: Range<usize>) -> Diagnostics {
        Diagnostics::new("shelf.toml", text, [Diagnostic::new(span, "wrong", "expected right")])
    }

    #[test]
    fn an_error_shows_its_line_and_a_caret() {
        let text = "# shelf\n\n[tolerance.resonant_inductance]\nband  = 5\n";
        let error = Diagnostic::new(
            49..50,
            "the band of `resonant_inductance` is a bare number",
            "expected a quantity such as \"5 %\"",
        );
        let shown = Diagnostics::new("shelf.toml", text, [error]).to_string();
        let wanted = "\
error: the band of `resonant_inductance` is a bare number
 --> shelf.toml:4:9
  |
4 | band  = 5
  |         ^ expected a quantity such as \"5 %\"";
        assert_eq!(shown, wanted);
    }

    #[test]
    fn columns_count_characters() {
        let errors = one("a = 1\r\nµΩ = \"x\"\r\n", 14..17);
        assert_eq!(errors.position(&errors.errors()[0]), Position { line: 2, column: 6 });
        assert!(errors.to_string().contains("shelf.toml:2:6"), "{errors}");
    }

    #[test]
    fn errors_are_ordered_and_repeated_ones_count_once() {
        let error = |at: usize| Diagnostic::new(at..at, "wrong", "right");
        let errors = Diagnostics::new("f", "abc", [error(2), error(0), error(2), error(1)]);
        let places: Vec<_> = errors.errors().iter().map(|e| e.span.start).collect();
        assert_eq!(places, [0, 1, 2]);
    }

    #[test]
    fn a_flood_of_errors_is_cut() {
        let text = "x".repeat(100);
        let list = (0..100).map(|at| Diagnostic::new(at..at + 1, "wrong", "right"));
        let shown = Diagnostics::new("f.toml", text, list).to_string();
        assert_eq!(shown.matches("error:").count(), SHOWN);
        assert!(shown.ends_with("60 further errors in f.toml are not shown"), "{shown}");
    }

    #[test]
    fn colours_only_when_asked_for() {
        let errors = one("a", 0..1);
        assert!(!errors.to_string().contains('\u{1b}'));
        assert!(errors.render(true).contains('\u{1b}'));
    }

    proptest! {
        #[test]
        fn any_span_of_any_text_renders_at_its_position(
            text in "([ -~]|[\\t\\n\\r]|µ|\\PC){0,40}", start in 0_usize..80, length in 0_usize..20,
        ) {
            let errors = one(&text, start..start + length);
            let Position { line, column } = errors.position(&errors.errors()[0]);
            let shown = errors.to_string();
            prop_assert!(shown.contains(&format!("shelf.toml:{line}:{column}\n")), "{}", shown);
        }
    }
}
