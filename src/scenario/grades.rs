//! The tables `[grades]` and `[[grade.X]]`: what parts are on offer, and what a converter costs.

use std::ops::Range;

use itertools::Itertools as _;

use super::reader::{Bounds, NOT_NEGATIVE, Presence, Table};
use super::tolerance::{PartContext, read_matching, read_scatter};
use crate::converter::Parameter;
use crate::scenario::Tolerance;

/// Sets of grades that are compared at most.
const MOST_SETS: usize = 500;
/// What money is counted in where the scenario names nothing.
const CURRENCY: &str = "credits";
/// Converters wanted, and parts of a least order.
const QUANTITY: std::ops::RangeInclusive<u64> = 1..=1_000_000_000;

/// A grade of a part: how far its values may lie apart, and what it costs.
#[derive(Debug, Clone, PartialEq)]
pub struct Grade {
    /// Its name, unlike that of the part's other grades.
    pub name: String,
    /// How its values scatter.
    pub tolerance: Tolerance,
    /// Price of one part, zero or more, in the scenario's currency; of small orders where there are
    /// price breaks.
    pub price: f64,
    /// Lower prices of larger orders: quantities rise and prices fall from entry to entry.
    pub price_breaks: Vec<PriceBreak>,
    /// Lead time in weeks, zero or more, if the scenario gives one.
    pub lead_time: Option<f64>,
    /// Smallest number of parts that can be ordered; one unless given.
    pub minimum_quantity: u64,
}

/// A price that holds from an order quantity on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PriceBreak {
    /// Parts of one order, two or more.
    pub quantity: u64,
    /// Price of one part, zero or more, in the scenario's currency.
    pub price: f64,
}

impl Grade {
    /// What one part costs when it is used: its price, and what measuring and matching add.
    pub fn price_with_matching(&self) -> f64 {
        self.price + self.tolerance.matching.map_or(0.0, |matching| matching.cost)
    }
}

/// The grades on offer for one parameter: one at least, the cheapest first.
#[derive(Debug, Clone, PartialEq)]
pub struct Offer {
    /// The parameter.
    pub parameter: Parameter,
    /// Its grades by rising price, that of matching included; of equal prices the one listed first.
    pub grades: Vec<Grade>,
}

/// What becomes of a converter that fails.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Failed {
    /// It is thrown away, and another one is built.
    Scrapped,
    /// It is repaired until it is good.
    Reworked,
}

impl Failed {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Scrapped, Self::Reworked];

    /// The word used in scenario files and tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::Scrapped => "scrap",
            Self::Reworked => "rework",
        }
    }
}

/// The question of part grades: what is on offer, and what a converter costs.
#[derive(Debug, Clone, PartialEq)]
pub struct Grades {
    /// What money is counted in.
    pub currency: String,
    /// Good converters wanted, one or more.
    pub quantity: u64,
    /// What becomes of a converter that fails.
    pub failed: Failed,
    /// Cost of one failed converter beyond its parts: disposal, or repair.
    pub failure_cost: f64,
    /// Cost of building one converter beside the parts on offer.
    pub other_cost: f64,
    /// The parts on offer, in the order of [`Parameter::ALL`]; one at least.
    pub offers: Vec<Offer>,
    /// The sets to be compared, each with the place of a grade in every offer; one at least.
    pub sets: Vec<Vec<usize>>,
}

const PRICE: Bounds = NOT_NEGATIVE;

const GRADE: &str =
    "a grade on offer for parameter X, whose tolerance replaces that of `[tolerance.X]`";

/// Reads `[grades]` and `[[grade.X]]`; `None` within when the scenario has neither and they are not
/// `asked` for.
#[expect(clippy::option_option, reason = "the outer None says that an error was reported")]
pub(super) fn read(
    root: &mut Table<'_>,
    asked: bool,
    context: PartContext<'_>,
) -> Option<Option<Grades>> {
    let costs = root.key("grades", "what a converter costs, for `grades` and `bands`");
    let grade = root.key("grade", "the part grades on offer");
    if costs.key_span().is_none() && grade.key_span().is_none() {
        if asked {
            root.report_missing(
                "the scenario has no part grades on offer".to_owned(),
                "expected [grades] with `quantity`, and tables such as \
                    [[grade.resonant_inductance]]",
            );
        }
        return Some(None);
    }
    if costs.key_span().is_none() {
        root.report_missing_at(
            grade.key_span(),
            "part grades are on offer, but [grades] does not tell what a converter costs"
                .to_owned(),
            "expected a table [grades] with `quantity` beside them",
        );
        return None;
    }
    let place = costs.key_span();
    let offers =
        grade.table().or_empty("no grades").and_then(|table| read_offers(table, place, context));
    let grades = costs.table().or_empty("no grades").and_then(|table| read_costs(table, offers));
    grades.map(Some)
}

/// The grades on offer; `asking` is where the scenario says that it has some.
fn read_offers(
    mut table: Table<'_>,
    asking: Option<Range<usize>>,
    context: PartContext<'_>,
) -> Option<Vec<Offer>> {
    let mut offers = Some(Vec::new());
    let mut none = true;
    for parameter in Parameter::ALL {
        let field = table.key_of(parameter, GRADE);
        if field.key_span().is_none() {
            continue;
        }
        none = false;
        let mut names: Vec<String> = Vec::new();
        let tables = field.tables(Presence::Optional("as in `[tolerance.X]`"));
        let grades: Vec<_> = tables
            .into_iter()
            .map(|table| read_grade(table, parameter, context, &mut names))
            .collect();
        let grades = grades.into_iter().collect::<Option<Vec<_>>>().filter(|g| !g.is_empty());
        offers = offers.zip(grades).map(|(mut offers, mut grades)| {
            grades.sort_by(|a: &Grade, b: &Grade| {
                a.price_with_matching().total_cmp(&b.price_with_matching())
            });
            offers.push(Offer { parameter, grades });
            offers
        });
    }
    if none {
        table.report_missing_at(
            asking,
            "the scenario has [grades] and no grade on offer".to_owned(),
            "expected tables such as [[grade.resonant_inductance]]",
        );
    }
    table.finish();
    if none { None } else { offers }
}

fn read_grade(
    mut table: Table<'_>,
    parameter: Parameter,
    context: PartContext<'_>,
    names: &mut Vec<String>,
) -> Option<Grade> {
    let field = table.key("name", "its name, unlike that of the other grades of this part");
    let place = field.value_span();
    let subject = match field.peek_text() {
        Some(name) => format!("grade \"{}\"", name.trim()),
        None => format!("grade {}", names.len() + 1),
    };
    let name = field.text().required();
    if let Some(name) = &name {
        if names.contains(name) {
            let message = format!("a second grade of `{}` is called \"{name}\"", parameter.key());
            table.report_at(place, message, "expected a name of its own");
        }
        names.push(name.clone());
    }
    let mut table = table.about(format!("{subject} of `{}`", parameter.key()));
    let tolerance = read_scatter(&mut table, parameter, context);
    let price = table.key("price", "price of one part").number(PRICE, "1.20").required();
    let price_breaks = read_breaks(&mut table, price);
    let matching = read_matching(&mut table, parameter, context);
    let lead_time = table
        .key("lead_time_weeks", "lead time in weeks; shown, not weighed")
        .number(NOT_NEGATIVE, "6")
        .optional("not shown");
    let minimum_quantity = table
        .key("minimum_quantity", "smallest number of parts that can be ordered")
        .integer(&QUANTITY)
        .or(1);
    table.finish();
    Some(Grade {
        name: name?,
        tolerance: Tolerance { matching: matching?, ..tolerance? },
        price: price?,
        price_breaks: price_breaks?,
        lead_time: lead_time?,
        minimum_quantity: minimum_quantity?,
    })
}

/// The lower prices of larger orders.
fn read_breaks(table: &mut Table<'_>, price: Option<f64>) -> Option<Vec<PriceBreak>> {
    let meaning = "lower prices of one part in larger orders, by rising quantity";
    let field = table.key("price_breaks", meaning);
    if field.key_span().is_none() {
        return Some(Vec::new());
    }
    let tables = field.tables(Presence::Optional("one price for all quantities"));
    let mut before = price.map(|price| PriceBreak { quantity: 1, price });
    let mut breaks = Some(Vec::new());
    for table in tables {
        let read = read_break(table, before);
        before = read.or(before);
        breaks = breaks.zip(read).map(|(mut breaks, read): (Vec<_>, _)| {
            breaks.push(read);
            breaks
        });
    }
    breaks.filter(|breaks| !breaks.is_empty())
}

fn read_break(mut table: Table<'_>, before: Option<PriceBreak>) -> Option<PriceBreak> {
    let field = table.key("quantity", "smallest order at this price");
    let quantity_place = field.value_span();
    let quantity = field.integer(&QUANTITY).required();
    let field = table.key("price", "price of one part in such an order");
    let price_place = field.value_span();
    let price = field.number(PRICE, "1.05").required();
    if let (Some(quantity), Some(before)) = (quantity, before)
        && quantity <= before.quantity
    {
        let message = format!("the price break at {quantity} does not exceed {}", before.quantity);
        table.report_at(
            quantity_place,
            message,
            "expected quantities that rise from entry to entry",
        );
    }
    if let (Some(price), Some(before)) = (price, before)
        && price >= before.price
    {
        let message = format!("the price break at {price} is not below {}", before.price);
        table.report_at(price_place, message, "expected prices that fall as the quantity rises");
    }
    table.finish();
    Some(PriceBreak { quantity: quantity?, price: price? })
}

fn read_costs(mut table: Table<'_>, offers: Option<Vec<Offer>>) -> Option<Grades> {
    let currency = table.key("currency", "what money is counted in").text().or(CURRENCY.to_owned());
    let quantity =
        table.key("quantity", "number of good converters wanted").integer(&QUANTITY).required();
    let failed = table
        .key(
            "failed_converter",
            "what becomes of a converter that fails: thrown away, or repaired until it is good",
        )
        .choice(Failed::ALL, Failed::name)
        .or(Failed::Scrapped);
    let failure_cost = table
        .key("failure_cost", "cost of one failed converter beyond its parts: disposal or repair")
        .number(PRICE, "12.50")
        .or(0.0);
    let other_cost = table
        .key("other_cost", "cost of building one converter beside the parts on offer")
        .number(PRICE, "80")
        .or(0.0);
    let sets = read_sets(&mut table, offers.as_deref());
    table.finish();
    Some(Grades {
        currency: currency?,
        quantity: quantity?,
        failed: failed?,
        failure_cost: failure_cost?,
        other_cost: other_cost?,
        offers: offers?,
        sets: sets?,
    })
}

/// The sets listed as `combinations`, or all that there can be.
fn read_sets(table: &mut Table<'_>, offers: Option<&[Offer]>) -> Option<Vec<Vec<usize>>> {
    let field = table.key(
        "combinations",
        "the sets of grades to compare, at most 500; each names a grade for every part on offer",
    );
    let place = field.key_span();
    if place.is_none() {
        let offers = offers?;
        let many = offers.iter().try_fold(1_usize, |n, o| n.checked_mul(o.grades.len()));
        if many.is_none_or(|n| n > MOST_SETS) {
            let message = format!("the grades on offer make more than {MOST_SETS} sets");
            table.report_at(place, message, "expected `combinations`, or fewer grades");
            return None;
        }
        return Some(all_sets(offers));
    }
    let tables = field.tables(Presence::Optional("all sets"));
    if tables.len() > MOST_SETS {
        let message = format!("`combinations` lists {} sets", tables.len());
        table.report_at(place, message, &format!("expected at most {MOST_SETS}"));
        return None;
    }
    let mut seen = Vec::new();
    let sets: Vec<_> = tables.into_iter().map(|own| read_set(own, offers?, &mut seen)).collect();
    if sets.is_empty() { None } else { sets.into_iter().collect() }
}

fn read_set(
    mut table: Table<'_>,
    offers: &[Offer],
    seen: &mut Vec<Vec<usize>>,
) -> Option<Vec<usize>> {
    let choices: Vec<_> = offers.iter().map(|offer| read_choice(&mut table, offer)).collect();
    let set = choices.into_iter().collect::<Option<Vec<usize>>>();
    if let Some(set) = &set {
        if seen.contains(set) {
            let message = "this combination is listed twice".to_owned();
            table.report_at(None, message, "expected each combination once");
        }
        seen.push(set.clone());
    }
    table.finish();
    set
}

fn read_choice(table: &mut Table<'_>, offer: &Offer) -> Option<usize> {
    let key = offer.parameter.key();
    let field = table.key_of(offer.parameter, "name of the grade of this part");
    let place: Option<Range<usize>> = field.value_span();
    let name = field.text().required()?;
    let known = offer.grades.iter().position(|grade| grade.name == name);
    if known.is_none() {
        let names: Vec<_> = offer.grades.iter().map(|g| format!("\"{}\"", g.name)).collect();
        let message = format!("`{key}` has no grade \"{name}\"");
        table.report_at(place, message, &format!("expected {}", names.join(" or ")));
    }
    known
}

/// Every choice of one grade an offer, the last offer changing fastest.
fn all_sets(offers: &[Offer]) -> Vec<Vec<usize>> {
    offers.iter().map(|offer| 0..offer.grades.len()).multi_cartesian_product().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::{Scenario, Shape};

    /// The data in it are invented.
    const SHELF: &str = include_str!("../../tests/data/shelf.toml");
    const GRADES: &str = r#"
[grades]
quantity = 500
failed_converter = "rework"
failure_cost = 12.5
other_cost = 80

[[grade.resonant_inductance]]
name = "ground"
shape = "normal"
band = "3 %"
price = 2.4
lead_time_weeks = 8
minimum_quantity = 2000

[[grade.resonant_inductance]]
name = "as pressed"
shape = "uniform"
band = "10 %"
price = 1

[[grade.flying_capacitance]]
name = "film"
shape = "uniform"
band = "5 %"
lot_share = 0.5
price = 3
"#;

    fn grades(text: &str) -> Grades {
        let scenario = Scenario::parse("shelf.toml", &format!("{SHELF}{text}"));
        scenario.unwrap_or_else(|errors| panic!("{errors}")).grades.unwrap()
    }

    #[test]
    fn grades_read_as_written_the_cheapest_first() {
        let read = grades(GRADES);
        assert_eq!((read.currency.as_str(), read.quantity), ("credits", 500));
        assert_eq!(
            (read.failed, read.failure_cost, read.other_cost),
            (Failed::Reworked, 12.5, 80.0)
        );
        let names = |n: usize| -> Vec<&str> {
            read.offers[n].grades.iter().map(|g| g.name.as_str()).collect()
        };
        assert_eq!((names(0), names(1)), (vec!["as pressed", "ground"], vec!["film"]));
        let ground = &read.offers[0].grades[1];
        assert_eq!(ground.tolerance.shape, Shape::normal(3.0));
        assert_eq!(
            (ground.price, ground.lead_time, ground.minimum_quantity),
            (2.4, Some(8.0), 2000)
        );
        let film = &read.offers[1].grades[0];
        assert_eq!((film.tolerance.band, film.tolerance.lot_share), (0.05, 0.5));
        assert_eq!((film.lead_time, film.minimum_quantity), (None, 1));
        assert_eq!(read.sets, [[0, 0], [1, 0]]);
    }

    #[test]
    fn a_subset_is_taken_as_listed() {
        let one = "other_cost = 80\ncombinations = [\n  \
            { resonant_inductance = \"ground\", flying_capacitance = \"film\" },\n]\n";
        assert_eq!(grades(&GRADES.replace("other_cost = 80\n", one)).sets, [[1, 0]]);
    }

    #[test]
    fn a_scenario_without_grades_has_none() {
        assert_eq!(Scenario::parse("shelf.toml", SHELF).unwrap().grades, None);
    }

    #[test]
    fn all_sets_by_hand() {
        let offer = |n: usize| Offer {
            parameter: Parameter::TurnsRatio,
            grades: vec![grades(GRADES).offers[1].grades[0].clone(); n],
        };
        let sets = all_sets(&[offer(2), offer(1), offer(3)]);
        let wanted = [[0, 0, 0], [0, 0, 1], [0, 0, 2], [1, 0, 0], [1, 0, 1], [1, 0, 2]];
        assert_eq!(sets, wanted);
    }
}
