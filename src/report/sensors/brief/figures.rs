//! Figures of the brief, each under its finding.

use crate::converter::Arrangement;
use crate::report::format::figures::{
    Ends, FactorStrip, FigureWidth, LimitUse, Mark, Name, PriceLines, StripPart, UsedLimit,
    VariantRow, VariantRows, factor_strips, limit_uses, price_lines, variant_rows,
};
use crate::report::format::names;
use crate::report::format::numbers::{
    self, counted, given_percent, money, signed, signed_money, yield_in_few_digits,
};
use crate::report::format::page::brief::{Finding, both_widths};
use crate::report::format::page::parts::range;
use crate::report::sensors::words as told;
use crate::scenario::Scenario;
use crate::statistics::Verdict;
use crate::study::common::demand::Demand;
use crate::study::common::figures::Figure;
use crate::study::sensors::{
    BillOfParts, Robustness, ScaledQuantity, Sensitivity, SensorStudy, TargetComparison, Variant,
    VariantResult,
};

fn name(id: &str, title: &str, description: &str) -> Name {
    Name { id: format!("brief-{id}"), title: title.to_owned(), description: description.to_owned() }
}

/// Class of the shapes of a variant.
pub(in crate::report::sensors) fn class(variant: Variant) -> &'static str {
    match variant {
        Variant::Paralleled => "paralleled",
        Variant::Chain => "chain",
        Variant::ParalleledWithSensors => "sensed-paralleled",
        Variant::ChainWithSensors => "sensed-chain",
    }
}

/// The four variants in rows.
pub(super) fn variants(scenario: &Scenario, study: &SensorStudy) -> Finding {
    let limit = scenario
        .limits
        .sharing_error
        .map(|value| Mark { value, label: format!("limit {}", given_percent(value)) });
    let target = given_percent(scenario.limits.yield_target);
    let pair = |head: &str, below: String| [head.to_owned(), below];
    let shown = VariantRows {
        rows: study.variants.iter().map(|own| row(study, own)).collect(),
        limit,
        heads: [
            pair("good", format!("target {target}")),
            pair("cost per", "good one".to_owned()),
            pair("failures", "in 10⁹ h".to_owned()),
        ],
    };
    let drawn = |id: &str, width: FigureWidth| {
        let title = "Sharing error, yield, cost and failure rate of the four variants";
        let text = "A row a variant: the middle 90 % of its sharing errors as a box with the median, a line to the largest.";
        variant_rows(&name(id, title, text), &shown, width)
    };
    Finding {
        heading: variants_heading(study),
        remark: Some(
            "Box: the middle 90 % of the converters, with the median; line: to the largest."
                .to_owned(),
        ),
        inside: both_widths(
            &drawn("variants", FigureWidth::Wide),
            &drawn("variants-narrow", FigureWidth::Narrow),
        ),
    }
}

/// What the chain costs against sensors in its place.
fn variants_heading(study: &SensorStudy) -> String {
    let change = study.difference(Variant::ParalleledWithSensors, Variant::Chain).ok();
    let more = change.and_then(|own| own.price_per_good);
    match more {
        Some(more) if more >= 0.0 => {
            format!("Sensors instead of the chain cost {} more per good converter", money(more))
        }
        Some(more) => {
            format!("Sensors instead of the chain cost {} less per good converter", money(-more))
        }
        None => "The four ways to build it".to_owned(),
    }
}

fn row(study: &SensorStudy, own: &VariantResult) -> VariantRow {
    let sign = match own.verdict {
        Verdict::Pass => "✓",
        Verdict::Fail => "✗",
        Verdict::NotDecided => "?",
    };
    let percent = |share: f64| yield_in_few_digits(share);
    let is_reference = own.variant == Variant::Chain;
    let change = study.difference(own.variant, Variant::Chain).ok().filter(|_| !is_reference);
    let cost = own.price_per_good().map_or_else(|| "none good".to_owned(), money);
    let more = change.and_then(|change| change.price_per_good).map_or(String::new(), signed_money);
    let oftener = change.map_or(String::new(), |change| signed(change.failure_rate, 0));
    let lower = percent(own.good.lower);
    VariantRow {
        class: class(own.variant),
        arrangement: own.variant.arrangement().name(),
        label: told::name(own.variant),
        remark: added(own),
        errors: own.sharing.as_ref().map(range),
        good: [format!("{sign} {}", percent(own.good.estimate)), format!("from {lower}")],
        cost: [cost, more],
        rate: [format!("{:.0}", own.bill.failure_rate), oftener],
        is_taken: study.decision().cheapest == Some(own.variant),
    }
}

/// The parts that a variant adds.
fn added(own: &VariantResult) -> String {
    let BillOfParts { flying_capacitors, sensors, trim_elements, .. } = own.bill;
    let capacitors = (flying_capacitors > 0).then(|| format!("{flying_capacitors}\u{a0}Cf"));
    // Each sensor has its trim element, where that is of any use.
    let trims = if trim_elements > 0 { " + trims" } else { "" };
    let sensors = (sensors > 0).then(|| counted(sensors as u64, "sensor") + trims);
    let told: Vec<String> = capacitors.into_iter().chain(sensors).collect();
    if told.is_empty() { "nothing added".to_owned() } else { told.join(", ") }
}

/// How much wider bands, and how much larger errors of sensors, each variant bears.
pub(super) fn robustness(scenario: &Scenario, study: &SensorStudy) -> Option<Finding> {
    let strips: Vec<FactorStrip> = study.sensitivities.iter().map(strip).collect();
    (!strips.is_empty()).then_some(())?;
    let target = given_percent(scenario.limits.yield_target);
    let title = "How much wider bands and how much larger sensor errors each variant bears";
    let text = "Strips over a factor: filled where the target is met, pale where the samples do not decide.";
    Some(Finding {
        heading: robust_heading(scenario, study),
        remark: Some(format!(
            "Filled: {target} is met. Pale: not decided. Dashed: missed. The search ends with the strip."
        )),
        inside: factor_strips(&name("robustness", title, text), &strips),
    })
}

/// Up to which factor on the bands the answer holds.
fn robust_heading(scenario: &Scenario, study: &SensorStudy) -> String {
    let bands = study.sensitivities.iter().find(|own| {
        own.question.variant == Variant::Chain && own.question.scaled == ScaledQuantity::Bands
    });
    let found = bands.map(|own| study.robustness(own, scenario.limits.yield_target));
    match found {
        Some(Robustness::Changes(even) | Robustness::Holds(even)) => {
            let (times, verb) = match (even.found.factor >= 1.0, even.found.lower, even.found.upper)
            {
                (true, Some(lower), _) => (lower, "bears bands up to"),
                (false, _, Some(upper)) => (upper, "fails even with bands of"),
                _ => (even.found.factor, "is at its target with bands of about"),
            };
            format!("The chain {verb} {} times those assumed", numbers::three(times))
        }
        Some(Robustness::NoBreakEven(span)) => {
            let ends = [span.from, span.to].map(numbers::three);
            format!("The chain’s verdict holds from {} to {} times the bands", ends[0], ends[1])
        }
        Some(Robustness::NotSecured { .. }) => {
            "The samples do not secure the chain’s verdict".to_owned()
        }
        None => "How much wider bands the answer bears".to_owned(),
    }
}

fn strip(search: &Sensitivity) -> FactorStrip {
    let variant = search.question.variant;
    let quantity = match search.question.scaled {
        ScaledQuantity::Bands => "all part bands",
        ScaledQuantity::SensorErrors => "all sensor errors",
    };
    let next = search.spans.iter().skip(1).map(|span| span.from);
    let last = search.spans.last().map(|span| span.to);
    let parts = search.spans.iter().zip(next.chain(last)).map(|(span, to)| StripPart {
        ends: Ends { from: span.from, to },
        meets: match span.comparison {
            TargetComparison::Meets => Some(true),
            TargetComparison::Misses => Some(false),
            TargetComparison::LikelyMeets | TargetComparison::LikelyMisses => None,
        },
    });
    let even = search.nearest().map(|own| own.found.factor);
    let parts: Vec<StripPart> = parts.collect();
    let (least, most) = search.factor_range();
    let is_any = |meets: bool| parts.iter().any(|part| part.meets == Some(meets));
    // Where the target is met, or missed, all along the strip.
    let no_end = match (is_any(true), is_any(false)) {
        (true, _) => format!("> {}", numbers::factor(most)),
        (false, true) => format!("< {}", numbers::factor(least)),
        (false, false) => "not decided".to_owned(),
    };
    FactorStrip {
        class: variant.arrangement().name(),
        label: format!("{}: {quantity}", told::name(variant)),
        parts,
        even,
        text: even.map_or(no_end, |even| format!("× {}", numbers::three(even))),
    }
}

/// The price of sensor and trim element at which both ways cost the same.
pub(super) fn price(study: &SensorStudy) -> Option<Finding> {
    let sensed = study.variant(Variant::ParalleledWithSensors);
    let chain = study.variant(Variant::Chain);
    let even = sensed.break_even?;
    let rising = sensed.cost_over_price()?;
    let shown = PriceLines {
        axis: "price of sensor and trim element together, per phase".to_owned(),
        rising: [rising.at_zero, rising.per_unit],
        rising_name: [told::name(Variant::ParalleledWithSensors), "paralleled".to_owned()],
        level: chain.price_per_good()?,
        level_name: [told::name(Variant::Chain), "chain".to_owned()],
        today: even.today,
        even: Some(even.estimate).filter(|price| *price > 0.0),
        interval: even.interval.map(|own| Ends { from: own.lower, to: own.upper }),
    };
    let heading = if even.is_never_met() {
        "Even free sensors would cost more than the chain".to_owned()
    } else if even.is_secured() && !even.is_met_today() {
        below_price(even.estimate)
    } else if even.is_secured() {
        format!("Sensors cost less than the chain up to {} per phase", money(even.estimate))
    } else {
        format!("Both cost about the same: break-even at {} per phase", money(even.estimate))
    };
    let title = "Cost per good converter over the price of sensor and trim element";
    let text =
        "A rising line with sensors, a level line for the chain, the crossing and today's price.";
    Some(Finding {
        heading,
        remark: None,
        inside: price_lines(&name("price", title, text), &shown),
    })
}

/// What sensors would have to cost; nobody gives them away.
fn below_price(price: f64) -> String {
    if told::is_a_price(price) {
        format!("Sensors would have to cost less than {} per phase", money(price))
    } else {
        "Even free sensors are not shown to cost less than the chain".to_owned()
    }
}

/// What each variant uses of its switches' ratings.
pub(super) fn switches(scenario: &Scenario, study: &SensorStudy) -> Option<Finding> {
    let limited = [Figure::WorstSwitchRms, Figure::WorstSwitchPeak, Figure::WorstBlocking];
    let demands = Arrangement::ALL.map(|own| Demand::all(&scenario.limits, own));
    let mut uses = Vec::new();
    let mut most: f64 = 0.0;
    for figure in limited {
        let mut label = String::new();
        let mut bars = Vec::new();
        // Sensors on top of the chain leave its currents as they are.
        for own in study.variants.iter().filter(|own| own.variant != Variant::ChainWithSensors) {
            let place = usize::from(own.variant.arrangement() == Arrangement::Paralleled);
            let Some(demand) = demands[place].iter().find(|d| d.figure == Some(figure)) else {
                continue;
            };
            let bar = used(own, demand);
            label = names::limit(demand).short;
            if own.variant == Variant::Chain {
                most = most.max(bar.share);
            }
            bars.push(bar);
        }
        if !bars.is_empty() {
            uses.push(LimitUse { label, bars });
        }
    }
    (!uses.is_empty()).then_some(())?;
    let title = "Use of the switches' limits by the four variants";
    let text = "Bars in percent of the limit; a pointed one goes on. The numbers beside them are variant, value and limit.";
    Some(Finding {
        heading: match most {
            most if most <= 1.0 => {
                format!(
                    "The chain uses {} of its switches’ limits",
                    numbers::percent_of_three_up(most)
                )
            }
            f64::INFINITY => "Limits of switches: too many chains have no steady state".to_owned(),
            _ => "The chain exceeds a limit of its switches".to_owned(),
        },
        remark: Some(format!(
            "What {} of the samples stay below, good or not.",
            given_percent(scenario.limits.yield_target)
        )),
        inside: limit_uses(&name("switches", title, text), &uses),
    })
}

/// What a variant uses of a limit.
fn used(own: &VariantResult, demand: &Demand) -> UsedLimit {
    let at_target = match demand.figure {
        Some(Figure::WorstSwitchRms) => own.currents[0],
        Some(Figure::WorstSwitchPeak) => own.currents[1],
        _ => own.blocking,
    };
    let limit = numbers::of_three_digits(&names::limited_value(demand, demand.limit));
    let kept = |value: f64| numbers::of_three_digits_up(&names::limited_value(demand, value));
    let value = at_target.map(|own| own.value);
    let text = value.map_or_else(
        || "beyond".to_owned(),
        |value| numbers::without_same_unit(&kept(value), &limit).to_owned(),
    );
    UsedLimit {
        class: class(own.variant),
        share: value.map_or(f64::INFINITY, |value| demand.use_of(value)),
        text: format!("({}) {text} of {limit}", own.variant.letter()),
    }
}
