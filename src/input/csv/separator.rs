//! What stands between the cells of a row.

/// What stands between the cells of a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Separator {
    Comma,
    Semicolon,
    Tab,
}

impl Separator {
    pub(super) const ALL: [Self; 3] = [Self::Comma, Self::Semicolon, Self::Tab];

    pub(super) fn byte(self) -> u8 {
        match self {
            Self::Comma => b',',
            Self::Semicolon => b';',
            Self::Tab => b'\t',
        }
    }

    /// How to name it, if it is not the plain one.
    pub(super) fn unusual(self) -> Option<&'static str> {
        match self {
            Self::Comma => None,
            Self::Semicolon => Some("semicolons between the cells"),
            Self::Tab => Some("tabs between the cells"),
        }
    }

    pub(super) fn with_byte(byte: u8) -> Option<Self> {
        Self::ALL.into_iter().find(|separator| separator.byte() == byte)
    }
}
