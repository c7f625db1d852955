//! Which configuration an operating point takes where the scenario leaves it open.

use crate::converter::{
    Age, Arrangement, Configuration, Converter, Drive, FrequencyBand, OperatingPoint, Rectifier,
};
use crate::scenario::{PointRequest, Preference, Scenario};
use crate::solver::{Load, Outcome, Solver, Sweep, Unsolved};
use crate::study::common::curve::{Curve, VoltageRange};
use crate::study::common::figures::{Figure, SolvedConverter};
use crate::study::common::point_case::case_at;
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
    /// It reaches the output in both arrangements, at every age. The figures are those of the new one.
    Works(ConfigurationFigures),
    /// No frequency in the band delivers the output there.
    OutOfRange(TriedIn),
    /// Nothing is known of it there.
    NotSolved(TriedIn, Unsolved),
}

/// Where a configuration was tried.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TriedIn {
    /// The arrangement.
    pub arrangement: Arrangement,
    /// The age of the converter.
    pub age: Age,
}

impl TriedIn {
    /// The first that is tried.
    const NEW_CHAIN: Self = Self { arrangement: Arrangement::Chain, age: Age::New };

    /// What is beside the new chain, in brackets.
    fn remark(self) -> String {
        let arrangement = match self.arrangement {
            Arrangement::Chain => None,
            own @ Arrangement::Paralleled => Some(own.name()),
        };
        let age = (self.age != Age::New).then(|| self.age.name());
        match (arrangement, age) {
            (None, None) => String::new(),
            (Some(one), None) | (None, Some(one)) => format!(" ({one})"),
            (Some(arrangement), Some(age)) => format!(" ({arrangement}, {age})"),
        }
    }
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
    /// Tries a configuration on the nominal converter, in both arrangements: new, and at the end of life where
    /// the scenario has one.
    pub fn attempt(
        scenario: &Scenario,
        nominal: &Converter,
        request: &PointRequest,
        configuration: Configuration,
        solver: &Solver,
    ) -> Self {
        let point = in_configuration(request, configuration);
        let feasibility = Self::feasibility(scenario, nominal, &point, solver);
        let allowed = request.drive.is_none_or(|drive| drive == configuration.drive)
            && request.rectifier.is_none_or(|r| r == configuration.rectifier);
        Self { point, allowed, feasibility }
    }

    fn feasibility(
        scenario: &Scenario,
        nominal: &Converter,
        point: &OperatingPoint,
        solver: &Solver,
    ) -> Feasibility {
        let band = &scenario.frequency;
        let solve = |tried: TriedIn| {
            let condition = point.condition.aged(tried.age);
            let point = OperatingPoint { condition, ..point.clone() };
            (tried, solver.solve(nominal, &case_at(scenario, &point, tried.arrangement)))
        };
        let all = scenario.ages().iter().flat_map(|age| {
            Arrangement::ALL.map(|arrangement| solve(TriedIn { arrangement, age: *age }))
        });
        let (mut unsolved, mut figures) = (None, None);
        for (tried, outcome) in all {
            match outcome {
                Outcome::OutOfRange => return Feasibility::OutOfRange(tried),
                Outcome::NotSolved(why) => {
                    unsolved.get_or_insert(Feasibility::NotSolved(tried, why));
                }
                Outcome::Solved(state) if figures.is_none() => {
                    let (arrangement, drift) = (tried.arrangement, &scenario.drift);
                    let own = SolvedConverter::new(&state, nominal, point, arrangement, drift);
                    figures = Some(Feasibility::Works(ConfigurationFigures::new(&own, band)));
                }
                Outcome::Solved(_) => {}
            }
        }
        unsolved.or(figures).unwrap_or(Feasibility::OutOfRange(TriedIn::NEW_CHAIN))
    }

    /// The figures of one that works.
    pub fn nominal_figures(&self) -> Option<&ConfigurationFigures> {
        match &self.feasibility {
            Feasibility::Works(figures) => Some(figures),
            Feasibility::OutOfRange(_) | Feasibility::NotSolved(..) => None,
        }
    }

    /// Whether the new converter reaches the output, and the one at the end of life does not.
    pub fn fails_with_age(&self) -> bool {
        match self.feasibility {
            Feasibility::OutOfRange(tried) | Feasibility::NotSolved(tried, _) => {
                tried.age == Age::EndOfLife
            }
            Feasibility::Works(_) => false,
        }
    }

    /// Whether the work was too little for it.
    pub fn is_short_of_work(&self) -> bool {
        matches!(self.feasibility, Feasibility::NotSolved(_, Unsolved::TooMuchWork))
    }

    /// The output voltages that it can reach at the operating point's current, in one arrangement at an age.
    pub fn reach(
        &self,
        nominal: &Converter,
        band: &FrequencyBand,
        solver: &Solver,
        tried: TriedIn,
    ) -> Option<VoltageRange> {
        let load = Load::Current(self.point.output_current);
        let condition = self.point.condition.aged(tried.age);
        let point = OperatingPoint { condition, ..self.point.clone() };
        let mut sweep = Sweep::new(*solver, nominal, &point, tried.arrangement, load);
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

    /// The name of the operating point.
    pub fn operating_point(&self) -> Option<&str> {
        self.candidates.first().map(|candidate| candidate.point.name.as_str())
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
            Feasibility::OutOfRange(tried) => format!("out of range{}", tried.remark()),
            Feasibility::NotSolved(tried, _) => format!("not solved{}", tried.remark()),
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
        let (tried, unsolved) = match candidate.feasibility {
            Feasibility::OutOfRange(tried) => (tried, None),
            Feasibility::NotSolved(tried, why) => (tried, Some(why)),
            Feasibility::Works(_) => (TriedIn::NEW_CHAIN, None),
        };
        let reach = candidate.reach(nominal, band, solver, tried);
        let what = match reach {
            _ if let Some(why) = unsolved => why.reason().to_owned(),
            None => "nothing".to_owned(),
            Some(VoltageRange { lowest: Volt(0.0), highest }) => format!("up to {highest}"),
            Some(range) => format!("{} to {}", range.lowest, range.highest),
        };
        let age = if tried.age == Age::New { "" } else { ", end of life" };
        format!("\n  {name} ({}{age}): {what}", tried.arrangement.name())
    };
    let is_heated = |candidate: &ConfigurationCandidate| {
        nominal.losses.is_some() && candidate.point.condition.self_heating.is_some()
    };
    let cold = choice.candidates.iter().any(is_heated);
    let remark = "\n  (with parts that their losses do not warm; warm ones may reach less)";
    let lines: String = choice.candidates.iter().map(line).collect();
    if cold { lines + remark } else { lines }
}
