//! The answer: what was found, question by question.

use super::cheapest::Cheapest;
use super::edge::{Edge, Point};
use super::looks::{Look, proven};
use super::map::Map;
use super::trials::Rule;
use crate::converter::{Arrangement, Drive, Parameter};
use crate::statistics::{Verdict, Yield};
use crate::study::run::Settings;
use crate::study::trial::Binding;

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
