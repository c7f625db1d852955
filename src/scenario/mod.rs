//! Scenario files: TOML text → checked scenario, with all errors of a file reported at once.
//!
//! The text form is a TOML table with positions; the checked form is [`Scenario`], whose values
//! are in SI units and within their ranges. Nothing below this layer sees a text.

mod converter;
pub mod diagnostics;
mod document;
mod limits;
mod operating_point;
pub(crate) mod quantity;
mod reader;
mod run;
mod tolerance;

use std::path::Path;

use toml::de::DeTable;

use self::converter::Hardware;
use self::diagnostics::{Diagnostic, Diagnostics, InputError};
pub use self::limits::{Limits, SwitchLimits};
pub use self::operating_point::PointRequest;
use self::reader::{Log, Table};
pub use self::run::{RunSettings, SAMPLES};
pub use self::tolerance::{Shape, Tolerance, Tolerances};
use crate::converter::{Converter, FrequencyBand, Parameter, Tank};
use crate::units::{Farad, Volt};

/// A scenario as meant: complete, in SI units, every value within its range.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    /// Its title.
    pub title: String,
    /// The file it was read from, as the caller named it.
    pub source_name: String,
    /// Number of phases.
    pub phases: usize,
    /// Nominal parts of one phase.
    pub nominal: Tank,
    /// Nominal capacitance of every flying capacitor.
    pub flying_capacitance: Farad,
    /// How far leakage and pre-charge may move each flying capacitor's voltage in full-bridge
    /// drive, where charge balance does not hold it.
    pub neutral_split: Volt,
    /// The band of the switching frequency.
    pub frequency: FrequencyBand,
    /// What the converter has to do: one operating point at least, no name twice.
    pub operating_points: Vec<PointRequest>,
    /// How the parts scatter.
    pub tolerances: Tolerances,
    /// What the converters must keep to.
    pub limits: Limits,
    /// How much is sampled.
    pub run: RunSettings,
}

impl Scenario {
    /// Reads a scenario file.
    ///
    /// # Errors
    ///
    /// When the file cannot be read, or with all errors that it holds.
    pub fn read(path: &Path) -> Result<Self, InputError> {
        let text = diagnostics::read_text(path)?;
        Ok(Self::parse(&path.display().to_string(), &text)?)
    }

    /// Reads the text of a scenario file; `name` is what messages call the file.
    ///
    /// # Errors
    ///
    /// All errors that the text holds.
    pub fn parse(name: &str, text: &str) -> Result<Self, Diagnostics> {
        let text = diagnostics::without_mark(text);
        let (table, syntax) = document::parse(text);
        let log = Log::new(syntax.is_empty());
        let scenario =
            if table.is_empty() { report_empty(&log) } else { read_root(name, &table, &log) };
        let errors = log.into_errors();
        match scenario {
            Some(scenario) if syntax.is_empty() && errors.is_empty() => Ok(scenario),
            _ => {
                let mut all: Vec<_> = document::apart_from(text, &syntax, errors).collect();
                all.extend(syntax);
                Err(Diagnostics::new(name, text, all))
            }
        }
    }

    /// The converter whose parts are all nominal.
    pub fn nominal_converter(&self) -> Converter {
        Converter::uniform(self.phases, self.nominal, self.flying_capacitance)
    }
}

fn report_empty(log: &Log) -> Option<Scenario> {
    log.report_if_complete(Diagnostic::new(
        0..0,
        "the scenario is empty",
        "expected `title = \"…\"` and the tables [converter] and [[operating_point]]",
    ));
    None
}

fn read_root(name: &str, entries: &DeTable<'_>, log: &Log) -> Option<Scenario> {
    let mut root = Table::root(entries, log);
    let title = root.key("title").text().required();
    let hardware = root.key("converter").table().required().and_then(converter::read);
    let operating_points = operating_point::read_all(root.key("operating_point").tables());
    let tolerances = root.key("tolerance").table().or_empty().and_then(|table| {
        tolerance::read_all(table, |parameter| Some(nominal_value(hardware.as_ref()?, parameter)))
    });
    let limits = root.key("limits").table().or_empty().and_then(limits::read);
    let run = root.key("run").table().or_empty().and_then(run::read);
    root.finish();
    let Hardware { phases, nominal, flying_capacitance, neutral_split, frequency } = hardware?;
    Some(Scenario {
        title: title?,
        source_name: name.to_owned(),
        phases,
        nominal,
        flying_capacitance,
        neutral_split,
        frequency,
        operating_points: operating_points?,
        tolerances: tolerances?,
        limits: limits?,
        run: run?,
    })
}

fn nominal_value(hardware: &Hardware, parameter: Parameter) -> f64 {
    let tank = &hardware.nominal;
    match parameter {
        Parameter::ResonantInductance => tank.resonant_inductance.0,
        Parameter::ResonantCapacitance => tank.resonant_capacitance.0,
        Parameter::MagnetisingInductance => tank.magnetising_inductance.0,
        Parameter::TurnsRatio => tank.turns_ratio,
        Parameter::SeriesResistance => tank.series_resistance.0,
        Parameter::RectifierDrop => tank.rectifier_drop.0,
        Parameter::FlyingCapacitance => hardware.flying_capacitance.0,
    }
}
