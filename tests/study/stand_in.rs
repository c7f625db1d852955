//! A stand-in for the converters of a search for bands: it counts the samples that pass.
#![allow(clippy::unwrap_used, reason = "a test")]

use fairphase::converter::Arrangement;
use fairphase::scenario::Tolerances;
use fairphase::study::bands::YieldEvaluator;
use fairphase::study::common::error::StudyError;
use fairphase::study::common::pairs::{Flags, Pairs};
use fairphase::study::common::settings::Draws;
use fairphase::study::common::trials::{Solving, Trial};

/// Of two sets of bands, the one of which fewer samples pass passes only where the other one does.
pub(crate) struct Nested<F>(F);

/// A stand-in by such a count.
pub(crate) fn nested<F>(count: F) -> Nested<F>
where
    F: FnMut(Arrangement, &Tolerances, Draws) -> Result<Trial, StudyError>,
{
    Nested(count)
}

impl<F> YieldEvaluator for Nested<F>
where
    F: FnMut(Arrangement, &Tolerances, Draws) -> Result<Trial, StudyError>,
{
    fn trial(
        &mut self,
        arrangement: Arrangement,
        bands: &Tolerances,
        draws: Draws,
        _solving: Solving,
    ) -> Result<Trial, StudyError> {
        (self.0)(arrangement, bands, draws)
    }

    fn pairs(
        &mut self,
        arrangement: Arrangement,
        sets: &[Tolerances],
        draws: Draws,
    ) -> Result<Pairs, StudyError> {
        let samples = usize::try_from(draws.samples).unwrap();
        let mut passed = Vec::new();
        for bands in sets {
            let good = usize::try_from((self.0)(arrangement, bands, draws)?.good).unwrap();
            let mut flags = Flags::all(samples);
            (good..samples).for_each(|n| flags.clear(n));
            passed.push(flags);
        }
        let mut pairs = Pairs::new(sets.len());
        pairs.take(&passed, samples);
        Ok(pairs)
    }
}
