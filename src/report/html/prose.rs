//! The page's standing texts: basis of comparison, methods, validity, cautions.

use maud::{Markup, html};

use super::{command, words};
use crate::converter::Drive;
use crate::scenario::Scenario;
use crate::study::run::Run;

/// How the two arrangements are made comparable.
pub(super) fn basis(scenario: &Scenario) -> Markup {
    let n = scenario.phases;
    html! {
        p {
            "The " em { "balanced chain" } " is the converter with charge-balancing (flying) \
             capacitors in its bridge chain: they force equal charge through every phase, and \
             each phase stands on 1/" (n) " of the input voltage. The " em { "paralleled \
             reference" } " has every bridge across the whole input and nothing that balances. To \
             compare like with like it is built from tanks rescaled to the whole input: turns \
             × " (n) ", inductances and resistance × " (n * n) ", resonant capacitance ÷ "
            (n * n) ". That leaves every per-unit quantity as it is, so it shares exactly as the \
             original tanks on 1/" (n) " of the input would, and carries 1/" (n) " of their tank \
             current at " (n) " times their voltage."
        }
        p {
            "Output and tank currents are given for the original tanks in both arrangements. \
             Switch currents and voltages of the paralleled reference are those of the rescaled \
             converter, which is built with other switches: the scenario may set it limits of its \
             own. Both arrangements see the same parts, sample by sample."
        }
    }
}

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

/// Where the model ends, for these drives.
pub(super) fn model(scenario: &Scenario, drives: &[Drive]) -> Markup {
    html! {
        p { "The results hold for the model, and the model holds" }
        ul {
            li { "a stiff input and output voltage;" }
            li { "linear parts;" }
            li { "ideal switching at duty 0.5, odd phases in step, even phases half a period later;" }
            li { "ideal diodes with a fixed forward drop." }
        }
        p {
            "Outside it: dead time, output capacitance of the switches, magnetic saturation, and \
             the dynamics of the control loop. The loss counts resistances and rectifiers alone."
        }
        @if drives.contains(&Drive::FullBridge) { (neutral(scenario)) }
        @if drives.contains(&Drive::HalfBridge) {
            p {
                "In half-bridge drive the other leg holds its low sides on. Those switches carry \
                 the tank current throughout, so that theirs is the highest RMS current, and \
                 block nothing."
            }
        }
    }
}

fn neutral(scenario: &Scenario) -> Markup {
    html! {
        p {
            "In full-bridge drive charge balance leaves " (scenario.phases - 1) " neutral "
            (if scenario.phases == 2 { "mode" } else { "modes" }) ", one for each node of the \
             chain: the voltages of one leg’s flying capacitors may rise and those of the other \
             leg fall by the same amount, the resonant capacitors take up the difference, and \
             nothing pulls them back. Leakage and pre-charge decide where they stand. The neutral \
             split of the scenario (" (words::quantity(scenario.neutral_split)) ") is a bound for \
             every node; the blocking voltages include it. It is an assumption, not a result."
        }
    }
}

/// What may hurt.
pub(super) fn cautions() -> Markup {
    html! {
        ul {
            li {
                strong { "High voltage can kill." } " Flying and resonant capacitors stay charged \
                 after switch-off, in full-bridge drive at voltages that the balance does not \
                 determine. Discharge them and measure before touching anything."
            }
            li {
                strong { "A wrong rating can burn." } " The figures here are not ratings: add the \
                 margins for what the model leaves out, faults, start-up and temperature among them."
            }
            li {
                "The results defer to the applicable standards, to local codes and to the judgement \
                 of qualified engineers."
            }
            li { "A simulation does not replace measurements on hardware." }
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
