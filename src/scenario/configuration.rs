//! The table `[configuration]`: what decides where an operating point leaves its drive or rectifier
//! open.

use super::reader::Table;

/// Which of the configurations that reach an operating point is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Preference {
    /// The one with the lowest loss.
    #[default]
    LowestLoss,
    /// The one whose worst switch has the lowest RMS current.
    LowestSwitchCurrent,
    /// The one whose frequency is furthest, by ratio, from the nearer end of the band.
    FrequencyMargin,
}

impl Preference {
    /// All three.
    pub const ALL: [Self; 3] = [Self::LowestLoss, Self::LowestSwitchCurrent, Self::FrequencyMargin];

    /// The word used in scenario files and tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::LowestLoss => "lowest-loss",
            Self::LowestSwitchCurrent => "lowest-switch-current",
            Self::FrequencyMargin => "frequency-margin",
        }
    }
}

/// Reads `[configuration]`.
pub(super) fn read(mut table: Table<'_>) -> Option<Preference> {
    let prefer = table
        .key(
            "prefer",
            "what decides: the loss, the RMS current of the worst switch, or the ratio of the \
             frequency to the nearer end of the band",
        )
        .choice(Preference::ALL, Preference::name)
        .or(Preference::default());
    table.finish();
    prefer
}
