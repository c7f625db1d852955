//! The page of a search for tolerance bands.

use maud::{Markup, html};

use super::parts::{headings, number, remarked, section, table};
use super::{appendix, command, document, prose, verdict, words};
use crate::converter::{Arrangement, Parameter};
use crate::report::bands::words as shared;
use crate::report::bands::words::Fate;
use crate::report::svg;
use crate::scenario::Scenario;
use crate::solver::Method;
use crate::study::bands::cheapest::Cheapest;
use crate::study::bands::edge::RESOLUTION;
use crate::study::bands::looks::{LOOKS, Look};
use crate::study::bands::map::Map;
use crate::study::bands::{Bands, Part, Row, Subject};

/// The whole page.
pub fn bands_page(scenario: &Scenario, bands: &Bands) -> String {
    let settings = &bands.settings;
    let fields = [
        ("scenario", scenario.source_name.clone()),
        ("version", super::generator()),
        ("phases", scenario.phases.to_string()),
        ("samples a trial", words::count(settings.samples)),
        ("search seed", settings.seed.to_string()),
        ("solver", words::method(settings.method).to_owned()),
    ];
    let sections = sections(scenario, bands);
    let inside = html! {
        nav aria-label="Contents" {
            ol { @for (id, heading, _) in &sections { li { a href=(format!("#{id}")) { (heading) } } } }
        }
        main { @for (id, heading, inside) in &sections { (section(id, heading, inside)) } }
    };
    document("Tolerance bands", &scenario.title, &fields, &inside)
}

type Section = (&'static str, &'static str, Markup);

fn sections(scenario: &Scenario, bands: &Bands) -> Vec<Section> {
    let mut sections = vec![("verdict", "Verdict", answer(bands))];
    for part in bands.parts.iter().filter(|part| !part.rows.is_empty()) {
        let (id, heading) = match part.arrangement {
            Arrangement::Chain => ("chain", "Widest bands"),
            Arrangement::Paralleled => ("paralleled", "Widest bands, paralleled"),
        };
        sections.push((id, heading, widest(part)));
    }
    if let Some(found) = &bands.cheapest {
        sections.push(("cheapest", "Cheapest set", cheapest(found)));
    }
    if let Some(map) = &bands.map {
        sections.push(("trade", "Trade between two bands", trade(map, bands)));
    }
    sections.extend([
        ("basis", "Basis of comparison", prose::basis(scenario)),
        ("assumed", "Parts as assumed", appendix::assumed(scenario)),
        ("methods", "Methods", methods(bands)),
        ("validity", "Assumptions and limits of validity", validity(scenario, bands)),
        ("cautions", "Cautions", prose::cautions()),
        ("reproduce", "Making it again", reproduce(scenario, bands)),
    ]);
    sections
}

fn answer(bands: &Bands) -> Markup {
    html! {
        @if bands.is_partial() { p class="notice" { strong { (shared::unfinished(bands)) } } }
        @if bands.settings.method == Method::Averaged {
            p class="notice" {
                strong { "A quick look only." }
                " The averaged solver keeps fundamentals alone and flatters the sharing error: \
                 take bands from the exact solver."
            }
        }
        div class="verdicts" { @for part in &bands.parts { (card(part, bands)) } }
        p class="caution" {
            strong { "High voltage can kill; a wrong rating can burn." }
            " These are results of a model. " a href="#cautions" { "Cautions" } " and "
            a href="#validity" { "limits of validity" } " apply."
        }
    }
}

fn card(part: &Part, bands: &Bands) -> Markup {
    let good = &part.present;
    let class = format!("card {} {}", part.arrangement.name(), verdict::class(part.verdict));
    html! {
        article class=(class) {
            h3 { (words::arrangement_heading(part.arrangement)) }
            p class="word" { (verdict::sign(part.verdict)) (words::verdict(part.verdict)) }
            p {
                "With the present bands " strong { (words::yield_percent(good.estimate)) }
                " of the converters meet every limit at every operating point ("
                (words::given_percent(good.confidence.get())) " interval "
                (words::yield_percent(good.lower)) " to " (words::yield_percent(good.upper))
                "); the target is " (words::given_percent(bands.rule.target)) "."
            }
            @if let Some(together) = shared::together(part) { p { strong { (together) } } }
            @if let Some(binding) = &part.binding {
                p {
                    "Missed most often with the present bands: " (shared::limit(binding))
                    " at operating point “" (binding.operating_point) "”, by "
                    (words::samples(binding.missed)) "."
                }
            }
        }
    }
}

fn widest(part: &Part) -> Markup {
    html! {
        p class="lead" {
            "How wide each band may be while all others are as in the scenario, and all together \
             by one factor. Each line is a claim by itself: two bands widened at once take the \
             common factor, the map, or a run of their own."
        }
        @if part.rows.iter().any(|row| row.subject != Subject::Together && row.proven().is_some()) {
            (bars(part))
        }
        (rows(part))
        @for remark in shared::remarks(part) { p class="remark" { (remark) "." } }
        @for violation in shared::violations(part) { p class="notice" { (violation) } }
    }
}

fn bars(part: &Part) -> Markup {
    let alone = part.rows.iter().filter(|row| row.subject != Subject::Together);
    let bars: Vec<svg::Bar> = alone
        .map(|row| svg::Bar {
            label: shared::subject(row.subject),
            present: row.present,
            widest: row.proven().map(|look| look.at),
        })
        .collect();
    let name = svg::Name {
        id: format!("bars-{}", part.arrangement.name()),
        title: "Present and widest bands".into(),
        description: "A tick at each part’s present band, and a bar from there to the widest band \
                      that meets the target while the others stay. The table has the numbers."
            .into(),
    };
    html! {
        figure class="alone" {
            (svg::band_bars(&name, "band, of the nominal value", &bars))
            figcaption {
                "Tick: present band. Bar: from there to the widest band of this part alone; filled \
                 where there is room, hatched where it must shrink. Equal distances are equal ratios."
            }
        }
    }
}

fn rows(part: &Part) -> Markup {
    let names = [
        "part",
        "present",
        "widest, confirmed",
        "times present",
        "yield there",
        "search: passes, fails",
        "yield if exact",
        "binding limit",
    ];
    let together = part.rows.iter().filter(|row| row.subject == Subject::Together);
    let alone = part.rows.iter().filter(|row| row.subject != Subject::Together);
    let body = html! { @for row in alone.chain(together) { (cells(row)) } };
    let caption = format!("Widest bands: {}", words::arrangement(part.arrangement));
    table(&caption, &headings(1, &names), &body)
}

fn cells(row: &Row) -> Markup {
    let place = |at: f64| words::unbroken(&shared::place(row, at));
    let limited = if row.subject == Subject::Together { Some("limited") } else { None };
    let [inside, outside] = [row.edge.widest(), row.edge.failing()]
        .map(|point| point.map_or_else(|| words::NONE.into(), |p| place(p.at)));
    html! {
        tr class=[limited] {
            th scope="row" { (shared::subject(row.subject)) }
            (number(place(row.present)))
            (number(words::unbroken(&Fate::of(row).text(row))))
            (number(row.margin().map_or_else(|| words::NONE.into(), words::three)))
            @match row.proven() {
                Some(look) => (remarked(&words::yield_percent(look.good.estimate), &bounds(look))),
                None => (number(words::NONE)),
            }
            (number(format!("{inside}, {outside}")))
            (number(row.edge.points.first().map_or_else(|| words::NONE.into(), |p| {
                words::yield_percent(p.judged.good as f64 / p.judged.samples as f64)
            })))
            td {
                @match row.binding() {
                    Some(b) => {
                        (words::unbroken(&shared::limit(b)))
                        br;
                        small { (words::unbroken(&format!("at “{}”", b.operating_point))) }
                    }
                    None => (words::NONE),
                }
            }
        }
    }
}

fn bounds(look: &Look) -> String {
    let [lower, upper] = [look.good.lower, look.good.upper].map(words::yield_percent);
    format!("{lower} to {upper}")
}

fn cheapest(found: &Cheapest) -> Markup {
    let body = html! {
        @for (n, part) in found.priced.iter().enumerate() {
            @let band = found.choice.as_ref().map(|choice| choice.bands[n]);
            tr {
                th scope="row" { (words::parameter(part.parameter)) }
                (number(part.count.to_string()))
                td {
                    @for offer in &part.offers {
                        @let text = format!(
                            "{} at {:.2}", words::given_percent(offer.band), offer.price
                        );
                        @if band == Some(offer.band) { strong { (text) } } @else { (text) }
                        br;
                    }
                }
                (number(band.map_or_else(|| words::NONE.into(), words::given_percent)))
            }
        }
    };
    let names = ["part", "a converter", "listed bands and prices", "chosen band"];
    html! {
        p class="lead" {
            (shared::ending(found))
            @if let Some(choice) = &found.choice {
                " The listed parts of one converter then cost " strong { (format!("{:.2}", choice.price)) } "."
            }
        }
        (table("Listed bands", &headings(1, &names), &body))
        @if let Some(look) = found.looks.last() {
            p {
                "On fresh seed " (look.seed) ", look " (found.looks.len()) " of at most " (LOOKS)
                ", " (words::yield_percent(look.good.estimate)) " pass (" (bounds(look)) ")."
            }
        }
        p class="remark" {
            "Only listed bands can be bought; parts without a list keep the bands of the scenario. "
            (words::count(found.sets as u64)) " sets are on the lists; " (words::count(found.trials))
            " trials sufficed, because whatever is as wide in every part as a set that fails was \
             struck out."
        }
        @if found.violations > 0 {
            p class="notice" {
                "The trend is violated: " (found.violations) " sets one step narrower than the \
                 chosen one fail, so a set struck out untried may pass."
            }
        }
    }
}

fn trade(map: &Map, bands: &Bands) -> Markup {
    let names = map.pair.map(words::parameter);
    let name = svg::Name {
        id: "map".into(),
        title: format!("{} against {}", names[0], names[1]),
        description: "Grid of two bands: dots meet the target, crosses miss it, the line between \
                      them is the boundary, the ring is where the scenario stands."
            .into(),
    };
    let chart = svg::Chart {
        names: names.map(|name| format!("band of {name}")),
        axes: &map.axes,
        meets: map.cells.iter().map(|cell| cell.meets).collect(),
        boundary: &map.boundary,
        present: map.present,
    };
    html! {
        figure class="alone" {
            (svg::chart(&name, &chart))
            figcaption {
                "Dot: the lower end of the yield’s interval meets the target. Cross: it misses it. \
                 Line: boundary, straight between grid points. Ring: present bands. All other bands \
                 are as in the scenario."
            }
        }
        (grid(map))
        p class="remark" {
            "All grid points are drawn from the search seed (" (bands.settings.seed) "), so that \
             they differ by their bands alone. A pair picked from the map is a choice among many: \
             put it into the scenario and confirm it by a run on another seed."
        }
        @if map.violations > 0 {
            p class="notice" {
                "The trend is violated at " (map.violations) " pairs of neighbours: the wider one \
                 passes, the narrower one does not. The line follows the first crossing."
            }
        }
    }
}

/// Every second grid point in numbers, the widest band of the second parameter on top.
fn grid(map: &Map) -> Markup {
    let across = map.axes[0].len();
    let body = html! {
        @for j in (0..map.axes[1].len()).rev().step_by(2) {
            tr {
                th scope="row" { (words::percent(map.axes[1][j])) }
                @for cell in map.cells[j * across..(j + 1) * across].iter().step_by(2) {
                    td class="number" {
                        @if cell.meets { strong { (words::yield_percent(cell.good.lower)) } }
                        @else { (words::yield_percent(cell.good.lower)) }
                    }
                }
            }
        }
    };
    let [first, second] = map.pair.map(Parameter::key).map(|key| key.replace('_', " "));
    let mut names = vec![format!("{second} ↓, {first} →")];
    names.extend(map.axes[0].iter().step_by(2).map(|band| words::percent(*band)));
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let caption =
        "Lower end of the yield’s interval at every second grid point; bold: meets the target";
    table(caption, &headings(1, &names), &body)
}

fn methods(bands: &Bands) -> Markup {
    let level = words::given_percent(bands.rule.shared.get());
    let plain = words::given_percent(bands.rule.plain.get());
    html! {
        dl {
            dt { "Trial" }
            dd {
                "One arrangement with one set of bands: " (words::samples(bands.settings.samples))
                ", each solved at every operating point. A converter that is out of range or not \
                 solved fails. " (words::count(bands.trials)) " trials were made."
            }
            dt { "Search" }
            dd {
                "All trials of the search draw the same samples (seed " (bands.settings.seed)
                "): they differ by their bands alone. A band passes when the lower end of the \
                 two-sided " (level) " interval of Clopper and Pearson meets the target. A bracket \
                 grows from the present band and is halved in ratio down to "
                (words::given_percent(RESOLUTION)) " of the band. That wider bands do no better is \
                 taken as a guide, not as given: bands at 0.5, 0.75, 0.9, 1.1, 1.25 and 2 times \
                 the edge are tried too; one that fails below the edge moves the edge below itself, \
                 and violations are told."
            }
            dt { "Proof" }
            dd {
                "What the search found was chosen by its seed, so it is drawn anew from seeds that \
                 the search never used: up to " (LOOKS) " looks, each on a fresh seed of its own, at \
                 1, 0.97, 0.91 and 0.79 times what was found, ending with the first that meets the \
                 target. Each look uses the " (level) " level (Bonferroni), so that all looks of a \
                 line together keep the " (plain) " of the scenario. The present bands were not \
                 searched for: their interval is the plain " (plain) " one."
            }
            dt { "Binding limit" }
            dd { "The demand missed most often at the narrowest band tried that fails." }
        }
        (looks(bands))
    }
}

/// All looks of all lines, with their seeds.
fn looks(bands: &Bands) -> Markup {
    let body = html! {
        @for part in &bands.parts {
            @for row in &part.rows {
                @for (n, look) in row.looks.iter().enumerate() {
                    tr {
                        th scope="row" {
                            (shared::subject(row.subject)) ", " (words::arrangement(part.arrangement))
                        }
                        (number((n + 1).to_string()))
                        (number(look.seed.to_string()))
                        (number(words::unbroken(&shared::place(row, look.at))))
                        (number(words::yield_percent(look.good.estimate)))
                        (number(bounds(look)))
                        td { (if look.meets { "meets" } else { "misses" }) }
                    }
                }
            }
        }
    };
    let names = ["line", "look", "fresh seed", "at", "yield", "interval", "target"];
    table("Every look at a fresh seed", &headings(1, &names), &body)
}

fn validity(scenario: &Scenario, bands: &Bands) -> Markup {
    html! {
        (prose::model(scenario, &bands.drives))
        p {
            "An interval says what sampling leaves open. It does not say whether the shapes and lot \
             shares hold for the parts that will be delivered, least of all at bands far from the \
             present ones: a wider grade may come with another shape. Bands are of the parts when \
             new, at one temperature, unless the scenario’s bands hold ageing and temperature too."
        }
    }
}

fn reproduce(scenario: &Scenario, bands: &Bands) -> Markup {
    html! {
        @if bands.is_partial() {
            p { "This search was interrupted. The whole of it, in the folder of the scenario:" }
        } @else {
            p {
                "The same scenario, seed and version give the same bytes, for any number of threads \
                 and from any folder. In the folder of the scenario:"
            }
        }
        pre { code { (command::bands(scenario, &bands.settings)) } }
        p {
            "Beside this page stands " code { "summary.json" } ": every trial of the searches, \
             every look with its seed and interval, the map."
        }
    }
}
