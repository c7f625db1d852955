//! The commands that make results again.

use super::numbers::{given_percent, plain};
use crate::printable;
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::allocation::Stock;
use crate::study::capacitors::start_up::StartMethod;
use crate::study::common::settings::Settings;
use crate::study::run::{Run, SampleSize};

/// A word as a POSIX shell takes it.
pub(in crate::report) fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "/._-+,:@%".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        word.to_owned()
    } else if word.contains(printable::steers) {
        quoted_bytes(word)
    } else {
        format!("'{}'", word.replace('\'', r"'\''"))
    }
}

/// A word with characters that do not show, in the quotes of POSIX.1-2024 (Shell Command Language,
/// section 2.2.4), which know bytes by their octal numbers.
fn quoted_bytes(word: &str) -> String {
    let mut text = String::from("$'");
    for c in word.chars() {
        if printable::steers(c) {
            let bytes = c.to_string().into_bytes();
            text.extend(bytes.iter().map(|byte| format!("\\{byte:03o}")));
        } else if matches!(c, '\'' | '\\') {
            text.extend(['\\', c]);
        } else {
            text.push(c);
        }
    }
    text.push('\'');
    text
}

/// What was asked of listed converters.
#[derive(Debug, Clone, Copy, Default)]
pub(in crate::report) struct UnitsOptions<'a> {
    /// Name of the parts file.
    pub parts: &'a str,
    /// Name of the file of measured currents, if there is one.
    pub measured: Option<&'a str>,
    /// Measuring uncertainty, a fraction, if given.
    pub measuring_uncertainty: Option<f64>,
    /// Whether the converters are followed over load.
    pub over_load: bool,
}

/// The command that solves the converters of a parts file again.
pub(in crate::report) fn units(
    scenario: &Scenario,
    options: &UnitsOptions<'_>,
    method: Method,
) -> String {
    let measured = options.measured.map(|file| format!(" --measured {}", quoted(file)));
    let uncertainty = options.measuring_uncertainty.map(|uncertainty| {
        let given = plain(&given_percent(uncertainty));
        format!(" --measuring-uncertainty {}", quoted(&given))
    });
    format!(
        "fairphase units {} --parts {}{}{}{} --solver {}",
        quoted(&scenario.source_name),
        quoted(options.parts),
        measured.unwrap_or_default(),
        uncertainty.unwrap_or_default(),
        if options.over_load { " --over-load" } else { "" },
        method.name()
    )
}

/// The command that fits shapes to measured values again, with its further options as typed.
pub(in crate::report) fn shapes(file: &str, options: &[String]) -> String {
    let words = options.iter().map(|option| quoted(option));
    [format!("fairphase shapes {}", quoted(file))]
        .into_iter()
        .chain(words)
        .collect::<Vec<_>>()
        .join(" ")
}

/// The command that draws the voltage gain again.
pub(in crate::report) fn gain(scenario: &Scenario, method: Method) -> String {
    format!("fairphase gain {} --solver {}", quoted(&scenario.source_name), method.name())
}

/// The command that searches the bands again.
pub(in crate::report) fn bands(
    scenario: &Scenario,
    settings: &Settings,
    is_explained: bool,
) -> String {
    sampled("bands", scenario, settings) + left_out(scenario, is_explained)
}

/// The option that leaves the explanation out, where the scenario asks for it and there is none.
fn left_out(scenario: &Scenario, is_explained: bool) -> &'static str {
    if scenario.run.explain && !is_explained { " --no-explain" } else { "" }
}

/// The command that compares the grades again.
pub(in crate::report) fn grades(
    scenario: &Scenario,
    settings: Settings,
    stock: Option<&Stock>,
) -> String {
    sampled("grades", scenario, &settings) + &stock.map_or_else(String::new, stock_options)
}

/// The command that allots a stock again; `is_asked` where the scenario has grades that were left out.
pub(in crate::report) fn stock_alone(
    scenario: &Scenario,
    settings: Settings,
    is_asked: bool,
    stock: &Stock,
) -> String {
    let option = if is_asked { " --allot-only" } else { "" };
    sampled("grades", scenario, &settings) + &stock_options(stock) + option
}

fn stock_options(stock: &Stock) -> String {
    let capacitors = stock.capacitors_file.as_ref();
    let capacitors = capacitors.map(|file| format!(" --capacitors {}", quoted(file)));
    format!(" --stock {}", quoted(&stock.tanks_file)) + &capacitors.unwrap_or_default()
}

/// The command that makes the run again.
pub(in crate::report) fn reproduce(scenario: &Scenario, run: &Run, is_explained: bool) -> String {
    let plain = match run.size {
        SampleSize::Fixed(_) => sampled("run", scenario, &run.settings),
        SampleSize::UntilDecided(_) => format!(
            "fairphase run {} --decide --seed {} --solver {}",
            quoted(&scenario.source_name),
            run.settings.seed,
            run.settings.method.name()
        ),
    };
    let stream = run.source.is_fresh().then(|| format!(" --stream {}", run.source.stream));
    let columns = if run.has_files { "" } else { " --columns none" };
    plain + &stream.unwrap_or_default() + columns + left_out(scenario, is_explained)
}

fn sampled(verb: &str, scenario: &Scenario, settings: &Settings) -> String {
    format!(
        "fairphase {verb} {} --samples {} --seed {} --solver {}",
        quoted(&scenario.source_name),
        settings.samples,
        settings.seed,
        settings.method.name()
    )
}

/// The command that makes the case for or against current sensors again.
pub(in crate::report) fn sensors(scenario: &Scenario, settings: Settings) -> String {
    sampled("sensors", scenario, &settings)
}

/// The command that tries the sizes of the flying capacitors again.
pub(in crate::report) fn capacitors(
    scenario: &Scenario,
    settings: &Settings,
    starts: StartMethod,
) -> String {
    let option = if starts == StartMethod::Integrated { " --integrate" } else { "" };
    sampled("capacitors", scenario, settings) + option
}

/// The command that tries all faults again.
pub(in crate::report) fn faults(scenario: &Scenario, settings: Settings) -> String {
    sampled("faults", scenario, &settings)
}

#[cfg(test)]
mod tests {
    use super::quoted;

    #[test]
    fn words_with_blanks_and_quotes_are_quoted() {
        assert_eq!(quoted("scenarios/shelf-2.toml"), "scenarios/shelf-2.toml");
        assert_eq!(quoted("my shelf.toml"), "'my shelf.toml'");
        assert_eq!(quoted("it's.toml"), r"'it'\''s.toml'");
        assert_eq!(quoted("$(x).toml"), "'$(x).toml'");
        assert_eq!(quoted("it's\u{1b}\u{202e}.toml"), r"$'it\'s\033\342\200\256.toml'");
    }
}
