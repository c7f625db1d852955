//! Correlation of parameters: what is asked for, and the normal scores that give it.
//!
//! The score of parameter p in phase k is `√r(p) C(p) + √(1 − r(p)) O(p, k)`, where r(p) follows from
//! the lot share of p. The commons C of all parameters have one correlation matrix, the owns O of
//! every phase another one. A single coefficient makes both equal for its pair.

use std::sync::Arc;

use itertools::Itertools as _;

use super::single::Tolerance;
use crate::converter::Parameter;
use crate::statistics::copula::{HermiteSeries, PairSeries, common_share};
use crate::statistics::correlation_matrix::{self, Matrix};

/// Scores that correlate by more count as one and the same.
const MOST: f64 = 1.0 - 1e-6;
/// The least eigenvalue of a matrix that is proposed, so that rounded coefficients do too.
const PROPOSED: f64 = 0.01;
/// The least eigenvalue of a matrix that is taken.
const DEFINITE: f64 = 1e-9;

/// The correlation of two parameters of the phases.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Correlation {
    /// The parameters, in the order of [`Parameter::ALL`]; different ones, none of them the flying
    /// capacitance.
    pub between: [Parameter; 2],
    /// Pearson's correlation of their values in one phase.
    pub coefficient: f64,
    /// Pearson's correlation of their values in two different phases of one converter; where it is
    /// left open it follows from the lot shares.
    pub across: Option<f64>,
}

impl Correlation {
    /// Whether another one has these coefficients in three decimals.
    fn is_near(&self, other: &Self) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() < 1e-3;
        let across = self.across.zip(other.across);
        near(self.coefficient, other.coefficient) && across.is_none_or(|(a, b)| near(a, b))
    }
}

/// Why correlations cannot be had.
#[derive(Debug, Clone, PartialEq)]
pub enum CorrelationError {
    /// No scores give a pair this coefficient.
    OutOfReach {
        /// The pair.
        between: [Parameter; 2],
        /// Whether the coefficient between different phases is meant.
        is_across: bool,
        /// What can be reached.
        range: [f64; 2],
    },
    /// Some coefficients exclude each other.
    NotDefinite {
        /// All pairs of a smallest set of parameters that exclude each other. A pair without a
        /// coefficient counts as 0.
        excluded: Vec<Correlation>,
        /// The nearest coefficients that can be had, of all pairs; 0 of those that have none.
        nearest: Vec<Correlation>,
    },
}

/// A parameter that is correlated with others.
#[derive(Debug, Clone)]
pub(in crate::scenario) struct Member {
    parameter: Parameter,
    series: Arc<HermiteSeries>,
    /// r(p).
    shared: f64,
}

impl Member {
    /// A parameter with its tolerance.
    pub(in crate::scenario) fn new(parameter: Parameter, tolerance: &Tolerance) -> Self {
        let marginal = tolerance.shape.marginal();
        let shared = common_share(&marginal, tolerance.lot_share);
        Self { parameter, series: HermiteSeries::recalled(&marginal), shared }
    }
}

/// The factors that mix independent normal scores into those of correlated parameters.
#[derive(Debug, Clone, PartialEq)]
pub struct Copula {
    /// The correlated parameters, in the order of [`Parameter::ALL`].
    pub members: Vec<Parameter>,
    /// Lower triangular factor of the commons' correlation matrix.
    pub common: Matrix,
    /// The same of the owns' matrix.
    pub own: Matrix,
}

/// Both correlation matrices that coefficients ask for, as they are or nearly so.
struct ScoreMatrices {
    members: Vec<Member>,
    common: Matrix,
    own: Matrix,
    errors: Vec<CorrelationError>,
}

/// Two members and how their coefficients come about.
struct MemberPair {
    series: PairSeries,
    /// √(r(p) r(q)), √((1 − r(p)) (1 − r(q))).
    weights: [f64; 2],
}

impl MemberPair {
    fn new(first: &Member, second: &Member) -> Self {
        let weights = [
            (first.shared * second.shared).sqrt(),
            ((1.0 - first.shared) * (1.0 - second.shared)).sqrt(),
        ];
        Self { series: PairSeries::new(&first.series, &second.series), weights }
    }

    /// The coefficients that scores about a middle, at most so far away, give.
    fn range(&self, middle: f64, distance: f64) -> [f64; 2] {
        [-distance, distance].map(|end| self.series.correlation((middle + end).clamp(-1.0, 1.0)))
    }

    fn score(&self, coefficient: f64) -> f64 {
        self.series.score(coefficient, [-1.0, 1.0])
    }
}

/// A correlation of scores from what it is weighted with, and whether it can be had.
fn divided(score: f64, weight: f64) -> Option<f64> {
    let ratio = if weight > 1e-9 {
        score / weight
    } else if score.abs() < 1e-9 {
        0.0
    } else {
        2.0
    };
    (ratio.abs() <= MOST).then_some(ratio)
}

impl ScoreMatrices {
    fn new(members: Vec<Member>, correlations: &[Correlation]) -> Self {
        let matrix = correlation_matrix::identity(members.len());
        let mut all = Self { members, common: matrix.clone(), own: matrix, errors: Vec::new() };
        for correlation in correlations {
            let place = |p: Parameter| all.members.iter().position(|member| member.parameter == p);
            let [first, second] = correlation.between.map(place);
            if let (Some(first), Some(second)) = (first, second) {
                all.add(*correlation, [first, second]);
            }
        }
        all
    }

    fn add(&mut self, correlation: Correlation, [first, second]: [usize; 2]) {
        let pair = MemberPair::new(&self.members[first], &self.members[second]);
        let [common, own] = pair.weights;
        let inner = pair.score(correlation.coefficient);
        let (scores, range, is_across) = match correlation.across {
            None => {
                let both = divided(inner, common + own);
                ([both, both], pair.range(0.0, common + own), false)
            }
            Some(across) => {
                let outer = pair.score(across);
                let commons = divided(outer, common);
                let range = match commons {
                    None => pair.range(0.0, common),
                    Some(_) => pair.range(outer, own),
                };
                ([commons, divided(inner - outer, own)], range, commons.is_none())
            }
        };
        if scores.iter().any(Option::is_none) {
            let between = correlation.between;
            self.errors.push(CorrelationError::OutOfReach { between, is_across, range });
        }
        let nearest = scores.map(|score| score.unwrap_or(MOST.copysign(correlation.coefficient)));
        for (matrix, score) in [&mut self.common, &mut self.own].into_iter().zip(nearest) {
            (matrix[first][second], matrix[second][first]) = (score, score);
        }
    }

    fn is_definite(&self) -> bool {
        let matrices = [&self.common, &self.own].into_iter();
        matrices.map(correlation_matrix::smallest_eigenvalue).all(|least| least > DEFINITE)
    }

    /// The pairs of a smallest set of members that cannot be had. A matrix is positive definite only
    /// where that of every part of its variables is (eigenvalues interlace: Golub and Van Loan 2013,
    /// theorem 8.1.7, from memory).
    fn excluded(&self, correlations: &[Correlation]) -> Vec<Correlation> {
        let all: Vec<usize> = (0..self.members.len()).collect();
        let mut sets = (2..=all.len()).flat_map(|size| all.iter().copied().combinations(size));
        let is_indefinite = |set: &Vec<usize>| {
            let within =
                [&self.common, &self.own].map(|matrix| correlation_matrix::submatrix(matrix, set));
            within.iter().any(|part| correlation_matrix::smallest_eigenvalue(part) <= DEFINITE)
        };
        let set = sets.find(is_indefinite).unwrap_or(all);
        let between = |pair: Vec<usize>| [pair[0], pair[1]].map(|n| self.members[n].parameter);
        let pairs = set.into_iter().combinations(2).map(between);
        let asked = |between| correlations.iter().find(|asked| asked.between == between).copied();
        let none = |between| Correlation { between, coefficient: 0.0, across: None };
        pairs.map(|between| asked(between).unwrap_or_else(|| none(between))).collect()
    }

    /// The coefficients of the nearest matrices that there can be, in three decimals; those that come
    /// so near to what is asked for are as asked for.
    fn proposal(&self, correlations: &[Correlation]) -> Vec<Correlation> {
        let with_across = correlations.iter().any(|asked| asked.across.is_some());
        let [mut common, mut own] =
            [&self.common, &self.own].map(|matrix| correlation_matrix::nearest(matrix, PROPOSED));
        loop {
            let rounded = self.coefficients([&common, &own], with_across);
            let near = |found: &Correlation| {
                let mut asked = correlations.iter().filter(|asked| asked.between == found.between);
                asked.find(|asked| asked.is_near(found)).copied().unwrap_or(*found)
            };
            let as_asked = rounded.iter().map(near).collect();
            if let Some(found) = [as_asked, rounded].into_iter().find(|all| self.can_have(all)) {
                return found;
            }
            // Rounding took it out: all coefficients a little nearer to zero, which ends at none.
            for (n, row) in common.iter_mut().chain(&mut own).enumerate() {
                let diagonal = n % self.members.len();
                let others = row.iter_mut().enumerate().filter(|(k, _)| *k != diagonal);
                others.for_each(|(_, entry)| *entry *= 0.99);
            }
        }
    }

    /// Whether the same members can have these coefficients.
    fn can_have(&self, correlations: &[Correlation]) -> bool {
        let tried = Self::new(self.members.clone(), correlations);
        tried.errors.is_empty() && tried.is_definite()
    }

    fn coefficients(&self, [common, own]: [&Matrix; 2], with_across: bool) -> Vec<Correlation> {
        // A zero without its sign.
        let rounded = |x: f64| (1000.0 * x).round() / 1000.0 + 0.0;
        let size = self.members.len();
        let pairs =
            (0..size).flat_map(|first| (first + 1..size).map(move |second| [first, second]));
        let all = pairs.map(|[first, second]| {
            let members = [&self.members[first], &self.members[second]];
            let pair = MemberPair::new(members[0], members[1]);
            let outer = pair.weights[0] * common[first][second];
            let inner = outer + pair.weights[1] * own[first][second];
            let across = with_across.then(|| rounded(pair.series.correlation(outer)));
            let coefficient = rounded(pair.series.correlation(inner));
            Correlation { between: members.map(|member| member.parameter), coefficient, across }
        });
        all.collect()
    }
}

/// What is wrong with correlations of these parameters: every pair that is out of reach. Where none is, whether
/// they exclude each other.
pub(in crate::scenario) fn errors(
    members: Vec<Member>,
    correlations: &[Correlation],
) -> Vec<CorrelationError> {
    let mut matrices = ScoreMatrices::new(members, correlations);
    let mut errors = std::mem::take(&mut matrices.errors);
    if errors.is_empty() && !matrices.is_definite() {
        errors.push(CorrelationError::NotDefinite {
            excluded: matrices.excluded(correlations),
            nearest: matrices.proposal(correlations),
        });
    }
    errors
}

impl Copula {
    /// Of these parameters; none of fewer than two. Correlations that cannot be had are replaced by
    /// the nearest.
    pub(super) fn nearest(members: Vec<Member>, correlations: &[Correlation]) -> Option<Self> {
        if members.len() < 2 {
            return None;
        }
        let matrices = ScoreMatrices::new(members, correlations);
        let factor = |matrix: &Matrix| {
            let nearest =
                || correlation_matrix::factor(&correlation_matrix::nearest(matrix, PROPOSED));
            let size = matrix.len();
            let exact = correlation_matrix::factor(matrix);
            exact.or_else(nearest).unwrap_or_else(|| correlation_matrix::identity(size))
        };
        Some(Self {
            common: factor(&matrices.common),
            own: factor(&matrices.own),
            members: matrices.members.iter().map(|member| member.parameter).collect(),
        })
    }
}
