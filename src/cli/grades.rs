//! `grades`: which part grades make a good converter cheapest.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::{CliError, Common, NOT_A_PASS, UNFINISHED, progress};
use crate::converter::{Arrangement, Parameter};
use crate::population::stock;
use crate::report::folder::Folder;
use crate::report::grades::{csv, json, terminal};
use crate::report::{html, json::text};
use crate::scenario::{Grades, Scenario, file_name};
use crate::statistics::Verdict;
use crate::study::grades::{Candidate, Ranking, Stage, legs, parts_in_converter, rank};
use crate::study::pairing::{Chain, Stock, Stocked, pair, scores};
use crate::study::progress::Progress;
use crate::study::run::Settings;
use crate::study::trial::{Entry, trials};

#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    common: Common,
    /// Measured tanks in stock, to be allotted to converters (CSV, one row a tank)
    #[arg(long, value_name = "FILE")]
    stock: Option<PathBuf>,
    /// Measured flying capacitors in stock (CSV, one row a capacitor)
    #[arg(long, value_name = "FILE", requires = "stock")]
    capacitors: Option<PathBuf>,
    /// Exit with status 1 unless the recommended set meets the yield target
    #[arg(long)]
    require_pass: bool,
}

pub(super) fn grades(arguments: &Arguments) -> Result<ExitCode, CliError> {
    let common = &arguments.common;
    let scenario = common.read()?;
    let Some(grades) = &scenario.grades else { return Err(no_grades(common)) };
    let settings = common.settings(&scenario);
    let legs = legs(&scenario, settings.method)?;
    let stock = read_stock(arguments, &scenario, legs)?;
    let ranking = compare(common, &scenario, (settings, legs), grades)?;
    let stocked = match stock {
        None => None,
        Some(stock) => Some(allot(&scenario, (settings, legs), stock, ranking.is_partial())?),
    };
    let stocked = stocked.as_ref();
    let partial = ranking.is_partial() || stocked.is_some_and(|stocked| stocked.pairing.is_none());
    let summary = json::grades_summary(&scenario, grades, &ranking, stocked);
    let folder = Folder::open(&common.out())?;
    folder.write("report.html", &html::grades_page(&scenario, grades, &ranking, stocked))?;
    folder.write("grades.csv", &csv::grades(grades, &ranking)?)?;
    if let Some(Stocked { stock, pairing: Some(pairing) }) = stocked {
        folder.write("build_list.csv", &csv::build_list(stock, pairing)?)?;
    }
    folder.write("summary.json", &text(&summary)?)?;
    folder.finish()?;
    let shown = format!(
        "{}\nReport: {}\n",
        terminal::grades(&scenario, grades, &ranking, stocked),
        common.out().join("report.html").display()
    );
    common.show(&shown, &summary)?;
    let passed = ranking.verdict(scenario.limits.yield_target) == Verdict::Pass;
    Ok(if partial {
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
    (settings, legs): (Settings, usize),
    grades: &Grades,
) -> Result<Ranking, CliError> {
    let mut bars = progress::Bars::new(common.quiet || common.json);
    let stop = progress::stop_on_signal()?;
    let mut try_out = |stage: Stage, candidates: &[Candidate], seed| {
        let entries: Vec<Entry> = candidates.iter().map(|c| c.entry(scenario, grades)).collect();
        let each = entries.len() as u64;
        bars.stage(stage.name(), each * settings.samples);
        let settings = Settings { seed, ..settings };
        trials(scenario, &entries, settings, stop, |samples| bars.advance(each * samples))
    };
    Ok(rank(scenario, grades, (settings, legs), &mut try_out)?)
}

fn read_stock(
    arguments: &Arguments,
    scenario: &Scenario,
    legs: usize,
) -> Result<Option<Stock>, CliError> {
    let Some(tanks) = &arguments.stock else { return Ok(None) };
    let nominal = scenario.nominal_converter();
    let needed = parts_in_converter(
        Parameter::FlyingCapacitance,
        (scenario.phases, legs),
        Arrangement::Chain,
    );
    let each = (scenario.flying_capacitance, needed);
    let capacitors = arguments.capacitors.as_ref();
    Ok(Some(Stock {
        tanks_file: file_name(tanks),
        tanks: stock::read_tanks(tanks, &nominal)?,
        capacitors_file: capacitors.map(|path| file_name(path)),
        capacitors: match capacitors {
            Some(path) => stock::read_capacitors(path, each)?,
            None => Vec::new(),
        },
    }))
}

/// Allots the stock; not after the comparison was interrupted.
fn allot(
    scenario: &Scenario,
    (settings, legs): (Settings, usize),
    stock: Stock,
    interrupted: bool,
) -> Result<Stocked, CliError> {
    if interrupted {
        return Ok(Stocked { stock, pairing: None });
    }
    let judge = Chain::new(scenario, (settings.method, settings.threads), progress::stop())
        .map_err(anyhow::Error::from)?;
    let scores = scores(scenario, &judge, &stock.tanks);
    let nominal = scenario.nominal_converter();
    let pairing = pair(&stock, (&nominal, legs), &scores, (&judge, settings.seed));
    Ok(Stocked { stock, pairing })
}
