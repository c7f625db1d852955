//! JCGM 101:2008, "Evaluation of measurement data – Supplement 1 to the Guide to the expression of
//! uncertainty in measurement – Propagation of distributions using a Monte Carlo method", clause 9:
//! its examples, propagated with the crate's own draws and judged by its own statistics. The
//! published numbers are from memory; the exact ones beside them follow from closed forms.
//!
//! The phases of a drawn converter serve as independent inputs: a deviation in units of its band is
//! rectangular on (−1, 1); a normal one cut off at eight standard deviations, where 1e-15 is
//! missing, is a normal one. Tolerances: the rounding of the published digits and four standard
//! errors of the estimate, with a fixed seed. What the law of propagation of uncertainty (a linear
//! model and a normal distribution) gives instead is shown to fail where the document shows it.

use fairphase::converter::Parameter;
use fairphase::population::Population;
use fairphase::scenario::Scenario;
use fairphase::statistics::{Distribution, Ordered};
use rayon::prelude::*;

const TRIALS: u64 = 1_000_000;
const ERRORS: f64 = 4.0;

/// Four inputs of each kind: normal with mean 0 and deviation 1, and rectangular on (−1, 1).
struct Inputs {
    normal: [f64; 4],
    rectangular: [f64; 4],
}

/// Draws all trials of a model. `lot_share` is the correlation of the normal inputs.
fn trials(lot_share: f64, model: impl Fn(&Inputs) -> f64 + Sync) -> Output {
    let shelf = include_str!("../../data/shelf.toml").replace("phases = 3", "phases = 4");
    let tolerances = format!(
        "[tolerance.resonant_inductance]\nshape = \"normal\"\nsigmas = 8\nband = \"40 %\"\n\
         lot_share = {lot_share}\n\
         [tolerance.resonant_capacitance]\nshape = \"uniform\"\nband = \"40 %\"\n"
    );
    let text = format!("{}{tolerances}", &shelf[..shelf.find("[tolerance").unwrap()]);
    let population = Population::new(&Scenario::parse("clause 9", &text).unwrap(), 101);
    let nominal = population.nominal().tanks[0];
    let of = |trial: u64| {
        let tanks = population.draw(trial).tanks;
        let deviation = |k: usize, p: Parameter| {
            let tank = tanks[k];
            (tank.value(p).unwrap() / nominal.value(p).unwrap() - 1.0) / 0.4
        };
        model(&Inputs {
            normal: std::array::from_fn(|k| 8.0 * deviation(k, Parameter::ResonantInductance)),
            rectangular: std::array::from_fn(|k| deviation(k, Parameter::ResonantCapacitance)),
        })
    };
    let values: Vec<f64> = (0..TRIALS).into_par_iter().map(of).collect();
    Output::new(&values)
}

/// The output quantity of a model.
struct Output {
    mean: f64,
    sd: f64,
    ordered: Ordered,
    /// Standard errors of mean and deviation; the latter from the fourth moment,
    /// u √((κ − 1) / 4n).
    mean_error: f64,
    sd_error: f64,
}

impl Output {
    fn new(values: &[f64]) -> Self {
        let mut distribution = Distribution::exact_up_to(values.len());
        for (trial, value) in (0..).zip(values) {
            distribution.push(trial, *value);
        }
        let moments = distribution.moments();
        let (mean, sd) = (moments.mean().unwrap(), moments.sd().unwrap());
        let n = values.len() as f64;
        let kurtosis = values.iter().map(|x| ((x - mean) / sd).powi(4)).sum::<f64>() / n;
        let mean_error = moments.standard_error().unwrap();
        assert!((mean_error - sd / n.sqrt()).abs() < 1e-12 * sd);
        Self {
            mean,
            sd,
            ordered: distribution.ordered().unwrap(),
            mean_error,
            sd_error: sd * ((kurtosis - 1.0) / (4.0 * n)).sqrt(),
        }
    }

    fn has_mean(&self, published: f64, rounding: f64) -> bool {
        (self.mean - published).abs() < rounding + ERRORS * self.mean_error
    }

    fn has_sd(&self, published: f64, rounding: f64) -> bool {
        (self.sd - published).abs() < rounding + ERRORS * self.sd_error
    }

    /// Whether the quantile `p` is the published one. Its standard error is √(p (1 − p) / n) over
    /// the density there.
    fn has_quantile(&self, p: f64, published: f64, rounding: f64, density: f64) -> bool {
        let error = (p * (1.0 - p) / TRIALS as f64).sqrt() / density;
        (self.ordered.quantile(p).unwrap() - published).abs() < rounding + ERRORS * error
    }

    /// Whether the probabilistically symmetric 95 % interval is ± `published`.
    fn has_interval(&self, published: f64, rounding: f64, density: f64) -> bool {
        self.has_quantile(0.025, -published, rounding, density)
            && self.has_quantile(0.975, published, rounding, density)
    }
}

/// 9.2.2: Y = X1 + X2 + X3 + X4, each N(0, 1): u(y) = 2.00, 95 % interval ±3.92.
#[test]
fn additive_model_of_normal_inputs() {
    let y = trials(0.0, |x| x.normal.iter().sum());
    let density = 0.029_22; // φ(1.959964)/2
    assert!(y.has_mean(0.0, 0.0) && y.has_sd(2.0, 0.0));
    assert!(y.has_interval(3.92, 5e-3, density));
    assert!(y.has_interval(3.919_928, 0.0, density));
    assert!(!y.has_interval(3.88, 0.0, density), "the next example's interval");
}

/// 9.2.3: each rectangular with mean 0 and deviation 1: u(y) = 2.00, 95 % interval ±3.88. Exactly
/// ±2√3 (2 − (3/5)^¼): the probability beyond is t⁴/24, t steps of 2√3 from the end.
#[test]
fn additive_model_of_rectangular_inputs() {
    let y = trials(0.0, |x| 3.0_f64.sqrt() * x.rectangular.iter().sum::<f64>());
    let (step, t) = (2.0 * 3.0_f64.sqrt(), 0.6_f64.powf(0.25));
    let (exact, density) = (step * (2.0 - t), t.powi(3) / 6.0 / step);
    assert!((exact - 3.879_406_741_347_821).abs() < 1e-14);
    assert!(y.has_mean(0.0, 0.0) && y.has_sd(2.0, 0.0));
    assert!(y.has_interval(3.88, 5e-3, density));
    assert!(y.has_interval(exact, 0.0, density));
    assert!(!y.has_interval(3.92, 5e-3, density), "the normal distribution's interval");
}

/// 9.2.4: as before, the fourth with deviation 10: u(y) = 10.1, 95 % interval ±17.0; the law of
/// propagation of uncertainty gives ±19.9.
#[test]
fn additive_model_with_one_dominant_rectangular_input() {
    let y = trials(0.0, |x| {
        let [a, b, c, d] = x.rectangular;
        3.0_f64.sqrt() * (a + b + c + 10.0 * d)
    });
    // 1/(20√3), times the probability 0.566 that the other three, whose sum has a density of
    // √3/8 about 0, do not carry the dominant one's end at 10√3 below 17.016.
    let density = 0.566 / (20.0 * 3.0_f64.sqrt());
    assert!(y.has_mean(0.0, 0.0));
    assert!(y.has_sd(10.1, 0.05) && y.has_sd(103.0_f64.sqrt(), 0.0));
    assert!(y.has_interval(17.0, 0.05, density));
    assert!(y.has_interval(17.015_814_1, 0.0, density));
    assert!(!y.has_interval(19.9, 0.05, density), "the law of propagation of uncertainty");
}

/// 9.3: calibration of a weight W against a reference R in air of density a:
/// δm = (mRc + δmRc) (1 + (a − 1.2) (1/ρW − 1/ρR)) − 100 000 mg, with mRc N(100 000.000, 0.050) mg,
/// δmRc N(1.234, 0.020) mg, and rectangular a on [1.10, 1.30], ρW on [7000, 9000], ρR on
/// [7950, 8050] kg/m³: 1.2340 mg, u 0.0754 mg, shortest 95 % interval 0.299 mg wide. The law of
/// propagation of uncertainty gives u 0.0539 mg and 0.211 mg.
#[test]
fn mass_calibration() {
    let y = trials(0.0, |x| {
        let (reference, difference) = (0.050 * x.normal[0], 1.234 + 0.020 * x.normal[1]);
        let air = 0.1 * x.rectangular[0];
        let (weight, standard) =
            (8000.0 + 1e3 * x.rectangular[1], 8000.0 + 50.0 * x.rectangular[2]);
        let buoyancy = air * (1.0 / weight - 1.0 / standard);
        reference + difference + (100_000.0 + reference + difference) * buoyancy
    });
    assert!(y.has_mean(1.2340, 5e-5) && y.has_sd(0.0754, 5e-5));
    assert!(!y.has_sd(0.0539, 5e-5), "the law of propagation of uncertainty");
    // The shortest interval, its lower end at any of 500 probabilities.
    let quantile = |p: f64| y.ordered.quantile(p).unwrap();
    let widths = (1..500).map(|i| f64::from(i) * 1e-4).map(|p| quantile(p + 0.95) - quantile(p));
    let width = widths.fold(f64::INFINITY, f64::min);
    // The variance of the difference of two quantiles: 2 × 0.025 (1 − 0.025 − 0.025) / (n f²).
    let density = 0.01 / (quantile(0.03) - quantile(0.02));
    let error = (0.0475 / TRIALS as f64).sqrt() / density;
    assert!((width - 0.299).abs() < 5e-4 + ERRORS * error, "{width} ± {error}");
    assert!((width - 0.211).abs() > 5e-4 + ERRORS * error, "the law of propagation of uncertainty");
}

/// 9.4: comparison loss in microwave power meter calibration, Y = X1² + X2², u(x1) = u(x2) = 0.005,
/// x2 = 0: mean and deviation in 10⁻⁶ at x1 = 0, 0.010 and 0.050; the law of propagation of
/// uncertainty has a deviation of 0 at the first and 100 at the second.
#[test]
fn comparison_loss() {
    for (x1, mean, sd) in [(0.0, 50.0, 50.0), (0.010, 150.0, 112.0), (0.050, 2550.0, 502.0)] {
        let y = trials(0.0, |x| loss(x1, x));
        // Variance 4 u² x1² + 4 u⁴ of the square of a normal quantity, and of two of them.
        let exact = 1e6 * (4.0 * (0.005 * x1).powi(2) + 4.0 * 0.005_f64.powi(4)).sqrt();
        assert!(y.has_mean(mean, 0.0) && y.has_sd(exact, 0.0) && y.has_sd(sd, 0.5), "{x1}");
        if x1 == 0.010 {
            assert!(!y.has_sd(100.0, 0.5), "the law of propagation of uncertainty");
        }
        if x1 == 0.0 {
            // Exponential: 2 u² ln 20.
            let quantile = 50.0 * 20.0_f64.ln();
            assert!((quantile - 149.787).abs() < 5e-4);
            assert!(y.has_quantile(0.95, quantile, 0.0, 0.05 / 50.0));
        }
    }
}

fn loss(x1: f64, x: &Inputs) -> f64 {
    1e6 * ((x1 + 0.005 * x.normal[0]).powi(2) + (0.005 * x.normal[1]).powi(2))
}

/// 9.4.3: the inputs correlated with r = 0.9: the mean stays, u(δy) = 67 × 10⁻⁶ at x1 = 0; exactly
/// 50 √(1 + r²).
#[test]
fn comparison_loss_with_correlated_inputs() {
    let y = trials(0.9, |x| loss(0.0, x));
    assert!(y.has_mean(50.0, 0.0) && y.has_sd(67.0, 0.5));
    assert!(y.has_sd(50.0 * 1.81_f64.sqrt(), 0.0) && !y.has_sd(50.0, 0.5));
}
