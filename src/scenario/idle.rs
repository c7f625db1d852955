//! What a scenario says that changes no result.

use super::Scenario;
use crate::converter::{AssumedDrift, Influence};

impl Scenario {
    /// What changes nothing as the rest stands, each with what it lacks.
    pub fn without_effect(&self) -> Vec<&'static str> {
        // Grades bring their own tolerances, and sensors drift by themselves.
        let all_is_told = self.grades.is_none() && self.sensors.is_none();
        let found = [
            (
                self.lots.is_some() && all_is_told && !self.shares_lots(),
                "[lots] changes nothing: no tolerance has a `lot_share`",
            ),
            (
                self.states_temperatures()
                    && !self.heats_parts()
                    && all_is_told
                    && !self.responds(is_of_temperature),
                "temperatures change nothing: no part has a temperature coefficient",
            ),
            (
                !self.states_temperatures()
                    && !self.heats_parts()
                    && self.responds(is_of_temperature),
                "temperature coefficients change nothing: all parts are at the reference temperature",
            ),
            (
                !self.heats_parts() && self.states_ambient(),
                "`ambient_temperature` changes nothing: no part has a thermal resistance",
            ),
            (
                self.start_up.load > 0.0 && self.start_up.output_capacitance.is_none(),
                "`load` of [start_up] changes nothing: `output_capacitance` is not told",
            ),
            (
                self.service_life.is_some()
                    && all_is_told
                    && !self.responds(|own| own == Influence::Age),
                "[ageing] changes nothing: no part drifts until the end of life",
            ),
            (
                matches!(self.drift, AssumedDrift::Stated(drift) if drift.0 > 0.0)
                    && !self.may_drift(),
                "`neutral_split` changes nothing: voltages drift in full-bridge drive alone",
            ),
            (
                matches!(self.drift, AssumedDrift::FromCauses(_)) && !self.may_drift(),
                "[converter.chain.drift] changes nothing: voltages drift in full-bridge drive alone",
            ),
        ];
        found.into_iter().filter(|(is_idle, _)| *is_idle).map(|(_, words)| words).collect()
    }

    fn shares_lots(&self) -> bool {
        self.tolerances.scattered().any(|(_, own)| own.lot_share > 0.0)
    }

    fn responds(&self, to: impl Fn(Influence) -> bool) -> bool {
        self.tolerances.responses().iter().any(|own| to(own.influence))
    }

    /// Whether any part has another temperature than the reference.
    fn states_temperatures(&self) -> bool {
        self.operating_points.iter().any(|own| {
            let condition = &own.condition;
            condition.phase_rise != 0.0 || condition.above_reference.iter().any(|own| *own != 0.0)
        })
    }

    fn states_ambient(&self) -> bool {
        self.written.keys().any(|place| place.ends_with(".ambient_temperature"))
    }

    /// Whether losses warm any part.
    fn heats_parts(&self) -> bool {
        self.operating_points.iter().any(|own| own.condition.self_heating.is_some())
    }
}

fn is_of_temperature(influence: Influence) -> bool {
    influence != Influence::Age
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The data in it are invented: full-bridge drive, an inductance with lots, all parts at the reference
    /// temperature.
    const SHELF: &str = include_str!("../../tests/data/shelf.toml");

    fn read(text: &str) -> Vec<&'static str> {
        Scenario::parse("shelf.toml", text).unwrap().without_effect()
    }

    fn said(point: &str, tables: &str) -> Vec<&'static str> {
        let name = "name = \"full load\"";
        let text = SHELF.replacen(name, &format!("{name}\n{point}"), 1);
        read(&format!("{text}\n{tables}"))
    }

    #[test]
    fn what_changes_nothing_is_told() {
        let coefficient =
            "[temperature_coefficient.resonant_capacitance]\nvalue = \"-200 ppm/K\"\n";
        let ageing = "[ageing]\nservice_life = \"60000 h\"\n";
        let drift = "[ageing.resonant_capacitance]\ndrift = \"-2 %\"\n";
        let lots = "[lots]\nconverters = 50\n";
        let warm = "temperature = \"80 °C\"";
        let cases: [(&str, String, &[&str]); 8] = [
            ("", String::new(), &[]),
            ("", lots.to_owned(), &[]),
            (warm, String::new(), &["temperatures change"]),
            ("", coefficient.to_owned(), &["temperature coefficients"]),
            (warm, coefficient.to_owned(), &[]),
            ("ambient_temperature = \"50 °C\"", String::new(), &["`ambient_temperature`"]),
            ("", ageing.to_owned(), &["[ageing]"]),
            ("", format!("{ageing}{drift}"), &[]),
        ];
        for (point, tables, wanted) in cases {
            let said = said(point, &tables);
            assert_eq!(said.len(), wanted.len(), "{point}{tables}: {said:?}");
            let is_meant = said.iter().zip(wanted).all(|(said, begin)| said.starts_with(begin));
            assert!(is_meant, "{said:?}");
        }
        let without = SHELF.replace("lot_share = 0.5", "");
        assert!(read(&format!("{without}\n{lots}"))[0].starts_with("[lots] changes nothing"));
        let driven = SHELF.replace("\"50 µF\"", "\"50 µF\"\nneutral_split = \"5 V\"");
        assert!(read(&driven).is_empty());
        let half =
            |text: &str| text.replace("drive     = \"full-bridge\"", "drive = \"half-bridge\"");
        assert!(read(&half(&driven))[0].starts_with("`neutral_split` changes nothing"));
        let causes = SHELF.replace("\"50 µF\"", "\"50 µF\"\n[converter.chain.drift]");
        assert!(read(&causes).is_empty());
        assert!(read(&half(&causes))[0].starts_with("[converter.chain.drift] changes nothing"));
    }
}
