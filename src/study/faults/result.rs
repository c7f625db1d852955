//! What the study finds.

use crate::converter::{Arrangement, Fault};
use crate::solver::SteadyState;
use crate::solver::fault::{FaultCase, FaultOutcome, FirstSigns, StoppedChain, Trap};
use crate::statistics::Yield;
use crate::study::common::missed::{MissedDemand, NominalMiss};
use crate::study::common::settings::Settings;
use crate::study::common::soft_switching::SharingShift;
use crate::units::{Ampere, Hertz, Volt};

/// All results.
#[derive(Debug)]
pub struct FaultStudy {
    /// How it was solved and sampled.
    pub settings: Settings,
    /// The converter before a fault: one an operating point and arrangement, the chain first.
    pub healthy: Vec<HealthyConverter>,
    /// Every fault: by operating point and arrangement as above, then failure by failure.
    pub results: Vec<FaultResult>,
    /// Limits that the nominal converter misses without any fault, with that drift.
    pub nominal_misses: Vec<NominalMiss>,
    /// By how much the dead time shifts sharing at most, which sharing errors leave out; none where that is small.
    pub sharing_shift: Option<SharingShift>,
}

/// The nominal converter at an operating point before a fault.
#[derive(Debug, Clone)]
pub struct HealthyConverter {
    /// Name of the operating point.
    pub operating_point: String,
    /// The arrangement.
    pub arrangement: Arrangement,
    /// Its steady state.
    pub state: SteadyState,
    /// Highest blocking voltage of any switch, the dead times included. Every flying capacitor may lie anywhere
    /// within its band, as far as that lets voltages drift: as with a failed part.
    pub blocking: Volt,
    /// The same without the dead times.
    pub steady_blocking: Volt,
    /// RMS current of the tank that carries most.
    pub tank_rms_current: Ampere,
    /// Lowest and highest switching frequency allowed.
    pub band: (Hertz, Hertz),
}

/// One fault at one operating point in one arrangement.
#[derive(Debug)]
pub struct FaultResult {
    /// What was asked, with the start of searches.
    pub case: FaultCase,
    /// Index of the converter before the fault.
    pub healthy: usize,
    /// What becomes of the nominal converter.
    pub outcome: FaultOutcome,
    /// Sharing errors; none without a steady state.
    pub sharing: Option<FaultedSharing>,
    /// RMS current of the tank that carries most; none without a steady state.
    pub tank_rms_current: Option<Ampere>,
    /// RMS current of the low switch that carries most, of those that switch; none without a steady state.
    pub low_switch_rms_current: Option<Ampere>,
    /// The same of the low switches that two phases share before a fault, where one of both carries
    /// nothing now. None where there is no such switch.
    pub inner_low_switch_rms_current: Option<Ampere>,
    /// What the switches block; none where nothing bounds the currents.
    pub blocking: Option<BlockingVoltage>,
    /// The limits that are missed, of those that are judged; none without a steady state.
    pub missed: Option<Vec<MissedDemand>>,
    /// Where a controller ends that starts from the healthy frequency; none where it finds the output.
    pub trap: Option<Trap>,
    /// Where a stopped chain ends; none where that is not told.
    pub stopped: Option<StoppedChain>,
    /// When the fault shows.
    pub signs: FirstSigns,
    /// How many drawn converters meet the limits with this fault; none where the nominal one does not
    /// run.
    pub remaining_yield: Option<RemainingYield>,
}

/// How unequal the phases are.
#[derive(Debug, Clone, Copy)]
pub struct FaultedSharing {
    /// The sharing error of all phases, those without current among them.
    pub of_all: f64,
    /// The sharing error of those that carry current.
    pub of_carrying: f64,
}

/// The highest voltage across any switch, the dead times included of aged flying capacitors alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BlockingVoltage {
    /// The lowest that it can be, by what happened before.
    pub lowest: Volt,
    /// The highest that it can be; none where the breakdown of the switch alone bounds it.
    pub highest: Option<Volt>,
}

/// Drawn converters with a fault.
#[derive(Debug, Clone)]
pub struct RemainingYield {
    /// Solved, out of range, not solved.
    pub counts: [u64; 3],
    /// Share that meets all judged limits; what is not solved fails. Where parts are measured, for the whole
    /// production that they come from.
    pub good: Yield,
    /// The same for the measured parts alone; none where no part is measured.
    pub good_of_measured_parts: Option<Yield>,
    /// Share of the first drawn converters in which the fault traps the controller on the capacitive side; none
    /// of other faults than aged flying capacitors of a chain. Measured parts count as the population.
    pub trapped: Option<Yield>,
}

impl FaultResult {
    /// Whether the nominal converter runs and meets the judged limits.
    pub fn meets_limits(&self) -> bool {
        self.missed.as_ref().is_some_and(Vec::is_empty)
    }

    /// The arrangement.
    pub fn arrangement(&self) -> Arrangement {
        self.case.arrangement
    }

    /// The fault.
    pub fn fault(&self) -> &Fault {
        &self.case.fault
    }
}

impl FaultStudy {
    /// The converter before a fault.
    pub fn before(&self, result: &FaultResult) -> &HealthyConverter {
        &self.healthy[result.healthy]
    }
}
