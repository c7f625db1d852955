//! Invented converters whose parts lose power and warm up.

use fairphase::converter::{
    Arrangement, Condition, Converter, Drive, FrequencyBand, Influence, LossParts, OperatingPoint,
    ParalleledSwitches, Parameter, PartResponse, Rectifier, SelfHeating, Tank,
};
use fairphase::population::RandomSource;
use fairphase::solver::dissipation::Dissipation;
use fairphase::solver::{Case, Method, Outcome, SteadyState};
use fairphase::units::{Ampere, Celsius, Farad, Henry, Hertz, Ohm, Volt};

/// Ambient and reference temperature of all designs, °C.
pub(super) const AMBIENT: f64 = 45.0;
pub(super) const REFERENCE: f64 = 25.0;

/// A converter in a case, with the numbers that it was made from.
pub(super) struct Design {
    pub(super) converter: Converter,
    pub(super) case: Case,
}

/// Invented nominal losses: on-resistance, primary and secondary winding, diode slope, thermal
/// resistances of a switch and of a diode.
pub(super) const NOMINAL: [Option<f64>; 6] =
    [Some(0.040), Some(0.012), Some(0.002), Some(0.003), Some(1.5), Some(2.0)];

/// An invented tank.
pub(super) fn tank() -> Tank {
    Tank {
        resonant_inductance: Henry(5.0e-6),
        resonant_capacitance: Farad(250e-9),
        magnetising_inductance: Henry(28e-6),
        turns_ratio: 2.2,
        series_resistance: Ohm(0.010),
        rectifier_drop: Volt(0.7),
    }
}

pub(super) fn point(drive: Drive, rectifier: Rectifier, output: (f64, f64)) -> OperatingPoint {
    OperatingPoint {
        name: "test".to_owned(),
        input_voltage: Volt(380.0),
        output_voltage: Volt(output.0),
        output_current: Ampere(output.1),
        drive,
        rectifier,
        condition: Condition {
            self_heating: Some(SelfHeating {
                reference: Celsius(REFERENCE),
                ambient: Celsius(AMBIENT),
                of_switches: true,
                of_rectifiers: true,
            }),
            ..Condition::default()
        },
    }
}

pub(super) fn coefficient(converter: &Converter, parameter: Parameter, value: f64) -> PartResponse {
    let values = std::iter::repeat_n(value, converter.parts(parameter)).collect();
    PartResponse { parameter, influence: Influence::Temperature, values }
}

/// A converter with these losses, whose switches have 0.7 %/K, diodes −0.2 %/K and 0.3 %/K.
pub(super) fn heated(phases: usize, losses: &[Option<f64>; 6]) -> Converter {
    let mut converter = Converter::uniform(phases, tank(), Farad(40e-6));
    let equal = ParalleledSwitches::with_equal_loss(phases);
    converter.losses = Some(Box::new(LossParts::uniform(phases, losses, equal)));
    converter.responses = [
        (Parameter::RectifierDrop, -0.002),
        (Parameter::OnResistance, 0.007),
        (Parameter::RectifierResistance, 0.003),
    ]
    .map(|(parameter, value)| coefficient(&converter, parameter, value))
    .into();
    converter
}

pub(super) const BAND: FrequencyBand =
    FrequencyBand { minimum: Hertz(70e3), maximum: Hertz(400e3) };

/// Random designs: parts within ±5 %, losses within ±40 %, all drives and rectifiers, both arrangements.
pub(super) fn designs(count: u64) -> Vec<Design> {
    let mut next = RandomSource::from(20_261_126).numbers(0);
    let mut all = Vec::new();
    for n in 0..count {
        let phases = 2 + (n % 4) as usize;
        let drive = Drive::ALL[(n / 2 % 2) as usize];
        let rectifier = Rectifier::ALL[(n / 3 % 3) as usize];
        let mut converter = heated(phases, &NOMINAL);
        for parameter in Parameter::ALL {
            let width = if parameter.index_of_losses().is_some() { 0.4 } else { 0.05 };
            for index in 0..converter.parts(parameter) {
                if let Some(value) = converter.part_mut(parameter, index) {
                    *value *= 1.0 + width * (2.0 * next() - 1.0);
                }
            }
        }
        let full = if drive == Drive::FullBridge { 1.0 } else { 0.5 };
        let gain = rectifier.clamp_voltage(tank().turns_ratio, Volt(1.0), Volt(0.0));
        let voltage = 380.0 / phases as f64 * full / gain * (0.85 + 0.3 * next());
        let current = phases as f64 * (3.0 + 9.0 * next()) * rectifier.current_gain(2.2);
        let point = point(drive, rectifier, (voltage, current));
        let arrangement = Arrangement::ALL[(n % 2) as usize];
        all.push(Design { converter, case: Case::new(point, BAND, arrangement) });
    }
    all
}

pub(super) fn solved(design: &Design, method: Method) -> Option<SteadyState> {
    match method.solve(&design.converter, &design.case) {
        Outcome::Solved(state) => Some(state),
        _ => None,
    }
}

pub(super) fn dissipation(design: &Design, state: &SteadyState) -> Dissipation {
    let Design { converter, case } = design;
    let parts = converter.at(&case.point.condition);
    Dissipation::new(state, &parts, &case.point, case.arrangement)
        .unwrap_or_else(|| panic!("a part has no steady temperature"))
}

/// Power drawn from the input: charge of the high intervals, times voltage and frequency.
pub(super) fn input_power(design: &Design, state: &SteadyState) -> f64 {
    let point = &design.case.point;
    let volts = point.input_voltage.0 * point.drive.legs() as f64 * state.switching_frequency.0;
    match design.case.arrangement {
        Arrangement::Chain => state.phases[0].charge * volts,
        Arrangement::Paralleled => {
            let all: f64 = state.phases.iter().map(|p| p.charge).sum();
            all * volts / state.phases.len() as f64
        }
    }
}

/// Invented parts within ±3 %, losses within ±30 % and `share` times what they are.
pub(super) fn chain(drive: Drive, share: f64) -> Design {
    let mut next = RandomSource::from(3).numbers(7);
    let mut losses = NOMINAL;
    losses.iter_mut().take(4).for_each(|own| *own = own.map(|ohm| ohm * share));
    let mut converter = heated(3, &losses);
    for parameter in Parameter::ALL {
        let width = if parameter.index_of_losses().is_some() { 0.3 } else { 0.03 };
        for index in 0..converter.parts(parameter) {
            if let Some(value) = converter.part_mut(parameter, index) {
                *value *= 1.0 + width * (2.0 * next() - 1.0);
            }
        }
    }
    let volt = if drive == Drive::FullBridge { 50.0 } else { 25.0 };
    let point = point(drive, Rectifier::FullBridge, (volt, 60.0));
    Design { converter, case: Case::new(point, BAND, Arrangement::Chain) }
}
