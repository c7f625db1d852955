//! Loops that are settled together with the steady state, where that is possible.
//!
//! Only the exact solver tells how output currents answer trims, of converters whose parts do not follow their
//! losses.

use arrayvec::ArrayVec;

use super::case::{TrimCase, TrimStart};
use super::loops::return_to_rest;
use super::range::PhaseValues;
use super::search::TrimSearch;
use crate::converter::{Converter, MAX_PHASES, Sensors, Shared};
use crate::solver::case::Case;
use crate::solver::exact::{
    Approach, Detail, OutputLoops, SettledLoops, approach_loops, settle_loops,
};
use crate::solver::method::Method;

/// A converter close to where its loops settle.
#[derive(Debug, Clone)]
pub struct ApproachedTrims {
    /// What is told there.
    pub approach: Approach,
    /// The parts as they are trimmed there, with the added resistance.
    pub converter: Converter,
}

impl TrimCase<'_> {
    /// The converter close to where its loops settle, if they do within their range, next to where its parts
    /// let expect them.
    pub fn approach(
        &self,
        converter: &Converter,
        sensors: &Sensors,
        from: &TrimStart,
        detail: Detail,
    ) -> Option<ApproachedTrims> {
        let untrimmed = self.with_resistance(converter);
        let sensors = &self.sensors(sensors);
        let effort = self.solver.effort(1.0);
        let search =
            TrimSearch { case: self, untrimmed: &untrimmed, sensors, from, evaluations: 0, effort };
        if !search.is_told() {
            return None;
        }
        let expected = search.first();
        let loops = search.loops(&expected);
        let near = approach_loops(&untrimmed, &from.case, &search.effort, &loops, detail)?;
        let trimmed = || self.trimmed(&untrimmed, &near.trims);
        let approach = near.approach;
        search.are_stable(&near.answers).then(|| ApproachedTrims { approach, converter: trimmed() })
    }
}

impl TrimSearch<'_> {
    /// The settled loops, inside their range and stable; none where that is left to trials of trims.
    pub(super) fn settle_jointly(&self, case: &Case) -> Option<SettledLoops> {
        if !self.is_told() {
            return None;
        }
        let expected = self.first();
        settle_loops(self.untrimmed, case, &self.effort, &self.loops(&expected))
            .filter(|own| self.are_stable(&own.answers))
    }

    fn is_told(&self) -> bool {
        let trim = &self.case.trim;
        self.case.solver.method == Method::Exact
            && trim.measured == Shared::OutputCurrent
            && trim.range > 0.0
            && self.untrimmed.losses.is_none()
    }

    fn loops<'l>(&'l self, expected: &'l [f64]) -> OutputLoops<'l> {
        let trim = &self.case.trim;
        let (parameter, range) = (trim.parameter, trim.range);
        OutputLoops { parameter, range, sensors: self.sensors, expected }
    }

    fn are_stable(&self, answers: &[PhaseValues]) -> bool {
        let free: ArrayVec<usize, MAX_PHASES> = (0..self.sensors.len()).collect();
        let gains = || self.sensors.iter().map(|sensor| self.from.sense * sensor.gain);
        let y = |answer: &PhaseValues| answer.iter().zip(gains()).map(|(i, g)| g * i).collect();
        let answers: Vec<PhaseValues> = answers.iter().map(y).collect();
        return_to_rest(&free, &answers)
    }
}

#[cfg(test)]
mod tests {
    use super::super::case::Trim;
    use super::*;
    use crate::converter::{
        Arrangement, Condition, Drive, FrequencyBand, OperatingPoint, Parameter, Rectifier, Sensor,
        Tank,
    };
    use crate::units::{Ampere, Farad, Henry, Hertz, Ohm, Volt};

    const RANGE: f64 = 0.2;

    /// Three phases, all parts invented, a few percent off.
    fn converter(off: f64) -> Converter {
        let tank = Tank {
            resonant_inductance: Henry(5e-6),
            resonant_capacitance: Farad(220e-9),
            magnetising_inductance: Henry(30e-6),
            turns_ratio: 2.3,
            series_resistance: Ohm(0.04),
            rectifier_drop: Volt(0.6),
        };
        let mut converter = Converter::uniform(3, tank, Farad(40e-6));
        for (k, tank) in converter.tanks.iter_mut().enumerate() {
            let share = [0.6, -1.0, 0.3][k];
            tank.resonant_inductance.0 *= 1.0 + share * off;
            tank.resonant_capacitance.0 *= 1.0 - 0.4 * share * off;
            tank.magnetising_inductance.0 *= 1.0 + 2.0 * share * share * off;
        }
        converter
    }

    fn sensors() -> Sensors {
        let sensor = |gain, offset| Sensor { gain, offset: Ampere(offset), ..Sensor::IDEAL };
        [sensor(1.003, 0.02), sensor(0.998, 0.0), sensor(1.0, -0.03)].into_iter().collect()
    }

    fn see(arrangement: Arrangement, parameter: Parameter, mut and: impl FnMut(&TrimCase)) {
        let point = OperatingPoint {
            name: String::new(),
            input_voltage: Volt(400.0),
            output_voltage: Volt(54.0),
            output_current: Ampere(50.0),
            drive: Drive::FullBridge,
            rectifier: Rectifier::FullBridge,
            condition: Condition::default(),
        };
        let band = FrequencyBand { minimum: Hertz(80e3), maximum: Hertz(320e3) };
        let case = Case::new(point, band, arrangement);
        let measured = Shared::OutputCurrent;
        let trim = Trim { measured, parameter, range: RANGE, added_resistance: Ohm(0.0) };
        and(&TrimCase { solver: Method::Exact.into(), case: &case, trim });
    }

    /// Against trials of trims with whole steady states: where the loops settle, and by differences how their
    /// readings answer trims there.
    #[test]
    fn loops_settle_and_answer_as_whole_steady_states_have_it() {
        let parameters = [Parameter::ResonantInductance, Parameter::ResonantCapacitance];
        for (arrangement, parameter) in
            Arrangement::ALL.into_iter().flat_map(|own| parameters.map(|p| (own, p)))
        {
            see(arrangement, parameter, |case| {
                let from = case.prepare(&converter(0.0)).1.unwrap();
                for off in [0.0, 0.01, 0.03] {
                    let (untrimmed, sensors) = (converter(off), sensors());
                    let effort = case.solver.effort(4.0);
                    let mut search = TrimSearch {
                        case,
                        untrimmed: &untrimmed,
                        sensors: &sensors,
                        from: &from,
                        evaluations: 0,
                        effort,
                    };
                    let found = search.settle_jointly(&from.case).unwrap();
                    let tried = search.settle().unwrap();
                    let close = |a: f64, b: f64, within: f64| {
                        assert!((a - b).abs() < within, "{a} against {b}, {arrangement:?} {off}");
                    };
                    for (a, b) in found.trims.iter().zip(&tried.trims) {
                        close(*a, *b, 2e-6);
                    }
                    let [a, b] = [&found.state, &tried.state].map(|x| x.switching_frequency.0);
                    close(a / b, 1.0, 1e-6);
                    let at = search.evaluate(&found.trims).unwrap();
                    for (j, answer) in found.answers.iter().enumerate() {
                        let differences = search.answer_to(&at, j, 2).unwrap();
                        let size = differences.iter().fold(0.0, |a, x| f64::max(a, x.abs()));
                        for ((own, sensor), y) in answer.iter().zip(&sensors).zip(&differences) {
                            close(from.sense * sensor.gain * own / size, y / size, 3e-3);
                        }
                    }
                }
            });
        }
    }

    /// What is told from nearby lies no farther from the settled loops than two of the steps left, near the nominal
    /// parts and far from them.
    #[test]
    fn what_is_told_from_nearby_holds_where_the_loops_settle() {
        for arrangement in Arrangement::ALL {
            see(arrangement, Parameter::ResonantInductance, |case| {
                let from = case.prepare(&converter(0.0)).1.unwrap();
                for off in [0.0, 0.01, 0.03, 0.06, 0.1] {
                    let (untrimmed, sensors) = (converter(off), sensors());
                    let told = case.approach(&untrimmed, &sensors, &from, Detail::Outputs);
                    let near = told.unwrap().approach;
                    let settled = case.settle(&untrimmed, &sensors, &from);
                    let state = settled.outcome.solved().unwrap();
                    let most = 2.0 * near.change.0.max(1e-9);
                    for (own, phase) in near.output_currents.iter().zip(&state.phases) {
                        let apart = (own.0 - phase.output_current.0).abs();
                        assert!(apart <= most, "{arrangement:?} {off}: {apart} A of {most} A");
                    }
                }
            });
        }
    }

    /// A range that the loops do not get by with is left to the search, and so are other readings.
    #[test]
    fn what_is_not_inside_the_range_is_left_to_the_search() {
        see(Arrangement::Paralleled, Parameter::ResonantInductance, |case| {
            let narrow = TrimCase { trim: Trim { range: 0.005, ..case.trim }, ..*case };
            let from = narrow.prepare(&converter(0.0)).1.unwrap();
            let trimmed = narrow.settle(&converter(0.03), &sensors(), &from);
            assert!(trimmed.at_end.iter().any(|end| *end) && trimmed.evaluations > 1);
            let rms = Trim { measured: Shared::RmsTankCurrent, ..case.trim };
            let rms = TrimCase { trim: rms, ..*case };
            let from = rms.prepare(&converter(0.0)).1.unwrap();
            assert!(rms.settle(&converter(0.01), &sensors(), &from).evaluations > 1);
            let from = case.prepare(&converter(0.0)).1.unwrap();
            assert_eq!(case.settle(&converter(0.01), &sensors(), &from).evaluations, 1);
        });
    }
}
