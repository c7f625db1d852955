//! One flying capacitor worn out, all others new.
//!
//! When all flying capacitors lose the same share, the inner phases, which see two of them, change twice as
//! much as the outer ones. When one does, its two neighbours change and the others do not. The nominal
//! converter tells what that does to the sharing.

use super::loads::NominalLoads;
use super::prepared::{PreparedCase, PreparedSize, Wear};
use crate::converter::{Age, Influence, Parameter};
use crate::engine::EngineError;
use crate::scenario::Scenario;
use crate::study::common::session::Session;

/// The nominal converter of a size with one worn-out flying capacitor, in the driven leg.
#[derive(Debug, Clone, PartialEq)]
pub struct WornCorner {
    /// Name of the operating point.
    pub operating_point: String,
    /// The phase before the worn-out capacitor, counted from 0.
    pub place: usize,
    /// Share of its capacitance that is left.
    pub left: f64,
    /// The word for what became of it.
    pub status: &'static str,
    /// Its loads; none where it is not solved.
    pub nominal: Option<NominalLoads>,
}

impl WornCorner {
    /// Whether it delivers the output and meets all limits.
    pub fn is_good(&self) -> bool {
        self.nominal.as_ref().is_some_and(|loads| loads.missed.is_empty())
    }

    /// How bad it is: its sharing error, or more than any where it is not solved.
    fn badness(&self) -> f64 {
        self.nominal.as_ref().map_or(f64::INFINITY, |loads| loads.sharing_error)
    }

    /// The worst of some: one that is not solved, else the largest sharing error.
    pub fn worst(corners: &[Self]) -> Option<&Self> {
        corners.iter().reduce(|a, b| if b.badness() > a.badness() { b } else { a })
    }
}

/// What is left of a worn-out flying capacitor: what the scenario says of its end of life, or the least
/// that `[ageing.flying_capacitance]` leaves. None where it says neither.
pub(super) fn left(scenario: &Scenario) -> Option<f64> {
    let drift = scenario.tolerances.response(Parameter::FlyingCapacitance, Influence::Age);
    let drifted = drift.map(|own| 1.0 + own.scatter.ends()[0]);
    scenario.capacitors.end_of_life.or(drifted)
}

/// A size with one worn-out flying capacitor at each place, at every operating point. Empty where the
/// scenario does not tell what is left of it.
///
/// # Errors
///
/// When the user asks to stop.
pub(super) fn corners(
    scenario: &Scenario,
    session: &Session,
    size: &PreparedSize,
) -> Result<Vec<WornCorner>, EngineError> {
    let Some(left) = left(scenario) else { return Ok(Vec::new()) };
    let is_new =
        |own: &&PreparedCase| own.wear == Wear::New && own.case.point.condition.age == Age::New;
    let cases: Vec<&PreparedCase> = size.cases.iter().filter(is_new).collect();
    let of_case = session.workers().map(&cases, |own| {
        let places = 0..scenario.phases - 1;
        let corner = |place| corner(scenario, session, own, Worn { place, left });
        places.filter_map(corner).collect::<Vec<_>>()
    });
    Ok(of_case?.into_iter().flatten().collect())
}

/// Which capacitor is worn out.
#[derive(Debug, Clone, Copy)]
struct Worn {
    place: usize,
    left: f64,
}

fn corner(
    scenario: &Scenario,
    session: &Session,
    own: &PreparedCase,
    worn: Worn,
) -> Option<WornCorner> {
    let Worn { place, left } = worn;
    let mut converter = own.converter.clone();
    converter.flying.get_mut(place)?.0 *= left;
    let case = own.case.clone().with_stress();
    let outcome = session.solve(&converter, &case);
    let solved = PreparedCase { wear: own.wear, converter, case, outcome };
    Some(WornCorner {
        operating_point: own.case.point.name.clone(),
        place,
        left,
        status: solved.outcome.name(),
        nominal: NominalLoads::new(scenario, &solved),
    })
}
