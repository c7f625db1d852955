//! The second order of a phase's response to its parts, its forcing and the half period.
//!
//! Difference quotients of the first order, taken where the phase has settled a little to either side. A
//! forecast of second order leaves an error of third order: with parts that are off by some percent, a few
//! hundred-thousandths.

use super::cycle::{Forcing, INPUTS, PerUnitPhase, PhaseUnknowns};
use super::phase_response::{Bends, Move, PhaseResponse};

/// Step of the difference quotients, relative.
const STEP: f64 = 1e-3;
/// A step of a resistance, which may be zero: per-unit quantities are near one.
const LEAST: f64 = 1e-2;
/// Newton steps that settle a phase a little to the side.
const STEPS: usize = 8;
/// As small as this, a phase has settled.
const SETTLED: f64 = 1e-11;

/// What moves a phase: its inputs, the forcing, the half period.
const DIRECTIONS: usize = INPUTS + 2;
const FORCING: usize = INPUTS;
const PERIOD: usize = INPUTS + 1;

/// The second order of a phase's response.
#[derive(Debug, Clone)]
pub(super) struct Curvature {
    /// How the move with one direction changes along another; symmetrical.
    second: [[Move; DIRECTIONS]; DIRECTIONS],
}

/// Where a phase is: its inputs, what drives it, and the half period.
#[derive(Clone, Copy)]
struct Place {
    inputs: [f64; INPUTS],
    forcing: Forcing,
    h: f64,
}

impl Place {
    /// A step in one direction: to the side, so long.
    fn moved(mut self, direction: usize, share: f64) -> (Self, f64) {
        let by = |own: f64| share * own.abs().max(LEAST);
        let step = match direction {
            FORCING => {
                let (Forcing::Charge(own) | Forcing::Amplitude(own)) = self.forcing;
                by(own)
            }
            PERIOD => by(self.h),
            input => by(self.inputs[input]),
        };
        match (direction, &mut self.forcing) {
            (FORCING, Forcing::Charge(own) | Forcing::Amplitude(own)) => *own += step,
            (PERIOD, _) => self.h += step,
            (input, _) => self.inputs[input] += step,
        }
        (self, step)
    }

    /// How the phase moves from here, once it has settled; `z` is where it settles, about.
    fn moves(&self, phase: &PerUnitPhase, z: &PhaseUnknowns) -> Option<[Move; DIRECTIONS]> {
        let phase = phase.with_inputs(&self.inputs);
        let mut z = *z;
        for _ in 0..STEPS {
            let cycle = phase.evaluate(&z, self.h)?;
            let step = cycle.equations(self.forcing, phase.elastance()).respond()?.base;
            z += step;
            if step.amax() < SETTLED {
                let response = PhaseResponse::new(&phase, &z, self.forcing, self.h)?;
                let mut moves = [Move::default(); DIRECTIONS];
                moves.iter_mut().zip(response.moves()).for_each(|(own, found)| *own = found);
                return Some(moves);
            }
        }
        None
    }
}

impl Curvature {
    /// Of a phase that has settled at `z`; none where it does not settle to the side.
    pub(super) fn new(
        response: &PhaseResponse,
        phase: &PerUnitPhase,
        z: &PhaseUnknowns,
        forcing: Forcing,
        h: f64,
    ) -> Option<Self> {
        let place = Place { inputs: phase.inputs(), forcing, h };
        let mut second = [[Move::default(); DIRECTIONS]; DIRECTIONS];
        for (n, (slots, first)) in second.iter_mut().zip(response.moves()).enumerate() {
            let beside = |share: f64| {
                let (place, step) = place.moved(n, share);
                Some((place.moves(phase, &(z + first.z * step))?, step))
            };
            let ((above, up), (below, down)) = (beside(STEP)?, beside(-STEP)?);
            for (slot, (above, below)) in slots.iter_mut().zip(above.iter().zip(&below)) {
                slot.add(above, 1.0 / (up - down));
                slot.add(below, -1.0 / (up - down));
            }
        }
        let is_finite = |own: &Move| (own.z.sum() + own.amplitude + own.output).is_finite();
        second.iter().flatten().all(is_finite).then_some(Self { second })
    }

    /// What changes of the inputs add.
    pub(super) fn of_inputs(&self, changes: &[f64; INPUTS]) -> Bends {
        let mut bends = Bends::default();
        for (n, (change, second)) in changes.iter().zip(&self.second).enumerate() {
            let mut own = Move::default();
            own.add(&second[n], 0.5 * change);
            for (other, second) in changes.iter().zip(second).skip(n + 1) {
                own.add(second, *other);
            }
            bends.value.add(&own, *change);
            bends.by_forcing.add(&second[FORCING], *change);
            bends.by_period.add(&second[PERIOD], *change);
        }
        bends
    }

    /// What steps of forcing and half period add: half of the second order to the value, all of it to the
    /// slopes.
    pub(super) fn along(&self, [forcing, period]: [f64; 2]) -> Bends {
        let mut bends = Bends::default();
        let [by_forcing, by_period] = [&self.second[FORCING], &self.second[PERIOD]];
        bends.by_forcing.add(&by_forcing[FORCING], forcing);
        bends.by_forcing.add(&by_forcing[PERIOD], period);
        bends.by_period.add(&by_period[FORCING], forcing);
        bends.by_period.add(&by_period[PERIOD], period);
        bends.value.add(&bends.by_forcing.clone(), 0.5 * forcing);
        bends.value.add(&bends.by_period.clone(), 0.5 * period);
        bends
    }
}
