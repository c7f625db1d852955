//! NIST/SEMATECH e-Handbook, 6.1.6, "What is Process Capability?" (its numbers from memory).

use fairphase::statistics::{Capability, Confidence, Interval, normal};

/// Limits 8 and 20, mean 16, standard deviation 2: Cp 1.0, Cpk 0.6667. The values are made so that
/// they have this mean and deviation.
#[test]
fn capability_of_the_handbook() {
    let n = 50_usize;
    let reach = 2.0 * ((n as f64 - 1.0) / n as f64).sqrt();
    let values: Vec<f64> =
        (0..n).map(|k| if k % 2 == 0 { 16.0 + reach } else { 16.0 - reach }).collect();
    let limits = Interval { lower: 8.0, upper: 20.0 };
    let found = Capability::new(&values, limits, Confidence::new(0.95).unwrap()).unwrap();
    assert!((found.cp - 1.0).abs() < 1e-12 && (found.cpk - 2.0 / 3.0).abs() < 1e-12, "{found:?}");
    // The handbook's interval by hand: 1.95996 √(1/450 + 0.4444/98).
    let reach = 1.959_963_985 * (1.0 / 450.0 + 4.0 / 9.0 / 98.0_f64).sqrt();
    let interval = found.cpk_interval.unwrap();
    assert!((interval.upper - found.cpk - reach).abs() < 1e-9);
    assert!((found.cpk - interval.lower - reach).abs() < 1e-9);
    let process = Capability::of_process(16.0, 2.0, limits);
    assert!((process.cp - 1.0).abs() < 1e-15 && (process.cpk - 2.0 / 3.0).abs() < 1e-15);
    assert_eq!(process.cpk_interval, None);
    // Normal fallout of the same process: 22 781.80 ppm, as published.
    let fallout = normal::probability(-4.0) + normal::probability(-2.0);
    assert!((fallout * 1e6 - 22_781.80).abs() < 0.01, "{}", fallout * 1e6);
}
