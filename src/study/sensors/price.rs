//! The price of a sensor with its trim element at which both ways cost the same.

use serde::Serialize;

use crate::statistics::{Confidence, Interval, PairedCounts, StatisticsError};

/// A converter with a current sensor and a trim element in every phase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SensedConverter {
    /// Price of everything else.
    pub rest: f64,
    /// Phases.
    pub phases: usize,
    /// Present price of sensor and trim element of a phase together.
    pub today: f64,
}

/// The price of a sensor with its trim element below which sensors lower the cost per good
/// converter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BreakEvenPrice {
    /// From the estimated yields.
    pub estimate: f64,
    /// From the interval of the ratio of both yields on the same samples; `None` where a yield's
    /// own interval reaches down to none.
    pub interval: Option<Interval>,
    /// What sensor and trim element of a phase cost together today.
    pub today: f64,
}

impl BreakEvenPrice {
    /// Against a converter without sensors that costs `without`; `good` counts the good converters,
    /// those with sensors first. `None` where none is good without sensors.
    ///
    /// The price is a straight line in the ratio of the yields, so its interval follows from that of
    /// the difference of their logarithms, paired.
    ///
    /// # Errors
    ///
    /// [`StatisticsError::NoTrials`].
    pub fn new(
        sensed: SensedConverter,
        without: f64,
        good: PairedCounts,
        confidence: Confidence,
    ) -> Result<Option<Self>, StatisticsError> {
        let (with_sensors, chain) = (good.both + good.first, good.both + good.second);
        let at = |ratio: f64| break_even_price(sensed, without, ratio);
        let Some(estimate) = at(with_sensors as f64 / chain as f64) else { return Ok(None) };
        let logarithms = good.cost_difference(libm::log, libm::log, confidence)?;
        let interval = logarithms.and_then(|d| {
            let [lower, upper] = [d.lower, d.upper].map(|x| at(libm::exp(x)));
            Some(Interval { lower: lower?, upper: upper? })
        });
        Ok(Some(Self { estimate, interval, today: sensed.today }))
    }

    /// Whether sensors lower the cost per good converter at today's price, by the estimate.
    pub fn is_met_today(&self) -> bool {
        self.today < self.estimate
    }

    /// Whether the interval excludes today's price, so that the samples tell which way costs less.
    pub fn is_secured(&self) -> bool {
        self.interval.is_some_and(|i| self.today < i.lower || i.upper < self.today)
    }

    /// Whether the whole interval is below zero: even free sensors would not lower the cost.
    pub fn is_never_met(&self) -> bool {
        self.interval.is_some_and(|i| i.upper <= 0.0)
    }
}

/// The price of one sensor with its trim element at which a good converter with them costs as much
/// as a good one without. With n phases, a price R of everything else and a yield y, the converter
/// with sensors costs `(R + n p) / y` per good converter; that without costs `C / Y`. Both are equal
/// at
///
/// ```text
/// p = (C y / Y − R) / n
/// ```
///
/// where `without` is C and `yield_ratio` is y / Y. Where p is negative, even free sensors do not
/// lower the cost. A converter that fails is scrapped at its full price (derived for this project).
/// `None` without a good converter on the other side.
pub fn break_even_price(sensed: SensedConverter, without: f64, yield_ratio: f64) -> Option<f64> {
    let price = (without * yield_ratio - sensed.rest) / sensed.phases as f64;
    price.is_finite().then_some(price)
}

#[cfg(test)]
mod tests {
    use rand::{SeedableRng, rngs::ChaCha8Rng};

    use super::*;

    fn confidence(level: f64) -> Confidence {
        Confidence::new(level).unwrap()
    }

    const SENSED: SensedConverter = SensedConverter { rest: 110.0, phases: 3, today: 5.0 };

    fn price(good: PairedCounts, level: f64) -> BreakEvenPrice {
        BreakEvenPrice::new(SENSED, 100.0, good, confidence(level)).unwrap().unwrap()
    }

    /// Truth known, many repetitions: the interval holds the true price about as often as it says,
    /// and one from both yields' opposite ends nearly always, because it is far too wide.
    #[test]
    fn the_interval_holds_the_price_as_often_as_it_says() {
        let cells = [0.90, 0.03, 0.02, 0.05];
        let truth = break_even_price(SENSED, 100.0, 0.93 / 0.92).unwrap();
        let (repetitions, samples) = (2000, 1500);
        let mut rng = ChaCha8Rng::seed_from_u64(17);
        let mut held = 0;
        for _ in 0..repetitions {
            let interval =
                price(PairedCounts::drawn(&mut rng, samples, cells), 0.9).interval.unwrap();
            held += u32::from((interval.lower..=interval.upper).contains(&truth));
        }
        // Four standard errors of a share of 90 % of 2000: 0.027.
        let share = f64::from(held) / f64::from(repetitions);
        assert!((share - 0.9).abs() < 0.027, "{share}");
        let seen = PairedCounts { both: 1350, first: 45, second: 30, neither: 75 };
        let paired = price(seen, 0.9).interval.unwrap();
        let yields = [1395, 1380].map(|k| crate::statistics::wilson(k, 1500, confidence(0.9)));
        let [with, without] = yields.map(Result::unwrap);
        let joined = 100.0 / 3.0 * (with.upper / without.lower - with.lower / without.upper);
        assert!(paired.upper - paired.lower < 0.7 * joined, "{paired:?} against {joined}");
    }

    /// Brute force: resampled pairs spread as the interval says.
    #[test]
    fn the_interval_agrees_with_resampling() {
        let seen = PairedCounts { both: 4500, first: 150, second: 100, neither: 250 };
        let interval = price(seen, 0.95).interval.unwrap();
        let cells = [0.9, 0.03, 0.02, 0.05];
        let mut rng = ChaCha8Rng::seed_from_u64(5);
        let mut all: Vec<f64> = (0..2000)
            .map(|_| price(PairedCounts::drawn(&mut rng, 5000, cells), 0.95).estimate)
            .collect();
        all.sort_by(f64::total_cmp);
        let half = 0.5 * (interval.upper - interval.lower);
        // A 2.5 % quantile of 2000 has a standard error of 0.06 of the half width.
        assert!((all[49] - interval.lower).abs() < 0.25 * half, "{interval:?} {}", all[49]);
        assert!((all[1949] - interval.upper).abs() < 0.25 * half, "{interval:?} {}", all[1949]);
    }

    #[test]
    fn a_price_needs_good_converters() {
        let none = PairedCounts { both: 0, first: 9, second: 0, neither: 1 };
        assert_eq!(BreakEvenPrice::new(SENSED, 100.0, none, confidence(0.95)), Ok(None));
        let as_gift = PairedCounts { both: 0, first: 0, second: 9, neither: 1 };
        let price = price(as_gift, 0.95);
        assert!((price.estimate + 110.0 / 3.0).abs() < 1e-12);
        assert_eq!(price.interval, None);
        assert!(!price.is_met_today() && BreakEvenPrice { today: -40.0, ..price }.is_met_today());
        assert!(!price.is_secured() && !price.is_never_met(), "without an interval nothing is");
    }

    #[test]
    fn a_price_inside_the_interval_secures_nothing() {
        let seen = PairedCounts { both: 900, first: 30, second: 20, neither: 50 };
        let price = price(seen, 0.95);
        let Interval { lower, upper } = price.interval.unwrap();
        let secured = |today| BreakEvenPrice { today, ..price }.is_secured();
        assert!(secured(lower - 0.01) && secured(upper + 0.01));
        assert!(!secured(lower + 0.01) && !secured(upper - 0.01));
        assert!(lower < upper && upper < 0.0 && price.is_never_met());
    }

    /// By hand: 100 a converter without, of which 4 in 5 are good, so 125 a good one. With three
    /// sensors and a rest of 110, 9 in 10 good: (110 + 3 p)/0.9 = 125 at p = 5/6.
    #[test]
    fn break_even_price_by_hand() {
        let price = break_even_price(SENSED, 100.0, 0.9 / 0.8).unwrap();
        assert!((price - 2.5 / 3.0).abs() < 1e-12, "{price}");
        let per_good = (110.0 + 3.0 * price) / 0.9;
        assert!((per_good - 125.0).abs() < 1e-12);
        let as_gift = break_even_price(SENSED, 100.0, 1.0).unwrap();
        assert!(as_gift < 0.0, "as many good ones for more money: not even as a gift");
        assert_eq!(break_even_price(SENSED, 100.0, 0.9 / 0.0), None);
    }
}
