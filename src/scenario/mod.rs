//! Scenario files: TOML text → checked scenario, with all errors of a file reported at once.
//!
//! The text form is a TOML table with positions; the checked form is [`Scenario`], whose values
//! are in SI units and within their ranges. Nothing below this layer sees a text.

mod bands;
mod capacitor_parts;
mod capacitors;
mod conditions;
mod configuration;
mod converter;
mod correlations;
mod derating;
mod description;
mod dielectric;
mod document;
pub mod draft;
mod drift;
mod faults;
mod gain;
mod grades;
mod idle;
mod letters;
mod limits;
mod losses;
mod lots;
mod operating_point;
mod parse;
mod part_limits;
mod places;
mod reader;
pub mod reference;
mod resonance;
mod run;
mod same_value;
pub mod schema;
mod sensors;
mod start_up;
mod switch;
mod tolerance;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use toml::de::DeTable;

pub use self::bands::{BandOffer, BandSettings, Prices};
pub use self::capacitor_parts::{BiasPoint, CapacitorOffer, DcBias};
use self::capacitors::SizeContext;
pub use self::capacitors::{CapacitorSettings, PreferredSeries};
use self::conditions::{Conditions, TemperatureFrame};
pub use self::configuration::Preference;
use self::converter::{Hardware, REFERENCE_TEMPERATURE};
pub use self::derating::Derating;
pub use self::faults::FaultSettings;
pub use self::gain::GainSettings;
pub use self::grades::{Failed, Grade, Grades, Offer, PriceBreak};
pub use self::letters::{TOLERANCE_LETTERS, ToleranceLetter};
pub(crate) use self::letters::{all_letters, ends_of_letter};
pub use self::limits::{Limits, SwitchLimits};
pub use self::losses::NominalLosses;
pub use self::lots::LotSettings;
use self::operating_point::PointContext;
pub use self::operating_point::PointRequest;
pub use self::part_limits::PartLimit;
pub use self::places::Place;
pub(crate) use self::reader::nearest;
use self::reader::{Log, Presence, Table};
pub use self::run::{RunSettings, SAMPLES};
pub use self::same_value::is_same_value;
pub use self::sensors::{PerPart, SensorRequest};
pub use self::start_up::StartUpSettings;
pub use self::switch::SwitchSettings;
pub use self::tolerance::{
    Copula, Correlation, CorrelationError, FARTHEST_PART, Matching, MeasuredParts, Process,
    ResponseTolerance, Shape, Tolerance, Tolerances,
};
use self::tolerance::{MeasuredFiles, PartContext};
use crate::converter::{
    Age, Arrangement, AssumedDrift, Converter, ConverterSize, Drive, FrequencyBand, MAX_PHASES,
    MIN_PHASES, OperatingPoint, Parameter, RatedPart, Rating, Sharing, SwitchSpecification, Tank,
    driven_legs,
};
use crate::units::{Celsius, Farad, Hour, Volt};

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
    /// How far the flying-capacitor voltages may drift in full-bridge drive, where charge balance does
    /// not hold them.
    pub drift: AssumedDrift,
    /// Nominal parts that tell losses apart; none where no losses are.
    pub losses: Option<NominalLosses>,
    /// The temperature at which the values of parts hold.
    pub reference_temperature: Celsius,
    /// The service life at whose end operating points are judged again; none where new parts alone are.
    pub service_life: Option<Hour>,
    /// The band of the switching frequency.
    pub frequency: FrequencyBand,
    /// What the converter has to do: one operating point at least, no name twice.
    pub operating_points: Vec<PointRequest>,
    /// What decides where an operating point leaves its configuration open.
    pub prefer: Preference,
    /// What is assumed of parts that fail.
    pub faults: FaultSettings,
    /// What the voltage gain is drawn for.
    pub gain: GainSettings,
    /// How the parts scatter.
    pub tolerances: Tolerances,
    /// What the converters must keep to.
    pub limits: Limits,
    /// How far below its rating a part is used.
    pub derating: Derating,
    /// How much is sampled.
    pub run: RunSettings,
    /// Delivered batches to be drawn, if the scenario asks for them.
    pub lots: Option<LotSettings>,
    /// Current sensors to compare with; none where the scenario tells of none.
    pub sensors: Option<SensorRequest>,
    /// Output capacitances and dead time; none where soft switching is not judged.
    pub switch: Option<SwitchSettings>,
    /// How the chain is to start.
    pub start_up: StartUpSettings,
    /// The part grades on offer, if it asks about them.
    pub grades: Option<Grades>,
    /// What the search for tolerance bands is to look at.
    pub bands: BandSettings,
    /// Which sizes of flying capacitors are tried.
    pub capacitors: CapacitorSettings,
    /// The files of measured parts that were read, each once.
    pub measured_files: Vec<PathBuf>,
    /// All its values as they are written, by their places: `converter.tank.turns_ratio`.
    pub written: BTreeMap<String, String>,
}

impl Scenario {
    /// A nominal value in SI units; none where the scenario does not tell it.
    pub fn nominal_value(&self, parameter: Parameter) -> Option<f64> {
        let own = NominalParts {
            tank: &self.nominal,
            flying_capacitance: self.flying_capacitance,
            losses: self.losses.as_ref(),
        };
        own.value(parameter)
    }

    /// Whether the flying-capacitor voltages may drift: not where all operating points are in half-bridge drive.
    pub fn may_drift(&self) -> bool {
        self.operating_points.iter().any(|own| own.drive != Some(Drive::HalfBridge))
    }

    /// The converter whose parts are all nominal.
    pub fn nominal_converter(&self) -> Converter {
        let losses = self.losses.map(|own| Box::new(own.parts(self.phases)));
        let uniform = Converter::uniform(self.phases, self.nominal, self.flying_capacitance);
        let plain = Converter { losses, ..uniform };
        let responses = self.tolerances.nominal_responses(&plain);
        Converter { responses, ..plain }
    }

    /// The ages at which converters are judged.
    pub fn ages(&self) -> &'static [Age] {
        if self.service_life.is_some() { &Age::ALL } else { &[Age::New] }
    }

    /// Parts on offer that have no tolerance. Only questions about grades and bands know that they scatter; to all
    /// others they are exact, as no part that is bought is.
    pub fn exact_offers(&self) -> Vec<Parameter> {
        let offers = self.grades.iter().flat_map(|grades| &grades.offers);
        let on_offer = offers.map(|offer| offer.parameter);
        on_offer.filter(|parameter| self.tolerances.get(*parameter).is_none()).collect()
    }

    /// The switches of an arrangement, where their loss at turn-on warms them; none where losses are not
    /// told apart, or the switches are not described.
    pub fn warmed_switch(&self, arrangement: Arrangement) -> Option<SwitchSpecification> {
        let switch = self.switch.as_ref().filter(|_| self.losses.is_some())?;
        Some(*switch.specification(arrangement))
    }

    /// An operating point at all ages at which it is judged. With a service life its name tells the age.
    pub fn at_all_ages(&self, point: &OperatingPoint) -> Vec<OperatingPoint> {
        let aged = |age: &Age| OperatingPoint {
            name: match self.service_life {
                Some(_) => format!("{}, {}", point.name, age.name()),
                None => point.name.clone(),
            },
            condition: point.condition.aged(*age),
            ..point.clone()
        };
        self.ages().iter().map(aged).collect()
    }
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

/// What it means to leave out a table all of whose keys have defaults.
const DEFAULTS: &str = "every key takes its default";

/// What is read, and for what.
#[derive(Clone, Copy)]
struct Reader<'a> {
    name: &'a str,
    asked: Asked,
    files: &'a MeasuredFiles<'a>,
}

fn read_root(entries: &DeTable<'_>, reader: Reader<'_>, log: &Log) -> Option<Scenario> {
    let Reader { name, asked, files } = reader;
    let mut root = Table::root(entries, log);
    let title = root.key("title", "what the scenario is about").text().required();
    let hardware = read_hardware(&mut root);
    let conditions = conditions::read(&mut root);
    let operating_points = read_points(&mut root, hardware.as_ref(), conditions.as_ref());
    let prefer = read_preference(&mut root);
    let gain = read_gain(&mut root);
    let faults = read_faults(&mut root);
    let nominal = |parameter| nominal_value(hardware.as_ref()?, parameter);
    let is_told = |parameter| hardware.as_ref().is_none_or(|own| tells(own, parameter));
    let size = size_of(hardware.as_ref(), operating_points.as_deref());
    let context = PartContext { nominal: &nominal, is_told: &is_told, size, files };
    let tolerances = read_tolerances(&mut root, asked, context, conditions.as_ref());
    let switch = switch::read(&mut root, hardware.as_ref().map(|hardware| hardware.frequency));
    let limits = read_limits(&mut root, hardware.as_ref(), switch.as_ref());
    let derating = derating::read(&mut root);
    let run = root.key("run", "how much is sampled").table().or_empty(DEFAULTS).and_then(run::read);
    let lots = lots::read(&mut root);
    let sensors = read_sensors(&mut root, asked, limits.as_ref(), conditions.as_ref());
    let grades = grades::read(&mut root, asked == Asked::Grades, context);
    let on_offer = grades.as_ref().and_then(Option::as_ref);
    let tolerances = correlations::read(&mut root, tolerances, on_offer);
    let bands = read_bands(&mut root, tolerances.as_ref(), on_offer);
    let start_up = read_start_up(&mut root);
    check_points(&root, hardware.as_ref(), limits.as_ref(), operating_points.as_deref());
    let capacitors = read_capacitors(&mut root, hardware.as_ref(), conditions.as_ref());
    root.finish();
    let hardware = hardware?;
    Some(Scenario {
        title: title?,
        source_name: file_name(Path::new(name)),
        phases: hardware.phases,
        nominal: hardware.nominal,
        flying_capacitance: hardware.flying_capacitance,
        drift: hardware.drift.assumed,
        losses: hardware.losses,
        reference_temperature: hardware.reference_temperature,
        service_life: conditions?.service_life,
        frequency: hardware.frequency,
        operating_points: operating_points?,
        prefer: prefer?,
        faults: faults?,
        gain: gain?,
        tolerances: tolerances?,
        limits: limits?,
        derating: derating?,
        run: run?,
        lots: lots?,
        sensors: sensors?,
        switch: switch?,
        start_up: start_up?,
        grades: grades?,
        bands: bands?,
        capacitors: capacitors?,
        measured_files: Vec::new(),
        written: BTreeMap::new(),
    })
}

/// How many parts a converter has. A drive that is still to be chosen may be any.
fn size_of(hardware: Option<&Hardware>, points: Option<&[PointRequest]>) -> ConverterSize {
    let drives = points.unwrap_or_default().iter();
    ConverterSize {
        phases: hardware.map_or(MIN_PHASES, |own| own.phases),
        legs: driven_legs(drives.map(|own| own.drive.unwrap_or(Drive::FullBridge))),
    }
}

fn read_hardware(root: &mut Table<'_>) -> Option<Hardware> {
    root.key("converter", "the converter").table().required().and_then(converter::read)
}

fn read_gain(root: &mut Table<'_>) -> Option<GainSettings> {
    root.key("gain", "what `gain` draws").table().or_empty(DEFAULTS).and_then(gain::read)
}

fn read_faults(root: &mut Table<'_>) -> Option<FaultSettings> {
    let meaning = "what `faults` assumes of parts that fail";
    root.key("faults", meaning).table().or_empty(DEFAULTS).and_then(faults::read)
}

fn read_preference(root: &mut Table<'_>) -> Option<Preference> {
    let meaning = "how drive and rectifier are chosen where they are left out";
    root.key("configuration", meaning).table().or_empty(DEFAULTS).and_then(configuration::read)
}

fn read_limits(
    root: &mut Table<'_>,
    hardware: Option<&Hardware>,
    switch: Option<&Option<SwitchSettings>>,
) -> Option<Limits> {
    let meaning = "what a converter must meet, and how many of them must";
    let phases = hardware.map_or(MAX_PHASES, |hardware| hardware.phases);
    let table = root.key("limits", meaning).table().or_empty(DEFAULTS)?;
    // A table `[switch]` with an error in it is there, whatever share it tells.
    let soft_share = switch.map_or(Some(1.0), |told| told.map(|own| own.soft_share));
    let limits = limits::read(table, phases, soft_share);
    check_loss_limits(root, limits.as_ref(), hardware);
    limits
}

fn read_start_up(root: &mut Table<'_>) -> Option<StartUpSettings> {
    let table = root.key("start_up", "for `capacitors`: how the chain is to start").table();
    table.or_empty(DEFAULTS).and_then(start_up::read)
}

fn read_bands(
    root: &mut Table<'_>,
    tolerances: Option<&Tolerances>,
    on_offer: Option<&Grades>,
) -> Option<BandSettings> {
    let table = root.key("bands", "what `bands` searches").table().or_empty(DEFAULTS)?;
    bands::read(table, tolerances, on_offer)
}

fn read_capacitors(
    root: &mut Table<'_>,
    hardware: Option<&Hardware>,
    conditions: Option<&Conditions>,
) -> Option<CapacitorSettings> {
    let meaning = "for `capacitors`: which sizes of flying capacitors it tries";
    let table = root.key("capacitors", meaning).table().or_empty(DEFAULTS)?;
    let context = SizeContext {
        resonant_capacitance: hardware.map(|hardware| hardware.nominal.resonant_capacitance),
        has_drift: conditions.is_some_and(|own| own.has_drift(Parameter::FlyingCapacitance)),
    };
    capacitors::read(table, context)
}

/// Reads the operating points, and checks that the parts can respond to their temperatures as stated.
fn read_points(
    root: &mut Table<'_>,
    hardware: Option<&Hardware>,
    conditions: Option<&Conditions>,
) -> Option<Vec<PointRequest>> {
    let tables = root
        .key("operating_point", "what the converter has to do: one table an operating point")
        .tables(Presence::Required);
    let phases = hardware.map_or(MIN_PHASES, |hardware| hardware.phases);
    let reference =
        hardware.map_or(REFERENCE_TEMPERATURE, |hardware| hardware.reference_temperature);
    let ages = conditions.map_or(1, Conditions::ages);
    let losses = hardware.and_then(|hardware| hardware.losses);
    let points =
        operating_point::read_all(tables, PointContext { phases, ages, reference, losses })?;
    if let Some(conditions) = conditions {
        conditions.check(root, &points, TemperatureFrame { phases, reference });
        if let Some(hardware) = hardware {
            conditions.check_told(root, |parameter| tells(hardware, parameter));
        }
    }
    Some(points)
}

/// Reads the tolerances, with how parts respond to temperature and age.
fn read_tolerances(
    root: &mut Table<'_>,
    asked: Asked,
    context: PartContext<'_>,
    conditions: Option<&Conditions>,
) -> Option<Tolerances> {
    let tolerances = root
        .key("tolerance", "the tolerances of the parts")
        .table()
        .or_empty("all parts are exact")
        .and_then(|table| tolerance::read_all(table, context));
    if asked == Asked::Tolerances
        && tolerances.as_ref().is_some_and(|all| all.iter().next().is_none())
    {
        root.report_missing(
            "no part has a tolerance".to_owned(),
            "expected one table at least such as [tolerance.resonant_inductance]",
        );
    }
    tolerances.zip(conditions).map(|(all, own)| own.added_to(all))
}

#[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
fn read_sensors(
    root: &mut Table<'_>,
    asked: Asked,
    limits: Option<&Limits>,
    conditions: Option<&Conditions>,
) -> Option<Option<SensorRequest>> {
    let field = root.key(
        "sensors",
        "for `sensors`: one current sensor and one trim element a phase, in two of the variants",
    );
    let table = match asked {
        Asked::Sensors => field.table().required().map(Some),
        _ => field.table().optional("no sensors"),
    };
    match table? {
        Some(table) => {
            let limited = limits.map_or_else(Sharing::default, |limits| limits.sharing).share;
            let has_life = conditions.is_some_and(|own| own.service_life.is_some());
            sensors::read(table, limited, has_life).map(Some)
        }
        None => Some(None),
    }
}

/// The last part of a path; the path where that is none.
pub(crate) fn file_name(path: &Path) -> String {
    Path::new(path.file_name().unwrap_or(path.as_os_str())).display().to_string()
}

/// Reports limits of junction temperatures and of the efficiency that nothing tells.
fn check_loss_limits(root: &Table<'_>, limits: Option<&Limits>, hardware: Option<&Hardware>) {
    let (Some(limits), Some(hardware)) = (limits, hardware) else { return };
    let is_told = hardware.losses.is_some_and(|own| own.heat_switches() || own.heat_rectifiers());
    let place = |key| {
        let paths: [&[&str]; 2] = [&["limits", key], &["limits", "paralleled", key]];
        paths.iter().find_map(|path| root.place_of(path))
    };
    if limits.limit_junctions() && !is_told {
        root.report_missing_at(
            place("junction_temperature"),
            "`junction_temperature` is limited, but no thermal resistance tells it".to_owned(),
            "expected `switch_thermal_resistance` or `rectifier_thermal_resistance` in [converter.losses]",
        );
    }
    if limits.limit_efficiency() && hardware.losses.is_none() {
        root.report_missing_at(
            place("efficiency"),
            "`efficiency` is limited, but the losses of the parts are not told".to_owned(),
            "expected a table [converter.losses]",
        );
    }
}

/// Reports what the operating points do not allow.
fn check_points(
    root: &Table<'_>,
    hardware: Option<&Hardware>,
    limits: Option<&Limits>,
    points: Option<&[PointRequest]>,
) {
    let Some(points) = points else { return };
    if let Some(hardware) = hardware {
        check_drift(root, hardware, points);
    }
    if let Some(limits) = limits {
        check_part_limits(root, limits, points);
    }
}

/// Reports a stated drift that no operating point allows.
fn check_drift(root: &Table<'_>, hardware: &Hardware, points: &[PointRequest]) {
    let inputs = points.iter().map(|point| point.input_voltage.0);
    hardware.drift.check(root, hardware.phases, Volt(inputs.fold(0.0, f64::max)));
}

/// Reports a limit of a part that no operating point loads: every converter would keep to it.
fn check_part_limits(root: &Table<'_>, limits: &Limits, points: &[PointRequest]) {
    // A drive that is still to be chosen may be any.
    let is_loaded = |rating: Rating| {
        points.iter().any(|own| own.drive.is_none_or(|drive| rating.is_used(drive)))
    };
    let Some(limit) = limits.parts.iter().find(|own| !is_loaded(own.rating)) else { return };
    root.report_missing_at(
        root.place_of(&["limits", "part"]),
        format!("`{}` is limited, but no operating point loads it so", limit.rating.part.table()),
        match limit.rating.part {
            RatedPart::HeldLowSwitch => {
                "expected an operating point in half-bridge drive: no other holds switches on"
            }
            _ => {
                "expected an operating point in full-bridge drive: half-bridge drive holds them on"
            }
        },
    );
}

/// The nominal parts of a phase.
struct NominalParts<'a> {
    tank: &'a Tank,
    flying_capacitance: Farad,
    losses: Option<&'a NominalLosses>,
}

impl NominalParts<'_> {
    fn value(&self, parameter: Parameter) -> Option<f64> {
        match parameter {
            Parameter::FlyingCapacitance => Some(self.flying_capacitance.0),
            _ if parameter.index_of_losses().is_some() => self.losses?.value(parameter),
            _ => self.tank.value(parameter),
        }
    }
}

/// A nominal value in SI units; none where the scenario does not tell it.
fn nominal_value(hardware: &Hardware, parameter: Parameter) -> Option<f64> {
    let own = NominalParts {
        tank: &hardware.nominal,
        flying_capacitance: hardware.flying_capacitance,
        losses: hardware.losses.as_ref(),
    };
    own.value(parameter)
}

/// Whether the scenario tells a parameter.
fn tells(hardware: &Hardware, parameter: Parameter) -> bool {
    nominal_value(hardware, parameter).is_some()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::converter::{Charging, Condition, Drive, Leakage, Measure, Rectifier, Shared};
    use crate::units::{Ampere, Henry, Hertz, Ohm, Second, Siemens};

    /// A valid scenario; the data in it are invented.
    const SHELF: &str = include_str!("../../tests/data/shelf.toml");

    fn scenario(text: &str) -> Scenario {
        Scenario::parse("shelf.toml", text).unwrap_or_else(|errors| panic!("{errors}"))
    }

    /// Without how it is written.
    fn meaning(own: Scenario) -> Scenario {
        Scenario { written: BTreeMap::new(), ..own }
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
            drift: AssumedDrift::Stated(Volt(0.0)),
            losses: None,
            reference_temperature: Celsius(25.0),
            service_life: None,
            frequency: FrequencyBand { minimum: Hertz(90e3), maximum: Hertz(300e3) },
            operating_points: vec![PointRequest {
                name: "full load".to_owned(),
                input_voltage: Volt(380.0),
                output_voltage: Volt(48.0),
                output_current: Ampere(62.5),
                drive: Some(Drive::FullBridge),
                rectifier: Some(Rectifier::FullBridge),
                condition: Condition::default(),
            }],
            prefer: Preference::default(),
            faults: FaultSettings::default(),
            gain: GainSettings::default(),
            tolerances: Tolerances::default().with(
                Parameter::ResonantInductance,
                Some(Tolerance { lot_share: 0.5, ..Tolerance::new(Shape::Uniform, 0.05) }),
            ),
            limits: Limits {
                sharing: Sharing { share: Shared::OutputCurrent, measure: Measure::Deviation },
                sharing_error: Some(0.05),
                chain: switches,
                paralleled: switches,
                yield_target: 0.99,
                confidence: 0.95,
                parts: Vec::new(),
            },
            derating: Derating::default(),
            run: RunSettings::default(),
            lots: None,
            sensors: None,
            switch: None,
            start_up: StartUpSettings::default(),
            grades: None,
            bands: BandSettings::default(),
            capacitors: CapacitorSettings::default(),
            measured_files: Vec::new(),
            written: BTreeMap::new(),
        }
    }

    #[test]
    fn a_scenario_reads_as_written() {
        assert_eq!(meaning(scenario(SHELF)), shelf());
        let tolerances: Vec<_> = shelf().tolerances.iter().map(|(p, t)| (p, t.band)).collect();
        assert_eq!(tolerances, [(Parameter::ResonantInductance, 0.05)]);
    }

    #[test]
    fn what_is_written_keeps_its_place_and_its_form() {
        let text = SHELF.replace("seed = 1", "seed = 0xff_ff").replace("\"5 %\"", "'5\u{a0}%'");
        let written = scenario(&text).written;
        for (place, expected) in [
            ("title", "Shelf supply, three phases"),
            ("converter.tank.turns_ratio", "2.4"),
            ("operating_point.full load.input_voltage", "380 V"),
            ("limits.sharing_error", "5\u{a0}%"),
            ("run.seed", "0xff_ff"),
        ] {
            assert_eq!(written.get(place).map(String::as_str), Some(expected), "{place}");
        }
    }

    #[test]
    fn what_lacks_something_elsewhere_is_pointed_at() {
        let grade =
            "[[grade.turns_ratio]]\nname = \"a\"\nshape = \"uniform\"\nband = \"1 %\"\nprice = 1\n";
        for (added, key) in [
            ("[limits.paralleled]\njunction_temperature = \"120 °C\"\n", "junction_temperature"),
            ("[limits.paralleled]\nefficiency = \"90 %\"\n", "efficiency"),
            ("[grades]\nquantity = 100\nother_cost = 1\n", "grades"),
            (grade, "grade"),
        ] {
            let text = format!("{SHELF}\n{added}");
            let errors = Scenario::parse("shelf.toml", &text).unwrap_err().to_string();
            let line = text.lines().position(|line| line.contains(key)).unwrap() + 1;
            assert!(errors.contains(&format!("shelf.toml:{line}:")), "{key}: {errors}");
        }
    }

    #[test]
    fn its_name_is_the_same_from_any_folder() {
        for name in ["shelf.toml", "./shelf.toml", "../some where/shelf.toml", "/a/shelf.toml"] {
            assert_eq!(meaning(Scenario::parse(name, SHELF).unwrap()), shelf());
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
        assert_eq!(meaning(scenario(text)), expected);
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
            soft_turn_on: None,
            blocking_voltage: None,
            junction_temperature: None,
            efficiency: None,
            settling_time: None,
        };
        assert_eq!(chain, expected);
        let expected = SwitchLimits {
            rms_current: Some(Ampere(9.0)),
            peak_current: Some(Ampere(40.0)),
            blocking_voltage: Some(Volt(600.0)),
            junction_temperature: None,
            efficiency: None,
            soft_turn_on: None,
            settling_time: None,
        };
        assert_eq!(paralleled, expected);
    }

    #[test]
    fn causes_of_a_drift_read_as_written() {
        let drift = "\"50 µF\"\n[converter.chain.drift]\nleakage_current = \"10 µA\"\n\
            leakage_voltage = \"250 V\"\nturn_off_skew = \"20 ns\"\nbalancing_resistance = \"1 Mohm\"\n\
            operating_time = \"60 s\"\nhighest_drift = \"6 V\"";
        let text = SHELF.replace("\"50 µF\"", drift);
        let AssumedDrift::FromCauses(read) = scenario(&text).drift else { panic!("causes") };
        let leakage = |most| Leakage { least: Siemens(0.0), most: Siemens(most) };
        assert_eq!(read.charging, Charging::ByGates);
        assert_eq!((read.capacitor_leakage, read.switch_leakage), (leakage(4e-8), leakage(0.0)));
        assert_eq!((read.turn_off_skew, read.operating_time), (Second(20e-9), Some(Second(60.0))));
        assert_eq!((read.balancing_resistance, read.balancing_mismatch), (Some(Ohm(1e6)), 0.01));
        assert_eq!(read.highest_wanted, Some(Volt(6.0)));
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
            scenario(&text).tolerances.get(Parameter::ResonantInductance).unwrap().shape.clone()
        };
        assert_eq!(shape("shape = \"triangular\""), Shape::triangular());
        assert_eq!(shape("shape = \"normal\""), Shape::normal(3.0));
        assert_eq!(shape("shape = \"normal\"\nsigmas = 2.5"), Shape::normal(2.5));
        let text = SHELF
            .replace("\"50 µF\"", "\"50 µF\"\nneutral_split = \"5 V\"")
            .replace("\"30 mΩ\"", "\"0 mohm\"")
            .replace("output_power   = \"3 kW\"", "output_current = \"1 A\"")
            .replace("samples = 20000\nseed = 1", "samples = 1\nseed = 0xffff_ffff_ffff_ffff");
        let read = scenario(&text);
        assert_eq!(read.drift, AssumedDrift::Stated(Volt(5.0)));
        assert_eq!(read.nominal.series_resistance, Ohm(0.0));
        assert_eq!(read.operating_points[0].output_current, Ampere(1.0));
        assert_eq!(read.run, RunSettings { samples: 1, seed: u64::MAX, ..RunSettings::default() });
    }
}
