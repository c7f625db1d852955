//! A bounded search for the largest value of a figure over a box.
//!
//! Every coordinate of the box reaches from −1 to 1. The figure is the largest of its components, such
//! as the RMS currents of all switches. The search first raises the component that a start is meant
//! for, wherever another one is larger, and then the figure itself: each component leads to a maximum of
//! its own.
//!
//! It goes through the coordinates one by one. A rough sweep tries the ends of those that have been seen to
//! have some influence (`influence`). From every start one rough sweep leads near a corner; from the highest
//! of these places more lead to one, and from there fine sweeps go on. They try the ends of all coordinates;
//! of those with some influence also the middle, the neighbourhood of where the coordinate is, which becomes
//! smaller with every sweep, and the top of the parabola through three of these places. Towards points
//! without a value a coordinate goes by halves.
//! Left out are starts far below the highest, but for the largest sample, and places as high as one before:
//! switches that mirror each other lead to the same maximum.
//! After a sweep all coordinates together go the same way once more. The search settles when a whole fine
//! sweep raises nothing. So what it finds is a maximum along each coordinate. That none is larger anywhere
//! is not proved.
//!
//! The method is a coordinate search with quadratic interpolation (J. Nocedal and S. J. Wright,
//! Numerical Optimization, 2nd edition, 2006, section 9.3; from memory) and the pattern moves of R.
//! Hooke and T. A. Jeeves, J. ACM 8 (1961) 212 (from memory).

use std::cmp::Ordering;

use super::influence::CoordinateInfluence;

/// Starts that are followed at most, the most promising first.
const MOST_STARTS: usize = 12;
/// Places from which further sweeps go on at most, the highest after the first.
const MOST_CORNERS: usize = 3;
/// Sweeps through all coordinates at most, from one start.
const MOST_SWEEPS: u32 = 40;
/// Distance of the neighbours that a coordinate inside tries first, and the least one.
const WIDEST_STEP: f64 = 0.25;
const LEAST_STEP: f64 = 0.01;
/// A change of the figure that counts, as a share of it. Rough sweeps leave smaller ones to fine ones.
const CHANGE: f64 = 1e-6;
const ROUGH_CHANGE: f64 = 1e-5;
/// Below the highest place by more than this share, a start is left out. A sweep raised no corner of the example
/// scenarios by a tenth.
const FAR_BELOW: f64 = 0.25;
/// Places whose values differ by less than this share are as high as each other.
const AS_HIGH: f64 = 1e-6;
/// How often the way to a place without a value is halved.
const HALVINGS: u32 = 4;

/// A figure over a box.
pub trait BoxFigure {
    /// Its components at a point; none where it has no value.
    fn components(&mut self, point: &[f64]) -> Option<Vec<f64>>;

    /// Tells that the next points lie about this one, in case they are easier to find from there.
    fn look_about(&mut self, _point: &[f64]) {}

    /// Whether the work that the search may take is spent.
    fn is_spent(&self) -> bool;
}

/// Where a search begins.
#[derive(Debug, Clone, PartialEq)]
pub struct SearchStart {
    /// The coordinates, each from −1 to 1.
    pub point: Vec<f64>,
    /// The component that is raised first; none for the one that is largest there.
    pub component: Option<usize>,
}

/// Where a search ended.
#[derive(Debug, Clone, PartialEq)]
pub struct LocalMaximum {
    /// The coordinates, each from −1 to 1.
    pub point: Vec<f64>,
    /// The figure.
    pub value: f64,
    /// Whether the last sweep raised nothing: no coordinate moved alone makes the figure larger by more
    /// than a millionth, as far as tried. False where the work was spent before.
    pub settled: bool,
}

/// Searches from the most promising starts. The maxima found come by falling value; there are none
/// where the figure has no value at any start.
pub fn local_maxima(figure: &mut dyn BoxFigure, starts: &[SearchStart]) -> Vec<LocalMaximum> {
    let mut positions: Vec<Position> = Vec::new();
    for start in starts {
        let is_new = positions.iter().all(|known| known.point != start.point);
        if is_new
            && !figure.is_spent()
            && let Some(components) = figure.components(&start.point)
        {
            let raised = start.component.or_else(|| largest_of(&components));
            let is_free = start.component.is_none();
            positions.push(Position { point: start.point.clone(), components, raised, is_free });
        }
    }
    positions.sort_by(|a, b| falling(a.raised_value(), b.raised_value()));
    let mut influence =
        CoordinateInfluence::unknown(positions.first().map_or(0, |at| at.point.len()));
    let mut search = Search { figure, influence: &mut influence };
    let starts = search.first_sweeps(positions);
    let corners = search.corners(starts);
    let mut found = search.fine(corners);
    found.sort_by(|a, b| falling(a.value, b.value).then(b.settled.cmp(&a.settled)));
    found
}

/// A figure, and what is known of its coordinates.
struct Search<'a> {
    figure: &'a mut dyn BoxFigure,
    influence: &'a mut CoordinateInfluence,
}

impl Search<'_> {
    fn ascent(&mut self, at: Position, sweeps: Sweeps) -> Ascent<'_> {
        let Self { figure, influence } = self;
        Ascent { figure: *figure, influence, at, step: WIDEST_STEP, sweeps }
    }

    /// Where one rough sweep leads from the most promising starts, which come by falling value; highest first.
    fn first_sweeps(&mut self, starts: Vec<Position>) -> Vec<Position> {
        let mut values: Vec<f64> = Vec::new();
        let mut found: Vec<Position> = Vec::new();
        let highest_free = starts.iter().position(|at| at.is_free);
        for (n, at) in starts.into_iter().enumerate() {
            let value = at.raised_value();
            let is_above = |other: &f64| other - value > FAR_BELOW * other.abs();
            let is_hopeless = values.iter().any(is_above);
            let is_known = values.iter().any(|known| is_as_high(*known, value));
            let is_left_out = is_known || is_hopeless || values.len() == MOST_STARTS;
            if is_left_out && highest_free != Some(n) {
                continue;
            }
            values.push(value);
            let mut ascent = self.ascent(at, Sweeps::Rough);
            ascent.climb(&found, 1);
            let at = ascent.at;
            push_new(&mut found, at);
        }
        found.sort_by(|a, b| falling(a.largest(), b.largest()));
        found
    }

    /// Where more of them lead from the highest places, highest first; and the other places.
    fn corners(&mut self, places: Vec<Position>) -> Vec<Position> {
        let mut found: Vec<Position> = Vec::new();
        let mut others = Vec::new();
        for at in places {
            let is_known = found.iter().any(|known| is_as_high(known.largest(), at.largest()));
            if is_known || found.len() == MOST_CORNERS {
                others.push(at);
                continue;
            }
            let mut ascent = self.ascent(at, Sweeps::Rough);
            ascent.climb(&found, MOST_SWEEPS);
            let at = ascent.at;
            push_new(&mut found, at);
        }
        found.sort_by(|a, b| falling(a.largest(), b.largest()));
        found.extend(others);
        found
    }

    /// Where fine sweeps lead from the first of these.
    fn fine(&mut self, from: Vec<Position>) -> Vec<LocalMaximum> {
        let mut settled: Vec<Position> = Vec::new();
        let mut found = Vec::new();
        for (n, at) in from.into_iter().enumerate() {
            if settled.iter().any(|known| is_as_high(known.largest(), at.largest())) {
                continue;
            }
            let mut ascent = self.ascent(at, Sweeps::Fine);
            let is_settled = n < MOST_CORNERS && ascent.climb(&settled, MOST_SWEEPS);
            let at = ascent.at;
            let (point, value) = (at.point.clone(), at.largest());
            found.push(LocalMaximum { point, value, settled: is_settled });
            if is_settled {
                settled.push(at);
            }
        }
        found
    }
}

/// Adds a place that is not among the known ones.
fn push_new(known: &mut Vec<Position>, at: Position) {
    if known.iter().all(|other| other.point != at.point) {
        known.push(at);
    }
}

fn is_as_high(a: f64, b: f64) -> bool {
    (a - b).abs() < AS_HIGH * b.abs()
}

/// Whether a coordinate rests neither at an end nor in the middle.
fn is_inside(place: f64) -> bool {
    let size = place.abs();
    size > 0.0 && size < 1.0
}

/// Whether two places are the same to the last bit.
fn is_same(a: f64, b: f64) -> bool {
    a.total_cmp(&b).is_eq()
}

fn falling(a: f64, b: f64) -> Ordering {
    b.total_cmp(&a)
}

/// Which component is largest.
fn largest_of(components: &[f64]) -> Option<usize> {
    (0..components.len()).max_by(|a, b| components[*a].total_cmp(&components[*b]))
}

fn largest(components: &[f64]) -> f64 {
    components.iter().copied().fold(f64::NEG_INFINITY, f64::max)
}

/// A point with what the figure is there.
#[derive(Debug, Clone)]
struct Position {
    point: Vec<f64>,
    components: Vec<f64>,
    /// The component that is being raised; none for the largest.
    raised: Option<usize>,
    /// Whether it comes from a start for no certain component.
    is_free: bool,
}

impl Position {
    fn largest(&self) -> f64 {
        largest(&self.components)
    }

    /// The value of what is being raised.
    fn raised_value(&self) -> f64 {
        self.objective(&self.components)
    }

    /// What is being raised.
    fn objective(&self, components: &[f64]) -> f64 {
        self.raised.and_then(|n| components.get(n)).copied().unwrap_or_else(|| largest(components))
    }
}

/// What a sweep through all coordinates did.
#[derive(Debug, Clone, Copy, Default)]
struct Sweep {
    /// Whether it raised what it was meant to.
    raised: bool,
    /// Whether it met a point at which the figure is larger than at its end.
    passed_larger: bool,
}

/// A value along one coordinate.
#[derive(Debug)]
struct Tried {
    place: f64,
    components: Vec<f64>,
}

/// Which places sweeps try.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sweeps {
    /// The ends of each coordinate.
    Rough,
    /// All.
    Fine,
}

/// The way up from one start.
struct Ascent<'a> {
    figure: &'a mut dyn BoxFigure,
    influence: &'a mut CoordinateInfluence,
    at: Position,
    step: f64,
    sweeps: Sweeps,
}

impl Ascent<'_> {
    /// Climbs until a whole sweep raises nothing, until a known place where none does, or for so many sweeps;
    /// whether it settled.
    fn climb(&mut self, known: &[Position], most: u32) -> bool {
        let mut about = Vec::new();
        for _ in 0..most {
            if known.iter().any(|settled| is_as_high(settled.largest(), self.at.largest())) {
                return true;
            }
            if self.at.point != about {
                about.clone_from(&self.at.point);
                self.figure.look_about(&about);
            }
            let Some(sweep) = self.sweep() else { return false };
            let is_finest =
                self.sweeps == Sweeps::Rough || self.step <= LEAST_STEP || self.rests_on_grid();
            match sweep {
                Sweep { raised: true, .. } => {}
                Sweep { passed_larger: true, .. } if self.at.raised.is_some() => {
                    self.at.raised = None;
                    continue;
                }
                _ if is_finest => return true,
                _ => {}
            }
            self.step = (0.5 * self.step).max(LEAST_STEP);
        }
        false
    }

    /// Whether every coordinate is at an end or in the middle, so that finer steps change nothing.
    fn rests_on_grid(&self) -> bool {
        self.at.point.iter().all(|x| !is_inside(*x))
    }

    /// Goes through all coordinates; none once the work is spent.
    fn sweep(&mut self) -> Option<Sweep> {
        let (before, start) = (self.at.raised_value(), self.at.point.clone());
        let mut met = f64::NEG_INFINITY;
        for coordinate in 0..start.len() {
            let tried = self.try_along(coordinate)?;
            met = tried.iter().map(|t| largest(&t.components)).fold(met, f64::max);
            self.take_best(coordinate, tried);
        }
        self.go_on_from(&start);
        let now = self.at.raised_value();
        let change = if self.sweeps == Sweeps::Rough { ROUGH_CHANGE } else { CHANGE };
        Some(Sweep {
            raised: now - before > change * before.abs(),
            passed_larger: met - self.at.largest() > change * met.abs(),
        })
    }

    /// Goes as far again as from `start` to here, if that raises anything.
    fn go_on_from(&mut self, start: &[f64]) {
        let ends = self.at.point.iter().zip(start);
        let farther: Vec<f64> = ends.map(|(now, was)| (2.0 * now - was).clamp(-1.0, 1.0)).collect();
        if farther == self.at.point || self.figure.is_spent() {
            return;
        }
        let Some(components) = self.figure.components(&farther) else { return };
        if self.at.objective(&components) > self.at.raised_value() {
            (self.at.point, self.at.components) = (farther, components);
        }
    }

    /// The values at other places of a coordinate; none once the work is spent.
    fn try_along(&mut self, coordinate: usize) -> Option<Vec<Tried>> {
        let here = self.at.point[coordinate];
        let value = self.at.raised_value();
        let has_influence = self.influence.has(coordinate, self.at.raised, value);
        let mut tried = Vec::new();
        if self.sweeps == Sweeps::Rough && !has_influence {
            return Some(tried);
        }
        for end in [-1.0, 1.0] {
            self.try_at(coordinate, end, &mut tried)?;
        }
        if self.sweeps == Sweeps::Rough || !has_influence {
            return Some(tried);
        }
        let inside = is_inside(here);
        let near = [here - self.step, here + self.step].map(|x| x.clamp(-1.0, 1.0));
        let middle = (!inside).then_some(0.0);
        for place in middle.into_iter().chain(near) {
            self.try_at(coordinate, place, &mut tried)?;
        }
        let three = if inside { [near[0], here, near[1]] } else { [-1.0, 0.0, 1.0] };
        if let Some(top) = self.parabola_top(coordinate, three, &tried) {
            self.try_at(coordinate, top, &mut tried)?;
        }
        Some(tried)
    }

    /// Tries a place that was not tried yet, or one nearer where that has no value; none once the work
    /// is spent.
    fn try_at(&mut self, coordinate: usize, place: f64, tried: &mut Vec<Tried>) -> Option<()> {
        let here = self.at.point[coordinate];
        let mut place = place;
        for _ in 0..=HALVINGS {
            if is_same(place, here) || tried.iter().any(|t| is_same(t.place, place)) {
                return Some(());
            }
            if self.figure.is_spent() {
                return None;
            }
            let mut point = self.at.point.clone();
            point[coordinate] = place;
            if let Some(components) = self.figure.components(&point) {
                self.influence.note(coordinate, &self.at.components, &components);
                tried.push(Tried { place, components });
                return Some(());
            }
            place = f64::midpoint(here, place);
        }
        Some(())
    }

    /// The top of the parabola through three places of a coordinate, if it has one inside.
    fn parabola_top(&self, coordinate: usize, places: [f64; 3], tried: &[Tried]) -> Option<f64> {
        let value = |place: f64| {
            let components = if is_same(place, self.at.point[coordinate]) {
                Some(&self.at.components)
            } else {
                tried.iter().find(|t| is_same(t.place, place)).map(|t| &t.components)
            };
            components.map(|components| self.at.objective(components))
        };
        let [a, b, c] = places;
        let [f, g, h] = [value(a)?, value(b)?, value(c)?];
        let (left, right) = ((g - f) / (b - a), (h - g) / (c - b));
        let bend = (right - left) / (c - a);
        let is_top = bend < 0.0;
        let top = 0.5 * (a + b) - 0.5 * left / bend;
        (is_top && top > -1.0 && top < 1.0).then_some(top)
    }

    /// Moves to the best place that was tried, if it is better than here.
    fn take_best(&mut self, coordinate: usize, tried: Vec<Tried>) {
        let objective = |components: &[f64]| self.at.objective(components);
        let best = tried.into_iter().reduce(|best, next| {
            if objective(&next.components) > objective(&best.components) { next } else { best }
        });
        let here = objective(&self.at.components);
        if let Some(best) = best.filter(|best| objective(&best.components) > here) {
            self.at.point[coordinate] = best.place;
            self.at.components = best.components;
        }
    }
}
