//! The output voltage at given switching frequencies: the converter unregulated, on a load.
//!
//! The circuit between source and rectifier is passive. So at a fixed frequency the output current
//! falls as the output voltage rises, and one voltage alone suits a load.

use std::borrow::Cow;

use super::bracket::{Zero, falling_zero};
use super::dissipation::SelfHeated;
use super::{Case, Effort, Method, Solver, Unsolved, averaged, exact};
use crate::converter::{Arrangement, Converter, FrequencyBand, OperatingPoint};
use crate::units::{Ampere, Hertz, Ohm, Volt};

/// Lowest and highest output voltage that are tried, of the one at series resonance: below, the
/// output counts as shorted.
const TRIED: (f64, f64) = (1e-4, 1e4);
/// Where the first search starts, of the same voltage: a little below, because at it a tank without
/// loss just ceases to conduct.
const START: f64 = 0.9;
/// Shares of a search's work that one frequency may take, and all together. A curve of an ordinary
/// design takes a hundredth.
const FREQUENCY: f64 = 0.1;
const SWEEP: f64 = 0.5;
/// By how much, relatively, the current may miss the load's.
const HOLDS: f64 = 1e-6;

/// What stands across the output.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Load {
    /// It draws this current at any voltage; above zero.
    Current(Ampere),
    /// A resistor; above zero.
    Resistance(Ohm),
}

impl Load {
    /// Current at an output voltage.
    fn current(self, voltage: Volt) -> Ampere {
        match self {
            Self::Current(current) => current,
            Self::Resistance(resistance) => Ampere(voltage.0 / resistance.0),
        }
    }
}

/// The output voltage at a frequency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reached {
    /// The load takes this voltage.
    Voltage(Volt),
    /// The tanks do not let the load's current through, not even into a shorted output.
    Nothing,
    /// Nothing is known of it.
    NotSolved(Unsolved),
}

impl Reached {
    /// The voltage, if there is one.
    pub fn voltage(self) -> Option<Volt> {
        match self {
            Self::Voltage(voltage) => Some(voltage),
            Self::Nothing | Self::NotSolved(_) => None,
        }
    }

    /// The word used in tables and files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Voltage(_) => "solved",
            Self::Nothing => "out of range",
            Self::NotSolved(_) => "not solved",
        }
    }

    /// Why nothing is known of it.
    pub fn unsolved(self) -> Option<Unsolved> {
        match self {
            Self::NotSolved(why) => Some(why),
            Self::Voltage(_) | Self::Nothing => None,
        }
    }
}

/// A converter on a load whose frequency is stepped through; each solution is the start of the
/// next, so neighbouring frequencies should follow each other.
#[derive(Debug)]
pub struct Sweep<'a> {
    /// Under the condition of the operating point.
    converter: Cow<'a, Converter>,
    /// Its band is the frequency and its output voltage the voltage tried last; its output current
    /// is what the load draws there.
    case: Case,
    load: Load,
    /// Output voltage at series resonance without loss.
    unit: Volt,
    /// The voltage found last, to start from.
    last: Volt,
    /// None with the averaged solver, which starts from nothing.
    exact: Option<exact::AtFrequency>,
    solver: Solver<'a>,
    /// Searches whose work is left.
    left: f64,
}

impl<'a> Sweep<'a> {
    /// A converter on a load. Of `point` the input voltage, the drive, the
    /// rectifier and the condition count. All
    /// frequencies together may take the work of one search. Resistances that are told apart count at
    /// the temperatures that are given, as if the rectifier carried all of the tank's current. Parts that
    /// heat themselves count at the reference temperature: warm, the highest voltage may be a tenth lower.
    pub fn new(
        solver: impl Into<Solver<'a>>,
        converter: &'a Converter,
        point: &OperatingPoint,
        arrangement: Arrangement,
        load: Load,
    ) -> Self {
        let share = point.drive.amplitude() * point.input_voltage.0 / converter.phases() as f64;
        let winding =
            point.rectifier.clamp_voltage(converter.tanks[0].turns_ratio, Volt(1.0), Volt(0.0));
        let unit = Volt(share / winding);
        let band = FrequencyBand { minimum: Hertz(0.0), maximum: Hertz(0.0) };
        let solver = solver.into();
        let case = Case::new(point.clone(), band, arrangement);
        let mut converter = converter.at(&point.condition);
        if converter.losses.is_some() {
            converter = Cow::Owned(SelfHeated::new(&converter, &case).first());
        }
        let exact = exact::AtFrequency::new(&converter, point);
        Self {
            converter,
            case,
            load,
            unit,
            last: Volt(START * unit.0),
            exact: (solver.method == Method::Exact).then_some(exact),
            solver,
            left: SWEEP,
        }
    }

    /// The output voltage at a switching frequency above zero.
    pub fn at(&mut self, frequency: Hertz) -> Reached {
        self.case.band = FrequencyBand { minimum: frequency, maximum: frequency };
        let (start, unit) = (self.last.0, self.unit.0);
        let granted = FREQUENCY.min(self.left);
        if granted <= 0.0 {
            return Reached::NotSolved(Unsolved::TooMuchWork);
        }
        let effort = self.solver.effort(granted);
        let surplus = |voltage: f64| {
            let wanted = self.load.current(Volt(voltage));
            let point = &mut self.case.point;
            (point.output_voltage, point.output_current) = (Volt(voltage), wanted);
            Some(self.current(&effort)?.0 / wanted.0 - 1.0)
        };
        let found = falling_zero(surplus, start, TRIED.0 * unit..=TRIED.1 * unit);
        self.left -= granted * effort.share_taken();
        match found {
            Some(Zero::At(voltage, miss)) if miss.abs() < HOLDS => {
                self.last = Volt(voltage);
                Reached::Voltage(self.last)
            }
            Some(Zero::Below) => Reached::Nothing,
            Some(Zero::At(..) | Zero::Above) | None => {
                Reached::NotSolved(effort.exhaustion().unwrap_or(Unsolved::Lost))
            }
        }
    }

    /// Output current at the frequency and the voltage being tried.
    fn current(&mut self, effort: &Effort) -> Option<Ampere> {
        match &mut self.exact {
            Some(at) => at.output_current(&self.converter, &self.case, effort),
            None => averaged::output_current(&self.converter, &self.case, effort),
        }
    }
}
