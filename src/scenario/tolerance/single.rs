//! The tolerance of one parameter: a shape over a band.

use super::shape::Shape;

/// No part deviates farther than this below its nominal value, however a band is multiplied.
const FARTHEST_BELOW: f64 = 0.95;

/// The tolerance of one parameter.
///
/// Its band lies `band` to either side of `middle`. A tolerance is widened by multiplying the
/// deviations of all parts from the nominal value: both ends of the band, and, where a process is
/// stated, its mean and standard deviation.
#[derive(Debug, Clone, PartialEq)]
pub struct Tolerance {
    /// How the values are spread over the band.
    pub shape: Shape,
    /// Middle of the band, a fraction of the nominal value; 0 for a symmetric band.
    pub middle: f64,
    /// Half width of the band, a fraction of the nominal value. Both ends lie above −1.
    pub band: f64,
    /// Share of the variance that the phases of one converter have in common, 0 to 1.
    pub lot_share: f64,
    /// Share of the process, or of the measured parts, that lies outside the band and is screened
    /// out: from 0 to below 1. None where the scenario states no such thing.
    pub screened: Option<f64>,
}

/// Mean and standard deviation of a process, before parts are screened out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Process {
    /// Mean of the deviation, a fraction of the nominal value.
    pub mean: f64,
    /// Standard deviation, a fraction of the nominal value.
    pub sigma: f64,
}

impl Tolerance {
    /// A tolerance with a symmetric band, without a lot, nothing screened out.
    pub const fn new(shape: Shape, band: f64) -> Self {
        Self { shape, middle: 0.0, band, lot_share: 0.0, screened: None }
    }

    /// The ends of the band, fractions of the nominal value.
    pub fn ends(&self) -> [f64; 2] {
        [self.middle - self.band, self.middle + self.band]
    }

    /// Whether the band reaches as far below the nominal value as above it.
    pub fn is_symmetric(&self) -> bool {
        self.middle == 0.0
    }

    /// Whether the parts are measured ones, drawn as they are: they have no band to buy.
    pub fn is_measured(&self) -> bool {
        matches!(self.shape, Shape::Measured(_))
    }

    /// The same tolerance with another half width.
    #[must_use]
    pub fn with_band(&self, band: f64) -> Self {
        let middle = if self.is_symmetric() || self.band == 0.0 {
            self.middle
        } else {
            self.middle * (band / self.band)
        };
        Self { middle, band, ..self.clone() }
    }

    /// The same tolerance with all deviations from the nominal value multiplied.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        Self { middle: factor * self.middle, band: factor * self.band, ..self.clone() }
    }

    /// The widest half width to ask for, where none shall reach farther than `widest`: the present
    /// one where it does already. Of an unequal band the lower end counts, which must stay above −1.
    pub fn widest_band(&self, widest: f64) -> f64 {
        let top = widest.max(self.band);
        let below = -self.ends()[0];
        if self.is_symmetric() || below <= 0.0 {
            return top;
        }
        top.min(self.band * FARTHEST_BELOW.max(below) / below)
    }

    /// Whether it comes from another one by multiplying all deviations from the nominal value, where
    /// the shapes are equal.
    pub fn is_multiple_of(&self, other: &Self) -> bool {
        (self.middle * other.band - other.middle * self.band).abs()
            <= 1e-12 * self.band * other.band
    }

    /// How far the farther end of the band lies from the nominal value.
    pub fn reach(&self) -> f64 {
        self.band + self.middle.abs()
    }

    /// The process before parts are screened out; none of shapes that end at the band.
    pub fn process(&self) -> Option<Process> {
        let Self { middle, band, .. } = *self;
        match self.shape {
            Shape::Normal { mean, sigmas } => {
                Some(Process { mean: middle + band * mean, sigma: band / sigmas })
            }
            Shape::Lognormal { origin, mean, deviation } => {
                let variance = deviation * deviation;
                let above = libm::exp(mean + 0.5 * variance);
                let sigma = band * above * libm::expm1(variance).sqrt();
                Some(Process { mean: middle + band * (above + origin), sigma })
            }
            Shape::Uniform | Shape::Triangular { .. } | Shape::Beta { .. } | Shape::Measured(_) => {
                None
            }
        }
    }

    /// Parts that are bought for each one used, because others are screened out; 1 where none are.
    pub fn bought_per_used(&self) -> f64 {
        1.0 / (1.0 - self.screened.unwrap_or(0.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: −3 % and +8 % doubled are −6 % and +16 %; the process goes along.
    #[test]
    fn widening_multiplies_all_deviations_from_nominal() {
        let shape = Shape::Normal { mean: -0.2, sigmas: 2.0 };
        let own = Tolerance { middle: 0.025, screened: Some(0.1), ..Tolerance::new(shape, 0.055) };
        let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-15, "{a} against {b}");
        for wider in [own.scaled(2.0), own.with_band(0.11)] {
            close(wider.ends()[0], -0.06);
            close(wider.ends()[1], 0.16);
            let (Process { mean, sigma }, process) =
                (own.process().unwrap(), wider.process().unwrap());
            close(mean, 0.014);
            close(sigma, 0.0275);
            close(process.mean, 2.0 * mean);
            close(process.sigma, 2.0 * sigma);
            assert_eq!(wider.screened, Some(0.1));
        }
        close(own.with_band(0.0).middle, 0.0);
        close(own.reach(), 0.08);
        close(own.bought_per_used(), 1.0 / 0.9);
    }

    /// By hand: the lower end of −10 % to 0 % may go to −95 %, so the half width to 47.5 %.
    #[test]
    fn no_widened_part_comes_near_zero() {
        let own = Tolerance { middle: -0.05, ..Tolerance::new(Shape::Uniform, 0.05) };
        assert!((own.widest_band(0.9) - 0.475).abs() < 1e-12);
        assert!((own.widest_band(0.2) - 0.2).abs() < 1e-12);
        let above = Tolerance { middle: 0.05, ..own };
        assert!((above.widest_band(0.9) - 0.9).abs() < 1e-12);
    }

    /// Mean 2 % and standard deviation 10 %, put into logarithms and back.
    #[test]
    fn a_lognormal_process_has_the_mean_and_deviation_stated() {
        let variance = f64::ln(1.0 + (0.1_f64 / 1.02).powi(2));
        let mean = 1.02_f64.ln() - 0.5 * variance - 0.3_f64.ln();
        let shape = Shape::Lognormal { origin: -1.1 / 0.3, mean, deviation: variance.sqrt() };
        let own = Tolerance { middle: 0.1, ..Tolerance::new(shape, 0.3) };
        let Process { mean, sigma } = own.process().unwrap();
        assert!((mean - 0.02).abs() < 1e-14 && (sigma - 0.1).abs() < 1e-14, "{mean} {sigma}");
    }
}
