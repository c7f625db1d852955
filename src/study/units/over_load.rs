//! Listed converters over load: from a tenth of the power to all of it.

use super::unit_result::{SearchOutcome, UnitPhase};
use crate::converter::{Arrangement, OperatingPoint, Sharing};
use crate::solver::{Outcome, SteadyState};
use crate::units::{Ampere, Hertz, Watt};

/// Loads of a curve: from two twentieths of the power to all of it.
pub const LOADS: std::ops::RangeInclusive<u32> = 2..=20;

/// Operating points that differ by their load alone: the converter is followed once for all of them.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadRange {
    /// The operating point with the highest power of them.
    pub point: OperatingPoint,
    /// Their places in the scenario.
    pub members: Vec<usize>,
}

/// A converter over load in one arrangement.
#[derive(Debug)]
pub struct LoadCurrents {
    /// The converter's place in the parts file.
    pub unit: usize,
    /// The converter's name.
    pub name: String,
    /// The place of its range of loads, among [`OverLoad::ranges`].
    pub range: usize,
    /// The arrangement.
    pub arrangement: Arrangement,
    /// From the lowest load to the highest.
    pub loads: Vec<LoadResult>,
}

/// A converter at one load.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadResult {
    /// Output power.
    pub output_power: Watt,
    /// What became of it.
    pub outcome: SearchOutcome,
    /// What was found, if solved.
    pub solved: Option<SolvedLoad>,
}

/// The steady state at one load.
#[derive(Debug, Clone, PartialEq)]
pub struct SolvedLoad {
    /// Switching frequency that delivers the output.
    pub switching_frequency: Hertz,
    /// Every phase.
    pub phases: Vec<UnitPhase>,
    /// The sharing error that the limit is on, a fraction.
    pub sharing_error: f64,
}

/// All converters over load.
#[derive(Debug)]
pub struct OverLoad {
    /// What they are followed over.
    pub ranges: Vec<LoadRange>,
    /// Converter by converter, range by range, the chain before the paralleled reference.
    pub curves: Vec<LoadCurrents>,
}

impl LoadRange {
    /// Operating points that differ by name and load alone, together.
    pub(super) fn all(points: &[OperatingPoint]) -> Vec<Self> {
        let mut ranges: Vec<Self> = Vec::new();
        for (n, point) in points.iter().enumerate() {
            match ranges.iter_mut().find(|range| differ_by_load_alone(&range.point, point)) {
                Some(range) => {
                    range.members.push(n);
                    if point.output_current > range.point.output_current {
                        range.point = point.clone();
                    }
                }
                None => ranges.push(Self { point: point.clone(), members: vec![n] }),
            }
        }
        ranges
    }

    /// The highest output power.
    pub fn full_power(&self) -> Watt {
        output_power(&self.point)
    }

    /// The operating point at every load, from the lowest to the highest.
    pub(super) fn points(&self) -> Vec<OperatingPoint> {
        let at = |load: u32| {
            let all = f64::from(*LOADS.end());
            let output_current = Ampere(self.point.output_current.0 * f64::from(load) / all);
            OperatingPoint { output_current, ..self.point.clone() }
        };
        LOADS.map(at).collect()
    }
}

fn differ_by_load_alone(a: &OperatingPoint, b: &OperatingPoint) -> bool {
    let plain = |point: &OperatingPoint| OperatingPoint {
        name: String::new(),
        output_current: Ampere(0.0),
        ..point.clone()
    };
    plain(a) == plain(b)
}

/// Output power of an operating point.
pub(super) fn output_power(point: &OperatingPoint) -> Watt {
    Watt(point.output_voltage.0 * point.output_current.0)
}

impl LoadResult {
    /// What was found of a converter at a load.
    pub(super) fn new(point: &OperatingPoint, sharing: Sharing, outcome: &Outcome) -> Self {
        Self {
            output_power: output_power(point),
            outcome: SearchOutcome::from(outcome),
            solved: outcome.solved().map(|state| SolvedLoad::new(state, sharing)),
        }
    }
}

impl SolvedLoad {
    fn new(state: &SteadyState, sharing: Sharing) -> Self {
        let shared = state.phases.iter().map(|phase| phase.shared(sharing.share).0);
        Self {
            switching_frequency: state.switching_frequency,
            phases: UnitPhase::all(&state.phases),
            sharing_error: sharing.measure.error(shared),
        }
    }
}

impl LoadCurrents {
    /// The load nearest to a share of the highest one.
    pub fn near(&self, share: f64) -> Option<&LoadResult> {
        let wanted = share * self.loads.last()?.output_power.0;
        let distance = |load: &LoadResult| (load.output_power.0 - wanted).abs();
        self.loads.iter().min_by(|a, b| distance(a).total_cmp(&distance(b)))
    }

    /// The largest sharing error, with its load; none where nothing is solved.
    pub fn largest_sharing_error(&self) -> Option<&LoadResult> {
        let error = |load: &&LoadResult| load.solved.as_ref().map_or(-1.0, |s| s.sharing_error);
        let solved = self.loads.iter().filter(|load| load.solved.is_some());
        solved.max_by(|a, b| error(a).total_cmp(&error(b)))
    }

    /// Loads at which it is out of range or not solved.
    pub fn unsolved(&self) -> impl Iterator<Item = &LoadResult> {
        self.loads.iter().filter(|load| load.solved.is_none())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::converter::{Condition, Drive, Rectifier};
    use crate::units::Volt;

    fn point(name: &str, input: f64, output: f64, current: f64) -> OperatingPoint {
        OperatingPoint {
            name: name.into(),
            input_voltage: Volt(input),
            output_voltage: Volt(output),
            output_current: Ampere(current),
            drive: Drive::FullBridge,
            rectifier: Rectifier::FullBridge,
            condition: Condition::default(),
        }
    }

    /// Invented operating points: half and full load share a curve up to full load; another input or
    /// output voltage has its own.
    #[test]
    fn operating_points_that_differ_by_load_alone_share_a_curve() {
        let points = [
            point("half", 380.0, 48.0, 31.25),
            point("other input", 420.0, 48.0, 62.5),
            point("full", 380.0, 48.0, 62.5),
            point("other output", 380.0, 54.0, 50.0),
        ];
        let ranges = LoadRange::all(&points);
        let members: Vec<&[usize]> = ranges.iter().map(|range| &range.members[..]).collect();
        assert_eq!(members, [&[0, 2][..], &[1], &[3]]);
        assert_eq!((ranges[0].point.name.as_str(), ranges[0].full_power()), ("full", Watt(3000.0)));
        let powers: Vec<f64> = ranges[0].points().iter().map(|p| output_power(p).0).collect();
        assert_eq!((powers.len(), powers[18]), (19, 3000.0));
        assert!((powers[0] - 300.0).abs() < 1e-9 && (powers[8] - 1500.0).abs() < 1e-9);
    }
}
