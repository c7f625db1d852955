//! How the columns of a file depend on each other, row by row.

use std::collections::BTreeMap;

use super::column::CONFIDENCE;
use crate::converter::Parameter;
use crate::population::measurements::ValueColumn;
use crate::statistics::{Confidence, PearsonCorrelation, StatisticsError};

/// The correlation of two columns.
#[derive(Debug, Clone)]
pub struct ColumnCorrelation {
    /// Names of both columns.
    pub names: [String; 2],
    /// Keys of the parameters, where both are measured of one phase's tank and a scenario can state the
    /// correlation.
    pub keys: Option<[&'static str; 2]>,
    /// The coefficient, over the rows in which both have a value.
    pub found: PearsonCorrelation,
}

/// The correlations of all pairs of columns.
pub(super) fn correlations(
    columns: &[&ValueColumn],
) -> Result<Vec<ColumnCorrelation>, StatisticsError> {
    let confidence = Confidence::new(CONFIDENCE)?;
    let pairs = columns
        .iter()
        .enumerate()
        .flat_map(|(n, first)| columns[n + 1..].iter().map(move |second| [*first, *second]));
    Ok(pairs.filter_map(|pair| correlation(pair, confidence)).collect())
}

fn correlation(pair: [&ValueColumn; 2], confidence: Confidence) -> Option<ColumnCorrelation> {
    let by_line: BTreeMap<usize, f64> = pair[1].values.iter().map(|m| (m.line, m.value)).collect();
    let (mut first, mut second) = (Vec::new(), Vec::new());
    for measured in &pair[0].values {
        if let Some(other) = by_line.get(&measured.line) {
            first.push(measured.value);
            second.push(*other);
        }
    }
    let found = PearsonCorrelation::new(&first, &second, confidence)?;
    let names = pair.map(|column| column.name.clone());
    Some(ColumnCorrelation { names, keys: keys(pair), found })
}

/// The keys of two different parameters of a tank.
fn keys(pair: [&ValueColumn; 2]) -> Option<[&'static str; 2]> {
    let of_tank = |column: &ValueColumn| {
        let parameter = column.parameter?;
        Parameter::of_tank().find(|other| *other == parameter)
    };
    let [first, second] = [of_tank(pair[0])?, of_tank(pair[1])?];
    (first != second).then(|| [first.key(), second.key()])
}
