//! Why a verb did not do its work.

use super::exit::ExitStatus;
use super::output::complain;
use crate::converter::Drive;
use crate::input::diagnostics::{Diagnostics, InputError};
use crate::input::file::InputFile;
use crate::report::format::folder::FolderError;
use crate::report::merge::PartError;
use crate::scenario::{Place, Scenario};
use crate::solver::Unsolved;
use crate::study::common::error::StudyError;
use crate::study::common::nominal::BaselineError;
use crate::study::compare::CompareError;
use crate::study::shapes::ShapesError;

/// Why a verb did not do its work.
#[derive(Debug, thiserror::Error)]
pub(super) enum CliError {
    /// An input is wrong: the whole message.
    #[error("{0}")]
    Input(String),
    /// The study cannot work on the scenario: where in the file the reason lies.
    #[error("{message}")]
    Scenario { place: Place, message: String, expected: String },
    /// The work could not be finished.
    #[error(transparent)]
    Unfinished(#[from] anyhow::Error),
}

impl CliError {
    /// The exit status that belongs to it.
    pub(super) fn status(&self) -> ExitStatus {
        match self {
            Self::Input(_) | Self::Scenario { .. } => ExitStatus::WrongInput,
            Self::Unfinished(_) => ExitStatus::Unfinished,
        }
    }

    /// The same error with its place in the scenario file, as line and column. A converter that does
    /// not work is often a slip of units.
    pub(super) fn located(self, file: &InputFile, scenario: &Scenario) -> Self {
        match self {
            Self::Scenario { place, message, expected } => {
                let is_of_converter = matches!(place, Place::OperatingPoint(_));
                let help = scenario.distant_resonance().filter(|_| is_of_converter);
                place.error(file, &message, &expected, help).into()
            }
            other => other,
        }
    }

    /// Tells it on standard error.
    pub(super) fn tell(&self) {
        let message = match self {
            Self::Unfinished(error) => format!("error: {error:#}"),
            other => other.to_string(),
        };
        complain(&message);
    }
}

impl From<InputError> for CliError {
    fn from(error: InputError) -> Self {
        Self::Input(error.to_string())
    }
}

impl From<CompareError> for CliError {
    fn from(error: CompareError) -> Self {
        Self::Input(error.to_string())
    }
}

impl From<Diagnostics> for CliError {
    fn from(errors: Diagnostics) -> Self {
        Self::Input(errors.to_string())
    }
}

impl From<PartError> for CliError {
    fn from(error: PartError) -> Self {
        Self::Input(format!("error: {error}\n"))
    }
}

impl From<FolderError> for CliError {
    fn from(error: FolderError) -> Self {
        if error.is_refusal() {
            Self::Input(format!("error: {error}"))
        } else {
            Self::Unfinished(error.into())
        }
    }
}

impl From<BaselineError> for CliError {
    fn from(error: BaselineError) -> Self {
        if let BaselineError::NeedsExactSolver { limit, .. } = error {
            return Self::Scenario {
                place: Place::Limit(limit),
                message: error.to_string(),
                expected: "expected no such limit with --solver averaged".to_owned(),
            };
        }
        if matches!(error, BaselineError::PartsNeedExactSolver) {
            return Self::Scenario {
                place: Place::PartLimits,
                message: error.to_string(),
                expected: "expected no such limits with --solver averaged".to_owned(),
            };
        }
        if let BaselineError::PartNotLoaded { needed, .. } = error {
            let drive = needed.map_or("other", Drive::name);
            return Self::Scenario {
                place: Place::PartLimits,
                message: error.to_string(),
                expected: format!(
                    "expected an operating point with {drive} drive, or no such limit"
                ),
            };
        }
        let Some(point) = error.point() else { return Self::Unfinished(error.into()) };
        let runs_away =
            matches!(error, BaselineError::NotSolved { why: Unsolved::ThermalRunaway, .. });
        let expected = if runs_away {
            "expected losses and thermal resistances in [converter.losses], and for paralleled phases in \
             [converter.losses.paralleled], with which temperatures settle here"
        } else {
            "expected an operating point that [converter.tank] reaches within [converter.frequency]: see \
             `fairphase gain`"
        };
        Self::Scenario {
            place: Place::OperatingPoint(point.to_owned()),
            message: error.to_string(),
            expected: expected.to_owned(),
        }
    }
}

impl From<StudyError> for CliError {
    fn from(error: StudyError) -> Self {
        match error {
            StudyError::Baseline(error) => error.into(),
            other => Self::Unfinished(other.into()),
        }
    }
}

impl From<ShapesError> for CliError {
    fn from(error: ShapesError) -> Self {
        match error {
            ShapesError::FewInside { .. } => Self::Input(format!("error: {error}")),
            other => Self::Unfinished(other.into()),
        }
    }
}
