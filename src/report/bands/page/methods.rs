//! How the answers were found, what they hold for, and how to make them again.

use maud::{Markup, html};

use crate::report::bands::words::names::starting_bands;
use crate::report::bands::words::numbers::short_percent;
use crate::report::bands::words::{confidence, critical, limits};
use crate::report::format::command;
use crate::report::format::numbers::{counted, given_percent, level, samples};
use crate::report::format::page::prose;
use crate::scenario::Scenario;
use crate::study::bands::Bands;
use crate::study::bands::line_search::RESOLUTION;
use crate::study::bands::rule::{VERIFICATION_FACTOR, VERIFICATIONS};

pub(super) fn methods(bands: &Bands) -> Markup {
    html! {
        dl {
            dt { "Runs" }
            dd { (runs(bands)) }
            dt { "Meets, misses, not decided" }
            dd {
                (confidence::outcomes(bands)) " The interval is the two-sided one of Clopper and \
                 Pearson (Biometrika 26, 1934, 404–413)."
            }
            dt { "Search" }
            dd { (search(bands)) }
            dt { "Verification" }
            dd { (verification(bands)) }
            dt { "Limited by" }
            dd {
                "The limit of the scenario that is missed most at the narrowest band that failed. "
                code { "[bands] widest" } ": the widest band that the scenario asks for meets the \
                 target. Samples: at the narrowest band that failed the yield seen still meets the \
                 target. Besides, one failure fails a run, or the estimate is at least 1.1 times the \
                 widest band. It describes these samples; another limit may be missed about as often."
                @if bands.orderable.is_some() {
                    " Of a next step a limit is named where the whole interval misses the target. \
                     Samples: the interval holds the target, and the yield seen meets it. Not decided: \
                     the interval holds the target, and the yield seen misses it."
                }
            }
            dt { "Estimate" }
            dd {
                (limits::ESTIMATE) " Between two bands tried, failures rise in a straight line. The \
                 number of samples is for a band halfway. If the yield there is the one seen, a run \
                 of so many samples shows that band in nine of ten cases."
            }
            @if bands.orderable.is_some() {
                dt { "Bands to order" }
                dd { (steps()) }
            }
            @if let Some(critical) = critical::method(bands) {
                dt { "Most critical band" }
                dd { (critical) }
            }
            dt { "Confidence" }
            dd { (confidence::single_rows(bands)) " " (confidence::statements(bands)) }
        }
    }
}

fn runs(bands: &Bands) -> Markup {
    html! {
        "A run draws converters of one arrangement with one set of bands, and solves each of them \
         at every operating point. A converter that is out of range or not solved fails. A run of \
         the search or of the map draws " (samples(bands.settings.samples)) ", a verification run "
        (samples(VERIFICATION_FACTOR * bands.settings.samples)) ". "
        (counted(bands.trials, "run")) " of the search and the map and "
        (counted(bands.verifications, "run"))
        " on fresh samples were made, some of them to compare bands."
    }
}

fn search(bands: &Bands) -> Markup {
    html! {
        "All runs of the search draw the same samples (seed " (bands.settings.seed) "), so they \
         differ only in their bands. From the present band a bracket grows by steps. Then it is \
         halved in ratio, down to " (given_percent(RESOLUTION)) " of the band. The trend is that \
         wider bands give a lower yield. The search checks it: it also tries 0.5, 0.75, 0.9, 1.1, \
         1.25 and 2 times the band found. If a narrower band fails, the result moves below it. \
         Violations of the trend are reported."
    }
}

fn steps() -> Markup {
    html! {
        "Every band is one of " code { "[bands] steps" } ", of an unequal band its end farther from the \
         nominal value. Left out, these are the letters B to N of IEC \
         60062. The search starts from the present bands, each at the widest step that is no wider. If \
         neither that set nor the present bands are shown to meet the target, it starts from narrower \
         steps. It tries every band one step wider, on the same samples. A band may grow if the set still \
         meets the target, or if no more samples fail than with the start. Of those bands, the one with \
         the fewest failing samples grows. Of equals the one grows that then is \
         the smallest share of the widest band of its part alone. \
         This ends where no single band can grow. Fresh samples then verify the set, in at most "
        (VERIFICATIONS) " runs. After a run that misses, a narrower set with at most half as many \
         failing samples is verified."
    }
}

fn verification(bands: &Bands) -> Markup {
    html! {
        "The search chooses a band by its own samples, so the yield seen there is too high on \
         average. \
         Verification runs therefore draw fresh samples, from random streams that the search \
         never used. No other seed reaches them. At most " (VERIFICATIONS) " runs are made for a \
         row, each with a stream of its own. They \
         try 1, 0.97, 0.91 and 0.79 times the band found, rounded down to three digits. The first \
         that meets the target confirms its band. Each run uses the "
        (short_percent(bands.rule.shared.get())) " level (Bonferroni). So all runs of a row \
         together keep the " (level(bands.rule.plain)) " confidence of the scenario. A \
         verification run draws " (VERIFICATION_FACTOR) " times the samples of the search, so it \
         rarely misses a band that meets the target in the search. The " (starting_bands(bands))
        " get one verification run at the same level. " (prose::FAR_FROM_LIMITS)
    }
}

pub(super) fn validity(scenario: &Scenario, bands: &Bands) -> Markup {
    html! {
        (prose::model(scenario, &bands.drives))
        p {
            "An interval says what sampling leaves open. It does not say whether the delivered \
             parts have the assumed shapes and lot shares. A wider grade may have another shape, \
             above all far from the present bands. Bands are those of new parts at one \
             temperature, unless the scenario’s bands include ageing and temperature."
        }
    }
}

pub(super) fn reproduce(scenario: &Scenario, bands: &Bands) -> Markup {
    html! {
        @if bands.is_partial() {
            p { "This search was interrupted. For the whole of it, run in the folder of the scenario:" }
        } @else {
            p {
                "The same scenario, seed and version give the same bytes, for any number of threads \
                 and from any folder. In the folder of the scenario:"
            }
        }
        pre { code { (command::bands(scenario, &bands.settings, bands.is_explained)) } }
        p {
            code { "summary.json" } " beside this page holds every run of the searches, every \
             verification run with its seed and interval, and the map."
        }
    }
}
