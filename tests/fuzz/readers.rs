//! All readers of files, each given any bytes: it may refuse them, in words that are safe to show.

use std::fmt::Display;
use std::path::Path;
use std::sync::OnceLock;

use fairphase::population::parts_file::{self, PartsFrame, PartsList};
use fairphase::population::{measured_currents, measurements, stock};
use fairphase::printable;
use fairphase::report::format::summary::schema;
use fairphase::scenario::Scenario;
use fairphase::statistics::Confidence;
use fairphase::study::compare::{ReadResult, compare};
use fairphase::units::Farad;

/// Readers by the name of their target, which is also that of the folder of their corpus.
pub const READERS: [&str; 7] =
    ["scenario", "parts", "currents", "tanks", "capacitors", "measurements", "summary"];

/// A scenario with measured prototypes.
const SCENARIO: &str = include_str!("../../scenarios/pump-drive.toml");

/// Those prototypes.
const PARTS: &str = include_str!("../../scenarios/pump-drive-prototypes.csv");

/// One refusal in as many is shown.
const SHOWN: usize = 16;

/// Gives bytes to a reader.
///
/// # Panics
///
/// Where the reader does, or where what it says could harm a terminal.
pub fn read(reader: &str, bytes: &[u8]) {
    assert!(READERS.contains(&reader), "there is no reader {reader}");
    // What is no UTF-8 goes no further than the function that reads the file.
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let refused: Result<(), Box<dyn Display>> = match reader {
        "scenario" => scenario(text),
        "parts" => parts(text).map(|_| ()),
        "currents" => currents(text),
        "tanks" => done(stock::parse_tanks("tanks.csv", text, &frame().nominal_converter())),
        "capacitors" => done(stock::parse_capacitors("parts.csv", text, Farad(47e-6), 1)),
        "measurements" => done(measurements::parse("parts.csv", text, &[])),
        _ => summary(text),
    };
    // To draw the places of errors takes much longer than to find them.
    if let (Err(refusal), 0) = (refused, bytes.len() % SHOWN) {
        let said = refusal.to_string();
        let said = printable::lines(&said);
        assert!(!said.contains(|c: char| c.is_control() && c != '\n'), "{said:?}");
    }
}

fn scenario(text: &str) -> Result<(), Box<dyn Display>> {
    let read = Scenario::parse("any.toml", text).map_err(boxed)?;
    // What was read holds together.
    assert_eq!(read.nominal_converter().phases(), read.nominal_converter().tanks.len());
    assert!(
        !read.operating_points.is_empty() && read.frequency.minimum.0 <= read.frequency.maximum.0
    );
    read.distant_resonance();
    Ok(())
}

fn frame() -> &'static Scenario {
    static READ: OnceLock<Scenario> = OnceLock::new();
    READ.get_or_init(|| Scenario::parse("pump-drive.toml", SCENARIO).expect("the demo is legal"))
}

fn parts(text: &str) -> Result<PartsList, Box<dyn Display>> {
    let (nominal, operating_points) = (&frame().nominal_converter(), &frame().operating_points);
    let read = parts_file::parse("parts.csv", text, PartsFrame { nominal, operating_points });
    read.map(|read| read.content).map_err(boxed)
}

fn currents(text: &str) -> Result<(), Box<dyn Display>> {
    static LIST: OnceLock<PartsList> = OnceLock::new();
    let list = LIST.get_or_init(|| parts(PARTS).ok().expect("the demo is legal"));
    done(measured_currents::parse("currents.csv", text, list, &frame().operating_points))
}

/// A summary that was read is compared with itself.
fn summary(text: &str) -> Result<(), Box<dyn Display>> {
    let read = || ReadResult::parse("summary.json", Path::new("nowhere"), text, schema());
    let confidence = Confidence::new(0.95).map_err(boxed)?;
    let own = read().map_err(boxed)?;
    let others = vec![read().map_err(boxed)?];
    done(compare(own, others, confidence))
}

/// What is said of a file that is refused.
fn done<T, E: Display + 'static>(read: Result<T, E>) -> Result<(), Box<dyn Display>> {
    read.map(|_| ()).map_err(boxed)
}

fn boxed<E: Display + 'static>(error: E) -> Box<dyn Display> {
    Box::new(error)
}
