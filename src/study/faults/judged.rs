//! Which limits a converter with a failed part is judged by.
//!
//! The sharing error is that of the phases that carry current: a phase that is known to be lost is no
//! finding. Behind a dead low gate it grows by what is not known: there it may miss its limit, but does not show that
//! it meets it. Blocking voltages count at the highest value that the
//! history of the legs allows, with what dead times add of aged flying capacitors alone. So do the currents of
//! switches. What loads the
//! tanks and rectifiers of the phases that carry current follows from their steady state.
//!
//! An aged flying capacitor leaves every part at work, with one value changed: all limits are judged. So they
//! are where a paralleled phase is lost, by the phases that go on. A chain that is one of fewer phases loses in
//! them what such a chain does; but idle switches hang on its last node, so that their turn-on is not known.
//!
//! Behind any other fault the losses of switches and capacitors, how switches turn on, and the dc voltage of the
//! resonant capacitors are not known. Each period capacitors meet hard through switches, or body diodes clamp a
//! leg whose history is open: stray parts decide. Limits on these are not judged there.

use std::borrow::Cow;

use super::counted_drift::CountedDrift;
use crate::converter::{
    Arrangement, ChainDrift, Converter, FailureMode, OperatingPoint, RatedPart, Rating, Stress,
    SwitchTiming,
};
use crate::scenario::{Limits, PartLimit, Scenario, SwitchLimits};
use crate::solver::commutation::Commutation;
use crate::solver::fault::{FaultCase, FaultedState};
use crate::solver::{PartStress, PhaseState, SteadyState, TankState};
use crate::study::common::commutation::SolvedCase;
use crate::study::common::demand::Demand;
use crate::study::common::figures::{Figure, SolvedConverter};
use crate::study::common::missed::MissedDemand;
use crate::units::Volt;

/// What is known of a converter with a fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum KnownLoads {
    /// The currents of tanks, and of switches while no capacitors meet in them; blocking voltages.
    Currents,
    /// Losses too, but for those at turn-on.
    Losses,
    /// All that is known of a healthy converter.
    All,
}

impl KnownLoads {
    fn of(case: &FaultCase) -> Self {
        let (fault, drive) = (case.fault, case.point.drive);
        let is_aged = matches!(fault.failure, FailureMode::FlyingCapacitorAged(_));
        if is_aged || case.loses_paralleled_phase() {
            Self::All
        } else if fault.leaves_shorter_chain(drive, case.arrangement)
            && case.warmed_switch().is_none()
        {
            Self::Losses
        } else {
            Self::Currents
        }
    }

    fn limits(self, limits: &Limits) -> Limits {
        if self == Self::All {
            return limits.clone();
        }
        let with_losses = self == Self::Losses;
        let of_switches = |own: &SwitchLimits| SwitchLimits {
            rms_current: own.rms_current,
            peak_current: own.peak_current,
            blocking_voltage: own.blocking_voltage,
            junction_temperature: own.junction_temperature.filter(|_| with_losses),
            efficiency: own.efficiency.filter(|_| with_losses),
            ..SwitchLimits::default()
        };
        let is_told = |own: &&PartLimit| follows_from_currents(own.rating);
        Limits {
            chain: of_switches(&limits.chain),
            paralleled: of_switches(&limits.paralleled),
            parts: limits.parts.iter().filter(is_told).copied().collect(),
            ..limits.clone()
        }
    }
}

/// The limits that are judged of a fault.
pub fn judged_limits(limits: &Limits, case: &FaultCase) -> Limits {
    KnownLoads::of(case).limits(limits)
}

/// The limits of a scenario that are not judged after every fault, one of each name.
pub fn not_always_judged(scenario: &Scenario) -> Vec<Demand> {
    let limits = &scenario.limits;
    let judged = KnownLoads::Currents.limits(limits);
    let all = Arrangement::ALL.iter().flat_map(|own| left_out(limits, &judged, *own));
    let all = blocking_in_dead_times(scenario).chain(all);
    let all = switch_currents(limits, Arrangement::Chain).chain(all);
    let all = sharing_limit(limits).chain(all);
    all.fold(Vec::new(), |mut found: Vec<Demand>, demand| {
        if found.iter().all(|known| known.name() != demand.name()) {
            found.push(demand);
        }
        found
    })
}

/// The limits of its arrangement that are not judged of a fault. Where capacitors meet in switches, what is known of
/// their currents can show that a limit is missed, but not that it is met. So it is with currents and blocking
/// voltages where dead times may add to them, and with sharing behind a dead low gate.
pub fn not_judged(scenario: &Scenario, case: &FaultCase) -> Vec<Demand> {
    let limits = &scenario.limits;
    let is_open = case.arrangement == Arrangement::Chain && KnownLoads::of(case) != KnownLoads::All;
    let timing = scenario.switch.map(|own| own.chain.timing);
    let may_carry_more = case.fault.joins_capacitors(case.arrangement)
        || is_open && timing == Some(SwitchTiming::FallingFirst);
    let currents = switch_currents(limits, case.arrangement).filter(|_| may_carry_more);
    let blocking = blocking_in_dead_times(scenario).filter(|_| is_open);
    let sharing = sharing_limit(limits).filter(|_| is_behind_dead_low_gate(case));
    let left_out = left_out(limits, &judged_limits(limits, case), case.arrangement);
    sharing.chain(currents).chain(blocking).chain(left_out).collect()
}

/// The limit on the sharing error of the chain.
fn sharing_limit(limits: &Limits) -> impl Iterator<Item = Demand> {
    let is_sharing = |own: &Demand| matches!(own.figure, Some(Figure::SharingError(_)));
    Demand::all(limits, Arrangement::Chain).into_iter().filter(is_sharing)
}

/// The limit on what switches of the chain block, where dead times may add to that.
fn blocking_in_dead_times(scenario: &Scenario) -> impl Iterator<Item = Demand> {
    let adds = scenario.switch.is_some_and(|own| own.chain.timing == SwitchTiming::Together);
    let is_blocking = |own: &Demand| own.figure == Some(Figure::WorstBlocking);
    let all = Demand::all(&scenario.limits, Arrangement::Chain).into_iter();
    all.filter(is_blocking).filter(move |_| adds)
}

/// The limits on currents of switches.
fn switch_currents(limits: &Limits, arrangement: Arrangement) -> impl Iterator<Item = Demand> {
    let is_current =
        |own: &Demand| matches!(own.figure, Some(Figure::WorstSwitchRms | Figure::WorstSwitchPeak));
    Demand::all(limits, arrangement).into_iter().filter(is_current)
}

fn left_out(limits: &Limits, judged: &Limits, arrangement: Arrangement) -> Vec<Demand> {
    let known = Demand::all(judged, arrangement);
    let all = Demand::all(limits, arrangement).into_iter();
    all.filter(|demand| !known.contains(demand)).collect()
}

/// Whether the current of a phase's tank alone tells a load.
fn follows_from_currents(Rating { part, stress }: Rating) -> bool {
    match part {
        RatedPart::ResonantInductor | RatedPart::Transformer | RatedPart::Rectifier => true,
        RatedPart::ResonantCapacitor => stress != Stress::PeakVoltage,
        _ => false,
    }
}

/// The figures that are judged, in the order of [`FaultedFigures::values`].
pub(super) fn figures(limits: &Limits) -> Vec<Figure> {
    let mut figures = vec![
        Figure::SharingError(limits.sharing),
        Figure::WorstSwitchRms,
        Figure::WorstSwitchPeak,
        Figure::WorstBlocking,
    ];
    let demanded = Demand::figures(limits).into_iter();
    let more: Vec<Figure> = demanded.filter(|figure| !figures.contains(figure)).collect();
    figures.extend(more);
    figures
}

/// The figures of a converter that runs with a failed part.
pub(super) struct FaultedFigures {
    figures: Vec<Figure>,
    values: Vec<f64>,
}

impl FaultedFigures {
    /// Of a converter in this state.
    pub(super) fn new(judged: JudgedConverter<'_>) -> Self {
        let JudgedConverter { scenario, case, found, .. } = judged;
        let limits = &scenario.limits;
        let sharing = limits.sharing;
        let carrying =
            found.carrying.iter().map(|k| found.state.phases[*k].shared(sharing.share).0);
        let [rms, peak] = judged.highest_currents();
        let blocking = match case.arrangement {
            Arrangement::Chain => judged.highest_blocking().0,
            Arrangement::Paralleled => case.point.input_voltage.0,
        };
        let mut values = vec![sharing.measure.error(carrying), rms, peak, blocking];
        let figures = figures(limits);
        if figures.len() > values.len() {
            values.extend(judged.values(&figures[values.len()..]));
        }
        Self { figures, values }
    }

    /// One a figure; NaN where it is not told.
    pub(super) fn values(&self) -> &[f64] {
        &self.values
    }

    /// The judged limits that it misses.
    pub(super) fn missed(&self, limits: &Limits, case: &FaultCase) -> Vec<MissedDemand> {
        let judged = judged_limits(limits, case);
        let (arrangement, drive) = (case.arrangement, case.point.drive);
        let missed = |demand: Demand| {
            let figure = demand.figure.filter(|figure| figure.applies(arrangement, drive))?;
            let value = self.values[self.figures.iter().position(|own| *own == figure)?];
            let known = Some(value).filter(|value| value.is_finite());
            let is_met = value <= demand.limit;
            (!is_met).then_some(MissedDemand { demand, value: known })
        };
        Demand::all(&judged, arrangement).into_iter().filter_map(missed).collect()
    }
}

/// Whether two phases of a chain return their currents through each other.
fn is_behind_dead_low_gate(case: &FaultCase) -> bool {
    let FaultCase { fault, arrangement, .. } = case;
    fault.failure == FailureMode::LowGateOff && *arrangement == Arrangement::Chain
}

/// A converter that runs with a failed part.
#[derive(Clone, Copy)]
pub(super) struct JudgedConverter<'a> {
    pub(super) scenario: &'a Scenario,
    pub(super) case: &'a FaultCase,
    /// Before the fault.
    pub(super) converter: &'a Converter,
    pub(super) found: &'a FaultedState,
    /// Whose drift counts where all parts still work.
    pub(super) drift: CountedDrift,
}

impl JudgedConverter<'_> {
    /// The least that the switch of a chain that blocks most sees, whatever happened before.
    pub(super) fn lowest_blocking(&self) -> Volt {
        if !self.is_known() {
            return self.found.lowest_blocking();
        }
        let none = ChainDrift::none(self.converter.phases());
        Volt(self.solved(Some(none), |solved| solved.value(Figure::WorstBlocking)))
    }

    /// The highest voltage across any switch of a chain. Where all parts still work that is the figure of a
    /// healthy converter, the dead times included.
    pub(super) fn highest_blocking(&self) -> Volt {
        if !self.is_known() {
            return self.found.highest_blocking();
        }
        Volt(self.solved(None, |solved| solved.value(Figure::WorstBlocking)))
    }

    /// The highest RMS and peak current of any switch. Where all parts of a chain still work they are the figures of
    /// a healthy converter, the dead times included. Switches of the paralleled reference are those on tanks
    /// rescaled to the whole input.
    fn highest_currents(&self) -> [f64; 2] {
        let FaultedState { state, .. } = self.found;
        let scale = match self.case.arrangement {
            Arrangement::Chain if self.is_known() => {
                let figures = [Figure::WorstSwitchRms, Figure::WorstSwitchPeak];
                return self.solved(None, |solved| figures.map(|figure| solved.value(figure)));
            }
            Arrangement::Chain => 1.0,
            Arrangement::Paralleled => 1.0 / self.scenario.phases as f64,
        };
        let currents = || state.phases.iter().flat_map(|phase| phase.switches.all());
        let rms = currents().map(|own| own.rms.0).fold(0.0, f64::max);
        [scale * rms, scale * currents().map(|own| own.peak.0).fold(0.0, f64::max)]
    }

    fn is_known(&self) -> bool {
        KnownLoads::of(self.case) == KnownLoads::All
    }

    fn values(&self, figures: &[Figure]) -> Vec<f64> {
        let judged = Demand::figures(&judged_limits(&self.scenario.limits, self.case));
        let (arrangement, drive) = (self.case.arrangement, self.case.point.drive);
        let is_told =
            |figure: &Figure| judged.contains(figure) && figure.applies(arrangement, drive);
        self.solved(None, |solved| {
            let value =
                |figure: &Figure| if is_told(figure) { solved.value(*figure) } else { f64::NAN };
            figures.iter().map(value).collect()
        })
    }

    /// What a function tells of the converter as it runs, with a drift or that which counts.
    fn solved<T>(
        &self,
        drift: Option<ChainDrift>,
        told: impl FnOnce(&SolvedConverter<'_>) -> T,
    ) -> T {
        let FaultCase { point, arrangement, fault, .. } = self.case;
        let before = self.converter.at(&point.condition);
        let converter = fault.aged(&before);
        let state = self.state(&converter);
        let assumed = &self.scenario.drift;
        let solved = SolvedConverter::new(&state, &converter, point, *arrangement, assumed)
            .with_switches(self.scenario.switch.as_ref());
        if *arrangement == Arrangement::Paralleled {
            return told(&solved);
        }
        let counted = || self.drift.of(self.scenario, self.case, &before, &state);
        told(&solved.with_drift(drift.unwrap_or_else(counted)))
    }

    /// The steady state, in which parts of phases without current are not loaded.
    fn state(&self, converter: &Converter) -> Cow<'_, SteadyState> {
        let found = self.found;
        if found.carrying.len() == found.state.phases.len() {
            return Cow::Borrowed(&found.state);
        }
        let mut state = found.state.clone();
        let is_idle = |k: &usize| !found.carrying.contains(k);
        for k in (0..state.phases.len()).filter(is_idle) {
            let idle = Some(TankState::default());
            let stress = Some(PartStress::default());
            state.phases[k] = PhaseState { stress, start: idle, middle: idle, ..state.phases[k] };
        }
        if state.commutation.is_none() && self.case.loses_paralleled_phase() {
            state.commutation = self.commutation(converter);
        }
        Cow::Owned(state)
    }

    /// How the switches of the phases that go on turn on, each by itself; none without switches.
    fn commutation(&self, converter: &Converter) -> Option<Commutation> {
        let FaultedState { carrying, .. } = self.found;
        let point = &self.case.point;
        let share = carrying.len() as f64 / self.found.state.phases.len() as f64;
        let solved = SolvedCase {
            converter: &converter.of_phases(carrying),
            state: &self.found.carrying_phases(),
            point: &OperatingPoint {
                input_voltage: Volt(share * point.input_voltage.0),
                ..point.clone()
            },
            arrangement: self.case.arrangement,
        };
        let commutation = solved.commutation(self.scenario.switch.as_ref()?).solve()?;
        Some(commutation.at_places(carrying))
    }
}
