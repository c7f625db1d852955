//! The brief: the first sheet of a page, which stands alone. The question, the answer in a sentence, the
//! figure that carries it, and what a review asks next.

use maud::{Markup, html};

use super::parts::{verdict_class, verdict_sign};
use crate::report::format::names;
use crate::report::format::numbers::yield_in_few_digits;
use crate::statistics::{Verdict, Yield};

/// A verdict with the number that it rests on.
#[derive(Debug)]
pub(in crate::report) struct VerdictLine {
    /// The verdict.
    pub verdict: Verdict,
    /// What it is called.
    pub word: &'static str,
    /// Class of the arrangement.
    pub class: &'static str,
    /// What it is on.
    pub subject: String,
    /// The yield.
    pub share: String,
    /// Its interval.
    pub interval: String,
}

impl VerdictLine {
    /// Of a yield.
    pub(in crate::report) fn new(
        verdict: Verdict,
        class: &'static str,
        subject: String,
        good: &Yield,
    ) -> Self {
        let [share, lower, upper] =
            [good.estimate, good.lower, good.upper].map(yield_in_few_digits);
        let lower = lower.trim_end_matches('%').trim_end();
        let word = names::verdict(verdict);
        Self { verdict, word, class, subject, share, interval: format!("{lower} to {upper}") }
    }
}

/// A finding with what shows it.
#[derive(Debug)]
pub(in crate::report) struct Finding {
    /// The finding in a few words, with its number.
    pub heading: String,
    /// A line below it.
    pub remark: Option<String>,
    /// A figure, a table or a list.
    pub inside: Markup,
}

/// What a brief holds.
#[derive(Debug)]
pub(in crate::report) struct Brief {
    /// The question that the page answers.
    pub question: String,
    /// The answer in one sentence with its number.
    pub answer: String,
    /// The verdicts.
    pub verdicts: Vec<VerdictLine>,
    /// What the verdicts are measured by.
    pub measure: String,
    /// What must be known before the answer is used.
    pub notice: Option<Markup>,
    /// On a desk three columns from left to right, the first the widest; on paper two.
    pub columns: [Vec<Finding>; 3],
    /// How sure the answer is, and what would change it.
    pub last: [Finding; 2],
    /// Lines at the foot.
    pub foot: Vec<Markup>,
}

/// The sheet.
pub(in crate::report) fn brief(brief: &Brief) -> Markup {
    sheet(brief, "brief")
}

/// The sheet of a brief that leaves much of the paper empty: there it is drawn larger.
pub(in crate::report) fn short_brief(brief: &Brief) -> Markup {
    sheet(brief, "brief short")
}

fn sheet(brief: &Brief, class: &str) -> Markup {
    let ([first, second, third], [how_sure, changes]) = (&brief.columns, &brief.last);
    html! {
        section class=(class) id="brief" aria-labelledby="answer" {
            p class="question" { (brief.question) }
            h2 id="answer" { (brief.answer) }
            p class="verdict-line" {
                @for line in &brief.verdicts {
                    span class=(verdict_class(line.verdict)) {
                        b class="word" { (verdict_sign(line.verdict)) (line.word) }
                        " " (line.subject) ": " b class=(line.class) { (line.share) } " (" (line.interval) ")"
                    }
                }
                span class="measure" { (brief.measure) }
            }
            @if let Some(notice) = &brief.notice { div class="notice" { (notice) } }
            div class="findings-grid" {
                (column(1, first))
                div class="findings-pair" { (column(2, second)) (column(4, std::slice::from_ref(how_sure))) }
                div class="findings-pair" { (column(3, third)) (column(5, std::slice::from_ref(changes))) }
            }
            div class="brief-foot" { @for line in &brief.foot { p { (line) } } }
        }
    }
}

fn column(number: usize, findings: &[Finding]) -> Markup {
    html! { div class=(format!("findings-{number}")) { @for finding in findings { (one(finding)) } } }
}

fn one(finding: &Finding) -> Markup {
    html! {
        article class="finding" {
            h3 { (finding.heading) }
            @if let Some(remark) = &finding.remark { p class="remark" { (remark) } }
            (finding.inside)
        }
    }
}

/// A figure drawn twice, so that its letters keep their size where the page is narrow.
pub(in crate::report) fn both_widths(wide: &Markup, narrow: &Markup) -> Markup {
    html! { div class="wide-figure" { (wide) } div class="narrow-figure" { (narrow) } }
}

/// A list of short sentences.
pub(in crate::report) fn sentences(sentences: &[String]) -> Markup {
    html! { ul { @for sentence in sentences { li { (sentence) } } } }
}
