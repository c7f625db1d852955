//! `grades`: which part grades make a good converter cheapest.

use std::path::PathBuf;

use anyhow::anyhow;
use clap::{Args, ValueHint};

use super::arguments::CommonArguments;
use super::error::CliError;
use super::progress;
use super::question::{Answer, Completion, Question};
use crate::converter::{Arrangement, ConverterSize, Parameter};
use crate::population::stock;
use crate::report::format::folder::Folder;
use crate::report::grades::report;
use crate::scenario::{Asked, Scenario, file_name};
use crate::statistics::Verdict;
use crate::study::allocation::{
    AllocationRequest, ChainEvaluator, Stock, StockAllocation, Surrogate, allocate,
};
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::study::grades::grades as study;

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
        let stop = progress::stop_on_signal()?;
        let mut bars = progress::StageBars::new(self.common.is_silent());
        bars.stage(progress::NOMINAL, 0);
        let session = Session::new(scenario, self.common.settings(scenario), stop)?;
        let stock = self.read_stock(scenario, session.size())?;
        // A folder that cannot be written to is better told before the work than after it.
        let folder = Folder::open(&self.common.out())?;
        let ranking = study(&session, grades, &mut bars)?;
        let stocked = stock.map(|stock| {
            if ranking.is_partial() {
                return StockAllocation { stock, allocation: None };
            }
            allot(&session, stock, &mut bars)
        });
        drop(bars);
        let stocked = stocked.as_ref();
        let is_partial = ranking.is_partial() || stocked.is_some_and(StockAllocation::is_partial);
        let is_pass = ranking.verdict(scenario.limits.yield_target) == Verdict::Pass;
        Ok(Answer {
            report: report(scenario, grades, &ranking, stocked)?,
            folder: Some(folder),
            inputs: [&self.stock, &self.capacitors].into_iter().flatten().cloned().collect(),
            completion: Completion::new(is_partial, is_pass),
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
        let flying = scenario.flying_capacitance;
        let capacitors = self.capacitors.as_ref();
        Ok(Some(Stock {
            tanks_file: file_name(tanks),
            tanks: stock::read_tanks(tanks, &nominal)?,
            capacitors_file: capacitors.map(|path| file_name(path)),
            capacitors: match capacitors {
                Some(path) => stock::read_capacitors(path, flying, needed)?,
                None => Vec::new(),
            },
        }))
    }
}

/// Allots a measured stock to converters like the nominal one of a session.
fn allot(session: &Session, stock: Stock, progress: &mut dyn Progress) -> StockAllocation {
    let chain = ChainEvaluator::new(session);
    let request = AllocationRequest {
        stock: &stock,
        nominal: session.nominal(),
        legs: session.size().legs,
        surrogate: &Surrogate::new(&chain, &stock.tanks),
        evaluator: &chain,
        seed: session.settings().seed,
    };
    let allocation = allocate(&request, progress);
    StockAllocation { stock, allocation }
}
