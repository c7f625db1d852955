//! Text from outside, made safe to show.
//!
//! File names and the cells of files may hold characters that a terminal obeys, or that make a reader
//! see other text than is there. Readers refuse them in files. File names cannot be refused, so every
//! sink (terminal, page, CSV, JSON) passes its text through this module, which writes them out as
//! `\u{1b}`.
//!
//! These characters are the controls C0 and C1 (Unicode's general category Cc), the line and
//! paragraph separators, the directional formatting characters of Unicode Standard Annex #9,
//! section 2, and those that do not show at all: Unicode's property `Default_Ignorable_Code_Point`
//! (from memory), without the selectors of variants, and the interlinear annotations. Boucher and
//! Anderson 2021, "Trojan Source", shows what such characters can do.

use std::borrow::Cow;
use std::fmt::Write;
use std::ops::RangeInclusive;
use std::path::Path;

/// The characters that steer what is shown, or do not show.
pub const STEERING: [RangeInclusive<char>; 20] = [
    '\0'..='\u{1f}',
    '\u{7f}'..='\u{9f}',
    '\u{ad}'..='\u{ad}',
    '\u{34f}'..='\u{34f}',
    '\u{61c}'..='\u{61c}',
    '\u{115f}'..='\u{1160}',
    '\u{17b4}'..='\u{17b5}',
    '\u{180e}'..='\u{180e}',
    '\u{200b}'..='\u{200f}',
    '\u{2028}'..='\u{202e}',
    '\u{2060}'..='\u{206f}',
    '\u{3164}'..='\u{3164}',
    '\u{feff}'..='\u{feff}',
    '\u{ffa0}'..='\u{ffa0}',
    '\u{fff0}'..='\u{fffb}',
    '\u{1bca0}'..='\u{1bca3}',
    '\u{1d173}'..='\u{1d17a}',
    '\u{e0000}'..='\u{e007f}',
    '\u{e0080}'..='\u{e00ff}',
    '\u{e01f0}'..='\u{e0fff}',
];

/// Whether a character steers what is shown instead of being shown.
pub fn steers(c: char) -> bool {
    STEERING.iter().any(|range| range.contains(&c))
}

/// Whether a character selects a variant of the one before it. In a title it may belong to a symbol;
/// two names must not differ by it alone.
pub fn selects_variant(c: char) -> bool {
    matches!(
        c,
        '\u{180b}'..='\u{180d}' | '\u{180f}' | '\u{fe00}'..='\u{fe0f}' | '\u{e0100}'..='\u{e01ef}'
    )
}

/// At most so many characters of a text.
pub fn beginning(text: &str, most: usize) -> Cow<'_, str> {
    match text.char_indices().nth(most) {
        Some((end, _)) => format!("{}…", &text[..end]).into(),
        None => text.into(),
    }
}

/// The text of one line, with every character that steers written out.
pub fn line(text: &str) -> Cow<'_, str> {
    written_out(text, steers)
}

/// A text of several lines: as [`line`], but line feeds and tabs stay.
pub fn lines(text: &str) -> Cow<'_, str> {
    written_out(text, |c| steers(c) && !matches!(c, '\n' | '\t'))
}

/// A path on one line; bytes that are no text show as `\u{fffd}` does.
pub fn path(path: &Path) -> String {
    line(&path.to_string_lossy()).into_owned()
}

/// A character as [`line`] writes it out: `\u{1b}`.
pub fn code(c: char) -> String {
    c.escape_unicode().to_string()
}

/// Whether a spreadsheet takes a cell for a formula: it begins with one of the characters of OWASP's
/// page "CSV Injection". Single quotes before them count as escapes.
fn is_formula(cell: &str) -> bool {
    cell.trim_start_matches('\'').starts_with(['=', '+', '-', '@', '\t', '\r'])
}

/// A text as a cell of a CSV file that no spreadsheet takes for a formula: a single quote escapes it.
pub fn cell(text: &str) -> Cow<'_, str> {
    if is_formula(text) { format!("'{text}").into() } else { text.into() }
}

/// The text that [`cell`] made a cell of.
pub fn cell_text(cell: &str) -> &str {
    cell.strip_prefix('\'').filter(|text| is_formula(text)).unwrap_or(cell)
}

/// JSON text whose strings hold no character that steers: the escapes mean the same. The layout may
/// hold line feeds.
pub fn json(text: &str) -> Cow<'_, str> {
    let hidden = |c: char| steers(c) && c != '\n';
    replaced(text, hidden, |out, c| {
        // One escape each, or two for a character above U+FFFF: RFC 8259, section 7.
        let mut units = [0; 2];
        c.encode_utf16(&mut units).iter().try_for_each(|unit| write!(out, "\\u{unit:04x}"))
    })
}

fn written_out(text: &str, hidden: impl Fn(char) -> bool) -> Cow<'_, str> {
    replaced(text, hidden, |out, c| write!(out, "{}", c.escape_unicode()))
}

fn replaced(
    text: &str,
    hidden: impl Fn(char) -> bool,
    escape: impl Fn(&mut String, char) -> std::fmt::Result,
) -> Cow<'_, str> {
    if !text.contains(&hidden) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        if hidden(c) {
            // Writing to a string cannot fail.
            let _ = escape(&mut out, c);
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The characters of Unicode Standard Annex #9, section 2: ALM, LRM, RLM, embeddings, overrides
    /// and isolates, and their ends (from memory).
    const DIRECTIONAL: [char; 12] = [
        '\u{61c}', '\u{200e}', '\u{200f}', '\u{202a}', '\u{202b}', '\u{202c}', '\u{202d}',
        '\u{202e}', '\u{2066}', '\u{2067}', '\u{2068}', '\u{2069}',
    ];

    /// Characters of Unicode's property `Default_Ignorable_Code_Point` (from memory): soft hyphen,
    /// Mongolian vowel separator, zero-width ones, word joiner, byte-order mark, tags.
    const INVISIBLE: [char; 10] = [
        '\u{ad}',
        '\u{180e}',
        '\u{200b}',
        '\u{200c}',
        '\u{200d}',
        '\u{2060}',
        '\u{feff}',
        '\u{e0001}',
        '\u{e0041}',
        '\u{e007f}',
    ];

    #[test]
    fn long_texts_are_cut() {
        assert_eq!(beginning("4.56 µH", 7), "4.56 µH");
        assert_eq!(beginning("4.56 µH", 6), "4.56 µ…");
        assert_eq!(beginning(&"µ".repeat(61), 60), "µ".repeat(60) + "…");
    }

    #[test]
    fn characters_that_steer_are_written_out() {
        assert_eq!(line("a\u{1b}[31mb"), "a\\u{1b}[31mb");
        assert_eq!(line("a\nb\tc\u{0}\u{7f}\u{9b}"), "a\\u{a}b\\u{9}c\\u{0}\\u{7f}\\u{9b}");
        assert_eq!(lines("a\nb\tc\rd"), "a\nb\tc\\u{d}d");
        for c in DIRECTIONAL.into_iter().chain(INVISIBLE) {
            assert_eq!(line(&c.to_string()), code(c));
        }
        assert_eq!(path(Path::new("out/\u{202e}lmth\n")), "out/\\u{202e}lmth\\u{a}");
    }

    #[test]
    fn other_text_stays() {
        for text in ["4.56 µH ±5 % – Ω “x” 日本 ➜ שלום", "20\u{a0}000", "e\u{301}", "⚡\u{fe0f}"]
        {
            assert_eq!(lines(text), text);
            assert_eq!(json(text), text);
        }
    }

    #[test]
    fn cells_read_back_as_the_text_they_were() {
        for text in ["=1+1", "-5", "'=x", "''@", "'tis", "a=b", "", "'", "+", "\t=1"] {
            assert_eq!(cell_text(&cell(text)), text);
            assert!(!cell(text).starts_with(['=', '+', '-', '@', '\t']));
        }
        assert_eq!(cell("'tis"), "'tis");
    }

    #[test]
    fn json_means_the_same() {
        let text: String =
            (0..0x3000).chain(0xe_0000..0xe_0200).filter_map(char::from_u32).collect();
        let written = serde_json::to_string_pretty(&[&text]).unwrap();
        let safe = json(&written);
        assert!(!safe.contains(|c: char| steers(c) && c != '\n'));
        assert_eq!(serde_json::from_str::<[String; 1]>(&safe).unwrap(), [text]);
    }
}
