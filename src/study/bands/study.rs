//! All questions about bands, in order: present bands, every band alone, all together, prices,
//! trade.

use std::sync::atomic::AtomicBool;

use super::answer::{ArrangementBands, Bands, BandsStep, Subject, WidestBand, scaled};
use super::cheapest::{Catalogue, Offered, Priced, cheapest};
use super::critical_question::CriticalQuestion;
use super::line_search::{BandLine, search};
use super::map::{ExcludedPair, trade_map};
use super::other_assumptions::other_assumptions;
use super::rule::{GRID_POINTS, Rule, VERIFICATION_FACTOR};
use super::sampled_yield::SampledYield;
use super::step_search::{StepQuestion, WidestAlone, orderable_set};
use super::trials::{Trials, YieldEvaluator};
use super::verification::{Verification, verify};
use crate::converter::{Arrangement, ConverterSize, Drive, Parameter, driven_legs};
use crate::engine::EngineError;
use crate::scenario::{Grade, Scenario, Tolerance};
use crate::statistics::{StatisticsError, Verdict};
use crate::study::common::demand::Demand;
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::study::common::settings::Settings;
use crate::study::common::soft_switching::SharingShift;

/// Trials that a search takes, more or less: for the time left alone.
const PER_SEARCH: u64 = 16;
/// The same of a search for the cheapest set, or for one that can be ordered.
const PER_CHOICE: u64 = 30;
/// Numbers that tell the questions of an arrangement apart: first those of the parameters.
const PARAMETERS: u64 = Parameter::ALL.len() as u64;
const TOGETHER: u64 = PARAMETERS;
const CHEAPEST: u64 = PARAMETERS + 1;
const TRADE: u64 = PARAMETERS + 2;
const PRESENT: u64 = PARAMETERS + 3;
const CRITICAL: u64 = PARAMETERS + 4;
const ORDERABLE: u64 = PARAMETERS + 5;
const ASSUMPTIONS: u64 = PARAMETERS + 6;
const QUESTIONS: u64 = PARAMETERS + 7;

/// Why no bands were found.
#[derive(Debug, thiserror::Error)]
pub enum BandsError {
    /// There is nothing to search.
    #[error("the scenario has no tolerance: give at least one part a table [tolerance.…]")]
    NoTolerance,
    /// There are only measured parts, and nothing on offer.
    #[error(
        "all parts with a tolerance are measured, and measured parts have no band to search: describe \
         one by a shape and a band"
    )]
    AllMeasured,
    /// No trial could meet the target, whatever the bands.
    #[error(
        "{samples} samples cannot show a yield of {target} % of each column of the map, even if all pass: at \
         least {needed} are needed"
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
    Run(#[from] StudyError),
}

impl From<StatisticsError> for BandsError {
    fn from(e: StatisticsError) -> Self {
        Self::Run(e.into())
    }
}

/// Finds bands. When `stop` is set, what was found by then is given, if that is anything.
///
/// # Errors
///
/// When there is nothing to search, when the nominal converter does not work, when `stop` is set
/// before the present bands are tried.
pub fn bands(
    scenario: &Scenario,
    settings: Settings,
    stop: &AtomicBool,
    progress: &mut dyn Progress,
) -> Result<Bands, BandsError> {
    searchable(scenario, settings)?;
    let session = Session::new(scenario, settings, stop)?.for_many_samples();
    let drives: Vec<Drive> = session.baselines().iter().map(|b| b.case.point.drive).collect();
    let mut evaluator = SampledYield { session: &session };
    let found = bands_by(scenario, settings, &drives, &mut evaluator, progress)?;
    Ok(Bands { sharing_shift: SharingShift::largest(&session), ..found })
}

/// Whether parts have prices, by lists or by grades.
fn has_prices(scenario: &Scenario) -> bool {
    scenario.grades.is_some() || scenario.bands.prices.iter().next().is_some()
}

/// The rule by which bands meet the target, if there is anything to search and the samples suffice.
fn searchable(scenario: &Scenario, settings: Settings) -> Result<Rule, BandsError> {
    let limits = &scenario.limits;
    let rule = Rule::new(limits.yield_target, limits.confidence)?;
    if scenario.tolerances.iter().next().is_none() {
        return Err(BandsError::NoTolerance);
    }
    if !has_prices(scenario) && scenario.tolerances.iter().all(|(_, own)| own.is_measured()) {
        return Err(BandsError::AllMeasured);
    }
    let needed = rule.fewest_samples()?.unwrap_or(u64::MAX);
    if settings.samples < needed {
        let (samples, target) = (settings.samples, 100.0 * rule.target);
        return Err(BandsError::TooFewSamples { samples, target, needed });
    }
    Ok(rule)
}

/// Finds bands by any yield evaluator. `drives` are those of the operating points.
///
/// # Errors
///
/// Those of [`bands`].
pub fn bands_by(
    scenario: &Scenario,
    settings: Settings,
    drives: &[Drive],
    evaluator: &mut dyn YieldEvaluator,
    progress: &mut dyn Progress,
) -> Result<Bands, BandsError> {
    let rule = searchable(scenario, settings)?;
    progress.stage("trials of bands", 1);
    let trials = Trials::new(evaluator, settings.draws(), rule, progress);
    let graded = scenario.grades.iter().flat_map(|grades| &grades.offers);
    let on_offer = graded.clone().any(|o| scenario.tolerances.get(o.parameter).is_none());
    let found = Bands {
        settings,
        rule,
        drives: drives.to_vec(),
        sharing_shift: None,
        present: scenario.tolerances.clone(),
        on_offer,
        judged: Arrangement::ALL
            .into_iter()
            .filter(|own| Demand::is_any_set(&scenario.limits, *own))
            .collect(),
        priced: has_prices(scenario),
        widest: scenario.bands.widest,
        parts: Vec::new(),
        cheapest: None,
        orderable: None,
        map: None,
        excluded_pair: None,
        other_assumptions: None,
        is_explained: scenario.run.explain,
        trials: 0,
        verifications: 0,
        unfinished: Vec::new(),
    };
    Study { scenario, trials, found }.carry_out()
}

struct Study<'a> {
    scenario: &'a Scenario,
    trials: Trials<'a>,
    found: Bands,
}

impl Study<'_> {
    /// The questions that the bands at hand allow, those of the chain first. Nobody can order measured
    /// parts with another band: none is asked for.
    fn steps(&self) -> Vec<BandsStep> {
        let bands: Vec<_> =
            self.found.present.iter().filter(|(_, own)| !own.is_measured()).collect();
        let together = bands.iter().any(|(_, own)| own.band > 0.0).then_some(Subject::Together);
        let alone = bands.iter().map(|(p, _)| Subject::Alone(*p));
        let subjects: Vec<_> = together.into_iter().chain(alone).collect();
        let in_arrangement = |a| {
            let widest = subjects.iter().map(move |subject| BandsStep::Widest(a, *subject));
            std::iter::once(BandsStep::Present(a)).chain(widest).chain([BandsStep::Critical(a)])
        };
        let cheapest = (self.found.priced && !self.found.on_offer).then_some(BandsStep::Cheapest);
        let orderable = (!self.found.priced).then_some(BandsStep::Orderable);
        let trade = (bands.len() > 1).then_some(BandsStep::Trade);
        let assumptions = self.found.is_explained.then_some(BandsStep::Assumptions);
        let further = cheapest.into_iter().chain(orderable).chain(trade).chain(assumptions);
        let chain = in_arrangement(Arrangement::Chain).chain(further);
        chain.chain(in_arrangement(Arrangement::Paralleled)).collect()
    }

    /// Where parts on offer have no tolerance of their own, the set on offer comes first, and all
    /// else starts from it.
    fn carry_out(mut self) -> Result<Bands, BandsError> {
        if self.found.on_offer {
            let rest = self.steps().iter().map(|step| self.weight(*step)).sum::<u64>();
            self.trials.expect(rest + self.weight(BandsStep::Cheapest));
            self.take(BandsStep::Cheapest)?;
        }
        if !self.found.on_offer || self.start_from_offer() {
            self.go_through()?;
        }
        (self.found.trials, self.found.verifications) =
            (self.trials.asked(), self.trials.verifications());
        Ok(self.found)
    }

    /// Takes the set on offer for the present one, if one was confirmed.
    fn start_from_offer(&mut self) -> bool {
        let found = self.found.cheapest.as_ref().filter(|found| found.confirmed().is_some());
        let choice = found.and_then(|found| found.choice.as_ref());
        if let Some(choice) = choice {
            self.found.present = choice.tolerances.clone();
        }
        choice.is_some()
    }

    fn go_through(&mut self) -> Result<(), BandsError> {
        let steps = self.steps();
        for (n, step) in steps.iter().enumerate() {
            self.trials.expect(steps[n..].iter().map(|step| self.weight(*step)).sum());
            match self.take(*step) {
                Err(StudyError::Engine(EngineError::Interrupted(_)))
                    if n > 0 || self.found.on_offer =>
                {
                    self.found.unfinished = steps[n..].to_vec();
                    break;
                }
                other => other?,
            }
        }
        for part in &mut self.found.parts {
            let is_missing = |step: &BandsStep| matches!(step, BandsStep::Widest(a, _) | BandsStep::Critical(a) if *a == part.arrangement);
            part.complete = !self.found.unfinished.iter().any(is_missing);
        }
        Ok(())
    }

    /// Trials that a step takes, more or less, verification runs counted by their samples.
    fn weight(&self, step: BandsStep) -> u64 {
        match step {
            BandsStep::Widest(a, _)
                if self.found.part(a).is_some_and(ArrangementBands::is_hopeless) =>
            {
                0
            }
            BandsStep::Present(_) | BandsStep::Assumptions => VERIFICATION_FACTOR,
            // Few paralleled converters meet anything: one trial says so.
            BandsStep::Widest(Arrangement::Paralleled, Subject::Alone(_)) => 1,
            BandsStep::Widest(..) => PER_SEARCH + VERIFICATION_FACTOR,
            BandsStep::Cheapest | BandsStep::Orderable => PER_CHOICE + VERIFICATION_FACTOR,
            // Few paralleled converters leave anything to compare.
            BandsStep::Critical(Arrangement::Paralleled) => 0,
            BandsStep::Critical(Arrangement::Chain) => {
                VERIFICATION_FACTOR * self.found.present.iter().count() as u64
            }
            BandsStep::Trade => u64::from(GRID_POINTS * GRID_POINTS) + 2 * PER_SEARCH,
        }
    }

    fn take(&mut self, step: BandsStep) -> Result<(), StudyError> {
        match step {
            BandsStep::Present(arrangement) => {
                self.trials.arrangement = arrangement;
                self.present()?;
            }
            BandsStep::Widest(_, subject) => {
                if self.found.parts.last().is_some_and(ArrangementBands::is_hopeless) {
                    return Ok(());
                }
                let row = self.widest(subject)?;
                if let Some(part) = self.found.parts.last_mut() {
                    part.rows.push(row);
                }
            }
            BandsStep::Cheapest => {
                let (others, catalogue) = (&self.scenario.tolerances, self.catalogue());
                self.found.cheapest =
                    Some(cheapest(others, catalogue, CHEAPEST, &mut self.trials)?);
            }
            BandsStep::Orderable => self.order()?,
            BandsStep::Critical(_) => self.compare()?,
            BandsStep::Trade => self.trade()?,
            BandsStep::Assumptions => self.assume()?,
        }
        Ok(())
    }

    /// A set of bands that can be ordered.
    fn order(&mut self) -> Result<(), StudyError> {
        let Some(chain) = self.found.part(Arrangement::Chain) else { return Ok(()) };
        let together = chain.row(Subject::Together);
        let widest = |row: &WidestBand| row.search.widest().map_or(0.0, |point| point.at);
        let alone = |row: &WidestBand| match row.subject {
            Subject::Together => None,
            Subject::Alone(parameter) => {
                Some(WidestAlone { parameter, band: row.is_stopped().then(|| widest(row)) })
            }
        };
        let alone: Vec<WidestAlone> = chain.rows.iter().filter_map(alone).collect();
        let question = StepQuestion {
            present: &self.found.present,
            present_passes: chain.verdict == Verdict::Pass,
            steps: &self.scenario.bands.steps,
            widest: self.found.widest,
            factor: together.and_then(|row| row.search.widest()).map(|point| point.at),
            alone: &alone,
            number: ORDERABLE,
        };
        self.found.orderable = Some(orderable_set(&question, &mut self.trials)?);
        Ok(())
    }

    /// The trade of two bands, unless no pair of them meets the target.
    fn trade(&mut self) -> Result<(), StudyError> {
        let (present, widest) = (self.found.present.clone(), self.found.widest);
        let is_measured = |p: &Parameter| present.get(*p).is_some_and(Tolerance::is_measured);
        let asked = self.scenario.bands.trade.filter(|pair| !pair.iter().any(is_measured));
        let Some(pair) = asked.or_else(|| self.largest_effects()) else { return Ok(()) };
        self.found.excluded_pair = ExcludedPair::find(&present, pair, &mut self.trials)?;
        if self.found.excluded_pair.is_none() {
            let source = self.trials.fresh(TRADE, 0);
            let map = trade_map(&present, pair, widest, source, &mut self.trials)?;
            self.found.map = Some(map);
        }
        Ok(())
    }

    /// The recommended set under other assumptions.
    fn assume(&mut self) -> Result<(), StudyError> {
        if let Some(recommended) = self.found.recommended() {
            let source = self.trials.fresh(ASSUMPTIONS, 0);
            self.found.other_assumptions =
                other_assumptions(&recommended, source, &mut self.trials)?;
        }
        Ok(())
    }

    /// The present bands on fresh samples. A set on offer had its verification when it was chosen.
    fn present(&mut self) -> Result<(), StudyError> {
        let arrangement = self.trials.arrangement;
        let chosen = self.found.cheapest.as_ref().and_then(|found| found.confirmed()).cloned();
        let known = chosen.filter(|_| self.found.on_offer && arrangement == Arrangement::Chain);
        let source = self.trials.fresh(self.numbered(PRESENT), 0);
        let present = match known {
            Some(verification) => Verification { at: 1.0, ..verification },
            None => Verification::run(1.0, &self.found.present, source, &mut self.trials)?,
        };
        let verdict: Verdict = present.good.verdict(self.trials.rule.target);
        let limits = &self.scenario.limits;
        self.found.parts.push(ArrangementBands {
            arrangement,
            present,
            verdict,
            is_judged: Demand::is_any_set(limits, arrangement),
            rows: Vec::new(),
            complete: true,
            comparison: None,
        });
        Ok(())
    }

    /// Which band is the most critical one, on fresh samples.
    fn compare(&mut self) -> Result<(), StudyError> {
        let source = self.trials.fresh(self.numbered(CRITICAL), 0);
        let (present, widest) = (self.found.present.clone(), self.found.widest);
        let Some(part) = self.found.parts.last_mut() else { return Ok(()) };
        if let Some(question) = CriticalQuestion::new(part, &present, widest) {
            part.comparison = question.answer(source, &mut self.trials)?;
        }
        Ok(())
    }

    fn widest(&mut self, subject: Subject) -> Result<WidestBand, StudyError> {
        let (tolerances, widest) = (self.found.present.clone(), self.found.widest);
        let (present, top) = match subject {
            Subject::Together => {
                // Where the last band reaches what is asked for; each by itself is clipped there.
                let bands = tolerances.iter().map(|(_, own)| own);
                let bands = bands.filter(|own| own.band > 0.0 && !own.is_measured());
                let most = bands.map(|own| own.widest_band(widest) / own.band);
                (1.0, most.fold(1.0, f64::max))
            }
            Subject::Alone(parameter) => {
                let own = tolerances.get(parameter);
                own.map_or((0.0, widest), |own| (own.band, own.widest_band(widest)))
            }
        };
        let bands = |at: f64| match subject {
            Subject::Together => scaled(&tolerances, widest, at),
            Subject::Alone(parameter) => tolerances.with_band(parameter, at),
        };
        let line = BandLine { bands: &bands, present, top };
        let search = search(&line, &mut self.trials)?;
        let verifications = match search.widest().map(|p| p.at) {
            Some(found) => verify(&line, found, self.question(subject), &mut self.trials)?,
            None => Vec::new(),
        };
        let exact = self.trials.on_search_samples(&bands(0.0))?;
        let exact = self.trials.rule.interval(&exact)?;
        let misses = exact.verdict(self.trials.rule.target) == Verdict::Fail;
        Ok(WidestBand { subject, present, search, exact, misses, verifications })
    }

    /// The number of a question, unlike that of all others, whatever else the scenario holds.
    fn question(&self, subject: Subject) -> u64 {
        self.numbered(match subject {
            Subject::Together => TOGETHER,
            Subject::Alone(parameter) => parameter.index() as u64,
        })
    }

    /// The number that a question has for the arrangement under trial.
    fn numbered(&self, question: u64) -> u64 {
        question + if self.trials.arrangement == Arrangement::Chain { 0 } else { QUESTIONS }
    }

    /// The sets of grades, with every choice from the price lists.
    fn catalogue(&self) -> Catalogue {
        let graded = match &self.scenario.grades {
            None => Catalogue::of_all(Vec::new()),
            Some(grades) => {
                let grade = |grade: &Grade| Offered {
                    name: Some(grade.name.clone()),
                    // Matched parts of a wide band may do better than others of a narrower one, which
                    // the search does not expect.
                    tolerance: Tolerance { matching: None, ..grade.tolerance.clone() },
                    price: grade.price_with_matching(),
                };
                let offers = grades.offers.iter();
                let priced = offers.map(|o| self.priced(o.parameter, o.grades.iter().map(grade)));
                Catalogue { priced: priced.collect(), sets: grades.sets.clone() }
            }
        };
        let lists = self.scenario.bands.prices.iter().filter_map(|(parameter, offers)| {
            let tolerance = self.scenario.tolerances.get(parameter)?;
            let offers = offers.iter().map(|offer| Offered {
                name: None,
                tolerance: tolerance.with_band(offer.band),
                price: offer.price,
            });
            Some(self.priced(parameter, offers))
        });
        graded.and(lists.collect())
    }

    fn priced(&self, parameter: Parameter, offers: impl Iterator<Item = Offered>) -> Priced {
        let legs = driven_legs(self.found.drives.iter().copied());
        let size = ConverterSize { phases: self.scenario.phases, legs };
        let count = parameter.parts(size, Arrangement::Chain);
        Priced { parameter, count, offers: offers.collect() }
    }

    /// The two parameters whose bands cost the chain most yield: those that gain most when they are
    /// exact, and of equal ones those with the least room. What nothing stops comes last.
    fn largest_effects(&self) -> Option<[Parameter; 2]> {
        let rows = self.found.part(Arrangement::Chain)?.rows.iter();
        let mut alone: Vec<_> = rows
            .filter_map(|row| match row.subject {
                Subject::Together => None,
                Subject::Alone(parameter) => Some((row, parameter)),
            })
            .collect();
        alone.sort_by(|(a, _), (b, _)| {
            let by_gain = b.exact.successes.cmp(&a.exact.successes);
            let stopped = b.is_stopped().cmp(&a.is_stopped());
            stopped.then(by_gain).then_with(|| a.room().total_cmp(&b.room()))
        });
        Some([alone.first()?.1, alone.get(1)?.1])
    }
}
