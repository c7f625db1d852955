//! `grades`: which part grades make a good converter cheapest.

use std::path::PathBuf;

use anyhow::anyhow;
use clap::{Args, ValueHint};

use super::arguments::CommonArguments;
use super::error::CliError;
use super::progress;
use super::question::{Answer, Outcome, Question};
use crate::converter::{Arrangement, ConverterSize, Parameter};
use crate::population::stock;
use crate::report::format::folder::Folder;
use crate::report::grades::report;
use crate::scenario::{Asked, Grades, Scenario, file_name};
use crate::statistics::Verdict;
use crate::study::allocation::{
    AllocationRequest, ChainEvaluator, Stock, StockAllocation, Surrogate, allocate,
};
use crate::study::common::progress::Progress;
use crate::study::common::settings::Settings;
use crate::study::common::trial::{Entry, trials};
use crate::study::grades::{GradeSet, Ranking, RankingRequest, Stage, converter_size, rank};

/// The command line of `grades`.
#[derive(Debug, Args)]
pub(super) struct GradesArguments {
    #[command(flatten)]
    common: CommonArguments,
    /// Measured tanks in stock, to be allotted to converters (CSV, one row a tank)
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    stock: Option<PathBuf>,
    /// Measured flying capacitors in stock (CSV, one row a capacitor)
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath, requires = "stock")]
    capacitors: Option<PathBuf>,
    /// Exit with status 1 unless the recommended set meets the yield target
    #[arg(long)]
    require_pass: bool,
}

impl Question for GradesArguments {
    const NEEDS: Asked = Asked::Grades;

    fn common(&self) -> &CommonArguments {
        &self.common
    }

    fn requires_pass(&self) -> bool {
        self.require_pass
    }

    fn answer(&self, scenario: &Scenario) -> Result<Answer, CliError> {
        let grades = scenario.grades.as_ref();
        let grades = grades.ok_or_else(|| anyhow!("the scenario has no part grades on offer"))?;
        let settings = self.common.settings(scenario);
        let size = converter_size(scenario, settings.method)?;
        let stock = self.read_stock(scenario, size)?;
        // A folder that cannot be written to is better told before the work than after it.
        let folder = Folder::open(&self.common.out())?;
        let buying = Buying { common: &self.common, scenario, settings, size };
        let ranking = buying.compare(grades)?;
        let stocked = match stock {
            None => None,
            Some(stock) if ranking.is_partial() => {
                Some(StockAllocation { stock, allocation: None })
            }
            Some(stock) => Some(buying.allot(stock)?),
        };
        let stocked = stocked.as_ref();
        let is_partial = ranking.is_partial() || stocked.is_some_and(StockAllocation::is_partial);
        let is_pass = ranking.verdict(scenario.limits.yield_target) == Verdict::Pass;
        Ok(Answer {
            report: report(scenario, grades, &ranking, stocked)?,
            folder: Some(folder),
            inputs: [&self.stock, &self.capacitors].into_iter().flatten().cloned().collect(),
            outcome: Outcome::new(is_partial, is_pass),
        })
    }
}

impl GradesArguments {
    fn read_stock(
        &self,
        scenario: &Scenario,
        size: ConverterSize,
    ) -> Result<Option<Stock>, CliError> {
        let Some(tanks) = &self.stock else { return Ok(None) };
        let nominal = scenario.nominal_converter();
        let needed = Parameter::FlyingCapacitance.parts(size, Arrangement::Chain);
        let capacitor = (scenario.flying_capacitance, needed);
        let capacitors = self.capacitors.as_ref();
        Ok(Some(Stock {
            tanks_file: file_name(tanks),
            tanks: stock::read_tanks(tanks, &nominal)?,
            capacitors_file: capacitors.map(|path| file_name(path)),
            capacitors: match capacitors {
                Some(path) => stock::read_capacitors(path, capacitor)?,
                None => Vec::new(),
            },
        }))
    }
}

/// The scenario of a buyer, and how it is sampled.
struct Buying<'a> {
    common: &'a CommonArguments,
    scenario: &'a Scenario,
    settings: Settings,
    /// Phases and driven legs.
    size: ConverterSize,
}

impl Buying<'_> {
    fn compare(&self, grades: &Grades) -> Result<Ranking, CliError> {
        let Self { common, scenario, settings, size } = *self;
        let mut bars = progress::StageBars::new(common.is_silent());
        let stop = progress::stop_on_signal()?;
        let mut try_out = |stage: Stage, sets: &[GradeSet], seed| {
            let entries: Vec<Entry> = sets.iter().map(|set| set.entry(scenario, grades)).collect();
            let count = entries.len() as u64;
            bars.stage(stage.name(), count * settings.samples);
            let settings = Settings { seed, ..settings };
            trials(scenario, &entries, settings, stop, |samples| bars.advance(count * samples))
        };
        Ok(rank(RankingRequest { scenario, grades, settings, size }, &mut try_out)?)
    }

    fn allot(&self, stock: Stock) -> Result<StockAllocation, CliError> {
        let Self { common, scenario, settings, size } = *self;
        let chain = ChainEvaluator::new(scenario, settings, progress::stop())
            .map_err(anyhow::Error::from)?;
        let surrogate = Surrogate::new(&chain, &stock.tanks);
        let nominal = scenario.nominal_converter();
        let bar = progress::stage("allotments of the stock", 1, common.is_silent())?;
        let progress = |done: usize, all: usize| {
            bar.set_length(all as u64);
            bar.set_position(done as u64);
        };
        let request = AllocationRequest {
            stock: &stock,
            nominal: &nominal,
            legs: size.legs,
            surrogate: &surrogate,
            evaluator: &chain,
            seed: settings.seed,
        };
        let allocation = allocate(&request, &progress);
        bar.finish_and_clear();
        Ok(StockAllocation { stock, allocation })
    }
}
