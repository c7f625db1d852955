//! `capacitors.csv`.

use crate::report::format::csv::{CsvCell, CsvTable};
use crate::study::capacitors::size::{SizeCase, SizeResult, SizeStudy};

/// Columns of `capacitors.csv`.
const COLUMNS: [&str; 19] = [
    "flying_capacitance_F",
    "operating_point",
    "age",
    "capacitance_left",
    "status",
    "switching_frequency_Hz",
    "frequency_shift",
    "sharing_error",
    "sharing_error_p95",
    "added_sharing_error_p95",
    "highest_blocking_voltage_V",
    "periods_to_1_percent",
    "samples_good",
    "yield",
    "flying_capacitor",
    "ripple_V",
    "rms_current_A",
    "mean_voltage_V",
    "peak_voltage_V",
];

/// A row a size, operating point and place of a flying capacitor; empty where there is no value.
///
/// # Errors
///
/// None that can happen with rows built here.
pub(in crate::report::capacitors) fn capacitors(study: &SizeStudy) -> anyhow::Result<String> {
    let mut table = CsvTable::with_columns(COLUMNS)?;
    for own in &study.sizes {
        for (case, very_large) in own.cases.iter().zip(&study.very_large.cases) {
            let places = case.nominal.as_ref().map_or(1, |loads| loads.places.len());
            for place in 0..places {
                let size = cells_of_size(own, case, very_large);
                table.row(size.into_iter().chain(cells_of_place(case, place)))?;
            }
        }
    }
    table.text()
}

fn cells_of_size(own: &SizeResult, case: &SizeCase, very_large: &SizeCase) -> [CsvCell; 14] {
    let (nominal, samples) = (case.nominal.as_ref(), case.samples.as_ref());
    let periods = case.settling.map(|speed| speed.periods_to_1_percent);
    let p95 = samples.and_then(|samples| samples.sharing_error?.p95);
    [
        CsvCell::number(own.capacitance.0),
        CsvCell::text(&case.operating_point),
        CsvCell::text(case.age.name()),
        CsvCell::number(case.wear.left()),
        CsvCell::text(case.status),
        CsvCell::number(nominal.map(|loads| loads.switching_frequency.0)),
        CsvCell::number(case.frequency_shift(very_large)),
        CsvCell::number(nominal.map(|loads| loads.sharing_error)),
        CsvCell::number(p95),
        CsvCell::number(case.added_sharing_error(very_large)),
        CsvCell::number(nominal.map(|loads| loads.highest_blocking().0)),
        CsvCell::number(periods.filter(|periods| periods.is_finite())),
        samples.map_or_else(CsvCell::empty, |samples| CsvCell::count(samples.good)),
        CsvCell::number(own.good.map(|good| good.estimate)),
    ]
}

fn cells_of_place(case: &SizeCase, place: usize) -> [CsvCell; 5] {
    match case.nominal.as_ref().and_then(|loads| loads.places.get(place)) {
        None => [const { CsvCell::empty() }; 5],
        Some(own) => [
            CsvCell::count(place as u64 + 1),
            CsvCell::number(own.ripple.0),
            CsvCell::number(own.rms_current.0),
            CsvCell::number(own.mean_voltage.map(|voltage| voltage.0)),
            CsvCell::number(own.peak_voltage.0),
        ],
    }
}
