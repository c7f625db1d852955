//! The map of the whole circuit over one period, about its steady state.

use arrayvec::ArrayVec;
use nalgebra::{DMatrix, DVector};

use crate::converter::{Arrangement, Converter, Drive, FrequencyBand, OperatingPoint};
use crate::solver::exact::{LinearHalf, linear_halves};
use crate::solver::seen_parts::as_seen;
use crate::solver::{Case, Effort, SteadyState};
use crate::units::Second;

/// How a small deviation from the steady state changes in one period.
///
/// States are scaled by the square roots of the inductances and capacitances behind them. So the
/// square of a deviation is twice its energy, about.
#[derive(Debug, Clone)]
pub struct PeriodMap {
    pub(super) circuit: ChainLayout,
    /// What the neutral modes keep of a deviation.
    neutral: DMatrix<f64>,
    /// The map without the neutral modes.
    pub(super) decaying: DMatrix<f64>,
    period: Second,
}

/// Where the parts of a chain stand in the state of the whole circuit.
#[derive(Debug, Clone)]
pub(super) struct ChainLayout {
    phases: usize,
    /// Flying capacitances of each driven leg, in farad.
    legs: Vec<Vec<f64>>,
    /// Resonant capacitances, in farad.
    resonant: Vec<f64>,
    /// Square roots of the inductances and capacitances behind the states.
    scale: DVector<f64>,
}

impl ChainLayout {
    fn new(converter: &Converter, drive: Drive) -> Self {
        let all = [&converter.flying, &converter.flying_return];
        let driven = &all[..drive.legs()];
        let legs: Vec<Vec<f64>> =
            driven.iter().map(|leg| leg.iter().map(|c| c.0).collect()).collect();
        let tanks = converter.tanks.iter().flat_map(|tank| {
            [tank.resonant_inductance.0, tank.magnetising_inductance.0, tank.resonant_capacitance.0]
        });
        let scale: Vec<f64> = tanks.chain(legs.iter().flatten().copied()).map(f64::sqrt).collect();
        let resonant = converter.tanks.iter().map(|tank| tank.resonant_capacitance.0).collect();
        let phases = converter.phases();
        Self { phases, legs, resonant, scale: DVector::from_vec(scale) }
    }

    pub(super) fn size(&self) -> usize {
        self.scale.len()
    }

    /// Number of flying capacitors in a leg.
    pub(super) fn nodes(&self) -> usize {
        self.phases - 1
    }

    /// Whether N − 1 modes neither grow nor decay.
    pub(super) fn has_neutral_modes(&self) -> bool {
        self.legs.len() > 1
    }

    pub(super) fn legs(&self) -> usize {
        self.legs.len()
    }

    /// Place of the rectifier current of a phase; its magnetising current and the voltage of its
    /// resonant capacitor follow.
    fn tank(phase: usize) -> usize {
        3 * phase
    }

    fn resonant(phase: usize) -> usize {
        3 * phase + 2
    }

    /// Place of the flying capacitor after a phase; none after the last one.
    pub(super) fn flying(&self, leg: usize, phase: usize) -> Option<usize> {
        (phase < self.nodes()).then(|| 3 * self.phases + leg * self.nodes() + phase)
    }

    /// The flying capacitors before and after a phase with the signs of their voltages in its source.
    fn neighbours(&self, leg: usize, phase: usize) -> impl Iterator<Item = (usize, usize, f64)> {
        let before = phase.checked_sub(1).map(|node| (node, 1.0));
        let both = [before, Some((phase, -1.0))].into_iter().flatten();
        both.filter_map(move |(node, sign)| Some((node, self.flying(leg, node)?, sign)))
    }

    /// A deviation in volt and ampere from a scaled one, or the other way round.
    pub(super) fn unscaled(&self, scaled: &DVector<f64>) -> DVector<f64> {
        scaled.component_div(&self.scale)
    }

    pub(super) fn scaled(&self, plain: &DVector<f64>) -> DVector<f64> {
        plain.component_mul(&self.scale)
    }

    /// Puts one phase's half period into a half's map of plain states, where it is still the identity.
    fn add_phase(&self, map: &mut DMatrix<f64>, phase: usize, in_first: bool, half: &LinearHalf) {
        let (sign, leg) = if in_first { (1.0, 0) } else { (-1.0, 1) };
        let (tank, resonant) = (Self::tank(phase), Self::resonant(phase));
        let drives = leg < self.legs();
        let flying: ArrayVec<_, 2> =
            if drives { self.neighbours(leg, phase).collect() } else { ArrayVec::new() };
        // The start (d, im, e) in the signs of a rising source, by the states that it depends on.
        let own = [(tank, 0, sign), (tank + 1, 1, sign), (resonant, 2, -sign)];
        let sources = flying.iter().map(|(_, place, by)| (*place, 2, *by));
        for (state, of_start, by) in own.into_iter().chain(sources) {
            let [d, im, e] = half.jacobian.map(|row| row[of_start] * by);
            let moved = if of_start == 2 { by - e } else { -e };
            let charge = moved / half.elastance;
            map[(tank, state)] = d * sign;
            map[(tank + 1, state)] = im * sign;
            map[(resonant, state)] += charge * (sign / self.resonant[phase]);
            for (node, place, by) in &flying {
                map[(*place, state)] += charge * (-by / self.legs[leg][*node]);
            }
        }
    }

    /// What the neutral modes keep of a scaled deviation: their shapes times the charges that stay as
    /// they are. `None` where rounding leaves nothing of these.
    fn kept_by_neutral_modes(&self) -> Option<DMatrix<f64>> {
        let (size, nodes) = (self.size(), if self.has_neutral_modes() { self.nodes() } else { 0 });
        let mut modes = DMatrix::zeros(size, nodes);
        let mut charges = DMatrix::zeros(nodes, size);
        for node in 0..nodes {
            let flying = [1.0, -1.0].into_iter().enumerate().filter_map(|(leg, sign)| {
                Some((self.flying(leg, node)?, sign, self.legs[leg][node]))
            });
            let resonant = [(node, -1.0), (node + 1, 1.0)]
                .map(|(phase, sign)| (Self::resonant(phase), sign, self.resonant[phase]));
            for (place, sign, capacitance) in flying.chain(resonant) {
                modes[(place, node)] = sign * self.scale[place];
                charges[(node, place)] = sign * capacitance / self.scale[place];
            }
        }
        let inverse = (&charges * &modes).try_inverse()?;
        Some(modes * inverse * charges)
    }
}

impl PeriodMap {
    /// Of a solved chain, whose parts are those under the condition of the operating point.
    ///
    /// `None` where the steady state does not tell the currents at the switching instants: only the
    /// exact solver does.
    pub fn new(state: &SteadyState, converter: &Converter, point: &OperatingPoint) -> Option<Self> {
        let frequency = state.switching_frequency;
        let band = FrequencyBand { minimum: frequency, maximum: frequency };
        let case = Case::new(point.clone(), band, Arrangement::Chain);
        let converter = as_seen(state, converter, point);
        let halves = linear_halves(&converter, &case, state, &Effort::default())?;
        let circuit = ChainLayout::new(&converter, point.drive);
        let map = whole_period(&circuit, &halves);
        let neutral = circuit.kept_by_neutral_modes()?;
        let decaying = map - &neutral;
        Some(Self { circuit, neutral, decaying, period: Second(1.0 / frequency.0) })
    }

    /// One switching period.
    pub fn period(&self) -> Second {
        self.period
    }

    /// A scaled deviation without what the neutral modes keep.
    pub(super) fn without_neutral(&self, scaled: &DVector<f64>) -> DVector<f64> {
        scaled - &self.neutral * scaled
    }

    /// Modes that neither grow nor decay: N − 1 in full-bridge drive, one a node; none in half-bridge
    /// drive.
    pub fn neutral_modes(&self) -> usize {
        if self.circuit.has_neutral_modes() { self.circuit.nodes() } else { 0 }
    }
}

/// Both half periods one after the other, in scaled states.
fn whole_period(circuit: &ChainLayout, halves: &[[LinearHalf; 2]]) -> DMatrix<f64> {
    let size = circuit.size();
    let map_of = |half: usize| {
        let mut map = DMatrix::identity(size, size);
        for (phase, own) in halves.iter().enumerate() {
            // Odd phases go high first, even ones half a period later.
            let in_first = phase % 2 == half;
            circuit.add_phase(&mut map, phase, in_first, &own[usize::from(!in_first)]);
        }
        map
    };
    let plain = map_of(1) * map_of(0);
    DMatrix::from_fn(size, size, |n, m| plain[(n, m)] * circuit.scale[n] / circuit.scale[m])
}
