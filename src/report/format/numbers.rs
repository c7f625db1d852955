//! Numbers as text, for the terminal and the page.

use crate::statistics::{Confidence, Verdict, Yield};

/// A fraction in percent with three significant digits or so.
pub fn percent(x: f64) -> String {
    let p = 100.0 * x;
    let decimals = if p.abs() < 1.0 {
        3
    } else if p.abs() < 10.0 {
        2
    } else {
        1
    };
    format!("{p:.decimals$} %")
}

/// A yield in percent, with as many digits as tell it from 0 and 100 %.
pub fn yield_percent(x: f64) -> String {
    let p = 100.0 * x;
    let decimals = if x > 0.0 && x < 1.0 && !(0.1..=99.9).contains(&p) { 3 } else { 2 };
    format!("{p:.decimals$} %")
}

/// A whole number with thin groups of three: `20 000`.
pub fn grouped(n: u64) -> String {
    let digits = n.to_string();
    let mut text = String::new();
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            text.push(' ');
        }
        text.push(digit);
    }
    text
}

/// The verdict as a word.
pub fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Pass => "PASS",
        Verdict::Fail => "FAIL",
        Verdict::NotDecided => "NOT DECIDED",
    }
}

pub(in crate::report) fn interval(good: &Yield) -> String {
    format!(
        "{} ({} interval {} to {})",
        yield_percent(good.estimate),
        level(good.confidence),
        yield_percent(good.lower),
        yield_percent(good.upper)
    )
}

/// A confidence level in percent: what is left to 100 % has three digits.
pub(in crate::report) fn level(confidence: Confidence) -> String {
    let left = 100.0 * confidence.one_sided_tail();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 17")]
    let decimals = (2.0 - libm::floor(libm::log10(left))).clamp(0.0, 17.0) as usize;
    let digits = format!("{:.decimals$}", 100.0 * confidence.get());
    format!("{} %", digits.trim_end_matches('0').trim_end_matches('.'))
}
