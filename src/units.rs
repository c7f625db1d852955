//! Physical quantities as types, so that a henry cannot be handed in where a farad belongs.
//!
//! They stand at public boundaries; inside the solvers and the statistics kernels the numbers are
//! bare `f64` in SI units.

use schemars::JsonSchema;
use serde::Serialize;

macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident, $symbol:literal;)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, JsonSchema, Serialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl $name {
            /// The unit's symbol.
            pub const SYMBOL: &'static str = $symbol;

            /// The value in the SI unit.
            pub const fn get(self) -> f64 {
                self.0
            }
        }

        impl From<f64> for $name {
            fn from(value: f64) -> Self {
                Self(value)
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(&engineering(self.0, $symbol))
            }
        }
    )*};
}

quantities! {
    /// Inductance.
    Henry, "H";
    /// Capacitance.
    Farad, "F";
    /// Resistance.
    Ohm, "Ω";
    /// Conductance.
    Siemens, "S";
    /// Frequency.
    Hertz, "Hz";
    /// Voltage.
    Volt, "V";
    /// Current.
    Ampere, "A";
    /// Power.
    Watt, "W";
    /// Time.
    Second, "s";
    /// Energy.
    Joule, "J";
    /// Flux linkage.
    VoltSecond, "Vs";
}

macro_rules! plain_quantities {
    ($($(#[$doc:meta])* $name:ident, $factor:literal, $symbol:literal;)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, JsonSchema, Serialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl From<f64> for $name {
            fn from(value: f64) -> Self {
                Self(value)
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                // Rounded, so that the factor leaves no dust behind.
                let value = (self.0 * $factor * 1e6).round() / 1e6;
                write!(f, "{value} {}", $symbol)
            }
        }
    )*};
}

plain_quantities! {
    /// Difference of temperatures.
    Kelvin, 1.0, "K";
    /// Temperature, in degrees Celsius.
    Celsius, 1.0, "°C";
    /// Temperature coefficient, per kelvin.
    PerKelvin, 1e6, "ppm/K";
    /// Time, in hours.
    Hour, 1.0, "h";
    /// Thermal resistance.
    KelvinPerWatt, 1.0, "K/W";
}

/// Writes a value with four significant digits and an SI prefix: `4.560 µH`.
///
/// Values beyond the prefixes pico to giga are written in exponent form.
pub fn engineering(value: f64, symbol: &str) -> String {
    const PREFIXES: [(i32, &str); 8] =
        [(9, "G"), (6, "M"), (3, "k"), (0, ""), (-3, "m"), (-6, "µ"), (-9, "n"), (-12, "p")];
    if value == 0.0 {
        return format!("0 {symbol}");
    }
    // Rounded first, so that 999.96 becomes 1.000 k and not 1000.
    let rounded: f64 = format!("{value:.3e}").parse().unwrap_or(value);
    for (power, prefix) in PREFIXES {
        let scaled = rounded / 10_f64.powi(power);
        if (1.0 - 1e-9..1000.0).contains(&scaled.abs()) {
            let decimals = if scaled.abs() < 9.9995 {
                3
            } else if scaled.abs() < 99.995 {
                2
            } else {
                1
            };
            return format!("{scaled:.decimals$} {prefix}{symbol}");
        }
    }
    format!("{value:.3e} {symbol}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_carry_a_prefix_and_four_digits() {
        assert_eq!(Henry(4.56e-6).to_string(), "4.560 µH");
        assert_eq!(Hertz(999_960.0).to_string(), "1.000 MHz");
        assert_eq!(Volt(-380.0).to_string(), "-380.0 V");
        assert_eq!(Ohm(0.03).to_string(), "30.00 mΩ");
        assert_eq!(Farad(0.0).to_string(), "0 F");
        assert_eq!(Ampere(1e-20).to_string(), "1.000e-20 A");
    }
}
