//! The chain against the paralleled reference.

use crate::study::common::figures::Figure;
use crate::study::run::result::Run;

impl Run {
    /// The median of a figure in the chain over that in the paralleled reference, for two cases of one
    /// operating point; none where one of them is missing or the latter is zero.
    pub fn chain_over_paralleled(
        &self,
        chain: usize,
        paralleled: usize,
        figure: Figure,
    ) -> Option<f64> {
        let [chain, paralleled] =
            [chain, paralleled].map(|case| self.key_figures(case, figure).and_then(|f| f.p50));
        paralleled.filter(|median| *median != 0.0).and_then(|median| Some(chain? / median))
    }
}
