//! Standing texts of several pages: basis of comparison, the model's limits, cautions.

use maud::{Markup, html};

use crate::converter::{AssumedDrift, Drive};
use crate::report::format::{names, numbers};
use crate::scenario::Scenario;

/// How far a search solves the converters that it counts.
pub(in crate::report) const FAR_FROM_LIMITS: &str = "With the exact solver, a search only roughly solves \
     converters that are far from all limits. Converters of fresh samples are all solved fully.";

/// How the two arrangements are made comparable.
pub(in crate::report) fn basis(scenario: &Scenario) -> Markup {
    let n = scenario.phases;
    html! {
        p {
            "The " em { "balanced chain" } " is the converter with charge-balancing (flying) \
             capacitors in its bridge chain. They force equal charge through every phase, and each \
             phase works on 1/" (n) " of the input voltage. The " em { "paralleled \
             reference" } " has every bridge across the whole input and nothing that balances. For a \
             fair comparison its tanks are rescaled to the whole input: turns × " (n) ", inductances and resistance × " (n * n) ", resonant capacitance ÷ "
            (n * n) ". That leaves every per-unit quantity as it is. So it shares exactly as the \
             chain’s tanks on 1/" (n) " of the input would. It carries 1/" (n) " of their tank \
             current at " (n) " times their voltage."
        }
        p {
            "Output and tank currents are given for the chain’s tanks in both arrangements. \
             Switch currents and voltages of the paralleled reference are those of the rescaled \
             converter. It is built with other switches, so the scenario may set other limits for \
             it. Both arrangements get the same parts, sample by sample."
        }
    }
}

/// Where the model ends, for these drives.
pub(in crate::report) fn model(scenario: &Scenario, drives: &[Drive]) -> Markup {
    html! {
        p { "The results hold for a model with" }
        ul {
            li { "a stiff input and output voltage;" }
            li { "linear parts;" }
            li { "ideal switching at duty 0.5, odd phases in step, even phases half a period later;" }
            li { "ideal diodes with a fixed forward drop." }
        }
        p {
            "The steady state leaves out dead time, output capacitance of the switches, magnetic \
             saturation, and the dynamics of the control loop. The loss is that " (names::loss(scenario)) "."
        }
        @if drives.contains(&Drive::FullBridge) { (neutral(scenario)) }
        @if drives.contains(&Drive::HalfBridge) {
            p {
                "In half-bridge drive the return leg holds its low sides on. Those switches carry \
                 the tank current throughout: theirs is the highest switch RMS current. They block \
                 nothing."
            }
        }
    }
}

fn neutral(scenario: &Scenario) -> Markup {
    html! {
        p {
            "In full-bridge drive the flying-capacitor voltages may drift. Those of one leg rise, \
             and those of the other leg fall by the same amount. The resonant capacitors take up \
             the difference. Charge balance does not hold back these "
            (numbers::counted(scenario.phases as u64 - 1, "neutral mode")) ", one for each node of \
             the chain. Leakage, pre-charge and the timing of the gates decide. "
            @match scenario.drift {
                AssumedDrift::Stated(drift) => {
                    "The scenario assumes a drift of at most " (numbers::quantity(drift))
                    " for each voltage (" code { "neutral_split" } "), and the blocking voltages \
                     include it. It is an assumption, not a result."
                }
                AssumedDrift::FromCauses(_) => {
                    "The drift of each voltage follows from the causes that the scenario states ("
                    code { "converter.chain.drift" } ") and from the flying capacitors of each converter, at \
                     most up to where body diodes stop it. The blocking voltages include it."
                }
            }
        }
    }
}

/// How an input file was read, where that is not the plain way.
pub(in crate::report) fn read_as(file: &str, words: Option<&str>) -> Markup {
    html! {
        @if let Some(words) = words { p class="remark" { (file) " was read " (words) "." } }
    }
}

/// What may hurt.
pub(in crate::report) fn cautions() -> Markup {
    html! {
        ul {
            li {
                strong { "High voltage can kill." } " Flying and resonant capacitors stay charged \
                 after switch-off. In full-bridge drive, charge balance does not determine their \
                 voltages. Discharge them and measure before you touch anything."
            }
            li {
                strong { "A wrong rating can burn." } " Ratings told here hold for the steady state \
                 of the model alone. Add margins for what it leaves out: faults and start-up among them."
            }
            li {
                "Applicable standards, local codes and the judgement of qualified engineers take \
                 precedence over these results."
            }
            li { "A simulation does not replace measurements on hardware." }
        }
    }
}
