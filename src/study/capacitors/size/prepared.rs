//! Converters of one size, ready to be solved: the nominal one in every case, solved.

use crate::converter::{Age, Arrangement, Converter, OperatingPoint};
use crate::engine::EngineError;
use crate::scenario::Scenario;
use crate::solver::{Case, Outcome, Unsolved};
use crate::study::common::error::StudyError;
use crate::study::common::session::Session;
use crate::study::common::shared_work::SharedWork;
use crate::units::Farad;

/// What is left of the flying capacitors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Wear {
    /// All of it, but for what the scenario says of age.
    New,
    /// This share of their own capacitance each.
    WornOut(f64),
}

impl Wear {
    /// The share that is left.
    pub const fn left(self) -> f64 {
        match self {
            Self::New => 1.0,
            Self::WornOut(left) => left,
        }
    }
}

/// One case of a size.
#[derive(Debug)]
pub(super) struct PreparedCase {
    /// What is left of the flying capacitors.
    pub wear: Wear,
    /// The nominal converter with what is left of them.
    pub converter: Converter,
    /// What it is solved for; its solution starts those of the samples.
    pub case: Case,
    /// The solution.
    pub outcome: Outcome,
}

/// Nominal flying capacitances, place by place, in all their cases.
#[derive(Debug)]
pub(super) struct PreparedSize {
    /// Each operating point, at each age and wear.
    pub cases: Vec<PreparedCase>,
}

/// A case that is still to be prepared.
struct OpenCase<'a> {
    wear: Wear,
    case: &'a Case,
}

impl PreparedSize {
    /// Solves the nominal converter of a size in every case, on all threads.
    ///
    /// # Errors
    ///
    /// When the user asks to stop.
    pub(super) fn new(
        scenario: &Scenario,
        session: &Session,
        capacitance: Farad,
    ) -> Result<Self, StudyError> {
        Self::of_places(scenario, session, &vec![capacitance; scenario.phases - 1])
    }

    /// The same with a capacitance for each place.
    ///
    /// # Errors
    ///
    /// When the user asks to stop.
    pub(super) fn of_places(
        scenario: &Scenario,
        session: &Session,
        places: &[Farad],
    ) -> Result<Self, StudyError> {
        let open = open_cases(scenario, session);
        let round = |open: &[&OpenCase], share: f64| {
            session.workers().map(open, |own| own.prepared(scenario, session, places, share))
        };
        let is_short =
            |own: &PreparedCase| matches!(own.outcome, Outcome::NotSolved(Unsolved::TooMuchWork));
        let cases: Result<Vec<PreparedCase>, EngineError> =
            SharedWork::CONVERTERS.in_two_rounds(&open, |_| 1, round, is_short);
        Ok(Self { cases: cases? })
    }

    /// Whether the nominal converter delivers every operating point.
    pub(super) fn is_solved(&self) -> bool {
        self.cases.iter().all(|own| own.outcome.solved().is_some())
    }
}

/// The cases of every size. Where the scenario judges two ages, capacitors are worn out at the end of
/// life. Else each operating point is judged with new ones and with worn-out ones.
fn open_cases<'a>(scenario: &Scenario, session: &'a Session) -> Vec<OpenCase<'a>> {
    let has_ages = scenario.service_life.is_some();
    let wears = |case: &Case| match scenario.capacitors.end_of_life.map(Wear::WornOut) {
        Some(worn) if !has_ages => vec![Wear::New, worn],
        Some(worn) if case.point.condition.age == Age::EndOfLife => vec![worn],
        _ => vec![Wear::New],
    };
    let cases = session.cases(Arrangement::Chain);
    let open =
        cases.flat_map(|case| wears(case).into_iter().map(move |wear| OpenCase { wear, case }));
    open.collect()
}

impl OpenCase<'_> {
    /// The name of the operating point, with the wear where no age tells it.
    fn name(&self) -> String {
        let (name, age) = (&self.case.point.name, self.case.point.condition.age);
        match (self.wear, age) {
            (Wear::WornOut(_), Age::New) => format!("{name}, capacitors worn out"),
            _ => name.clone(),
        }
    }

    /// Solved, with this share of the work of a search.
    fn prepared(
        &self,
        scenario: &Scenario,
        session: &Session,
        places: &[Farad],
        share: f64,
    ) -> PreparedCase {
        let mut converter = session.nominal().clone();
        let Converter { flying, flying_return, .. } = &mut converter;
        for leg in [flying, flying_return] {
            for (own, place) in leg.iter_mut().zip(places) {
                own.0 = self.wear.left() * place.0;
            }
        }
        let solver = session.solver().with_share(share);
        let point = OperatingPoint { name: self.name(), ..self.case.point.clone() };
        let unsolved = Case { point, start: None, nearby: None, ..self.case.clone() }.with_stress();
        let (outcome, case) = solver.prepare(&converter, unsolved);
        let case = Case { with_stress: scenario.limits.needs_stress(), ..case };
        PreparedCase { wear: self.wear, converter, case, outcome }
    }
}
