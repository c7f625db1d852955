//! What tanks deliver below half of their lowest resonance, where the source's harmonics make the
//! peaks: less than above it.

use proptest::prelude::*;

use super::start::Base;
use super::system::PerUnitConverter;
use crate::converter::{
    Arrangement, Converter, Drive, FrequencyBand, OperatingPoint, Rectifier, Tank,
};
use crate::solver::{Case, Effort};
use crate::units::{Ampere, Farad, Henry, Hertz, Ohm, Volt};

/// Ratio of neighbouring half periods of a scan.
const STRIDE: f64 = 1.004;

/// A converter of two phases about Lr = Cr = 1 and an amplitude of one a phase.
#[derive(Debug, Clone)]
struct Design {
    /// Lm/Lr, clamp over amplitude, R over characteristic impedance, Cr over flying capacitance.
    lm: f64,
    clamp: f64,
    loss: f64,
    flying: f64,
    /// By how much both parts of the second tank are off.
    off: [f64; 2],
    drive: Drive,
    arrangement: Arrangement,
}

impl Design {
    fn converter(&self) -> Converter {
        let tank = |l: f64, c: f64| Tank {
            resonant_inductance: Henry(l),
            resonant_capacitance: Farad(c),
            magnetising_inductance: Henry(self.lm),
            turns_ratio: 1.0,
            series_resistance: Ohm(self.loss),
            rectifier_drop: Volt(0.0),
        };
        let flying = [Farad(1.0 / self.flying)].into_iter().collect::<arrayvec::ArrayVec<_, _>>();
        Converter {
            tanks: [tank(1.0, 1.0), tank(self.off[0], self.off[1])].into_iter().collect(),
            flying: flying.clone(),
            flying_return: flying,
        }
    }

    fn case(&self) -> Case {
        let point = OperatingPoint {
            name: String::new(),
            input_voltage: Volt(2.0 / self.drive.amplitude()),
            output_voltage: Volt(self.clamp),
            output_current: Ampere(1.0),
            drive: self.drive,
            rectifier: Rectifier::FullBridge,
        };
        let band = FrequencyBand { minimum: Hertz(1e-6), maximum: Hertz(2.0) };
        Case::new(point, band, self.arrangement)
    }

    /// Highest output current at half periods between two, and where.
    fn highest(&self, from: f64, to: f64) -> (f64, f64) {
        let effort = Effort::new(1e9, None);
        let (converter, case) = (self.converter(), self.case());
        let base = Base::of_first_phase(&converter, &case.point);
        let system = PerUnitConverter::new(&converter, &case, &base, &effort);
        let mut guess = system.cold(from);
        let (mut best, mut h) = ((0.0, from), from);
        while h < to {
            if let Some(at) = system.deliver(&guess, h) {
                if at.current > best.0 {
                    best = (at.current, h);
                }
                guess = at.point;
            }
            h *= STRIDE;
        }
        best
    }

    fn last_turn(&self) -> f64 {
        let effort = Effort::default();
        let (converter, case) = (self.converter(), self.case());
        let base = Base::of_first_phase(&converter, &case.point);
        PerUnitConverter::new(&converter, &case, &base, &effort).last_turn()
    }
}

fn designs() -> impl Strategy<Value = Design> {
    let logarithmic = |low: f64, high: f64| (low.ln()..high.ln()).prop_map(f64::exp);
    let parts = (
        logarithmic(0.3, 100.0),
        logarithmic(0.1, 10.0),
        logarithmic(0.003, 10.0),
        logarithmic(1e-3, 10.0),
    );
    let off = [logarithmic(0.3, 3.0), logarithmic(0.3, 3.0)];
    let ways = (
        prop_oneof![Just(Drive::HalfBridge), Just(Drive::FullBridge)],
        prop_oneof![Just(Arrangement::Chain), Just(Arrangement::Paralleled)],
    );
    (parts, off, ways).prop_map(|((lm, clamp, loss, flying), off, (drive, arrangement))| Design {
        lm,
        clamp,
        loss,
        flying,
        off,
        drive,
        arrangement,
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, max_shrink_iters: 0, ..ProptestConfig::default() })]
    #[test]
    fn deliver_less_than_above(design in designs()) {
        let turn = design.last_turn();
        let cut: f64 = std::env::var("CUT").unwrap().parse().unwrap();
        let above = design.highest(0.3, cut * turn);
        let below = design.highest(cut * turn, 5.0 * cut * turn);
        if below.0 > above.0 { println!("VIOLATION {design:?} above {above:?} below {below:?} turn {turn}"); }
    }
}
