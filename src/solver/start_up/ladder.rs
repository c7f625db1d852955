//! Ladders of equal parts: the capacitances of blocking switches, and resistors with capacitors.

use std::f64::consts::PI;

/// How far v(1)…v(N−1) lag behind Vin (N−k)/N at the end of an input ramp, in shares of Vin. The ladder
/// has N equal resistors R between input and ground, and equal capacitors C from its nodes to ground.
///
/// In the modes sin(j π k/N) of the ladder, with τ(j) = R C/(4 sin²(jπ/2N)) and the share c(j) of the
/// ideal voltages, the lag is Σ c(j) τ(j)/t (1 − e^(−t/τ(j))) sin(jπk/N). It never exceeds its end for a
/// long ramp, R C k(N−k)(2N−k)/(6N t).
pub fn ladder_lags(phases: usize, time_constant: f64, ramp: f64) -> Vec<f64> {
    let n = phases as f64;
    let sine = |mode: usize, node: usize| libm::sin(PI * (mode * node) as f64 / n);
    let modes: Vec<f64> = (1..phases)
        .map(|mode| {
            let ideal = (1..phases).map(|node| sine(mode, node) * (n - node as f64) / n);
            let share = 2.0 / n * ideal.sum::<f64>();
            let tau = time_constant / (4.0 * libm::sin(PI * mode as f64 / (2.0 * n)).powi(2));
            share * tau / ramp * -libm::expm1(-ramp / tau)
        })
        .collect();
    let lag = |node: usize| {
        let terms = modes.iter().enumerate().map(|(mode, lag)| lag * sine(mode + 1, node));
        terms.sum()
    };
    (1..phases).map(lag).collect()
}

/// Share of the input across high switch 1 when the capacitances of blocking switches divide it: r is the
/// capacitance of a low over that of a high switch.
pub(super) fn first_high_share(phases: usize, ratio: f64) -> f64 {
    // From the far end: u(N), u(N−1), …, u(0).
    let (mut below, mut here) = (1.0, 1.0 + ratio);
    for _ in 1..phases {
        (below, here) = (here, (2.0 + ratio) * here - below);
    }
    1.0 - below / here
}
