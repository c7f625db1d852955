//! Output voltage over frequency on one load, its peak, and the voltages that it covers.

use crate::converter::FrequencyBand;
use crate::solver::{Reached, Sweep, Unsolved};
use crate::units::{Hertz, Volt};

/// Frequencies of a curve, in equal ratios over the band, both ends among them.
pub const POINTS: u16 = 121;
/// Relative width to which the peak's frequency is narrowed: the voltage is flat there.
const PEAK_WIDTH: f64 = 1e-7;

/// Voltages from the lowest to the highest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VoltageRange {
    /// The lowest.
    pub lowest: Volt,
    /// The highest, not below the lowest.
    pub highest: Volt,
}

impl VoltageRange {
    /// What both ranges have in common, if more than one voltage.
    pub fn overlap(&self, other: &Self) -> Option<Self> {
        let lowest = Volt(self.lowest.0.max(other.lowest.0));
        let highest = Volt(self.highest.0.min(other.highest.0));
        (lowest < highest).then_some(Self { lowest, highest })
    }

    /// Whether it is one voltage alone.
    pub fn is_single(&self) -> bool {
        self.lowest >= self.highest
    }

    /// Whether a voltage lies in it, its ends included.
    pub fn holds(&self, voltage: Volt) -> bool {
        (self.lowest..=self.highest).contains(&voltage)
    }

    /// The parts of this range that none of `ranges` covers, from the lowest up; of a single
    /// voltage, itself or nothing.
    pub fn gaps(&self, ranges: &[Self]) -> Vec<Self> {
        if self.is_single() {
            let covered = ranges.iter().any(|range| range.holds(self.lowest));
            return if covered { Vec::new() } else { vec![*self] };
        }
        let mut sorted: Vec<&Self> = ranges.iter().collect();
        sorted.sort_by(|a, b| a.lowest.0.total_cmp(&b.lowest.0));
        let (mut gaps, mut covered) = (Vec::new(), self.lowest);
        for range in sorted {
            if range.lowest > covered && covered < self.highest {
                let highest = Volt(range.lowest.0.min(self.highest.0));
                gaps.push(Self { lowest: covered, highest });
            }
            covered = Volt(covered.0.max(range.highest.0));
        }
        if covered < self.highest {
            gaps.push(Self { lowest: covered, highest: self.highest });
        }
        gaps
    }
}

/// The output voltage at one frequency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GainPoint {
    /// Switching frequency.
    pub frequency: Hertz,
    /// The output voltage, if there is one.
    pub reached: Reached,
}

/// The highest output voltage of a curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peak {
    /// Its frequency.
    pub frequency: Hertz,
    /// The voltage.
    pub voltage: Volt,
    /// Whether it stands at an end of the band, and the true peak outside.
    pub at_end: bool,
}

/// Output voltage over frequency on one load.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// From the lowest frequency of the band to the highest.
    pub points: Vec<GainPoint>,
    /// Its peak; none where nothing was solved.
    pub peak: Option<Peak>,
}

impl Curve {
    /// Steps through a band, from the highest frequency down, where a cold start is easy.
    pub fn trace(sweep: &mut Sweep<'_>, band: &FrequencyBand) -> Self {
        let last = f64::from(POINTS - 1);
        let ratio = band.maximum.0 / band.minimum.0;
        let mut points: Vec<GainPoint> = (0..POINTS)
            .rev()
            .map(|n| match n {
                0 => band.minimum,
                n if n == POINTS - 1 => band.maximum,
                n => Hertz(band.minimum.0 * libm::pow(ratio, f64::from(n) / last)),
            })
            .map(|frequency| GainPoint { frequency, reached: sweep.at(frequency) })
            .collect();
        points.reverse();
        let peak = peak(&points, sweep);
        Self { points, peak }
    }

    /// The output voltages on the inductive side: from that at the highest frequency, zero where
    /// the load's current does not flow there, to the peak. Each is met at some frequency in
    /// between, because the voltage changes continuously.
    pub fn range(&self) -> Option<VoltageRange> {
        let highest = self.peak?.voltage;
        let lowest = self.points.iter().rev().find_map(|point| match point.reached {
            Reached::Voltage(voltage) => Some(voltage),
            Reached::Nothing => Some(Volt(0.0)),
            Reached::NotSolved(_) => None,
        });
        Some(VoltageRange { lowest: lowest?, highest })
    }

    /// Whether a frequency lies below the peak's, where the converter regulates nothing: the
    /// voltage falls with the period there, and the tanks look capacitive.
    pub fn beyond_peak(&self, frequency: Hertz) -> bool {
        self.peak.is_some_and(|peak| frequency < peak.frequency)
    }

    /// Frequencies at which the solver failed.
    pub fn not_solved(&self) -> usize {
        self.points.iter().filter(|point| point.reached.unsolved().is_some()).count()
    }

    /// Whether the work was too little for some frequency.
    pub fn is_short_of_work(&self) -> bool {
        self.points.iter().any(|point| point.reached.unsolved() == Some(Unsolved::TooMuchWork))
    }
}

/// The highest point, narrowed down between its neighbours by golden sections.
fn peak(points: &[GainPoint], sweep: &mut Sweep<'_>) -> Option<Peak> {
    const GOLDEN: f64 = 0.381_966_011_250_105_1;
    let solved = |n: usize| points.get(n).and_then(|p| p.reached.voltage());
    let voltages = (0..points.len()).filter_map(|n| Some((n, solved(n)?)));
    let (n, voltage) = voltages.max_by(|a, b| a.1.0.total_cmp(&b.1.0))?;
    let mut best = (points[n].frequency.0, voltage.0);
    let inside = n > 0 && n + 1 < points.len();
    if inside {
        let (mut low, mut high) = (points[n - 1].frequency.0, points[n + 1].frequency.0);
        while high - low > PEAK_WIDTH * high {
            let above = high - best.0 > best.0 - low;
            let way = if above { high - best.0 } else { low - best.0 };
            let frequency = best.0 + GOLDEN * way;
            let Some(voltage) = sweep.at(Hertz(frequency)).voltage() else { break };
            let (better, worse) = if voltage.0 > best.1 {
                let old = best.0;
                best = (frequency, voltage.0);
                (best.0, old)
            } else {
                (best.0, frequency)
            };
            if worse < better { low = worse } else { high = worse }
        }
    }
    Some(Peak { frequency: Hertz(best.0), voltage: Volt(best.1), at_end: !inside })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn range(lowest: f64, highest: f64) -> VoltageRange {
        VoltageRange { lowest: Volt(lowest), highest: Volt(highest) }
    }

    /// Ranges by hand.
    #[test]
    fn gaps_and_overlaps_by_hand() {
        let span = range(10.0, 100.0);
        let gaps = |ranges: &[VoltageRange]| span.gaps(ranges);
        assert_eq!(gaps(&[]), [span]);
        assert_eq!(gaps(&[range(0.0, 200.0)]), []);
        assert_eq!(gaps(&[range(10.0, 100.0)]), []);
        let scattered = [range(60.0, 70.0), range(5.0, 20.0), range(30.0, 50.0), range(40.0, 45.0)];
        assert_eq!(gaps(&scattered), [range(20.0, 30.0), range(50.0, 60.0), range(70.0, 100.0)]);
        assert_eq!(gaps(&[range(20.0, 120.0)]), [range(10.0, 20.0)]);
        assert_eq!(gaps(&[range(0.0, 5.0), range(150.0, 160.0)]), [span]);
        assert_eq!(gaps(&[range(20.0, 50.0), range(50.0, 100.0)]), [range(10.0, 20.0)]);
        let single = range(48.0, 48.0);
        assert_eq!(single.gaps(&[range(1.0, 40.0), range(50.0, 60.0)]), [single]);
        assert_eq!(single.gaps(&[range(1.0, 40.0), range(48.0, 60.0)]), []);
        assert_eq!(range(1.0, 3.0).overlap(&range(2.0, 5.0)), Some(range(2.0, 3.0)));
        assert_eq!(range(1.0, 9.0).overlap(&range(2.0, 5.0)), Some(range(2.0, 5.0)));
        assert_eq!(range(1.0, 2.0).overlap(&range(2.0, 5.0)), None);
    }
}
