//! `grades`: which part grades make a good converter cheapest.

use std::path::{Path, PathBuf};

use anyhow::anyhow;
use clap::{Args, ValueHint};

use super::arguments::CommonArguments;
use super::error::CliError;
use super::output::note;
use super::progress;
use super::question::{Answer, Completion, Question, Task};
use crate::converter::{Arrangement, ConverterSize, Parameter};
use crate::population::stock;
use crate::report::format::numbers::count;
use crate::report::grades::{AllottedStock, price_gap, report, stock_report};
use crate::scenario::{Asked, Grades, Scenario, file_name};
use crate::study::allocation::{
    AllocationRequest, ChainEvaluator, Stock, StockAllocation, Surrogate, allocate,
};
use crate::study::common::demand::Demand;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::study::grades::{fewest_samples, grades as study, price_gaps};

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
    /// Allot the stock and compare no grades; so it is where the scenario has none
    #[arg(long, requires = "stock")]
    allot_only: bool,
    /// Exit with status 1 unless the set to build meets the yield target: the one
    /// without charge balancing where this is shown to be better. Where no grades are
    /// compared: unless all converters of the stock pass
    #[arg(long)]
    require_pass: bool,
}

impl Question for GradesArguments {
    fn needs(&self) -> Asked {
        if self.stock.is_some() { Asked::Nothing } else { Asked::Grades }
    }

    fn common(&self) -> &CommonArguments {
        &self.common
    }

    fn requires_pass(&self) -> bool {
        self.require_pass
    }

    fn files(&self) -> Vec<&'static str> {
        let lists: &[&str] =
            if self.stock.is_some() { &["build_list.csv", "not_passing.csv"] } else { &[] };
        let compared = (!self.allot_only).then_some("grades.csv");
        ["report.html"].into_iter().chain(compared).chain(lists.iter().copied()).collect()
    }

    fn inputs(&self) -> Vec<&Path> {
        [&self.stock, &self.capacitors].into_iter().flatten().map(PathBuf::as_path).collect()
    }

    fn answer(&self, task: &Task<'_>) -> Result<Answer, CliError> {
        let &Task { scenario, stop, .. } = task;
        let bars = progress::StageBars::new(self.common.shown.is_silent());
        let session =
            Session::new(scenario, self.common.settings(scenario), stop)?.for_many_samples();
        drop(bars);
        self.common.say_nominal_misses(&session);
        let stock = self.read_stock(task, session.size())?;
        match (scenario.grades.as_ref().filter(|_| !self.allot_only), stock) {
            (Some(grades), stock) => self.compare(&session, grades, stock),
            (None, Some(stock)) => self.allot_alone(&session, stock),
            (None, None) => Err(anyhow!("the scenario has no part grades on offer").into()),
        }
    }
}

impl GradesArguments {
    /// Compares the grades, then allots the stock if there is one.
    fn compare(
        &self,
        session: &Session,
        grades: &Grades,
        stock: Option<Stock>,
    ) -> Result<Answer, CliError> {
        let scenario = session.scenario();
        self.mention_before_the_work(scenario, grades);
        let mut bars = progress::StageBars::new(self.common.shown.is_silent());
        let ranking = study(session, grades, &mut bars)?;
        let stocked = stock.map(|stock| {
            if ranking.is_partial() {
                return StockAllocation { stock, allocation: None };
            }
            allot(session, stock, &mut bars)
        });
        drop(bars);
        let stocked = stocked.as_ref();
        let is_partial = ranking.is_partial() || stocked.is_some_and(StockAllocation::is_partial);
        let set = ranking.set_to_build(scenario.limits.yield_target);
        Ok(Answer {
            report: report(scenario, grades, &ranking, stocked)?,
            completion: Completion::new(is_partial, set.is_some()),
        })
    }

    /// Allots the stock, whatever is on offer.
    fn allot_alone(&self, session: &Session, stock: Stock) -> Result<Answer, CliError> {
        let mut bars = progress::StageBars::new(self.common.shown.is_silent());
        let stocked = allot(session, stock, &mut bars);
        drop(bars);
        let limits = &session.scenario().limits;
        let all_pass = stocked.allocation.as_ref().is_some_and(|own| own.rejected.is_empty())
            && Demand::is_any_set(limits, Arrangement::Chain);
        let allotted = AllottedStock {
            scenario: session.scenario(),
            settings: session.settings(),
            legs: session.size().legs,
            without_grades: self.allot_only,
            stocked: &stocked,
        };
        Ok(Answer {
            report: stock_report(allotted)?,
            completion: Completion::new(stocked.is_partial(), all_pass),
        })
    }

    /// The parts in stock: tanks and, if they are measured too, flying capacitors.
    fn read_stock(&self, task: &Task<'_>, size: ConverterSize) -> Result<Option<Stock>, CliError> {
        let Some(tanks) = task.inputs.first() else { return Ok(None) };
        let read =
            stock::parse_tanks(&tanks.name(), &tanks.text, &task.scenario.nominal_converter())?;
        let mut found = Stock {
            tanks_file: file_name(&tanks.path),
            tanks: read.content,
            tanks_read_as: read.read_as,
            ..Stock::default()
        };
        self.common.say_how_read(&found.tanks_file, found.tanks_read_as.as_deref());
        if let Some(file) = task.inputs.get(1) {
            let needed = Parameter::FlyingCapacitance.parts(size, Arrangement::Chain);
            let flying = task.scenario.flying_capacitance;
            let read = stock::parse_capacitors(&file.name(), &file.text, flying, needed)?;
            let name = file_name(&file.path);
            self.common.say_how_read(&name, read.read_as.as_deref());
            found.capacitors_file = Some(name);
            found.capacitors = read.content;
            found.capacitors_read_as = read.read_as;
        }
        Ok(Some(found))
    }

    /// Says before the work what may make it useless: too few samples, a price that looks wrong.
    fn mention_before_the_work(&self, scenario: &Scenario, grades: &Grades) {
        if self.common.shown.is_silent() {
            return;
        }
        for gap in price_gaps(grades) {
            note(&price_gap(&gap));
        }
        // Where no number is enough, the scenario's target or confidence is at its very end.
        let Ok(needed) = fewest_samples(scenario, grades) else { return };
        let given = self.common.settings(scenario).samples;
        if given < needed {
            note(&format!(
                "so few samples ({}) cannot show that a set meets the target:\n  \
                 at least {} are needed, all passing",
                count(given),
                count(needed)
            ));
        }
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
