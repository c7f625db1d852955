//! Pieces that pages are made of: sections, tables, figures with captions.

use maud::{Markup, html};

use crate::converter::Arrangement;
use crate::report::format::{figures, names, numbers};
use crate::statistics::{KeyFigures, Verdict};

/// A section with its heading in the margin where there is room.
pub(in crate::report) fn section(id: &str, heading: &str, inside: &Markup) -> Markup {
    html! {
        section id=(id) aria-labelledby=(format!("{id}-heading")) {
            h2 id=(format!("{id}-heading")) { (heading) }
            div class="body" { (inside) }
        }
    }
}

/// A table in a frame of its own that scrolls where the page is too narrow.
pub(in crate::report) fn table(caption: &str, head: &Markup, body: &Markup) -> Markup {
    html! {
        div class="frame" tabindex="0" role="group" aria-label=(caption) {
            table {
                caption { span { (caption) } }
                thead { (head) }
                tbody { (body) }
            }
        }
    }
}

/// A table that is folded away: its caption opens it. Paper does not show it.
pub(in crate::report) fn folded_table(caption: &str, head: &Markup, body: &Markup) -> Markup {
    folded(caption, &html! { (unlabelled_table(caption, head, body)) (marks_explained(body)) })
}

/// A table whose name stands above it.
pub(in crate::report) fn unlabelled_table(name: &str, head: &Markup, body: &Markup) -> Markup {
    html! {
        div class="frame" tabindex="0" role="group" aria-label=(name) {
            table { thead { (head) } tbody { (body) } }
        }
    }
}

/// Something that is folded away behind a few words.
pub(in crate::report) fn folded(summary: &str, inside: &Markup) -> Markup {
    html! { details { summary { (summary) } (inside) } }
}

/// What the words of a table stand for that are written in place of a quantile or an end of its
/// interval.
fn marks_explained(body: &Markup) -> Markup {
    let marks = [
        (numbers::BEYOND, numbers::BEYOND_MEANS),
        (numbers::TOO_FEW_SAMPLES, numbers::TOO_FEW_SAMPLES_MEANS),
    ];
    html! {
        @for (mark, meaning) in marks {
            @if body.0.contains(mark) { p { (meaning) } }
        }
    }
}

/// One row of column headings; the first `texts` columns hold texts, the others numbers.
pub(in crate::report) fn headings(texts: usize, names: &[&str]) -> Markup {
    html! {
        tr {
            @for (n, name) in names.iter().enumerate() {
                th scope="col" class=[(n < texts).then_some("text")] { (name) }
            }
        }
    }
}

/// One row of column headings; the first and the last column hold texts, the others numbers.
pub(in crate::report) fn headings_with_text_last(names: &[&str]) -> Markup {
    let last = names.len().saturating_sub(1);
    html! {
        tr {
            @for (n, name) in names.iter().enumerate() {
                th scope="col" class=[(n == 0 || n == last).then_some("text")] { (name) }
            }
        }
    }
}

/// A row's heading that names an arrangement, with a sample of how it is drawn.
pub(in crate::report) fn arrangement(arrangement: Arrangement) -> Markup {
    html! {
        th scope="row" class="side" {
            (figures::swatch(arrangement.name())) " " (names::arrangement(arrangement).short)
        }
    }
}

/// A key of a file, which breaks behind its dots and underscores where a line must end, though not before its
/// unit.
pub(in crate::report) fn key(path: &str) -> Markup {
    const UNIT: usize = 2;
    html! {
        @for (n, piece) in path.split_inclusive(['.', '_']).enumerate() { @if n > 0 && piece.len() > UNIT { wbr; } (piece) }
    }
}

/// A cell with a number.
pub(in crate::report) fn number(text: impl AsRef<str>) -> Markup {
    html! { td class="n" { (text.as_ref()) } }
}

/// A cell with a number and a remark in small below it.
pub(in crate::report) fn remarked(text: &str, remark: &str) -> Markup {
    html! { td class="n" { (text) br; small { (remark) } } }
}

/// Reads a figure of a summary; none where it is a quantile above all values.
pub(in crate::report) type Read = fn(&KeyFigures) -> Option<f64>;

/// Cells with figures of a summary; dashes where there is none.
pub(in crate::report) fn cells(
    summary: Option<&KeyFigures>,
    figures: &[Read],
    write: fn(f64) -> String,
) -> Markup {
    html! {
        @for figure in figures {
            (number(summary.map_or_else(|| numbers::NONE.into(), |s| numbers::quantile(figure(s), write))))
        }
    }
}

/// What a figure in rows calls the arrangements.
pub(in crate::report) fn arrangement_names() -> Vec<figures::ClassName> {
    let name = |own: Arrangement| figures::ClassName {
        class: own.name(),
        name: names::arrangement(own).short.to_owned(),
    };
    Arrangement::ALL.map(name).to_vec()
}

/// A figure with its caption.
pub(in crate::report) fn figure(drawing: &Markup, caption: &Markup) -> Markup {
    html! { figure { (drawing) figcaption { (caption) } } }
}

/// The five numbers of a range.
pub(in crate::report) fn range(summary: &KeyFigures) -> figures::Range {
    let KeyFigures { min, p05, p50, p95, max, .. } = *summary;
    figures::Range { least: min, low: p05, middle: p50, high: p95, greatest: max }
}

/// The class of a verdict's card.
pub(in crate::report) fn verdict_class(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Pass => "pass",
        Verdict::Fail => "fail",
        Verdict::NotDecided => "open",
    }
}

/// The verdict as a drawn sign: tick, cross, or a circle left open.
pub(in crate::report) fn verdict_sign(verdict: Verdict) -> Markup {
    let shape = match verdict {
        Verdict::Pass => "M4 13L10 19L21 5",
        Verdict::Fail => "M5 5L19 19M19 5L5 19",
        Verdict::NotDecided => "M20 7A9 9 0 1 0 20 17",
    };
    html! {
        svg class="sign" viewBox="0 0 24 24" aria-hidden="true" focusable="false" {
            path d=(shape) {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Without the places where it may break the key is whole: what is copied is what the file holds.
    #[test]
    fn keys_break_behind_dots_and_underscores_and_keep_their_unit() {
        let path = "limits.chain.switch_rms_current_A";
        let text = key(path).0;
        assert_eq!(text, "limits.<wbr>chain.<wbr>switch_<wbr>rms_<wbr>current_A");
        assert_eq!(text.replace("<wbr>", ""), path);
        assert_eq!(key("<b>_cd").0, "&lt;b&gt;_cd");
    }
}
