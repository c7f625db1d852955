//! The sizes on the page.

use maud::{Markup, html};

use super::words::{self, cell, change};
use super::{figures, purchase};
use crate::report::format::numbers::{self, counted, in_percent, level, three, yield_percent};
use crate::report::format::page::parts::{headings_with_text_last, number, remarked, table};
use crate::scenario::Scenario;
use crate::study::bands::rule::{VERIFICATION_FACTOR, VERIFICATIONS};
use crate::study::capacitors::CapacitorStudy;
use crate::study::capacitors::size::{SizeResult, SizeStudy};

/// Which size, and what decides.
pub(in crate::report::capacitors) fn answer(scenario: &Scenario, study: &SizeStudy) -> Markup {
    html! {
        ul {
            @for finding in words::findings(study) { li { (finding) } }
            @for finding in purchase::findings(scenario, study) { li { (finding) } }
        }
        p class="remark" {
            "Stored energy stays after switch-off. Through a resistor it falls with resistance × capacitance, so \
             that smaller capacitors discharge sooner. To which voltage, and how fast, is for the \
             applicable standards and a qualified engineer to say."
        }
        (figures::over_size(scenario, study))
    }
}

/// A row a size.
pub(in crate::report::capacitors) fn sizes(study: &SizeStudy) -> Markup {
    let names = [
        "size",
        "ripple, V",
        "RMS, A",
        "peak, V",
        "blocks, V",
        "settles, periods",
        "sharing error p95, %",
        "added, %",
        "frequency, %",
        "energy, J",
        "yield",
        "limited by",
    ];
    let rows = html! { @for own in &study.sizes { (row(study, own)) } };
    let caption =
        "Every size: nominal loads, sharing error, yield over all limits and operating points";
    html! {
        (table(caption, &headings_with_text_last(&names), &rows))
        p class="remark" {
            "Ripple, RMS current, highest voltage, blocking voltage, settling and frequency are of the nominal \
             converter, the largest of all operating points and capacitors. Settles: switching periods until \
             1 % is left of the disturbance that dies out most slowly. Added sharing error and \
             frequency are against flying capacitors so large that they change nothing. Energy: of all \
             flying capacitors together, at their ideal voltages and the highest input voltage."
        }
        (purchase::sizes(study))
    }
}

fn row(study: &SizeStudy, own: &SizeResult) -> Markup {
    let is_confirmed = words::mark(study, own) == ">";
    html! {
        tr class=[is_confirmed.then_some("limited")] {
            th scope="row" {
                (words::size(own.capacitance))
                @if is_confirmed { br; small { "confirmed" } }
                @if own.is_present { br; small { "scenario" } }
            }
            (number(cell(own.ripple().map(|v| v.0), three)))
            (number(cell(own.rms_current().map(|i| i.0), three)))
            (number(cell(own.peak_voltage().map(|v| v.0), three)))
            (number(cell(own.blocking_voltage().map(|v| v.0), three)))
            (number(words::periods(own)))
            (number(cell(own.sharing_error_p95(), in_percent)))
            (number(change(study.added_sharing_error(own))))
            (number(change(study.frequency_shift(own))))
            (number(three(own.chain_energy.0)))
            @match own.good {
                Some(good) => (remarked(&yield_percent(good.estimate), &words::ends_cell(own))),
                None => (number(numbers::NONE)),
            }
            td { (words::limit_cell(own)) }
        }
    }
}

/// How the sizes were tried.
pub(in crate::report::capacitors) fn methods(
    scenario: &Scenario,
    study: &CapacitorStudy,
) -> Markup {
    let (rule, samples) = (&study.size.rule, study.settings.samples);
    html! {
        dl {
            dt { "Sizes" }
            dd {
                "Preferred numbers of series " (scenario.capacitors.series.name()) " (IEC 60063), and \
                 the scenario’s own size. All flying capacitors of a converter have one nominal size. \
                 Each keeps its tolerance, as a share of that size."
            }
            dt { "Samples" }
            dd {
                "All sizes get the same " (counted(samples, "sample")) ": they differ by the flying \
                 capacitors alone. Each yield has its own " (level(rule.plain)) " interval (Clopper and \
                 Pearson 1934). A size whose nominal converter does not reach every operating point is \
                 not sampled, and misses the target."
            }
            dt { "Choice and verification" }
            dd {
                "The largest sizes are left out if they miss the target mostly by their settling time, which \
                 rises with the size. Another may be chosen if neither its yield nor that of a larger one of \
                 these lies below the target. The smallest is chosen whose interval meets the target. The samples of the choice \
                 flatter it. So it is tried on "
                (counted(VERIFICATION_FACTOR * samples, "fresh sample")) ", and the next larger one if it \
                 misses the target there, at most " (VERIFICATIONS) " in all. Each of these runs takes its \
                 interval at " (level(rule.shared)) ", so that all together err no more often than the \
                 scenario’s confidence allows."
            }
            dt { "Runs on fresh samples" }
            dd { (words::runs(&study.size)) }
        }
    }
}
