//! Figures of losses that a scenario tells apart.

use crate::converter::{OperatingPoint, Parameter};
use crate::scenario::{NominalLosses, Scenario};
use crate::solver::Method;
use crate::solver::dissipation::{Dissipation, PhaseDissipation};
use crate::units::{Celsius, Watt};

/// A figure of losses. What the scenario does not tell has none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LossFigure {
    /// Output power over output power and all losses, a fraction.
    Efficiency,
    /// What the efficiency leaves: all losses over output power and all losses, a fraction.
    LostShare,
    /// Conduction of all switches, W.
    Switches,
    /// What all switches lose at turn-on, W.
    TurnOn,
    /// Windings, W.
    Windings,
    /// Rectifiers, W.
    Rectifiers,
    /// What is not told apart: the series resistance, W.
    Rest,
    /// Highest junction temperature of the switches, °C.
    SwitchJunction,
    /// Highest junction temperature of the rectifiers, °C.
    RectifierJunction,
    /// The highest junction temperature of all, °C.
    Junction,
}

/// A figure of the losses of a converter with its value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LossValue {
    /// The figure.
    pub figure: LossFigure,
    /// Its value.
    pub value: f64,
}

impl LossValue {
    /// The value of a figure among these; none where it is not there.
    pub fn of(all: &[Self], figure: LossFigure) -> Option<f64> {
        all.iter().find(|own| own.figure == figure).map(|own| own.value)
    }
}

impl LossFigure {
    /// All of them.
    pub const ALL: [Self; 10] = [
        Self::Efficiency,
        Self::LostShare,
        Self::Switches,
        Self::TurnOn,
        Self::Windings,
        Self::Rectifiers,
        Self::Rest,
        Self::SwitchJunction,
        Self::RectifierJunction,
        Self::Junction,
    ];

    /// Those that a scenario tells with a solver; none where it does not tell losses apart. Only the exact
    /// one tells the currents at the switching instants.
    pub fn told(scenario: &Scenario, method: Method) -> impl Iterator<Item = Self> {
        let losses = scenario.losses;
        let has_switch = scenario.switch.is_some() && method == Method::Exact;
        let all = Self::ALL.into_iter().filter(move |own| *own != Self::TurnOn || has_switch);
        all.filter(move |own| losses.is_some_and(|told| own.is_told(&told)))
    }

    fn is_told(self, losses: &NominalLosses) -> bool {
        let tells = |parameter: Parameter| losses.value(parameter).is_some();
        match self {
            Self::Efficiency | Self::LostShare | Self::TurnOn | Self::Rectifiers | Self::Rest => {
                true
            }
            Self::Switches => tells(Parameter::OnResistance),
            Self::Windings => {
                tells(Parameter::PrimaryWindingResistance)
                    || tells(Parameter::SecondaryWindingResistance)
            }
            Self::SwitchJunction => losses.heat_switches(),
            Self::RectifierJunction => losses.heat_rectifiers(),
            Self::Junction => losses.heat_switches() || losses.heat_rectifiers(),
        }
    }

    /// The name used in result files, with the unit.
    pub fn name(self) -> &'static str {
        match self {
            Self::Efficiency => "efficiency",
            Self::LostShare => "lost_share",
            Self::Switches => "switch_loss_W",
            Self::TurnOn => "turn_on_loss_W",
            Self::Windings => "winding_loss_W",
            Self::Rectifiers => "rectifier_loss_W",
            Self::Rest => "series_resistance_loss_W",
            Self::SwitchJunction => "switch_junction_temperature_C",
            Self::RectifierJunction => "rectifier_junction_temperature_C",
            Self::Junction => "junction_temperature_C",
        }
    }

    /// Its value, with what is lost besides; NaN where it is not told.
    pub(super) fn value(self, own: &Dissipation, point: &OperatingPoint, standing: Watt) -> f64 {
        let sum = |of: fn(&PhaseDissipation) -> f64| own.phases.iter().map(of).sum::<f64>();
        let celsius = |junction: Option<Celsius>| junction.map_or(f64::NAN, |own| own.0);
        let output = point.output_voltage.0 * point.output_current.0;
        let all = own.total().0 + standing.0;
        match self {
            Self::Efficiency => output / (output + all),
            Self::LostShare => all / (output + all),
            Self::Switches => sum(|phase| phase.conduction().0),
            Self::TurnOn if !own.knows_turn_on => f64::NAN,
            Self::TurnOn => sum(|phase| phase.turn_on().0),
            Self::Windings => sum(|phase| phase.windings.0),
            Self::Rectifiers => sum(|phase| phase.rectifier().0),
            Self::Rest => sum(|phase| phase.rest.0),
            Self::SwitchJunction => celsius(own.hottest_switch()),
            Self::RectifierJunction => celsius(own.hottest_rectifier()),
            Self::Junction => celsius(own.hottest_switch()).max(celsius(own.hottest_rectifier())),
        }
    }

    /// What it is the largest of, if it is that: all junction temperatures.
    pub(super) fn components(self, own: &Dissipation) -> Option<Vec<f64>> {
        let (switches, rectifiers) = match self {
            Self::SwitchJunction => (true, false),
            Self::RectifierJunction => (false, true),
            Self::Junction => (true, true),
            _ => return None,
        };
        let of_phase = |phase: &PhaseDissipation| {
            let of_switches = phase.switches.map(|own| own.junction.filter(|_| switches));
            let of_diodes = phase.diodes.map(|own| own.junction.filter(|_| rectifiers));
            of_switches.into_iter().chain(of_diodes).flatten().collect::<Vec<_>>()
        };
        Some(own.phases.iter().flat_map(of_phase).map(|junction| junction.0).collect())
    }
}
