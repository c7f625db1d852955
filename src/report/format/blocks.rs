//! Small pictures in block characters, for a terminal.

use std::collections::BTreeSet;

use textwrap::core::display_width;

/// Eighths of a character, from none to all of it, upwards.
const UPWARDS: [char; 9] = [' ', '▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];
/// The same to the right.
const ACROSS: [char; 9] = [' ', '▏', '▎', '▍', '▌', '▋', '▊', '▉', '█'];

/// Bins joined to at most so many columns: neighbours by equal numbers, the last with what is left.
pub(in crate::report) fn joined(counts: &[u64], columns: usize) -> Vec<u64> {
    let each = counts.len().div_ceil(columns.max(1)).max(1);
    counts.chunks(each).map(|bins| bins.iter().sum()).collect()
}

/// A histogram in one line, a character a bin. What is not empty is at least an eighth high.
pub(in crate::report) fn histogram(counts: &[u64], most: u64) -> String {
    let eighth = |count: &u64| match (*count, most) {
        (0, _) | (_, 0) => 0,
        (count, most) => (8 * count).div_ceil(most).min(8),
    };
    counts.iter().map(|count| character(UPWARDS, eighth(count))).collect()
}

/// A bar of so many characters for a share of 1; longer ones are cut there.
pub(in crate::report) fn bar(share: f64, characters: u32) -> String {
    let eighths = libm::round(8.0 * f64::from(characters) * share.clamp(0.0, 1.0));
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few hundred")]
    let eighths = if eighths.is_finite() { eighths as u64 } else { 0 };
    let whole = (0..eighths / 8).map(|_| ACROSS[8]);
    let rest = (eighths % 8 > 0).then(|| character(ACROSS, eighths % 8));
    whole.chain(rest).collect()
}

/// Places on a line of characters that stand for a range of values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::report) struct Scale {
    from: f64,
    to: f64,
    characters: u32,
}

impl Scale {
    /// From one value to another; with both ends equal all values have one place.
    pub(in crate::report) fn new(from: f64, to: f64, characters: u32) -> Self {
        Self { from, to, characters }
    }

    /// The scale that holds all of these values, those that are no numbers aside.
    pub(in crate::report) fn holding(values: impl Iterator<Item = f64>, characters: u32) -> Self {
        let finite = values.filter(|value| value.is_finite());
        let ends = finite.fold([f64::INFINITY, f64::NEG_INFINITY], |[least, most], value| {
            [least.min(value), most.max(value)]
        });
        Self::new(ends[0], ends[1], characters)
    }

    /// The character of a value, the nearest end for one outside.
    fn column(&self, value: f64) -> usize {
        let share = (value - self.from) / (self.to - self.from);
        let last = f64::from(self.characters.saturating_sub(1));
        let place = libm::round(last * share.clamp(0.0, 1.0));
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few dozen")]
        let column = if place.is_finite() { place as usize } else { 0 };
        column
    }
}

/// A line of characters on a scale.
#[derive(Debug, Clone)]
pub(in crate::report) struct Strip {
    scale: Scale,
    cells: Vec<char>,
}

impl Strip {
    /// With nothing on it.
    pub(in crate::report) fn new(scale: Scale) -> Self {
        Self { scale, cells: vec![' '; usize::try_from(scale.characters).unwrap_or(0)] }
    }

    /// The same with a sign at every place from one value to another.
    pub(in crate::report) fn fill(mut self, sign: char, ends: [f64; 2]) -> Self {
        if ends.iter().any(|end| end.is_nan()) {
            return self;
        }
        let [first, last] = ends.map(|end| self.scale.column(end));
        for cell in self.cells.iter_mut().take(last + 1).skip(first) {
            *cell = sign;
        }
        self
    }

    /// The same with a sign at a value.
    pub(in crate::report) fn mark(self, sign: char, value: f64) -> Self {
        self.fill(sign, [value; 2])
    }

    /// The same with the number of a tick where its text has room, a blank on either side.
    pub(in crate::report) fn label(self, at: f64, text: &str) -> Self {
        self.labelled(at, text).unwrap_or_else(|same| same)
    }

    /// The same with a text, or as it was where the text has no room.
    fn labelled(mut self, at: f64, text: &str) -> Result<Self, Self> {
        let length = text.chars().count();
        let room = self.cells.len().saturating_sub(length);
        let first = self.scale.column(at).saturating_sub(length / 2).min(room);
        let around = first.saturating_sub(1)..(first + length + 1).min(self.cells.len());
        if length > self.cells.len() || self.cells[around].iter().any(|own| *own != ' ') {
            return Err(self);
        }
        for (cell, character) in self.cells[first..].iter_mut().zip(text.chars()) {
            *cell = character;
        }
        Ok(self)
    }

    /// All labels of a scale, in as many lines as they need.
    pub(in crate::report) fn label_lines(
        scale: Scale,
        labels: impl Iterator<Item = (f64, String)>,
    ) -> String {
        let mut lines: Vec<Self> = Vec::new();
        for (at, text) in labels {
            let mut placed = false;
            lines = lines
                .into_iter()
                .map(|line| {
                    if placed {
                        line
                    } else {
                        line.labelled(at, &text)
                            .inspect(|_| placed = true)
                            .unwrap_or_else(|same| same)
                    }
                })
                .collect();
            if !placed {
                lines.push(Self::new(scale).label(at, &text));
            }
        }
        lines.iter().map(Self::text).collect::<Vec<_>>().join("\n")
    }

    /// An interval with its estimate.
    pub(in crate::report) fn interval(self, ends: [f64; 2], estimate: f64) -> Self {
        self.fill('─', ends).mark('├', ends[0]).mark('┤', ends[1]).mark('●', estimate)
    }

    /// Its characters, without the blanks at the end.
    pub(in crate::report) fn text(&self) -> String {
        self.cells.iter().collect::<String>().trim_end().to_owned()
    }
}

/// A text with blanks behind it, so that it takes so many columns of a terminal: a wide letter takes two.
pub(in crate::report) fn padded(text: &str, columns: usize) -> String {
    let blanks = columns.saturating_sub(display_width(text));
    format!("{text}{:blanks$}", "")
}

/// The letters that take so many columns at most.
fn first_letters(letters: impl Iterator<Item = char>, most: usize) -> impl Iterator<Item = char> {
    letters
        .scan(0, |taken, letter| {
            *taken += display_width(letter.encode_utf8(&mut [0; 4]));
            Some((*taken, letter))
        })
        .take_while(move |(taken, _)| *taken <= most)
        .map(|(_, letter)| letter)
}

/// A label of so many columns at most; three points stand for what is left out.
pub(in crate::report) fn fitted(text: &str, most: usize) -> String {
    if display_width(text) <= most {
        return text.to_owned();
    }
    let kept: String = first_letters(text.chars(), most.saturating_sub(1)).collect();
    format!("{}…", kept.trim_end())
}

/// The same with what is left out in the middle.
pub(in crate::report) fn fitted_in_the_middle(text: &str, most: usize) -> String {
    fitted_with_end(text, most, most / 2)
}

/// Labels of several names: what is left out lies as near to the middle as tells the names apart.
pub(in crate::report) fn fitted_apart(names: &[String], most: usize) -> Vec<String> {
    let fit = |end: usize| names.iter().map(|name| fitted_with_end(name, most, end)).collect();
    let half = most / 2;
    let ends = (0..half).flat_map(|n| [half - n, half + n]);
    let is_apart = |labels: &Vec<String>| different(labels) == different(names);
    ends.map(fit).find(is_apart).unwrap_or_else(|| fit(half))
}

fn different(texts: &[String]) -> usize {
    texts.iter().collect::<BTreeSet<_>>().len()
}

/// A label that keeps so many columns of the end.
fn fitted_with_end(text: &str, most: usize, kept: usize) -> String {
    if display_width(text) <= most {
        return text.to_owned();
    }
    let reversed: Vec<char> = first_letters(text.chars().rev(), kept).collect();
    let end: String = reversed.iter().rev().collect();
    format!("{}{}", fitted(text, most - kept), end)
}

fn character(of: [char; 9], eighths: u64) -> char {
    usize::try_from(eighths).ok().and_then(|n| of.get(n)).copied().unwrap_or(' ')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_are_cut_are_told_apart() {
        let names = ["worst: chain at full load", "worst: plain at full load"].map(String::from);
        assert_eq!(fitted_apart(&names, 14), ["worst: c… load", "worst: p… load"]);
        let same = ["full load".to_owned(), "full load".to_owned()];
        assert_eq!(fitted_apart(&same, 6), ["fu…oad", "fu…oad"], "no cut tells them apart");
    }

    #[test]
    fn histograms_and_bars_by_hand() {
        assert_eq!(histogram(&[0, 1, 4, 8, 80], 8), " ▁▄██");
        assert_eq!(histogram(&[0, 1], 1000), " ▁", "one of a thousand is seen");
        assert_eq!(joined(&[1, 2, 3, 4, 5], 2), [6, 9]);
        assert_eq!(joined(&[1, 2], 40), [1, 2]);
        assert_eq!([bar(0.5, 4), bar(1.0, 2), bar(7.0, 2)], ["██", "██", "██"]);
        let strip = Strip::new(Scale::new(0.0, 10.0, 11));
        let drawn = strip.clone().interval([2.0, 8.0], 4.0).mark('│', 10.0);
        assert_eq!(drawn.text(), "  ├─●───┤ │");
        let outside = strip.clone().fill('━', [-5.0, 1.0]).mark('×', 50.0);
        assert_eq!(outside.text(), "━━        ×");
        let ticks = strip.clone().label(0.0, "0").label(1.0, "1").label(10.0, "10");
        assert_eq!(ticks.text(), "0        10", "no room for the second");
        assert_eq!(strip.mark('●', f64::NAN).text(), "");
        assert_eq!(Strip::new(Scale::new(3.0, 3.0, 5)).mark('●', 3.0).text(), "●");
        assert_eq!([fitted("full load", 9), fitted("full load", 6)], ["full load", "full…"]);
        assert_eq!(fitted_in_the_middle("worst of full load", 9), "wors…load");
        assert_eq!(fitted_in_the_middle("full load", 9), "full load");
        assert_eq!([bar(0.0, 4), bar(f64::NAN, 4), bar(1.0 / 16.0, 2)], ["", "", "▏"]);
    }

    #[test]
    fn wide_letters_take_two_columns() {
        assert_eq!([fitted("満負荷運転", 7), fitted("満負荷運転", 10)], ["満負荷…", "満負荷運転"]);
        assert_eq!(fitted_in_the_middle("満負荷運転", 9), "満負…運転");
        assert_eq!([padded("満負荷", 8), padded("full", 6)], ["満負荷  ", "full  "]);
    }

    #[test]
    fn labels_without_room_go_to_a_line_of_their_own() {
        let all = [(0.0, "1"), (0.0, "2"), (5.0, "3"), (1.0, "4")];
        let all = all.into_iter().map(|(at, text)| (at, text.to_owned()));
        let lines = Strip::label_lines(Scale::new(0.0, 10.0, 11), all);
        assert_eq!(lines, "1    3\n2\n 4", "every label is somewhere");
    }
}
