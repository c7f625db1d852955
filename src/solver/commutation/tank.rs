//! A tank during the dead time: its resonant capacitor holds its voltage, so that it is an inductance
//! with resistance on a source.
//!
//! - conducting, s = ±1: `Lr i' = vS − vCr − R i − s Vp`, `im' = s Vp/Lm`, until i − im = 0;
//! - off, s = 0: `(Lr + Lm) i' = vS − vCr − R i`, im = i, until the winding voltage
//!   `Lm (vS − vCr − R i)/(Lr + Lm)` reaches ±Vp.

/// Below this, `(1 − e^(−x))/x` is taken from its series.
const SHORT: f64 = 1e-3;

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

impl HeldTank {
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
    fn at_rest(&self, tank: f64, source: f64) -> i8 {
        let Self { resonant_inductance: lr, magnetising_inductance: lm, .. } = *self;
        let winding = lm * (source - self.capacitor_voltage - self.resistance * tank) / (lr + lm);
        if winding > self.clamp {
            1
        } else if winding < -self.clamp {
            -1
        } else {
            0
        }
    }

    /// Lets a source act for a time, over all changes of the rectifier's state.
    pub(super) fn advance(&self, currents: &mut TankCurrents, source: f64, time: f64) {
        if currents.rectifier == 0 {
            currents.rectifier = self.at_rest(currents.tank, source);
        }
        let end = self.after(currents, source, time);
        let s = f64::from(currents.rectifier);
        let (begins, ends) =
            (s * (currents.tank - currents.magnetising), s * (end.tank - end.magnetising));
        if ends >= 0.0 {
            *currents = end;
            return;
        }
        // So short a time bends the currents by nothing: they meet where straight lines do.
        let share = begins / (begins - ends);
        let rest = self.after(currents, source, share * time);
        let tank = rest.tank;
        let rectifier = self.at_rest(tank, source);
        let met = TankCurrents { tank, magnetising: tank, rectifier };
        *currents = self.after(&met, source, (1.0 - share) * time);
    }

    /// The currents after a time in which the rectifier keeps its state.
    fn after(&self, currents: &TankCurrents, source: f64, time: f64) -> TankCurrents {
        let Self { resonant_inductance: lr, magnetising_inductance: lm, .. } = *self;
        let TankCurrents { tank, magnetising, rectifier } = *currents;
        let s = f64::from(rectifier);
        let inductance = if rectifier == 0 { lr + lm } else { lr };
        let x = self.resistance * time / inductance;
        let mean = if x < SHORT { 1.0 - x / 2.0 + x * x / 6.0 } else { -libm::expm1(-x) / x };
        let net = source - self.capacitor_voltage - self.resistance * tank - s * self.clamp;
        let tank = tank + net * time / inductance * mean;
        let magnetising =
            if rectifier == 0 { tank } else { magnetising + s * self.clamp / lm * time };
        TankCurrents { tank, magnetising, rectifier }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TANK: HeldTank = HeldTank {
        resonant_inductance: 5e-6,
        magnetising_inductance: 25e-6,
        resistance: 0.2,
        clamp: 80.0,
        capacitor_voltage: 30.0,
    };

    /// `i(t) = u/R + (i₀ − u/R) e^(−Rt/L)`, over a time constant and over a thousandth of it.
    #[test]
    fn a_conducting_tank_follows_the_exponential() {
        for tau in [1.0, 1e-3, 1e-9] {
            let time = tau * TANK.resonant_inductance / TANK.resistance;
            let mut currents = TankCurrents { tank: 900.0, magnetising: -3.0, rectifier: 1 };
            TANK.advance(&mut currents, 300.0, time);
            let final_current = (300.0 - 30.0 - 80.0) / 0.2;
            let expected = final_current + (900.0 - final_current) * libm::exp(-tau);
            assert!((currents.tank - expected).abs() < 1e-10 * 900.0, "{}", currents.tank);
            assert!((currents.magnetising - (-3.0 + 80.0 / 25e-6 * time)).abs() < 1e-9);
        }
    }

    /// The rectifier stops where both currents meet, and goes on with the other sign if the winding
    /// voltage is above the clamp then.
    #[test]
    fn the_rectifier_stops_where_the_currents_meet() {
        for (source, state) in [(-200.0, -1), (20.0, 0)] {
            let mut currents = TankCurrents { tank: 1.0, magnetising: 0.5, rectifier: 1 };
            // So long until d = 0, without the small resistance.
            let slope = (source - 110.0) / 5e-6 - 80.0 / 25e-6;
            let meets = -0.5 / slope;
            for _ in 0..100 {
                TANK.advance(&mut currents, source, 1.5 * meets / 100.0);
            }
            assert_eq!(currents.rectifier, state, "{source}");
            let rest = 0.5 + 80.0 / 25e-6 * meets;
            if state == 0 {
                let expected = rest + (source - 30.0) / 30e-6 * 0.5 * meets;
                assert!((currents.tank - expected).abs() < 1e-3, "{} {expected}", currents.tank);
            } else {
                let expected = rest + (source - 30.0 + 80.0) / 5e-6 * 0.5 * meets;
                assert!((currents.tank - expected).abs() < 1e-2, "{} {expected}", currents.tank);
                assert!(currents.tank < currents.magnetising);
            }
        }
    }
}
