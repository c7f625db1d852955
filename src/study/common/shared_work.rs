//! Work that many searches share before anything is sampled: somebody waits for it.

/// How much work many searches take together, counted in searches for one converter.
#[derive(Debug, Clone, Copy)]
pub(in crate::study) struct SharedWork {
    /// What all may take together, as long as each has its least share.
    together: f64,
    /// Least share of one: several times what it takes in an ordinary design.
    least: f64,
}

impl SharedWork {
    /// Of searches for the nominal converter.
    pub(in crate::study) const CONVERTERS: Self = Self { together: 10.0, least: 0.0025 };
    /// Of curves over frequency, each of which takes half of a search's work at most.
    pub(in crate::study) const CURVES: Self = Self { together: 24.0, least: 0.04 };

    /// The same for converters of so many phases, whose searches take more: each step follows all phases,
    /// and longer chains need more steps where they leave the band. An invented supply with a fault needed up
    /// to 0.01 with four phases and 0.03 with twelve (measured).
    pub(in crate::study) fn of_phases(self, phases: usize) -> Self {
        Self { least: self.least * (0.5 * phases as f64).powi(2), ..self }
    }

    /// Share of each of so many searches, of half of the work.
    pub(in crate::study) fn share(self, searches: usize) -> f64 {
        (0.5 * self.together / searches.max(1) as f64).clamp(self.least, 1.0)
    }

    /// Works on all items with equal shares of half of the work. Those for which that was too little are
    /// done again, with equal shares of the other half: mostly few are left, which then get much. Nothing
    /// depends on the time that anything takes.
    ///
    /// # Errors
    ///
    /// Those of `round`, which works on items with a share of a search's work for each search.
    pub(in crate::study) fn in_two_rounds<T, R, E>(
        self,
        items: &[T],
        searches: impl Fn(&T) -> usize,
        mut round: impl FnMut(&[&T], f64) -> Result<Vec<R>, E>,
        is_short_of_work: impl Fn(&R) -> bool,
    ) -> Result<Vec<R>, E> {
        let share = |items: &[&T]| self.share(items.iter().map(|item| searches(item)).sum());
        let all: Vec<&T> = items.iter().collect();
        let first = share(&all);
        let mut results = round(&all, first)?;
        let short: Vec<usize> =
            (0..results.len()).filter(|n| is_short_of_work(&results[*n])).collect();
        let again: Vec<&T> = short.iter().map(|n| all[*n]).collect();
        let second = share(&again);
        if !again.is_empty() && second > first {
            for (n, result) in short.into_iter().zip(round(&again, second)?) {
                results[n] = result;
            }
        }
        Ok(results)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Searches that need so much work: what each was granted at last.
    fn granted(needs: &[f64]) -> Vec<f64> {
        let mut all = 0.0;
        let round = |items: &[&f64], share: f64| -> Result<Vec<(f64, f64)>, ()> {
            all += items.iter().map(|need| share.min(**need)).sum::<f64>();
            Ok(items.iter().map(|need| (share, **need)).collect())
        };
        let short = |(share, need): &(f64, f64)| share < need;
        let results = SharedWork::CONVERTERS.in_two_rounds(needs, |_| 1, round, short);
        let most = SharedWork::CONVERTERS.together;
        assert!(all <= most.max(2.0 * SharedWork::CONVERTERS.least * needs.len() as f64), "{all}");
        results.unwrap().into_iter().map(|(share, _)| share).collect()
    }

    #[test]
    fn few_hard_searches_among_many_get_what_they_need() {
        let mut needs = vec![0.002; 1000];
        (needs[7], needs[700]) = (0.9, 5.0);
        let granted = granted(&needs);
        assert_eq!((granted[7], granted[700], granted[8]), (1.0, 1.0, 0.005));
    }

    #[test]
    fn all_together_take_no_more_than_they_may() {
        assert_eq!(granted(&[9.0]), [1.0]);
        assert_eq!(granted(&vec![9.0; 100]), vec![0.05; 100]);
        assert_eq!(granted(&vec![9.0; 10_000]), vec![0.0025; 10_000]);
        assert_eq!(granted(&[]), [0.0; 0]);
    }
}
