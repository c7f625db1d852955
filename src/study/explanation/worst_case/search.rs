//! A bounded search for the largest value of a figure over a box.
//!
//! Every coordinate of the box reaches from −1 to 1. The figure is the largest of its components, such
//! as the RMS currents of all switches. The search first raises the component that a start is meant
//! for, wherever another one is larger, and then the figure itself: each component leads to a maximum of
//! its own.
//!
//! It goes through the coordinates one by one. A rough sweep tries the ends of each. From every start one
//! rough sweep leads near a corner; from the highest of these places more lead to one. From the highest
//! corners fine sweeps go on: they also try the middle, the neighbourhood of where the coordinate is, which
//! becomes smaller with every sweep, and the top of the parabola through three of these places. Towards
//! points without a value a coordinate goes by halves.
//! After a sweep all coordinates together go the same way once more. The search settles when a whole fine
//! sweep raises nothing. So what it finds is a maximum along each coordinate. That none is larger anywhere
//! is not proved.
//!
//! The method is a coordinate search with quadratic interpolation (J. Nocedal and S. J. Wright,
//! Numerical Optimization, 2nd edition, 2006, section 9.3; from memory) and the pattern moves of R.
//! Hooke and T. A. Jeeves, J. ACM 8 (1961) 212 (from memory).

use std::cmp::Ordering;

/// Starts that are followed at most, the most promising first.
const MOST_STARTS: usize = 12;
/// Those of them that a second sweep follows at most, the highest after the first.
const MOST_CORNERS: usize = 5;
/// Corners from which fine sweeps go on at most.
const MOST_FINE: usize = 3;
/// Sweeps through all coordinates at most, from one start.
const MOST_SWEEPS: u32 = 40;
/// Distance of the neighbours that a coordinate inside tries first, and the least one.
const WIDEST_STEP: f64 = 0.25;
const LEAST_STEP: f64 = 0.01;
/// A change of the figure that counts, as a share of it.
const CHANGE: f64 = 1e-7;
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
            positions.push(Position {
                point: start.point.clone(),
                components,
                raised: start.component,
            });
        }
    }
    positions.sort_by(|a, b| falling(a.largest(), b.largest()));
    positions.truncate(MOST_STARTS);
    let mut corners = rough(figure, positions, 1);
    let others = corners.split_off(corners.len().min(MOST_CORNERS));
    let mut corners = rough(figure, corners, MOST_SWEEPS);
    corners.extend(others);
    let mut found = fine(figure, corners);
    found.sort_by(|a, b| falling(a.value, b.value).then(b.settled.cmp(&a.settled)));
    found
}

/// Where rough sweeps lead, so many from each start at most, highest first.
fn rough(figure: &mut dyn BoxFigure, starts: Vec<Position>, most: u32) -> Vec<Position> {
    let mut found: Vec<Position> = Vec::new();
    for at in starts {
        let mut ascent = Ascent { figure, at, step: WIDEST_STEP, sweeps: Sweeps::Rough };
        ascent.climb(&found, most);
        let at = ascent.at;
        if found.iter().all(|known| known.point != at.point) {
            found.push(at);
        }
    }
    found.sort_by(|a, b| falling(a.largest(), b.largest()));
    found
}

/// Where fine sweeps lead from the first of these.
fn fine(figure: &mut dyn BoxFigure, from: Vec<Position>) -> Vec<LocalMaximum> {
    let mut settled: Vec<Position> = Vec::new();
    let mut found = Vec::new();
    for (n, at) in from.into_iter().enumerate() {
        let mut ascent = Ascent { figure, at, step: WIDEST_STEP, sweeps: Sweeps::Fine };
        let is_settled = n < MOST_FINE && ascent.climb(&settled, MOST_SWEEPS);
        let at = ascent.at;
        let (point, value) = (at.point.clone(), at.largest());
        found.push(LocalMaximum { point, value, settled: is_settled });
        if is_settled {
            settled.push(at);
        }
    }
    found
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
}

impl Position {
    fn largest(&self) -> f64 {
        largest(&self.components)
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
            if known.iter().any(|settled| settled.point == self.at.point) {
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
        let (before, start) = (self.at.objective(&self.at.components), self.at.point.clone());
        let mut met = f64::NEG_INFINITY;
        for coordinate in 0..start.len() {
            let tried = self.try_along(coordinate)?;
            met = tried.iter().map(|t| largest(&t.components)).fold(met, f64::max);
            self.take_best(coordinate, tried);
        }
        self.go_on_from(&start);
        let now = self.at.objective(&self.at.components);
        Some(Sweep {
            raised: now - before > CHANGE * before.abs(),
            passed_larger: met - self.at.largest() > CHANGE * met.abs(),
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
        if self.at.objective(&components) > self.at.objective(&self.at.components) {
            (self.at.point, self.at.components) = (farther, components);
        }
    }

    /// The values at other places of a coordinate; none once the work is spent.
    fn try_along(&mut self, coordinate: usize) -> Option<Vec<Tried>> {
        let here = self.at.point[coordinate];
        let mut tried = Vec::new();
        for end in [-1.0, 1.0] {
            self.try_at(coordinate, end, &mut tried)?;
        }
        if self.sweeps == Sweeps::Rough {
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
