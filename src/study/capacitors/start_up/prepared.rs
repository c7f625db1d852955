//! The nominal converter at an operating point, ready to start.

use super::laws::StartLaws;
use super::result::{PointStart, StartSequence};
use crate::converter::{Arrangement, Converter, OperatingPoint};
use crate::scenario::Scenario;
use crate::solver::as_seen;
use crate::solver::start_up::StartingChain;
use crate::study::common::point_case::case_at;
use crate::study::common::session::Session;
use crate::units::Hertz;

/// A solved operating point.
pub(super) struct PreparedStart {
    /// The nominal converter as the tanks of the operating point see it.
    pub(super) converter: Converter,
    pub(super) chain: StartingChain,
    /// Switching frequency.
    operating: Hertz,
}

impl PreparedStart {
    /// None where the nominal converter is not solved.
    pub(super) fn new(
        scenario: &Scenario,
        session: &Session,
        point: &OperatingPoint,
    ) -> Option<Self> {
        let nominal = scenario.nominal_converter();
        let case = case_at(scenario, point, Arrangement::Chain);
        let outcome = session.solve(&nominal, &case);
        let state = outcome.solved()?;
        let converter = as_seen(state, &nominal.at(&point.condition), point).into_owned();
        let chain = StartingChain::new(&converter, point);
        Some(Self { converter, chain, operating: state.switching_frequency })
    }

    fn point(&self) -> &OperatingPoint {
        &self.chain.point
    }

    pub(super) fn laws<'a>(&'a self, scenario: &'a Scenario) -> StartLaws<'a> {
        StartLaws { scenario, chain: &self.chain, operating: self.operating }
    }

    pub(super) fn by_laws(&self, scenario: &Scenario) -> PointStart {
        let laws = self.laws(scenario);
        PointStart {
            operating_point: self.point().name.clone(),
            drive: self.point().drive,
            sequences: StartSequence::ALL.map(|own| laws.result(own)).into(),
            fill_energy: self.chain.fill_energy(),
            absorbed: laws.absorbed(&scenario.start_up),
            phase_voltage: self.chain.phase_voltage(),
        }
    }
}
