//! A. Bouziani, 1200 W 400/48 V LLC tank design note (2026): n 4, Ln 3, Qe 0.55, f0 100 kHz.

use std::f64::consts::{FRAC_PI_2, SQRT_2};

use super::{averaged_phase, close, lossless, operating};

/// Cr 116.209 nF, Lr 21.797 µH, Lm 65.392 µH; Im 6.992 A, Ioe (110 %) 7.636 A, Ir 10.354 A,
/// secondary 30.545 A. The magnetising current belongs to 60.17 kHz. At 110 % load that is on the
/// capacitive side of the gain's peak, which no regulation selects; at 100 % it is just on the
/// inductive side, and Ir² = (Ioe/1.1)² + Im² there.
#[test]
fn averaged_currents_of_the_example() {
    let tank = lossless(21.797e-6, 116.209e-9, 65.392e-6, 4.0);
    // Each of the two parts is rounded to 2.3e-5 of itself at most.
    close("resonance", tank.series_resonance().0 / 100e3, 1.0, 2e-5);
    // The input at which the gain of 100 % load is met at 60.17 kHz.
    let (ratio, ln, qe) = (0.6017_f64, 3.0, 0.55);
    let square = ratio * ratio;
    let m = ln * square / ((ln + 1.0) * square - 1.0).hypot((square - 1.0) * ratio * qe * ln);
    let state = averaged_phase(tank, &operating(2.0 * 4.0 * 48.0 / m, 48.0, 25.0));
    let rms = state.phases[0].rms_current.0;
    close("rms", rms, (7.636_f64 / 1.1).hypot(6.992), 5e-3);
    close("110 % load", state.phases[0].output_current.0 * 1.1 * FRAC_PI_2 / SQRT_2, 30.545, 6e-4);
}
