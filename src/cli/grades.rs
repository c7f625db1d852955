//! `grades`: which part grades make a good converter cheapest.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::anyhow;
use clap::Args;

use super::{CliError, Common, NOT_A_PASS, UNFINISHED, progress};
use crate::converter::{Arrangement, Parameter};
use crate::population::stock;
use crate::report::format::folder::Folder;
use crate::report::grades::report;
use crate::scenario::{Asked, Grades, Scenario, file_name};
use crate::statistics::Verdict;
use crate::study::allocation::{
    ChainEvaluator, ConverterEvaluator, Stock, StockAllocation, Surrogate, allocate,
};
use crate::study::common::progress::Progress;
use crate::study::common::settings::Settings;
use crate::study::common::trial::{Entry, trials};
use crate::study::grades::{GradeSet, Ranking, Stage, legs, rank};

#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    pub(super) common: Common,
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
    let scenario = common.read_asking(Asked::Grades)?;
    let grades = scenario.grades.as_ref();
    let grades = grades.ok_or_else(|| anyhow!("the scenario has no part grades on offer"))?;
    let settings = common.settings(&scenario);
    let legs = legs(&scenario, settings.method)?;
    let stock = read_stock(arguments, &scenario, legs)?;
    // A folder that cannot be written to is better told before the work than after it.
    let folder = Folder::open(&common.out())?;
    let ranking = compare(common, &scenario, (settings, legs), grades)?;
    let stocked = match stock {
        None => None,
        Some(stock) if ranking.is_partial() => Some(StockAllocation { stock, allocation: None }),
        Some(stock) => Some(allot(common, &scenario, (settings, legs), stock)?),
    };
    let stocked = stocked.as_ref();
    let partial = ranking.is_partial() || stocked.is_some_and(StockAllocation::is_partial);
    let inputs: Vec<&Path> = [&arguments.stock, &arguments.capacitors]
        .into_iter()
        .flatten()
        .map(PathBuf::as_path)
        .collect();
    common.deliver(folder, report(&scenario, grades, &ranking, stocked)?, &inputs)?;
    let passed = ranking.verdict(scenario.limits.yield_target) == Verdict::Pass;
    Ok(if partial {
        ExitCode::from(UNFINISHED)
    } else if arguments.require_pass && !passed {
        ExitCode::from(NOT_A_PASS)
    } else {
        ExitCode::SUCCESS
    })
}

fn compare(
    common: &Common,
    scenario: &Scenario,
    (settings, legs): (Settings, usize),
    grades: &Grades,
) -> Result<Ranking, CliError> {
    let mut bars = progress::Bars::new(common.quiet || common.json);
    let stop = progress::stop_on_signal()?;
    let mut try_out = |stage: Stage, candidates: &[GradeSet], seed| {
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
    let needed = Parameter::FlyingCapacitance.parts((scenario.phases, legs), Arrangement::Chain);
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

fn allot(
    common: &Common,
    scenario: &Scenario,
    (settings, legs): (Settings, usize),
    stock: Stock,
) -> Result<StockAllocation, CliError> {
    let judge =
        ChainEvaluator::new(scenario, (settings.method, settings.threads), progress::stop())
            .map_err(anyhow::Error::from)?;
    let surrogate = Surrogate::new(&judge, &stock.tanks);
    let nominal = scenario.nominal_converter();
    let bar = progress::stage("allotments of the stock", 1, common.quiet || common.json)?;
    let progress = |done: usize, all: usize| {
        bar.set_length(all as u64);
        bar.set_position(done as u64);
    };
    let judged = (&judge as &dyn ConverterEvaluator, settings.seed);
    let allocation = allocate(&stock, (&nominal, legs), &surrogate, judged, &progress);
    bar.finish_and_clear();
    Ok(StockAllocation { stock, allocation })
}
