//! A. Bouziani, 1200 W 400/48 V LLC tank design note (2026): n 4, Ln 3, Qe 0.55, f0 100 kHz.

use std::f64::consts::{FRAC_PI_2, PI, SQRT_2};

use fairphase::converter::{RatedPart, Stress};

use super::{
    LoadedConverter, Resonance, ZERO_AT_RESONANCE, averaged_phase, close, lossless, operating,
};

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

/// The note's output capacitor: it takes Io √(π²/8 − 1) RMS of the load Io at the nominal frequency,
/// which is the tank's resonance, and the rectifier's peak is (π/4) Io · 2 (it cites Huang 2010, pages 26 and
/// 27). Its secondary current of 30.545 A is for 110 % of 25 A. All of them keep the sine alone: the
/// magnetising current of this tank, as large as the load's, adds to them what [`Resonance`] tells.
#[test]
fn published_equations_of_the_secondary_side_lie_below_by_the_harmonics() {
    let tank = lossless(21.797e-6, 116.209e-9, 65.392e-6, 4.0);
    let at_resonance = |load: f64| {
        let one = LoadedConverter::single(tank, operating(2.0 * 4.0 * 48.0, 48.0, load));
        (one, Resonance::new(&tank, 4.0 * 48.0, load))
    };
    let (one, form) = at_resonance(25.0);
    let capacitor = RatedPart::OutputCapacitor;
    let published = 25.0 * (PI * PI / 8.0 - 1.0).sqrt();
    close("published", published, 12.086, 5e-4);
    one.slightly_above(capacitor, Stress::RmsCurrent, published, form.ripple_factor());
    let peak = PI / 4.0 * 25.0 * 2.0;
    let most = 4.0 * form.rectified_peak() / peak;
    one.slightly_above(RatedPart::Rectifier, Stress::PeakCurrent, peak, most);
    let most = most * (1.0 + ZERO_AT_RESONANCE);
    one.slightly_above(capacitor, Stress::PeakToPeakCurrent, peak, most);
    let (one, form) = at_resonance(27.5);
    let secondary = Stress::SecondaryRmsCurrent;
    // Five digits of the published value.
    let factor = form.rectified_factor() * (1.0 + 5e-4 / 30.545);
    one.slightly_above(RatedPart::Transformer, secondary, 30.545 - 5e-4, factor + 2e-5);
}
