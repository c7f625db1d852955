//! A resonant circuit at rest that a bridge begins to drive.

/// Half periods that are followed: the natural oscillation has then met the driven one at its worst, or is
/// gone.
const HALVES: u32 = 600;

/// Lr, Cr and R in series behind a source that steps to a voltage and back, or between both signs of it, at
/// duty 0.5.
#[derive(Debug, Clone, Copy)]
pub(super) struct ColdTank {
    pub(super) inductance: f64,
    pub(super) capacitance: f64,
    pub(super) resistance: f64,
    /// The source in the first half period.
    pub(super) high: f64,
    /// The same in the second one.
    pub(super) low: f64,
}

impl ColdTank {
    /// Highest magnitude of its current from rest. Between two steps it is i = e^(−αt) (i0 cos ωt +
    /// ((e0/L − α i0)/ω) sin ωt), with e the source less the capacitor's voltage (any text on linear circuits).
    /// None where it is so damped that it does not ring.
    pub(super) fn peak(&self, frequency: f64) -> Option<f64> {
        let Self { inductance: l, capacitance: c, resistance: r, high, low } = *self;
        let alpha = r / (2.0 * l);
        let squared = 1.0 / (l * c) - alpha * alpha;
        let (omega, half) = (squared.max(0.0).sqrt(), 0.5 / frequency);
        let (sin, cos) = libm::sincos(omega * half);
        let decay = libm::exp(-alpha * half);
        let (mut current, mut voltage, mut peak) = (0.0, 0.0, 0.0_f64);
        for n in 0..HALVES {
            let source = if n % 2 == 0 { high } else { low };
            let net = source - voltage;
            let rate = (net / l - alpha * current) / omega;
            // Its extreme within the half period: where its slope, again such a signal, is zero.
            let slope = [omega * rate - alpha * current, -omega * current - alpha * rate];
            let angle = libm::atan2(slope[0], -slope[1]);
            let angle = if angle < 0.0 { angle + std::f64::consts::PI } else { angle };
            if angle < omega * half {
                let (sin, cos) = libm::sincos(angle);
                let there = libm::exp(-alpha * angle / omega) * (current * cos + rate * sin);
                peak = peak.max(there.abs());
            }
            let net_end = decay * (net * cos + (alpha * net - current / c) / omega * sin);
            current = decay * (current * cos + rate * sin);
            voltage = source - net_end;
            peak = peak.max(current.abs());
        }
        (squared > 0.0).then_some(peak)
    }
}
