//! How the switches of a population turn on, in the summary.

use schemars::JsonSchema;
use serde::Serialize;

use crate::converter::Arrangement;
use crate::solver::exact::HighIntervals;
use crate::statistics::{KeyFigures, Yield};
use crate::study::common::high_intervals::ShortHighIntervals;
use crate::study::common::soft_switching::{
    CaseSwitching, PopulationSwitching, SharingShift, SoftShares,
};
use crate::study::common::switching_figures::SwitchingFigure;
use crate::study::explanation::{
    ArrangementSearch, DeadTimeYield, PopulationLargest, SwitchingSearch,
};
use crate::units::{Henry, Second};

/// Shares of converters by how their switches turn on. The rest is not solved.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct SoftSharesEntry {
    /// All switches turn on softly.
    soft: Yield,
    /// One switch or more is not decided, and none is hard. It counts as a miss of the limit.
    not_decided: Yield,
    /// One switch or more turns on hard.
    hard: Yield,
}

impl SoftSharesEntry {
    pub(in crate::report) fn new(shares: &SoftShares) -> Self {
        let SoftShares { soft, not_decided, hard } = *shares;
        Self { soft, not_decided, hard }
    }
}

/// How the switches turn on at an operating point. A figure is null where nothing was solved.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct CaseSwitchingEntry {
    /// Share of converters all of whose switches turn on softly.
    soft: Yield,
    /// Share of those of which one switch or more is not decided, and none is hard.
    not_decided: Yield,
    /// Share of those of which one switch or more turns on hard.
    hard: Yield,
    /// Largest shortfall of a swing, as a share of its interval voltage; below zero where all have
    /// something to spare.
    swing_shortfall: Option<KeyFigures>,
    /// Highest turn-on voltage, as a share of its interval voltage.
    turn_on_voltage_share: Option<KeyFigures>,
    #[serde(rename = "turn_on_voltage_V")]
    turn_on_voltage: Option<KeyFigures>,
    /// Number of transitions that end hard.
    hard_transitions: Option<KeyFigures>,
    /// Number of transitions of which that is not decided.
    transitions_not_decided: Option<KeyFigures>,
    #[serde(rename = "commutation_loss_W")]
    loss: Option<KeyFigures>,
}

impl CaseSwitchingEntry {
    /// Of an operating point in an arrangement.
    pub(in crate::report) fn new(case: &CaseSwitching) -> Self {
        let SoftShares { soft, not_decided, hard } = case.shares;
        let figure = |figure| case.key_figures(figure);
        Self {
            soft,
            not_decided,
            hard,
            swing_shortfall: figure(SwitchingFigure::Shortfall),
            turn_on_voltage_share: figure(SwitchingFigure::TurnOnShare),
            turn_on_voltage: figure(SwitchingFigure::TurnOnVoltage),
            hard_transitions: figure(SwitchingFigure::Hard),
            transitions_not_decided: figure(SwitchingFigure::NotDecided),
            loss: figure(SwitchingFigure::Loss),
        }
    }
}

/// What else is known of how the switches turn on.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct PopulationSwitchingEntry {
    /// Where the dead time shifts the sharing error of the nominal chain by what is not small beside its
    /// limit.
    sharing_shifts: Vec<SharingShiftEntry>,
    /// Where `falling-first` makes the high intervals of the nominal chain in half bridge a dead time shorter, and
    /// currents grow by what is not small. All results leave that out.
    short_high_intervals: Vec<ShortHighIntervalsEntry>,
    /// What the target share of all converters needs to switch softly; null where it was not searched.
    search: Option<SearchEntry>,
}

/// A shift of the sharing error by the dead time, which the yield leaves out.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct SharingShiftEntry {
    operating_point: String,
    /// About, in half of all converters: two fractions.
    shift: [f64; 2],
}

/// Short high intervals at an operating point.
#[derive(Debug, Serialize, JsonSchema)]
struct ShortHighIntervalsEntry {
    operating_point: String,
    currents: HighIntervalsEntry,
}

/// By what the currents of the nominal high switches grow.
#[derive(Debug, Serialize, JsonSchema)]
pub(in crate::report) struct HighIntervalsEntry {
    /// The highest RMS current, as a share of that with equal intervals.
    rms_factor: f64,
    /// The highest peak, likewise.
    peak_factor: f64,
}

impl HighIntervalsEntry {
    pub(in crate::report) fn new(HighIntervals { rms, peak }: HighIntervals) -> Self {
        Self { rms_factor: rms, peak_factor: peak }
    }
}

/// The search for dead times and magnetising inductances.
#[derive(Debug, Serialize, JsonSchema)]
struct SearchEntry {
    /// Samples that chose where to look: the run's first ones; null where the run has too few.
    samples_to_choose: Option<u64>,
    /// Samples that were counted: the next ones.
    samples_counted: Option<u64>,
    /// Samples that a run must have at least.
    samples_needed: u64,
    /// Chain, paralleled; empty where the run has too few samples.
    arrangements: Vec<ArrangementSearchEntry>,
}

/// What the target share of all converters of an arrangement needs to switch softly.
#[derive(Debug, Serialize, JsonSchema)]
struct ArrangementSearchEntry {
    arrangement: Arrangement,
    /// The dead time that the search began at; null where no sample was soft at any.
    #[serde(rename = "began_at_s")]
    began_at: Option<Second>,
    /// The shortest dead time of the range; null where none was shown.
    #[serde(rename = "shortest_s")]
    shortest: Option<Second>,
    /// The longest.
    #[serde(rename = "longest_s")]
    longest: Option<Second>,
    /// Whether that is the longest that was tried, so that longer ones may do too.
    longer_may_do: bool,
    /// All dead times that were tried.
    dead_times: Vec<DeadTimeEntry>,
    largest_magnetising_inductance: LargestMagnetisingEntry,
}

/// Shares of the counted samples at a dead time, over all operating points together.
#[derive(Debug, Serialize, JsonSchema)]
struct DeadTimeEntry {
    #[serde(rename = "dead_time_s")]
    dead_time: Second,
    /// Samples all of whose switches turn on softly.
    soft: f64,
    /// Lower end of its confidence interval.
    soft_lower: f64,
    /// Upper end of its confidence interval.
    soft_upper: f64,
    /// Samples that are soft or not decided.
    not_hard: f64,
}

/// The largest magnetising inductance, as the nominal value of all parts; null where it was not shown of
/// any that was tried.
#[derive(Debug, Serialize, JsonSchema)]
struct LargestMagnetisingEntry {
    /// The dead time that it holds for.
    #[serde(rename = "dead_time_s")]
    dead_time: Second,
    /// With which the nominal converter switches softly.
    #[serde(rename = "nominal_parts_H")]
    nominal_parts: Option<Henry>,
    /// With which the target share of all converters does.
    #[serde(rename = "target_share_H")]
    target_share: Option<Henry>,
    /// Whether the latter is the largest that is tried, so that a larger one may do too.
    larger_may_do: bool,
}

impl SharingShiftEntry {
    pub(in crate::report) fn new(own: &SharingShift) -> Self {
        Self { operating_point: own.operating_point.clone(), shift: own.shift }
    }
}

impl ShortHighIntervalsEntry {
    fn new(own: &ShortHighIntervals) -> Self {
        let currents = HighIntervalsEntry::new(own.currents);
        Self { operating_point: own.operating_point.clone(), currents }
    }
}

impl PopulationSwitchingEntry {
    /// None where soft switching is not judged.
    pub(in crate::report) fn new(
        switching: Option<&PopulationSwitching>,
        search: Option<&SwitchingSearch>,
    ) -> Option<Self> {
        Some(Self {
            sharing_shifts: switching?.shifts.iter().map(SharingShiftEntry::new).collect(),
            short_high_intervals: switching?
                .short_high_intervals
                .iter()
                .map(ShortHighIntervalsEntry::new)
                .collect(),
            search: search.map(SearchEntry::new),
        })
    }
}

impl SearchEntry {
    fn new(search: &SwitchingSearch) -> Self {
        let arrangements = Arrangement::ALL.into_iter().zip(&search.arrangements);
        Self {
            samples_to_choose: search.samples.map(|samples| samples.pilot),
            samples_counted: search.samples.map(|samples| samples.counted),
            samples_needed: search.needed,
            arrangements: arrangements
                .map(|(a, own)| ArrangementSearchEntry::new(a, own))
                .collect(),
        }
    }
}

impl ArrangementSearchEntry {
    fn new(arrangement: Arrangement, found: &ArrangementSearch) -> Self {
        let (times, magnetising) = (&found.dead_times, &found.magnetising);
        let inductance = |largest| match largest {
            PopulationLargest::Limit(value) | PopulationLargest::AtLeast(value) => Some(value),
            PopulationLargest::NotShown => None,
        };
        Self {
            arrangement,
            began_at: times.reference,
            shortest: times.ends().map(|[shortest, _]| shortest),
            longest: times.ends().map(|[_, longest]| longest),
            longer_may_do: times.is_open(),
            dead_times: times.tried.iter().map(DeadTimeEntry::new).collect(),
            largest_magnetising_inductance: LargestMagnetisingEntry {
                dead_time: magnetising.dead_time,
                nominal_parts: inductance(magnetising.nominal),
                target_share: inductance(magnetising.population),
                larger_may_do: matches!(magnetising.population, PopulationLargest::AtLeast(_)),
            },
        }
    }
}

impl DeadTimeEntry {
    fn new(own: &DeadTimeYield) -> Self {
        let Yield { estimate: soft, lower: soft_lower, upper: soft_upper, .. } = own.soft;
        Self { dead_time: own.dead_time, soft, soft_lower, soft_upper, not_hard: own.not_hard }
    }
}
