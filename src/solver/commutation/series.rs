//! Power series of a signal over a stretch of time, and their first crossing of zero.

/// Highest power of a current; a charge has one more.
pub(super) const ORDER: usize = 12;

/// Parts of a stretch in which a sign is looked for.
const PARTS: u32 = 8;
/// Halvings of a part until the lowest point in it is known.
const HALVINGS: u32 = 30;
/// Most steps towards a crossing.
const STEPS: u32 = 100;

/// Coefficients of 1, u, u², …, where u is time over the length of the stretch.
#[derive(Debug, Clone, Copy)]
pub(super) struct Series {
    coefficients: [f64; ORDER + 2],
    /// How many there are.
    count: usize,
}

/// A signal at a point of the stretch.
#[derive(Clone, Copy)]
struct Point {
    u: f64,
    value: f64,
    /// Its derivative.
    rise: f64,
}

/// What a signal keeps all the way to a point.
struct Shape {
    /// The sign of its slope.
    is_monotone: bool,
    /// The way that it bends.
    bends_one_way: bool,
}

impl Series {
    /// From so many coefficients, one for each power.
    pub(super) fn new(count: usize, mut coefficient: impl FnMut(usize) -> f64) -> Self {
        let mut coefficients = [0.0; ORDER + 2];
        for (power, slot) in coefficients[..count].iter_mut().enumerate() {
            *slot = coefficient(power);
        }
        Self { coefficients, count }
    }

    fn coefficients(&self) -> &[f64] {
        &self.coefficients[..self.count]
    }

    /// Even and odd powers apart, so that a processor works on them at once.
    fn point(&self, u: f64) -> Point {
        let square = u * u;
        let (mut values, mut rises) = ([0.0; 2], [0.0; 2]);
        for pair in self.coefficients[..self.count.next_multiple_of(2)].rchunks_exact(2) {
            for n in 0..2 {
                rises[n] = rises[n] * square + values[n];
                values[n] = values[n] * square + pair[n];
            }
        }
        let rise = 2.0 * u * (rises[0] + u * rises[1]) + values[1];
        Point { u, value: values[0] + u * values[1], rise }
    }

    /// Where the first three terms come to zero first; none where they do not.
    fn parabola(&self) -> Option<f64> {
        let [value, slope, bend, ..] = self.coefficients;
        let root = (slope * slope - 4.0 * bend * value).sqrt();
        Some(2.0 * value / (root - slope)).filter(|u| *u > 0.0)
    }

    /// The same, higher by a number.
    pub(super) fn plus(mut self, constant: f64) -> Self {
        self.coefficients[0] += constant;
        self
    }

    /// The same, times a number.
    pub(super) fn times(mut self, factor: f64) -> Self {
        self.coefficients[..self.count].iter_mut().for_each(|c| *c *= factor);
        self
    }

    /// What its slope and its bend keep all the way to u.
    fn shape(&self, u: f64) -> Shape {
        let [_, slope, bend, ..] = self.coefficients;
        let (mut power, mut slopes, mut bends) = (u, 2.0 * (bend * u).abs(), 0.0);
        for (n, c) in self.coefficients().iter().enumerate().skip(3) {
            let of_slope = n as f64 * (c * power).abs();
            bends += (n - 1) as f64 * of_slope;
            power *= u;
            slopes += of_slope * u;
        }
        Shape { is_monotone: slope.abs() >= slopes, bends_one_way: 2.0 * bend.abs() >= bends }
    }

    /// Where up to `end` it first falls below `−negligible`.
    pub(super) fn first_below(mut self, end: f64, negligible: f64) -> Option<f64> {
        self.coefficients[0] += negligible;
        let [value, rise, bend, ..] = self.coefficients;
        let start = Point { u: 0.0, value, rise };
        if start.value < 0.0 {
            return Some(0.0);
        }
        let shape = self.shape(end);
        if shape.is_monotone {
            return if rise > 0.0 { None } else { self.crossing(start, end) };
        }
        if !shape.bends_one_way {
            return self.first_in_parts(start, end);
        }
        match (bend > 0.0, rise < 0.0) {
            // No lower anywhere than at its ends.
            (false, _) => self.crossing(start, end),
            (true, false) => None,
            (true, true) => self.crossing(start, self.valley(end)),
        }
    }

    /// The crossing before `end`, at which it is below zero if there is one.
    fn crossing(&self, start: Point, end: f64) -> Option<f64> {
        let after = self.point(end);
        (after.value < 0.0).then(|| self.narrow(start, after))
    }

    /// The first crossing of one that turns more than once: between neighbouring points, or on the way to where it is
    /// lowest between them.
    fn first_in_parts(&self, start: Point, end: f64) -> Option<f64> {
        let mut before = start;
        for part in 1..=PARTS {
            let after = self.point(end * f64::from(part) / f64::from(PARTS));
            let turns = before.rise < 0.0 && after.rise > 0.0;
            let lowest = if turns { self.lowest_between(before, after) } else { after };
            if lowest.value < 0.0 {
                return Some(self.narrow(before, lowest));
            }
            before = after;
        }
        None
    }

    /// Where one is lowest that falls at one point and rises at a later one; or where it is below zero on the way there.
    fn lowest_between(&self, mut before: Point, mut after: Point) -> Point {
        for _ in 0..HALVINGS {
            let middle = self.point(0.5 * (before.u + after.u));
            if middle.value < 0.0 {
                return middle;
            }
            if middle.rise < 0.0 { before = middle } else { after = middle }
        }
        after
    }

    /// Where one that falls at first and bends upward is lowest, up to `end`: Newton's steps on its slope.
    fn valley(&self, end: f64) -> f64 {
        let mut u = 0.0;
        for _ in 0..STEPS {
            let (rise, bend) = self.slope_and_bend(u);
            let step = -rise / bend;
            let next = f64::min(u + step, end);
            let is_near = (next - u).abs() <= 1e-6 * end;
            u = next.max(0.0);
            if is_near {
                break;
            }
        }
        u
    }

    fn slope_and_bend(&self, u: f64) -> (f64, f64) {
        let (mut slope, mut bend) = (0.0, 0.0);
        for (power, c) in self.coefficients().iter().enumerate().skip(1).rev() {
            bend = bend * u + slope;
            slope = slope * u + power as f64 * c;
        }
        (slope, bend)
    }

    /// The crossing between two points: Newton's steps from the end that is nearer to zero. A step that
    /// leads outside is replaced by one to the middle.
    fn narrow(&self, mut before: Point, mut after: Point) -> f64 {
        let narrow_enough = 1e-12 * after.u;
        let guess = self.parabola().filter(|u| *u > before.u && *u < after.u);
        let mut at = match guess {
            Some(u) => self.point(u),
            None => {
                if before.value < -after.value {
                    before
                } else {
                    after
                }
            }
        };
        if at.value < 0.0 {
            after = at;
        } else {
            before = at;
        }
        for _ in 0..STEPS {
            let step = at.u - at.value / at.rise;
            let is_inside = step > before.u && step < after.u;
            // The next step would be the square of this one, about.
            if is_inside && (step - at.u).abs() <= 1e-7 * after.u {
                return step;
            }
            if after.u - before.u <= narrow_enough {
                break;
            }
            at = self.point(if is_inside { step } else { 0.5 * (before.u + after.u) });
            if at.value < 0.0 { after = at } else { before = at }
        }
        at.u
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(coefficients: &[f64]) -> Series {
        Series::new(coefficients.len(), |n| coefficients[n])
    }

    #[test]
    fn values_and_slopes_by_hand() {
        let cubic = series(&[1.0, -2.0, 0.0, 4.0]);
        assert!((cubic.point(0.5).value - 0.5).abs() < 1e-15);
        assert!((cubic.point(0.5).rise - 1.0).abs() < 1e-15);
        assert!((cubic.times(2.0).plus(1.0).point(0.5).value - 2.0).abs() < 1e-15);
    }

    /// By hand: 0.001 − u + 60 u² is zero at (1 − √0.76)/120. The dip there ends long before the first eighth of the
    /// way, and later terms bend the other way.
    #[test]
    fn a_dip_right_at_the_begin_is_found() {
        let dips = |value| series(&[value, -1.0, 60.0, -80.0, 30.0]).first_below(1.0, 0.0);
        let root = (1.0 - 0.76_f64.sqrt()) / 120.0;
        assert!((dips(0.001).unwrap() - root).abs() < 1e-5, "{:?}", dips(0.001));
        assert!(dips(1e-15).unwrap() < 1e-9, "{:?}", dips(1e-15));
        assert_eq!(dips(0.005), None, "it dips by 1/240");
    }

    #[test]
    fn the_first_crossing_is_found() {
        // (u − 0.3)(u − 0.6)
        let parabola = series(&[0.18, -0.9, 1.0]);
        assert!((parabola.first_below(1.0, 0.0).unwrap() - 0.3).abs() < 1e-12);
        assert_eq!(parabola.first_below(0.29, 0.0), None);
        assert_eq!(parabola.first_below(1.0, 0.03), None, "it dips by 0.0225");
        assert_eq!(series(&[-0.1, 1.0]).first_below(1.0, 0.0), Some(0.0));
        assert_eq!(series(&[0.0, 1.0]).first_below(1.0, 0.0), None, "leaves zero upward");
        assert!(series(&[0.0, -1.0]).first_below(1.0, 1e-9).unwrap() <= 1.001e-9);
        // 1 − u⁵: Newton's steps from the left go far beyond.
        let quintic = series(&[0.5, 0.0, 0.0, 0.0, 0.0, -1.0]);
        let root = 0.5_f64.powf(0.2);
        assert!((quintic.first_below(1.0, 0.0).unwrap() - root).abs() < 1e-12);
    }
}
