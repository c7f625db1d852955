//! The case for or against current sensors: one page to be pasted into a design review.

use maud::{Markup, html};

use super::parts::{number, remarked, section};
use super::{command, document, generator, prose, verdict, words};
use crate::converter::Parameter;
use crate::report::sensors as told;
use crate::report::svg::{self, Mark, Name, Row};
use crate::scenario::{Scenario, SensorRequest, Shape, Tolerance};
use crate::solver::Method;
use crate::statistics::{Interval, Summary};
use crate::study::sensors::{Rating, SensorStudy, Variant, VariantResult};

/// The page.
pub fn sensors_page(scenario: &Scenario, request: &SensorRequest, study: &SensorStudy) -> String {
    let fields = [
        ("scenario", scenario.source_name.clone()),
        ("version", generator()),
        ("phases", scenario.phases.to_string()),
        ("samples", words::count(study.samples)),
        ("seed", study.settings.seed.to_string()),
        ("solver", words::method(study.settings.method).to_owned()),
    ];
    let inside = html! {
        main class="review" {
            (section("verdict", "Can the current sensors go?", &answer(scenario, study)))
            (section("flips", "What would turn it over", &flips(scenario, study)))
            (section("variants", "The four variants", &variants(scenario, study)))
            (section("assumed", "Assumptions", &assumed(scenario, request)))
            (section("cautions", "Cautions", &cautions()))
            (section("reproduce", "Making it again", &reproduce(scenario, study)))
        }
    };
    document("Current sensors", &scenario.title, &fields, &inside)
}

fn answer(scenario: &Scenario, study: &SensorStudy) -> Markup {
    html! {
        @if let Some(missing) = told::unfinished(study) { p class="notice" { strong { (missing) } } }
        @if study.settings.method == Method::Averaged {
            p class="notice" {
                strong { "A quick look only." } " The averaged solver flatters the sharing error; \
                a design review wants the exact one."
            }
        }
        article class=(format!("card chain {}", verdict::class(study.verdict()))) {
            p class="word" { (verdict::sign(study.verdict())) (told::headline(study)) }
            (list(told::carrying(scenario, study)))
        }
    }
}

fn list(lines: Vec<String>) -> Markup {
    html! { ul class="findings" { @for line in lines { li { (joined(&line)) } } } }
}

/// The line with no break within a number, nor between it and its per cent sign or ampere.
fn joined(line: &str) -> String {
    let mut last = ' ';
    let mut rest = line.chars().peekable();
    let mut text = String::new();
    while let Some(c) = rest.next() {
        let next = rest.peek().copied().unwrap_or(' ');
        let holds = last.is_ascii_digit() && (next.is_ascii_digit() || "%A".contains(next));
        text.push(if c == ' ' && holds { '\u{a0}' } else { c });
        last = c;
    }
    text
}

fn flips(scenario: &Scenario, study: &SensorStudy) -> Markup {
    html! {
        (list(told::flips(scenario, study)))
        p class="remark" {
            "Surely: by the whole interval, of the yield or of the difference on the same samples. \
             Factors to 1 %. Prices: equal costs per good converter."
        }
    }
}

fn class(variant: Variant) -> &'static str {
    match variant {
        Variant::Paralleled => "paralleled",
        Variant::Chain => "chain",
        Variant::ParalleledWithSensors => "sensed-paralleled",
        Variant::ChainWithSensors => "sensed-chain",
    }
}

fn variants(scenario: &Scenario, study: &SensorStudy) -> Markup {
    html! {
        (comparison(scenario, study))
        div class="figures" {
            figure { (curves(scenario, study)) figcaption {
                (legend()) b { "Sharing error." } " Share of samples within; " (words::sharing(scenario.limits.sharing)) "."
            } }
            figure { (currents(study)) figcaption {
                b { "RMS current of the worst switch" } " over that of the nominal converter: \
                least to greatest, box 5 % to 95 %, tick median."
            } }
        }
    }
}

fn legend() -> Markup {
    html! {
        span class="legend" {
            @for v in Variant::ALL { span { (svg::swatch(class(v))) " " (told::name(v)) } }
        }
    }
}

/// A row of the comparison: its name, and a cell of a variant.
type Line<'a> = (&'a str, Box<dyn Fn(&VariantResult) -> Markup + 'a>);

fn comparison(scenario: &Scenario, study: &SensorStudy) -> Markup {
    let loss = format!("mean loss at “{}”, W", study.loss_point);
    let mut lines: Vec<Line> = vec![
        ("verdict", Box::new(|v| number(words::verdict(v.verdict)))),
        ("yield, all limits and operating points", Box::new(good)),
    ];
    lines.extend(error_lines());
    lines.extend(current_lines());
    lines.push((
        &loss,
        Box::new(|v| number(v.loss.map_or_else(|| words::NONE.into(), |s| words::four(s.mean)))),
    ));
    lines.extend(part_lines());
    let caption = format!(
        "Four variants of the same converters; in small {} confidence intervals",
        words::given_percent(scenario.limits.confidence)
    );
    let head = html! {
        tr {
            th scope="col" class="text" { "" }
            @for v in Variant::ALL { th scope="col" { (told::name(v)) } }
        }
    };
    let rows = html! {
        @for (name, cell) in &lines {
            tr {
                th scope="row" class="wraps" { (name) }
                @for result in &study.variants { (cell(result)) }
            }
        }
    };
    super::parts::table(&caption, &head, &rows)
}

fn good(result: &VariantResult) -> Markup {
    let g = &result.good;
    let interval = Interval { lower: g.lower, upper: g.upper };
    let small = words::interval(Some(interval), words::yield_percent);
    remarked(&words::yield_percent(g.estimate), &small)
}

fn error_lines<'a>() -> Vec<Line<'a>> {
    type Quantile = fn(&Summary) -> (f64, Option<Interval>);
    let quantile = |of: Quantile| {
        move |v: &VariantResult| match v.sharing.as_ref().map(of) {
            Some((x, i)) => remarked(&words::in_percent(x), &words::interval(i, words::in_percent)),
            None => number(words::NONE),
        }
    };
    vec![
        ("sharing error p50, %", Box::new(quantile(|s| (s.p50, s.p50_interval)))),
        ("p95, %", Box::new(quantile(|s| (s.p95, s.p95_interval)))),
        ("p99, %", Box::new(quantile(|s| (s.p99, s.p99_interval)))),
        (
            "largest seen, %",
            Box::new(|v| {
                let most = v.sharing.map(|s| words::in_percent(s.max));
                number(most.unwrap_or_else(|| words::NONE.into()))
            }),
        ),
    ]
}

fn current_lines<'a>() -> Vec<Line<'a>> {
    let rating = |n: usize| {
        move |v: &VariantResult| match v.ratings[n] {
            Some(Rating { current, interval }) => {
                remarked(&words::four(current), &words::interval(interval, words::four))
            }
            None => number(words::NONE),
        }
    };
    let over = |n: usize| {
        move |v: &VariantResult| {
            number(v.oversize()[n].map_or_else(|| words::NONE.into(), words::four))
        }
    };
    let most = |of: fn(&VariantResult) -> Option<Summary>| {
        move |v: &VariantResult| {
            number(of(v).map_or_else(|| words::NONE.into(), |s| words::four(s.max)))
        }
    };
    vec![
        ("worst switch seen, RMS, A", Box::new(most(|v| v.rms))),
        ("worst switch seen, peak, A", Box::new(most(|v| v.peak))),
        ("RMS rating for the target yield, A", Box::new(rating(0))),
        ("the same over the nominal converter’s", Box::new(over(0))),
        ("peak rating for the target yield, A", Box::new(rating(1))),
        ("the same over the nominal converter’s", Box::new(over(1))),
    ]
}

fn part_lines<'a>() -> Vec<Line<'a>> {
    vec![
        (
            "parts added that can fail: capacitors, sensors, trims",
            Box::new(|v| {
                let b = &v.bill;
                number(format!("{}, {}, {}", b.flying_capacitors, b.sensors, b.trim_elements))
            }),
        ),
        ("price", Box::new(|v| number(format!("{:.2}", v.bill.price)))),
        (
            "price for a good converter",
            Box::new(|v| {
                number(v.price_per_good().map_or_else(|| words::NONE.into(), |p| format!("{p:.2}")))
            }),
        ),
        (
            "failure rate, FIT; failing within a year",
            Box::new(|v| {
                let fit = v.bill.failure_rate;
                number(format!("{fit:.0}; {}", words::percent(told::a_year(fit))))
            }),
        ),
        (
            "phases at the end of the trim range",
            Box::new(|v| {
                number(v.loops.map_or_else(|| words::NONE.into(), |l| words::percent(l.at_end)))
            }),
        ),
        (
            "out of range; not solved",
            Box::new(|v| {
                let [_, out, lost] = v.counts.map(words::count);
                number(format!("{out}; {lost}"))
            }),
        ),
    ]
}

fn curves(scenario: &Scenario, study: &SensorStudy) -> Markup {
    let series: Vec<(&str, svg::Banded)> = study
        .variants
        .iter()
        .map(|v| {
            let points =
                v.curve.iter().map(|p| (p.limit, [p.good.estimate, p.good.lower, p.good.upper]));
            (class(v.variant), points.collect())
        })
        .collect();
    let name = Name {
        id: "sharing".into(),
        title: "Share of the samples within a sharing error".into(),
        description: "Cumulative curves with confidence bands for the four variants; the table \
                      above holds quantiles."
            .into(),
    };
    let limit = scenario
        .limits
        .sharing_error
        .map(|value| Mark { value, label: format!("limit {}", words::given_percent(value)) });
    let value = scenario.limits.yield_target;
    let target = Mark { value, label: format!("target {}", words::given_percent(value)) };
    svg::curves(&name, "sharing error, logarithmic scale", &series, limit.as_ref(), &target)
}

fn currents(study: &SensorStudy) -> Markup {
    let rows: Vec<Row> = study
        .variants
        .iter()
        .map(|v| Row {
            label: format!("({})", v.variant.letter()),
            ranges: v
                .rms
                .iter()
                .map(|s| {
                    let range = [s.min, s.p05, s.p50, s.p95, s.max];
                    (class(v.variant), range.map(|x| x / v.nominal[0]))
                })
                .collect(),
        })
        .collect();
    let name = Name {
        id: "currents".into(),
        title: "RMS current of the worst switch over the nominal converter's".into(),
        description: "Range over the samples for the four variants; the table above holds ratings."
            .into(),
    };
    let nominal = Mark { value: 1.0, label: "equal parts".into() };
    svg::ranges(&name, "RMS current of the worst switch / nominal", &rows, Some(&nominal))
}

fn error(name: &str, tolerance: Option<Tolerance>, band: fn(f64) -> String) -> String {
    let Some(t) = tolerance else { return format!("{name} none") };
    let end = match t.shape {
        Shape::Normal { sigmas } => format!(" at {sigmas} standard deviations"),
        _ => String::new(),
    };
    let lot = if t.lot_share > 0.0 {
        format!(", {} in common", words::given_percent(t.lot_share))
    } else {
        String::new()
    };
    format!("{name} {}, ±\u{a0}{}{end}{lot}", t.shape.name(), band(t.band))
}

fn ampere(x: f64) -> String {
    words::quantity(crate::units::Ampere(x))
}

fn assumed(scenario: &Scenario, request: &SensorRequest) -> Markup {
    let bands = scenario
        .tolerances
        .iter()
        .map(|(p, t)| format!("{} ±\u{a0}{}", words::parameter(p), words::given_percent(t.band)));
    let trimmed = match request.trim {
        Parameter::ResonantCapacitance => "resonant capacitance",
        _ => "resonant inductance",
    };
    html! {
        ul class="columns" {
            li {
                "Sensors measure the " (words::shared(request.measured)) ": "
                (error("gain error", request.gain_error, words::given_percent)) "; "
                (error("drift", request.drift, words::given_percent)) "; "
                (error("offset", request.offset, ampere))
                ". Offset, added resistance and currents of paralleled tanks are those of the \
                 original tanks; the rescaled converter carries 1/" (scenario.phases) " of them."
            }
            li {
                "Loops trim the " (trimmed) " by ±\u{a0}" (words::given_percent(request.trim_range))
                " of its own value until the readings agree; integrators fed with the deviation \
                 from the mean, so that the mean trim stays zero; a phase at an end stays there. \
                 Each settled state is solved, not assumed. Added: "
                (words::quantity(request.added_resistance)) " and "
                (words::quantity(request.standing_loss)) " a phase."
            }
            li { "Parts: " (bands.collect::<Vec<_>>().join(", ")) "." }
            li {
                "Failure rates are the user’s, added up over all parts as if each failed the \
                 converter, at a constant rate; prices likewise. The variants are given the same \
                 converter besides; switches, magnetics and control that differ between chain \
                 and paralleled are not priced."
            }
            li {
                "Model: stiff input and output, linear parts, duty 0.5 without dead time, ideal \
                 diodes with a fixed drop; the loops’ dynamics, noise and failures are outside. \
                 Converters out of range or not solved count as failures."
            }
        }
    }
}

fn cautions() -> Markup {
    html! { div class="columns" { (prose::cautions()) } }
}

fn reproduce(scenario: &Scenario, study: &SensorStudy) -> Markup {
    html! {
        p {
            code { (command::sensors(scenario, study.settings)) }
            " in the folder of the scenario; every figure is in " code { "summary.json" } "."
        }
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn numbers_and_their_units_stay_together() {
        let line = super::joined("in 2 000 of 9 at 5.1 % or 3 A");
        assert_eq!(line, "in 2\u{a0}000 of 9 at 5.1\u{a0}% or 3\u{a0}A");
    }
}
