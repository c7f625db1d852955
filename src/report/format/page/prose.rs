//! Standing texts of several pages: basis of comparison, the model's limits, cautions.

use maud::{Markup, html};

use crate::converter::Drive;
use crate::report::format::words;
use crate::scenario::Scenario;

/// How the two arrangements are made comparable.
pub(in crate::report) fn basis(scenario: &Scenario) -> Markup {
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

/// Where the model ends, for these drives.
pub(in crate::report) fn model(scenario: &Scenario, drives: &[Drive]) -> Markup {
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
pub(in crate::report) fn cautions() -> Markup {
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
