//! Soft switching of the nominal converter: which dead times do, which magnetising inductance still
//! does, and what it helps that the falling phases switch first. Softly means here what it means in every
//! verdict: with enough to spare for it to be decided ([`TurnOn`]).

use crate::converter::{Arrangement, Converter, SwitchSpecification, SwitchTiming};
use crate::scenario::{Scenario, SwitchSettings};
use crate::solver::Solver;
use crate::solver::commutation::{Commutation, CommutationCase, DeadTimePoint, Swing, TurnOn};
use crate::solver::exact::HighIntervals;
use crate::study::common::commutation::{SoftSwitching, SolvedCase};
use crate::study::common::high_intervals::with_falling_first;
use crate::study::common::nominal::Baseline;
use crate::units::{Ampere, Henry, Second};

/// Dead times that are tried.
const DEAD_TIMES: usize = 250;

/// A difference of losses that counts as none, as a share of the highest.
const NO_LOSS: f64 = 1e-6;

/// Factors on the magnetising inductance that are tried: this one and as many again, up and down.
const FACTOR: f64 = 1.189_207_115_002_721;
/// Steps of that factor: to a quarter and to four times the nominal inductance.
const FACTORS: i32 = 8;
/// Halvings between the last factor that does and the first that does not.
const HALVINGS: usize = 10;

/// Soft switching of the nominal converter in one case.
#[derive(Debug)]
pub struct NominalSwitching {
    /// With the scenario's dead time and timing.
    pub now: SoftSwitching,
    /// Which dead times do.
    pub dead_times: DeadTimes,
    /// Largest magnetising inductance that does.
    pub magnetising: MagnetisingLimit,
    /// With the falling phases first, in a chain whose phases switch together.
    pub falling_first: Option<FallingFirst>,
    /// By what the currents of the high switches of a chain in half bridge grow where falling phases go first,
    /// whether they do or not: each high interval is then a dead time shorter.
    pub high_intervals: Option<HighIntervals>,
}

/// Dead times with which every switch turns on softly, with the steady state as it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DeadTimes {
    /// The first range of them; none where no dead time does.
    pub window: Option<DeadTimeWindow>,
    /// The shortest dead time with the least loss at turn-on.
    pub best: DeadTimePoint,
    /// Longest dead time that was tried.
    pub longest_tried: Second,
}

/// A range of dead times with which every switch turns on softly.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DeadTimeWindow {
    /// The shortest.
    pub shortest: Second,
    /// The longest; none where the longest that was tried still does.
    pub longest: Option<Second>,
}

/// What the magnetising inductance may be at a dead time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MagnetisingLimit {
    /// The largest with which every switch turns on softly.
    pub largest: LargestMagnetising,
    /// The scenario's dead time if it lies in the window; else the middle of the window.
    pub dead_time: Second,
}

/// The largest magnetising inductance with which every switch turns on softly.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LargestMagnetising {
    /// This one; every larger one that was tried fails.
    Limit(Henry),
    /// The largest that was tried does.
    AtLeast(Henry),
    /// None that was tried does: the smallest and the largest.
    NoneBetween(Henry, Henry),
}

/// What it helps that the falling phases switch first, and its price.
#[derive(Debug)]
pub struct FallingFirst {
    /// How the switches turn on then.
    pub switching: SoftSwitching,
    /// Highest current that a low switch before the last one then interrupts. The last one carries
    /// its tank's current alone and interrupts it with either timing.
    pub low_turn_off_current: Ampere,
    /// The same where all phases switch together.
    pub low_turn_off_current_together: Ampere,
}

impl NominalSwitching {
    /// Converters that are solved for it, at most.
    pub(super) const SEARCHES: usize = (2 * FACTORS + 1) as usize + HALVINGS;

    /// None where the scenario does not describe the switches, or the solver does not tell the
    /// currents at the switching instants.
    pub(super) fn new(scenario: &Scenario, baseline: &Baseline, solver: &Solver) -> Option<Self> {
        let (nominal, settings) = (scenario.nominal_converter(), scenario.switch.as_ref()?);
        let nominal = nominal.at(&baseline.case.point.condition);
        let solved = solved_case(&nominal, baseline);
        let now = SoftSwitching::as_specified(settings, solved.drift(scenario), solved)?;
        let longest = scenario.frequency.longest_dead_time(baseline.state.switching_frequency);
        let dead_times = DeadTimes::new(solved.commutation(settings), now.soft_share, longest)?;
        let dead_time = dead_times.chosen(settings.specification(solved.arrangement).dead_time);
        let settings_then = settings.with_dead_time(dead_time);
        let largest =
            Magnetising { scenario, baseline, solver, settings: &settings_then }.largest();
        let magnetising = MagnetisingLimit { largest, dead_time };
        let falling_first = FallingFirst::new(scenario, settings, solved, &now);
        let (case, state) = (&baseline.case, &baseline.state);
        let high_intervals = with_falling_first(settings, &nominal, case, state);
        Some(Self { now, dead_times, magnetising, falling_first, high_intervals })
    }
}

fn solved_case<'a>(converter: &'a Converter, baseline: &'a Baseline) -> SolvedCase<'a> {
    SolvedCase {
        converter,
        state: &baseline.state,
        point: &baseline.case.point,
        arrangement: baseline.case.arrangement,
    }
}

impl DeadTimes {
    /// Tries dead times up to the longest.
    pub fn new(case: CommutationCase<'_>, soft_share: f64, longest_tried: Second) -> Option<Self> {
        let tried = case.over_dead_times(longest_tried, DEAD_TIMES)?;
        let losses = || tried.iter().map(|point| point.loss.0);
        let (least, most) = (losses().fold(f64::INFINITY, f64::min), losses().fold(0.0, f64::max));
        let best = tried.iter().find(|point| point.loss.0 <= least + NO_LOSS * most)?;
        let window = window(&tried, TurnOn::softest(soft_share));
        Some(Self { window, best: *best, longest_tried })
    }
}

/// The first range of dead times with which every switch turns on softly; its ends lie between those
/// that were tried.
fn window(tried: &[DeadTimePoint], softest: f64) -> Option<DeadTimeWindow> {
    let is_soft = |point: &DeadTimePoint| point.shortfall <= softest;
    let first = tried.iter().position(is_soft)?;
    let end = tried[first..].iter().position(|point| !is_soft(point)).map(|n| first + n);
    let between = |n: usize| {
        let (a, b) = (&tried[n - 1], &tried[n]);
        let part = (softest - a.shortfall) / (b.shortfall - a.shortfall);
        Second(a.dead_time.0 + part * (b.dead_time.0 - a.dead_time.0))
    };
    let shortest = if first == 0 { tried[0].dead_time } else { between(first) };
    Some(DeadTimeWindow { shortest, longest: end.map(between) })
}

/// Dead times that suit several operating points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CommonDeadTimes {
    /// The range of them.
    pub window: DeadTimeWindow,
    /// Longest dead time that was tried at all of the operating points.
    pub longest_tried: Second,
}

impl CommonDeadTimes {
    /// What all windows have in common; none where there is no such dead time.
    pub(super) fn new(all: &[DeadTimes]) -> Option<Self> {
        let windows: Vec<_> = all.iter().map(|times| times.window).collect::<Option<_>>()?;
        let shortest = windows.iter().map(|window| window.shortest.0).fold(0.0, f64::max);
        let least = |times: &mut dyn Iterator<Item = f64>| times.fold(f64::INFINITY, f64::min);
        let longest = least(&mut windows.iter().filter_map(|w| w.longest).map(|time| time.0));
        let tried = least(&mut all.iter().map(|times| times.longest_tried.0));
        let longest = (longest <= tried).then_some(Second(longest));
        let is_empty = shortest > longest.map_or(tried, |longest| longest.0);
        let window = DeadTimeWindow { shortest: Second(shortest), longest };
        (!is_empty).then_some(Self { window, longest_tried: Second(tried) })
    }
}

/// The search for the largest magnetising inductance.
struct Magnetising<'a> {
    scenario: &'a Scenario,
    baseline: &'a Baseline,
    solver: &'a Solver<'a>,
    settings: &'a SwitchSettings,
}

impl Magnetising<'_> {
    fn largest(&self) -> LargestMagnetising {
        let nominal = self.scenario.nominal.magnetising_inductance.0;
        let of_step = |n: i32| nominal * FACTOR.powi(n);
        let found = (-FACTORS..=FACTORS).rev().find(|n| self.is_soft(of_step(*n)));
        match found {
            None => {
                LargestMagnetising::NoneBetween(Henry(of_step(-FACTORS)), Henry(of_step(FACTORS)))
            }
            Some(FACTORS) => LargestMagnetising::AtLeast(Henry(of_step(FACTORS))),
            Some(n) => {
                let (mut does, mut fails) = (of_step(n), of_step(n + 1));
                for _ in 0..HALVINGS {
                    let middle = 0.5 * (does + fails);
                    (does, fails) =
                        if self.is_soft(middle) { (middle, fails) } else { (does, middle) };
                }
                LargestMagnetising::Limit(Henry(does))
            }
        }
    }

    /// Whether every switch of the nominal converter turns on softly with this inductance. Where it
    /// does not deliver the output or is not solved, it does not.
    fn is_soft(&self, inductance: f64) -> bool {
        let mut converter = self.scenario.nominal_converter();
        for tank in &mut converter.tanks {
            tank.magnetising_inductance = Henry(inductance);
        }
        let outcome = self.solver.solve(&converter, &self.baseline.case);
        let converter = converter.at(&self.baseline.case.point.condition);
        let commutation = outcome.solved().and_then(|state| {
            let solved = SolvedCase { state, ..solved_case(&converter, self.baseline) };
            solved.commutation(self.settings).solve()
        });
        let limit = self.settings.soft_share;
        commutation.is_some_and(|c| c.transitions.iter().all(|t| t.verdict(limit) == TurnOn::Soft))
    }
}

impl FallingFirst {
    fn new(
        scenario: &Scenario,
        settings: &SwitchSettings,
        solved: SolvedCase<'_>,
        now: &SoftSwitching,
    ) -> Option<Self> {
        let applies = solved.arrangement == Arrangement::Chain
            && settings.chain.timing == SwitchTiming::Together;
        if !applies {
            return None;
        }
        let chain = SwitchSpecification { timing: SwitchTiming::FallingFirst, ..settings.chain };
        let switch = SwitchSettings { chain, ..*settings };
        let switching = SoftSwitching::new(&switch, solved.drift(scenario), solved)?;
        Some(Self {
            low_turn_off_current: inner_low_turn_off_current(&switching.commutation),
            low_turn_off_current_together: inner_low_turn_off_current(&now.commutation),
            switching,
        })
    }
}

/// Highest current that a low switch interrupts, but for those of the last phase.
fn inner_low_turn_off_current(commutation: &Commutation) -> Ampere {
    let transitions = &commutation.transitions;
    let last = transitions.iter().map(|t| t.phase).max();
    let inner = transitions.iter().filter(|t| t.swing == Swing::LowToHigh && Some(t.phase) != last);
    Ampere(inner.map(|t| t.turn_off_current.0).fold(0.0, f64::max))
}

impl DeadTimes {
    /// The dead time given, if it lies in the window or there is none; else the window's middle.
    fn chosen(&self, given: Second) -> Second {
        match self.window {
            Some(DeadTimeWindow { shortest, longest }) if !self.holds(given) => {
                Second(0.5 * (shortest.0 + longest.unwrap_or(self.longest_tried).0))
            }
            _ => given,
        }
    }

    /// Whether this dead time lies in the window.
    pub fn holds(&self, dead_time: Second) -> bool {
        self.window.is_some_and(|window| {
            dead_time >= window.shortest
                && dead_time <= window.longest.unwrap_or(self.longest_tried)
        })
    }
}
