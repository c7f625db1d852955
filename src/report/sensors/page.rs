//! The case for or against current sensors: one page to be pasted into a design review.

use maud::{Markup, html};

use crate::converter::{Parameter, Shared};
use crate::report::format::command;
use crate::report::format::figures::{self, Mark, Name, Row};
use crate::report::format::page::parts as verdict;
use crate::report::format::page::parts::{number, remarked, section};
use crate::report::format::page::{document, generator};
use crate::report::format::terminal;
use crate::report::format::words;
use crate::report::sensors as told;
use crate::scenario::{PerPart, Scenario, SensorRequest, Shape, Tolerance};
use crate::solver::Method;
use crate::statistics::Interval;
use crate::study::sensors::{SensorStudy, TargetQuantile, Variant, VariantResult};

/// The page.
pub(super) fn page(scenario: &Scenario, request: &SensorRequest, study: &SensorStudy) -> String {
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
            (section("verdict", "Can the current sensors go?", &answer(scenario, request, study)))
            (section("flips", "What would turn it over", &flips(scenario, study)))
            (section("variants", "The four variants", &variants(scenario, study)))
            (section("assumed", "Assumptions", &assumed(scenario, request)))
            (section("cautions", "Cautions", &cautions()))
            (section("reproduce", "Making it again", &reproduce(scenario, study)))
        }
    };
    document("Current sensors", &scenario.title, &fields, &inside)
}

fn answer(scenario: &Scenario, request: &SensorRequest, study: &SensorStudy) -> Markup {
    let mark = told::mark(study);
    html! {
        @if let Some(missing) = told::unfinished(study) { p class="notice" { strong { (missing) } } }
        @if study.settings.method == Method::Averaged {
            p class="notice" {
                strong { "A quick look only." } " The averaged solver flatters the sharing error; \
                a design review wants the exact one."
            }
        }
        @for notice in told::notices(scenario, request, study) {
            p class="notice" { (terminal::joined(&notice)) }
        }
        article class=(format!("card chain {}", verdict::verdict_class(mark))) {
            p class="word" {
                (verdict::verdict_sign(mark)) span { (terminal::joined(&told::headline(scenario, study))) }
            }
            (list(told::carrying(scenario, study)))
        }
    }
}

fn list(lines: Vec<String>) -> Markup {
    html! { ul class="findings" { @for line in lines { li { (terminal::joined(&line)) } } } }
}

fn flips(scenario: &Scenario, study: &SensorStudy) -> Markup {
    let flips = told::flips(scenario, study);
    html! {
        @if !flips.would.is_empty() { (list(flips.would)) }
        @if let Some(would_not) = flips.would_not { p { (terminal::joined(&would_not)) } }
        p class="remark" { (told::meaning(scenario)) }
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
            @for v in Variant::ALL { span { (figures::swatch(class(v))) " " (told::name(v)) } }
        }
    }
}

/// What a variant has in a row.
type Cell<'a> = Box<dyn Fn(&VariantResult) -> Markup + 'a>;
/// A row of the comparison: its name, and a cell of a variant.
type Line<'a> = (String, Cell<'a>);

fn comparison(scenario: &Scenario, study: &SensorStudy) -> Markup {
    let mut lines: Vec<Line> = vec![
        ("verdict".into(), Box::new(|v| number(words::verdict(v.verdict)))),
        ("yield, all limits and operating points".into(), Box::new(good)),
        ("sharing error p95, %".into(), Box::new(sharing)),
        ("the same, p50; p99; largest".into(), Box::new(quantiles)),
    ];
    lines.extend(switch_lines(scenario));
    lines.extend(part_lines());
    lines.extend(loop_lines());
    let caption = format!(
        "Four variants of the same converters; in small {} confidence intervals. Loss at “{}”",
        words::given_percent(scenario.limits.confidence),
        study.loss_point
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
    crate::report::format::page::parts::table(&caption, &head, &rows)
}

fn good(result: &VariantResult) -> Markup {
    let g = &result.good;
    let interval = Interval { lower: g.lower, upper: g.upper };
    let small = words::interval(Some(interval), words::yield_percent);
    remarked(&words::yield_percent(g.estimate), &small)
}

fn sharing(result: &VariantResult) -> Markup {
    result.sharing.as_ref().map_or_else(
        || number(words::NONE),
        |s| {
            remarked(&words::in_percent(s.p95), &words::interval(s.p95_interval, words::in_percent))
        },
    )
}

fn quantiles(result: &VariantResult) -> Markup {
    number(result.sharing.as_ref().map_or_else(
        || words::NONE.into(),
        |s| [s.p50, s.p99, s.max].map(words::in_percent).join("; "),
    ))
}

/// A current that may be missing.
fn current(value: Option<f64>) -> String {
    value.map_or_else(|| "none".into(), words::four)
}

fn switch_lines<'a>(scenario: &Scenario) -> Vec<Line<'a>> {
    let target = words::given_percent(scenario.limits.yield_target);
    let within = |v: &VariantResult| match v.currents[0] {
        Some(TargetQuantile { value, interval }) => {
            remarked(&words::four(value), &words::interval(interval, words::four))
        }
        None => number(words::NONE),
    };
    let surely =
        |n: usize| move |v: &VariantResult| current(v.ratings[n].and_then(|r| r.required_rating()));
    let [rms, peak] = [surely(0), surely(1)];
    vec![
        (format!("RMS switch current that {target} keep to, A"), Box::new(within)),
        (
            "over that of the nominal converter; largest seen, A".into(),
            Box::new(|v| {
                let most = v.rms.map(|s| s.max);
                number(format!("{}; {}", current(v.oversize()[0]), current(most)))
            }),
        ),
        (
            format!("rating that surely gives {target} good, RMS; peak, A"),
            Box::new(move |v| number(format!("{}; {}", rms(v), peak(v)))),
        ),
        (
            "blocking voltage of the worst switch, V".into(),
            Box::new(|v| number(current(v.blocking.map(|b| b.value)))),
        ),
    ]
}

fn part_lines<'a>() -> Vec<Line<'a>> {
    vec![
        (
            "mean loss, W".into(),
            Box::new(|v| {
                number(v.loss.map_or_else(|| words::NONE.into(), |s| words::four(s.mean)))
            }),
        ),
        (
            "parts added that can fail: capacitors, sensors, trims".into(),
            Box::new(|v| {
                let b = &v.bill;
                number(format!("{}, {}, {}", b.flying_capacitors, b.sensors, b.trim_elements))
            }),
        ),
        (
            "price; of a good converter".into(),
            Box::new(|v| {
                let good = v.price_per_good().map_or_else(|| "none".into(), told::money);
                number(format!("{}; {good}", told::money(v.bill.price)))
            }),
        ),
        (
            "failure rate, FIT; failing within a year".into(),
            Box::new(|v| {
                let fit = v.bill.failure_rate;
                number(format!("{fit:.0}; {}", words::percent(told::a_year(fit))))
            }),
        ),
        (
            "break-even price of sensor and trim, a phase".into(),
            Box::new(|v| {
                number(v.break_even.map_or_else(|| words::NONE.into(), |p| told::money(p.estimate)))
            }),
        ),
    ]
}

fn loop_lines<'a>() -> Vec<Line<'a>> {
    vec![
        (
            "phases at the end of the trim range".into(),
            Box::new(|v| {
                number(v.loops.map_or_else(|| words::NONE.into(), |l| words::percent(l.at_end)))
            }),
        ),
        (
            "out of range; not solved".into(),
            Box::new(|v| {
                let [_, out, lost] = v.counts.map(words::count);
                number(format!("{out}; {lost}"))
            }),
        ),
    ]
}

fn curves(scenario: &Scenario, study: &SensorStudy) -> Markup {
    let series: Vec<(&str, figures::Banded)> = study
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
    figures::curves(&name, "sharing error, logarithmic scale", &series, limit.as_ref(), &target)
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
    figures::ranges(&name, "RMS current of the worst switch / nominal", &rows, Some(&nominal))
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
                (error("offset", request.offset, ampere)) "."
            }
            li {
                "TrimLoops trim the " (trimmed) " by ±\u{a0}" (words::given_percent(request.trim_range))
                " of its own value until the readings agree; the mean trim stays zero; a phase at an \
                 end stays there. Each settled state is solved, not assumed."
            }
            li { "Parts: " (bands.collect::<Vec<_>>().join(", ")) "." }
            (rescaled(scenario, request))
            li {
                "Prices, " (each(&request.price)) ", and failure rates in FIT, "
                (each(&request.failure_rate)) ", are the user’s. Rates are added up as if each part \
                 failed the converter. Switches, magnetics and control that differ between chain \
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

/// A price or a rate of every kind of part.
fn each(all: &PerPart) -> String {
    format!(
        "converter {}, flying capacitor {}, sensor {}, trim element {}",
        all.converter, all.flying_capacitor, all.sensor, all.trim_element
    )
}

/// What holds of paralleled tanks, a sentence a quantity.
fn rescaled(scenario: &Scenario, request: &SensorRequest) -> Markup {
    let n = scenario.phases;
    let of_output = request.measured == Shared::OutputCurrent;
    html! {
        li {
            "Sensor and trim element add " (words::quantity(request.added_resistance)) " and "
            (words::quantity(request.standing_loss)) " a phase; paralleled, each tank is rescaled \
             to the whole input, where the resistance stands for " (n * n) " times as much."
            @if request.offset.is_some() {
                @if of_output {
                    " The offset is one of the output current, and the same in all variants."
                } @else {
                    " The offset is one of the original tank’s current: a paralleled sensor’s is 1/"
                    (n) " of it."
                }
            }
            " Switch currents are those of the real switches."
        }
    }
}

/// Those of [`prose`](prose), short enough for one sheet.
fn cautions() -> Markup {
    html! {
        p {
            strong { "High voltage can kill." } " Flying and resonant capacitors stay charged after \
             switch-off: discharge them and measure before touching anything. "
            strong { "A wrong rating can burn." } " The figures hold no margins for what the model \
             leaves out, faults, start-up and temperature among them. They defer to the applicable \
             standards, to local codes and to the judgement of qualified engineers, and do not \
             replace measurements on hardware."
        }
    }
}

fn reproduce(scenario: &Scenario, study: &SensorStudy) -> Markup {
    html! {
        p {
            code { (command::sensors(scenario, study.settings)) }
            " in the folder of the scenario; every figure is in " code { "summary.json" } "."
        }
    }
}
