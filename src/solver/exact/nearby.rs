//! For converters on which Newton's iteration from a neighbour's solution fails: a bracket of the
//! half period about that solution. The converter is settled at each end of it.

use super::search::{Delivered, SearchResult};
use super::system::{ConverterUnknowns, HalfPeriod, Linear, PerUnitConverter};

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
