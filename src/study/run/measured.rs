//! What files of measured parts leave open in the yields of a run: they hold a few parts of many.

use crate::converter::{Age, Arrangement};
use crate::engine::Batch;
use crate::population::Population;
use crate::solver::Case;
use crate::statistics::{Estimator, FileEffect, StateError, TallyState, Verdict, Yield};
use crate::study::common::measured_influence::MeasuredInfluence;
use crate::study::common::session::Session;
use crate::study::common::tally::Tally;

/// The yield of the measured parts alone: what the verdict would rest on, were there no other parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasuredPartsYield {
    /// Its interval tells what the number of samples leaves open.
    pub good: Yield,
    /// Its verdict against the target.
    pub verdict: Verdict,
    /// What a verdict on all such parts takes; none where there is one, and while this is not decided.
    pub lack: Option<Lack>,
}

/// What a verdict on the whole production takes, if all else stays as seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lack {
    /// So many measured parts in each file; none where a million would not do.
    Parts(Option<u64>),
    /// So many samples in all; none where a thousand million would not do.
    Samples(Option<u64>),
}

impl Lack {
    /// What an open verdict on the production takes, where that on the parts of the files is this.
    pub(super) fn new(
        sampled: &Yield,
        files: &[FileEffect],
        estimator: &Estimator,
        target: f64,
    ) -> Self {
        if !sampled.samples_may_decide(files, target) {
            return Self::Parts(sampled.parts_to_decide(files, target, estimator));
        }
        Self::Samples(sampled.samples_to_decide_population(files, target, estimator))
    }
}

/// A yield of a run, one of many.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum YieldOf {
    /// That of the case in this place.
    Case(usize, Arrangement),
    /// That over all operating points.
    Joint(Arrangement),
    /// That over all operating points at one age.
    AtAge(Age, Arrangement),
}

impl YieldOf {
    /// The yield that ends a run until decided.
    pub(super) const OF_CHAIN: Self = Self::Joint(Arrangement::Chain);

    /// All yields of cases in these arrangements and at these ages, in the order of their tallies.
    fn all(cases: &[Case]) -> Vec<Self> {
        let of_cases = cases.iter().enumerate().map(|(n, case)| Self::Case(n, case.arrangement));
        let joint = Arrangement::ALL.map(Self::Joint);
        let ages =
            Arrangement::ALL.into_iter().flat_map(|a| Age::ALL.map(|age| Self::AtAge(age, a)));
        of_cases.chain(joint).chain(ages).collect()
    }

    const fn arrangement(self) -> Arrangement {
        match self {
            Self::Case(_, arrangement) | Self::Joint(arrangement) | Self::AtAge(_, arrangement) => {
                arrangement
            }
        }
    }

    /// Whether a case counts for it.
    fn holds(self, place: usize, case: &Case) -> bool {
        let is_at = match self {
            Self::Case(own, _) => own == place,
            Self::Joint(_) => true,
            Self::AtAge(age, _) => case.point.condition.age == age,
        };
        is_at && case.arrangement == self.arrangement()
    }
}

/// How the yields of a run depend on each measured part.
#[derive(Clone)]
pub(super) struct MeasuredTallies {
    yields: Vec<YieldOf>,
    /// The cases that count for each of the yields.
    held: Vec<Vec<usize>>,
    influence: MeasuredInfluence,
}

impl MeasuredTallies {
    /// No samples yet.
    pub(super) fn new(session: &Session, population: &Population) -> Self {
        let cases: Vec<Case> = session.baselines().iter().map(|own| own.case.clone()).collect();
        let yields = YieldOf::all(&cases);
        let held = yields.iter().map(|own| {
            (0..cases.len()).filter(|place| own.holds(*place, &cases[*place])).collect()
        });
        let influence = MeasuredInfluence::new(session, population, yields.len());
        Self { held: held.collect(), influence, yields }
    }

    /// Takes a batch that was counted in a tally.
    pub(super) fn take(&mut self, batch: &Batch, tally: &Tally) {
        if self.influence.is_empty() {
            return;
        }
        for n in 0..batch.len() {
            let meets = |case: &usize| tally.cases[*case].count.meets(batch.row(n, *case));
            let passes: Vec<bool> = self.held.iter().map(|cases| cases.iter().all(meets)).collect();
            self.influence.add(batch.first + n as u64, &passes);
        }
    }

    /// Writes what is kept, or joins that of later samples.
    ///
    /// # Errors
    ///
    /// When what is read does not belong to these samples.
    pub(super) fn exchange(&mut self, state: &mut TallyState<'_>) -> Result<(), StateError> {
        self.influence.exchange(state)
    }

    /// What each file does to a yield; no entry for files whose parts the arrangement does not have.
    pub(super) fn effects(&self, of: YieldOf) -> Vec<FileEffect> {
        let place = self.yields.iter().position(|own| *own == of);
        place.map_or_else(Vec::new, |place| self.influence.effects(place, of.arrangement()))
    }
}
