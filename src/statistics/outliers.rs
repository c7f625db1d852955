//! Values far from the others, and rows that resemble their neighbours.

use super::{beta, normal};

/// A median absolute deviation in standard deviations of a normal distribution: 1/Φ⁻¹(¾).
const DEVIATIONS: f64 = 0.6745;

/// Robust standard deviations from the median beyond which a value is far out.
pub const FAR_OUT: f64 = 3.5;

/// The places of values that lie more than [`FAR_OUT`] robust standard deviations from the median;
/// none where half of the values are equal.
///
/// B. Iglewicz and D. C. Hoaglin, "How to detect and handle outliers", ASQC 1993, as told by the
/// NIST/SEMATECH e-Handbook, 1.3.5.17: modified z-score 0.6745 (x − median)/MAD.
pub fn far_out(values: &[f64]) -> Vec<usize> {
    let Some(middle) = median(values) else { return Vec::new() };
    let apart: Vec<f64> = values.iter().map(|value| (value - middle).abs()).collect();
    let Some(deviation) = median(&apart).filter(|deviation| *deviation > 0.0) else {
        return Vec::new();
    };
    let is_far = |apart: f64| DEVIATIONS * apart > FAR_OUT * deviation;
    (0..).zip(apart).filter(|(_, apart)| is_far(*apart)).map(|(index, _)| index).collect()
}

/// About how many of so many normal values, five or more, lie that far out on average.
///
/// The deviation itself is that of so few values, so that each lies farther out than 2 Φ(−3.5) tells. Student's t
/// with 0.4 n + 0.7 degrees of freedom follows simulated files of 5 to 1000 values within a fifth.
pub fn expected_far_out(count: usize) -> f64 {
    let count = count as f64;
    count * beta::student_outside(0.4 * count + 0.7, FAR_OUT)
}

/// The median; none without values.
pub fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted.len() / 2;
    let upper = *sorted.get(middle)?;
    Some(if sorted.len() % 2 == 1 { upper } else { f64::midpoint(sorted[middle - 1], upper) })
}

/// The correlation of neighbours in a list of values, as the NIST Statistical Reference Datasets
/// define the sample autocorrelation of lag 1; none where all values are equal.
pub fn neighbour_correlation(values: &[f64]) -> Option<f64> {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let product = |pair: &[f64]| (pair[0] - mean) * (pair[1] - mean);
    let squares: f64 = values.iter().map(|value| (value - mean) * (value - mean)).sum();
    (squares > 0.0).then(|| values.windows(2).map(product).sum::<f64>() / squares)
}

/// Whether neighbours are more alike, or more unlike, than in 99 of 100 lists of independent values.
/// The correlation of such values is about normal, with mean −1/n and standard deviation 1/√n
/// (M. S. Bartlett, J. R. Stat. Soc. Suppl. 8 (1946) 27; from memory).
pub fn neighbours_depend(values: &[f64]) -> bool {
    let n = values.len() as f64;
    let farthest = normal::quantile(0.995) / n.sqrt();
    neighbour_correlation(values).is_some_and(|r| (r + 1.0 / n).abs() > farthest)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST/SEMATECH e-Handbook 1.3.5.17 gives 3.5 as the limit. By hand: median 3, MAD 1, and
    /// 0.6745 · 6 = 4.05 is beyond it, 0.6745 · 5 = 3.37 is not.
    #[test]
    fn values_far_out_by_hand() {
        assert_eq!(far_out(&[1.0, 2.0, 3.0, 4.0, 9.0]), [4]);
        assert_eq!(far_out(&[1.0, 2.0, 3.0, 4.0, 8.0]), Vec::<usize>::new());
        assert_eq!(far_out(&[5.0, 5.0, 5.0, 5.0, 90.0]), Vec::<usize>::new());
        assert_eq!(far_out(&[]), Vec::<usize>::new());
        assert_eq!(median(&[4.0, 1.0, 3.0, 2.0]), Some(2.5));
        assert!((expected_far_out(1_000_000) - 465.3).abs() < 0.5, "2 Φ(−3.5) is 4.653e-4");
    }

    #[test]
    fn neighbours_by_hand() {
        // Mean 2: (−1·0 + 0·1)/(1 + 0 + 1) = 0; alternating values: −4/5 of the sum of squares.
        assert_eq!(neighbour_correlation(&[1.0, 2.0, 3.0]), Some(0.0));
        let alternating = neighbour_correlation(&[1.0, -1.0, 1.0, -1.0, 0.0]).unwrap();
        assert!((alternating + 0.75).abs() < 1e-15, "{alternating}");
        assert_eq!(neighbour_correlation(&[2.0, 2.0]), None);
        let rising: Vec<f64> = (0..30).map(f64::from).collect();
        assert!(neighbours_depend(&rising));
    }
}
