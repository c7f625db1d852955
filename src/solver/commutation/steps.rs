//! Dead times that are tried one after the other, and how the switches would turn on after each.

/// How the switches would turn on at a time in the dead time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TurnOnNow {
    /// Largest shortfall of a swing, as a share of its interval voltage.
    pub(super) shortfall: f64,
    /// Energy lost, in joule.
    pub(super) energy: f64,
}

impl TurnOnNow {
    /// No switch turns on.
    pub(super) const NONE: Self = Self { shortfall: f64::NEG_INFINITY, energy: 0.0 };

    /// Other switches turn on too.
    pub(super) fn add(&mut self, other: Self) {
        self.shortfall = self.shortfall.max(other.shortfall);
        self.energy += other.energy;
    }
}

/// Dead times that are tried one after the other.
#[derive(Debug, Clone, Copy)]
pub(super) struct Steps {
    /// From one to the next, and the first one, in seconds.
    pub(super) step: f64,
    /// A shortfall at which no more is asked.
    pub(super) enough: f64,
    /// Whether the energy lost is asked for.
    pub(super) with_energy: bool,
}

impl Steps {
    /// The dead time of a place.
    pub(super) fn time(self, place: usize) -> f64 {
        self.step * (place + 1) as f64
    }

    /// Whether no more is asked of a place.
    pub(super) fn is_done(self, seen: &TurnOnNow) -> bool {
        seen.shortfall >= self.enough
    }

    /// The places up to the last one of which more is asked.
    pub(super) fn open(self, seen: &mut [TurnOnNow]) -> &mut [TurnOnNow] {
        let open = seen.iter().rposition(|now| !self.is_done(now)).map_or(0, |last| last + 1);
        &mut seen[..open]
    }
}
