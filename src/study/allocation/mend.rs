//! What would mend converters that fail: the exchange of one part.
//!
//! Each part of a converter is exchanged in turn: for one like those of the other phases, for a nominal one, and
//! for one with which the tank resonates as the others do. The evaluator says which of these converters pass. Of those
//! that do, the one that shares best is told.

use super::allocator::Allocator;
use super::plan::{Mend, PartExchange, PlannedConverter, RejectedConverter};
use crate::converter::{Converter, Parameter, Tank};

/// Converters that are mended at most.
const MOST: usize = 100;
/// A part this near to the one in place is the same.
const SAME: f64 = 1e-9;

/// A converter with one part exchanged.
struct Candidate {
    exchange: PartExchange,
    converter: Converter,
}

impl Allocator<'_> {
    /// The converters with what would mend each of them.
    pub(super) fn mended(&self, failing: Vec<PlannedConverter>) -> Vec<RejectedConverter> {
        let all = failing.into_iter().enumerate();
        let mended = all.map(|(n, planned)| {
            let mend = if n < MOST { self.mend(&planned) } else { Mend::NotTried };
            RejectedConverter { planned, mend }
        });
        mended.collect()
    }

    fn mend(&self, planned: &PlannedConverter) -> Mend {
        let candidates = self.candidates(planned);
        let converters: Vec<Converter> =
            candidates.iter().map(|own| own.converter.clone()).collect();
        let Some(checks) = self.evaluator.check(&converters) else { return Mend::NotTried };
        let passing = candidates.iter().zip(checks).filter_map(|(candidate, check)| {
            Some((candidate, check.passing?.sharing_error.unwrap_or(f64::INFINITY)))
        });
        match passing.min_by(|(_, a), (_, b)| a.total_cmp(b)) {
            Some((candidate, _)) => Mend::Exchange(candidate.exchange),
            None => Mend::SeveralParts,
        }
    }

    /// The converter with each part exchanged in turn.
    fn candidates(&self, planned: &PlannedConverter) -> Vec<Candidate> {
        let converter = self.assemble(&planned.parts());
        let mut candidates = Vec::new();
        for parameter in Parameter::of_tank() {
            for (phase, stocked) in planned.tanks.iter().enumerate() {
                for value in self.tank_values(&converter, phase, parameter) {
                    let mut changed = converter.clone();
                    if let Some(own) = changed.tanks[phase].value_mut(parameter) {
                        *own = value;
                    }
                    let exchange = PartExchange { parameter, stocked: *stocked, value };
                    candidates.push(Candidate { exchange, converter: changed });
                }
            }
        }
        let nominal = self.nominal.flying.first().map_or(0.0, |own| own.0);
        for (slot, stocked) in planned.capacitors.iter().enumerate() {
            let mut changed = converter.clone();
            let mut slots = changed.flying.iter_mut().chain(&mut changed.flying_return);
            if let Some(own) = slots.nth(slot) {
                own.0 = nominal;
            }
            let parameter = Parameter::FlyingCapacitance;
            let exchange = PartExchange { parameter, stocked: *stocked, value: nominal };
            candidates.push(Candidate { exchange, converter: changed });
        }
        candidates
    }

    /// Values that a part of a tank is exchanged for: the mean of the other phases, the nominal one, and one with
    /// which the tank resonates as the others do in the mean.
    fn tank_values(&self, converter: &Converter, phase: usize, parameter: Parameter) -> Vec<f64> {
        let of_phase = |k: usize| converter.tanks[k].value(parameter);
        let others = (0..converter.tanks.len()).filter(|k| *k != phase).filter_map(of_phase);
        let others: Vec<f64> = others.collect();
        let mean = others.iter().sum::<f64>() / others.len().max(1) as f64;
        let nominal = self.nominal.tanks.first().and_then(|own| own.value(parameter));
        let Some(present) = of_phase(phase) else { return Vec::new() };
        let is_other = |value: &f64| (value - present).abs() > SAME * present.abs();
        let tuned = tuned(&converter.tanks, phase, parameter);
        [Some(mean), nominal, tuned].into_iter().flatten().filter(is_other).collect()
    }
}

/// The inductance or capacitance with which the product Lr Cr of a phase is the mean of the others; none of other
/// parts.
fn tuned(tanks: &[Tank], phase: usize, parameter: Parameter) -> Option<f64> {
    let product = |own: &Tank| own.resonant_inductance.0 * own.resonant_capacitance.0;
    let others = tanks.iter().enumerate().filter(|(k, _)| *k != phase);
    let (sum, count) =
        others.fold((0.0, 0.0), |(sum, count), (_, own)| (sum + product(own), count + 1.0));
    let partner = match parameter {
        Parameter::ResonantInductance => tanks[phase].resonant_capacitance.0,
        Parameter::ResonantCapacitance => tanks[phase].resonant_inductance.0,
        _ => return None,
    };
    Some(sum / count / partner)
}
