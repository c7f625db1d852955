//! Rows of the matrix of faults: one a failure and leg.

use super::fault_word::{FaultWord, failure, legs};
use crate::converter::{Arrangement, Drive, FailedLegs, FailureMode, Fault};
use crate::study::faults::{FaultResult, FaultStudy};

/// A failure at all its places. Legs in which it looks the same are one row.
#[derive(Debug)]
pub(in crate::report) struct FailureRow<'a> {
    failure: FailureMode,
    legs: Vec<Option<FailedLegs>>,
    /// Whether there are two legs to tell apart.
    has_legs: bool,
    /// Of the first of these legs, from the first place to the last.
    pub(in crate::report) results: Vec<&'a FaultResult>,
}

impl<'a> FailureRow<'a> {
    /// All rows of an operating point.
    pub(in crate::report) fn all(own: &[&'a FaultResult]) -> Vec<Self> {
        let mut rows: Vec<Self> = Vec::new();
        for result in own {
            let fault = result.fault();
            match rows.iter_mut().rev().find(|row| row.is_of(fault)) {
                Some(row) => row.results.push(result),
                None => rows.push(Self {
                    failure: fault.failure,
                    legs: vec![fault.legs],
                    has_legs: result.case.point.drive == Drive::FullBridge,
                    results: vec![result],
                }),
            }
        }
        rows.dedup_by(|next, first| {
            let is_same = next.looks_like(first);
            if is_same {
                first.legs.append(&mut next.legs);
            }
            is_same
        });
        rows
    }

    /// Whether it is the same failure in the other leg, with the same words at all places.
    fn looks_like(&self, other: &Self) -> bool {
        let cells = |row: &Self| -> Vec<FaultWord> {
            row.results.iter().map(|result| FaultWord::of_result(result)).collect()
        };
        self.failure == other.failure
            && self.legs == [Some(FailedLegs::Return)]
            && other.legs == [Some(FailedLegs::Driven)]
            && cells(self) == cells(other)
    }

    /// Whether a fault belongs to it.
    pub(in crate::report) fn is_of(&self, fault: &Fault) -> bool {
        self.failure == fault.failure && self.legs.contains(&fault.legs)
    }

    /// Its heading.
    pub(in crate::report) fn heading(&self) -> String {
        let name = failure(self.failure);
        match self.legs[..] {
            [Some(one)] if self.has_legs && self.failure != FailureMode::Bypassed => {
                format!("{name}, {}", legs(Some(one)))
            }
            [_, _] => format!("{name}, one leg"),
            _ => name,
        }
    }

    /// The result at a place, counted from 0.
    pub(in crate::report) fn at(&self, phase: usize) -> Option<&'a FaultResult> {
        self.results.iter().copied().find(|result| result.fault().phase == phase)
    }

    /// A result that is so, else that of the worst place.
    pub(in crate::report) fn one_or_worst(
        &self,
        is_so: impl Fn(&FaultResult) -> bool,
    ) -> Option<&'a FaultResult> {
        self.results.iter().copied().find(|own| is_so(own)).or_else(|| self.worst())
    }

    /// The worst place: by the outcome, then by what a switch blocks times the highest tank current.
    pub(in crate::report) fn worst(&self) -> Option<&'a FaultResult> {
        let blocks = |own: &FaultResult| {
            let voltage =
                own.blocking.map_or(0.0, |own| own.highest.map_or(f64::INFINITY, |v| v.0));
            voltage * own.tank_rms_current.map_or(1.0, |own| own.0)
        };
        self.results.iter().copied().reduce(|worst, next| {
            let (a, b) = (FaultWord::of_result(worst), FaultWord::of_result(next));
            if b > a || (b == a && blocks(next) > blocks(worst)) { next } else { worst }
        })
    }
}

/// A failure at all places: its worst word over all operating points and legs.
#[derive(Debug)]
pub(in crate::report) struct WorstRow {
    pub(in crate::report) failure: FailureMode,
    /// Place by place; none where there is no such part.
    pub(in crate::report) chain: Vec<Option<FaultWord>>,
    /// Of the paralleled reference.
    pub(in crate::report) paralleled: Option<FaultWord>,
}

impl WorstRow {
    /// All of them, in the order of the study.
    pub(in crate::report) fn all(study: &FaultStudy, phases: usize) -> Vec<Self> {
        let mut rows: Vec<Self> = Vec::new();
        for result in &study.results {
            let (fault, word) = (result.fault(), FaultWord::of_result(result));
            let known = rows.iter().position(|row| row.failure == fault.failure);
            let at = known.unwrap_or_else(|| {
                let chain = vec![None; phases];
                rows.push(Self { failure: fault.failure, chain, paralleled: None });
                rows.len() - 1
            });
            let Some(row) = rows.get_mut(at) else { continue };
            let cell = match result.arrangement() {
                Arrangement::Chain => row.chain.get_mut(fault.phase),
                Arrangement::Paralleled => Some(&mut row.paralleled),
            };
            if let Some(cell) = cell {
                *cell = Some(cell.map_or(word, |known| known.max(word)));
            }
        }
        rows
    }
    /// What the words or letters mean that stand in the rows.
    pub(in crate::report) fn key(rows: &[Self], is_short: bool) -> String {
        let mark = |word: FaultWord| if is_short { word.letter() } else { word.word() };
        let told = Self::words(rows).into_iter();
        let told = told.map(|word| format!("{}: {}", mark(word), word.meaning()));
        format!("{}.", told.collect::<Vec<_>>().join(". "))
    }

    /// The words that stand in rows, the best first.
    pub(in crate::report) fn words(rows: &[Self]) -> Vec<FaultWord> {
        let stands = |word: &FaultWord| {
            rows.iter().any(|row| row.chain.contains(&Some(*word)) || row.paralleled == Some(*word))
        };
        FaultWord::ALL.into_iter().filter(stands).collect()
    }
}
