//! How configurations were chosen.

use std::fmt::Write as _;

use crate::report::format::numbers::{NONE, quantity};
use crate::scenario::Preference;
use crate::study::common::choice::{ConfigurationCandidate, ConfigurationChoice};

/// What a choice's lines hold.
pub(in crate::report) const HEADING: &str = concat!(
    "                                                    switch\n",
    " configuration                 frequency     loss      RMS result\n",
);
/// What a word in them means.
pub(in crate::report) const REMARK: &str = "\
Switch RMS: RMS current of the worst switch. Out of range: no frequency in the
band delivers the output.\n\n";

/// All choices, after a line that says what decided; nothing where there was none.
pub(in crate::report) fn choices<'a>(
    choices: impl Iterator<Item = &'a ConfigurationChoice>,
) -> String {
    let mut text = String::new();
    for choice in choices {
        let Some(name) = choice.candidates.first().map(|c| &c.point.name) else { continue };
        if text.is_empty() {
            let prefer = preference(choice.prefer);
            let _ = writeln!(text, "Configurations left open: {prefer} decides.");
            text.push_str(HEADING);
        }
        let _ = writeln!(text, "{name}");
        text.push_str(&lines(choice));
    }
    if text.is_empty() { text } else { text + REMARK }
}

/// What was chosen, a line an operating point, so many of them; nothing where there was no choice.
pub(in crate::report) fn chosen<'a>(
    choices: impl Iterator<Item = &'a ConfigurationChoice>,
    most: usize,
) -> String {
    let lines = choices.filter_map(|choice| choice.candidates.get(choice.chosen?));
    let line = |own: &ConfigurationCandidate| {
        let point = &own.point;
        format!("Chosen at “{}”: {}\n", point.name, point.configuration().name())
    };
    lines.take(most).map(line).collect()
}

/// A line a candidate; dashes where it does not work.
pub(in crate::report) fn lines(choice: &ConfigurationChoice) -> String {
    let mut text = String::new();
    for (n, candidate) in choice.candidates.iter().enumerate() {
        let name = candidate.point.configuration().name();
        let [frequency, loss, current] =
            candidate.nominal_figures().map_or([NONE; 3].map(String::from), |figures| {
                let current = quantity(figures.switch_rms_current);
                [quantity(figures.switching_frequency), quantity(figures.loss), current]
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
