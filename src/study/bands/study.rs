//! The whole question: present bands, every band alone, all together, prices, trade.

use std::sync::atomic::AtomicBool;

use super::cheapest::{Cheapest, Priced, cheapest};
use super::edge::{Edge, Line, Point, search};
use super::looks::{Look, prove, proven};
use super::map::{Map, POINTS, map};
use super::trials::{Judge, Rule, Trials};
use crate::converter::{Arrangement, Drive, Parameter};
use crate::engine::EngineError;
use crate::scenario::Scenario;
use crate::statistics::{StatisticsError, Verdict, Yield};
use crate::study::baseline::baselines;
use crate::study::demand::Binding;
use crate::study::run::{RunError, Settings};
use crate::study::trial::{Entry, trial};

/// Trials that a search and its proof take, more or less: for the time left alone.
const PER_SEARCH: u64 = 18;
/// The same of a search for the cheapest set.
const PER_CHOICE: u64 = 30;
/// Numbers that tell the questions of an arrangement apart, beyond those of the parameters.
const TOGETHER: u64 = 8;
const CHEAPEST: u64 = 9;
const QUESTIONS: u64 = 16;

/// Why no bands were found.
#[derive(Debug, thiserror::Error)]
pub enum BandsError {
    /// There is nothing to search.
    #[error("the scenario has no tolerance: give one part at least a table [tolerance.…]")]
    NoTolerance,
    /// No trial could meet the target, whatever the bands.
    #[error(
        "{samples} samples cannot show a yield of {target} %, even if all pass: the search takes \
         {needed} at least"
    )]
    TooFewSamples {
        /// The samples given.
        samples: u64,
        /// The target, percent.
        target: f64,
        /// The fewest that can meet it.
        needed: u64,
    },
    /// The trials came to nothing.
    #[error(transparent)]
    Run(#[from] RunError),
}

impl From<StatisticsError> for BandsError {
    fn from(e: StatisticsError) -> Self {
        Self::Run(e.into())
    }
}

/// Whoever wants to know how far the search is.
pub trait Watcher {
    /// So many trials are still to come, more or less.
    fn planned(&self, more: u64);
    /// A trial is done.
    fn tried(&self);
}

/// Whose bands are varied.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Subject {
    /// All bands, by one factor.
    Together,
    /// One band; the others are as in the scenario.
    Alone(Parameter),
}

/// The widest band of a subject.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Whose bands are varied.
    pub subject: Subject,
    /// The present band, of the nominal value; 1 for the factor of all together.
    pub present: f64,
    /// What the search found; its places are bands, or factors.
    pub edge: Edge,
    /// Runs on fresh seeds at what was found; none where nothing was.
    pub looks: Vec<Look>,
}

impl Row {
    /// The widest place that a fresh seed confirms.
    pub fn proven(&self) -> Option<&Look> {
        proven(&self.looks)
    }

    /// What the confirmed place is of the present one; none without either.
    pub fn margin(&self) -> Option<f64> {
        self.proven().filter(|_| self.present > 0.0).map(|look| look.at / self.present)
    }

    /// The limit that stops wider bands: the one missed most often at the narrowest that fails.
    pub fn binding(&self) -> Option<&Binding> {
        self.edge.failing().and_then(|point: &Point| point.judged.binding.as_ref())
    }
}

/// The answers for an arrangement.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// The arrangement.
    pub arrangement: Arrangement,
    /// The yield with the present bands, with its interval at the scenario's confidence level.
    pub present: Yield,
    /// What it says about the target.
    pub verdict: Verdict,
    /// The demand missed most often with the present bands.
    pub binding: Option<Binding>,
    /// All together first, then each band alone.
    pub rows: Vec<Row>,
}

impl Part {
    /// The answer for a subject.
    pub fn row(&self, subject: Subject) -> Option<&Row> {
        self.rows.iter().find(|row| row.subject == subject)
    }

    /// Whether no common factor helps: with all parts exact the target is missed still.
    pub fn is_hopeless(&self) -> bool {
        self.row(Subject::Together).is_some_and(|row| row.edge.widest().is_none())
    }
}

/// A question on the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// The yield of the present bands.
    Present(Arrangement),
    /// The widest bands of a subject.
    Widest(Arrangement, Subject),
    /// The cheapest set of the chain.
    Cheapest,
    /// The trade between two bands of the chain.
    Trade,
}

/// What was found.
#[derive(Debug)]
pub struct Bands {
    /// How it was carried out; the seed is that of the search.
    pub settings: Settings,
    /// When bands meet the target.
    pub rule: Rule,
    /// Drives of the operating points.
    pub drives: Vec<Drive>,
    /// The chain, then the paralleled reference.
    pub parts: Vec<Part>,
    /// The cheapest set, if the scenario has prices.
    pub cheapest: Option<Cheapest>,
    /// The trade, if two bands or more are given.
    pub map: Option<Map>,
    /// Number of trials made.
    pub trials: u64,
    /// What was left to do when the user asked to stop.
    pub unfinished: Vec<Step>,
}

impl Bands {
    /// The answers for an arrangement, as far as they go.
    pub fn part(&self, arrangement: Arrangement) -> Option<&Part> {
        self.parts.iter().find(|part| part.arrangement == arrangement)
    }

    /// Whether the user stopped the search.
    pub fn is_partial(&self) -> bool {
        !self.unfinished.is_empty()
    }
}

/// Finds bands. When `stop` is set, what was found by then is given, if that is anything.
///
/// # Errors
///
/// When there is nothing to search, when the nominal converter does not work, when `stop` is set
/// before the present bands are judged.
pub fn bands(
    scenario: &Scenario,
    settings: Settings,
    stop: &AtomicBool,
    watcher: &dyn Watcher,
) -> Result<Bands, BandsError> {
    let baselines = baselines(scenario, settings.method).map_err(RunError::from)?;
    let drives: Vec<Drive> = baselines.iter().map(|b| b.case.point.drive).collect();
    let mut judge = |arrangement, tolerances: &_, seed| {
        let entry = Entry { tolerances: *tolerances, arrangement };
        trial(scenario, entry, Settings { seed, ..settings }, stop)
    };
    bands_by(scenario, (settings, &drives), &mut judge, watcher)
}

/// Finds bands by whatever judge. `drives` are those of the operating points.
///
/// # Errors
///
/// Those of [`bands`].
pub fn bands_by(
    scenario: &Scenario,
    (settings, drives): (Settings, &[Drive]),
    judge: &mut Judge,
    watcher: &dyn Watcher,
) -> Result<Bands, BandsError> {
    let limits = &scenario.limits;
    let rule = Rule::new(limits.yield_target, limits.confidence)?;
    if scenario.tolerances.iter().next().is_none() {
        return Err(BandsError::NoTolerance);
    }
    let needed = rule.fewest_samples()?.unwrap_or(u64::MAX);
    if settings.samples < needed {
        let (samples, target) = (settings.samples, 100.0 * rule.target);
        return Err(BandsError::TooFewSamples { samples, target, needed });
    }
    let mut counted = |arrangement, bands: &_, seed| {
        let judged = judge(arrangement, bands, seed)?;
        watcher.tried();
        Ok(judged)
    };
    let trials = Trials::new(&mut counted, settings.seed, rule);
    let found = Bands {
        settings,
        rule,
        drives: drives.to_vec(),
        parts: Vec::new(),
        cheapest: None,
        map: None,
        trials: 0,
        unfinished: Vec::new(),
    };
    Study { scenario, trials, found }.carry_out(watcher)
}

struct Study<'a> {
    scenario: &'a Scenario,
    trials: Trials<'a>,
    found: Bands,
}

impl Study<'_> {
    fn steps(&self) -> Vec<Step> {
        let tolerances = &self.scenario.tolerances;
        let bands: Vec<_> = tolerances.iter().collect();
        let together = bands.iter().any(|(_, own)| own.band > 0.0).then_some(Subject::Together);
        let alone = bands.iter().map(|(p, _)| Subject::Alone(*p));
        let subjects: Vec<_> = together.into_iter().chain(alone).collect();
        let of = |a| {
            let widest = subjects.iter().map(move |subject| Step::Widest(a, *subject));
            std::iter::once(Step::Present(a)).chain(widest)
        };
        let prices = &self.scenario.bands.prices;
        let cheapest = prices.iter().next().map(|_| Step::Cheapest);
        let trade = (bands.len() > 1).then_some(Step::Trade);
        let chain = of(Arrangement::Chain).chain(cheapest).chain(trade);
        chain.chain(of(Arrangement::Paralleled)).collect()
    }

    fn carry_out(mut self, watcher: &dyn Watcher) -> Result<Bands, BandsError> {
        let steps = self.steps();
        for (n, step) in steps.iter().enumerate() {
            watcher.planned(steps[n..].iter().map(|step| self.weight(*step)).sum());
            match self.take(*step) {
                Err(RunError::Engine(EngineError::Interrupted(_))) if n > 0 => {
                    self.found.unfinished = steps[n..].to_vec();
                    break;
                }
                other => other?,
            }
        }
        self.found.trials = self.trials.asked();
        Ok(self.found)
    }

    /// Trials that a step takes, more or less.
    fn weight(&self, step: Step) -> u64 {
        match step {
            Step::Widest(a, _) if self.found.part(a).is_some_and(Part::is_hopeless) => 0,
            // Few paralleled converters meet anything: one trial says so.
            Step::Present(_) | Step::Widest(Arrangement::Paralleled, Subject::Alone(_)) => 1,
            Step::Widest(..) => PER_SEARCH,
            Step::Cheapest => PER_CHOICE,
            Step::Trade => u64::from(POINTS * POINTS) + 2 * PER_SEARCH,
        }
    }

    fn take(&mut self, step: Step) -> Result<(), RunError> {
        let tolerances = self.scenario.tolerances;
        match step {
            Step::Present(arrangement) => {
                self.trials.arrangement = arrangement;
                self.present()?;
            }
            Step::Widest(_, subject) => {
                if self.found.parts.last().is_some_and(Part::is_hopeless) {
                    return Ok(());
                }
                let row = self.widest(subject)?;
                if let Some(part) = self.found.parts.last_mut() {
                    part.rows.push(row);
                }
            }
            Step::Cheapest => {
                let priced = self.priced();
                self.found.cheapest =
                    Some(cheapest(&tolerances, &priced, CHEAPEST, &mut self.trials)?);
            }
            Step::Trade => {
                if let Some(pair) = self.scenario.bands.trade.or_else(|| self.largest_effects()) {
                    let widest = self.scenario.bands.widest;
                    self.found.map = Some(map(&tolerances, pair, widest, &mut self.trials)?);
                }
            }
        }
        Ok(())
    }

    fn present(&mut self) -> Result<(), RunError> {
        let judged = self.trials.on_search_seed(&self.scenario.tolerances)?;
        let rule = self.trials.rule;
        let present = Yield::new(judged.good, judged.samples, rule.plain)?;
        let verdict = present.verdict(rule.target);
        let (arrangement, binding) = (self.trials.arrangement, judged.binding);
        self.found.parts.push(Part { arrangement, present, verdict, binding, rows: Vec::new() });
        Ok(())
    }

    fn widest(&mut self, subject: Subject) -> Result<Row, RunError> {
        let (tolerances, widest) = (self.scenario.tolerances, self.scenario.bands.widest);
        let (present, top) = match subject {
            Subject::Together => {
                let most = tolerances.iter().map(|(_, own)| own.band).fold(0.0, f64::max);
                (1.0, (widest / most).max(1.0))
            }
            Subject::Alone(parameter) => {
                let band = tolerances.get(parameter).map_or(0.0, |own| own.band);
                (band, widest.max(band))
            }
        };
        let bands = |at: f64| match subject {
            Subject::Together => tolerances.scaled(at),
            Subject::Alone(parameter) => tolerances.with_band(parameter, at),
        };
        let line = Line { bands: &bands, present, top };
        let edge = search(&line, &mut self.trials)?;
        let looks = match edge.widest().map(|p| p.at) {
            Some(found) => prove(&line, found, self.question(subject), &mut self.trials)?,
            None => Vec::new(),
        };
        Ok(Row { subject, present, edge, looks })
    }

    /// The number of a question, unlike that of all others, whatever else the scenario holds.
    fn question(&self, subject: Subject) -> u64 {
        let own = match subject {
            Subject::Together => TOGETHER,
            Subject::Alone(parameter) => parameter.index() as u64,
        };
        own + if self.trials.arrangement == Arrangement::Chain { 0 } else { QUESTIONS }
    }

    fn priced(&self) -> Vec<Priced> {
        let phases = self.scenario.phases;
        let legs = self.found.drives.iter().map(|drive| drive.legs()).max().unwrap_or(1);
        let each = self.scenario.bands.prices.iter().map(|(parameter, offers)| {
            let flying = parameter == Parameter::FlyingCapacitance;
            let count = if flying { legs * (phases - 1) } else { phases };
            Priced { parameter, count, offers: offers.to_vec() }
        });
        each.collect()
    }

    /// The two parameters whose bands cost the chain most yield: those that gain most when they
    /// are exact, and of equal ones those with the least margin.
    fn largest_effects(&self) -> Option<[Parameter; 2]> {
        let rows = &self.found.part(Arrangement::Chain)?.rows;
        let mut alone: Vec<_> = rows
            .iter()
            .filter_map(|row| {
                let Subject::Alone(parameter) = row.subject else { return None };
                let exact = row.edge.points.first()?.judged.good;
                Some((exact, row.margin().unwrap_or(f64::INFINITY), parameter))
            })
            .collect();
        alone.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.total_cmp(&b.1)));
        Some([alone.first()?.2, alone.get(1)?.2])
    }
}
