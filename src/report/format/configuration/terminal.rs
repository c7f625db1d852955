//! How configurations were chosen.

use std::fmt::Write as _;

use crate::scenario::Preference;
use crate::study::common::choice::ConfigurationChoice;

/// What a choice's lines hold.
pub(in crate::report) const HEADING: &str =
    " configuration                        fs     loss      RMS result\n";
/// What a word in them means.
pub(in crate::report) const REMARK: &str =
    "(RMS: of the worst switch; out of range: no frequency in the band delivers it)\n\n";

/// All choices, after a line that says what decided; nothing where there was none.
pub(in crate::report) fn choices<'a>(
    choices: impl Iterator<Item = &'a ConfigurationChoice>,
) -> String {
    let mut text = String::new();
    for choice in choices {
        let Some(name) = choice.candidates.first().map(|c| &c.point.name) else { continue };
        if text.is_empty() {
            let prefer = preference(choice.prefer);
            let _ = writeln!(text, "Configurations left open: {prefer} decides\n{HEADING}");
            text.pop();
        }
        let _ = writeln!(text, "{name}");
        text.push_str(&lines(choice));
    }
    if text.is_empty() { text } else { text + REMARK }
}

/// A line a candidate; dashes where it does not work.
pub(in crate::report) fn lines(choice: &ConfigurationChoice) -> String {
    let mut text = String::new();
    for (n, candidate) in choice.candidates.iter().enumerate() {
        let name = candidate.point.configuration().name();
        let [frequency, loss, current] =
            candidate.key_figures().map_or(["-", "-", "-"].map(String::from), |m| {
                let current = m.switch_rms_current.to_string();
                [m.switching_frequency.to_string(), m.loss.to_string(), current]
            });
        let reason = choice.reason(n);
        let _ = writeln!(text, " {name:<29} {frequency:>9} {loss:>8} {current:>8} {reason}");
    }
    text
}

/// What decides.
pub(crate) fn preference(preference: Preference) -> &'static str {
    match preference {
        Preference::LowestLoss => "the lowest loss of the nominal chain",
        Preference::LowestSwitchCurrent => "the lowest switch current of the nominal chain",
        Preference::FrequencyMargin => "the frequency furthest from the band's ends",
    }
}
