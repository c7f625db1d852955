//! Tolerance letters: the standard bands of parts.

/// A standard band and the letter that stands for it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToleranceLetter {
    /// The letter.
    pub letter: char,
    /// Half width of the band, a fraction of the nominal value.
    pub band: f64,
}

/// The letters of symmetric bands in percent, rising. IEC 60062, "Marking codes for resistors and
/// capacitors", table of tolerance letters (from memory); those below 0.1 % are left out.
pub const TOLERANCE_LETTERS: [ToleranceLetter; 10] = [
    ToleranceLetter { letter: 'B', band: 0.001 },
    ToleranceLetter { letter: 'C', band: 0.0025 },
    ToleranceLetter { letter: 'D', band: 0.005 },
    ToleranceLetter { letter: 'F', band: 0.01 },
    ToleranceLetter { letter: 'G', band: 0.02 },
    ToleranceLetter { letter: 'H', band: 0.03 },
    ToleranceLetter { letter: 'J', band: 0.05 },
    ToleranceLetter { letter: 'K', band: 0.1 },
    ToleranceLetter { letter: 'M', band: 0.2 },
    ToleranceLetter { letter: 'N', band: 0.3 },
];

/// A standard band with unequal ends and the letter that stands for it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct UnequalLetter {
    /// The letter.
    pub(super) letter: char,
    /// The ends of the band, fractions of the nominal value.
    pub(super) ends: [f64; 2],
}

/// The letters of bands with unequal ends (IEC 60062, from memory).
pub(super) const UNEQUAL_LETTERS: [UnequalLetter; 4] = [
    UnequalLetter { letter: 'Q', ends: [-0.1, 0.3] },
    UnequalLetter { letter: 'S', ends: [-0.2, 0.5] },
    UnequalLetter { letter: 'T', ends: [-0.1, 0.5] },
    UnequalLetter { letter: 'Z', ends: [-0.2, 0.8] },
];

/// The ends of the band that a letter stands for, as it is written in the standard.
pub(crate) fn ends_of_letter(text: &str) -> Option<[f64; 2]> {
    let symmetric = ToleranceLetter::named(text).map(|known| [-known.band, known.band]);
    let unequal = UNEQUAL_LETTERS.iter().find(|known| text == known.letter.to_string());
    symmetric.or_else(|| unequal.map(|known| known.ends))
}

/// All letters, those of symmetric bands first.
pub(crate) fn all_letters() -> impl Iterator<Item = char> {
    let unequal = UNEQUAL_LETTERS.into_iter().map(|known| known.letter);
    TOLERANCE_LETTERS.into_iter().map(|known| known.letter).chain(unequal)
}

impl ToleranceLetter {
    /// The letter that is written, in capitals as in the standard.
    pub fn named(text: &str) -> Option<Self> {
        let mut letters = text.chars();
        let (letter, None) = (letters.next()?, letters.next()) else { return None };
        TOLERANCE_LETTERS.into_iter().find(|known| known.letter == letter)
    }

    /// The letter of a band, if it has one: the half widths agree to one part in a billion.
    pub fn of_band(band: f64) -> Option<Self> {
        let is_same = |known: &Self| (known.band - band).abs() <= 1e-9 * known.band;
        TOLERANCE_LETTERS.into_iter().find(is_same)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// IEC 60062, tolerance letters in percent (from memory).
    #[test]
    fn letters_are_those_of_iec_60062() {
        let published = "B 0.1 C 0.25 D 0.5 F 1 G 2 H 3 J 5 K 10 M 20 N 30";
        let words: Vec<&str> = published.split(' ').collect();
        assert_eq!(words.len(), 2 * TOLERANCE_LETTERS.len());
        for (pair, known) in words.chunks(2).zip(TOLERANCE_LETTERS) {
            let percent: f64 = pair[1].parse().unwrap();
            assert_eq!(ToleranceLetter::named(pair[0]), Some(known));
            assert_eq!(ToleranceLetter::of_band(percent / 100.0), Some(known));
        }
        // Q −10/+30, S −20/+50, T −10/+50, Z −20/+80 %; E is in use for different bands.
        let unequal = [("Q", [-0.1, 0.3]), ("S", [-0.2, 0.5]), ("T", [-0.1, 0.5])];
        for (text, ends) in unequal.into_iter().chain([("Z", [-0.2, 0.8]), ("K", [-0.1, 0.1])]) {
            assert_eq!(ends_of_letter(text), Some(ends));
        }
        assert_eq!((ends_of_letter("E"), ends_of_letter("q")), (None, None));
        assert_eq!(all_letters().collect::<String>(), "BCDFGHJKMNQSTZ");
        for text in ["", "k", "KK", "A", "±K", "5 %"] {
            assert_eq!(ToleranceLetter::named(text), None, "{text}");
        }
        for band in [0.0, 0.0999, 0.15, 1.0] {
            assert_eq!(ToleranceLetter::of_band(band), None, "{band}");
        }
    }
}
