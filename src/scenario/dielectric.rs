//! Codes of ceramic dielectrics: how a capacitance may change with temperature.
//!
//! EIA-198, adopted by IEC 60384-21 and IEC 60384-22 (tables from memory, compared with public reprints).
//! A code of class 1, such as C0G, states a temperature coefficient and its band. One of class 2, such
//! as X7R, states a range of temperatures and how far the capacitance may change anywhere in it.

/// What a code states.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Dielectric {
    /// A coefficient and the half width of its band, per kelvin.
    Coefficient { value: f64, band: f64 },
    /// Lowest and highest temperature in degrees Celsius, and the ends of the change.
    Range { temperatures: [f64; 2], change: [f64; 2] },
}

/// Significant figures of class 1 in ppm/K, multiplied by the second and within the third of the code.
const FIGURES: [(char, f64); 11] = [
    ('C', 0.0),
    ('B', 0.3),
    ('L', 0.8),
    ('A', 0.9),
    ('M', 1.0),
    ('P', 1.5),
    ('R', 2.2),
    ('S', 3.3),
    ('T', 4.7),
    ('V', 5.6),
    ('U', 7.5),
];
const MULTIPLIERS: [(char, f64); 8] = [
    ('0', -1.0),
    ('1', -10.0),
    ('2', -100.0),
    ('3', -1000.0),
    ('4', 1.0),
    ('6', 10.0),
    ('7', 100.0),
    ('8', 1000.0),
];
const BANDS: [(char, f64); 7] = [
    ('G', 30.0),
    ('H', 60.0),
    ('J', 120.0),
    ('K', 250.0),
    ('L', 500.0),
    ('M', 1000.0),
    ('N', 2500.0),
];

/// Lowest and highest temperatures of class 2 in degrees Celsius, and the changes.
const LOWEST: [(char, f64); 3] = [('X', -55.0), ('Y', -30.0), ('Z', 10.0)];
const HIGHEST: [(char, f64); 7] =
    [('2', 45.0), ('4', 65.0), ('5', 85.0), ('6', 105.0), ('7', 125.0), ('8', 150.0), ('9', 200.0)];
const CHANGES: [(char, [f64; 2]); 12] = [
    ('A', [-0.01, 0.01]),
    ('B', [-0.015, 0.015]),
    ('C', [-0.022, 0.022]),
    ('D', [-0.033, 0.033]),
    ('E', [-0.047, 0.047]),
    ('F', [-0.075, 0.075]),
    ('P', [-0.1, 0.1]),
    ('R', [-0.15, 0.15]),
    ('S', [-0.22, 0.22]),
    ('T', [-0.33, 0.22]),
    ('U', [-0.56, 0.22]),
    ('V', [-0.82, 0.22]),
];

fn look_up<T: Copy>(table: &[(char, T)], wanted: char) -> Option<T> {
    table.iter().find(|(letter, _)| *letter == wanted).map(|(_, value)| *value)
}

impl Dielectric {
    /// What a code of three characters states; none where it is no such code.
    pub(super) fn of_code(code: &str) -> Option<Self> {
        let characters: Vec<char> = code.chars().collect();
        let &[first, second, third] = characters.as_slice() else { return None };
        if let Some(low) = look_up(&LOWEST, first) {
            let (high, change) = (look_up(&HIGHEST, second)?, look_up(&CHANGES, third)?);
            return Some(Self::Range { temperatures: [low, high], change });
        }
        let (figure, multiplier) = (look_up(&FIGURES, first)?, look_up(&MULTIPLIERS, second)?);
        let band = look_up(&BANDS, third)?;
        // The sign of a figure of zero does not matter.
        let value = if figure == 0.0 { 0.0 } else { figure * multiplier };
        Some(Self::Coefficient { value: 1e-6 * value, band: 1e-6 * band })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// EIA-198: C0G is 0 ± 30 ppm/K, and U2J and P3K are N750 and N1500 in the older marking
    /// (reprinted tables).
    #[test]
    fn codes_of_class_1() {
        for (code, value, band) in [
            ("C0G", 0.0, 30.0),
            ("U2J", -750.0, 120.0),
            ("P3K", -1500.0, 250.0),
            ("M7G", 100.0, 30.0),
        ] {
            let Some(Dielectric::Coefficient { value: found, band: own }) =
                Dielectric::of_code(code)
            else {
                panic!("{code}")
            };
            assert!((found * 1e6 - value).abs() < 1e-9, "{code}: {found}");
            assert!((own * 1e6 - band).abs() < 1e-9, "{code}: {own}");
        }
    }

    /// EIA-198: X7R changes by ±15 % from −55 °C to 125 °C, Z5U by +22 % and −56 % from 10 °C to
    /// 85 °C.
    #[test]
    fn codes_of_class_2() {
        let x7r = Dielectric::Range { temperatures: [-55.0, 125.0], change: [-0.15, 0.15] };
        assert_eq!(Dielectric::of_code("X7R"), Some(x7r));
        let z5u = Dielectric::Range { temperatures: [10.0, 85.0], change: [-0.56, 0.22] };
        assert_eq!(Dielectric::of_code("Z5U"), Some(z5u));
        for wrong in ["", "X7", "X7R7", "Q7R", "x7r", "C5G", "X3R", "NP0"] {
            assert_eq!(Dielectric::of_code(wrong), None, "{wrong}");
        }
    }
}
