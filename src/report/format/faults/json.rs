//! The matrix of faults in a summary.

use schemars::JsonSchema;
use serde::Serialize;

use super::fault_word::FaultWord;
use crate::converter::{Arrangement, FailedLegs, Fault};
use crate::study::faults::{FaultResult, FaultStudy};

/// What becomes of the nominal converter at an operating point when a part fails, place by place.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct FaultRowEntry {
    /// Name of the operating point.
    operating_point: String,
    /// What fails, and how.
    kind: &'static str,
    /// The legs in which it fails; null where the part belongs to no leg.
    leg: Option<FailedLegs>,
    /// Share of the capacitance that an aged capacitor has left, else null.
    remaining: Option<f64>,
    /// Of the chain, in the order of the phases.
    chain: Vec<FaultPlaceEntry>,
    /// Of the paralleled reference, in any phase; null where it has no such part.
    paralleled: Option<&'static str>,
}

/// What becomes of it when the part of one phase fails.
#[derive(Debug, Serialize, JsonSchema)]
struct FaultPlaceEntry {
    /// The phase from 1; of a flying capacitor the phase before it.
    place: usize,
    /// `runs`, `limit missed`, `trap`, `out of range`, `stops`, `junction heats up`, `input shorted`, `unknown`
    /// or `not solved`.
    outcome: &'static str,
}

impl FaultRowEntry {
    /// All rows, operating point by operating point.
    pub(in crate::report) fn all(study: &FaultStudy) -> Vec<Self> {
        let of = |arrangement| {
            study.results.iter().filter(move |own: &&FaultResult| own.arrangement() == arrangement)
        };
        let mut rows: Vec<Self> = Vec::new();
        let mut last: Option<&FaultResult> = None;
        for own in of(Arrangement::Chain) {
            let is_same = |before: &FaultResult| {
                before.healthy == own.healthy && is_like(before.fault(), own.fault())
            };
            if !last.is_some_and(is_same) {
                let mut others = of(Arrangement::Paralleled);
                let reference = others.find(|other| {
                    other.healthy == own.healthy + 1 && is_like(other.fault(), own.fault())
                });
                rows.push(Self::new(study, own, reference));
            }
            let place = own.fault().phase + 1;
            let outcome = FaultWord::of_result(own).key();
            if let Some(row) = rows.last_mut() {
                row.chain.push(FaultPlaceEntry { place, outcome });
            }
            last = Some(own);
        }
        rows
    }

    fn new(study: &FaultStudy, own: &FaultResult, reference: Option<&FaultResult>) -> Self {
        let fault = own.fault();
        Self {
            operating_point: study.before(own).operating_point.clone(),
            kind: fault.failure.name(),
            leg: fault.legs,
            remaining: fault.failure.remaining(),
            chain: Vec::new(),
            paralleled: reference.map(|own| FaultWord::of_result(own).key()),
        }
    }
}

/// Whether it is the same failure in the same legs, at whatever place.
fn is_like(one: &Fault, other: &Fault) -> bool {
    one.failure == other.failure && one.legs == other.legs
}
