//! `grades`: which part grades make a good converter cheapest.

use std::process::ExitCode;

use clap::Args;

use super::{CliError, Common, NOT_A_PASS, UNFINISHED, progress};
use crate::report::folder::Folder;
use crate::report::grades::{csv, json, terminal};
use crate::report::{html, json::text};
use crate::scenario::{Grades, Scenario};
use crate::statistics::Verdict;
use crate::study::grades::{Progress, Ranking, Trials, legs, rank};
use crate::study::run::Settings;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    common: Common,
    /// Exit with status 1 unless the recommended set meets the yield target
    #[arg(long)]
    require_pass: bool,
}

pub(super) fn grades(arguments: &Arguments) -> Result<ExitCode, CliError> {
    let common = &arguments.common;
    let scenario = common.read()?;
    let Some(grades) = &scenario.grades else { return Err(no_grades(common)) };
    let settings = Settings {
        samples: common.samples.unwrap_or(scenario.run.samples),
        seed: common.seed.unwrap_or(scenario.run.seed),
        method: common.method(),
        threads: common.threads(),
    };
    let ranking = compare(common, &scenario, grades, settings)?;
    let summary = json::grades_summary(&scenario, grades, &ranking);
    let folder = Folder::open(&common.out())?;
    folder.write("report.html", &html::grades_page(&scenario, grades, &ranking))?;
    folder.write("grades.csv", &csv::grades(grades, &ranking)?)?;
    folder.write("summary.json", &text(&summary)?)?;
    folder.finish()?;
    let shown = format!(
        "{}\nReport: {}\n",
        terminal::grades(&scenario, grades, &ranking),
        common.out().join("report.html").display()
    );
    common.show(&shown, &summary)?;
    let passed = ranking.verdict(scenario.limits.yield_target) == Verdict::Pass;
    Ok(if ranking.partial {
        ExitCode::from(UNFINISHED)
    } else if arguments.require_pass && !passed {
        ExitCode::from(NOT_A_PASS)
    } else {
        ExitCode::SUCCESS
    })
}

fn no_grades(common: &Common) -> CliError {
    CliError::Input(format!(
        "error: {} lists no part grades\n  \
         expected [grades] with `quantity`, and tables such as [[grade.resonant_inductance]]",
        common.scenario.display()
    ))
}

fn compare(
    common: &Common,
    scenario: &Scenario,
    grades: &Grades,
    settings: Settings,
) -> Result<Ranking, CliError> {
    let bar = progress::bar(0, common.quiet || common.json)?;
    let progress = |progress| match progress {
        Progress::Planned(trials) => bar.set_length(trials as u64 * settings.samples),
        Progress::Done => bar.inc(settings.samples),
    };
    let stop = progress::stop_on_signal()?;
    let legs = legs(scenario, settings.method)?;
    let mut trials = Trials { scenario, grades, settings, stop, progress };
    let ranking = rank(scenario, grades, (settings, legs), &mut trials)?;
    bar.finish_and_clear();
    Ok(ranking)
}
