//! The parts of a converter under a condition.
//!
//! Values of parts hold new, at the reference temperature. A converter at an operating point has
//!
//! ```text
//! value (1 + c (T − T_ref)) (1 + d)
//! ```
//!
//! with the temperature coefficient c and the drift d of each part, the latter at the end of life
//! only. Where a standard states how far a value may change anywhere in a range of temperatures and no
//! coefficient, `c (T − T_ref)` is replaced by the part's change, at any temperature but the reference.
//!
//! Where the temperature of a part follows from its losses ([`SelfHeating`](super::SelfHeating)), its
//! value stays that at the reference temperature, and its coefficient stays with it: the solver finds
//! both temperature and value.

use std::borrow::Cow;

use super::{Condition, Converter, PartResponse};

impl Converter {
    /// The converter as it is under a condition: its parts have the values that they take there, and
    /// respond no further, but for those that heat themselves.
    pub fn at(&self, condition: &Condition) -> Cow<'_, Self> {
        let is_given = |own: &PartResponse| !condition.is_self_heated(own.property());
        if !self.responses.iter().any(is_given) {
            return Cow::Borrowed(self);
        }
        // What the condition takes up is not copied: samples ask often.
        let Self { tanks, flying, flying_return, responses, losses, healthy_phases, places } = self;
        let mut changed = Self {
            tanks: tanks.clone(),
            flying: flying.clone(),
            flying_return: flying_return.clone(),
            responses: responses.iter().filter(|own| !is_given(own)).cloned().collect(),
            losses: losses.clone(),
            healthy_phases: *healthy_phases,
            places: places.clone(),
        };
        let phases = self.phases();
        let given = self.responses.iter().filter(|own| is_given(own));
        for PartResponse { parameter, influence, values } in given {
            for (index, response) in values.iter().enumerate() {
                let change = response * condition.stress(*influence, *parameter, index, phases);
                if let Some(value) = changed.part_mut(*parameter, index) {
                    *value *= 1.0 + change;
                }
            }
        }
        Cow::Owned(changed)
    }

    /// Parts that nominal responses turn into what this converter has under a condition: what a file
    /// of parts holds so that the condition applied to it gives this converter again. Parts that heat
    /// themselves keep their own coefficients.
    #[must_use]
    pub fn as_if_nominal_at(&self, condition: &Condition, nominal: &Self) -> Self {
        let mut parts = self.at(condition).into_owned();
        let phases = self.phases();
        let is_given = |own: &&PartResponse| !condition.is_self_heated(own.property());
        for PartResponse { parameter, influence, values } in
            nominal.responses.iter().filter(is_given)
        {
            for (index, response) in values.iter().enumerate() {
                let change = response * condition.stress(*influence, *parameter, index, phases);
                if let Some(value) = parts.part_mut(*parameter, index) {
                    *value /= 1.0 + change;
                }
            }
        }
        let kept = |of_nominal: &PartResponse| {
            let property = of_nominal.property();
            let is_heated = condition.is_self_heated(property);
            let mut own = self.responses.iter().filter(|own| own.property() == property);
            own.next().filter(|_| is_heated).unwrap_or(of_nominal).clone()
        };
        parts.responses = nominal.responses.iter().map(kept).collect();
        parts
    }

    /// Whether temperature or age change any of its parts.
    pub fn responds(&self) -> bool {
        !self.responses.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::converter::{Age, Influence, Parameter, Tank};
    use crate::units::{Farad, Henry, Ohm, Volt};

    fn three_phases() -> Converter {
        let tank = Tank {
            resonant_inductance: Henry(5e-6),
            resonant_capacitance: Farad(200e-9),
            magnetising_inductance: Henry(20e-6),
            turns_ratio: 2.0,
            series_resistance: Ohm(0.03),
            rectifier_drop: Volt(0.7),
        };
        Converter::uniform(3, tank, Farad(40e-6))
    }

    fn response(parameter: Parameter, influence: Influence, values: &[f64]) -> PartResponse {
        PartResponse { parameter, influence, values: values.iter().copied().collect() }
    }

    /// By hand: −200 ppm/K at 60, 70 and 80 K above the reference, and copper of 0.393 %/K.
    #[test]
    fn each_phase_has_its_own_temperature() {
        let mut converter = three_phases();
        let (cr, r) = (Parameter::ResonantCapacitance, Parameter::SeriesResistance);
        converter.responses = vec![
            response(cr, Influence::Temperature, &[-200e-6; 3]),
            response(r, Influence::Temperature, &[0.00393; 3]),
        ];
        let mut condition = Condition { phase_rise: 10.0, ..Condition::default() };
        condition.above_reference[cr.index()] = 60.0;
        let hot = converter.at(&condition);
        let wanted = [0.988, 0.986, 0.984];
        for (tank, factor) in hot.tanks.iter().zip(wanted) {
            assert!((tank.resonant_capacitance.0 / 200e-9 - factor).abs() < 1e-12);
        }
        assert!((hot.tanks[2].series_resistance.0 / 0.03 - 1.0786).abs() < 1e-12);
        assert!(!hot.responds());
    }

    /// By hand: −3 % of drift at the end of life alone; a change anywhere in the range is none at the
    /// reference temperature.
    #[test]
    fn age_and_range_act_where_they_apply() {
        let mut converter = three_phases();
        let (cr, cf) = (Parameter::ResonantCapacitance, Parameter::FlyingCapacitance);
        converter.responses = vec![
            response(cr, Influence::Age, &[-0.03, 0.01, 0.0]),
            response(cf, Influence::AnyTemperature, &[-0.15, 0.10, 0.05, 0.0]),
        ];
        let mut condition = Condition::default();
        assert_eq!(converter.at(&condition).tanks, converter.tanks);
        assert_eq!(converter.at(&condition).flying, converter.flying);
        condition = condition.aged(Age::EndOfLife);
        condition.above_reference[cf.index()] = -10.0;
        condition.phase_rise = 10.0;
        let changed = converter.at(&condition);
        assert!((changed.tanks[0].resonant_capacitance.0 - 194e-9).abs() < 1e-18);
        // The second flying capacitor of each leg is at the reference temperature.
        let flying: Vec<f64> = changed.flying.iter().map(|c| c.0 / 40e-6).collect();
        assert!((flying[0] - 0.85).abs() < 1e-12 && (flying[1] - 1.0).abs() < 1e-15);
        assert!((changed.flying_return[0].0 / 40e-6 - 1.05).abs() < 1e-12);
    }

    /// A file of parts tells values only: nominal responses make the same converter of them.
    #[test]
    fn parts_of_a_file_give_the_converter_again() {
        let cr = Parameter::ResonantCapacitance;
        let mut nominal = three_phases();
        nominal.responses = vec![response(cr, Influence::Age, &[-0.03; 3])];
        let mut drawn = nominal.clone();
        drawn.responses = vec![response(cr, Influence::Age, &[-0.05, -0.02, 0.0])];
        let condition = Condition::default().aged(Age::EndOfLife);
        let filed = drawn.as_if_nominal_at(&condition, &nominal);
        let (own, again) = (drawn.at(&condition), filed.at(&condition));
        for (own, again) in own.tanks.iter().zip(&again.tanks) {
            let ratio = own.resonant_capacitance.0 / again.resonant_capacitance.0;
            assert!((ratio - 1.0).abs() < 1e-14);
        }
    }
}
