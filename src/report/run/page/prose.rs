//! Texts of a run's page: methods, validity, how it is made again.

use maud::{Markup, html};

use crate::converter::Drive;
use crate::report::format::page::prose::model;
use crate::report::format::{command, words};
use crate::scenario::Scenario;
use crate::study::run::Run;

/// How the numbers were obtained.
pub(super) fn methods(scenario: &Scenario) -> Markup {
    let confidence = words::given_percent(scenario.limits.confidence);
    html! {
        dl {
            dt { "Samples" }
            dd {
                "Each sample is one converter with all its parts drawn from the tolerances, solved \
                 for its periodic steady state at every operating point and in both arrangements, \
                 at the highest frequency inside the band that delivers the output. Sample numbers \
                 count from 0; sample k depends on the seed and k alone."
            }
            dt { "Sharing error" }
            dd {
                "The limit speaks of the " (words::sharing(scenario.limits.sharing)) ", with m the \
                 mean over the phases of one converter: "
                (words::formula(scenario.limits.sharing.measure)) "."
            }
            dt { "Yields" }
            dd {
                "Share of all samples that meet the limits, with the two-sided " (confidence)
                " interval of Clopper and Pearson (Biometrika 26, 1934, 404–413), which is exact: \
                 each end errs with at most half the remaining probability. " em { "Pass" } ": its \
                 lower end meets the target. " em { "Fail" } ": its upper end misses it. "
                em { "Not decided" } ": the target lies inside."
            }
            dt { "Quantiles" }
            dd {
                "p50 is the median, p95 the value that 95 % of the samples do not exceed. Their \
                 intervals come from order statistics (David and Nagaraja, Order Statistics, 3rd \
                 edition, 2003, section 7.1), whatever the distribution; “too few samples” \
                 where none of that confidence exists. Quantiles of frequency, sharing errors and \
                 worst-switch figures are exact up to 32 768 samples (2¹⁵); beyond that, and for \
                 all other figures, values are counted in bins whose middles are within 0.012 % of \
                 them, and as zero below a 65 536th of the largest. Smallest and largest values are those seen, not bounds of the population."
            }
        }
    }
}

/// Where the model ends, and what an interval does not say.
pub(super) fn validity(scenario: &Scenario, run: &Run) -> Markup {
    let drives: Vec<Drive> = run.cases.iter().map(|c| c.baseline.case.point.drive).collect();
    html! {
        (model(scenario, &drives))
        p {
            "A confidence interval says what sampling leaves open. It does not say whether the \
             tolerance bands, shapes and lot shares are those of the parts that will be delivered."
        }
    }
}

/// Everything that it takes to make this page again.
pub(super) fn reproduce(scenario: &Scenario, run: &Run) -> Markup {
    html! {
        p {
            "The same scenario, seed and version give the same bytes on the same machine, for any \
             number of threads and from any folder. In the folder of the scenario:"
        }
        pre { code { (command::reproduce(scenario, run)) } }
        p {
            "Beside this page stand " code { "summary.json" } " (every figure with its interval), "
            code { "samples.parquet" } " (a row a sample, operating point and arrangement), "
            code { "population.parquet" } " (the parts of every sample) and "
            code { "worst_converters.csv" } "."
        }
    }
}
