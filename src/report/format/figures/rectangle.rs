//! Rectangles that labels and marks take in a drawing.

/// A rectangle, from its upper left to its lower right corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rectangle {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Rectangle {
    pub(super) fn about(x: f64, y: f64, half: f64) -> Self {
        Self { left: x - half, top: y - half, right: x + half, bottom: y + half }
    }

    /// The area that both take.
    pub(super) fn overlap(self, other: Self) -> f64 {
        let wide = self.right.min(other.right) - self.left.max(other.left);
        let high = self.bottom.min(other.bottom) - self.top.max(other.top);
        wide.max(0.0) * high.max(0.0)
    }

    /// How far it reaches out of a frame.
    pub(super) fn outside(self, frame: Self) -> f64 {
        (frame.left - self.left).max(0.0)
            + (self.right - frame.right).max(0.0)
            + (frame.top - self.top).max(0.0)
            + (self.bottom - frame.bottom).max(0.0)
    }

    /// The square of how far a place is from it; zero inside.
    pub(super) fn squared_distance(self, [x, y]: [f64; 2]) -> f64 {
        let aside = (self.left - x).max(x - self.right).max(0.0);
        let off = (self.top - y).max(y - self.bottom).max(0.0);
        aside * aside + off * off
    }
}
