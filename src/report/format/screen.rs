//! A result on a terminal: the answer in a screenful, its tables behind that, and what one asks next.

use std::path::{Path, PathBuf};

use super::command::quoted;
use super::extracts::BRIEF;
use super::folder::{PAGE, PlacedSet};
use super::terminal::{CAUTION, QUICK_LOOK, WIDTH, folded, folded_to};
use crate::printable;
use crate::solver::Method;

/// Below so many columns folding helps nobody.
const MIN_WIDTH: u16 = 20;

/// What a verb shows on a terminal.
#[derive(Debug)]
pub struct Screen {
    answer: String,
    tables: String,
    next: NextQuestion,
    also: String,
}

impl Screen {
    /// The screenful, and all tables behind it where they are asked for.
    pub fn text(&self, with_tables: bool) -> String {
        if with_tables && !self.tables.is_empty() {
            return format!("{}\n{}", self.answer, self.tables);
        }
        self.answer.clone()
    }

    /// Tells of files that lie beside the report's, in whole lines.
    pub fn also_written(&mut self, lines: &str) {
        self.also.push_str(lines);
    }

    /// The same for a terminal of so many columns: where they are few, lines are folded between words.
    pub fn text_for(&self, columns: Option<u16>, with_tables: bool) -> String {
        let text = self.text(with_tables);
        match columns.filter(|columns| (MIN_WIDTH..WIDTH).contains(columns)) {
            Some(columns) => folded_to(&text, usize::from(columns)),
            None => text,
        }
    }

    /// What is said behind it: where the results are, where the tables are, and what one asks next.
    /// `given` are the files that the command line names. In the default folder (`is_default`) the next verb
    /// would replace these results: its command then names another one.
    pub fn ending(
        &self,
        placed: Option<&PlacedSet>,
        given: &[PathBuf],
        with_tables: bool,
        is_default: bool,
    ) -> String {
        let files = placed.map_or_else(String::new, files);
        let is_all = with_tables || self.tables.is_empty();
        let tables = if is_all { "" } else { "All tables: the same command with --tables.\n" };
        let folder = placed.map_or(Path::new(""), |placed| &placed.folder);
        let NextQuestion { question, words } = &self.next;
        // Figures that were written are not proposed again.
        let figures =
            |word: &CommandWord| matches!(word, CommandWord::Plain(own) if own == "--figures");
        if !self.also.is_empty() && words.iter().any(figures) {
            return format!("\n{files}{}{tables}", self.also);
        }
        let words = words.iter().map(|word| word.text(given, folder));
        let beside = if is_default { self.next.out_beside(folder) } else { None };
        let program = std::iter::once("fairphase".to_owned());
        let command = program.chain(words).chain(beside).collect::<Vec<_>>();
        format!("\n{files}{}{tables}Next: {question}\n  {}\n", self.also, command.join(" "))
    }
}

/// Where the page is, and what lies beside it.
fn files(placed: &PlacedSet) -> String {
    if !placed.files.iter().any(|name| name == PAGE) {
        let folder = printable::path(&placed.folder);
        return folded(&format!("Files in {folder}: {}\n", placed.files.join(", ")));
    }
    let page = printable::path(&placed.folder.join(PAGE));
    // What was made of the page is told by itself.
    let others = placed.files.iter().map(String::as_str);
    let others = others.filter(|name| ![PAGE, BRIEF].contains(name));
    let others: Vec<&str> = others.collect();
    format!("Report: {page}\n{}", folded(&format!("  beside it: {}\n", others.join(", "))))
}

/// What one asks next.
#[derive(Debug)]
pub(in crate::report) struct NextQuestion {
    /// The question, as a sentence.
    pub question: &'static str,
    /// The command that answers it, without the name of the program.
    pub words: Vec<CommandWord>,
}

impl NextQuestion {
    /// A verb on the scenario that the command line names.
    pub(in crate::report) fn verb(verb: &'static str, question: &'static str) -> Self {
        Self { question, words: vec![CommandWord::Plain(verb.to_owned()), CommandWord::Given] }
    }

    /// The option by which the answer is written beside these results, not over them; none where it writes none,
    /// or takes their place on purpose.
    fn out_beside(&self, folder: &Path) -> Option<String> {
        let [CommandWord::Plain(verb), CommandWord::Given] = &self.words[..] else { return None };
        let name = folder.file_name()?.to_string_lossy();
        let beside = folder.with_file_name(format!("{name}-{verb}"));
        let replaces = ["check", "gain"].contains(&verb.as_str());
        (!replaces).then(|| format!("--out {}", quoted(&beside.to_string_lossy())))
    }

    /// The same with further words.
    pub(in crate::report) fn with(mut self, words: impl IntoIterator<Item = CommandWord>) -> Self {
        self.words.extend(words);
        self
    }
}

/// A word of a command, or several.
#[derive(Debug)]
pub(in crate::report) enum CommandWord {
    /// As it stands.
    Plain(String),
    /// The files that the command line names.
    Given,
    /// A file of the results.
    ResultFile(&'static str),
    /// The folder of the results, and others like it.
    Folder,
}

impl CommandWord {
    fn text(&self, given: &[PathBuf], folder: &Path) -> String {
        let path = |path: &Path| quoted(&path.to_string_lossy());
        match self {
            Self::Plain(word) => quoted(word),
            Self::Given => given.iter().map(|own| path(own)).collect::<Vec<_>>().join(" "),
            Self::ResultFile(name) => path(&folder.join(name)),
            Self::Folder => format!("{} …", path(folder)),
        }
    }
}

/// The blocks of a screenful, in the order in which all verbs show them. Each is whole lines; an empty one
/// is left out.
#[derive(Debug, Default)]
pub(in crate::report) struct Blocks {
    /// What was asked about.
    pub title: String,
    /// What to know before the answer.
    pub before: String,
    /// The answer, and what it rests on.
    pub answer: String,
    /// The small figure that carries it.
    pub figure: String,
    /// What follows from it, and what nobody may miss.
    pub notes: String,
}

impl Blocks {
    /// The screenful of a result of the model, which ends with the usual caution, and what stands behind it.
    pub(in crate::report) fn screen(self, tables: &str, next: NextQuestion) -> Screen {
        self.ending_with(CAUTION, tables, next)
    }

    /// The same of a result that no model was asked for.
    pub(in crate::report) fn screen_of_values(self, tables: &str, next: NextQuestion) -> Screen {
        self.ending_with("", tables, next)
    }

    fn ending_with(self, caution: &str, tables: &str, next: NextQuestion) -> Screen {
        let Self { title, before, answer, figure, notes } = self;
        let blocks = [title, before, answer, figure, notes, caution.to_owned()];
        let blocks = blocks.iter().map(|block| block.trim_end());
        let blocks: Vec<&str> = blocks.filter(|block| !block.is_empty()).collect();
        let mut tables = without_gaps(&folded(tables)).trim_matches('\n').to_owned();
        if !tables.is_empty() {
            tables.push('\n');
        }
        let answer = folded(&blocks.join("\n\n"));
        Screen { answer: format!("{}\n", without_gaps(&answer)), tables, next, also: String::new() }
    }
}

/// The text with one empty line where several follow each other.
fn without_gaps(text: &str) -> String {
    let mut lines: Vec<&str> = text.lines().collect();
    lines.dedup_by(|next, before| next.is_empty() && before.is_empty());
    lines.join("\n")
}

/// What to know of results by this solver before the answer; nothing of exact ones.
pub(in crate::report) fn quick_look(method: Method) -> &'static str {
    match method {
        Method::Averaged => QUICK_LOOK,
        Method::Exact => "",
    }
}

/// Lines that begin with a dash, so many of them; the tables hold the rest.
pub(in crate::report) fn first_lines(lines: &[String], most: usize) -> String {
    let shown = lines.iter().take(most);
    let shown = shown.fold(String::new(), |text, line| text + "- " + line + "\n");
    match lines.len().saturating_sub(most) {
        0 => shown,
        more => format!("{shown}- {more} more: --tables.\n"),
    }
}

/// The same under a heading; nothing without a line.
pub(in crate::report) fn headed(heading: &str, lines: &[String], most: usize) -> String {
    if lines.is_empty() {
        return String::new();
    }
    format!("{heading}\n{}", first_lines(lines, most))
}
