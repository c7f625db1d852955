//! Paths in few bytes: every step is told from the place before it, in tenths of a unit (W3C, Scalable
//! Vector Graphics 2, section 9.3).

/// A pen over a drawing.
#[derive(Debug, Default)]
pub(super) struct Pen {
    text: String,
    /// Where it is, in tenths.
    at: [i64; 2],
    /// Whether the last step was a line, whose letter need not be written again.
    after_line: bool,
}

/// A place in tenths.
#[expect(clippy::cast_possible_truncation, reason = "places within a drawing")]
pub(super) fn rounded(place: f64) -> i64 {
    (10.0 * place).round() as i64
}

/// A number of tenths as short as it can be written.
pub(super) fn tenths(number: i64) -> String {
    let sign = if number < 0 { "-" } else { "" };
    match (number.abs() / 10, number.abs() % 10) {
        (whole, 0) => format!("{sign}{whole}"),
        (0, part) => format!("{sign}.{part}"),
        (whole, part) => format!("{sign}{whole}.{part}"),
    }
}

/// Two numbers; the sign of the second one parts them.
fn pair(first: i64, second: i64) -> String {
    let blank = if second < 0 { "" } else { " " };
    format!("{}{blank}{}", tenths(first), tenths(second))
}

impl Pen {
    /// Begins at a place.
    pub(super) fn begin(&mut self, x: f64, y: f64) {
        self.at = [x, y].map(rounded);
        self.text.push('M');
        self.text.push_str(&pair(self.at[0], self.at[1]));
        self.after_line = false;
    }

    /// A line to a place.
    pub(super) fn line(&mut self, x: f64, y: f64) {
        let to = [x, y].map(rounded);
        let step = pair(to[0] - self.at[0], to[1] - self.at[1]);
        match (self.after_line, step.starts_with('-')) {
            (false, _) => self.text.push('l'),
            (true, false) => self.text.push(' '),
            (true, true) => {}
        }
        self.text.push_str(&step);
        (self.at, self.after_line) = (to, true);
    }

    /// A level line.
    pub(super) fn level(&mut self, x: f64) {
        let x = rounded(x);
        self.step('h', x - self.at[0]);
        self.at[0] = x;
    }

    /// An upright line.
    pub(super) fn upright(&mut self, y: f64) {
        let y = rounded(y);
        self.step('v', y - self.at[1]);
        self.at[1] = y;
    }

    fn step(&mut self, letter: char, far: i64) {
        self.text.push(letter);
        self.text.push_str(&tenths(far));
        self.after_line = false;
    }

    /// What was drawn, as the attribute `d`.
    pub(super) fn drawn(self) -> String {
        self.text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_keep_their_sign() {
        let numbers = [0, 5, -5, 10, -123, 1230];
        assert_eq!(numbers.map(tenths), ["0", ".5", "-.5", "1", "-12.3", "123"]);
        assert_eq!([rounded(12.34), rounded(-0.06), rounded(-0.04)], [123, -1, 0]);
    }

    /// By hand; rounded places do not drift: the last one is where it would be alone.
    #[test]
    fn steps_lead_from_place_to_place() {
        let mut pen = Pen::default();
        pen.begin(10.0, 20.04);
        for (x, y) in [(10.54, 19.5), (11.04, 19.44), (9.0, 30.0)] {
            pen.line(x, y);
        }
        pen.upright(31.0);
        pen.level(8.5);
        assert_eq!(pen.drawn(), "M10 20l.5-.5 .5-.1-2 10.6v1h-.5");
    }
}
