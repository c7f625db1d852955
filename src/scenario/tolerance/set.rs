//! The tolerances of all parameters.

use super::correlation::{Copula, Correlation, CorrelationError, Member, errors};
use super::response::ResponseTolerance;
use super::single::Tolerance;
use crate::converter::{Converter, Influence, Parameter, PartResponse, Property};

/// The tolerances of all parameters, and which of them correlate; a parameter without one is exact.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tolerances {
    parts: [Option<Tolerance>; Parameter::ALL.len()],
    responses: Vec<ResponseTolerance>,
    correlations: Vec<Correlation>,
}

impl Tolerances {
    /// The tolerance of a parameter.
    pub fn get(&self, parameter: Parameter) -> Option<&Tolerance> {
        self.parts[parameter.index()].as_ref()
    }

    /// The same tolerances but for one parameter's.
    #[must_use]
    pub fn with(&self, parameter: Parameter, tolerance: Option<Tolerance>) -> Self {
        let mut all = self.clone();
        all.parts[parameter.index()] = tolerance;
        all
    }

    /// The same tolerances with another half width of one parameter; as they are where it has none.
    #[must_use]
    pub fn with_band(&self, parameter: Parameter, band: f64) -> Self {
        self.with(parameter, self.get(parameter).map(|own| own.with_band(band)))
    }

    /// The same tolerances with all bands so many times as wide.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        let scaled =
            |own: &Option<Tolerance>| own.as_ref().map(|own| own.with_band(factor * own.band));
        Self { parts: self.parts.each_ref().map(scaled), ..self.clone() }
    }

    /// How parts respond to temperature and age, in the order of [`Parameter::ALL`].
    pub fn responses(&self) -> &[ResponseTolerance] {
        &self.responses
    }

    /// How the parts of a parameter respond to one influence.
    pub fn response(
        &self,
        parameter: Parameter,
        influence: Influence,
    ) -> Option<&ResponseTolerance> {
        let is_own = |r: &&ResponseTolerance| (r.parameter, r.influence) == (parameter, influence);
        self.responses.iter().find(is_own)
    }

    /// The same tolerances with one more response.
    #[must_use]
    pub fn with_response(mut self, response: ResponseTolerance) -> Self {
        self.responses.push(response);
        self.responses.sort_by_key(|own| (own.parameter, own.influence));
        self
    }

    /// The responses of nominal parts, one for each part that a converter has.
    pub fn nominal_responses(&self, converter: &Converter) -> Vec<PartResponse> {
        let of_parts = |own: &ResponseTolerance| PartResponse {
            parameter: own.parameter,
            influence: own.influence,
            values: std::iter::repeat_n(own.nominal(), converter.parts(own.parameter)).collect(),
        };
        self.responses.iter().map(of_parts).collect()
    }

    /// All properties that scatter: the values of the parts, then their responses.
    pub fn scattered(&self) -> impl Iterator<Item = (Property, &Tolerance)> {
        let values = self.iter().map(|(parameter, own)| (Property::from(parameter), own));
        let responses = self.responses.iter().map(|own| (own.property(), &own.scatter));
        values.chain(responses).filter(|(_, own)| own.band > 0.0)
    }

    /// The parameters that have a tolerance, in the order of [`Parameter::ALL`].
    pub fn iter(&self) -> impl Iterator<Item = (Parameter, &Tolerance)> {
        Parameter::ALL.into_iter().filter_map(|p| Some((p, self.get(p)?)))
    }
}

impl Tolerances {
    /// What parameters are correlated, in the order of [`Parameter::ALL`].
    pub fn correlations(&self) -> &[Correlation] {
        &self.correlations
    }

    /// The same tolerances with another correlation of a pair, or a new one. The order of the pair,
    /// and of all pairs, does not matter.
    #[must_use]
    pub fn with_correlation(&self, correlation: Correlation) -> Self {
        let mut all = self.clone();
        let mut between = correlation.between;
        between.sort_by_key(|parameter| parameter.index());
        all.correlations.retain(|known| known.between != between);
        all.correlations.push(Correlation { between, ..correlation });
        all.correlations.sort_by_key(|known| known.between.map(Parameter::index));
        all
    }

    /// The correlated parameters that have a tolerance.
    fn members(&self) -> Vec<Member> {
        let is_member = |p: &Parameter| self.correlations.iter().any(|c| c.between.contains(p));
        let all = self.iter().filter(|(parameter, _)| is_member(parameter));
        all.map(|(parameter, tolerance)| Member::new(parameter, tolerance)).collect()
    }

    /// Checks that the correlations can be had.
    ///
    /// # Errors
    ///
    /// When a pair cannot have its coefficient, or when the coefficients exclude each other.
    pub fn check_correlations(&self) -> Result<(), CorrelationError> {
        errors(self.members(), &self.correlations).into_iter().next().map_or(Ok(()), Err)
    }

    /// What makes the scores of the correlated parameters; none where there are none. Correlations
    /// that cannot be had ([`Self::check_correlations`]) are replaced by the nearest.
    pub fn copula(&self) -> Option<Copula> {
        Copula::nearest(self.members(), &self.correlations)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::Shape;

    const LR: Parameter = Parameter::ResonantInductance;
    const LM: Parameter = Parameter::MagnetisingInductance;
    const N: Parameter = Parameter::TurnsRatio;

    fn pair(first: Parameter, second: Parameter, coefficient: f64) -> Correlation {
        Correlation { between: [first, second], coefficient, across: None }
    }

    fn with(shares: [f64; 3], correlations: &[Correlation]) -> Tolerances {
        let own = |lot_share| Tolerance { lot_share, ..Tolerance::new(Shape::Uniform, 0.05) };
        let parts = [LR, LM, N].into_iter().zip(shares.map(own));
        let all = parts.fold(Tolerances::default(), |all, (p, own)| all.with(p, Some(own)));
        correlations.iter().fold(all, |all, one| all.with_correlation(*one))
    }

    /// Pearson (1907): uniform parts reach scores of 2 sin(π ρ/6), as `copula` has it. Without lots the
    /// own scores take all of it.
    #[test]
    fn a_single_pair_takes_the_closed_form() {
        let copula = with([0.0; 3], &[pair(LM, LR, 0.9)]).copula().unwrap();
        let wanted = 2.0 * (std::f64::consts::PI * 0.15).sin();
        assert_eq!(copula.members, [LR, LM]);
        assert!((copula.own[1][0] - wanted).abs() < 2e-5, "{}", copula.own[1][0]);
    }

    /// Where Lr shares a lot and Lm does not, only the owns can correlate: by hand, with the share
    /// r = 2 sin(π/12) of the scores, √(1 − r) at most.
    #[test]
    fn lots_limit_what_can_be_reached() {
        let shares = [0.5, 0.0, 0.0];
        let error = with(shares, &[pair(LR, LM, 0.9)]).check_correlations().unwrap_err();
        let CorrelationError::OutOfReach { between, is_across, range } = error else {
            panic!("{error:?}")
        };
        let share = 2.0 * (std::f64::consts::PI / 12.0).sin();
        let most = 6.0 / std::f64::consts::PI * (0.5 * (1.0 - share).sqrt()).asin();
        assert_eq!((between, is_across), ([LR, LM], false));
        assert!((range[1] - most).abs() < 1e-4 && (range[0] + most).abs() < 1e-4, "{range:?}");
        let inside = with(shares, &[pair(LR, LM, most - 0.001)]);
        assert_eq!(inside.check_correlations(), Ok(()));
        let across = Correlation { across: Some(0.2), ..pair(LR, LM, 0.5) };
        let across = with(shares, &[across]).check_correlations();
        assert!(matches!(across, Err(CorrelationError::OutOfReach { is_across: true, .. })));
    }

    /// What is proposed can be had, whatever excludes each other.
    #[test]
    fn the_nearest_coefficients_are_taken() {
        let across = |one, across| Correlation { across: Some(across), ..one };
        let cases = [
            vec![pair(LR, LM, 0.9), pair(LM, N, 0.9), pair(LR, N, -0.9)],
            vec![pair(LR, LM, 0.95), pair(LM, N, 0.95)],
            vec![
                across(pair(LR, LM, 0.85), 0.4),
                across(pair(LM, N, 0.85), 0.4),
                across(pair(LR, N, 0.1), -0.3),
            ],
        ];
        for case in cases {
            let shares = [0.5; 3];
            let error = with(shares, &case).check_correlations().unwrap_err();
            let CorrelationError::NotDefinite { nearest, .. } = error else { panic!("{error:?}") };
            assert_eq!(with(shares, &nearest).check_correlations(), Ok(()), "{nearest:?}");
            // Not far away either: a matrix of zeros would do, and is not proposed.
            assert!(nearest.iter().any(|c| c.coefficient.abs() > 0.4), "{nearest:?}");
        }
    }

    #[test]
    fn the_order_of_pairs_does_not_matter() {
        let one = with([0.0; 3], &[pair(LR, LM, 0.5), pair(N, LM, -0.2)]);
        let other = with([0.0; 3], &[pair(LM, N, -0.2), pair(LM, LR, 0.5)]);
        assert_eq!(one, other);
        assert_eq!(one.correlations().len(), 2);
        let again = one.with_correlation(pair(LM, LR, 0.1));
        assert_eq!(again.correlations(), [pair(LR, LM, 0.1), pair(LM, N, -0.2)]);
    }
}
