//! The result of a run on the terminal: the answer in a screenful.

use std::fmt::Write as _;

use crate::converter::{Arrangement, Sharing};
use crate::report::format::configuration::terminal as configuration;
use crate::report::format::numbers::{grouped, interval, percent, verdict_word, yield_percent};
use crate::report::format::terminal::{CAUTION, folded, table, trimmed};
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::statistics::{KeyFigures, Verdict};
use crate::study::common::demand::Binding;
use crate::study::common::figures::Figure;
use crate::study::run::{Joint, Run};

/// The result of a run.
pub(super) fn text(scenario: &Scenario, run: &Run) -> String {
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
    text.push_str(&configuration::choices(run.choices()));
    text.push_str(&statuses(run));
    text.push_str(&comparison(run));
    text.push('\n');
    text.push_str(CAUTION);
    folded(&text)
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
        let sharing = run.key_figures(n, Figure::SharingError(scenario.limits.sharing));
        let of = |f: fn(&KeyFigures) -> f64| sharing.map_or("-".into(), |s| percent(f(s)));
        let rms = run.key_figures(n, Figure::WorstSwitchRms);
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
