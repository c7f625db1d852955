//! The case for or against current sensors, in words that terminal and page share, and its outputs.

mod flips;
pub mod json;
pub mod terminal;

pub(super) use self::flips::flips;
use super::terminal::{grouped, percent, yield_percent};
use crate::scenario::Scenario;
use crate::statistics::{Verdict, Yield};
use crate::study::sensors::{SensorStudy, Unfinished, Variant, VariantResult};

/// A variant in a table: `(b) chain`.
pub(super) fn name(variant: Variant) -> String {
    let words = match variant {
        Variant::Paralleled => "paralleled",
        Variant::Chain => "chain",
        Variant::ParalleledWithSensors => "paralleled + sensors",
        Variant::ChainWithSensors => "chain + sensors",
    };
    format!("({}) {words}", variant.letter())
}

/// The answer in a sentence.
pub(super) fn headline(study: &SensorStudy) -> &'static str {
    match study.verdict() {
        Verdict::Pass => "The sensors can be dropped: the chain alone meets the target.",
        Verdict::Fail => "The sensors cannot be dropped: the chain alone misses the target.",
        Verdict::NotDecided => {
            "Not decided: the target lies inside the interval of the chain's yield."
        }
    }
}

/// A yield with its interval.
pub(super) fn with_interval(good: &Yield) -> String {
    let [estimate, lower, upper] = [good.estimate, good.lower, good.upper].map(yield_percent);
    format!("{estimate} ({lower} to {upper})")
}

/// The numbers that carry the answer, a sentence each.
pub(super) fn carrying(scenario: &Scenario, study: &SensorStudy) -> Vec<String> {
    let chain = study.of(Variant::Chain);
    let mut all = vec![format!(
        "(b) meets every limit at every operating point in {} of {} converters: {} against a \
         target of {}.",
        grouped(chain.good.successes),
        grouped(study.samples),
        with_interval(&chain.good),
        yield_percent(scenario.limits.yield_target),
    )];
    if chain.verdict == Verdict::NotDecided {
        all.push(chain.samples_to_decide.map_or_else(
            || "No practical number of samples would decide.".to_owned(),
            |n| format!("About {} samples would decide, at this proportion.", grouped(n)),
        ));
    }
    all.push(on_top(study));
    all.push(instead(study));
    all.extend(ratings(study));
    all.push(costs(study));
    all
}

/// What sensors buy on top of the chain.
fn on_top(study: &SensorStudy) -> String {
    let (gained, lost) = study.apart(Variant::ChainWithSensors, Variant::Chain);
    let both = study.of(Variant::ChainWithSensors);
    let loops = both.loops.map_or(0.0, |l| l.at_end);
    let [with, without] = [Variant::ChainWithSensors, Variant::Chain].map(Variant::index);
    let difference = study.pairs.counts(with, without).difference(both.good.confidence);
    let worth = match difference {
        Ok(d) if d.lower > 0.0 => "Sensors on top of the chain buy yield",
        Ok(d) if d.upper < 0.0 => "Sensors on top of the chain cost yield",
        _ => "The samples do not tell whether sensors on top of the chain buy yield",
    };
    format!(
        "{worth}: of converters that (b) fails (d) saves {}, of those it keeps (d) spoils {}; p95 of the \
         sharing error {} against {}. {} of its phases stand at the end of the trim range.",
        grouped(gained),
        grouped(lost),
        p95(both),
        p95(study.of(Variant::Chain)),
        percent(loops),
    )
}

/// What sensors do instead of the chain.
fn instead(study: &SensorStudy) -> String {
    let with = study.of(Variant::ParalleledWithSensors);
    format!(
        "Sensors instead of the chain, (c): {} good, {} of (a) without either; p95 of the sharing \
         error {}.",
        with_interval(&with.good),
        yield_percent(study.of(Variant::Paralleled).good.estimate),
        p95(with),
    )
}

/// The 95 % quantile of a variant's sharing error.
fn p95(result: &VariantResult) -> String {
    result.sharing.map_or_else(|| "unknown".into(), |s| percent(s.p95))
}

/// The rating of (b), and how much smaller a switch may be than with the currents of (a) and (c).
fn ratings(study: &SensorStudy) -> Option<String> {
    let chain = study.of(Variant::Chain);
    let (rating, over) = (chain.ratings[0]?.current, chain.oversize()[0]?);
    let against = |variant: Variant| {
        let other = study.of(variant).oversize()[0]?;
        let as_uneven = other * chain.nominal[0];
        let less = as_uneven - rating;
        let how = if less >= 0.0 { "smaller" } else { "larger" };
        Some(format!(
            "{:.2} A or {} {how} than with currents as uneven as in ({}), {as_uneven:.2} A or \
             {other:.3} times",
            less.abs(),
            percent((less / as_uneven).abs()),
            variant.letter(),
        ))
    };
    let each =
        [Variant::Paralleled, Variant::ParalleledWithSensors].into_iter().filter_map(against);
    let each: Vec<_> = each.collect();
    let told = if each.is_empty() {
        String::new()
    } else {
        format!("; a switch may be {}", each.join("; "))
    };
    Some(format!(
        "RMS switch rating at the target yield: (b) {rating:.2} A, {over:.3} times the nominal \
         converter's worst switch{told}."
    ))
}

fn costs(study: &SensorStudy) -> String {
    let of = |variant: Variant| {
        let result = study.of(variant);
        let price = result.price_per_good().map_or_else(|| "none good".into(), money);
        let (letter, fit) = (variant.letter(), result.bill.failure_rate);
        let (added, year) = (result.bill.added(), percent(a_year(fit)));
        format!("({letter}) {price}, {added} parts, {fit:.0} FIT or {year} a year")
    };
    let each = Variant::ALL.map(of);
    format!(
        "Price for a good converter, added parts that can fail, and failure rate of all: {}.",
        each.join("; ")
    )
}

/// Hours of a year.
const YEAR: f64 = 8760.0;

/// Share of converters that fail within a year of service at a constant rate in FIT, failures in
/// 10⁹ hours: 1 − exp(−λt).
pub(super) fn a_year(fit: f64) -> f64 {
    -libm::expm1(-fit * 1e-9 * YEAR)
}

/// A sum of money.
pub(super) fn money(amount: f64) -> String {
    format!("{amount:.2}").replace('-', "−")
}

/// What is missing of a study that was stopped.
pub(super) fn unfinished(study: &SensorStudy) -> Option<String> {
    Some(match study.unfinished? {
        Unfinished::Samples => format!(
            "PARTIAL: stopped after {} of {} samples; break-even factors were not searched for.",
            grouped(study.samples),
            grouped(study.settings.samples)
        ),
        Unfinished::Factors => "PARTIAL: stopped before all break-even factors were found.".into(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 10⁹ h/8760 h = 114 155 FIT is once a year, of which 1 − 1/e fail within it.
    #[test]
    fn failures_a_year_by_hand() {
        assert!((a_year(1e9 / 8760.0) - 0.632_120_558_8).abs() < 1e-9);
        assert!((a_year(432.0) - 0.003_777_16).abs() < 1e-8, "{}", a_year(432.0));
    }

    #[test]
    fn money_has_a_minus() {
        assert_eq!((money(-1.9), money(3.456)), ("−1.90".into(), "3.46".into()));
    }
}
