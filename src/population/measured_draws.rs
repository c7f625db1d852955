//! Which measured parts a sample holds, and what their probabilities have to do with each other.

use super::scores::PropertyScores;
use super::{Population, Scores};
use crate::converter::{Arrangement, ConverterSize, Parameter};
use crate::statistics::correlation_matrix::{self, Matrix};
use crate::statistics::{HeldPart, normal};

/// The parameters of a population whose parts are drawn from measured ones.
#[derive(Debug, Clone)]
pub struct MeasuredDraws {
    population: Population,
    columns: Vec<HeldColumn>,
}

/// A parameter whose parts are measured ones.
#[derive(Debug, Clone)]
pub struct HeldColumn {
    /// The parameter.
    pub parameter: Parameter,
    /// Measured parts.
    pub parts: usize,
    /// Parts that are drawn for one chain: one where all its phases hold the same.
    drawn: usize,
    /// How their probabilities depend on each other; none where they do not.
    scores: Option<DependentScores>,
}

/// Normal scores of several parameters: z(k) = A c + B o(k) in phase k, with independent c and o(k).
#[derive(Debug, Clone)]
struct DependentScores {
    members: Vec<Parameter>,
    /// Index of the parameter among the members.
    index: usize,
    /// The matrix A.
    common: Matrix,
    /// The matrix B, lower triangular.
    alone: Matrix,
    /// Lower triangular factor of the covariance of √N times the mean of z over all N phases; none
    /// where the scores have no density.
    mean_factor: Option<Matrix>,
}

impl Population {
    /// The measured parts that its samples hold. `size` tells how many parts of each kind are in use.
    pub fn measured_draws(&self, size: ConverterSize) -> MeasuredDraws {
        let columns = Parameter::ALL.into_iter().filter_map(|parameter| {
            let scatter = self.scatter[parameter.index()].as_ref()?;
            let parts = scatter.marginal.measured_values()?;
            let in_use = parameter.parts(size, Arrangement::Chain);
            let is_common = scatter.lot.is_some_and(|[_, alone]| alone <= 0.0);
            let drawn = if is_common { in_use.min(1) } else { in_use };
            let scores = self.dependent_scores(parameter, drawn);
            Some(HeldColumn { parameter, parts, drawn, scores })
        });
        MeasuredDraws { columns: columns.collect(), population: self.clone() }
    }

    /// How the scores of a parameter depend on each other and on those of other parameters.
    fn dependent_scores(&self, parameter: Parameter, drawn: usize) -> Option<DependentScores> {
        let lot = |p: Parameter| self.scatter[p.index()].as_ref().and_then(|own| own.lot);
        let weights = |p: Parameter| lot(p).unwrap_or([0.0, 1.0]);
        let copula = self.copula.as_ref().filter(|copula| copula.members.contains(&parameter));
        let (members, common, alone) = match copula {
            Some(copula) => (copula.members.clone(), &copula.common, &copula.own),
            None => (vec![parameter], &vec![vec![1.0]], &vec![vec![1.0]]),
        };
        if copula.is_none() && lot(parameter).is_none() {
            return None;
        }
        let weighted = |factor: &Matrix, which: usize| -> Matrix {
            let weights = members.iter().map(|member| weights(*member)[which]);
            let rows = weights.zip(factor);
            rows.map(|(weight, row)| row.iter().map(|entry| weight * entry).collect()).collect()
        };
        let index = members.iter().position(|member| *member == parameter)?;
        let (common, alone) = (weighted(common, 0), weighted(alone, 1));
        let mean_factor = mean_factor(&common, &alone, drawn);
        Some(DependentScores { members, index, common, alone, mean_factor })
    }
}

/// The factor of B Bᵀ + N A Aᵀ; none unless B alone can be inverted too.
fn mean_factor(common: &Matrix, alone: &Matrix, phases: usize) -> Option<Matrix> {
    let product = |m: &Matrix, row: usize, column: usize| -> f64 {
        m[row].iter().zip(&m[column]).map(|(a, b)| a * b).sum()
    };
    let entry = |row: usize, column: usize| {
        product(alone, row, column) + phases as f64 * product(common, row, column)
    };
    let size = alone.len();
    let row = |row: usize| (0..size).map(|column| entry(row, column)).collect();
    let has_density = (0..size).all(|n| alone[n][n] > 0.0);
    has_density.then(|| correlation_matrix::factor(&(0..size).map(row).collect())).flatten()
}

impl HeldColumn {
    /// Parts of it that are drawn for one converter in an arrangement.
    pub fn drawn(&self, size: ConverterSize, arrangement: Arrangement) -> usize {
        self.drawn.min(self.parameter.parts(size, arrangement))
    }
}

impl MeasuredDraws {
    /// The parameters.
    pub fn columns(&self) -> &[HeldColumn] {
        &self.columns
    }

    /// The measured parts that a sample holds: a list for each of the columns.
    pub fn of_sample(&self, sample: u64) -> Vec<Vec<HeldPart>> {
        let scores = self.population.scores(sample);
        self.columns.iter().map(|column| self.held(column, &scores)).collect()
    }

    fn held(&self, column: &HeldColumn, scores: &Scores) -> Vec<HeldPart> {
        let scatter = self.population.scatter[column.parameter.index()].as_ref();
        let held = |probability: f64, slope: f64| {
            let index = scatter?.marginal.measured_index(probability)?;
            Some(HeldPart { index, probability, slope })
        };
        let alone = scores.of_property(column.parameter.into()).map_or(&[][..], |own| &own.parts);
        match &column.scores {
            None => alone.iter().take(column.drawn).filter_map(|p| held(*p, 0.0)).collect(),
            Some(dependent) => {
                let phases = dependent.of_phases(scores, column.drawn);
                let own = phases.iter().map(|z| z[dependent.index]);
                let slopes = dependent.slopes(&phases);
                own.zip(slopes).filter_map(|(z, s)| held(normal::probability(z), s)).collect()
            }
        }
    }
}

impl DependentScores {
    /// The scores of all members, phase by phase.
    fn of_phases(&self, scores: &Scores, phases: usize) -> Vec<Vec<f64>> {
        let mixed =
            |factor: &Matrix, member: usize, probability: &dyn Fn(&PropertyScores) -> f64| {
                let terms = self.members.iter().zip(&factor[member]).take(member + 1);
                terms
                    .map(|(other, entry)| {
                        let own = scores.of_property((*other).into());
                        entry * own.map_or(0.0, |own| normal::quantile(probability(own)))
                    })
                    .sum::<f64>()
            };
        let common: Vec<f64> =
            (0..self.members.len()).map(|n| mixed(&self.common, n, &|own| own.common)).collect();
        let phase = |phase: usize| {
            let alone = |n: usize| mixed(&self.alone, n, &|own| own.parts[phase]);
            common.iter().enumerate().map(|(n, common)| common + alone(n)).collect()
        };
        (0..phases).map(phase).collect()
    }

    /// The slope of the logarithm of the density over the probability of each phase; zero where there
    /// is no density.
    ///
    /// With the covariance R of all scores the density of the probabilities is that of the scores
    /// divided by those of each by itself, so that the slope is (z − R⁻¹ z)/φ(z). Differences from the
    /// mean over the phases have the covariance B Bᵀ, and √N times the mean has B Bᵀ + N A Aᵀ.
    fn slopes(&self, phases: &[Vec<f64>]) -> Vec<f64> {
        let Some(mean_factor) = &self.mean_factor else { return vec![0.0; phases.len()] };
        let count = phases.len().max(1) as f64;
        let mean: Vec<f64> = (0..self.members.len())
            .map(|n| phases.iter().map(|z| z[n]).sum::<f64>() / count)
            .collect();
        let of_mean = correlation_matrix::solved(mean_factor, &mean)[self.index];
        let slope = |z: &Vec<f64>| {
            let apart: Vec<f64> = z.iter().zip(&mean).map(|(z, mean)| z - mean).collect();
            let apart = correlation_matrix::solved(&self.alone, &apart)[self.index];
            let z = z[self.index];
            (z - apart - of_mean) / normal::density(z)
        };
        phases.iter().map(slope).collect()
    }
}
