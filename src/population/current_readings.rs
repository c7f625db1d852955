//! Currents that were measured on listed converters: the optional columns of a parts file, which a file
//! of measured currents has too.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use crate::converter::Arrangement;
use crate::input::csv::{Row, quoted};
use crate::input::diagnostics::Diagnostic;
use crate::scenario::PointRequest;
use crate::units::{Ampere, Watt};

/// The columns of measured currents: where they were measured, then what was.
pub const COLUMNS: [&str; 6] = [
    "operating_point",
    "arrangement",
    "output_power_W",
    "measured_output_current_A",
    "measured_mean_abs_tank_current_A",
    "measured_rms_tank_current_A",
];

/// The first of these columns hold texts.
pub(super) const TEXTS: usize = 2;

/// The last of these columns hold currents.
const CURRENTS: std::ops::Range<usize> = 3..COLUMNS.len();

/// Currents measured in one phase; none where nothing was measured. Tank currents are those of the tank
/// as it is, in both arrangements.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PhaseReading {
    /// Mean rectified output current.
    pub output_current: Option<Ampere>,
    /// Mean absolute tank current.
    pub mean_abs_current: Option<Ampere>,
    /// Root-mean-square tank current.
    pub rms_current: Option<Ampere>,
}

/// Currents measured on a converter at one load.
#[derive(Debug, Clone, PartialEq)]
pub struct CurrentReading {
    /// The converter's place in the parts file.
    pub unit: usize,
    /// The operating point's place in the scenario.
    pub operating_point: usize,
    /// How the phases were connected.
    pub arrangement: Arrangement,
    /// Output power of the converter.
    pub output_power: Watt,
    /// One a phase.
    pub phases: Vec<PhaseReading>,
}

/// What tells one load of a converter from another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct LoadKey {
    unit: usize,
    operating_point: usize,
    is_chain: bool,
    power_bits: u64,
}

/// The row of a phase, and where its columns of measured currents begin.
#[derive(Debug, Clone, Copy)]
pub(super) struct ReadingPlace {
    pub(super) unit: usize,
    pub(super) phase: usize,
    pub(super) first_column: usize,
}

/// Readings as they are read, row by row.
#[derive(Debug)]
pub(super) struct ReadingCollector<'a> {
    phases: usize,
    operating_points: &'a [PointRequest],
    /// In the order of their first rows.
    pub(super) found: Vec<CurrentReading>,
    indices: BTreeMap<LoadKey, usize>,
    /// Whether it was reported that the operating point is open.
    has_reported_open: bool,
}

impl<'a> ReadingCollector<'a> {
    /// Nothing yet.
    pub(super) fn new(phases: usize, operating_points: &'a [PointRequest]) -> Self {
        let (found, indices) = (Vec::new(), BTreeMap::new());
        Self { phases, operating_points, found, indices, has_reported_open: false }
    }

    /// With the readings of another file, which no row may repeat.
    pub(super) fn beside(mut self, readings: &[CurrentReading]) -> Self {
        self.found = readings.to_vec();
        self.indices = self.found.iter().zip(0..).map(|(found, n)| (found.key(), n)).collect();
        self
    }

    /// Takes over the currents of a row; what is wrong with it is reported. A row without any is no
    /// reading.
    pub(super) fn add(&mut self, row: &Row<'_>, place: ReadingPlace, errors: &mut Vec<Diagnostic>) {
        let before = errors.len();
        let credible = self.credible(row, place.first_column);
        let mut current = |n: usize| {
            let range =
                if n == CURRENTS.start { &credible.output_current } else { &credible.tank_current };
            row.reading_within(place.first_column + n, range, errors).map(Ampere)
        };
        let [output_current, mean_abs_current, rms_current] =
            [CURRENTS.start, CURRENTS.start + 1, CURRENTS.start + 2].map(&mut current);
        let reading = PhaseReading { output_current, mean_abs_current, rms_current };
        if reading == PhaseReading::default() || errors.len() > before {
            return;
        }
        let Some(load) = self.load(row, place, errors) else { return };
        let phases = self.phases;
        let index = *self.indices.entry(load.key()).or_insert_with(|| {
            self.found
                .push(CurrentReading { phases: vec![PhaseReading::default(); phases], ..load });
            self.found.len() - 1
        });
        let phase = &mut self.found[index].phases[place.phase];
        if *phase != PhaseReading::default() {
            errors.push(Diagnostic::new(
                row.span(0),
                format!("phase {} was measured at this load before", place.phase + 1),
                "expected the currents of a phase once for each operating point and output power",
            ));
        }
        *phase = reading;
    }

    /// The load that a row tells of, without its phases.
    fn load(
        &mut self,
        row: &Row<'_>,
        place: ReadingPlace,
        errors: &mut Vec<Diagnostic>,
    ) -> Option<CurrentReading> {
        let before = errors.len();
        let operating_point = self.operating_point(row, place.first_column, errors);
        let arrangement = arrangement(row, place.first_column + 1, errors);
        let powers = self.credible(row, place.first_column).output_power;
        let measured = row.reading_within(place.first_column + 2, &powers, errors).map(Watt);
        let point = self.operating_points.get(operating_point?)?;
        let output_power =
            measured.unwrap_or(Watt(point.output_voltage.0 * point.output_current.0));
        (errors.len() == before).then_some(CurrentReading {
            unit: place.unit,
            operating_point: operating_point?,
            arrangement: arrangement?,
            output_power,
            phases: Vec::new(),
        })
    }

    /// What can be measured at the operating point that a row names, or at any where it names none of them.
    fn credible(&self, row: &Row<'_>, column: usize) -> Credible {
        let named = row.text(column);
        let is_meant = |own: &&PointRequest| named.as_ref().is_none_or(|name| own.name == *name);
        let meant = self.operating_points.iter().filter(is_meant).map(Credible::at);
        meant.reduce(Credible::either).unwrap_or(Credible::ANY)
    }

    /// The operating point that a row names, or the only one.
    fn operating_point(
        &mut self,
        row: &Row<'_>,
        column: usize,
        errors: &mut Vec<Diagnostic>,
    ) -> Option<usize> {
        let names = self.operating_points.iter().map(|point| format!("\"{}\"", point.name));
        let names = names.collect::<Vec<_>>().join(" or ");
        let Some(text) = row.text(column) else {
            if self.operating_points.len() == 1 {
                return Some(0);
            }
            let is_there = row.span_of_name(column).is_some();
            if is_there || !std::mem::replace(&mut self.has_reported_open, true) {
                let mut currents = CURRENTS.map(|n| row.span_of_name(column + n));
                let header = currents.find_map(|span| span).filter(|_| !is_there);
                errors.push(Diagnostic::new(
                    header.unwrap_or_else(|| row.span(column)),
                    "nothing tells at which operating point these currents were measured",
                    format!("expected {names} in a column `{}`", COLUMNS[0]),
                ));
            }
            return None;
        };
        let found = self.operating_points.iter().position(|point| point.name == text);
        if found.is_none() {
            errors.push(Diagnostic::new(
                row.span(column),
                format!("the scenario has no operating point `{}`", quoted(&text)),
                format!("expected {names}"),
            ));
        }
        found
    }
}

/// Between which values readings are credible. What lies outside was read in another unit.
struct Credible {
    output_power: RangeInclusive<f64>,
    output_current: RangeInclusive<f64>,
    tank_current: RangeInclusive<f64>,
}

impl Credible {
    const ANY: Self = Self {
        output_power: f64::MIN_POSITIVE..=f64::INFINITY,
        output_current: 0.0..=f64::INFINITY,
        tank_current: 0.0..=f64::INFINITY,
    };

    /// Loads down to half a percent and up to half as much again, which a thousandth or a thousand times the
    /// load is not. A phase that hogs the current has all of it at most. The tank of a phase of a chain
    /// carries some 1 to 3 times the input current.
    fn at(point: &PointRequest) -> Self {
        let power = point.output_voltage.0 * point.output_current.0;
        Self {
            output_power: 0.005 * power..=1.5 * power,
            output_current: 0.0..=10.0 * point.output_current.0,
            tank_current: 0.0..=100.0 * power / point.input_voltage.0,
        }
    }

    /// What is credible at either of two operating points.
    fn either(self, other: Self) -> Self {
        let wider = |a: RangeInclusive<f64>, b: RangeInclusive<f64>| {
            a.start().min(*b.start())..=a.end().max(*b.end())
        };
        Self {
            output_power: wider(self.output_power, other.output_power),
            output_current: wider(self.output_current, other.output_current),
            tank_current: wider(self.tank_current, other.tank_current),
        }
    }
}

/// The arrangement that a row names; the chain where it names none.
fn arrangement(row: &Row<'_>, column: usize, errors: &mut Vec<Diagnostic>) -> Option<Arrangement> {
    let Some(text) = row.text(column) else { return Some(Arrangement::Chain) };
    let found = Arrangement::ALL.into_iter().find(|a| a.name().eq_ignore_ascii_case(&text));
    if found.is_none() {
        errors.push(Diagnostic::new(
            row.span(column),
            format!("no arrangement is called `{}`", quoted(&text)),
            "expected `chain` or `paralleled`, or nothing for the chain",
        ));
    }
    found
}

impl CurrentReading {
    fn key(&self) -> LoadKey {
        LoadKey {
            unit: self.unit,
            operating_point: self.operating_point,
            is_chain: self.arrangement == Arrangement::Chain,
            power_bits: self.output_power.0.to_bits(),
        }
    }
}
