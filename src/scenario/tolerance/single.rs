//! The tolerance of one parameter: a shape over a band.

use super::matching::Matching;
use super::shape::Shape;

/// No part deviates farther than this below its nominal value, however a band is multiplied.
const FARTHEST_BELOW: f64 = 0.95;

/// The tolerance of one parameter.
///
/// Its band lies `band` to either side of `middle`. A tolerance is widened by multiplying the
/// deviations of all parts from its [`anchor`](Self::anchor): both ends of the band, and, where a process
/// is stated, its mean and standard deviation. So a wider band holds the present one, and the present one
/// holds a narrower one.
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
    /// How the parts are measured and matched before they go into converters; none where they are taken
    /// as they come.
    pub matching: Option<Matching>,
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
        Self { shape, middle: 0.0, band, lot_share: 0.0, screened: None, matching: None }
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

    /// The deviation that stays where it is when the band gets wider or narrower: of all in the band the
    /// nearest to the nominal value. That is 0 where the band holds the nominal value, else one of its
    /// ends.
    pub fn anchor(&self) -> f64 {
        let [low, high] = self.ends();
        low.max(0.0).min(high)
    }

    /// The same tolerance with another half width. Without any band it stays about its middle.
    #[must_use]
    pub fn with_band(&self, band: f64) -> Self {
        let anchor = self.anchor();
        let middle = if self.band == 0.0 {
            self.middle
        } else {
            anchor + (self.middle - anchor) * (band / self.band)
        };
        Self { middle, band, ..self.clone() }
    }

    /// The half width with which the end farther from the nominal value lies at this distance from it;
    /// none where that is no farther than the [`anchor`](Self::anchor).
    pub fn band_reaching(&self, distance: f64) -> Option<f64> {
        let nearest = self.anchor().abs();
        let reach = self.reach() - nearest;
        match distance - nearest {
            more if more <= 0.0 => None,
            more if self.is_symmetric() || reach == 0.0 => Some(more),
            more => Some(self.band * (more / reach)),
        }
    }

    /// The same tolerance with all deviations from the nominal value multiplied: of errors that become so
    /// many times as large.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        Self { middle: factor * self.middle, band: factor * self.band, ..self.clone() }
    }

    /// The widest half width to ask for, where none shall reach farther than `widest`: the present
    /// one where it does already. Of an unequal band the lower end counts, which must stay above −1.
    pub fn widest_band(&self, widest: f64) -> f64 {
        let top = widest.max(self.band);
        let (below, anchor) = (-self.ends()[0], self.anchor());
        let reach = below + anchor;
        if self.is_symmetric() || reach <= 0.0 {
            return top;
        }
        top.min(self.band * (FARTHEST_BELOW.max(below) + anchor) / reach)
    }

    /// Whether it comes from another one by widening or narrowing, where the shapes are equal.
    pub fn is_multiple_of(&self, other: &Self) -> bool {
        let [anchor, others_anchor] = [self.anchor(), other.anchor()];
        let [off, others_off] = [self.middle - anchor, other.middle - others_anchor];
        (anchor - others_anchor).abs() <= 1e-12
            && (off * other.band - others_off * self.band).abs() <= 1e-12 * self.band * other.band
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

    /// By hand, from +2 % to +8 %: the end at +2 % stays, the other one lies 6 % beyond it, then 12 % and
    /// 3 %. From −8 % to −2 % the same to the other side. Multiplied by 2 from the nominal value, the first
    /// would lie from +4 % to +16 %, without the parts from +2 % to +4 %.
    #[test]
    fn a_band_beside_the_nominal_value_grows_from_its_nearest_end() {
        for side in [1.0, -1.0] {
            let shape = Shape::Normal { mean: side * -0.5, sigmas: 2.0 };
            let own = Tolerance { middle: side * 0.05, ..Tolerance::new(shape, 0.03) };
            assert!((own.anchor() - side * 0.02).abs() < 1e-15);
            for (band, far) in [(0.06, 0.14), (0.03, 0.08), (0.015, 0.05), (0.0, 0.02)] {
                let ends = own.with_band(band).ends();
                let [near, other] = if side > 0.0 { ends } else { [ends[1], ends[0]] };
                assert!((near - side * 0.02).abs() < 1e-15, "{ends:?}");
                assert!((other - side * far).abs() < 1e-15, "{ends:?}");
            }
            // The process goes along: its mean lies a quarter of the band beyond the end that stays.
            let process = own.with_band(0.06).process().unwrap();
            assert!((process.mean - side * 0.05).abs() < 1e-15, "{process:?}");
            assert!((process.sigma - 0.03).abs() < 1e-15, "{process:?}");
            assert!((own.band_reaching(0.14).unwrap() - 0.06).abs() < 1e-15);
            assert_eq!(own.band_reaching(0.02), None);
            let wider = own.with_band(0.06);
            assert!(wider.is_multiple_of(&own) && own.is_multiple_of(&wider));
            assert!(!own.is_multiple_of(&own.scaled(2.0)));
        }
        // −95 % at most: 93 % below the end at −2 %, half of that to either side.
        let below = Tolerance { middle: -0.05, ..Tolerance::new(Shape::Uniform, 0.03) };
        assert!((below.widest_band(0.9) - 0.465).abs() < 1e-12);
        assert!(below.with_band(0.465).ends()[0] > -0.950_001);
    }

    /// Whatever the band: a wider one holds it, it holds a narrower one, and two steps are one.
    #[test]
    fn wider_bands_hold_narrower_ones() {
        let ends = [-0.3, -0.1, -0.02, 0.0, 0.02, 0.1, 0.3];
        let pairs = ends.iter().flat_map(|low| ends.iter().map(move |high| [*low, *high]));
        for [low, high] in pairs.filter(|[low, high]| low < high) {
            let own = Tolerance {
                middle: 0.5 * (low + high),
                ..Tolerance::new(Shape::Uniform, 0.5 * (high - low))
            };
            let mut inside = own.with_band(0.0).ends();
            for factor in [0.1, 0.5, 1.0, 1.2, 2.0, 3.0] {
                let [from, to] = own.with_band(factor * own.band).ends();
                assert!(
                    from <= inside[0] + 1e-15 && inside[1] <= to + 1e-15,
                    "{low} {high} {factor}"
                );
                inside = [from, to];
                let again = own.with_band(0.7 * own.band).with_band(factor * own.band).ends();
                let is_same = again.iter().zip([from, to]).all(|(a, b)| (a - b).abs() < 1e-15);
                assert!(is_same, "{low} {high} {factor}: {again:?}");
                let reached = own.with_band(factor * own.band).reach();
                let band = own.band_reaching(reached).unwrap();
                assert!((band - factor * own.band).abs() < 1e-15, "{low} {high} {factor}");
            }
        }
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
