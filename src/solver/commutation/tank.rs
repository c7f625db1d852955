//! A tank during the dead time: its resonant capacitor holds its voltage, so that it is an inductance
//! with resistance on a source.
//!
//! - conducting, s = ±1: `Lr i' = vS − vCr − R i − s Vp`, `im' = s Vp/Lm`, until i − im = 0;
//! - off, s = 0: `(Lr + Lm) i' = vS − vCr − R i`, im = i, until the winding voltage
//!   `Lm (vS − vCr − R i)/(Lr + Lm)` reaches ±Vp.

/// A tank with what it stands against. SI units.
#[derive(Debug, Clone, Copy)]
pub(super) struct HeldTank {
    /// Lr.
    pub(super) resonant_inductance: f64,
    /// Lm.
    pub(super) magnetising_inductance: f64,
    /// R.
    pub(super) resistance: f64,
    /// Vp, at which a conducting rectifier clamps the winding.
    pub(super) clamp: f64,
    /// vCr.
    pub(super) capacitor_voltage: f64,
}

/// A tank's currents in ampere and the state of its rectifier.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TankCurrents {
    /// i, out of the switching node.
    pub(super) tank: f64,
    /// im.
    pub(super) magnetising: f64,
    /// s: conducting with this sign, or off (0).
    pub(super) rectifier: i8,
}

impl TankCurrents {
    /// In the other direction.
    pub(super) fn reversed(self) -> Self {
        let Self { tank, magnetising, rectifier } = self;
        Self { tank: -tank, magnetising: -magnetising, rectifier: -rectifier }
    }
}

impl HeldTank {
    /// The same where currents and voltages count in the other direction.
    pub(super) fn reversed(self) -> Self {
        Self { capacitor_voltage: -self.capacitor_voltage, ..self }
    }

    /// The rectifier's state at given currents: by the current that it carries, or by the voltage of
    /// the winding where it carries none.
    pub(super) fn rectifier(&self, tank: f64, magnetising: f64, source: f64) -> i8 {
        if tank > magnetising {
            1
        } else if tank < magnetising {
            -1
        } else {
            self.at_rest(tank, source)
        }
    }

    /// The rectifier's state where it carries no current.
    pub(super) fn at_rest(&self, tank: f64, source: f64) -> i8 {
        let winding = self.winding(tank, source);
        if winding > self.clamp {
            1
        } else if winding < -self.clamp {
            -1
        } else {
            0
        }
    }

    /// Voltage of a blocked winding.
    fn winding(&self, tank: f64, source: f64) -> f64 {
        self.winding_share() * (source - self.capacitor_voltage - self.resistance * tank)
    }

    /// Lm/(Lr + Lm).
    pub(super) fn winding_share(&self) -> f64 {
        self.magnetising_inductance / (self.resonant_inductance + self.magnetising_inductance)
    }

    /// The state after one that has come to its end: conduction where the current is back at zero, or
    /// blocking where the winding has reached the clamp voltage.
    pub(super) fn change_state(&self, currents: &mut TankCurrents, source: f64) {
        if currents.rectifier == 0 {
            currents.rectifier = if self.winding(currents.tank, source) > 0.0 { 1 } else { -1 };
        } else {
            // Both currents meet there: set equal, so that rounding leaves no rest.
            currents.magnetising = currents.tank;
            currents.rectifier = self.at_rest(currents.tank, source);
        }
    }

    /// What the current changes in.
    pub(super) fn inductance(&self, rectifier: i8) -> f64 {
        let magnetising = if rectifier == 0 { self.magnetising_inductance } else { 0.0 };
        self.resonant_inductance + magnetising
    }

    /// vCr + s Vp.
    pub(super) fn opposing(&self, rectifier: i8) -> f64 {
        self.capacitor_voltage + f64::from(rectifier) * self.clamp
    }

    /// s Vp/Lm.
    pub(super) fn magnetising_slope(&self, rectifier: i8) -> f64 {
        f64::from(rectifier) * self.clamp / self.magnetising_inductance
    }
}
