//! The losses of one phase, from the currents of a solution.

use super::device::{Cooling, Device};
use super::phase_dissipation::{Forward, PhaseDissipation};
use crate::converter::{
    Arrangement, Converter, Drive, Influence, MAX_PHASES, OperatingPoint, Parameter, Property,
    Rectifier, SWITCHES_OF_PHASE, SwitchPlace,
};
use crate::solver::commutation::Commutation;
use crate::solver::steady_state::{PhaseState, SteadyState, SwitchCurrent};
use crate::units::{Celsius, Ohm, Volt, Watt};

/// A solved converter whose losses are asked for.
pub(super) struct PhaseLosses<'a> {
    pub(super) state: &'a SteadyState,
    pub(super) converter: &'a Converter,
    pub(super) point: &'a OperatingPoint,
    pub(super) arrangement: Arrangement,
    /// Losses of its switches at turn-on, phase by phase; zero where nobody tells.
    turn_on: [[Watt; SWITCHES_OF_PHASE]; MAX_PHASES],
    /// Mean squares of what its low switches carry in the dead times, A².
    held: [[f64; SWITCHES_OF_PHASE]; MAX_PHASES],
    coefficients: Coefficients<'a>,
}

/// The temperature coefficients that parts have left: of those that heat themselves, one a part.
struct Coefficients<'a> {
    on_resistance: &'a [f64],
    rectifier_drop: &'a [f64],
    rectifier_resistance: &'a [f64],
}

impl<'a> Coefficients<'a> {
    fn of(converter: &'a Converter, point: &OperatingPoint) -> Self {
        let left = |parameter: Parameter| -> &'a [f64] {
            let influence = Influence::Temperature;
            let property = Property { parameter, influence: Some(influence) };
            let heats = point.condition.is_self_heated(property);
            if heats { converter.response(parameter, influence) } else { &[] }
        };
        Self {
            on_resistance: left(Parameter::OnResistance),
            rectifier_drop: left(Parameter::RectifierDrop),
            rectifier_resistance: left(Parameter::RectifierResistance),
        }
    }
}

/// One of them; zero where there is none.
fn coefficient(all: &[f64], index: usize) -> f64 {
    all.get(index).copied().unwrap_or(0.0)
}

/// What a diode carries of its half wave.
#[derive(Clone, Copy)]
struct DiodeCurrents {
    /// Mean, A.
    mean: f64,
    /// Mean square, A².
    square: f64,
}

impl<'a> PhaseLosses<'a> {
    /// With how its switches turn on; none where nobody tells.
    pub(super) fn new(
        state: &'a SteadyState,
        commutation: Option<&Commutation>,
        converter: &'a Converter,
        point: &'a OperatingPoint,
        arrangement: Arrangement,
    ) -> Self {
        let mut turn_on = [[Watt(0.0); SWITCHES_OF_PHASE]; MAX_PHASES];
        let mut held = [[0.0; SWITCHES_OF_PHASE]; MAX_PHASES];
        if let Some(commutation) = commutation {
            commutation.add_turn_on_losses(&mut turn_on);
            // The last low switch carries its tank's current alone all the time that it is on.
            let shared = match arrangement {
                Arrangement::Chain => state.phases.len() - 1,
                Arrangement::Paralleled => 0,
            };
            commutation.add_held_squares(&mut held[..shared]);
        }
        let coefficients = Coefficients::of(converter, point);
        Self { state, converter, point, arrangement, turn_on, held, coefficients }
    }

    /// Tells of phase `k`, counted from 0, what it loses; whether a part of it has no steady temperature. What
    /// its switches take out of the tanks is still to be shared.
    pub(super) fn fill(&self, k: usize, own: &mut PhaseDissipation) -> bool {
        let phase = &self.state.phases[k];
        let tank = &self.converter.tanks[k];
        let of_tank = phase.rms_current.0.powi(2);
        let waves = phase.half_waves.map(|own| DiodeCurrents {
            mean: tank.turns_ratio * own.mean.0,
            square: (tank.turns_ratio * own.rms.0).powi(2),
        });
        let secondary = waves[0].square + waves[1].square;
        own.windings = Watt(
            self.resistance(Parameter::PrimaryWindingResistance, k) * of_tank
                + self.resistance(Parameter::SecondaryWindingResistance, k) * secondary,
        );
        own.rest = Watt(tank.series_resistance.0 * of_tank);
        let mut runs_away = false;
        for place in SwitchPlace::ALL {
            let device = self.switch(place, k);
            let heated = device.heated();
            own.switches[place as usize] = device.at(heated.temperature, self.reference());
            runs_away |= heated.runs_away;
        }
        runs_away | self.add_rectifier(k, waves, own)
    }

    /// A resistance that is told apart; zero where it is not.
    fn resistance(&self, parameter: Parameter, index: usize) -> f64 {
        let losses = self.converter.losses.as_ref();
        let value = losses.and_then(|own| own.in_arrangement(parameter, index, self.arrangement));
        value.unwrap_or(0.0)
    }

    fn reference(&self) -> Celsius {
        self.point.condition.self_heating.map_or(Celsius(0.0), |own| own.reference)
    }

    fn cooling(&self, parameter: Parameter, index: usize, phase: usize) -> Option<Cooling> {
        let losses = self.converter.losses.as_ref()?;
        let resistance = losses.in_arrangement(parameter, index, self.arrangement)?;
        let place = self.converter.place(phase);
        let ambient = self.point.condition.ambient_above_reference(place);
        Some(Cooling { ambient, resistance })
    }

    /// A switch at its current: in the paralleled arrangement on tanks rescaled to the whole input.
    fn switch(&self, place: SwitchPlace, k: usize) -> Device {
        let index = place.part(k, self.state.phases.len());
        let square = self.switch_square(place, k) + self.held[k][place as usize];
        let loss = self.resistance(Parameter::OnResistance, index) * square;
        Device {
            loss,
            turn_on: self.turn_on[k][place as usize].0,
            rise: loss * coefficient(self.coefficients.on_resistance, index),
            cooling: self.cooling(Parameter::SwitchThermalResistance, index, k),
        }
    }

    /// Mean square of a switch's current, that of the dead times aside.
    fn switch_square(&self, place: SwitchPlace, k: usize) -> f64 {
        let scale = match self.arrangement {
            Arrangement::Chain => 1.0,
            Arrangement::Paralleled => 1.0 / self.converter.healthy_phases as f64,
        };
        (scale * current(&self.state.phases[k], place).rms.0).powi(2)
    }

    /// Adds the diodes, whose drop and slope resistance both depend on their temperature; `waves` are the currents
    /// of the two half waves, each of which has diodes of its own. Gives whether one has no steady temperature.
    fn add_rectifier(
        &self,
        k: usize,
        waves: [DiodeCurrents; 2],
        own: &mut PhaseDissipation,
    ) -> bool {
        own.diodes_each = if self.point.rectifier == Rectifier::FullBridge { 2 } else { 1 };
        let cold = Forward {
            drop: self.converter.tanks[k].rectifier_drop,
            slope: Ohm(self.resistance(Parameter::RectifierResistance, k)),
        };
        let (mut runs_away, mut by_slope, mut by_drop) = (false, 0.0, 0.0);
        for (n, wave) in waves.iter().enumerate() {
            runs_away |= self.add_diode(k, *wave, cold, n, own);
            by_slope += own.forward[n].slope.0 * wave.square;
            by_drop += own.forward[n].drop.0 * wave.mean;
        }
        let mean = waves[0].mean + waves[1].mean;
        own.drop = if mean > 0.0 { Volt(by_drop / mean) } else { own.forward[0].drop };
        own.diode_resistances = own.diodes_each as f64 * by_slope;
        runs_away
    }

    /// A diode of half wave `n`, which at the reference temperature conducts as `cold` tells.
    fn add_diode(
        &self,
        k: usize,
        wave: DiodeCurrents,
        cold: Forward,
        n: usize,
        own: &mut PhaseDissipation,
    ) -> bool {
        let (by_drop, by_slope) = (cold.drop.0 * wave.mean, cold.slope.0 * wave.square);
        let of_drop = coefficient(self.coefficients.rectifier_drop, k);
        let of_slope = coefficient(self.coefficients.rectifier_resistance, k);
        let device = Device {
            loss: by_drop + by_slope,
            turn_on: 0.0,
            rise: by_drop * of_drop + by_slope * of_slope,
            cooling: self.cooling(Parameter::RectifierThermalResistance, k, k),
        };
        let heated = device.heated();
        own.diodes[n] = device.at(heated.temperature, self.reference());
        own.forward[n] = Forward {
            drop: Volt(cold.drop.0 * (1.0 + of_drop * heated.temperature)),
            slope: Ohm(cold.slope.0 * (1.0 + of_slope * heated.temperature)),
        };
        heated.runs_away
    }

    /// Takes the losses of the switches of phase `k` out of the tanks whose currents they carry.
    ///
    /// A low switch of a chain carries its own phase's current i and the next one's, j. Its drop acts in
    /// both loops: they give R ∫ i (i + j) and R ∫ j (i + j), which are half of
    /// R (∫ (i + j)² ± (∫ i² − ∫ j²)). What it carries in the dead times is its own phase's.
    pub(super) fn share_nodes(&self, k: usize, all: &mut [PhaseDissipation]) {
        for place in SwitchPlace::ALL {
            let loss = all[k].switches[place as usize].conduction().0;
            let (square, held) = (self.switch_square(place, k), self.held[k][place as usize]);
            let apart = if square > 0.0 { self.apart(place, k) } else { None };
            match apart {
                None => all[k].switches_by_tank += loss,
                Some(apart) => {
                    let shared = loss * square / (square + held);
                    let shift = 0.5 * shared * apart / square;
                    all[k].switches_by_tank += loss - 0.5 * shared + shift;
                    all[k + 1].switches_by_tank += 0.5 * shared - shift;
                }
            }
        }
    }

    /// Mean square of a phase's own current, less that of the next one's, while a switch is on that
    /// carries both; none where it carries one alone.
    fn apart(&self, place: SwitchPlace, k: usize) -> Option<f64> {
        let next = self.state.phases.get(k + 1)?;
        let shares = match place {
            SwitchPlace::Low => true,
            SwitchPlace::ReturnLow => self.point.drive == Drive::FullBridge,
            SwitchPlace::High | SwitchPlace::ReturnHigh => false,
        };
        if !shares || self.arrangement == Arrangement::Paralleled {
            return None;
        }
        let phase = &self.state.phases[k];
        let high =
            if place == SwitchPlace::Low { SwitchPlace::High } else { SwitchPlace::ReturnHigh };
        let own = phase.rms_current.0.powi(2) - current(phase, high).rms.0.powi(2);
        Some(own - current(next, high).rms.0.powi(2))
    }
}

fn current(phase: &PhaseState, place: SwitchPlace) -> SwitchCurrent {
    match place {
        SwitchPlace::High => phase.switches.high,
        SwitchPlace::Low => phase.switches.low,
        SwitchPlace::ReturnLow => phase.switches.return_low,
        SwitchPlace::ReturnHigh => phase.switches.return_high,
    }
}
