//! What the terminal shows: the answer in a screenful, 80 columns wide.

use std::fmt::Write as _;

use comfy_table::{CellAlignment, ContentArrangement, Table, presets};

use crate::converter::{Arrangement, Sharing};
use crate::scenario::Scenario;
use crate::solver::{Method, Outcome, chain_voltages};
use crate::statistics::{Confidence, Summary, Verdict, Yield};
use crate::study::baseline::Baseline;
use crate::study::demand::Binding;
use crate::study::figures::{Figure, Measured};
use crate::study::run::{Joint, Run};
use crate::study::units::{Listed, UnitResult};
use crate::units::{Ampere, Hertz, Volt, Watt, engineering};

/// The usual caution, for every result.
pub const CAUTION: &str = "\
High voltage can kill and a wrong rating can burn: capacitors stay charged after
switch-off. These are model results; the applicable standards, local codes and
a qualified engineer decide.\n";

const WIDTH: u16 = 80;

mod choice;
mod gain;

pub(crate) use choice::preference;
pub use gain::gain;

pub(super) fn table(headings: &[&str]) -> Table {
    let mut table = Table::new();
    table
        .load_style(presets::NOTHING)
        .set_width(WIDTH)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_header(headings.iter().copied());
    for (n, column) in table.column_iter_mut().enumerate() {
        column.set_padding((0, 1));
        if n >= 2 {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table
}

/// Lines without the blanks that a table leaves at their ends.
pub(super) fn trimmed(table: &Table) -> String {
    table.to_string().lines().fold(String::new(), |mut text, line| {
        text.push_str(line.trim_end());
        text.push('\n');
        text
    })
}

/// The text with lines that are too long folded between words.
pub(super) fn folded(text: &str) -> String {
    let options = textwrap::Options::new(usize::from(WIDTH)).subsequent_indent("  ");
    text.lines().fold(String::new(), |mut folded, line| {
        if line.chars().count() > usize::from(WIDTH) {
            // Blanks that no line may break at are blanks all the same.
            folded.push_str(&textwrap::fill(&joined(line), &options).replace('\u{a0}', " "));
        } else {
            folded.push_str(line);
        }
        folded.push('\n');
        folded
    })
}

/// The text with no break within a number, nor between it and its unit.
pub(super) fn joined(line: &str) -> String {
    let mut last = ' ';
    let mut rest = line.chars().peekable();
    let mut text = String::new();
    while let Some(c) = rest.next() {
        let next = rest.peek().copied().unwrap_or(' ');
        let holds = last.is_ascii_digit() && (next.is_ascii_digit() || "%AV".contains(next));
        text.push(if c == ' ' && holds { '\u{a0}' } else { c });
        last = c;
    }
    text
}

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

/// The result of a run.
pub fn run(scenario: &Scenario, run: &Run) -> String {
    let mut text = format!(
        "{}\n{} samples, seed {}, {} solver, {} phases\n\n",
        scenario.title,
        grouped(run.settings.samples),
        run.settings.seed,
        run.settings.method.name(),
        scenario.phases,
    );
    if run.settings.method == Method::Averaged {
        text.push_str(
            "A quick look: the averaged solver flatters. Take verdicts from --solver exact.\n\n",
        );
    }
    for joint in &run.joint {
        text.push_str(&verdict(joint, scenario.limits.yield_target));
    }
    text.push('\n');
    text.push_str(&points(scenario, run));
    text.push('\n');
    text.push_str(&choice::choices(run.choices()));
    text.push_str(&statuses(run));
    text.push_str(&comparison(run));
    text.push('\n');
    text.push_str(CAUTION);
    folded(&text)
}

pub(super) fn interval(good: &Yield) -> String {
    format!(
        "{} ({} interval {} to {})",
        yield_percent(good.estimate),
        level(good.confidence),
        yield_percent(good.lower),
        yield_percent(good.upper)
    )
}

/// A confidence level in percent: what is left to 100 % has three digits.
pub(super) fn level(confidence: Confidence) -> String {
    let left = 100.0 * confidence.one_sided_tail();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 17")]
    let decimals = (2.0 - libm::floor(libm::log10(left))).clamp(0.0, 17.0) as usize;
    let digits = format!("{:.decimals$}", 100.0 * confidence.get());
    format!("{} %", digits.trim_end_matches('0').trim_end_matches('.'))
}

fn verdict(joint: &Joint, target: f64) -> String {
    let which = match joint.arrangement {
        Arrangement::Chain => "With charge balancing",
        Arrangement::Paralleled => "Plain paralleled",
    };
    let mut text = format!(
        "{which}: {} (target {})\n  good at all operating points: {}\n",
        verdict_word(joint.verdict),
        yield_percent(target),
        interval(&joint.good)
    );
    if let Some(Binding { operating_point: point, demand, missed }) = &joint.binding {
        let demand = demand.name().replace('_', " ");
        let _ = writeln!(
            text,
            "  missed most: {demand} at \"{point}\", by {} samples",
            grouped(*missed)
        );
    }
    if joint.verdict == Verdict::NotDecided {
        let _ = match joint.samples_to_decide {
            Some(n) => {
                writeln!(text, "  about {} samples would decide, at this proportion", grouped(n))
            }
            None => writeln!(text, "  too close to the target for any number of samples"),
        };
    }
    text
}

fn points(scenario: &Scenario, run: &Run) -> String {
    let Sharing { share, measure } = scenario.limits.sharing;
    let mut text =
        format!("Sharing error ({}, {}) and switch current\n", share.name(), measure.name());
    let mut table =
        table(&["operating point", "arrangement", "fs", "p50", "p95", "max", "RMS p99", "yield"]);
    for (n, case) in run.cases.iter().enumerate() {
        let sharing = run.summary(n, Figure::SharingError(scenario.limits.sharing));
        let of = |f: fn(&Summary) -> f64| sharing.map_or("-".into(), |s| percent(f(s)));
        let rms = run.summary(n, Figure::WorstSwitchRms);
        table.add_row([
            case.operating_point().to_owned(),
            case.arrangement().name().to_owned(),
            format!("{:.1} kHz", case.baseline.state.switching_frequency.0 / 1e3),
            of(|s| s.p50),
            of(|s| s.p95),
            of(|s| s.max),
            rms.map_or("-".into(), |s| format!("{:.2} A", s.p99)),
            yield_percent(case.good.estimate),
        ]);
    }
    text.push_str(&trimmed(&table));
    text
}

fn statuses(run: &Run) -> String {
    let mut text = String::new();
    for arrangement in Arrangement::ALL {
        let [solved, out_of_range, not_solved] = run.totals(arrangement);
        let _ = writeln!(
            text,
            "{}: {} solved, {} out of range, {} not solved (both count as failures)",
            arrangement.name(),
            grouped(solved),
            grouped(out_of_range),
            grouped(not_solved)
        );
    }
    text
}

/// How far the solvers stand apart, at the operating point where they do most.
fn comparison(run: &Run) -> String {
    let chain = run.of(Arrangement::Chain).filter_map(|(n, case)| {
        let comparison = run.comparison.get(n)?;
        let (exact, averaged) = comparison.p95?;
        Some((exact / averaged, comparison.frequency?, case.operating_point()))
    });
    let Some((ratio, frequency, point)) =
        chain.max_by(|a, b| libm::log(a.0).abs().total_cmp(&libm::log(b.0).abs()))
    else {
        return String::new();
    };
    format!(
        "averaged against exact, chain at \"{point}\": p95 sharing error {ratio:.2} times\n  \
         as large when solved exactly, frequency up to {} apart\n",
        percent(frequency)
    )
}

/// The design table of the nominal converter.
pub fn check(scenario: &Scenario, baselines: &[Baseline]) -> String {
    let tank = &scenario.nominal;
    let (lr, cr) = (tank.resonant_inductance.0, tank.resonant_capacitance.0);
    let mut text = format!(
        "{}\n{} phases; one tank:\n  Lr {}  Cr {}  Lm {}  n {}  R {}\n  \
         series resonance {}, characteristic impedance {}, Lm/Lr {:.2}\n  \
         flying capacitors {} ({:.0} Cr); frequency {} to {}\n\n",
        scenario.title,
        scenario.phases,
        tank.resonant_inductance,
        tank.resonant_capacitance,
        tank.magnetising_inductance,
        tank.turns_ratio,
        tank.series_resistance,
        tank.series_resonance(),
        engineering((lr / cr).sqrt(), "Ω"),
        tank.magnetising_inductance.0 / lr,
        scenario.flying_capacitance,
        scenario.flying_capacitance.0 / cr,
        scenario.frequency.minimum,
        scenario.frequency.maximum,
    );
    let mut table = table(&[
        "operating point",
        "arrangement",
        "fs",
        "averaged",
        "I rms",
        "I peak",
        "sharing",
        "loss",
    ]);
    for b in baselines {
        table.add_row(nominal_row(scenario, b));
    }
    text.push_str(&trimmed(&table));
    text.push_str(
        "(averaged: the frequency that the fundamental-harmonic approximation gives)\n\n",
    );
    text.push_str(&chain_table(scenario, baselines));
    let chain = baselines.iter().filter(|b| b.case.arrangement == Arrangement::Chain);
    text.push_str(&choice::choices(chain.filter_map(|b| b.choice.as_ref())));
    text.push_str(CAUTION);
    folded(&text)
}

fn nominal_row(scenario: &Scenario, b: &Baseline) -> [String; 8] {
    let nominal = scenario.nominal_converter();
    let (point, arrangement) = (&b.case.point, b.case.arrangement);
    let measured = Measured::new(&b.state, &nominal, point, arrangement, scenario.neutral_split);
    let averaged = Method::Averaged.solve(&nominal, point, &scenario.frequency, arrangement, None);
    let most = |f: fn(&crate::solver::PhaseState) -> Ampere| {
        Ampere(b.state.phases.iter().map(|p| f(p).0).fold(0.0, f64::max)).to_string()
    };
    [
        point.name.clone(),
        arrangement.name().into(),
        b.state.switching_frequency.to_string(),
        averaged.solved().map_or("-".into(), |s| Hertz(s.switching_frequency.0).to_string()),
        most(|p| p.rms_current),
        most(|p| p.peak_current),
        percent(measured.sharing_error(scenario.limits.sharing)),
        Watt(measured.value(Figure::Loss)).to_string(),
    ]
}

/// Flying capacitors and blocking voltages of the nominal chain.
fn chain_table(scenario: &Scenario, baselines: &[Baseline]) -> String {
    let nominal = scenario.nominal_converter();
    let mut table = table(&["operating point", "configuration", "flying capacitors", "blocking"]);
    for b in baselines.iter().filter(|b| b.case.arrangement == Arrangement::Chain) {
        let point = &b.case.point;
        let voltages = chain_voltages(&b.state, &nominal, point);
        let flying: Vec<String> =
            voltages.legs[0].flying.iter().map(|v| format!("{:.1}", v.middle.0)).collect();
        let chosen = if b.choice.is_some() { " (chosen)" } else { "" };
        let measured =
            Measured::new(&b.state, &nominal, point, Arrangement::Chain, scenario.neutral_split);
        table.add_row([
            point.name.clone(),
            format!("{} / {}{chosen}", point.drive.name(), point.rectifier.name()),
            format!("{} V", flying.join(", ")),
            Volt(measured.value(Figure::WorstBlocking)).to_string(),
        ]);
    }
    format!(
        "Chain: drive / rectifier, flying-capacitor voltages, highest blocking voltage\n{}\n",
        trimmed(&table)
    )
}

/// The results of listed units, a table each.
pub fn units(scenario: &Scenario, listed: &Listed) -> String {
    let mut text = format!("{}\n\n", scenario.title);
    for unit in listed.results.chunk_by(|a, b| a.unit == b.unit) {
        let mut table =
            table(&["operating point", "arrangement", "fs", "sharing error", "output currents"]);
        for result in unit {
            table.add_row(unit_row(result));
        }
        let _ = writeln!(text, "{}\n{}", unit[0].unit, trimmed(&table));
        for (result, reason) in unit.iter().filter_map(|r| Some((r, r.outcome.reason()?))) {
            let (point, arrangement) = (&result.point.name, result.arrangement.name());
            let name = result.outcome.name();
            let _ = writeln!(text, "{point}, {arrangement}: {name}: {reason}");
        }
    }
    text.push_str(&choice::choices(listed.choices.iter()));
    text.push_str(CAUTION);
    folded(&text)
}

fn unit_row(result: &UnitResult) -> [String; 5] {
    let (frequency, currents) = match &result.outcome {
        Outcome::Solved(state) => {
            let each = state.phases.iter().map(|p| format!("{:.2}", p.output_current.0));
            let currents: Vec<String> = each.collect();
            (state.switching_frequency.to_string(), currents.join(" ") + " A")
        }
        other => (other.name().to_owned(), "-".to_owned()),
    };
    [
        result.point.name.clone(),
        result.arrangement.name().into(),
        frequency,
        result.sharing_error.map_or("-".into(), percent),
        currents,
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_their_units_stay_together() {
        let line = joined("in 2 000 of 9 at 5.1 % or 3 A at 40 V");
        assert_eq!(line, "in 2\u{a0}000 of 9 at 5.1\u{a0}% or 3\u{a0}A at 40\u{a0}V");
        let long = format!("{} 95 % interval", "x".repeat(76));
        assert_eq!(folded(&long), format!("{}\n  95 % interval\n", "x".repeat(76)));
    }
}
