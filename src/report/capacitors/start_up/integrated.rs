//! Integrated starts beside their laws: on the page and on the terminal.

use maud::{Markup, html};

use super::differences::differences;
use super::words::{self, cell};
use crate::report::format::numbers::{NONE, quantity, three};
use crate::report::format::page::parts::{headings, headings_with_text_last, number, table};
use crate::report::format::terminal;
use crate::solver::start_up::integration::{IntegratedStart, SwitchRecord};
use crate::study::capacitors::start_up::{
    IntegratedRun, PointStart, StartMethod, StartSequence, StartUpStudy,
};

/// A start that was to be integrated.
struct Row<'a> {
    sequence: StartSequence,
    run: &'a IntegratedRun,
}

fn rows(point: &PointStart) -> Vec<Row<'_>> {
    let mut rows = Vec::new();
    for law in &point.sequences {
        rows.extend(law.integrated.iter().map(|run| Row { sequence: law.sequence, run }));
    }
    rows
}

impl Row<'_> {
    fn start(&self) -> Option<&IntegratedStart> {
        self.run.start()
    }

    /// A value of the start; a dash where it was not followed.
    fn value(&self, value: impl Fn(&IntegratedStart) -> f64) -> String {
        cell(self.start().map(value))
    }

    fn ramp(&self) -> String {
        words::ramp_of(self.run).unwrap_or_else(|| NONE.to_owned())
    }

    fn outcome(&self) -> &'static str {
        self.run.outcome().map_or("too long to follow", words::end)
    }

    fn worst(&self) -> String {
        let worst = self.start().and_then(IntegratedStart::worst);
        worst.map_or_else(|| NONE.to_owned(), words::switch)
    }
}

/// Integrated starts at an operating point, beside their laws; nothing where they were not asked for.
pub(super) fn at_point(study: &StartUpStudy, point: &PointStart) -> Markup {
    let rows = rows(point);
    html! {
        @if study.method == StartMethod::Integrated {
            (beside_laws(study, point, &rows))
            (blocking(point, &rows))
            ul { @for sentence in differences(point) { li { (sentence) } } }
        }
    }
}

fn beside_laws(study: &StartUpStudy, point: &PointStart, rows: &[Row]) -> Markup {
    let names = [
        "start",
        "output",
        "input ramp",
        "factor by law",
        "factor integrated",
        "at switch",
        "peak by law, at most, A",
        "peak integrated, A",
        "energy to output, J",
        "above the factor for",
        "blocking",
    ];
    let body = html! {
        @for own in rows {
            tr {
                th scope="row" class="wraps" {
                    (words::short(own.sequence))
                    @if own.run.has_needed_ramp { br; small { "ramp that the law asks for" } }
                }
                (number(words::output(own.run.output)))
                (number(own.ramp()))
                (number(cell(own.run.law_factor)))
                (number(own.value(IntegratedStart::factor)))
                (number(own.worst()))
                (number(cell(own.run.law_peak.map(|i| i.0))))
                (number(own.value(|start| start.peak_current.0)))
                (number(own.value(|start| start.delivered_energy.0)))
                (number(own.start().map_or_else(|| NONE.to_owned(), |own| quantity(own.time_above))))
                td { (own.outcome()) }
            }
        }
    };
    let caption = format!("Starts integrated, beside their laws: {}", point.operating_point);
    html! {
        (table(&caption, &headings_with_text_last(&names), &body))
        p class="remark" {
            "Nominal converter, integrated with its body diodes until 2000 switching periods after the \
             ramp. Output: shorted, held at its voltage, rising with the input, or the capacitor of \
             [start_up]. Energy: what arrived at the output until the input had its voltage. The peak by \
             law is an upper end. Above the factor: time in which a switch blocked \
             more than " (study.settings.highest_factor) " times its normal voltage."
        }
    }
}

/// What every switch blocks in the starts with the scenario's ramp.
fn blocking(point: &PointStart, rows: &[Row]) -> Markup {
    let given = rows.iter().filter(|own| !own.run.has_needed_ramp);
    let shown: Vec<(&Row, &IntegratedStart)> =
        given.filter_map(|own| Some((own, own.start()?))).collect();
    let Some((_, first)) = shown.first() else { return html! {} };
    let mut names = vec!["switch".to_owned()];
    names.extend(shown.iter().map(|(own, _)| words::with_output(own.sequence, own.run.output)));
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let driven: Vec<&SwitchRecord> = first.switches.iter().filter(|own| !own.is_return).collect();
    let body = html! {
        @for switch in driven {
            tr {
                th scope="row" { (words::switch(switch)) }
                @for (_, start) in &shown { (number(three(start.of_both_legs(switch).0))) }
            }
        }
    };
    let caption = format!("Highest voltage of every switch, V: {}", point.operating_point);
    html! {
        (table(&caption, &headings(1, &names), &body))
        p class="remark" {
            "Integrated, with the input ramp of the scenario; of both legs the larger value."
        }
    }
}

/// How starts are integrated, and what is not.
pub(super) fn method(study: &StartUpStudy) -> Markup {
    html! {
        @if study.method == StartMethod::Integrated {
            dt { "Starts integrated" }
            dd {
                "The whole circuit of the nominal converter, half period by half period, in closed form \
                 between rectifier events and between changes of body diodes. Input and output \
                 voltages are constant within a half period. Not integrated: starts with gates off, which \
                 switch capacitances decide. The time before the gates run at pre-charge is not either: its \
                 ladder of resistors has an exact law. Dead time, tolerances and frequency control are left out. \
                 The work is counted: a start that would take too much is not followed, and its row says so."
            }
        } @else {
            dt { "Starts integrated" }
            dd { "Not asked for: " code { "--integrate" } " follows every start through the whole circuit." }
        }
    }
}

/// Integrated starts of an operating point on the terminal.
pub(super) fn text(point: &PointStart) -> String {
    let headings = [
        "start",
        "output",
        "ramp",
        "factor\nby law",
        "integr.",
        "at",
        "peak by\nlaw, A",
        "integr.,\nA",
        "blocking",
    ];
    let mut table = terminal::table(&headings);
    for own in rows(point) {
        table.add_row([
            words::short(own.sequence).to_owned(),
            words::output(own.run.output).to_owned(),
            own.ramp(),
            cell(own.run.law_factor),
            own.value(IntegratedStart::factor),
            own.worst(),
            cell(own.run.law_peak.map(|i| i.0)),
            own.value(|start| start.peak_current.0),
            own.outcome().to_owned(),
        ]);
    }
    let told = differences(point);
    let told = told.iter().fold(String::new(), |text, own| text + "- " + own + "\n");
    let name = &point.operating_point;
    format!("\nIntegrated at “{name}”, beside the laws:\n{}{told}", terminal::trimmed(&table))
}
