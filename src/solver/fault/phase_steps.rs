//! One step of a phase by the trapezoidal rule:
//!
//! ```text
//! conducting:  (L/h + R/2 + h K/4) i₁ = (L/h − R/2 − h K/4) i₀ + u₀ − v₀ − s Vp
//! ```
//!
//! with the source voltage u₀, the voltage v₀ of the resonant capacitor, K = 1/Cr + κ and the step h. At a
//! source of −d the diode holds it, and κ is left out.

use super::case::FaultCase;
use crate::converter::Converter;

/// A tank on its way through time.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct FollowedTank {
    pub(super) current: f64,
    pub(super) capacitor: f64,
    pub(super) magnetising: f64,
    /// +1 or −1: the rectifier conducts with this sign; 0: off.
    pub(super) sign: f64,
    /// Rectified charge of this period.
    pub(super) charge: f64,
}

/// The current after a step: `admittance × (inertia × the current before + net voltage)`.
#[derive(Debug, Clone, Copy)]
pub(super) struct StepLaw {
    inertia: f64,
    admittance: f64,
}

/// What one leg does to a phase.
#[derive(Debug, Clone, Copy)]
pub(super) struct LegSteps {
    /// With the rectifier off, and conducting.
    pub(super) laws: [StepLaw; 2],
    /// What a charge moves the nodes above and below by; none at the input and at the ground.
    pub(super) elastances: [f64; 2],
    /// The sum of both.
    pub(super) elastance: f64,
}

/// What stays the same over all steps of a phase at one frequency.
pub(super) struct PhaseSteps {
    pub(super) h: f64,
    pub(super) legs: [LegSteps; 2],
    /// Where a diode or a low switch holds the source.
    pub(super) held: [StepLaw; 2],
    /// Elastance of the resonant capacitor.
    elastance: f64,
    resistance: f64,
    /// Share of the source that an unloaded winding sees.
    winding: f64,
    /// Voltage of a conducting winding, and what the magnetising current rises by in a step of it.
    clamp: f64,
    rise: f64,
    pub(super) drop: f64,
}

impl PhaseSteps {
    pub(super) fn new(case: &FaultCase, converter: &Converter, k: usize, h: f64) -> Self {
        let tank = &converter.tanks[k];
        let (lr, lm) = (tank.resonant_inductance.0, tank.magnetising_inductance.0);
        let (r, elastance) = (tank.series_resistance.0, 1.0 / tank.resonant_capacitance.0);
        let laws = |kappa: f64| {
            let damping = 0.5 * r + 0.25 * h * (elastance + kappa);
            [lr + lm, lr]
                .map(|l| StepLaw { inertia: l / h - damping, admittance: 1.0 / (l / h + damping) })
        };
        let legs = [&converter.flying, &converter.flying_return].map(|flying| {
            let of = |index: Option<usize>| index.and_then(|n| flying.get(n));
            let elastances =
                [of(k.checked_sub(1)), of(Some(k))].map(|own| own.map_or(0.0, |c| 1.0 / c.0));
            let kappa = elastances[0] + elastances[1];
            LegSteps { laws: laws(kappa), elastances, elastance: kappa }
        });
        let (drop, output) = (tank.rectifier_drop, case.point.output_voltage);
        let clamp = case.point.rectifier.clamp_voltage(tank.turns_ratio, output, drop);
        Self {
            h,
            legs,
            held: laws(0.0),
            elastance,
            resistance: r,
            winding: lm / (lr + lm),
            clamp,
            rise: h * clamp / lm,
            drop: case.diode_drop.0,
        }
    }

    /// The tank after a step from a source voltage.
    pub(super) fn step(&self, own: FollowedTank, source: f64, laws: &[StepLaw; 2]) -> FollowedTank {
        let is_off = own.sign == 0.0;
        let law = laws[usize::from(!is_off)];
        let net = source - own.capacitor - own.sign * self.clamp;
        let current = law.admittance * (law.inertia * own.current + net);
        let mut next = own;
        next.capacitor += 0.5 * self.h * self.elastance * (own.current + current);
        next.current = current;
        if is_off {
            next.magnetising = current;
            let winding = self.winding * (source - self.resistance * current - next.capacitor);
            next.sign = if winding.abs() > self.clamp { winding.signum() } else { 0.0 };
            return next;
        }
        next.magnetising += own.sign * self.rise;
        let rectified = |state: &FollowedTank| own.sign * (state.current - state.magnetising);
        next.charge += 0.5 * self.h * (rectified(&own) + rectified(&next).max(0.0));
        if rectified(&next) < 0.0 {
            (next.sign, next.current) = (0.0, next.magnetising);
        }
        next
    }
}
