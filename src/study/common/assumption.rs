//! Other assumptions about the parts, and what they make of a set of tolerances.
//!
//! Each is changed alone. They are about what a data sheet seldom tells: lots, correlation, shape and
//! mean of the parts.

use crate::converter::Parameter;
use crate::scenario::{Correlation, CorrelationError, Shape, Tolerance, Tolerances};

/// Lot shares that are tried.
const LOT_SHARES: [f64; 2] = [0.0, 0.9];
/// Correlations that are tried.
const COEFFICIENTS: [f64; 2] = [-0.9, 0.9];
/// Parameters that may come from one core.
const OF_ONE_CORE: [[Parameter; 2]; 2] = [
    [Parameter::ResonantInductance, Parameter::MagnetisingInductance],
    [Parameter::MagnetisingInductance, Parameter::TurnsRatio],
];
/// Means that are tried, in half widths of the band from its middle.
const MEANS: [f64; 2] = [-0.25, 0.25];
/// Standard deviations in a half width of parts that are normal instead of uniform.
const SIGMAS: f64 = 3.0;

/// Another assumption about the parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Assumption {
    /// All parameters have this lot share.
    LotShare(f64),
    /// Two parameters of a phase have this correlation.
    Correlation {
        /// The parameters.
        between: [Parameter; 2],
        /// Pearson's, of their values.
        coefficient: f64,
    },
    /// Parts that are normal in the scenario are uniform.
    Uniform,
    /// Parts that are uniform in the scenario are normal and end at the band.
    Normal,
    /// The means of all parts lie so many half widths from the middle of the band. Normal parts move
    /// their mean. Others fill the part of the band that has its middle there.
    Mean(f64),
}

impl Assumption {
    /// The assumptions that differ from a scenario's, with what they make of its tolerances. Those
    /// that cannot be had together with its other tolerances are not here.
    pub fn alternatives(tolerances: &Tolerances) -> Vec<(Self, Tolerances)> {
        let correlations = OF_ONE_CORE.into_iter().flat_map(|between| {
            COEFFICIENTS.map(|coefficient| Self::Correlation { between, coefficient })
        });
        let correlations = correlations.map(|assumption| assumption.within_reach(tolerances));
        LOT_SHARES
            .map(Self::LotShare)
            .into_iter()
            .chain(correlations)
            .chain([Self::Uniform, Self::Normal])
            .chain(MEANS.map(Self::Mean))
            .filter_map(|assumption| Some((assumption, assumption.applied(tolerances)?)))
            .filter(|(_, changed)| changed != tolerances && changed.check_correlations().is_ok())
            .collect()
    }

    /// A correlation that lots and shapes do not let the parts have, as far as they do, in two digits.
    fn within_reach(self, tolerances: &Tolerances) -> Self {
        let Self::Correlation { between, coefficient } = self else { return self };
        match self.applied(tolerances).map(|changed| changed.check_correlations()) {
            Some(Err(CorrelationError::OutOfReach { is_across: false, range, .. })) => {
                let end = coefficient.clamp(range[0], range[1]);
                Self::Correlation { between, coefficient: (100.0 * end).trunc() / 100.0 }
            }
            _ => self,
        }
    }

    /// The tolerances under this assumption; none where it has no meaning for them.
    fn applied(self, tolerances: &Tolerances) -> Option<Tolerances> {
        let scatters = |p: Parameter| tolerances.get(p).is_some_and(|own| own.band > 0.0);
        match self {
            Self::Correlation { between, coefficient } => {
                let correlation = Correlation { between, coefficient, across: None };
                let is_asked = between.into_iter().all(scatters);
                is_asked.then(|| tolerances.with_correlation(correlation))
            }
            _ => Some(tolerances.iter().fold(tolerances.clone(), |all, (parameter, own)| {
                if own.band > 0.0 { all.with(parameter, Some(self.changed(own))) } else { all }
            })),
        }
    }

    /// One tolerance under this assumption.
    fn changed(self, own: &Tolerance) -> Tolerance {
        let with_shape = |shape| Tolerance { shape, screened: None, ..own.clone() };
        match (self, &own.shape) {
            (Self::LotShare(lot_share), _) => Tolerance { lot_share, ..own.clone() },
            (Self::Uniform, Shape::Normal { .. }) => with_shape(Shape::Uniform),
            (Self::Normal, Shape::Uniform) => with_shape(Shape::normal(SIGMAS)),
            (Self::Mean(mean), Shape::Normal { sigmas, .. }) => {
                with_shape(Shape::Normal { mean, sigmas: *sigmas })
            }
            (Self::Mean(mean), shape) if !matches!(shape, Shape::Measured(_)) => Tolerance {
                middle: own.middle + mean * own.band,
                band: (1.0 - mean.abs()) * own.band,
                ..own.clone()
            },
            _ => own.clone(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LR: Parameter = Parameter::ResonantInductance;
    const LM: Parameter = Parameter::MagnetisingInductance;

    fn tolerances() -> Tolerances {
        Tolerances::default()
            .with(LR, Some(Tolerance::new(Shape::normal(2.0), 0.04)))
            .with(LM, Some(Tolerance::new(Shape::Uniform, 0.1)))
    }

    fn changed(assumption: Assumption, parameter: Parameter) -> Tolerance {
        assumption.applied(&tolerances()).unwrap().get(parameter).unwrap().clone()
    }

    /// By hand: without lots a share of 0 is no change, and without a tolerance of the turns ratio
    /// there is no second pair.
    #[test]
    fn only_what_differs_is_tried() {
        let tried: Vec<Assumption> =
            Assumption::alternatives(&tolerances()).into_iter().map(|(a, _)| a).collect();
        let pair = |coefficient| Assumption::Correlation { between: [LR, LM], coefficient };
        assert_eq!(
            tried,
            [
                Assumption::LotShare(0.9),
                pair(-0.9),
                pair(0.9),
                Assumption::Uniform,
                Assumption::Normal,
                Assumption::Mean(-0.25),
                Assumption::Mean(0.25),
            ]
        );
        assert!(Assumption::alternatives(&Tolerances::default()).is_empty());
    }

    /// Parts of which one shares a lot and the other does not: √(1 − 0.5) is the most that normal
    /// parts can correlate by.
    #[test]
    fn correlations_go_as_far_as_lots_allow() {
        let normal = Tolerance::new(Shape::normal(8.0), 0.04);
        let lot = Tolerance { lot_share: 0.5, ..normal.clone() };
        let both = Tolerances::default().with(LR, Some(lot)).with(LM, Some(normal));
        let tried = Assumption::alternatives(&both);
        let coefficients = tried.iter().filter_map(|(assumption, _)| match assumption {
            Assumption::Correlation { coefficient, .. } => Some(*coefficient),
            _ => None,
        });
        assert_eq!(coefficients.collect::<Vec<_>>(), [-0.7, 0.7]);
    }

    /// By hand: the mean of a uniform part from −5 % to 10 % is a quarter of 10 %.
    #[test]
    fn means_lie_at_a_quarter_of_the_band() {
        let [low, high] = changed(Assumption::Mean(0.25), LM).ends();
        assert!((low + 0.05).abs() < 1e-15 && (high - 0.1).abs() < 1e-15, "{low} {high}");
        let [low, high] = changed(Assumption::Mean(-0.25), LM).ends();
        assert!((low + 0.1).abs() < 1e-15 && (high - 0.05).abs() < 1e-15, "{low} {high}");
        let normal = changed(Assumption::Mean(0.25), LR);
        assert_eq!(normal.shape, Shape::Normal { mean: 0.25, sigmas: 2.0 });
        assert!((normal.process().unwrap().mean - 0.01).abs() < 1e-15);
        assert_eq!(changed(Assumption::Uniform, LR).shape, Shape::Uniform);
        assert_eq!(changed(Assumption::Normal, LM).shape, Shape::normal(3.0));
        assert_eq!(changed(Assumption::Normal, LR), *tolerances().get(LR).unwrap());
    }
}
