//! The figures taken of every solved converter.

use std::borrow::Cow;
use std::cell::OnceCell;

use crate::converter::{
    Arrangement, AssumedDrift, ChainDrift, Converter, Drive, Leg, Measure, OperatingPoint, Rating,
    Shared, Sharing, SwitchTiming,
};
use crate::scenario::{Scenario, SwitchSettings};
use crate::solver::dissipation::Dissipation;
use crate::solver::{
    ChainVoltages, Method, PhaseState, SteadyState, SwitchCurrent, chain_voltages,
};
use crate::study::common::commutation::{SoftSwitching, SolvedCase};
use crate::study::common::drift::DriftingChain;
use crate::study::common::loss_figures::{LossFigure, LossValue};
use crate::study::common::settling_figures::{SettlingFigure, SlowestMode};
use crate::study::common::switching_figures::SwitchingFigure;
use crate::units::{Second, Volt, Watt};

/// A side of a leg.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Towards the input.
    High,
    /// Towards ground.
    Low,
}

/// One switch; phases count from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Switch {
    /// Its phase.
    pub phase: usize,
    /// Its leg.
    pub leg: Leg,
    /// Its side.
    pub side: Side,
}

impl Switch {
    /// Whether it is ever on. In half-bridge drive, with one switching leg, the return leg holds
    /// its low side on.
    pub(super) fn carries(self, legs: usize) -> bool {
        legs > 1 || self.leg == Leg::Driven || self.side == Side::Low
    }

    /// Whether it switches, and so has to block.
    pub(super) fn blocks(self, legs: usize) -> bool {
        legs > 1 || self.leg == Leg::Driven
    }

    pub(super) fn current(self, phases: &[PhaseState]) -> SwitchCurrent {
        let s = &phases[self.phase].switches;
        match (self.leg, self.side) {
            (Leg::Driven, Side::High) => s.high,
            (Leg::Driven, Side::Low) => s.low,
            (Leg::Return, Side::High) => s.return_high,
            (Leg::Return, Side::Low) => s.return_low,
        }
    }

    /// `high_1`, `low_2`, `return_high_1` …
    pub fn name(self) -> String {
        let side = match (self.leg, self.side) {
            (Leg::Driven, Side::High) => "high",
            (Leg::Driven, Side::Low) => "low",
            (Leg::Return, Side::High) => "return_high",
            (Leg::Return, Side::Low) => "return_low",
        };
        format!("{side}_{}", self.phase + 1)
    }
}

/// A number taken of a solved converter. Phases and capacitors count from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Figure {
    /// Switching frequency, Hz.
    SwitchingFrequency,
    /// A sharing error, a fraction.
    SharingError(Sharing),
    /// Highest RMS current of any switch, A; with that of dead times in which low switches wait for others.
    WorstSwitchRms,
    /// Highest peak current of any switch, A; likewise.
    WorstSwitchPeak,
    /// Highest blocking voltage of any switch, V; in the dead times too, where these are followed.
    WorstBlocking,
    /// Sum over the switches of blocking voltage × peak current, VA.
    Stress,
    /// The same with the paralleled converter's tanks carrying the chain's phase current.
    StressAtEqualCurrent,
    /// Loss in resistances and rectifiers, W; with the losses of its parts, at turn-on too.
    Loss,
    /// Output current of a phase, A.
    OutputCurrent(usize),
    /// RMS tank current of a phase, A.
    RmsCurrent(usize),
    /// Peak tank current of a phase, A.
    PeakCurrent(usize),
    /// Mean absolute tank current of a phase, A.
    MeanCurrent(usize),
    /// A figure of losses that the scenario tells apart.
    Losses(LossFigure),
    /// How the switches turn on, where the scenario describes them.
    Switching(SwitchingFigure),
    /// RMS current of a switch, A.
    SwitchRms(Switch),
    /// Peak current of a switch, A.
    SwitchPeak(Switch),
    /// Voltage of a flying capacitor half-way through its ripple, V.
    FlyingVoltage(usize),
    /// What loads the parts that one orders as one type: the highest of them.
    Rating(Rating),
    /// How fast a disturbance of the flying capacitors decays.
    Settling(SettlingFigure),
}

impl Figure {
    /// All figures of converters with this number of phases and driven legs.
    pub fn all(phases: usize, legs: usize) -> Vec<Self> {
        let mut figures = vec![Self::SwitchingFrequency];
        for share in Shared::ALL {
            for measure in Measure::ALL {
                figures.push(Self::SharingError(Sharing { share, measure }));
            }
        }
        figures.extend([
            Self::WorstSwitchRms,
            Self::WorstSwitchPeak,
            Self::WorstBlocking,
            Self::Stress,
            Self::StressAtEqualCurrent,
            Self::Loss,
        ]);
        let of_phase: [fn(usize) -> Self; 4] =
            [Self::OutputCurrent, Self::RmsCurrent, Self::PeakCurrent, Self::MeanCurrent];
        figures.extend(of_phase.iter().flat_map(|f| (0..phases).map(f)));
        for switch in switches(phases, legs) {
            figures.extend([Self::SwitchRms(switch), Self::SwitchPeak(switch)]);
        }
        figures.extend((1..phases).map(|k| Self::FlyingVoltage(k - 1)));
        figures
    }

    /// Whether quantiles of this figure are kept exactly for the usual number of samples.
    pub fn is_headline(self) -> bool {
        matches!(
            self,
            Self::SwitchingFrequency
                | Self::SharingError(_)
                | Self::WorstSwitchRms
                | Self::WorstSwitchPeak
                | Self::WorstBlocking
                | Self::Losses(
                    LossFigure::Efficiency | LossFigure::LostShare | LossFigure::Junction
                )
                | Self::Switching(_)
        )
    }

    /// Whether it is a ratio, which is shown in percent.
    pub fn is_ratio(self) -> bool {
        let of_losses = Self::Losses(LossFigure::LostShare);
        matches!(self, Self::SharingError(_) | Self::Switching(_)) || self == of_losses
    }

    /// Whether it needs steady states that tell what loads every part.
    pub fn needs_stress(self) -> bool {
        matches!(self, Self::Rating(_))
    }

    /// Whether the figure exists for a converter in this arrangement and drive.
    pub fn applies(self, arrangement: Arrangement, drive: Drive) -> bool {
        match self {
            Self::SwitchRms(s) | Self::SwitchPeak(s) => s.carries(drive.legs()),
            Self::FlyingVoltage(_) | Self::Settling(_) => arrangement == Arrangement::Chain,
            Self::Rating(rating) => rating.part.is_in(arrangement) && rating.is_used(drive),
            _ => true,
        }
    }

    /// The name used in result files, with the unit.
    pub fn name(self) -> String {
        match self {
            Self::SwitchingFrequency => "switching_frequency_Hz".into(),
            Self::SharingError(s) => {
                format!("sharing_error_{}_{}", s.share.name(), s.measure.name()).replace('-', "_")
            }
            Self::WorstSwitchRms => "switch_rms_current_A".into(),
            Self::WorstSwitchPeak => "switch_peak_current_A".into(),
            Self::WorstBlocking => "blocking_voltage_V".into(),
            Self::Stress => "switch_stress_VA".into(),
            Self::StressAtEqualCurrent => "switch_stress_at_equal_current_VA".into(),
            Self::Loss => "loss_W".into(),
            Self::OutputCurrent(k) => format!("output_current_{}_A", k + 1),
            Self::RmsCurrent(k) => format!("rms_tank_current_{}_A", k + 1),
            Self::PeakCurrent(k) => format!("peak_tank_current_{}_A", k + 1),
            Self::MeanCurrent(k) => format!("mean_abs_tank_current_{}_A", k + 1),
            Self::Losses(own) => own.name().into(),
            Self::Switching(figure) => figure.name().into(),
            Self::SwitchRms(s) => format!("{}_switch_rms_current_A", s.name()),
            Self::SwitchPeak(s) => format!("{}_switch_peak_current_A", s.name()),
            Self::FlyingVoltage(k) => format!("flying_capacitor_voltage_{}_V", k + 1),
            Self::Rating(rating) => rating.name(),
            Self::Settling(own) => own.name().into(),
        }
    }
}

/// All switches that carry current, with this number of switching legs.
pub fn switches(phases: usize, legs: usize) -> impl Iterator<Item = Switch> {
    [Leg::Driven, Leg::Return]
        .into_iter()
        .flat_map(|leg| [Side::High, Side::Low].map(|side| (leg, side)))
        .flat_map(move |(leg, side)| (0..phases).map(move |phase| Switch { phase, leg, side }))
        .filter(move |switch| switch.carries(legs))
}

/// A solved converter, ready to be measured.
#[derive(Debug)]
pub struct SolvedConverter<'a> {
    pub(super) state: &'a SteadyState,
    pub(super) converter: Cow<'a, Converter>,
    pub(super) point: &'a OperatingPoint,
    /// None in the paralleled arrangement.
    pub(super) voltages: Option<ChainVoltages>,
    pub(super) drift: ChainDrift,
    /// Switch currents for a tank current of one ampere: the paralleled reference stands on
    /// tanks rescaled to the whole input.
    pub(super) scale: f64,
    /// Losses part by part; none where the scenario does not tell them apart.
    dissipation: Option<Cow<'a, Dissipation>>,
    /// What else the converter loses, such as its sensors.
    standing_loss: Watt,
    /// The switches, where their dead times are followed.
    pub(super) switch: Option<&'a SwitchSettings>,
    /// How they turn on, once a figure asks.
    switching: OnceCell<Option<SoftSwitching>>,
    /// How a disturbance decays, once a figure asks.
    slowest: OnceCell<Option<SlowestMode>>,
    /// The limit on its time, where no more is asked than whether it is met.
    settling_limit: Option<Second>,
}

impl<'a> SolvedConverter<'a> {
    /// Takes a solved converter; `drift` is what the scenario says of its flying-capacitor voltages.
    pub fn new(
        state: &'a SteadyState,
        converter: &'a Converter,
        point: &'a OperatingPoint,
        arrangement: Arrangement,
        drift: &AssumedDrift,
    ) -> Self {
        let chain = arrangement == Arrangement::Chain;
        let converter = converter.at(&point.condition);
        let drift = match arrangement {
            Arrangement::Chain => {
                DriftingChain { converter: &converter, state, point }.drift(drift)
            }
            Arrangement::Paralleled => ChainDrift::none(converter.phases()),
        };
        let found = || Dissipation::new(state, &converter, point, arrangement);
        let dissipation = match &state.dissipation {
            _ if converter.losses.is_none() => None,
            Some(own) => Some(Cow::Borrowed(own)),
            None => found().map(Cow::Owned),
        };
        Self {
            state,
            point,
            voltages: chain.then(|| chain_voltages(state, &converter, point)),
            scale: if chain { 1.0 } else { 1.0 / converter.healthy_phases as f64 },
            converter,
            drift,
            dissipation,
            standing_loss: Watt(0.0),
            switch: None,
            switching: OnceCell::new(),
            slowest: OnceCell::new(),
            settling_limit: None,
        }
    }

    /// Losses part by part; none where the scenario does not tell them apart.
    pub fn dissipation(&self) -> Option<&Dissipation> {
        self.dissipation.as_deref()
    }

    /// The figures of its losses that the scenario tells.
    pub fn loss_values(&self, scenario: &Scenario, method: Method) -> Vec<LossValue> {
        let value = |figure| LossValue { figure, value: self.value(Figure::Losses(figure)) };
        let told = LossFigure::told(scenario, method).map(value);
        told.filter(|own| own.value.is_finite()).collect()
    }

    /// The same with another drift of the flying-capacitor voltages.
    #[must_use]
    pub fn with_drift(self, drift: ChainDrift) -> Self {
        Self { drift, ..self }
    }

    /// The same with what something else in it loses.
    #[must_use]
    pub fn with_standing_loss(self, standing_loss: Watt) -> Self {
        Self { standing_loss, ..self }
    }

    /// The same with these switches: figures tell how they turn on, and blocking voltages include those
    /// of the dead times.
    #[must_use]
    pub fn with_switches(mut self, switch: Option<&'a SwitchSettings>) -> Self {
        self.switch = switch;
        self
    }

    /// The same where only one thing is asked of the settling time: whether it meets a limit. Where it does for
    /// certain, the limit stands for the time.
    #[must_use]
    pub fn with_settling_limit(self, settling_limit: Option<Second>) -> Self {
        Self { settling_limit, ..self }
    }

    /// How the switches turn on; none where they are not described, or the solver does not tell the
    /// currents at the switching instants.
    pub fn switching(&self) -> Option<&SoftSwitching> {
        let found = self.switching.get_or_init(|| {
            let chain = self.voltages.is_some();
            let solved = SolvedCase {
                converter: &self.converter,
                state: self.state,
                point: self.point,
                arrangement: if chain { Arrangement::Chain } else { Arrangement::Paralleled },
            };
            SoftSwitching::as_specified(self.switch?, self.drift.clone(), solved)
        });
        found.as_ref()
    }

    /// The sharing error.
    pub fn sharing_error(&self, sharing: Sharing) -> f64 {
        sharing.measure.error(self.state.phases.iter().map(|p| p.shared(sharing.share).0))
    }

    /// The value of a figure; NaN where it does not apply.
    pub fn value(&self, figure: Figure) -> f64 {
        let phases = &self.state.phases;
        match figure {
            Figure::SwitchingFrequency => self.state.switching_frequency.0,
            Figure::SharingError(sharing) => self.sharing_error(sharing),
            Figure::WorstSwitchRms => self.worst(|c| c.rms.0),
            Figure::WorstSwitchPeak => self.worst(|c| c.peak.0),
            Figure::WorstBlocking => self.worst_blocking(),
            Figure::Stress => self.stress(self.scale),
            Figure::StressAtEqualCurrent => self.stress(1.0),
            Figure::Loss => self.loss() + self.standing_loss.0,
            Figure::OutputCurrent(k) => phases[k].output_current.0,
            Figure::RmsCurrent(k) => phases[k].rms_current.0,
            Figure::PeakCurrent(k) => phases[k].peak_current.0,
            Figure::MeanCurrent(k) => phases[k].mean_abs_current.0,
            Figure::Losses(figure) => {
                let own = self.dissipation();
                own.map_or(f64::NAN, |own| figure.value(own, self.point, self.standing_loss))
            }
            Figure::Switching(figure) => {
                self.switching().map_or(f64::NAN, |switching| figure.value(switching))
            }
            Figure::SwitchRms(s) => self.carried(s).rms.0,
            Figure::SwitchPeak(s) => self.carried(s).peak.0,
            Figure::FlyingVoltage(k) => {
                self.voltages.as_ref().map_or(f64::NAN, |v| v.legs[0].flying[k].middle.0)
            }
            Figure::Rating(rating) => self.highest(rating),
            Figure::Settling(own) => {
                let slowest = self.slowest.get_or_init(|| {
                    self.voltages.as_ref()?;
                    let limit = self.settling_limit;
                    SlowestMode::new(self.state, &self.converter, self.point, limit)
                });
                slowest.as_ref().map_or(f64::NAN, |slowest| own.value(slowest))
            }
        }
    }

    /// What a figure is the largest of: the signed errors of all phases or pairs of phases, or the
    /// values of all switches. Each of them is smooth nearly everywhere. Any other figure is its only
    /// component.
    pub fn components(&self, figure: Figure) -> Vec<f64> {
        let of_switches = |value: fn(&SwitchCurrent) -> f64| {
            let all = switches(self.state.phases.len(), self.point.drive.legs());
            all.map(|switch| value(&self.carried(switch))).collect()
        };
        match (figure, &self.voltages) {
            (Figure::SharingError(Sharing { share, measure }), _) => {
                let shared: Vec<f64> =
                    self.state.phases.iter().map(|phase| phase.shared(share).0).collect();
                measure.components(&shared)
            }
            (Figure::WorstSwitchRms, _) => of_switches(|current| current.rms.0),
            (Figure::WorstSwitchPeak, _) => of_switches(|current| current.peak.0),
            (Figure::WorstBlocking, Some(voltages)) => {
                let steady = voltages.blocking(&self.drift).map(|voltage| voltage.0);
                let switching = if self.may_overshoot() { self.switching() } else { None };
                let switching = switching.into_iter();
                let in_dead_time = switching.flat_map(SoftSwitching::highest_voltages);
                steady.chain(in_dead_time).collect()
            }
            (Figure::Switching(switching), _) => {
                let own = self.switching().and_then(|found| switching.components(found));
                own.unwrap_or_else(|| vec![self.value(figure)])
            }
            (Figure::Losses(losses), _) => {
                let own = self.dissipation().and_then(|own| losses.components(own));
                own.unwrap_or_else(|| vec![self.value(figure)])
            }
            (Figure::Rating(rating), _) => self.loads(rating),
            _ => vec![self.value(figure)],
        }
    }

    /// Highest blocking voltage of any switch without the dead times.
    pub fn steady_blocking_voltage(&self) -> Volt {
        match &self.voltages {
            Some(voltages) => voltages.worst_blocking(&self.drift),
            None => self.point.input_voltage,
        }
    }

    /// Whether a switch may see more in the dead time than while it blocks: in a chain whose phases switch
    /// all at once.
    ///
    /// Else the voltage that a node goes towards holds it. A paralleled node stays between the rails. With
    /// falling phases first the node before and the node behind are held at zero while one swings. So
    /// diodes keep S(k) between 0 and E(k), and `S(k−1) − S(k) + E(k)` below E(k−1) + E(k), which is
    /// what that switch blocks.
    pub fn may_overshoot(&self) -> bool {
        let is_at_once = |own: &SwitchSettings| own.chain.timing == SwitchTiming::Together;
        self.voltages.is_some() && self.switch.is_some_and(is_at_once)
    }

    /// While the switches block, and in the dead times, where these are followed.
    fn worst_blocking(&self) -> f64 {
        let steady = self.steady_blocking_voltage().0;
        if !self.may_overshoot() {
            return steady;
        }
        self.switching().map_or(steady, |switching| steady.max(switching.highest_voltage().0))
    }

    /// The highest of all switches; low ones may carry more where they wait for others.
    fn worst(&self, of: impl Fn(&SwitchCurrent) -> f64) -> f64 {
        let currents = self.state.phases.iter().flat_map(|p| p.switches.all());
        let steady = self.scale * currents.map(|c| of(&c)).fold(0.0, f64::max);
        if !self.waits() {
            return steady;
        }
        let all = switches(self.state.phases.len(), self.point.drive.legs());
        let low = all.filter(|switch| switch.side == Side::Low);
        low.map(|switch| of(&self.carried(switch))).fold(steady, f64::max)
    }

    /// Σ blocking voltage × peak current, the currents of the tanks times `scale`.
    fn stress(&self, scale: f64) -> f64 {
        let phases = &self.state.phases;
        let legs = self.point.drive.legs();
        let blocking = switches(phases.len(), legs).filter(|switch| switch.blocks(legs));
        let products = blocking.map(|switch| {
            let voltage = match &self.voltages {
                None => self.point.input_voltage.0,
                Some(voltages) => {
                    let leg = &voltages.legs[usize::from(switch.leg == Leg::Return)];
                    match switch.side {
                        Side::High => leg.high_blocking[switch.phase].0,
                        Side::Low => leg.low_blocking[switch.phase].0,
                    }
                }
            };
            voltage * scale * switch.current(phases).peak.0
        });
        products.sum()
    }

    /// Σ R Irms² and what the rectifiers drop.
    fn loss(&self) -> f64 {
        if let Some(own) = &self.dissipation {
            return own.total().0;
        }
        let loss_of_phase = |(k, p): (usize, &PhaseState)| {
            let tank = &self.converter.tanks[k];
            let clamp = |v: Volt, d: Volt| self.point.rectifier.clamp_voltage(1.0, v, d);
            let (with, without) = (
                clamp(self.point.output_voltage, tank.rectifier_drop),
                clamp(self.point.output_voltage, Volt(0.0)),
            );
            let rectifier =
                (with - without) * p.output_current.0 / self.point.rectifier.current_gain(1.0);
            tank.series_resistance.0 * p.rms_current.0.powi(2) + rectifier
        };
        self.state.phases.iter().enumerate().map(loss_of_phase).sum()
    }
}
