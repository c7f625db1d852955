//! Listed converters over all operating points: which meet every limit, and what the others miss.

use super::unit_result::{UnitResult, WorstSwitches};
use crate::converter::Arrangement;
use crate::study::common::demand::Demand;
use crate::study::common::missed::MissedDemand;
use crate::units::{Ampere, Volt};

/// A converter in one arrangement, over all operating points.
#[derive(Debug, Clone)]
pub struct UnitVerdict {
    /// The arrangement.
    pub arrangement: Arrangement,
    /// Whether it meets every limit at every operating point.
    pub meets_limits: bool,
    /// Its largest sharing error at the operating points where it is solved.
    pub sharing_error: Option<f64>,
    /// The highest currents and blocking voltage at the operating points where it is solved.
    pub worst_switches: Option<WorstSwitches>,
    /// Operating points at which it is not solved or out of range.
    pub unsolved: usize,
    /// The limit that it misses by the largest ratio; regulation before all others.
    pub worst_miss: Option<UnitMiss>,
    /// The largest ratio of a figure to its limit. Infinite where a steady state is missing.
    limit_use: f64,
}

/// A limit that a converter misses at an operating point.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitMiss {
    /// The converter's name.
    pub unit: String,
    /// The operating point's name.
    pub operating_point: String,
    /// The limit, with the value.
    pub missed: MissedDemand,
}

/// How many converters miss a limit at any operating point.
#[derive(Debug, Clone, PartialEq)]
pub struct DemandMisses {
    /// Converters that miss it.
    pub units: usize,
    /// The one that misses it by the largest ratio.
    pub worst: UnitMiss,
}

/// All converters in one arrangement.
#[derive(Debug, Clone)]
pub struct LimitsMet {
    /// The arrangement.
    pub arrangement: Arrangement,
    /// Converters.
    pub units: usize,
    /// Those that meet every limit at every operating point.
    pub meeting: usize,
    /// Limits that others miss, the one missed by the largest ratio first.
    pub missed: Vec<DemandMisses>,
}

/// All converters at one operating point in one arrangement.
#[derive(Debug, Clone)]
pub struct PointStatistics {
    /// The operating point's name.
    pub operating_point: String,
    /// The arrangement.
    pub arrangement: Arrangement,
    /// Converters.
    pub units: usize,
    /// Those that are solved.
    pub solved: usize,
    /// Those that meet every limit there.
    pub meeting: usize,
    /// Median of the sharing errors of solved converters: of an even number, the lower one of the middle
    /// two.
    pub median_sharing_error: Option<f64>,
    /// The largest of them.
    pub largest_sharing_error: Option<f64>,
    /// The highest currents and blocking voltage of any solved converter.
    pub worst_switches: Option<WorstSwitches>,
}

impl UnitVerdict {
    /// Of the results of one converter, those in an arrangement.
    pub(super) fn new(results: &[UnitResult], arrangement: Arrangement) -> Self {
        let results: Vec<&UnitResult> =
            results.iter().filter(|result| result.arrangement == arrangement).collect();
        let solved = || results.iter().filter_map(|result| result.solved.as_ref());
        let misses = results.iter().flat_map(|result| UnitMiss::all(result));
        let worst_miss = misses.reduce(UnitMiss::worse);
        let ratio = worst_miss.as_ref().map_or(0.0, |miss| miss.missed.ratio());
        Self {
            arrangement,
            meets_limits: worst_miss.is_none(),
            sharing_error: solved().map(|solved| solved.sharing_error).reduce(f64::max),
            worst_switches: solved().map(|s| s.worst_switches).reduce(WorstSwitches::higher),
            unsolved: results.iter().filter(|result| result.solved.is_none()).count(),
            worst_miss,
            limit_use: solved().map(|solved| solved.limit_use).fold(ratio, f64::max),
        }
    }

    /// How bad it is: the worst converter has the largest ratio to a limit, and of equal ones the
    /// largest sharing error.
    pub(super) fn severity(&self) -> [f64; 2] {
        [self.limit_use, self.sharing_error.unwrap_or(0.0)]
    }
}

impl UnitMiss {
    fn all(result: &UnitResult) -> impl Iterator<Item = Self> {
        result.missed.iter().map(|missed| Self {
            unit: result.name.clone(),
            operating_point: result.point.name.clone(),
            missed: *missed,
        })
    }

    /// The one that is missed by the larger ratio; of equals the first.
    fn worse(self, other: Self) -> Self {
        if other.missed.ratio() > self.missed.ratio() { other } else { self }
    }
}

impl WorstSwitches {
    /// The higher value of each, with the switch that carries the higher RMS current.
    fn higher(self, other: Self) -> Self {
        let carries = if other.rms_current > self.rms_current { other } else { self };
        Self {
            switch: carries.switch,
            rms_current: carries.rms_current,
            peak_current: Ampere(self.peak_current.0.max(other.peak_current.0)),
            blocking_voltage: Volt(self.blocking_voltage.0.max(other.blocking_voltage.0)),
        }
    }
}

impl LimitsMet {
    /// Counts the converters in an arrangement; `units` holds the results of each.
    pub(super) fn new(units: &[&[UnitResult]], arrangement: Arrangement) -> Self {
        let mut missed: Vec<DemandMisses> = Vec::new();
        let mut meeting = 0;
        for results in units {
            let own = own_misses(results, arrangement);
            meeting += usize::from(own.is_empty());
            for miss in own {
                let known = missed.iter_mut().find(|known| is_same(&known.worst, &miss));
                match known {
                    Some(known) => {
                        known.units += 1;
                        known.worst = known.worst.clone().worse(miss);
                    }
                    None => missed.push(DemandMisses { units: 1, worst: miss }),
                }
            }
        }
        missed.sort_by(|a, b| b.worst.missed.ratio().total_cmp(&a.worst.missed.ratio()));
        Self { arrangement, units: units.len(), meeting, missed }
    }
}

/// The limits that one converter misses, each once, where it misses it most.
fn own_misses(results: &[UnitResult], arrangement: Arrangement) -> Vec<UnitMiss> {
    let mut own: Vec<UnitMiss> = Vec::new();
    let results = results.iter().filter(|result| result.arrangement == arrangement);
    for miss in results.flat_map(UnitMiss::all) {
        match own.iter_mut().find(|known| is_same(known, &miss)) {
            Some(known) => *known = known.clone().worse(miss),
            None => own.push(miss),
        }
    }
    own
}

/// Whether both miss the same limit.
fn is_same(a: &UnitMiss, b: &UnitMiss) -> bool {
    let Demand { figure, .. } = a.missed.demand;
    figure == b.missed.demand.figure
}

impl PointStatistics {
    /// Of the results of all converters at one operating point in one arrangement.
    pub(super) fn new(results: &[&UnitResult]) -> Option<Self> {
        let first = results.first()?;
        let solved = || results.iter().filter_map(|result| result.solved.as_ref());
        let mut errors: Vec<f64> = solved().map(|solved| solved.sharing_error).collect();
        errors.sort_by(f64::total_cmp);
        Some(Self {
            operating_point: first.point.name.clone(),
            arrangement: first.arrangement,
            units: results.len(),
            solved: errors.len(),
            meeting: results.iter().filter(|result| result.meets_limits()).count(),
            median_sharing_error: errors.get(errors.len().saturating_sub(1) / 2).copied(),
            largest_sharing_error: errors.last().copied(),
            worst_switches: solved().map(|s| s.worst_switches).reduce(WorstSwitches::higher),
        })
    }
}
