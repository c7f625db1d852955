//! Converters of one size, ready to be solved: the nominal one in every case, solved.

use crate::converter::{Age, Arrangement, Converter};
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

/// A size in all its cases.
#[derive(Debug)]
pub(super) struct PreparedSize {
    /// Nominal flying capacitance.
    pub capacitance: Farad,
    /// Each operating point, at each age and wear.
    pub cases: Vec<PreparedCase>,
}

impl PreparedSize {
    /// Whether the nominal converter delivers every operating point.
    pub(super) fn is_solved(&self) -> bool {
        self.cases.iter().all(|own| own.outcome.solved().is_some())
    }
}

/// A case that is still to be prepared.
struct OpenCase<'a> {
    capacitance: Farad,
    wear: Wear,
    case: &'a Case,
}

/// Solves the nominal converter of every size in every case, on all threads.
///
/// # Errors
///
/// When the user asks to stop.
pub(super) fn prepare(
    scenario: &Scenario,
    session: &Session,
    sizes: &[Farad],
) -> Result<Vec<PreparedSize>, StudyError> {
    let cases: Vec<(Wear, &Case)> = worn_cases(scenario, session);
    let of_size = |size: &Farad| {
        let capacitance = *size;
        cases.iter().map(move |(wear, case)| OpenCase { capacitance, wear: *wear, case })
    };
    let open: Vec<OpenCase> = sizes.iter().flat_map(of_size).collect();
    let round = |open: &[&OpenCase], share: f64| {
        session.workers().map(open, |open| open.prepared(scenario, session, share))
    };
    let is_short =
        |own: &PreparedCase| matches!(own.outcome, Outcome::NotSolved(Unsolved::TooMuchWork));
    let prepared: Result<Vec<PreparedCase>, EngineError> =
        SharedWork::CONVERTERS.in_two_rounds(&open, |_| 1, round, is_short);
    let mut prepared = prepared?.into_iter();
    let of_size = |size: &Farad| PreparedSize {
        capacitance: *size,
        cases: prepared.by_ref().take(cases.len()).collect(),
    };
    Ok(sizes.iter().map(of_size).collect())
}

/// The cases of every size. Where the scenario judges two ages, capacitors are worn out at the end of
/// life. Else each operating point is judged with new ones and with worn-out ones.
fn worn_cases<'a>(scenario: &Scenario, session: &'a Session) -> Vec<(Wear, &'a Case)> {
    let has_ages = scenario.service_life.is_some();
    let wears = |case: &Case| match scenario.capacitors.end_of_life.map(Wear::WornOut) {
        Some(worn) if !has_ages => vec![Wear::New, worn],
        Some(worn) if case.point.condition.age == Age::EndOfLife => vec![worn],
        _ => vec![Wear::New],
    };
    let cases = session.cases(Arrangement::Chain);
    cases.flat_map(|case| wears(case).into_iter().map(move |wear| (wear, case))).collect()
}

/// The nominal converter with flying capacitors of a size.
pub(super) fn with_size(scenario: &Scenario, capacitance: Farad) -> Converter {
    Scenario { flying_capacitance: capacitance, ..scenario.clone() }.nominal_converter()
}

impl OpenCase<'_> {
    fn prepared(&self, scenario: &Scenario, session: &Session, share: f64) -> PreparedCase {
        let converter = with_size(scenario, Farad(self.wear.left() * self.capacitance.0));
        let solver = session.solver().with_share(share);
        let unsolved = Case { start: None, nearby: None, ..self.case.clone() }.with_stress();
        let (outcome, case) = solver.prepare(&converter, unsolved);
        let case = Case { with_stress: scenario.limits.needs_stress(), ..case };
        PreparedCase { wear: self.wear, converter, case, outcome }
    }
}
