//! The price at which another set would be the cheapest.

use super::result::Ranking;
use crate::converter::Parameter;
use crate::scenario::Grades;

/// Halvings of the interval of prices.
const STEPS: usize = 60;

/// The price of one part below which the next set that meets the target costs less than the recommended one.
#[derive(Debug, Clone, PartialEq)]
pub struct RivalPrice {
    /// The part.
    pub parameter: Parameter,
    /// Its grade in that set.
    pub grade: String,
    /// The price of one part at which both sets cost the same, at the yields and quantities seen.
    pub price: f64,
    /// Its price now, at the quantity that is ordered.
    pub now: f64,
}

/// That price, of the part that needs the smallest cut; none without such a set, or where no price does.
/// Price breaks fall in proportion.
pub fn rival_price(ranking: &Ranking, grades: &Grades, target: f64) -> Option<RivalPrice> {
    let rival = ranking.runner_up(target)?;
    let wanted = ranking.recommended().cost.estimate;
    let chosen = rival.candidate.chosen(grades).zip(ranking.recommended().candidate.chosen(grades));
    let good = rival.good.estimate;
    let factors = chosen.enumerate().filter_map(|(place, ((offer, grade), (_, own)))| {
        let cost = |factor: f64| rival.model.with_price(place, factor).per_good(good);
        let is_other = grade.name != own.name && cost(0.0) < wanted && cost(1.0) > wanted;
        is_other.then(|| (place, (offer, grade), equal_factor(&cost, wanted)))
    });
    let (place, (offer, grade), factor) = factors.max_by(|(.., a), (.., b)| a.total_cmp(b))?;
    // In proportion, so that the cheapest order stays as it is.
    let now = rival.model.ordered_price(place, good)?;
    let (parameter, grade) = (offer.parameter, grade.name.clone());
    Some(RivalPrice { parameter, grade, price: factor * now, now })
}

/// Where a cost that rises with the factor reaches the one wanted.
fn equal_factor(cost: &impl Fn(f64) -> f64, wanted: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..STEPS {
        let middle = 0.5 * (low + high);
        *(if cost(middle) > wanted { &mut high } else { &mut low }) = middle;
    }
    low
}
