//! The design table of the nominal converter, on the terminal.

use crate::converter::Arrangement;
use crate::report::format::configuration::terminal as configuration;
use crate::report::format::numbers::percent;
use crate::report::format::terminal::{CAUTION, folded, table, trimmed};
use crate::scenario::Scenario;
use crate::solver::{Method, chain_voltages};
use crate::study::common::figures::{Figure, SolvedConverter};
use crate::study::common::nominal::Baseline;
use crate::units::{Ampere, Hertz, Volt, Watt, engineering};

/// The design table of the nominal converter.
pub(super) fn text(scenario: &Scenario, baselines: &[Baseline]) -> String {
    let tank = &scenario.nominal;
    let (lr, cr) = (tank.resonant_inductance.0, tank.resonant_capacitance.0);
    let mut text = format!(
        "{}\n{} phases; one tank:\n  Lr {}  Cr {}  Lm {}  n {}  R {}\n  \
         series resonance {}, characteristic impedance {}, Lm/Lr {:.2}\n  \
         flying capacitors {} ({:.0} Cr); frequency {} to {}\n\n",
        scenario.title,
        scenario.phases,
        tank.resonant_inductance,
        tank.resonant_capacitance,
        tank.magnetising_inductance,
        tank.turns_ratio,
        tank.series_resistance,
        tank.series_resonance(),
        engineering((lr / cr).sqrt(), "Ω"),
        tank.magnetising_inductance.0 / lr,
        scenario.flying_capacitance,
        scenario.flying_capacitance.0 / cr,
        scenario.frequency.minimum,
        scenario.frequency.maximum,
    );
    let mut table = table(&[
        "operating point",
        "arrangement",
        "fs",
        "averaged",
        "I rms",
        "I peak",
        "sharing",
        "loss",
    ]);
    for b in baselines {
        table.add_row(nominal_row(scenario, b));
    }
    text.push_str(&trimmed(&table));
    text.push_str(
        "(averaged: the frequency that the fundamental-harmonic approximation gives)\n\n",
    );
    text.push_str(&chain_table(scenario, baselines));
    let chain = baselines.iter().filter(|b| b.case.arrangement == Arrangement::Chain);
    text.push_str(&configuration::choices(chain.filter_map(|b| b.choice.as_ref())));
    text.push_str(CAUTION);
    folded(&text)
}

fn nominal_row(scenario: &Scenario, b: &Baseline) -> [String; 8] {
    let nominal = scenario.nominal_converter();
    let (point, arrangement) = (&b.case.point, b.case.arrangement);
    let measured =
        SolvedConverter::new(&b.state, &nominal, point, arrangement, scenario.neutral_split);
    let averaged = Method::Averaged.solve(&nominal, point, &scenario.frequency, arrangement, None);
    let most = |f: fn(&crate::solver::PhaseState) -> Ampere| {
        Ampere(b.state.phases.iter().map(|p| f(p).0).fold(0.0, f64::max)).to_string()
    };
    [
        point.name.clone(),
        arrangement.name().into(),
        b.state.switching_frequency.to_string(),
        averaged.solved().map_or("-".into(), |s| Hertz(s.switching_frequency.0).to_string()),
        most(|p| p.rms_current),
        most(|p| p.peak_current),
        percent(measured.sharing_error(scenario.limits.sharing)),
        Watt(measured.value(Figure::Loss)).to_string(),
    ]
}

/// Flying capacitors and blocking voltages of the nominal chain.
fn chain_table(scenario: &Scenario, baselines: &[Baseline]) -> String {
    let nominal = scenario.nominal_converter();
    let mut table = table(&["operating point", "configuration", "flying capacitors", "blocking"]);
    for b in baselines.iter().filter(|b| b.case.arrangement == Arrangement::Chain) {
        let point = &b.case.point;
        let voltages = chain_voltages(&b.state, &nominal, point);
        let flying: Vec<String> =
            voltages.legs[0].flying.iter().map(|v| format!("{:.1}", v.middle.0)).collect();
        let chosen = if b.choice.is_some() { " (chosen)" } else { "" };
        let measured = SolvedConverter::new(
            &b.state,
            &nominal,
            point,
            Arrangement::Chain,
            scenario.neutral_split,
        );
        table.add_row([
            point.name.clone(),
            format!("{} / {}{chosen}", point.drive.name(), point.rectifier.name()),
            format!("{} V", flying.join(", ")),
            Volt(measured.value(Figure::WorstBlocking)).to_string(),
        ]);
    }
    format!(
        "Chain: drive / rectifier, flying-capacitor voltages, highest blocking voltage\n{}\n",
        trimmed(&table)
    )
}
