//! The operating points and the limits.

use maud::html;

use crate::report::format::names;
use crate::report::format::numbers::{count, counted, quantity, without_needless_zeros};
use crate::report::format::page::brief::Finding;
use crate::report::format::page::brief_basis::{as_typed, limits};
use crate::report::format::page::parts::{headings, number};
use crate::report::grades::subject::GradesSubject;
use crate::units::Watt;

/// Points shown: more would not fit the sheet.
const SHOWN: usize = 6;

/// What limits, all points, all limits.
pub(super) fn finding(told: GradesSubject) -> Finding {
    let points = &told.scenario.operating_points;
    Finding {
        heading: heading(told),
        remark: None,
        inside: html! {
            table class="points" {
                thead { (headings(1, &["point", "in, V", "out, V", "out, A", "power"])) }
                tbody {
                    @for point in points.iter().take(SHOWN) {
                        @let power = Watt(point.output_voltage.0 * point.output_current.0);
                        tr {
                            th scope="row" { (point.name) }
                            (number(as_typed(point.input_voltage.0)))
                            (number(as_typed(point.output_voltage.0)))
                            (number(as_typed(point.output_current.0)))
                            (number(without_needless_zeros(&quantity(power))))
                        }
                    }
                }
            }
            @if points.len() > SHOWN {
                p class="remark" { (counted((points.len() - SHOWN) as u64, "more operating point")) "." }
            }
            (limits(told.scenario))
        },
    }
}

fn heading(told: GradesSubject) -> String {
    let set = told.ranking.recommended();
    match &set.binding {
        Some(binding) => format!(
            "Limited by the {} at “{}”: {} of {} failures",
            names::limit(&binding.demand).long,
            binding.operating_point,
            count(binding.missed),
            count((set.good.trials - set.good.successes).max(binding.missed))
        ),
        None => "No sample of this set fails at any operating point".to_owned(),
    }
}
