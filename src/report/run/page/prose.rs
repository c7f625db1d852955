//! Texts of a run's page: methods, validity, how it is made again.

use maud::{Markup, html};

use crate::converter::Drive;
use crate::report::format::page::prose::model;
use crate::report::format::{command, names, numbers};
use crate::report::run::words;
use crate::scenario::Scenario;
use crate::study::explanation::Explanation;
use crate::study::run::{Run, SampleSize};

/// How the numbers were obtained.
pub(super) fn methods(scenario: &Scenario, run: &Run) -> Markup {
    let confidence = numbers::given_percent(scenario.limits.confidence);
    html! {
        dl {
            dt { "Samples" }
            dd {
                "Each sample is one converter with all its parts drawn from the tolerances. It is \
                 solved for its periodic steady state at every operating point, in both \
                 arrangements. Its frequency is the highest inside the band that delivers the \
                 output. Sample numbers count from 0; sample k depends on the seed and k alone."
            }
            dt { "Sharing error" }
            dd {
                "The limit is on the " (names::sharing(scenario.limits.sharing)) ": "
                (names::formula(scenario.limits.sharing.measure)) ", with m the mean over the \
                 phases of one converter."
            }
            dt { "Yields" }
            dd {
                "Share of all samples that meet the limits. " (interval(run, &confidence))
                " Each end errs with at most half the remaining probability. " em { "Pass" } ": its \
                 lower end meets the target. " em { "Fail" } ": its upper end misses it. "
                em { "Not decided" } ": the target lies inside. " (words::both_verdicts(scenario))
                " Every other interval of this page holds at " (confidence) " by itself."
            }
            @if run.joint.iter().any(|joint| joint.of_measured_parts.is_some()) { (measured_parts()) }
            dt { "More samples" }
            dd {
                "Samples added to a run until its verdict is decided make wrong verdicts frequent. So \
                 a missing verdict is not decided by more samples of the same seed. " code { "--decide" }
                " looks after every batch, and its test allows for that. After a run of fixed \
                 size it is a second study, as is a new run with another seed. Their errors add: two \
                 studies together are wrong in " (numbers::given_percent(1.0 - scenario.limits.confidence)) " of the cases at most, on either side. \
                 Whoever expects a close verdict begins with " code { "--decide" } ". A larger "
                code { "most_samples" } ", up to ten million, with the same seed is no second study. The \
                 numbers given decide with a probability of 90 %, if the yield stays."
            }
            dt { "Quantiles" }
            dd {
                "p50 is the median; 95 % of all samples do not exceed p95. A sample that is out of \
                 range or not solved has no value and counts above all values. A quantile among \
                 such samples is “beyond”. For frequencies and least currents this side is a \
                 convention. Mean, sd, min and max are of the solved samples. Intervals come from \
                 order statistics and hold for any distribution (David and Nagaraja, Order \
                 Statistics, 3rd edition, 2003, section 7.1). “Too few samples”: so \
                 few samples do not give the interval, or the end that is missing. Quantiles of frequency, sharing errors and worst-switch \
                 figures are exact up to 32 768 samples (2¹⁵). Beyond that, all values are counted in \
                 bins; those of other figures always are. The middle of a bin is within 0.012 % of \
                 its values. Below a 65 536th of the largest, values count as zero. Smallest and largest values \
                 are those seen, not bounds of the population."
            }
        }
    }
}

/// How far a yield holds beyond the measured parts.
fn measured_parts() -> Markup {
    html! {
        dt { "Measured parts" }
        dd {
            "A file of measured parts is a sample of their production. The intervals of yields allow \
             for that. How much a yield varies from file to file follows from the samples. Each tells \
             which parts it holds and whether it passes (infinitesimal jackknife, Efron 1982). For the \
             lower end one part that always fails is added to a file: it stands for parts that the file \
             does not show. For the upper end it always passes. Verdicts follow these intervals. \
             All other figures, intervals and sections of this page are for the measured parts alone. "
            "Rows of a file count as independent draws of one production. A later lot may differ."
        }
    }
}

/// What the interval of a yield is.
fn interval(run: &Run, confidence: &str) -> Markup {
    html! {
        @match run.size {
            SampleSize::Fixed(_) => {
                "The two-sided " (confidence) " interval is that of Clopper and Pearson \
                 (Biometrika 26, 1934). It is exact for a number of samples fixed in advance."
            }
            SampleSize::UntilDecided(_) => {
                "The " (confidence) " interval is sequential: a weighted sum of likelihood ratios on \
                 either side (Ville 1939, Robbins 1970). It holds at all numbers of samples at once, \
                 wherever the run ends. It is wider than that for a fixed number. The estimate at the \
                 end leans away from the target."
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
            "A confidence interval covers the error of sampling alone. It does not say whether the \
             delivered parts keep to the assumed tolerance bands, shapes and lot shares."
        }
    }
}

/// Everything that it takes to make this page again.
pub(super) fn reproduce(
    scenario: &Scenario,
    run: &Run,
    explanation: Option<&Explanation>,
) -> Markup {
    html! {
        p {
            "The same scenario, seed and version give the same bytes, on any machine and for any \
             number of threads. In the folder of the scenario:"
        }
        pre { code { (command::reproduce(scenario, run, explanation.is_some())) } }
        p {
            "Files beside this page: " code { "summary.json" } " (every figure with its interval) and "
            code { "worst_converters.csv" } " (the parts of the worst converters)."
            @if run.has_files {
                " " code { "samples.parquet" } " has a row per sample, operating point and arrangement, "
                code { "population.parquet" } " the parts of every sample."
            }
        }
    }
}
