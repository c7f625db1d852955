//! The series-capacitor buck converter (literature since 2005; from memory): charge balance
//! I1 D1 = I2 D2, Vc = Vin D1/(D1 + D2), at equal duty Vin/2. A chain of two phases has the same
//! capacitor between the same switches, at duty 0.5.

use fairphase::converter::{Arrangement, Converter};
use fairphase::solver::chain_voltages;
use fairphase::units::Farad;

use super::{close, exactly, lossless, operating};

#[test]
fn the_capacitor_stands_at_half_the_input_whatever_its_size() {
    for flying in [0.5e-6, 5e-6, 1e-3] {
        let tank = lossless(60e-6, 27.3e-9, 210e-6, 16.0);
        let (converter, point) =
            (Converter::uniform(2, tank, Farad(flying)), operating(780.0, 11.5, 50.0));
        let state = exactly(&converter, &point, Arrangement::Chain);
        let voltages = chain_voltages(&state, &converter, &point);
        close("middle", voltages.legs[0].flying[0].middle.0, 390.0, 1e-6);
    }
}
