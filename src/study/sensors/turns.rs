//! The searches for what would turn the case over, and what fresh samples say of their ends.

use std::sync::atomic::AtomicBool;

use serde::Serialize;

use super::factor::{
    EVALUATIONS, Finding, Reach, Span, blurred, borders, greatest_factor, survey, widened,
};
use super::sampling::{Sampled, Sampling};
use super::variant::Variant;
use crate::scenario::{Scenario, SensorRequest};
use crate::statistics::{Confidence, Difference, Verdict, Yield};
use crate::study::progress::Progress;
use crate::study::run::{RunError, Settings};

/// Samples of a search that compares two variants, at most: loops take their time. Fresh samples
/// are as many as the study has.
const COMPARED: u64 = 5000;

/// Least factor at which two variants are compared: where both are good for the most part, fewer
/// samples differ the narrower the bands.
const LEAST: f64 = 0.5;

/// What is asked at every factor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Question {
    /// On all bands of the parts: does the chain alone meet the target?
    Target,
    /// On all bands of the parts: has the chain a higher yield than the paralleled converter with
    /// sensors?
    Bands,
    /// On all errors of the sensors: the same.
    SensorErrors,
}

impl Question {
    /// In the order of the searches.
    pub const ALL: [Self; 3] = [Self::Target, Self::Bands, Self::SensorErrors];

    fn stage(self) -> &'static str {
        match self {
            Self::Target => "bands at the target",
            Self::Bands => "bands at the turn",
            Self::SensorErrors => "sensor errors at the turn",
        }
    }

    /// The variants that take part.
    fn variants(self) -> &'static [Variant] {
        match self {
            Self::Target => &[Variant::Chain],
            _ => &[Variant::Chain, Variant::ParalleledWithSensors],
        }
    }
}

/// An answered question.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Turn {
    /// The question.
    pub question: Question,
    /// What was found, by rising factors.
    pub spans: Vec<Span>,
    /// Samples at every factor of the search.
    pub samples: u64,
    /// The ends of sure spans on samples that the search did not see.
    pub fresh: Vec<Fresh>,
}

/// What samples that the search did not see say of a factor.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fresh {
    /// The factor.
    pub factor: f64,
    /// What the search found.
    pub search: Finding,
    /// What the fresh samples say.
    pub finding: Finding,
    /// Yields of the variants that take part.
    pub yields: Vec<(Variant, Yield)>,
    /// Yield of the chain less that of the paralleled converter with sensors, paired.
    pub difference: Option<Difference>,
}

/// Why a search ended early.
pub(super) enum Stopped {
    /// By the user.
    Interrupted,
    Failed(RunError),
}

impl<E: Into<RunError>> From<E> for Stopped {
    fn from(e: E) -> Self {
        Self::Failed(e.into())
    }
}

/// What the searches are made with.
#[derive(Clone, Copy)]
pub(super) struct Searcher<'a> {
    pub scenario: &'a Scenario,
    pub request: &'a SensorRequest,
    pub settings: Settings,
    pub fresh_seed: u64,
    pub stop: &'a AtomicBool,
}

impl Searcher<'_> {
    /// Answers a question; `verdict` is that on the chain at the bands as they are.
    pub(super) fn answer(
        &self,
        question: Question,
        verdict: Verdict,
        progress: &mut dyn Progress,
    ) -> Result<Turn, Stopped> {
        let samples = match question {
            Question::Target => self.settings.samples,
            _ => self.settings.samples.min(COMPARED),
        };
        let most = EVALUATIONS * samples + 2 * self.settings.samples;
        progress.stage(question.stage(), most);
        let settings = Settings { samples, ..self.settings };
        let spans = survey(self.reach(question, verdict), |factor| {
            Ok::<_, Stopped>(self.look(question, factor, settings, progress)?.finding)
        })?;
        let settings = Settings { seed: self.fresh_seed, ..self.settings };
        let again = |(factor, search)| {
            let look = self.look(question, factor, settings, progress)?;
            Ok(Fresh { search, ..look })
        };
        let fresh = borders(&spans).into_iter().map(again).collect::<Result<_, Stopped>>()?;
        Ok(Turn { question, spans, samples, fresh })
    }

    /// Narrower bands cannot cost a sure pass, nor wider ones a sure miss.
    fn reach(&self, question: Question, verdict: Verdict) -> Reach {
        let errors = [self.request.gain_error, self.request.drift];
        let bands = greatest_factor(self.scenario.tolerances.iter().map(|(_, t)| t.band));
        match question {
            Question::Target => Reach {
                least: if verdict == Verdict::Pass { 1.0 } else { 0.0 },
                greatest: if verdict == Verdict::Fail { 1.0 } else { bands },
            },
            Question::Bands => Reach { least: LEAST, greatest: bands },
            Question::SensorErrors => Reach {
                least: LEAST,
                greatest: greatest_factor(errors.iter().flatten().map(|t| t.band)),
            },
        }
    }

    /// What samples say at a factor.
    fn look(
        &self,
        question: Question,
        factor: f64,
        settings: Settings,
        progress: &mut dyn Progress,
    ) -> Result<Fresh, Stopped> {
        let confidence = Confidence::new(self.scenario.limits.confidence)?;
        let sampled = self.sampled(question, factor, settings, progress)?;
        let of = |v: &Variant| {
            let good = sampled.pairs.good(v.index());
            Ok::<_, Stopped>((*v, Yield::new(good, sampled.samples, confidence)?))
        };
        let yields = question.variants().iter().map(of).collect::<Result<Vec<_>, _>>()?;
        let rivals = [Variant::Chain, Variant::ParalleledWithSensors].map(Variant::index);
        let difference = match question {
            Question::Target => None,
            _ => Some(sampled.pairs.counts(rivals[0], rivals[1]).difference(confidence)?),
        };
        let target = self.scenario.limits.yield_target;
        let finding = difference.map_or_else(|| met(yields[0].1, target), |d| higher(&d));
        Ok(Fresh { factor, search: finding, finding, yields, difference })
    }

    fn sampled(
        &self,
        question: Question,
        factor: f64,
        settings: Settings,
        progress: &mut dyn Progress,
    ) -> Result<Sampled, Stopped> {
        let (bands, errors) = match question {
            Question::SensorErrors => (1.0, factor),
            _ => (factor, 1.0),
        };
        let (scenario, request) = (&widened(self.scenario, bands), &blurred(self.request, errors));
        let sampling = Sampling::new(scenario, request, settings, question.variants())?;
        let sampled = sampling.run(self.stop, |n| progress.advance(n))?;
        if sampled.interrupted { Err(Stopped::Interrupted) } else { Ok(sampled) }
    }
}

fn met(good: Yield, target: f64) -> Finding {
    match good.verdict(target) {
        Verdict::Pass => Finding::Yes,
        Verdict::NotDecided => Finding::Open,
        Verdict::Fail => Finding::No,
    }
}

/// Whether the first of two yields is the higher one.
fn higher(difference: &Difference) -> Finding {
    if difference.is_open() {
        Finding::Open
    } else if difference.lower > 0.0 {
        Finding::Yes
    } else {
        Finding::No
    }
}
