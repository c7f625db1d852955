//! Shares of variance: bars of every limited figure, tables of the output currents.

use maud::{Markup, html};

use super::explained_run::ExplainedRun;
use crate::converter::Arrangement;
use crate::report::format::figures::{self, Ends, Name, ValueBar, ValueRow};
use crate::report::format::names::capital;
use crate::report::format::numbers::{NONE, count, percent};
use crate::report::format::page::parts::{
    arrangement_names, figure, folded_table, headings, number,
};
use crate::report::run::explanation::names::{self, share_percent};
use crate::study::common::figures::Figure;
use crate::study::explanation::{CaseDrivers, Driver, Drivers, FigureDrivers};
use crate::study::run::CaseResult;

/// An operating point with the drivers of both arrangements.
struct PointDrivers<'a> {
    number: usize,
    cases: Vec<(&'a CaseResult, &'a CaseDrivers)>,
}

/// The shares of variance at every operating point.
pub(super) fn drivers(shown: &ExplainedRun) -> Markup {
    let Some(drivers) = &shown.explanation.drivers else {
        return html! {
            h3 { "Shares of the variance" }
            p { "Nothing to show: nothing scatters, or the samples are too few." }
        };
    };
    let cases: Vec<_> = shown.run.cases.iter().zip(&drivers.cases).collect();
    let points = cases.chunks(2).enumerate();
    let points = points.map(|(n, cases)| PointDrivers { number: n + 1, cases: cases.to_vec() });
    let points: Vec<PointDrivers> = points.collect();
    let is_drawn = |figure: &Figure| matches!(figure, Figure::SharingError(_));
    html! {
        h3 { "Shares of the variance" }
        div class="figures" {
            @for point in &points {
                @for figure in point.limited().into_iter().filter(is_drawn) { (point.chart(figure)) }
            }
        }
        @for point in &points {
            @let told: Vec<Figure> = point.limited().into_iter().filter(|own| !is_drawn(own)).collect();
            (point.shares_table("other limited figures", &told))
            (point.shares_table("output current of every phase", &point.currents()))
        }
        (basis(drivers))
    }
}

impl PointDrivers<'_> {
    fn name(&self) -> &str {
        self.cases.first().map_or("", |(case, _)| case.operating_point())
    }

    /// The limited figures of any arrangement that vary.
    fn limited(&self) -> Vec<Figure> {
        let mut all: Vec<Figure> = Vec::new();
        for found in self.cases.iter().flat_map(|(_, drivers)| &drivers.figures) {
            let is_current = matches!(found.figure, Figure::OutputCurrent(_));
            if !is_current && !all.contains(&found.figure) {
                all.push(found.figure);
            }
        }
        all
    }

    /// What is known of a figure, by arrangement.
    fn of(&self, figure: Figure) -> Vec<(&CaseResult, &FigureDrivers)> {
        let found = self.cases.iter().filter_map(|(case, drivers)| {
            Some((*case, drivers.figures.iter().find(|found| found.figure == figure)?))
        });
        found.collect()
    }

    /// The drivers of a figure in any arrangement, that of the largest share first.
    fn sorted(found: &[(&CaseResult, &FigureDrivers)]) -> Vec<Driver> {
        let mut all: Vec<(f64, Driver)> = Vec::new();
        for shares in found.iter().flat_map(|(_, found)| &found.shares) {
            let total = shares.shares.total.estimate;
            match all.iter_mut().find(|(_, driver)| *driver == shares.driver) {
                Some((most, _)) => *most = most.max(total),
                None => all.push((total, shares.driver.clone())),
            }
        }
        all.sort_by(|(a, _), (b, _)| b.total_cmp(a));
        all.into_iter().map(|(_, driver)| driver).collect()
    }

    fn chart(&self, of_figure: Figure) -> Markup {
        let found = self.of(of_figure);
        let rows: Vec<ValueRow> = Self::sorted(&found)
            .iter()
            .map(|driver| {
                let bar = |(case, found): &(&CaseResult, &FigureDrivers)| {
                    let shares = found.shares.iter().find(|shares| shares.driver == *driver)?;
                    let total = shares.shares.total;
                    Some(ValueBar {
                        class: case.arrangement().name(),
                        value: total.estimate,
                        interval: Ends { from: total.lower, to: total.upper },
                        part: Some(shares.shares.first_order.estimate),
                    })
                };
                let bars = found.iter().filter_map(bar).collect();
                ValueRow { label: names::driver(driver), bars }
            })
            .collect();
        let title = names::figure(of_figure);
        let name = Name {
            id: format!("drivers-{}-{}", self.number, of_figure.name()),
            title: format!("Share of the variance of the {title} at {}", self.name()),
            description:
                "Total share of each parameter with its interval, and its first-order share, \
                          for both arrangements."
                    .to_owned(),
        };
        let drawing =
            figures::value_bars(&name, "share of the variance", &rows, &arrangement_names());
        let caption = html! {
            b { "What drives the " (title) " at “" (self.name()) "”." } " Bar: total share, with its confidence interval. Tick: \
             what the parameter explains by itself."
        };
        figure(&drawing, &caption)
    }

    /// Total shares in the chain of figures that have no picture, and what a linear model explains of each.
    fn shares_table(&self, subject: &str, figures: &[Figure]) -> Markup {
        let is_chain =
            |own: &(&CaseResult, &FigureDrivers)| own.0.arrangement() == Arrangement::Chain;
        let found: Vec<_> = figures
            .iter()
            .filter_map(|figure| Some((*figure, self.of(*figure).into_iter().find(is_chain)?)))
            .collect();
        let names: Vec<String> = found.iter().map(|(figure, _)| names::figure(*figure)).collect();
        let names: Vec<&str> =
            ["parameter"].into_iter().chain(names.iter().map(String::as_str)).collect();
        let all: Vec<_> = found.iter().map(|(_, own)| *own).collect();
        let share = |own: &FigureDrivers, driver: &Driver| {
            let shares = own.shares.iter().find(|shares| shares.driver == *driver);
            shares.map_or_else(|| NONE.to_owned(), |own| share_percent(own.shares.total.estimate))
        };
        let rows = html! {
            @for driver in Self::sorted(&all) {
                tr {
                    th scope="row" { (names::driver(&driver)) }
                    @for (_, own) in &all { (number(share(own, &driver))) }
                }
            }
            tr class="limited" {
                th scope="row" { "linear model" }
                @for (_, own) in &all { (number(own.linear.map_or_else(|| NONE.to_owned(), percent))) }
            }
        };
        let caption = format!(
            "{} at “{}”, chain: total share of the variance, and what a linear model explains",
            capital(subject),
            self.name()
        );
        html! { @if !all.is_empty() { (folded_table(&caption, &headings(1, &names), &rows)) } }
    }

    /// The output current of every phase, where it varies.
    fn currents(&self) -> Vec<Figure> {
        let phases = self.cases.first().map_or(0, |(case, _)| phases_of(case));
        let all = (0..phases).map(Figure::OutputCurrent);
        all.filter(|figure| !self.of(*figure).is_empty()).collect()
    }
}

fn phases_of(case: &CaseResult) -> usize {
    case.baseline.state.phases.len()
}

/// What the shares rest on.
fn basis(drivers: &Drivers) -> Markup {
    let left_out: u64 = drivers.cases.iter().map(|case| case.left_out).sum();
    html! {
        p class="remark" {
            "Each parameter was exchanged between " (count(drivers.draws)) " pairs of samples of this \
             run. A sharing error and the current of the worst switch are the highest of several values. \
             Parameters act on them together, so total shares add up to more than 100 %. A lot is what \
             the parts of one converter have in common; its share is a part of the parameter’s. \
             Correlated parameters count as one."
            @if drivers.has_rough_intervals() {
                " So few pairs make the intervals rough: they hold less often than they say."
            }
        }
        @if left_out > 0 {
            p class="remark" {
                (count(left_out)) " exchanged converters have no figure: they, or the samples that they \
                 come from, are out of range or not solved. They are left out, so the shares are those \
                 of solved converters."
            }
        }
    }
}
