//! The dead times at which the target share of all converters switches softly.
//!
//! A dead time near the best of the first few samples is where the search begins. From there a sample
//! counts at a dead time if it is soft there and at all dead times between. So the counts only fall
//! towards either side, and the window ends where they no longer show the target.
//!
//! Both ends together are wrong with a probability of at most one less the confidence. A wrong end lies
//! beyond the last dead time whose true share reaches the target. As counts only fall, the next dead
//! time must then have shown it too. One interval does that with half of this probability.

use super::size::{CountRule, SearchSamples};
use crate::converter::{Arrangement, Converter, SwitchTiming};
use crate::engine::EngineError;
use crate::population::Population;
use crate::scenario::SwitchSettings;
use crate::solver::Case;
use crate::solver::commutation::TurnOn;
use crate::statistics::{StatisticsError, Yield};
use crate::study::common::commutation::SolvedCase;
use crate::study::common::error::StudyError;
use crate::study::explanation::explained::Explained;
use crate::units::{Hertz, Second};

/// Dead times that are tried.
const TRIED: usize = 100;
/// The same where falling phases go first: then each takes a way of its own.
const TRIED_FALLING_FIRST: usize = 50;

/// Dead times of a population.
#[derive(Debug)]
pub struct PopulationDeadTimes {
    /// Shares at all dead times that were tried.
    pub tried: Vec<DeadTimeYield>,
    /// The dead time that the search began at, if any sample was soft at any.
    pub reference: Option<Second>,
    /// The dead time given if enough of the first samples are soft near it; else the one that the search
    /// began at.
    pub chosen: Second,
    /// Where the target share switches softly; none where that is not shown. Places in `tried`.
    pub window: Option<SoftRange>,
}

/// Shares of converters that switch softly at a dead time, over all operating points together.
#[derive(Debug, Clone, Copy)]
pub struct DeadTimeYield {
    /// The dead time.
    pub dead_time: Second,
    /// Share of converters all of whose switches turn on softly.
    pub soft: Yield,
    /// Share of counted samples that are not hard: soft or not decided.
    pub not_hard: f64,
}

/// A range of dead times that were tried, by their places.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SoftRange {
    /// The first.
    pub first: usize,
    /// The last.
    pub last: usize,
}

impl PopulationDeadTimes {
    /// The shortest and the longest dead time of the window.
    pub fn ends(&self) -> Option<[Second; 2]> {
        let SoftRange { first, last } = self.window?;
        Some([self.tried[first].dead_time, self.tried[last].dead_time])
    }

    /// Whether the longest dead time that was tried is in the window, so that longer ones may do.
    pub fn is_open(&self) -> bool {
        self.window.is_some_and(|window| window.last + 1 == self.tried.len())
    }

    /// Time between two dead times that were tried.
    pub fn step(&self) -> Second {
        self.tried.first().map_or(Second(0.0), |first| first.dead_time)
    }

    /// Whether a dead time lies in the window, as far as it was tried.
    pub fn holds(&self, dead_time: Second) -> bool {
        self.ends().is_some_and(|[shortest, longest]| dead_time >= shortest && dead_time <= longest)
    }
}

/// What was seen of samples at each dead time: place by place.
type Seen = Vec<TurnOn>;

pub(super) fn search(
    explained: Explained,
    population: &Population,
    arrangement: Arrangement,
    switch: &SwitchSettings,
    samples: &SearchSamples,
) -> Result<PopulationDeadTimes, StudyError> {
    let session = explained.session;
    let question = DeadTimeQuestion {
        explained,
        population,
        cases: session.cases(arrangement).collect(),
        arrangement,
        switch,
    };
    let given = switch.specification(arrangement).dead_time;
    let pilot = question.seen(&samples.pilot_numbers())?;
    let counted = question.seen(&samples.counted_numbers())?;
    let is_soft = |seen: &[Seen]| -> Vec<Vec<bool>> {
        seen.iter().map(|all| all.iter().map(|own| *own == TurnOn::Soft).collect()).collect()
    };
    let reference = best_place(&is_soft(&pilot));
    let window = reference.and_then(|from| soft_range(&is_soft(&counted), from, &samples.rule));
    let step = question.longest() / question.tried() as f64;
    let distance = |place: &usize| (step * (place + 1) as f64 - given.0).abs();
    let near = (0..question.tried()).min_by(|a, b| distance(a).total_cmp(&distance(b)));
    let is_near = |seen: &&Seen| near.is_some_and(|place| seen[place] == TurnOn::Soft);
    let soft_near = pilot.iter().filter(is_near).count() as f64;
    let suits = soft_near >= samples.rule.target * samples.pilot as f64;
    let dead_time = |place: usize| Second(step * (place + 1) as f64);
    let yields = (0..question.tried()).map(|place| {
        let count = |is: &dyn Fn(TurnOn) -> bool| {
            counted.iter().filter(|seen| is(seen[place])).count() as u64
        };
        let soft = samples.rule.share(count(&|own| own == TurnOn::Soft), samples.counted)?;
        let not_hard = count(&|own| own != TurnOn::Hard) as f64 / samples.counted as f64;
        Ok(DeadTimeYield { dead_time: dead_time(place), soft, not_hard })
    });
    Ok(PopulationDeadTimes {
        tried: yields.collect::<Result<_, StatisticsError>>()?,
        reference: reference.map(dead_time),
        chosen: if suits { given } else { reference.map_or(given, dead_time) },
        window,
    })
}

/// The place at which most samples are soft; of equals the middle of the first neighbours. None where
/// none ever is.
pub fn best_place(pilot: &[Vec<bool>]) -> Option<usize> {
    let places = pilot.first().map_or(0, Vec::len);
    let count = |place: usize| pilot.iter().filter(|soft| soft[place]).count();
    let most = (0..places).map(count).max().filter(|most| *most > 0)?;
    let first = (0..places).find(|place| count(*place) == most)?;
    let more = (first..places).take_while(|place| count(*place) == most).count();
    Some(first + (more - 1) / 2)
}

/// The range around a reference at all of whose places the counted samples show the target; none where
/// not even the reference does. A sample counts at a place if it is soft there and everywhere between
/// there and the reference. The reference must not depend on the counted samples.
pub fn soft_range(counted: &[Vec<bool>], reference: usize, rule: &CountRule) -> Option<SoftRange> {
    let places = counted.first()?.len();
    let shows = |place: usize| {
        let (from, to) = (place.min(reference), place.max(reference));
        let soft = counted.iter().filter(|soft| soft[from..=to].iter().all(|own| *own)).count();
        rule.shows(soft as u64, counted.len() as u64)
    };
    let first = (0..=reference).rev().take_while(|place| shows(*place)).last()?;
    let last = (reference..places).take_while(|place| shows(*place)).last()?;
    Some(SoftRange { first, last })
}

/// Samples of an arrangement at all its operating points.
struct DeadTimeQuestion<'a> {
    explained: Explained<'a>,
    population: &'a Population,
    cases: Vec<&'a Case>,
    arrangement: Arrangement,
    switch: &'a SwitchSettings,
}

impl DeadTimeQuestion<'_> {
    fn tried(&self) -> usize {
        match self.switch.specification(self.arrangement).timing {
            SwitchTiming::Together => TRIED,
            SwitchTiming::FallingFirst => TRIED_FALLING_FIRST,
        }
    }

    /// The longest dead time that is tried, in seconds: for the shortest period of the nominal converter.
    fn longest(&self) -> f64 {
        let band = &self.explained.session.scenario().frequency;
        let baselines = self.explained.session.baselines().iter();
        let own = baselines.filter(|baseline| baseline.case.arrangement == self.arrangement);
        let frequencies = own.map(|baseline| baseline.state.switching_frequency.0);
        band.longest_dead_time(Hertz(frequencies.fold(0.0, f64::max))).0
    }

    fn seen(&self, numbers: &[u64]) -> Result<Vec<Seen>, EngineError> {
        self.explained.session.workers().map(numbers, |number| self.sample(*number))
    }

    /// The verdicts on a sample over all operating points, place by place. A sample that is not solved
    /// somewhere is hard everywhere.
    fn sample(&self, number: u64) -> Seen {
        let converter = self.population.draw(number);
        let mut shortfalls = vec![f64::NEG_INFINITY; self.tried()];
        for case in &self.cases {
            if self.raise(&converter, case, &mut shortfalls).is_none() {
                return vec![TurnOn::Hard; self.tried()];
            }
        }
        let verdict = |shortfall| TurnOn::of_shortfall(shortfall, self.switch.soft_share);
        shortfalls.into_iter().map(verdict).collect()
    }

    /// Raises the shortfalls to those at an operating point; none where they cannot be told. At a dead time
    /// that is hard already it does not matter by how much.
    fn raise(&self, converter: &Converter, case: &Case, shortfalls: &mut [f64]) -> Option<()> {
        let outcome = self.explained.session.solve(converter, case);
        let converter = converter.at(&case.point.condition);
        let solved = SolvedCase {
            converter: &converter,
            state: outcome.solved()?,
            point: &case.point,
            arrangement: self.arrangement,
        };
        let commutation = solved.commutation(self.switch);
        let hard = TurnOn::least_hard(self.switch.soft_share);
        commutation.raise_shortfalls(Second(self.longest()), hard, shortfalls)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::Confidence;

    fn soft(word: &str) -> Vec<bool> {
        word.chars().map(|c| c == 's').collect()
    }

    #[test]
    fn the_search_begins_in_the_middle_of_the_best_places() {
        assert_eq!(best_place(&[soft("-sss-"), soft("sss--")]), Some(1));
        assert_eq!(best_place(&[soft("-sssss-")]), Some(3));
        assert_eq!(best_place(&[soft("---")]), None);
        assert_eq!(best_place(&[]), None);
    }

    /// 40 samples without a failure show 0.025^(1/40) = 91 %; with one failure not.
    #[test]
    fn a_sample_counts_up_to_where_it_first_fails() {
        let rule = CountRule { target: 0.9, confidence: Confidence::new(0.95).unwrap() };
        let mut counted = vec![soft("-sssss-"); 39];
        counted.push(soft("ss-sss-"));
        assert_eq!(soft_range(&counted, 3, &rule), Some(SoftRange { first: 3, last: 5 }));
        assert_eq!(soft_range(&counted, 1, &rule), Some(SoftRange { first: 1, last: 1 }));
        assert_eq!(soft_range(&counted, 2, &rule), None);
        assert_eq!(soft_range(&counted, 6, &rule), None);
    }
}
