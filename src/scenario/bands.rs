//! The table `[bands]`: what the search for tolerance bands is to look at.

use std::ops::Bound;

use super::grades::Grades;
use super::letters::TOLERANCE_LETTERS;
use super::reader::{Bounds, NOT_NEGATIVE, Presence, Table};
use super::tolerance::{BAND, Tolerance, Tolerances};
use crate::converter::Parameter;
use crate::input::quantity::Ratio;

/// The most combinations of listed bands: all of them are put in order of their price.
const COMBINATIONS: usize = 100_000;

/// What the search for tolerance bands is to look at.
#[derive(Debug, Clone, PartialEq)]
pub struct BandSettings {
    /// The widest band worth asking for, a fraction of the nominal value: above 0, below 1.
    pub widest: f64,
    /// The two parameters to be traded against each other, if the scenario names them.
    pub trade: Option<[Parameter; 2]>,
    /// The bands that can be ordered, for every part: they rise, above 0 and below 1. Of an unequal band
    /// the end farther from the nominal value is one of them.
    pub steps: Vec<f64>,
    /// What parts cost by their bands.
    pub prices: Prices,
}

impl Default for BandSettings {
    fn default() -> Self {
        let steps = TOLERANCE_LETTERS.map(|step| step.band).to_vec();
        Self { widest: 0.5, trade: None, steps, prices: Prices::default() }
    }
}

/// A band that can be bought.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BandOffer {
    /// Half width of the band, a fraction of the nominal value.
    pub band: f64,
    /// Price of one part, in any one currency.
    pub price: f64,
}

/// Price lists of the parameters: bands rise, prices fall; empty for parameters without one.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Prices([Vec<BandOffer>; Parameter::ALL.len()]);

impl Prices {
    /// The list of a parameter.
    pub fn get(&self, parameter: Parameter) -> &[BandOffer] {
        &self.0[parameter.index()]
    }

    /// The parameters that have a list, in the order of [`Parameter::ALL`].
    pub fn iter(&self) -> impl Iterator<Item = (Parameter, &[BandOffer])> {
        Parameter::ALL
            .into_iter()
            .map(|p| (p, self.get(p)))
            .filter(|(_, offers)| !offers.is_empty())
    }
}

const ABOVE_NONE: Bounds = Bounds {
    words: "above 0 % and below 100 %",
    low: Bound::Excluded(0.0),
    high: Bound::Excluded(1.0),
};

/// Reads `[bands]`. Tolerances and grades are the scenario's, as far as they are known.
pub(super) fn read(
    mut table: Table<'_>,
    tolerances: Option<&Tolerances>,
    grades: Option<&Grades>,
) -> Option<BandSettings> {
    let default = BandSettings::default();
    let widest = table
        .key("widest", "widest band that the search tries, as a half width, of the nominal value")
        .quantity(ABOVE_NONE)
        .or(Ratio(default.widest));
    let trade = trade(&mut table, tolerances);
    let steps = steps(&mut table, &default.steps);
    let prices_table = table.key("price", "prices of parts by their bands, in any one currency");
    let prices =
        prices_table.table().or_empty("no prices").and_then(|own| prices(own, tolerances, grades));
    table.finish();
    Some(BandSettings { widest: widest?.0, trade: trade?, steps: steps?, prices: prices? })
}

/// Whether a parameter is known to have no tolerance.
fn is_exact(tolerances: Option<&Tolerances>, parameter: Parameter) -> bool {
    tolerances.is_some_and(|all| all.get(parameter).is_none())
}

fn without_tolerance(parameter: Parameter) -> (String, String) {
    let key = parameter.key();
    (format!("`{key}` has no tolerance"), format!("expected a table [tolerance.{key}] beside it"))
}

/// Whether a parameter is known to be drawn from measured parts.
fn is_measured(tolerances: Option<&Tolerances>, parameter: Parameter) -> bool {
    tolerances.and_then(|all| all.get(parameter)).is_some_and(Tolerance::is_measured)
}

fn without_band(parameter: Parameter) -> String {
    format!("`{}` is drawn from measured parts, which have no band to widen", parameter.key())
}

#[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
fn trade(table: &mut Table<'_>, tolerances: Option<&Tolerances>) -> Option<Option<[Parameter; 2]>> {
    let pair = table
        .key("trade", "two different parameters with a tolerance and no measured parts, to be traded against each other")
        .pair(Parameter::ALL, Parameter::key)
        .optional("the two with the largest effect")?;
    let Some([(first, place), (second, other)]) = pair else { return Some(None) };
    if first == second {
        let message = format!("`trade` names `{}` twice", first.key());
        table.report_at(Some(other), message, "expected two different parameters");
        return None;
    }
    for (parameter, place) in [(first, place), (second, other)] {
        if is_exact(tolerances, parameter) {
            let (message, expected) = without_tolerance(parameter);
            table.report_at(Some(place), message, &expected);
        } else if is_measured(tolerances, parameter) {
            let message = without_band(parameter);
            table.report_at(Some(place), message, "expected two parameters with a band");
        }
    }
    Some(Some([first, second]))
}

/// The bands that can be ordered, which must rise.
fn steps(table: &mut Table<'_>, default: &[f64]) -> Option<Vec<f64>> {
    let field = table.key(
        "steps",
        "bands that can be ordered where parts have no prices, rising; of an unequal band its farther end. \
         The default is the letters B to N of IEC 60062",
    );
    let place = field.value_span();
    let steps =
        field.quantities::<Ratio>(ABOVE_NONE).or(default.iter().copied().map(Ratio).collect())?;
    let steps: Vec<f64> = steps.into_iter().map(|step| step.0).collect();
    if steps.is_sorted_by(|a, b| a < b) {
        return Some(steps);
    }
    table.report_at(
        place,
        "the `steps` do not rise".to_owned(),
        "expected each wider than the one before it",
    );
    None
}

const PRICE_LIST: &str =
    "price list of a parameter that has a tolerance and no grades: one entry a band on offer";

fn prices(
    mut table: Table<'_>,
    tolerances: Option<&Tolerances>,
    grades: Option<&Grades>,
) -> Option<Prices> {
    let mut all = Some(Prices::default());
    for parameter in Parameter::ALL {
        let field = table.key_of(parameter, PRICE_LIST);
        let Some(place) = field.key_span() else { continue };
        if is_exact(tolerances, parameter) {
            let (message, expected) = without_tolerance(parameter);
            table.report_at(Some(place.clone()), message, &expected);
        }
        if is_measured(tolerances, parameter) {
            let key = parameter.key();
            let expected =
                format!("expected grades [[grade.{key}]], each with its own measured file");
            table.report_at(Some(place.clone()), without_band(parameter), &expected);
        }
        if grades.is_some_and(|all| all.offers.iter().any(|o| o.parameter == parameter)) {
            let key = parameter.key();
            let message = format!("`{key}` has a price list here and grades on offer");
            let expected = format!("expected either this list or tables [[grade.{key}]]");
            table.report_at(Some(place), message, &expected);
        }
        let offers = offers(field.tables(Presence::Optional("no price list")), parameter);
        all = all.zip(offers).map(|(mut all, offers)| {
            all.0[parameter.index()] = offers;
            all
        });
    }
    let combinations = all.iter().flat_map(|all| all.iter().map(|(_, offers)| offers.len()));
    let of_grades = grades.map_or(1, |grades| grades.sets.len());
    let combinations = combinations.fold(of_grades, usize::saturating_mul);
    if combinations > COMBINATIONS {
        let with = if grades.is_some() { " with the grades" } else { "" };
        let message = format!("the price lists{with} make {combinations} combinations");
        let expected = format!("expected no more than {COMBINATIONS}: leave out bands or lists");
        table.report_at(None, message, &expected);
    }
    table.finish();
    all
}

/// The offers of one parameter: each is wider and cheaper than the one before it.
fn offers(tables: Vec<Table<'_>>, parameter: Parameter) -> Option<Vec<BandOffer>> {
    let mut offers: Vec<BandOffer> = Vec::new();
    let mut complete = !tables.is_empty();
    for table in tables {
        match offer(table, parameter, offers.last()) {
            Some(offer) => offers.push(offer),
            None => complete = false,
        }
    }
    complete.then_some(offers)
}

fn offer(table: Table<'_>, parameter: Parameter, before: Option<&BandOffer>) -> Option<BandOffer> {
    let key = parameter.key();
    let mut table = table.about(format!("`{key}`"));
    let band = table
        .key("band", "half width of the band, of the nominal value; wider than the one before");
    let band_place = band.value_span();
    let band = band.quantity::<Ratio>(BAND).required();
    let price = table.key("price", "price of one part; lower than the one before");
    let price_place = price.value_span();
    let price = price.number(NOT_NEGATIVE, "1.20").required();
    if let (Some(Ratio(band)), Some(before)) = (band, before)
        && band <= before.band
    {
        let message = format!("the bands of `{key}` do not rise");
        table.report_at(band_place, message, "expected a wider band than the one before it");
    } else if let (Some(price), Some(before)) = (price, before)
        && price >= before.price
    {
        let message = format!("the prices of `{key}` do not fall");
        let expected = "expected a lower price than for the narrower band before it";
        table.report_at(price_place, message, expected);
    }
    table.finish();
    Some(BandOffer { band: band?.0, price: price? })
}
