//! From parts to per-unit equations, and from their solution to amperes.

use std::borrow::Cow;

use super::cycle::{PerUnitPhase, PhaseUnknowns, TankLoading};
use super::difference::CurrentIntegrals;
use super::half::HalfCircuit;
use super::output::{OutputFeed, PhaseFeed, Ripple};
use super::search::SearchResult;
use super::sensitivity::FirstOrderResponse;
use super::start::{Base, ExactStart};
use super::stress::HalfStress;
use super::system::{
    ChainSource, ConverterUnknowns, HOLDS, HalfPeriod, Linear, PerPhase, PerUnitConverter, Period,
    Source,
};
use super::waveform::{Integrals, Wave};
use crate::converter::{Arrangement, Converter, Drive, OperatingPoint, Tank};
use crate::solver::links::ChainLinks;
use crate::solver::loading::{Loaded, Loading, Unloaded};
use crate::solver::{
    Case, Effort, HalfWave, Outcome, OutputRipple, PartStress, PhaseState, Start, SteadyState,
    SwitchCurrent, Switches, TankState, Unsolved,
};
use crate::units::{Ampere, Hertz, Volt};

/// How close to resonance, relatively, phases without loss leave their split open. And how close a
/// search without result must have come for that to be the reason.
const THERE: f64 = 1e-9;
const NEAR: f64 = 1e-6;
/// How close an approach to a solution may come without asking.
const FAR_FROM_THERE: f64 = 1e-2;

/// Solves a converter in a case, both fully known.
///
/// The iteration starts from the case's start, if it has one of this solver. Without one, or where
/// it does not lead to the highest frequency that delivers the output, a search follows. It goes
/// down from the highest frequency and finds the solution or shows that the band holds none.
pub(in crate::solver) fn solve(
    converter: &Converter,
    case: &Case,
    effort: &Effort,
    loading: &mut dyn Loading,
) -> Outcome {
    let start = start_of(case);
    let mut search = Search::new(converter, case, effort);
    match search.settle(start, &mut Linear::default(), loading) {
        Ok(Settled { state, .. }) => Outcome::Solved(state),
        Err(nothing) => nothing.into(),
    }
}

/// Solves a converter likewise from where its forecast has led.
pub(super) fn solve_from(
    converter: &Converter,
    case: &Case,
    effort: &Effort,
    approached: &ConverterUnknowns,
) -> Outcome {
    let mut search = Search::new(converter, case, effort);
    search.approached = Some(approached);
    match search.settle(start_of(case), &mut Linear::default(), &mut Unloaded) {
        Ok(Settled { state, .. }) => Outcome::Solved(state),
        Err(nothing) => nothing.into(),
    }
}

/// Solves a converter likewise, and makes of its solution the start of converters nearby.
pub(in crate::solver) fn prepare(
    converter: &Converter,
    case: &Case,
    effort: &Effort,
    loading: &mut dyn Loading,
) -> (Outcome, Option<ExactStart>) {
    let mut search = Search::new(converter, case, effort);
    let mut linear = Linear::default();
    match search.settle(start_of(case), &mut linear, loading) {
        Ok(Settled { system, at, state }) => {
            let sensitivity = FirstOrderResponse::new(&system, &at);
            let start =
                ExactStart { base: search.base, point: *at, sensitivity, hints: linear.hints() };
            (Outcome::Solved(state), Some(start))
        }
        Err(nothing) => (nothing.into(), None),
    }
}

/// Takes the second order of the response to the parts into the start that a converter's solution in this
/// case left.
pub(in crate::solver) fn bend(start: &mut ExactStart, converter: &Converter, case: &Case) {
    let effort = Effort::default();
    let mut system = PerUnitConverter::new(converter, case, &start.base, &effort);
    system.look_below_rest(true);
    if let Some(sensitivity) = &mut start.sensitivity {
        sensitivity.bend(&system, &start.point);
    }
}

/// The start of a case, if it is one of this solver.
pub(super) fn start_of(case: &Case) -> Option<&ExactStart> {
    match &case.start {
        Some(Start::Exact(start)) => Some(start),
        _ => None,
    }
}

/// What is told of a solution.
struct Wanted<'a> {
    case: &'a Case,
    base: &'a Base,
    /// Whether it tells what loads every part.
    with_stress: bool,
    /// Whether it tells how far charges run ahead of each other.
    with_leads: bool,
    /// What is integrated of the currents of the tanks.
    integrals: fn(&Wave<'_>) -> Integrals,
    /// The same of the currents of switches that carry those of two tanks.
    differences: fn(&Wave<'_>, &Wave<'_>) -> CurrentIntegrals,
}

impl<'a> Wanted<'a> {
    /// All that a solution is to tell.
    fn all(case: &'a Case, base: &'a Base) -> Self {
        Self {
            case,
            base,
            with_stress: case.with_stress,
            with_leads: case.arrangement == Arrangement::Chain,
            integrals: |wave| wave.integrals(),
            differences: |wave, other| wave.difference(other),
        }
    }

    /// What tells the losses that a solution is expected to have.
    fn expected(case: &'a Case, base: &'a Base) -> Self {
        Self {
            case,
            base,
            with_stress: false,
            with_leads: false,
            integrals: |wave| wave.squares(),
            differences: |wave, other| wave.square_of_difference(other),
        }
    }
}

/// What a solution is searched for.
struct Search<'a> {
    converter: Cow<'a, Converter>,
    case: &'a Case,
    base: Base,
    effort: &'a Effort<'a>,
    /// Where its forecast has led already.
    approached: Option<&'a ConverterUnknowns>,
}

/// A solution that leaves the converter's parts as they are.
struct Settled<'a> {
    system: PerUnitConverter<'a>,
    at: Box<ConverterUnknowns>,
    state: SteadyState,
}

impl<'a> Search<'a> {
    fn new(converter: &'a Converter, case: &'a Case, effort: &'a Effort<'a>) -> Self {
        let own = || Base::of_first_phase(converter, &case.point);
        let base = start_of(case).map_or_else(own, |start| start.base);
        Self { converter: Cow::Borrowed(converter), case, base, effort, approached: None }
    }

    /// Solves the converter until its solution leaves its parts as they are, with the linearisation about
    /// it. Each round begins with the last solution.
    fn settle(
        &mut self,
        start: Option<&ExactStart>,
        linear: &mut Linear,
        loading: &mut dyn Loading,
    ) -> Result<Settled<'a>, Nothing> {
        let Self { case, base, effort, .. } = *self;
        let mut system = PerUnitConverter::new(&self.converter, case, &base, effort);
        if let Some(start) = start {
            linear.expect(&start.hints);
        }
        let mut follower = Follower { search: self, start, loading };
        let mut at = follower.find(&mut system, linear)?;
        loop {
            let state = system.steady_state(&at, linear, &Wanted::all(case, &base));
            match follower.loading.load(&state, &mut follower.search.converter) {
                Loaded::Settled => return Ok(Settled { system, at, state }),
                Loaded::Failed(why) => return Err(Nothing::NotSolved(why)),
                Loaded::Changed => {}
            }
            system = PerUnitConverter::new(&follower.search.converter, case, &base, effort);
            system.look_below_rest(true);
            at = match follower.follow(&mut system, &at, linear) {
                Some(found) => found?,
                None => follower.find(&mut system, linear)?,
            };
        }
    }
}

/// What solves a converter whose parts follow their currents.
struct Follower<'s, 'a> {
    search: &'s mut Search<'a>,
    start: Option<&'s ExactStart>,
    loading: &'s mut dyn Loading,
}

impl<'a> Follower<'_, 'a> {
    /// The solution, with its period in `linear`; of whatever was found, the equations are seen to
    /// hold, and to hold for this alone.
    fn find(
        &mut self,
        system: &mut PerUnitConverter<'a>,
        linear: &mut Linear,
    ) -> Result<Box<ConverterUnknowns>, Nothing> {
        // Close to resonance many a phase has its kink here; mostly its lower side counts.
        for below in [true, false] {
            system.look_below_rest(below);
            let approached = self.search.approached.take().map(Cow::Borrowed);
            let forecast = approached.or_else(|| self.start.map(|start| system.forecast(start)));
            if let Some(found) = forecast.and_then(|from| self.follow(system, &from, linear)) {
                return found;
            }
        }
        system.find_slowly(self.start, linear)
    }

    /// What Newton's iteration leads to from a neighbour's solution, if that decides the case. It
    /// may lead outside the band to the highest frequency that delivers the output. Then none
    /// inside the band does.
    fn follow(
        &mut self,
        system: &mut PerUnitConverter<'a>,
        start: &ConverterUnknowns,
        linear: &mut Linear,
    ) -> Option<Result<Box<ConverterUnknowns>, Nothing>> {
        let revise = |system: &mut PerUnitConverter<'a>, at: &_, linear: &mut _| {
            self.revise(system, at, linear).is_some()
        };
        let at = system.newton_revised(start, HalfPeriod::Regulated, linear, revise)?;
        if !at.highest && !system.none_above(&at.clone().into()) {
            return None;
        }
        match system.approve(Box::new(at.point), linear) {
            Ok(point) if !system.allows(point.h) => Some(Err(Nothing::OutOfRange)),
            Err(Nothing::NotSolved(Unsolved::Lost)) => None,
            found => Some(found),
        }
    }

    /// Gives the tanks what the currents near a solution make of them; none where they keep what they have.
    fn revise(
        &mut self,
        system: &mut PerUnitConverter<'a>,
        at: &ConverterUnknowns,
        linear: &mut Linear,
    ) -> Option<()> {
        let response = self.start.and_then(|start| start.sensitivity.as_ref());
        // Parts that not even the shortest step changes spare the step.
        let response = response.filter(|_| self.loading.anticipates(0.0))?;
        let step = system.expected_step(at, linear)?;
        if !self.loading.anticipates(step.change) {
            return None;
        }
        let Search { converter, case, base, .. } = &mut *self.search;
        let mut state = system.steady_state(at, linear, &Wanted::expected(case, base));
        system.expect(&step, &mut state, base);
        self.loading.anticipate(&state, step.change, converter);
        for (k, tank) in converter.tanks.iter().enumerate() {
            response.load(system, linear, k, tank_loading(tank, &case.point, base));
        }
        Some(())
    }
}

/// Why there is no solution.
#[derive(Debug, Clone, Copy)]
enum Nothing {
    OutOfRange,
    NotSolved(Unsolved),
}

impl From<Nothing> for Outcome {
    fn from(nothing: Nothing) -> Self {
        match nothing {
            Nothing::OutOfRange => Self::OutOfRange,
            Nothing::NotSolved(why) => Self::NotSolved(why),
        }
    }
}

impl<'a> PerUnitConverter<'a> {
    pub(super) fn new(
        converter: &Converter,
        case: &Case,
        base: &Base,
        effort: &'a Effort<'a>,
    ) -> Self {
        let (point, arrangement) = (&case.point, case.arrangement);
        let amplitude = point.drive.amplitude() * point.input_voltage.0 / base.volt;
        let phases = converter.phases();
        let links = &*case.links_of(converter);
        let source = match arrangement {
            Arrangement::Paralleled => Source::Paralleled { amplitude: amplitude / phases as f64 },
            Arrangement::Chain => {
                let ripple = links.ripple * base.farad();
                Source::Chain(ChainSource { input: amplitude, ripple })
            }
        };
        let half_period = |f: Hertz| 0.5 / (f.0 * base.second);
        Self {
            phases: (0..phases)
                .map(|k| Part { tank: &converter.tanks[k], case, links, k }.phase(base, effort))
                .collect(),
            is_late: (0..phases).map(|k| converter.place(k) % 2 == 1).collect(),
            source,
            output_current: point.output_current.0 / base.ampere(),
            half_periods: (half_period(case.band.maximum), half_period(case.band.minimum)),
            effort,
        }
    }

    /// The solution by a slow and certain search, first near a start; with its period in `linear`.
    fn find_slowly(
        &self,
        start: Option<&ExactStart>,
        linear: &mut Linear,
    ) -> Result<Box<ConverterUnknowns>, Nothing> {
        let near = start.and_then(|g| self.solve_nearby(&g.point)).filter(|at| self.allows(at.h));
        let found = near.map_or_else(|| self.search(), |at| SearchResult::Solved(Box::new(at)));
        if let Some(why) = self.effort.exhaustion() {
            return Err(Nothing::NotSolved(why));
        }
        match found {
            SearchResult::Solved(at) if self.observe(&at, linear).is_some() => {
                self.approve(at, linear)
            }
            SearchResult::OutOfRange => Err(Nothing::OutOfRange),
            SearchResult::Solved(at) | SearchResult::Lost(Some(at)) => Err(self.lost_at(&at)),
            SearchResult::Lost(None) => Err(Nothing::NotSolved(Unsolved::Lost)),
        }
    }

    /// Why the search ends without a solution about `at`.
    fn lost_at(&self, at: &ConverterUnknowns) -> Nothing {
        let open = self.leaves_split_open(at.h, NEAR);
        Nothing::NotSolved(if open { Unsolved::SplitUndetermined } else { Unsolved::Lost })
    }

    /// Where the solution is expected, from a neighbour's.
    pub(super) fn forecast<'s>(&self, start: &'s ExactStart) -> Cow<'s, ConverterUnknowns> {
        let forecast = start.sensitivity.as_ref().and_then(|s| s.forecast(self, &start.point));
        forecast.map_or(Cow::Borrowed(&start.point), Cow::Owned)
    }

    fn approve(
        &self,
        at: Box<ConverterUnknowns>,
        linear: &Linear,
    ) -> Result<Box<ConverterUnknowns>, Nothing> {
        if self.miss(&at, linear, HalfPeriod::Regulated) >= HOLDS {
            return Err(self.lost_at(&at));
        }
        if self.leaves_split_open(at.h, THERE) {
            return Err(Nothing::NotSolved(Unsolved::SplitUndetermined));
        }
        Ok(at)
    }

    /// Whether the band has this half period.
    pub(super) fn allows(&self, h: f64) -> bool {
        (self.half_periods.0..=self.half_periods.1).contains(&h)
    }

    /// Whether, about a half period, phases without loss may leave their split open.
    pub(super) fn may_leave_split_open(&self, h: f64) -> bool {
        self.leaves_split_open(h, FAR_FROM_THERE)
    }

    /// The solution's currents and voltages.
    fn steady_state(
        &self,
        at: &ConverterUnknowns,
        linear: &Linear,
        wanted: &Wanted<'_>,
    ) -> SteadyState {
        let Wanted { case, base, with_stress, with_leads, integrals, differences } = *wanted;
        let drive = case.point.drive;
        let waves: PerPhase<Waves> = (0..self.phases.len())
            .map(|k| Waves::with(&self.phases[k], &at.z[k], &linear.periods[k], integrals))
            .collect();
        // Filled where it stays: it is large.
        let mut state = SteadyState {
            switching_frequency: Hertz(0.5 / (at.h * base.second)),
            phases: Vec::with_capacity(waves.len()),
            commutation: None,
            dissipation: None,
            output_ripple: with_stress.then(|| self.output_ripple(&waves, at.h, case, base)),
        };
        for (k, wave) in waves.iter().enumerate() {
            let switches = match case.arrangement {
                Arrangement::Chain => wave.chained(waves.get(k + 1), drive, differences),
                Arrangement::Paralleled => wave.alone(drive),
            };
            let mut phase = wave.state(drive, switches, at.h, base);
            phase.stress = with_stress.then(|| wave.stress(&phase, at.h, base));
            // No high switch blocks what the first phase and the third one discharge.
            let after_next = waves.get(k + 2).filter(|_| with_leads && k > 0);
            phase.lead = after_next.map(|other| wave.lead_of(other, drive, at.h, base));
            state.phases.push(phase);
        }
        state
    }

    /// Upper bounds of currents, with charges that give upper bounds of voltages ([`Wave::bounds`]); none where
    /// they are not told.
    pub(super) fn bounded_state(
        &self,
        at: &ConverterUnknowns,
        linear: &Linear,
        case: &Case,
        base: &Base,
    ) -> Option<SteadyState> {
        let drive = case.point.drive;
        let waves: PerPhase<Waves> = (0..self.phases.len())
            .map(|k| Waves::bounded(&self.phases[k], &at.z[k], &linear.periods[k]))
            .collect::<Option<_>>()?;
        let mut phases = Vec::with_capacity(waves.len());
        for (k, wave) in waves.iter().enumerate() {
            let switches = match case.arrangement {
                Arrangement::Chain => wave.chained_bounds(waves.get(k + 1), drive, at.h)?,
                Arrangement::Paralleled => wave.alone(drive),
            };
            phases.push(wave.state(drive, switches, at.h, base));
        }
        Some(SteadyState {
            switching_frequency: Hertz(0.5 / (at.h * base.second)),
            phases,
            commutation: None,
            dissipation: None,
            output_ripple: None,
        })
    }

    /// Currents and voltages of a converter that was settled and followed.
    pub(super) fn state_in(
        &self,
        case: &Case,
        base: &Base,
        at: &ConverterUnknowns,
        linear: &Linear,
    ) -> SteadyState {
        self.steady_state(at, linear, &Wanted::all(case, base))
    }

    fn output_ripple(
        &self,
        waves: &[Waves<'_>],
        half_period: f64,
        case: &Case,
        base: &Base,
    ) -> OutputRipple {
        let phases = waves.iter().zip(&self.phases);
        let feed = OutputFeed {
            phases: phases
                .zip(&self.is_late)
                .map(|((wave, phase), is_late)| PhaseFeed {
                    halves: &wave.halves,
                    gain: phase.gain(),
                    is_late: *is_late,
                })
                .collect(),
            half_period,
            rectifier: case.point.rectifier,
            is_mirrored: self.phases.iter().all(PerUnitPhase::is_mirrored),
        };
        let Ripple { rms, peak_to_peak } = feed.ripple();
        let ampere = |x: f64| Ampere(x * base.ampere());
        OutputRipple { rms: ampere(rms), peak_to_peak: ampere(peak_to_peak) }
    }
}

/// Phase `k` of a converter in a case.
pub(super) struct Part<'c> {
    pub(super) tank: &'c Tank,
    pub(super) case: &'c Case,
    pub(super) links: &'c ChainLinks,
    pub(super) k: usize,
}

impl Part<'_> {
    /// Its per-unit equations.
    pub(super) fn phase<'a>(&self, base: &Base, effort: &'a Effort<'a>) -> PerUnitPhase<'a> {
        let Self { tank, case, links, k } = *self;
        let point = &case.point;
        let elastance = base.farad() / tank.resonant_capacitance.0;
        let kappa = links.elastances[k];
        let TankLoading { resistance, clamp } = tank_loading(tank, point, base);
        let half = |kappa: f64| {
            HalfCircuit::new(
                tank.resonant_inductance.0 / base.henry(),
                tank.magnetising_inductance.0 / base.henry(),
                elastance + kappa * base.farad(),
                resistance,
                clamp,
            )
        };
        let gain = point.rectifier.current_gain(tank.turns_ratio);
        PerUnitPhase::new(kappa.map(half), elastance, gain, effort)
    }
}

/// What a tank with its rectifier drop has to overcome at an operating point, per unit.
fn tank_loading(tank: &Tank, point: &OperatingPoint, base: &Base) -> TankLoading {
    let (ratio, drop) = (tank.turns_ratio, tank.rectifier_drop);
    let clamp = point.rectifier.clamp_voltage(ratio, point.output_voltage, drop);
    TankLoading { resistance: tank.series_resistance.0 / base.ohm, clamp: clamp / base.volt }
}

/// A phase's solved period with its integrals.
struct Waves<'a> {
    start: &'a PhaseUnknowns,
    resonant_elastance: f64,
    period: &'a Period,
    is_mirrored: bool,
    halves: [Wave<'a>; 2],
    integrals: [Integrals; 2],
}

impl<'a> Waves<'a> {
    /// With upper bounds instead of peaks.
    fn bounded(
        phase: &'a PerUnitPhase<'_>,
        start: &'a PhaseUnknowns,
        period: &'a Period,
    ) -> Option<Self> {
        let mut is_bounded = true;
        let bounds = |wave: &Wave<'a>| {
            let found = wave.bounds();
            is_bounded &= found.is_some();
            found.unwrap_or_default()
        };
        let waves = Self::with(phase, start, period, bounds);
        is_bounded.then_some(waves)
    }

    fn with(
        phase: &'a PerUnitPhase<'_>,
        start: &'a PhaseUnknowns,
        period: &'a Period,
        mut integrals: impl FnMut(&Wave<'a>) -> Integrals,
    ) -> Self {
        let is_mirrored = phase.is_mirrored();
        let [first, second] = &period.stretches;
        let second = if is_mirrored { first } else { second };
        let [a, b] = phase.circuits();
        let halves =
            [Wave { circuit: a, stretches: first }, Wave { circuit: b, stretches: second }];
        let first = integrals(&halves[0]);
        let second = if is_mirrored { first } else { integrals(&halves[1]) };
        let resonant_elastance = phase.resonant_elastance();
        Self { start, resonant_elastance, period, is_mirrored, halves, integrals: [first, second] }
    }

    /// Every switch carries the tank current during its own half period. In half-bridge drive the
    /// return leg holds its low side on, which carries the current during both.
    fn alone(&self, drive: Drive) -> [CurrentIntegrals; 4] {
        let [a, b] = self.integrals.map(|x| CurrentIntegrals {
            square: x.square,
            absolute: x.absolute,
            peak: x.peak,
        });
        match drive {
            Drive::HalfBridge => {
                let mut both = a;
                both += b;
                [a, b, CurrentIntegrals::default(), both]
            }
            Drive::FullBridge => [a, b, b, a],
        }
    }

    /// In a chain a low switch also carries the next phase's current, which the mirrored signs of
    /// the two halves turn into a difference. The last phase has no next one. That current comes
    /// through the flying capacitor and the next high switch of the same leg. In half-bridge drive
    /// no high switch of the return leg is ever on, so its low side carries its own phase alone.
    fn chained(
        &self,
        next: Option<&Self>,
        drive: Drive,
        differences: fn(&Wave<'_>, &Wave<'_>) -> CurrentIntegrals,
    ) -> [CurrentIntegrals; 4] {
        let mut switches = self.alone(drive);
        if let Some(next) = next {
            let ([first, second], [next_first, next_second]) = (&self.halves, &next.halves);
            switches[1] = differences(next_first, second);
            if drive == Drive::FullBridge {
                switches[3] = differences(next_second, first);
            }
        }
        switches
    }

    /// The same with upper bounds.
    fn chained_bounds(
        &self,
        next: Option<&Self>,
        drive: Drive,
        half: f64,
    ) -> Option<[CurrentIntegrals; 4]> {
        let mut switches = self.alone(drive);
        if let Some(next) = next {
            let ([first, second], [next_first, next_second]) = (&self.halves, &next.halves);
            switches[1] = next_first.difference_bounds(second, half)?;
            if drive == Drive::FullBridge {
                switches[3] = next_second.difference_bounds(first, half)?;
            }
        }
        Some(switches)
    }

    /// How far the charge of another phase runs ahead at most, in either half: both move as much from begin to end,
    /// so it is at most half of ∫ |i − j| dt, and that at most √(h ∫ (i − j)² dt).
    fn lead_of(&self, other: &Self, drive: Drive, h: f64, base: &Base) -> [f64; 2] {
        let lead = |n: usize| {
            let square = self.halves[n].square_of_difference(&other.halves[n]).square;
            0.5 * (h * square.max(0.0)).sqrt() * base.coulomb()
        };
        let first = lead(0);
        let is_alike = drive == Drive::HalfBridge || self.is_mirrored && other.is_mirrored;
        [first, if is_alike { first } else { lead(1) }]
    }

    /// The source at the start of the high interval.
    fn source(&self, drive: Drive) -> f64 {
        self.period.amplitude / drive.amplitude()
    }

    fn state(
        &self,
        drive: Drive,
        switches: [CurrentIntegrals; 4],
        h: f64,
        base: &Base,
    ) -> PhaseState {
        let [a, b] = self.integrals;
        let (d, im, e) = (self.start[0], self.start[1], self.start[2]);
        let period = 2.0 * h;
        let ampere = |x: f64| Ampere(x * base.ampere());
        let capacitor = |charge: f64| {
            Volt((self.source(drive) - e + charge * self.resonant_elastance) * base.volt)
        };
        // The halves mirror each other in sign: what goes along the one goes against the other.
        let mut half_waves = a.rectified;
        half_waves[0] += b.rectified[1];
        half_waves[1] += b.rectified[0];
        let [high, low, return_high, return_low] = switches.map(|x| SwitchCurrent {
            rms: ampere((x.square / period).sqrt()),
            mean: ampere(x.absolute / period),
            peak: ampere(x.peak),
        });
        PhaseState {
            output_current: ampere(self.period.output),
            mean_abs_current: ampere((a.absolute + b.absolute) / period),
            rms_current: ampere(((a.square + b.square) / period).sqrt()),
            half_waves: half_waves.map(|own| HalfWave {
                mean: ampere(own.charge / period),
                rms: ampere((own.square / period).sqrt()),
            }),
            peak_current: ampere(a.peak.max(b.peak)),
            charge: a.charge * base.coulomb(),
            charge_range: [a, b].map(|x| (x.low * base.coulomb(), x.high * base.coulomb())),
            lead: None,
            start_voltage: Volt(self.source(drive) * base.volt),
            start: Some(TankState {
                tank_current: ampere(d + im),
                magnetising_current: ampere(im),
                capacitor_voltage: capacitor(0.0),
            }),
            middle: self.halves[0].end().map(|(tank, magnetising)| TankState {
                tank_current: ampere(tank),
                magnetising_current: ampere(magnetising),
                capacitor_voltage: capacitor(a.charge),
            }),
            switches: Switches { high, low, return_high, return_low },
            stress: None,
        }
    }

    /// What else loads the parts of the phase.
    fn stress(&self, phase: &PhaseState, h: f64, base: &Base) -> PartStress {
        let first = self.halves[0].stress();
        let second = if self.is_mirrored { first } else { self.halves[1].stress() };
        let highest = |value: fn(&HalfStress) -> f64| {
            Ampere(value(&first).max(value(&second)) * base.ampere())
        };
        PartStress {
            rectifier_peak: highest(|x| x.rectified_peak),
            magnetising_peak: highest(|x| x.magnetising_peak),
            capacitor_range: self.capacitor_range(phase, base),
            mean_charge: [first, second].map(|x| x.charge_moment / h * base.coulomb()),
        }
    }

    /// Lowest and highest voltage of the resonant capacitor, from where the charge goes in both halves.
    fn capacitor_range(&self, phase: &PhaseState, base: &Base) -> [Volt; 2] {
        let elastance = self.resonant_elastance / base.farad();
        let starts =
            [phase.start, phase.middle].map(|tank| tank.map_or(0.0, |t| t.capacitor_voltage.0));
        let halves = starts.into_iter().zip(phase.charge_range).zip([1.0, -1.0]);
        let extremes = halves.flat_map(|((start, (low, high)), direction)| {
            [low, high].map(|charge| start + direction * charge * elastance)
        });
        let [low, high] = extremes
            .fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], v| [low.min(v), high.max(v)]);
        [Volt(low), Volt(high)]
    }
}
