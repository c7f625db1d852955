//! A variant at an operating point, and the nominal converter there.

use super::variant::Variant;
use crate::converter::{Arrangement, Converter, Parameter, Sensor, Sensors, TrimmedQuantity};
use crate::scenario::SensorRequest;
use crate::solver::trim::{
    ApproachedTrims, FrequencyTrimCase, FrequencyTrimStart, Trim, TrimCase, TrimStart, Trimmed,
};
use crate::solver::{Case, Detail, Outcome, Solver, SteadyState};
use crate::study::common::figures::Figure;
use crate::study::common::nominal::{BaselineError, require};
use crate::study::common::session::{Measurement, Session};
use crate::units::Watt;

/// A variant at an operating point.
#[derive(Debug)]
pub(super) struct VariantCase {
    pub variant: Variant,
    pub case: Case,
    /// The nominal converter there, with its loops settled by sensors without error: phases of unequal
    /// temperature are trimmed too. Where they do not settle, as it is without them.
    pub nominal: SteadyState,
    /// The parts of that converter, as trimmed.
    pub nominal_parts: Converter,
    /// Where the loops start from; none without sensors.
    pub trim: Option<LoopStart>,
    /// What sensors and trim elements of all phases take.
    standing_loss: Watt,
}

/// A converter as it is drawn, with its sensors.
#[derive(Debug, Clone, Copy)]
pub(super) struct DrawnWithSensors<'a> {
    pub converter: &'a Converter,
    pub sensors: &'a Sensors,
}

/// Where loops start from.
#[derive(Debug)]
pub(super) enum LoopStart {
    /// Those that trim a part.
    Parts(Box<TrimStart>),
    /// Those that trim the frequency of paralleled phases.
    Frequencies(Box<FrequencyTrimStart>),
}

impl VariantCase {
    /// Solves the nominal converter in all variants.
    pub(super) fn all(
        session: &Session,
        request: &SensorRequest,
    ) -> Result<Vec<Self>, BaselineError> {
        let mut all = Vec::new();
        for variant in Variant::ALL {
            let arrangement = variant.arrangement();
            let baselines = session.baselines().iter();
            for baseline in baselines.filter(|b| b.case.arrangement == arrangement) {
                let case = baseline.case.clone();
                // The ripple of the output is what differing frequencies cost.
                let with_stress = case.with_stress || shows_ripple(request);
                let case = Case { with_stress, ..case };
                all.push(if variant.has_sensors() {
                    Self::with_sensors(session, request, variant, case)?
                } else {
                    let (nominal, nominal_parts) =
                        (baseline.state.clone(), session.nominal().clone());
                    let (trim, standing_loss) = (None, Watt(0.0));
                    Self { variant, case, nominal, nominal_parts, trim, standing_loss }
                });
            }
        }
        Ok(all)
    }

    fn with_sensors(
        session: &Session,
        request: &SensorRequest,
        variant: Variant,
        case: Case,
    ) -> Result<Self, BaselineError> {
        let (outcome, trim) = prepared(session, request, &case);
        let (nominal, nominal_parts) = (require(outcome, &case)?, session.nominal().clone());
        let phases = nominal_parts.phases();
        let standing_loss = Watt(phases as f64 * request.standing_loss.0);
        let own = Self { variant, case, nominal, nominal_parts, trim, standing_loss };
        let sensors = (0..phases).map(|_| Sensor::IDEAL).collect();
        let drawn = DrawnWithSensors { converter: session.nominal(), sensors: &sensors };
        let settled = own.settle(request, session.solver(), &own.case, drawn);
        Ok(match settled.map(|own| (own.outcome, own.converter)) {
            Some((Outcome::Solved(nominal), nominal_parts)) => {
                Self { nominal, nominal_parts, ..own }
            }
            _ => own,
        })
    }
}

impl VariantCase {
    /// Takes these figures of its converters.
    pub(super) fn measurement<'f>(
        &self,
        session: &Session<'f>,
        figures: &'f [Figure],
    ) -> Measurement<'f> {
        session.measurement(figures).with_standing_loss(self.standing_loss)
    }

    /// The same for a great many samples, whose solutions are forecast to second order. Figures that are told of
    /// single samples are taken without, to the last digit as other verbs have them.
    pub(super) fn for_many_samples(self, session: &Session) -> Self {
        let method = session.settings().method;
        Self { case: method.bent(session.nominal(), self.case), ..self }
    }

    /// A converter with settled loops in the case of this variant, as it is asked; none where the variant has
    /// no loops.
    pub(super) fn settle(
        &self,
        request: &SensorRequest,
        solver: Solver,
        case: &Case,
        drawn: DrawnWithSensors,
    ) -> Option<Trimmed> {
        let DrawnWithSensors { converter, sensors } = drawn;
        match (self.trim.as_ref()?, loops_of(request, solver, case)) {
            (LoopStart::Parts(start), Loops::Parts(loops)) => {
                Some(loops.settle(converter, sensors, start))
            }
            (LoopStart::Frequencies(start), Loops::Frequencies(loops)) => {
                Some(loops.settle(converter, sensors, start))
            }
            _ => None,
        }
    }
}

impl VariantCase {
    /// A converter close to where its loops settle; none where that is not told, as without loops.
    pub(super) fn approach(
        &self,
        request: &SensorRequest,
        solver: Solver,
        drawn: DrawnWithSensors,
        detail: Detail,
    ) -> Option<ApproachedTrims> {
        let DrawnWithSensors { converter, sensors } = drawn;
        match (self.trim.as_ref()?, loops_of(request, solver, &self.case)) {
            (LoopStart::Parts(start), Loops::Parts(loops)) => {
                loops.approach(converter, sensors, start, detail)
            }
            _ => None,
        }
    }
}

/// Whether the ripple current of the output is compared.
pub(super) fn shows_ripple(request: &SensorRequest) -> bool {
    request.trim == TrimmedQuantity::SwitchingFrequency
}

/// Whether loops have anything to trim: frequencies in paralleled phases alone.
pub(super) fn may_trim(request: &SensorRequest, arrangement: Arrangement) -> bool {
    request.trim != TrimmedQuantity::SwitchingFrequency || arrangement == Arrangement::Paralleled
}

/// Solves the nominal converter with its sensors.
fn prepared(
    session: &Session,
    request: &SensorRequest,
    case: &Case,
) -> (Outcome, Option<LoopStart>) {
    match loops_of(request, session.solver(), case) {
        Loops::Parts(loops) => {
            let (outcome, start) = loops.prepare(session.nominal());
            (outcome, start.map(|start| LoopStart::Parts(Box::new(start))))
        }
        Loops::Frequencies(loops) => {
            let (outcome, start) = loops.prepare(session.nominal());
            (outcome, start.map(|start| LoopStart::Frequencies(Box::new(start))))
        }
    }
}

/// The loops of a case.
enum Loops<'a> {
    Parts(TrimCase<'a>),
    Frequencies(FrequencyTrimCase<'a>),
}

/// How the loops of a case trim. In a chain, whose phases have one frequency, loops that trim frequencies
/// have no range.
fn loops_of<'a>(request: &SensorRequest, solver: Solver<'a>, case: &'a Case) -> Loops<'a> {
    let SensorRequest { measured, added_resistance, .. } = *request;
    let parts = |parameter, range| {
        Loops::Parts(TrimCase {
            solver,
            case,
            trim: Trim { measured, parameter, range, added_resistance },
        })
    };
    match (request.trim, case.arrangement) {
        (TrimmedQuantity::Part(parameter), _) => parts(parameter, request.trim_range),
        (TrimmedQuantity::SwitchingFrequency, Arrangement::Chain) => {
            parts(Parameter::ResonantInductance, 0.0)
        }
        (TrimmedQuantity::SwitchingFrequency, Arrangement::Paralleled) => {
            let range = request.trim_range;
            Loops::Frequencies(FrequencyTrimCase {
                solver,
                case,
                measured,
                range,
                added_resistance,
            })
        }
    }
}
