//! Frequency and rectified amplitudes of all phases: Newton's iteration, and a search where it
//! does not serve.

use arrayvec::ArrayVec;

use super::phase::{HarmonicPhase, square_wave_squared};
use crate::converter::{Arrangement, MAX_PHASES};
use crate::solver::bracket::sign_change;
use crate::solver::effort::Effort;

const NEWTON_STEPS: usize = 25;
/// Relative step at which Newton's iteration ends.
const TOLERANCE: f64 = 1e-11;
/// Steps between the highest and the lowest frequency of the search.
const SEARCH_STEPS: i32 = 200;

/// Work that it takes to settle a phase of a chain at a frequency: brackets in a bracket. On equal
/// sources there is a closed form.
const SETTLING: f64 = 200.0;
/// Newton's steps on the way down the band, and the relative step at which they end.
const STEPS_AT_A_FREQUENCY: usize = 12;
const ROUGHLY: f64 = 1e-8;
/// Share of the wanted current from which on a point on the way down is settled exactly.
const NEARLY: f64 = 1.0 - 1e-6;

/// A converter to solve. SI units.
pub(super) struct HarmonicConverter<'a> {
    pub(super) phases: ArrayVec<HarmonicPhase, MAX_PHASES>,
    /// Sum of the source amplitudes W.
    pub(super) input: f64,
    pub(super) output_current: f64,
    /// Lowest and highest angular frequency.
    pub(super) band: (f64, f64),
    pub(super) arrangement: Arrangement,
    /// The work that may be taken to solve it.
    pub(super) effort: &'a Effort<'a>,
}

/// A point of the iteration; at a solution, the start for a converter nearby.
#[derive(Debug, Clone)]
pub struct AveragedStart {
    /// Angular frequency.
    pub(super) w: f64,
    /// Mean input current of a chain, at W volts.
    pub(super) q: f64,
    /// Rectified amplitudes.
    pub(super) i: ArrayVec<f64, MAX_PHASES>,
}

/// Whether the frequency is an unknown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Frequency {
    /// It stays as it is.
    Given,
    /// It is set so that the output current is met.
    Regulated,
}

/// A step of Newton's iteration.
struct StepTaken {
    /// Its size, relative to the unknowns.
    size: f64,
    /// How the output current changes with the angular frequency.
    fall: f64,
}

impl HarmonicConverter<'_> {
    pub(super) fn amplitude(&self) -> f64 {
        self.input / self.phases.len() as f64
    }

    pub(super) fn allows(&self, w: f64) -> bool {
        (self.band.0..=self.band.1).contains(&w)
    }

    /// The solution inside the band that Newton's iteration leads to.
    fn inside(&self, start: &AveragedStart) -> Option<AveragedStart> {
        self.newton(start).filter(|at| self.allows(at.w))
    }

    /// Newton's iteration towards a solution at which the current falls with frequency, in or
    /// outside the band.
    pub(super) fn newton(&self, start: &AveragedStart) -> Option<AveragedStart> {
        let mut at = start.clone();
        for _ in 0..NEWTON_STEPS {
            let step = match self.arrangement {
                Arrangement::Chain => self.step_chain(&mut at, Frequency::Regulated)?,
                Arrangement::Paralleled => self.step_paralleled(&mut at)?,
            };
            if step.size < TOLERANCE {
                return (step.fall < 0.0).then_some(at);
            }
        }
        None
    }

    /// One step of frequency for phases on equal sources.
    fn step_paralleled(&self, at: &mut AveragedStart) -> Option<StepTaken> {
        let (mut current, mut fall) = (0.0, 0.0);
        let most = at.w;
        for (phase, i) in self.phases.iter().zip(&mut at.i) {
            let z = phase.impedances(most);
            let Some(root) = phase.rectified(&z, self.amplitude()) else {
                *i = 0.0;
                continue;
            };
            *i = root;
            let b = phase.demand(&z, root);
            let i_by_w = -b.source_by_w / b.source_by_i;
            // Any phase on the far side of its hump could pick up again at a higher frequency.
            if i_by_w > 0.0 {
                return None;
            }
            current += phase.gain * root;
            fall += phase.gain * i_by_w;
        }
        let dw = (self.output_current - current) / fall;
        let limited = dw.clamp(-0.1 * at.w, 0.1 * at.w);
        at.w += limited;
        limited.is_finite().then_some(StepTaken { size: limited.abs() / at.w, fall })
    }

    /// One step of all unknowns of a chain: `E(k) = ((4/π) P/q)²`, `ΣP = q·input`
    /// and the output current.
    fn step_chain(&self, at: &mut AveragedStart, frequency: Frequency) -> Option<StepTaken> {
        let (q, w) = (at.q, at.w);
        // Sums over the phases: value, by q, by w.
        let (mut power, mut current) = ([0.0; 3], [0.0; 3]);
        let mut moves: ArrayVec<[f64; 3], MAX_PHASES> = ArrayVec::new();
        for (phase, &i) in self.phases.iter().zip(&at.i) {
            let b = phase.demand(&phase.impedances(w), i);
            let amplitude = b.power / q;
            // How (4W/π)² moves with the power at a given q.
            let source = 2.0 * square_wave_squared(1.0) * amplitude / q;
            let slope = b.source_by_i - source * b.power_by_i;
            let excess = b.source - square_wave_squared(amplitude);
            // i moves by base + by_q·dq + by_w·dw.
            let step = [-excess, -source * amplitude, source * b.power_by_w - b.source_by_w]
                .map(|x| x / slope);
            let direct = [b.power, 0.0, b.power_by_w];
            for n in 0..3 {
                power[n] += direct[n] + b.power_by_i * step[n];
                current[n] += phase.gain * (step[n] + if n == 0 { i } else { 0.0 });
            }
            moves.push(step);
        }
        let (p_q, p_w) = (power[1] - self.input, power[2]);
        let missing = (q * self.input - power[0], self.output_current - current[0]);
        let determinant = p_q * current[2] - p_w * current[1];
        let [dq, dw] = match frequency {
            Frequency::Given => [missing.0 / p_q, 0.0],
            Frequency::Regulated => [
                (missing.0 * current[2] - p_w * missing.1) / determinant,
                (p_q * missing.1 - missing.0 * current[1]) / determinant,
            ],
        };
        let stride = (10.0 * dw / w).abs().max((2.0 * dq / q).abs()).max(1.0);
        let mut size = (dw / w).abs().max((dq / q).abs());
        for (i, step) in at.i.iter_mut().zip(&moves) {
            let di = (step[0] + step[1] * dq + step[2] * dw) / stride;
            size = size.max(di.abs() / (i.abs() + 1e-3 * q));
            *i += di;
        }
        at.q += dq / stride;
        at.w += dw / stride;
        let conducting = at.i.iter().all(|i| *i > 0.0 && i.is_finite());
        let size = if stride > 1.0 { f64::INFINITY } else { size };
        conducting.then_some(StepTaken { size, fall: determinant / p_q })
    }

    /// From the highest frequency down to the first that delivers the current, then between the two.
    pub(super) fn search(&self) -> Option<AveragedStart> {
        let mut before = self.settle(self.band.1)?;
        if self.current(&before) >= self.output_current {
            return None;
        }
        for w in self.searched() {
            let mut now = self.settle_from(&before, w)?;
            if self.current(&now) >= NEARLY * self.output_current {
                now = self.settle(now.w)?;
                if self.current(&now) >= self.output_current {
                    let between = NEARLY * now.w..=before.w;
                    let found = self.inside(&now).filter(|at| between.contains(&at.w));
                    return found.or_else(|| self.close_in(now.w, before.w));
                }
            }
            before = now;
        }
        None
    }

    /// Whether a paralleled phase has its peak above a frequency, inside the band, where all of them deliver the output.
    pub(super) fn delivers_above(&self, w: f64) -> bool {
        let delivers = |peak: f64| {
            let settled = self.settle(peak);
            settled.is_some_and(|at| self.current(&at) >= self.output_current)
        };
        self.narrow_peaks().any(|peak| peak > w && peak <= self.band.1 && delivers(peak))
    }

    /// Peaks that may be narrower than a stride of a search: those of paralleled phases.
    fn narrow_peaks(&self) -> impl Iterator<Item = f64> {
        let is_paralleled = self.arrangement == Arrangement::Paralleled;
        let phases = self.phases.iter().filter(move |_| is_paralleled);
        phases.filter_map(|phase| phase.narrow_peak(self.amplitude()))
    }

    /// Frequencies at which a search looks, falling.
    fn searched(&self) -> Vec<f64> {
        let (low, high) = self.band;
        let ratio = libm::pow(low / high, 1.0 / f64::from(SEARCH_STEPS));
        let strides = (1..=SEARCH_STEPS).map(|n| high * ratio.powi(n));
        let peaks = self.narrow_peaks().filter(|w| (low..high).contains(w));
        let mut all: Vec<f64> = strides.chain(peaks).collect();
        all.sort_by(|a, b| b.total_cmp(a));
        all
    }

    /// Between a frequency with enough current and a higher one with too little.
    fn close_in(&self, enough: f64, little: f64) -> Option<AveragedStart> {
        let current = |w: f64| self.settle(w).map_or(0.0, |at| self.current(&at));
        let missing = |w: f64| self.output_current - current(w);
        self.settle(sign_change(missing, [enough, little])[0])
    }

    pub(super) fn current(&self, at: &AveragedStart) -> f64 {
        self.phases.iter().zip(&at.i).map(|(phase, i)| phase.gain * i).sum()
    }

    /// The steady state at a given frequency, from that at a neighbouring one. Charge and currents
    /// at a frequency are unique: Newton's iteration finds them where all phases conduct.
    fn settle_from(&self, near: &AveragedStart, w: f64) -> Option<AveragedStart> {
        if self.arrangement == Arrangement::Chain && near.i.iter().all(|i| *i > 0.0) {
            let mut at = AveragedStart { w, ..near.clone() };
            for _ in 0..STEPS_AT_A_FREQUENCY {
                self.effort.spend(self.phases.len() as f64)?;
                match self.step_chain(&mut at, Frequency::Given) {
                    Some(step) if step.size < ROUGHLY => return Some(at),
                    Some(_) => {}
                    None => break,
                }
            }
        }
        match self.idle(w) {
            Some(idle) => Some(idle),
            None => self.settle(w),
        }
    }

    /// The steady state of a chain in which no phase conducts, if that is its state at a frequency: the
    /// amplitudes are as the idle phases' and sum to the input.
    fn idle(&self, w: f64) -> Option<AveragedStart> {
        if self.arrangement == Arrangement::Paralleled {
            return None;
        }
        let idle = |phase: &HarmonicPhase| phase.impedances(w).idle_amplitude();
        let q = self.input / self.phases.iter().map(idle).sum::<f64>();
        let is_idle = |phase: &HarmonicPhase| {
            let amplitude = q * idle(phase);
            amplitude.is_finite() && phase.rectified(&phase.impedances(w), amplitude).is_none()
        };
        let i = self.phases.iter().map(|_| 0.0).collect();
        self.phases.iter().all(is_idle).then_some(AveragedStart { w, q, i })
    }

    /// The steady state at a given frequency; `None` once the effort is spent.
    pub(super) fn settle(&self, w: f64) -> Option<AveragedStart> {
        let work = match self.arrangement {
            Arrangement::Paralleled => 1.0,
            Arrangement::Chain => SETTLING,
        };
        self.effort.spend(work * self.phases.len() as f64)?;
        let q = match self.arrangement {
            Arrangement::Paralleled => 0.0,
            Arrangement::Chain => self.input_current(w),
        };
        let i = self.phases.iter().map(|phase| {
            let z = phase.impedances(w);
            let amplitude = match self.arrangement {
                Arrangement::Paralleled => self.amplitude(),
                Arrangement::Chain => phase.amplitude_for(&z, q, self.input),
            };
            phase.rectified(&z, amplitude).unwrap_or(0.0)
        });
        Some(AveragedStart { w, q, i: i.collect() })
    }

    /// The mean input current at which a chain's amplitudes sum to the input.
    fn input_current(&self, w: f64) -> f64 {
        let sum = |q: f64| -> f64 {
            let amplitudes =
                self.phases.iter().map(|p| p.amplitude_for(&p.impedances(w), q, self.input));
            amplitudes.sum()
        };
        // Without loss, phases that do not conduct draw nothing even on more than the input.
        if sum(0.0) >= self.input {
            return 0.0;
        }
        let (mut low, mut high) = (0.0, self.output_current);
        while sum(high) < self.input {
            (low, high) = (high, 2.0 * high);
            if !high.is_finite() {
                return low;
            }
        }
        sign_change(|q| sum(q) - self.input, [low, high])[1]
    }
}
