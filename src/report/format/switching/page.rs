//! The section on soft switching of a run's page.

use maud::{Markup, html};

use super::words;
use crate::converter::Arrangement;
use crate::report::format::commutation::words as common;
use crate::report::format::figures::{self, DeadTimeLine, Mark, Name};
use crate::report::format::names;
use crate::report::format::numbers::{
    NONE, given_percent, percent, quantile, quantity, three, yield_percent,
};
use crate::report::format::page::parts::{arrangement, figure, headings, number, remarked, table};
use crate::scenario::{Scenario, SwitchSettings};
use crate::statistics::Yield;
use crate::study::common::demand::Demand;
use crate::study::common::figures::Figure;
use crate::study::common::soft_switching::PopulationSwitching;
use crate::study::common::switching_figures::SwitchingFigure;
use crate::study::explanation::SwitchingSearch;

/// What the section holds, for a scenario that describes its switches; with what was searched, if anything
/// was.
pub(in crate::report) fn inside(
    scenario: &Scenario,
    switching: Option<&PopulationSwitching>,
    search: Option<&SwitchingSearch>,
) -> Markup {
    let (Some(settings), Some(switching)) = (&scenario.switch, switching) else {
        return html! { p { (common::NEEDS_EXACT) } };
    };
    html! {
        p class="lead" {
            "Does the voltage of every switch reach zero before it turns on? Dead time in the chain: "
            (quantity(settings.chain.dead_time)) ", timing " (settings.chain.timing.name())
            "; in the paralleled reference: " (quantity(settings.paralleled.dead_time)) "."
        }
        (shares(switching, "Shares of converters; turn-on voltage of the worst switch, of its interval voltage"))
        p { (common::rule(settings)) " " (limited(scenario)) }
        @for shift in &switching.shifts { p { (words::shift(shift)) } }
        @for own in &switching.short_high_intervals { p { (words::short_high_intervals(own)) } }
        @if let Some(search) = search { (searched(scenario, settings, switching, search)) }
        p class="remark" {
            "A converter is hard where one of its switches is, and not decided where one is that and none \
             is hard. The loss is what the capacitances lose at turn-on. Blocking voltages of this page \
             include the dead times."
        }
    }
}

/// Whether soft switching is a limit, and how limits tell it.
fn limited(scenario: &Scenario) -> String {
    let mut all = Arrangement::ALL.iter().flat_map(|own| Demand::all(&scenario.limits, *own));
    match all.find(|demand| matches!(demand.figure, Some(Figure::Switching(_)))) {
        Some(demand) => format!(
            "Soft switching is a limit here: a converter that is not decided misses it. As a limit that is {}.",
            names::demanded(&demand).unwrap_or_default()
        ),
        None => "Soft switching is no limit here.".to_owned(),
    }
}

/// How the converters switch at each operating point and at all.
pub(in crate::report) fn shares(switching: &PopulationSwitching, caption: &str) -> Markup {
    let head = headings(
        2,
        &[
            "operating point",
            "arrangement",
            "soft, interval",
            "not decided",
            "hard",
            "turn-on voltage, p50",
            "p95",
            "in volt, p95",
            "loss, W, p50",
            "p95",
        ],
    );
    let rows = html! {
        @for case in &switching.cases {
            @let shares = &case.shares;
            @let share = case.key_figures(SwitchingFigure::TurnOnShare);
            @let volt = case.key_figures(SwitchingFigure::TurnOnVoltage);
            @let loss = case.key_figures(SwitchingFigure::Loss);
            tr data-point=(case.operating_point) data-arrangement=(case.arrangement.name()) {
                th scope="row" { (case.operating_point) }
                (arrangement(case.arrangement))
                (above_interval(&shares.soft))
                (number(yield_percent(shares.not_decided.estimate)))
                (number(yield_percent(shares.hard.estimate)))
                (number(share.map_or_else(|| NONE.into(), |own| quantile(own.p50, percent))))
                (number(share.map_or_else(|| NONE.into(), |own| quantile(own.p95, percent))))
                (number(volt.map_or_else(|| NONE.into(), |own| quantile(own.p95, three))))
                (number(loss.map_or_else(|| NONE.into(), |own| quantile(own.p50, three))))
                (number(loss.map_or_else(|| NONE.into(), |own| quantile(own.p95, three))))
            }
        }
        @for (own, shares) in Arrangement::ALL.into_iter().zip(&switching.joint) {
            tr class="limited" data-arrangement=(own.name()) {
                th scope="row" { "all operating points" }
                (arrangement(own))
                (above_interval(&shares.soft))
                (number(yield_percent(shares.not_decided.estimate)))
                (number(yield_percent(shares.hard.estimate)))
                @for _ in 0..5 { (number(NONE)) }
            }
        }
    };
    table(caption, &head, &rows)
}

/// A share of converters, above its interval.
fn above_interval(own: &Yield) -> Markup {
    let ends = format!("{} to {}", yield_percent(own.lower), yield_percent(own.upper));
    remarked(&yield_percent(own.estimate), &ends)
}

fn searched(
    scenario: &Scenario,
    settings: &SwitchSettings,
    switching: &PopulationSwitching,
    search: &SwitchingSearch,
) -> Markup {
    if search.samples.is_none() {
        return html! { p { (words::rule(scenario, search)) } };
    }
    html! {
        (curves(scenario, settings, search))
        (ranges(scenario, settings, switching, search))
        p {
            (words::rule(scenario, search)) " Largest Lm: as the nominal value of all parts; now it is "
            (quantity(scenario.nominal.magnetising_inductance)) "."
        }
    }
}

fn curves(scenario: &Scenario, settings: &SwitchSettings, search: &SwitchingSearch) -> Markup {
    let lines: Vec<DeadTimeLine> = Arrangement::ALL
        .iter()
        .zip(&search.arrangements)
        .map(|(arrangement, found)| DeadTimeLine {
            class: arrangement.name(),
            name: names::arrangement(*arrangement).short,
            soft: found
                .dead_times
                .tried
                .iter()
                .map(|own| (1e9 * own.dead_time.0, own.soft.estimate))
                .collect(),
            window: found.dead_times.ends().map(|ends| ends.map(|end| 1e9 * end.0)),
        })
        .collect();
    let name = Name {
        id: "switching-dead-times".into(),
        title: "Share of converters that switch softly, over the dead time".into(),
        description:
            "For both arrangements, with the range in which the target share does, and the dead \
                      times of the scenario."
                .into(),
    };
    let mut marks = vec![Mark {
        value: 1e9 * settings.chain.dead_time.0,
        label: format!("now {}\u{a0}ns", words::nano(settings.chain.dead_time)),
    }];
    if settings.paralleled.dead_time != settings.chain.dead_time {
        let time = settings.paralleled.dead_time;
        let label = format!("paralleled {}\u{a0}ns", words::nano(time));
        marks.push(Mark { value: 1e9 * time.0, label });
    }
    let value = scenario.limits.yield_target;
    let target = Mark { value, label: format!("target {}", given_percent(value)) };
    let drawing = figures::dead_times(&name, &lines, &marks, &target);
    let caption = html! {
        b { "Share of converters that switch softly at all operating points," } " over the dead time. \
         Shaded: the range in which the target share is shown."
    };
    figure(&drawing, &caption)
}

fn ranges(
    scenario: &Scenario,
    settings: &SwitchSettings,
    switching: &PopulationSwitching,
    search: &SwitchingSearch,
) -> Markup {
    let target = scenario.limits.yield_target;
    let head = headings(
        3,
        &[
            "arrangement",
            "soft with dead times of",
            "dead time now",
            "largest Lm, nominal parts",
            "largest Lm, target share",
            "less by",
            "at a dead time of, ns",
        ],
    );
    let rows = html! {
        @for ((own, shares), found) in Arrangement::ALL.iter().zip(&switching.joint).zip(&search.arrangements) {
            @let now = settings.specification(*own).dead_time;
            @let magnetising = &found.magnetising;
            tr {
                (arrangement(*own))
                td class="unbroken" { (words::window(&found.dead_times)) }
                td class="unbroken" { (words::judged(&found.dead_times, now, &shares.soft, target)) }
                (number(words::largest(magnetising.nominal)))
                (number(words::largest(magnetising.population)))
                (number(words::price(magnetising).unwrap_or_else(|| NONE.into())))
                (number(words::nano(magnetising.dead_time)))
            }
        }
    };
    table("What the target share of converters needs to switch softly", &head, &rows)
}
