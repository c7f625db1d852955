//! Scenario files: TOML text → checked scenario, with all errors of a file reported at once.
//!
//! The text form is a TOML table with positions; the checked form is [`Scenario`], whose values
//! are in SI units and within their ranges. Nothing below this layer sees a text.

mod bands;
mod configuration;
mod converter;
mod document;
mod gain;
mod grades;
mod limits;
mod operating_point;
mod places;
mod reader;
mod run;
mod sensors;
mod tolerance;

use std::path::Path;

use toml::de::DeTable;

pub use self::bands::{BandOffer, BandSettings, Prices};
pub use self::configuration::Preference;
use self::converter::Hardware;
pub use self::gain::GainSettings;
pub use self::grades::{Failed, Grade, Grades, Offer};
pub use self::limits::{Limits, SwitchLimits};
pub use self::operating_point::PointRequest;
pub use self::places::Place;
use self::reader::{Log, Table};
pub use self::run::{RunSettings, SAMPLES};
pub use self::sensors::{PerPart, SensorRequest};
pub use self::tolerance::{Shape, Tolerance, Tolerances};
use crate::converter::{Converter, FrequencyBand, Parameter, Sharing, Tank};
use crate::input::diagnostics::{self, Diagnostic, Diagnostics, InputError};
use crate::units::{Farad, Volt};

/// A scenario as meant: complete, in SI units, every value within its range.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    /// Its title.
    pub title: String,
    /// Name of the file it was read from, without the way there: results that tell it do not
    /// depend on the folder that somebody stood in.
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
    /// What decides where an operating point leaves its configuration open.
    pub prefer: Preference,
    /// What the voltage gain is drawn for.
    pub gain: GainSettings,
    /// How the parts scatter.
    pub tolerances: Tolerances,
    /// What the converters must keep to.
    pub limits: Limits,
    /// How much is sampled.
    pub run: RunSettings,
    /// Current sensors to compare with; none where the scenario tells of none.
    pub sensors: Option<SensorRequest>,
    /// The part grades on offer, if it asks about them.
    pub grades: Option<Grades>,
    /// What the search for tolerance bands is to look at.
    pub bands: BandSettings,
}

impl Scenario {
    /// Reads a scenario file.
    ///
    /// # Errors
    ///
    /// When the file cannot be read, or with all errors that it holds.
    pub fn read(path: &Path) -> Result<Self, InputError> {
        Self::read_asking(path, Asked::Nothing)
    }

    /// Reads a scenario file that must hold what is asked for.
    ///
    /// # Errors
    ///
    /// As [`Self::read`], and when that is missing.
    pub fn read_asking(path: &Path, asked: Asked) -> Result<Self, InputError> {
        let text = diagnostics::read_text(path)?;
        Ok(Self::parse_asking(&path.display().to_string(), &text, asked)?)
    }

    /// Reads the text of a scenario file; `name` is what messages call the file.
    ///
    /// # Errors
    ///
    /// All errors that the text holds.
    pub fn parse(name: &str, text: &str) -> Result<Self, Diagnostics> {
        Self::parse_asking(name, text, Asked::Nothing)
    }

    fn parse_asking(name: &str, text: &str, asked: Asked) -> Result<Self, Diagnostics> {
        let text = diagnostics::without_mark(text);
        let (table, syntax) = document::parse(text);
        let log = Log::new(syntax.is_empty());
        let scenario = if table.is_empty() {
            report_empty(&log)
        } else {
            read_root(name, &table, asked, &log)
        };
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

/// What a scenario must hold that others may leave out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Asked {
    /// Nothing beyond what every scenario holds.
    Nothing,
    /// Current sensors.
    Sensors,
    /// Part grades.
    Grades,
    /// A tolerance of one part at least.
    Tolerances,
}

fn read_root(name: &str, entries: &DeTable<'_>, asked: Asked, log: &Log) -> Option<Scenario> {
    let mut root = Table::root(entries, log);
    let title = root.key("title").text().required();
    let hardware = root.key("converter").table().required().and_then(converter::read);
    let operating_points = operating_point::read_all(root.key("operating_point").tables());
    let prefer = root.key("configuration").table().or_empty().and_then(configuration::read);
    let gain = root.key("gain").table().or_empty().and_then(gain::read);
    let tolerances = root.key("tolerance").table().or_empty().and_then(|table| {
        tolerance::read_all(table, |parameter| Some(nominal_value(hardware.as_ref()?, parameter)))
    });
    if asked == Asked::Tolerances && tolerances.is_some_and(|all| all.iter().next().is_none()) {
        root.report_missing(
            "no part has a tolerance".to_owned(),
            "expected one table at least such as [tolerance.resonant_inductance]",
        );
    }
    let limits = root.key("limits").table().or_empty().and_then(limits::read);
    let run = root.key("run").table().or_empty().and_then(run::read);
    let sensors = match (root.key("sensors").table(), asked) {
        (table, Asked::Sensors) => table.required().map(Some),
        (table, _) => table.optional(),
    };
    let sensors = match sensors {
        Some(Some(table)) => {
            let limited = limits.map_or_else(Sharing::default, |l| l.sharing).share;
            sensors::read(table, limited).map(Some)
        }
        Some(None) => Some(None),
        None => None,
    };
    let grades = grades::read(&mut root, asked == Asked::Grades, |parameter| {
        Some(nominal_value(hardware.as_ref()?, parameter))
    });
    let bands = root.key("bands").table().or_empty();
    let on_offer = grades.as_ref().and_then(Option::as_ref);
    let bands = bands.and_then(|table| bands::read(table, tolerances.as_ref(), on_offer));
    root.finish();
    let Hardware { phases, nominal, flying_capacitance, neutral_split, frequency } = hardware?;
    Some(Scenario {
        title: title?,
        source_name: file_name(Path::new(name)),
        phases,
        nominal,
        flying_capacitance,
        neutral_split,
        frequency,
        operating_points: operating_points?,
        prefer: prefer?,
        gain: gain?,
        tolerances: tolerances?,
        limits: limits?,
        run: run?,
        sensors: sensors?,
        grades: grades?,
        bands: bands?,
    })
}

/// The last part of a path; the path where that is none.
pub(crate) fn file_name(path: &Path) -> String {
    Path::new(path.file_name().unwrap_or(path.as_os_str())).display().to_string()
}

fn nominal_value(hardware: &Hardware, parameter: Parameter) -> f64 {
    hardware.nominal.value(parameter).unwrap_or(hardware.flying_capacitance.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::converter::{Drive, Measure, Rectifier, Shared};
    use crate::units::{Ampere, Henry, Hertz, Ohm};

    /// A valid scenario; the data in it are invented.
    const SHELF: &str = include_str!("../../tests/data/shelf.toml");

    fn scenario(text: &str) -> Scenario {
        Scenario::parse("shelf.toml", text).unwrap_or_else(|errors| panic!("{errors}"))
    }

    fn shelf() -> Scenario {
        let switches = SwitchLimits::default();
        Scenario {
            title: "Shelf supply, three phases".to_owned(),
            source_name: "shelf.toml".to_owned(),
            phases: 3,
            nominal: Tank {
                resonant_inductance: Henry(4.56e-6),
                resonant_capacitance: Farad(247e-9),
                magnetising_inductance: Henry(22.8e-6),
                turns_ratio: 2.4,
                series_resistance: Ohm(0.03),
                rectifier_drop: Volt(0.7),
            },
            flying_capacitance: Farad(50e-6),
            neutral_split: Volt(0.0),
            frequency: FrequencyBand { minimum: Hertz(90e3), maximum: Hertz(300e3) },
            operating_points: vec![PointRequest {
                name: "full load".to_owned(),
                input_voltage: Volt(380.0),
                output_voltage: Volt(48.0),
                output_current: Ampere(62.5),
                drive: Some(Drive::FullBridge),
                rectifier: Some(Rectifier::FullBridge),
            }],
            prefer: Preference::default(),
            gain: GainSettings::default(),
            tolerances: Tolerances::default().with(
                Parameter::ResonantInductance,
                Some(Tolerance { shape: Shape::Uniform, band: 0.05, lot_share: 0.5 }),
            ),
            limits: Limits {
                sharing: Sharing { share: Shared::OutputCurrent, measure: Measure::Deviation },
                sharing_error: Some(0.05),
                chain: switches,
                paralleled: switches,
                yield_target: 0.99,
                confidence: 0.95,
            },
            run: RunSettings { samples: 20_000, seed: 1 },
            sensors: None,
            grades: None,
            bands: BandSettings::default(),
        }
    }

    #[test]
    fn a_scenario_reads_as_written() {
        assert_eq!(scenario(SHELF), shelf());
        let tolerances: Vec<_> = shelf().tolerances.iter().map(|(p, t)| (p, t.band)).collect();
        assert_eq!(tolerances, [(Parameter::ResonantInductance, 0.05)]);
    }

    #[test]
    fn its_name_is_the_same_from_any_folder() {
        for name in ["shelf.toml", "./shelf.toml", "../some where/shelf.toml", "/a/shelf.toml"] {
            assert_eq!(Scenario::parse(name, SHELF).unwrap(), shelf());
        }
    }

    #[test]
    fn what_is_left_out_takes_its_default() {
        let text = &SHELF[..SHELF.find("drive ").unwrap()];
        let mut expected = shelf();
        expected.operating_points[0].drive = None;
        expected.operating_points[0].rectifier = None;
        expected.tolerances = Tolerances::default();
        expected.limits.sharing_error = None;
        assert_eq!(scenario(text), expected);
        assert_eq!(expected.run, RunSettings::default());
    }

    #[test]
    fn the_nominal_converter_has_equal_phases() {
        let converter = shelf().nominal_converter();
        assert_eq!(converter.tanks.as_slice(), [shelf().nominal; 3]);
        assert_eq!(converter.flying.as_slice(), [Farad(50e-6); 2]);
    }

    #[test]
    fn limits_of_the_paralleled_reference_default_to_those_of_the_chain() {
        let limits = "[limits]\nshare = \"rms-tank-current\"\nmeasure = \"spread\"\n\
            switch_rms_current = \"25 A\"\nswitch_peak_current = \"40 A\"\n\
            [limits.paralleled]\nblocking_voltage = \"600 V\"\nswitch_rms_current = \"9 A\"\n";
        let text = format!("{}{limits}", &SHELF[..SHELF.find("[limits]").unwrap()]);
        let Limits { sharing, chain, paralleled, .. } = scenario(&text).limits;
        assert_eq!((sharing.share, sharing.measure), (Shared::RmsTankCurrent, Measure::Spread));
        let expected = SwitchLimits {
            rms_current: Some(Ampere(25.0)),
            peak_current: Some(Ampere(40.0)),
            blocking_voltage: None,
        };
        assert_eq!(chain, expected);
        let expected = SwitchLimits {
            rms_current: Some(Ampere(9.0)),
            peak_current: Some(Ampere(40.0)),
            blocking_voltage: Some(Volt(600.0)),
        };
        assert_eq!(paralleled, expected);
    }

    #[test]
    fn configuration_and_gain_read_as_written() {
        let text = format!(
            "{SHELF}[configuration]\nprefer = \"frequency-margin\"\n\
            [gain]\nloads = [\"120 %\", \"25 %\"]\ninput_voltage = \"400 V\"\n"
        );
        let Scenario { prefer, gain, .. } = scenario(&text);
        assert_eq!(prefer, Preference::FrequencyMargin);
        let expected = GainSettings { loads: vec![1.2, 0.25], input_voltage: Some(Volt(400.0)) };
        assert_eq!(gain, expected);
    }

    #[test]
    fn shapes_and_further_keys() {
        let shape = |words: &str| {
            let text = SHELF.replace("shape = \"uniform\"", words);
            scenario(&text).tolerances.get(Parameter::ResonantInductance).unwrap().shape
        };
        assert_eq!(shape("shape = \"triangular\""), Shape::Triangular);
        assert_eq!(shape("shape = \"normal\""), Shape::Normal { sigmas: 3.0 });
        assert_eq!(shape("shape = \"normal\"\nsigmas = 2.5"), Shape::Normal { sigmas: 2.5 });
        let text = SHELF
            .replace("\"50 µF\"", "\"50 µF\"\nneutral_split = \"5 V\"")
            .replace("\"30 mΩ\"", "\"0 mohm\"")
            .replace("output_power   = \"3 kW\"", "output_current = \"1 A\"")
            .replace("samples = 20000\nseed = 1", "samples = 1\nseed = 0xffff_ffff_ffff_ffff");
        let read = scenario(&text);
        assert_eq!(read.neutral_split, Volt(5.0));
        assert_eq!(read.nominal.series_resistance, Ohm(0.0));
        assert_eq!(read.operating_points[0].output_current, Ampere(1.0));
        assert_eq!(read.run, RunSettings { samples: 1, seed: u64::MAX });
    }
}
