//! A chain whose phases pass a charge that their own voltages decide, while the input rises.

/// Steps of an input ramp.
const STEPS: u32 = 1000;
/// Halvings of the search for a ramp, of its logarithm.
const HALVINGS: u32 = 40;
/// Ramps that are searched, in seconds.
const SHORTEST: f64 = 1e-6;
const LONGEST: f64 = 1e5;
/// By how much a voltage is changed to see how its current changes, of the input.
const NUDGE: f64 = 1e-7;

/// Corrections of a step at most, and the change of a voltage that ends them, of the input.
const MOST_CORRECTIONS: u32 = 30;
const SETTLED: f64 = 1e-9;

/// A step of a ramp.
#[derive(Debug, Clone, Copy)]
struct FollowersStep {
    /// Input voltage at its end, of that at the end of the ramp.
    input_share: f64,
    /// In seconds.
    step: f64,
}

/// A phase at an instant of a ramp.
#[derive(Debug, Clone, Copy)]
pub(super) struct FollowingPhase {
    /// Counted from 0.
    pub(super) phase: usize,
    /// Its voltage.
    pub(super) voltage: f64,
    /// Input voltage over that at the end of the ramp.
    pub(super) input_share: f64,
}

/// Empty flying capacitors C(1)…C(N−1) between an input that rises in proportion to time and ground. Phase k
/// passes a current I(k) from C(k−1) to C(k): C(k) dv(k)/dt = I(k) − I(k+1).
#[derive(Debug, Clone)]
pub(super) struct Followers {
    /// In farad.
    pub(super) flying: Vec<f64>,
    /// Input voltage at the end of the ramp.
    pub(super) input: f64,
}

impl Followers {
    /// Highest voltage of any phase on a ramp of so many seconds. The current of a phase rises with its
    /// voltage.
    pub(super) fn highest_voltage(
        &self,
        ramp: f64,
        current: &impl Fn(FollowingPhase) -> f64,
    ) -> f64 {
        let step = ramp / f64::from(STEPS);
        let mut v = vec![0.0; self.flying.len()];
        let mut highest: f64 = 0.0;
        for n in 1..=STEPS {
            let input_share = f64::from(n) / f64::from(STEPS);
            self.step(&mut v, input_share, step, current);
            highest = self.phase_voltages(&v, input_share).into_iter().fold(highest, f64::max);
        }
        highest
    }

    /// Shortest ramp on which no phase has more than a voltage; none where even a very long one does not do.
    pub(super) fn shortest_ramp(
        &self,
        most: f64,
        current: &impl Fn(FollowingPhase) -> f64,
    ) -> Option<f64> {
        let does = |ramp: f64| self.highest_voltage(ramp, current) <= most;
        if !does(LONGEST) {
            return None;
        }
        let (mut low, mut high) = (libm::log(SHORTEST), libm::log(LONGEST));
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if does(libm::exp(middle)) { high = middle } else { low = middle }
        }
        Some(libm::exp(high))
    }

    fn phase_voltages(&self, v: &[f64], input_share: f64) -> Vec<f64> {
        let before = std::iter::once(input_share * self.input).chain(v.iter().copied());
        let after = v.iter().copied().chain([0.0]);
        before.zip(after).map(|(before, after)| before - after).collect()
    }

    /// One implicit Euler step, which is stable however stiff the currents are, by Newton's method: a phase that
    /// begins to conduct within the step has to tell.
    fn step(
        &self,
        v: &mut [f64],
        input_share: f64,
        step: f64,
        current: &impl Fn(FollowingPhase) -> f64,
    ) {
        let before = v.to_vec();
        for _ in 0..MOST_CORRECTIONS {
            let charged: Vec<f64> = before
                .iter()
                .zip(&*v)
                .zip(&self.flying)
                .map(|((before, now), capacitance)| capacitance * (now - before) / step)
                .collect();
            let largest = self.correct(v, &charged, FollowersStep { input_share, step }, current);
            if largest < SETTLED * self.input {
                break;
            }
        }
    }

    /// One of Newton's corrections of the voltages at the end of a step, where the capacitors have taken these
    /// currents; the largest change. A tridiagonal system (Thomas's elimination; any text on numerical methods).
    fn correct(
        &self,
        v: &mut [f64],
        charged: &[f64],
        at: FollowersStep,
        current: &impl Fn(FollowingPhase) -> f64,
    ) -> f64 {
        let FollowersStep { input_share, step } = at;
        let nudge = NUDGE * self.input;
        let voltages = self.phase_voltages(v, input_share);
        let phases = voltages.iter().enumerate().map(|(phase, voltage)| {
            let at = |voltage: f64| current(FollowingPhase { phase, voltage, input_share });
            let own = at(*voltage);
            (own, (at(voltage + nudge) - own) / nudge)
        });
        let (currents, slopes): (Vec<f64>, Vec<f64>) = phases.unzip();
        let nodes = v.len();
        let (mut upper, mut right) = (vec![0.0; nodes], vec![0.0; nodes]);
        for k in 0..nodes {
            let lower = if k == 0 { 0.0 } else { slopes[k] };
            let before = k.checked_sub(1).map_or([0.0; 2], |n| [upper[n], right[n]]);
            let pivot = self.flying[k] / step + slopes[k] + slopes[k + 1] - lower * before[0];
            upper[k] = slopes[k + 1] / pivot;
            right[k] = (currents[k] - currents[k + 1] - charged[k] + lower * before[1]) / pivot;
        }
        let (mut change, mut largest) = (0.0, 0.0_f64);
        for k in (0..nodes).rev() {
            change = right[k] + upper[k] * change;
            v[k] += change;
            largest = largest.max(change.abs());
        }
        largest
    }
}
