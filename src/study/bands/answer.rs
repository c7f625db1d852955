//! The answer: what was found, question by question.

use super::cheapest::Cheapest;
use super::edge::{Edge, Point};
use super::looks::{Look, proven};
use super::map::Map;
use super::trials::Rule;
use crate::converter::{Arrangement, Drive, Parameter};
use crate::scenario::Tolerances;
use crate::statistics::{Verdict, Yield};
use crate::study::demand::Binding;
use crate::study::run::Settings;

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

    /// Samples that pass where this part is exact, or all parts are.
    pub fn passing_if_exact(&self) -> u64 {
        self.edge.points.first().map_or(0, |point| point.judged.good)
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

    /// Where present bands pass, the part with the least room, if anything stops any of them; else
    /// the one that gains most yield when it is exact. None where no band was varied alone.
    pub fn critical(&self) -> Option<&Row> {
        let alone = self
            .rows
            .iter()
            .filter(|row| matches!(row.subject, Subject::Alone(_)) && row.present > 0.0);
        let room = |row: &Row| row.margin().unwrap_or(0.0);
        if self.verdict == Verdict::Pass {
            let stopped = alone.filter(|row| row.edge.failing().is_some());
            stopped.min_by(|a, b| room(a).total_cmp(&room(b)))
        } else {
            let gain = |row: &Row| row.passing_if_exact();
            alone.max_by(|a, b| gain(a).cmp(&gain(b)).then(room(a).total_cmp(&room(b))))
        }
    }

    /// Whether no common factor helps: with all parts exact the target is missed still.
    pub fn is_hopeless(&self) -> bool {
        self.row(Subject::Together).is_some_and(|row| row.edge.widest().is_none())
    }
}

/// Where a whole set of bands comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Source {
    /// The cheapest that can be bought.
    Cheapest,
    /// The present bands, all times this factor.
    Factor(f64),
}

/// A whole set of bands that fresh samples confirm.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal<'a> {
    /// Where it comes from.
    pub source: Source,
    /// The bands.
    pub tolerances: Tolerances,
    /// The run that confirms them.
    pub look: &'a Look,
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
    /// The scenario's bands.
    pub present: Tolerances,
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

    /// Whole sets of bands for the chain that fresh samples confirm, the proposed one first: the
    /// cheapest on offer, then the common factor. A factor is none that would shrink bands which
    /// pass as they are, or that leaves a part exact which has to be bought.
    pub fn proposals(&self) -> Vec<Proposal<'_>> {
        let cheapest = self.cheapest.as_ref().and_then(|found| {
            let (look, choice) = (found.proven()?, found.choice.as_ref()?);
            Some(Proposal { source: Source::Cheapest, tolerances: choice.tolerances, look })
        });
        let factor = self.part(Arrangement::Chain).and_then(|part| {
            let look = part.row(Subject::Together)?.proven()?;
            let helps = look.at >= 1.0 || part.verdict != Verdict::Pass;
            let priced = self.cheapest.iter().flat_map(|found| &found.catalogue.priced);
            let real = priced.into_iter().all(|own| self.present.get(own.parameter).is_some());
            let (source, tolerances) = (Source::Factor(look.at), self.present.scaled(look.at));
            (helps && real).then_some(Proposal { source, tolerances, look })
        });
        cheapest.into_iter().chain(factor).collect()
    }

    /// Number of statements made, each of which may be wrong: present bands, every line put on
    /// fresh samples, the cheapest set, the map.
    pub fn statements(&self) -> usize {
        let lines = |part: &Part| part.rows.iter().filter(|row| !row.looks.is_empty()).count();
        let lines: usize = self.parts.iter().map(lines).sum();
        let cheapest = self.cheapest.as_ref().is_some_and(|found| !found.looks.is_empty());
        self.parts.len() + lines + usize::from(cheapest) + usize::from(self.map.is_some())
    }

    /// The permitted error of a statement: that of the lower end of a two-sided interval.
    pub fn error_each(&self) -> f64 {
        self.rule.plain.two_sided_tail()
    }

    /// The confidence with which all statements hold together (Bonferroni); 0 says nothing.
    pub fn confidence_together(&self) -> f64 {
        (1.0 - self.statements() as f64 * self.error_each()).max(0.0)
    }

    /// Whether the user stopped the search.
    pub fn is_partial(&self) -> bool {
        !self.unfinished.is_empty()
    }
}
