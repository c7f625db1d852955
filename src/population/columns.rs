//! All parts of a converter in a row, as `population.parquet` holds them: of every tank, the flying capacitors,
//! the parts that tell losses apart, and how parts respond to temperature and age.

use crate::converter::{Converter, Influence, Parameter};

/// Names of the columns, each with the SI unit of its values.
pub fn names(converter: &Converter) -> Vec<String> {
    let phases = 1..=converter.phases();
    let mut names: Vec<String> = phases
        .flat_map(|k| {
            Parameter::of_tank().map(move |p| format!("{}_{k}{}", p.key(), p.unit_suffix()))
        })
        .collect();
    for leg in ["", "_return_leg"] {
        names.extend((1..converter.phases()).map(|k| format!("flying_capacitance{leg}_{k}_F")));
    }
    for parameter in Parameter::OF_LOSSES {
        let parts = 1..=converter.parts(parameter);
        names.extend(parts.map(|m| format!("{}_{m}{}", parameter.key(), parameter.unit_suffix())));
    }
    for response in &converter.responses {
        let (key, parts) = (response.property().key().replace('.', "_"), 1..=response.values.len());
        let unit = if response.influence == Influence::Temperature { "_1_per_K" } else { "" };
        names.extend(parts.map(|k| format!("{key}_{k}{unit}")));
    }
    names
}

/// The values of the columns.
pub fn values(converter: &Converter) -> impl Iterator<Item = f64> {
    let tanks =
        converter.tanks.iter().flat_map(|t| Parameter::of_tank().filter_map(|p| t.value(p)));
    let flying = converter.flying.iter().chain(&converter.flying_return).map(|c| c.0);
    let told = converter.losses.iter();
    let losses = told.flat_map(|own| Parameter::OF_LOSSES.into_iter().flat_map(|p| own.values(p)));
    let responses = converter.responses.iter().flat_map(|response| response.values.iter().copied());
    tanks.chain(flying).chain(losses.copied()).chain(responses)
}
