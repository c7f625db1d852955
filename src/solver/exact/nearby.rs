//! For converters on which Newton's iteration from a neighbour's solution fails: a bracket of the
//! half period about that solution. The converter is settled at each end of it. And for those where
//! slopes alone do not tell that no higher frequency delivers the output: a look at higher frequencies.

use super::search::{self, Delivered, SearchResult};
use super::system::{ConverterUnknowns, HalfPeriod, Linear, PerUnitConverter, Source};

/// Ratio of neighbouring half periods.
const STRIDE: f64 = 1.01;
/// Steps before the search from the highest frequency takes over.
const STEPS: usize = 30;

impl PerUnitConverter<'_> {
    /// A solution near `guess`, if one is there and no higher frequency can deliver the output.
    pub(super) fn solve_nearby(&self, guess: &ConverterUnknowns) -> Option<ConverterUnknowns> {
        let h = guess.h.clamp(self.half_periods.0, self.half_periods.1);
        let (below, above) = self.bracket(self.deliver(guess, h)?)?;
        let SearchResult::Solved(point) = self.close_in(below, above) else { return None };
        let mut linear = Linear::default();
        self.linearise(&point, &mut linear)?;
        let step = self.step(&point, &linear, HalfPeriod::Given)?;
        self.is_highest(&linear, &step).then_some(*point)
    }

    /// Whether no frequency above that of a solution delivers the output of a paralleled converter, where
    /// some of its phases are below the peaks of their currents. Up to the frequency from which all are
    /// above, strides look at them as the search from the highest frequency does; from there on slopes tell.
    pub(super) fn none_above(&self, solution: &Delivered) -> bool {
        if matches!(self.source, Source::Chain(_)) {
            return false;
        }
        let mut now = solution.clone();
        for _ in 0..STEPS {
            let mut start = now.point.clone();
            start.h /= search::STRIDE;
            let Some(before) = self.newton(&start, HalfPeriod::Given, &mut Linear::default())
            else {
                return false;
            };
            let is_last = before.highest || before.point.h < self.half_periods.0;
            let before = Delivered::from(before);
            let is_enough = before.current >= self.output_current;
            if is_enough || self.reach_peak(&before, &now).is_some() {
                return false;
            }
            if is_last {
                return true;
            }
            now = before;
        }
        false
    }

    /// Two neighbouring half periods, the shorter with too little current, the longer with
    /// enough.
    fn bracket(&self, start: Delivered) -> Option<(Delivered, Delivered)> {
        let enough = |at: &Delivered| at.current >= self.output_current;
        let ratio = if enough(&start) { 1.0 / STRIDE } else { STRIDE };
        let mut now = start;
        for _ in 0..STEPS {
            let next = self.deliver(&now.point, now.point.h * ratio)?;
            match (enough(&now), enough(&next)) {
                (false, true) => return Some((now, next)),
                (true, false) => return Some((next, now)),
                _ => now = next,
            }
        }
        None
    }
}
