//! One device whose loss warms it, and whose loss rises with its temperature.

use crate::units::{Celsius, Watt};

/// Loss and temperature of one device.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct DeviceLoss {
    /// Its loss, that at turn-on included.
    pub loss: Watt,
    /// Its loss at turn-on; zero where that is not told.
    pub turn_on: Watt,
    /// Its junction temperature; none where no thermal resistance is given.
    pub junction: Option<Celsius>,
}

impl DeviceLoss {
    /// What its current makes it lose while it conducts.
    pub fn conduction(&self) -> Watt {
        Watt(self.loss.0 - self.turn_on.0)
    }
}

/// A device at its current. Temperatures count from the reference temperature, in kelvin.
#[derive(Debug, Clone, Copy)]
pub(super) struct Device {
    /// Conduction loss at the reference temperature, W.
    pub(super) loss: f64,
    /// Loss at turn-on, which no temperature changes, W.
    pub(super) turn_on: f64,
    /// By how much the conduction loss rises with the temperature, W/K.
    pub(super) rise: f64,
    /// How it is cooled; none where its temperature is given and already in its loss.
    pub(super) cooling: Option<Cooling>,
}

/// How a device is cooled.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cooling {
    /// Ambient above the reference temperature, K.
    pub(super) ambient: f64,
    /// Thermal resistance, junction to ambient, K/W.
    pub(super) resistance: f64,
}

/// Of what a kelvin more makes a device give away, the least share that its own loss may leave. With less
/// a device counts as one that runs away, and takes the temperature that this share makes.
const LEAST_LEFT: f64 = 0.05;

/// Temperature of a device above the reference, K.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Heated {
    pub(super) temperature: f64,
    /// Whether the loss rises as fast with the temperature as the device gives heat away, or nearly so.
    pub(super) runs_away: bool,
}

impl Device {
    /// Its temperature above the reference, `T = (Ta + Θ (P₀ + W))/(1 − Θ P′)`, which
    /// solves `T = Ta + Θ (P₀ + P′ T + W)`; zero where it is given and already in the loss.
    pub(super) fn heated(&self) -> Heated {
        let Some(Cooling { ambient, resistance }) = self.cooling else {
            return Heated { temperature: 0.0, runs_away: false };
        };
        let left = 1.0 - resistance * self.rise;
        Heated {
            temperature: (ambient + resistance * (self.loss + self.turn_on)) / left.max(LEAST_LEFT),
            runs_away: left < LEAST_LEFT,
        }
    }

    /// Its loss at a temperature above the reference, and the temperature where it follows from losses.
    pub(super) fn at(&self, temperature: f64, reference: Celsius) -> DeviceLoss {
        DeviceLoss {
            loss: Watt(self.loss + self.rise * temperature + self.turn_on),
            turn_on: Watt(self.turn_on),
            junction: self.cooling.map(|_| Celsius(reference.0 + temperature)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn device(loss: f64, rise: f64) -> Device {
        Device {
            loss,
            turn_on: 0.0,
            rise,
            cooling: Some(Cooling { ambient: 15.0, resistance: 2.0 }),
        }
    }

    /// By hand: 10 W at 25 °C, 0.08 W/K, 2 K/W above 40 °C: T − 25 = (15 + 20)/(1 − 0.16) = 41.667 K.
    #[test]
    fn loss_and_temperature_agree() {
        let own = device(10.0, 0.08);
        let temperature = own.heated().temperature;
        assert!((temperature - 35.0 / 0.84).abs() < 1e-12);
        let DeviceLoss { loss, junction, .. } = own.at(temperature, Celsius(25.0));
        assert!((loss.0 - (10.0 + 0.08 * 35.0 / 0.84)).abs() < 1e-12);
        assert!((junction.unwrap().0 - (40.0 + 2.0 * loss.0)).abs() < 1e-12);
    }

    /// By hand: 3 W at turn-on more, T − 25 = (15 + 26)/0.84 = 48.810 K. Only conduction rises with it.
    #[test]
    fn a_loss_at_turn_on_warms() {
        let own = Device { turn_on: 3.0, ..device(10.0, 0.08) };
        let temperature = own.heated().temperature;
        assert!((temperature - 41.0 / 0.84).abs() < 1e-12);
        let at = own.at(temperature, Celsius(25.0));
        assert!((at.conduction().0 - (10.0 + 0.08 * 41.0 / 0.84)).abs() < 1e-12);
        assert!((at.junction.unwrap().0 - (40.0 + 2.0 * at.loss.0)).abs() < 1e-12);
    }

    /// By hand: at 0.475 W/K and 2 K/W each kelvin makes 0.95 kelvin more.
    #[test]
    fn a_device_may_have_no_steady_temperature() {
        assert!(!device(10.0, 0.474).heated().runs_away);
        assert!(device(10.0, 0.476).heated().runs_away && device(10.0, 0.6).heated().runs_away);
    }

    #[test]
    fn a_given_temperature_is_in_the_loss_already() {
        let own = Device { loss: 3.0, turn_on: 0.0, rise: 0.0, cooling: None };
        let at = own.at(own.heated().temperature, Celsius(25.0));
        assert_eq!(at, DeviceLoss { loss: Watt(3.0), turn_on: Watt(0.0), junction: None });
    }
}
