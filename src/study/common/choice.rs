//! Which configuration an operating point takes where the scenario leaves it open.

use crate::converter::{
    Arrangement, Configuration, Converter, Drive, FrequencyBand, OperatingPoint, Rectifier,
};
use crate::scenario::{PointRequest, Preference, Scenario};
use crate::solver::{Case, Load, Outcome, Solver, Sweep, Unsolved};
use crate::study::common::curve::{Curve, VoltageRange};
use crate::study::common::figures::{Figure, SolvedConverter};
use crate::units::{Ampere, Hertz, Volt, Watt};

/// What speaks for a configuration: figures of the nominal chain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConfigurationFigures {
    /// Switching frequency.
    pub switching_frequency: Hertz,
    /// Loss in resistances and rectifiers.
    pub loss: Watt,
    /// Highest RMS current of any switch.
    pub switch_rms_current: Ampere,
    /// Ratio of the frequency to the nearer end of the band, above 1 inside.
    pub frequency_margin: f64,
}

/// How a configuration stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Feasibility {
    /// It reaches the output in both arrangements.
    Works(ConfigurationFigures),
    /// No frequency in the band delivers the output in this arrangement.
    OutOfRange(Arrangement),
    /// Nothing is known of it in this arrangement.
    NotSolved(Arrangement, Unsolved),
}

/// A configuration that was tried.
#[derive(Debug, Clone, PartialEq)]
pub struct ConfigurationCandidate {
    /// The operating point in this configuration.
    pub point: OperatingPoint,
    /// Whether the scenario lets the operating point take it.
    pub allowed: bool,
    /// How it stands.
    pub feasibility: Feasibility,
}

/// All configurations tried for one operating point, and the one taken.
#[derive(Debug, Clone, PartialEq)]
pub struct ConfigurationChoice {
    /// Whether the scenario left more than one open.
    pub open: bool,
    /// What decided.
    pub prefer: Preference,
    /// The configurations tried.
    pub candidates: Vec<ConfigurationCandidate>,
    /// The one taken; none where no allowed one works.
    pub chosen: Option<usize>,
}

impl ConfigurationCandidate {
    /// Tries a configuration on the nominal converter, in both arrangements.
    pub fn attempt(
        scenario: &Scenario,
        nominal: &Converter,
        request: &PointRequest,
        configuration: Configuration,
        solver: &Solver,
    ) -> Self {
        let point = in_configuration(request, configuration);
        let band = &scenario.frequency;
        let case = |arrangement| Case::new(point.clone(), *band, arrangement);
        let [chain, paralleled] = Arrangement::ALL.map(|a| (a, solver.solve(nominal, &case(a))));
        let feasibility = match (&chain, &paralleled) {
            ((a, Outcome::OutOfRange), _) | (_, (a, Outcome::OutOfRange)) => {
                Feasibility::OutOfRange(*a)
            }
            ((a, Outcome::NotSolved(why)), _) | (_, (a, Outcome::NotSolved(why))) => {
                Feasibility::NotSolved(*a, *why)
            }
            ((a, Outcome::Solved(state)), _) => {
                let drift = &scenario.drift;
                let measured = SolvedConverter::new(state, nominal, &point, *a, drift);
                Feasibility::Works(ConfigurationFigures::new(&measured, band))
            }
        };
        let allowed = request.drive.is_none_or(|drive| drive == configuration.drive)
            && request.rectifier.is_none_or(|r| r == configuration.rectifier);
        Self { point, allowed, feasibility }
    }

    /// The figures of one that works.
    pub fn nominal_figures(&self) -> Option<&ConfigurationFigures> {
        match &self.feasibility {
            Feasibility::Works(figures) => Some(figures),
            Feasibility::OutOfRange(_) | Feasibility::NotSolved(..) => None,
        }
    }

    /// Whether the work was too little for it.
    pub fn is_short_of_work(&self) -> bool {
        matches!(self.feasibility, Feasibility::NotSolved(_, Unsolved::TooMuchWork))
    }

    /// The output voltages that it can reach at the operating point's current, in one arrangement.
    pub fn reach(
        &self,
        nominal: &Converter,
        band: &FrequencyBand,
        solver: &Solver,
        arrangement: Arrangement,
    ) -> Option<VoltageRange> {
        let load = Load::Current(self.point.output_current);
        let mut sweep = Sweep::new(*solver, nominal, &self.point, arrangement, load);
        Curve::trace(&mut sweep, band).range()
    }
}

impl ConfigurationFigures {
    fn new(measured: &SolvedConverter<'_>, band: &FrequencyBand) -> Self {
        let frequency = measured.value(Figure::SwitchingFrequency);
        Self {
            switching_frequency: Hertz(frequency),
            loss: Watt(measured.value(Figure::Loss)),
            switch_rms_current: Ampere(measured.value(Figure::WorstSwitchRms)),
            frequency_margin: (frequency / band.minimum.0).min(band.maximum.0 / frequency),
        }
    }

    /// What a preference wants low.
    fn cost(&self, prefer: Preference) -> f64 {
        match prefer {
            Preference::LowestLoss => self.loss.0,
            Preference::LowestSwitchCurrent => self.switch_rms_current.0,
            Preference::FrequencyMargin => -self.frequency_margin,
        }
    }
}

impl ConfigurationChoice {
    /// Takes, of the allowed candidates that work, the one that is preferred; the first of equals.
    pub fn among(candidates: Vec<ConfigurationCandidate>, prefer: Preference) -> Self {
        let allowed = candidates.iter().enumerate().filter(|(_, c)| c.allowed);
        let open = allowed.clone().count() > 1;
        let costs = allowed.filter_map(|(n, c)| Some((n, c.nominal_figures()?.cost(prefer))));
        let chosen = costs.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(n, _)| n);
        Self { open, prefer, candidates, chosen }
    }

    /// Tries all configurations that the scenario leaves open to an operating point.
    pub fn for_request<'a>(
        scenario: &Scenario,
        nominal: &Converter,
        request: &PointRequest,
        solver: impl Into<Solver<'a>>,
    ) -> Self {
        let solver = solver.into();
        let candidates = configurations(request)
            .into_iter()
            .map(|c| ConfigurationCandidate::attempt(scenario, nominal, request, c, &solver));
        Self::among(candidates.collect(), scenario.prefer)
    }

    /// Whether the work was too little for some candidate.
    pub fn is_short_of_work(&self) -> bool {
        self.candidates.iter().any(ConfigurationCandidate::is_short_of_work)
    }

    /// The candidate taken.
    pub fn taken(&self) -> Option<&ConfigurationCandidate> {
        self.candidates.get(self.chosen?)
    }

    /// Why a candidate was taken or dropped, in a few words.
    pub fn reason(&self, candidate: usize) -> String {
        let found = &self.candidates[candidate];
        match found.feasibility {
            Feasibility::Works(_) if self.chosen == Some(candidate) && !self.open => {
                "as given".into()
            }
            Feasibility::Works(_) if self.chosen == Some(candidate) => "chosen".into(),
            Feasibility::Works(_) if !found.allowed => "works, not asked for".into(),
            Feasibility::Works(_) => match self.prefer {
                Preference::LowestLoss => "higher loss".into(),
                Preference::LowestSwitchCurrent => "higher switch current".into(),
                Preference::FrequencyMargin => "nearer the band's end".into(),
            },
            Feasibility::OutOfRange(Arrangement::Chain) => "out of range".into(),
            Feasibility::OutOfRange(a) => format!("out of range ({})", a.name()),
            Feasibility::NotSolved(Arrangement::Chain, _) => "not solved".into(),
            Feasibility::NotSolved(a, _) => format!("not solved ({})", a.name()),
        }
    }
}

/// The configurations that an operating point may take: what it gives stays as given; what it
/// leaves open is a half or a full bridge, and a full-bridge rectifier or a voltage doubler.
pub fn configurations(request: &PointRequest) -> Vec<Configuration> {
    let rectifiers = request
        .rectifier
        .map_or(vec![Rectifier::FullBridge, Rectifier::VoltageDoubler], |given| vec![given]);
    let drives = request.drive.map_or(Drive::ALL.to_vec(), |given| vec![given]);
    let with_drives = |rectifier: &Rectifier| {
        let rectifier = *rectifier;
        drives.iter().map(move |drive| Configuration { drive: *drive, rectifier })
    };
    rectifiers.iter().flat_map(with_drives).collect()
}

/// The operating point in a configuration.
pub fn in_configuration(request: &PointRequest, configuration: Configuration) -> OperatingPoint {
    OperatingPoint {
        name: request.name.clone(),
        input_voltage: request.input_voltage,
        output_voltage: request.output_voltage,
        output_current: request.output_current,
        drive: configuration.drive,
        rectifier: configuration.rectifier,
        condition: request.condition,
    }
}

/// What each candidate can reach at the operating point's current, a line each, in the arrangement
/// in which it fails. Parts that heat themselves count at the reference temperature there, so a warm
/// candidate may fail inside its range: that is told too.
pub(super) fn reaches(
    choice: &ConfigurationChoice,
    nominal: &Converter,
    band: &FrequencyBand,
    solver: &Solver,
) -> String {
    let line = |candidate: &ConfigurationCandidate| {
        let name = candidate.point.configuration().name();
        let (arrangement, unsolved) = match candidate.feasibility {
            Feasibility::OutOfRange(a) => (a, None),
            Feasibility::NotSolved(a, why) => (a, Some(why)),
            Feasibility::Works(_) => (Arrangement::Chain, None),
        };
        let reach = candidate.reach(nominal, band, solver, arrangement);
        let what = match reach {
            _ if let Some(why) = unsolved => why.reason().to_owned(),
            None => "nothing".to_owned(),
            Some(VoltageRange { lowest: Volt(0.0), highest }) => format!("up to {highest}"),
            Some(range) => format!("{} to {}", range.lowest, range.highest),
        };
        format!("\n  {name} ({}): {what}", arrangement.name())
    };
    let is_heated = |candidate: &ConfigurationCandidate| {
        nominal.losses.is_some() && candidate.point.condition.self_heating.is_some()
    };
    let cold = choice.candidates.iter().any(is_heated);
    let remark = "\n  (with parts that their losses do not warm; warm ones may reach less)";
    let lines: String = choice.candidates.iter().map(line).collect();
    if cold { lines + remark } else { lines }
}
