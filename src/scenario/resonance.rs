//! Where the tank resonates, against the band of the switching frequency.

use super::Scenario;

/// Factor by which the series resonance of a tank in use may lie outside the band. One slip by a
/// prefix in L or C moves it by the root of a thousand (common practice, no source).
const FARTHEST: f64 = 3.0;

impl Scenario {
    /// What to check where the tank's series resonance lies far outside the band; none where it does
    /// not.
    pub fn distant_resonance(&self) -> Option<String> {
        let resonance = self.nominal.series_resonance();
        let (low, high) = (self.frequency.minimum, self.frequency.maximum);
        let is_far = resonance.0 < low.0 / FARTHEST || resonance.0 > high.0 * FARTHEST;
        is_far.then(|| {
            format!(
                "the series resonance of this tank is {resonance}, the band {low} to {high}: are the units \
                 of `resonant_inductance` and `resonant_capacitance` right?"
            )
        })
    }
}
