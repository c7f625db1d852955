//! Solves designs and counts what becomes of them.

use std::fmt;

use fairphase::converter::{Arrangement, Converter};
use fairphase::solver::{Case, Effort, Method, Outcome};

use super::design::Design;
use super::verify::{Misses, TOLERANCE, verify};

/// Largest difference between a cold and a warm answer, of the frequency and of the phases'
/// output currents relative to their mean.
///
/// Both hold their equations to some 1e-10; close to resonance without loss a current moves up to
/// ten thousand times as much as its cause.
const AGREE: f64 = 1e-5;
/// One in as many solutions may be left not solved; fewer than as many: none.
const PER_NOT_SOLVED: u64 = 100_000;

/// Share of the work of one search that no design may need: far from where the solver gives up.
const MOST_WORK: f64 = 0.5;

/// Decades by which misses are told apart, from 1 down.
const DECADES: i32 = 16;

/// How a converter was solved.
const WAYS: [&str; 3] = ["nominal", "deviating, cold", "deviating, warm"];

#[derive(Debug, Clone, Copy, Default)]
struct Counts {
    solved: u64,
    out_of_range: u64,
    not_solved: u64,
}

/// What became of designs.
#[derive(Debug, Default)]
pub struct Tally {
    counts: [[Counts; WAYS.len()]; 2],
    worst: Misses,
    /// Solutions by their worst miss: entry n counts those below 10^(1−n) and not below 10^−n, the
    /// first all from 1 up, the last all below 1e-15.
    decades: [u64; 17],
    /// Solutions that do not hold, and answers that differ.
    wrong: u64,
    /// Largest share of the work that a search may take.
    most_work: f64,
    stories: Vec<String>,
}

impl Tally {
    /// Solves a design in both arrangements: the nominal converter, then the deviating one, cold
    /// and from the nominal one's solution.
    pub fn take(&mut self, design: &Design) {
        for arrangement in Arrangement::ALL {
            let case = Case::new(design.point.clone(), design.band, arrangement);
            let efforts = [Effort::default(), Effort::default()];
            let cold = Method::Exact.solve_within(&efforts[0], &design.deviating, &case);
            let (nominal, case) = Method::Exact.prepare_within(&efforts[1], &design.nominal, case);
            let work = efforts.iter().map(Effort::share_taken).fold(0.0, f64::max);
            self.most_work = self.most_work.max(work);
            self.judge(design, (arrangement, 0), &design.nominal, &nominal);
            self.judge(design, (arrangement, 1), &design.deviating, &cold);
            if case.start.is_some() {
                let warm = Method::Exact.solve(&design.deviating, &case);
                self.judge(design, (arrangement, 2), &design.deviating, &warm);
                self.compare(design, arrangement, &cold, &warm);
            }
        }
    }

    fn judge(
        &mut self,
        design: &Design,
        (arrangement, way): (Arrangement, usize),
        converter: &Converter,
        outcome: &Outcome,
    ) {
        let name = format!("{} {}", arrangement.name(), WAYS[way]);
        let counts = &mut self.counts[arrangement as usize][way];
        match outcome {
            Outcome::OutOfRange => counts.out_of_range += 1,
            Outcome::NotSolved(_) => {
                counts.not_solved += 1;
                self.stories.push(format!("{name}: not solved\n{design}"));
            }
            Outcome::Solved(state) => {
                counts.solved += 1;
                let misses = verify(state, converter, &design.point, &design.band, arrangement);
                let worst = misses.map_or(f64::INFINITY, |m| m.worst());
                let limits = (0..DECADES).map(|n| 10_f64.powi(-n));
                let decade = limits.take_while(|limit| worst < *limit).count();
                self.decades[decade] += 1;
                self.worst = self.worst.largest(&misses.unwrap_or_default());
                if worst > TOLERANCE {
                    self.wrong += 1;
                    self.stories.push(format!("{name}: does not hold: {misses:?}\n{design}"));
                }
            }
        }
    }

    fn compare(&mut self, design: &Design, arrangement: Arrangement, a: &Outcome, b: &Outcome) {
        let apart = match (a, b) {
            (Outcome::Solved(a), Outcome::Solved(b)) => {
                let f = b.switching_frequency.0 / a.switching_frequency.0 - 1.0;
                let share = design.point.output_current.0 / a.phases.len() as f64;
                let currents = a.phases.iter().zip(&b.phases);
                currents
                    .map(|(p, q)| (p.output_current.0 - q.output_current.0).abs() / share)
                    .fold(f.abs(), f64::max)
            }
            // Not solved is counted as such already.
            (Outcome::OutOfRange, Outcome::OutOfRange)
            | (Outcome::NotSolved(_), _)
            | (_, Outcome::NotSolved(_)) => 0.0,
            _ => f64::INFINITY,
        };
        if apart > AGREE {
            self.wrong += 1;
            let name = arrangement.name();
            let (a, b) = (brief(a), brief(b));
            self.stories.push(format!("{name}: cold {a}, warm {b}, {apart:.1e} apart\n{design}"));
        }
    }

    /// Both together.
    pub fn merge(mut self, other: Self) -> Self {
        for (mine, theirs) in self.counts.iter_mut().flatten().zip(other.counts.iter().flatten()) {
            mine.solved += theirs.solved;
            mine.out_of_range += theirs.out_of_range;
            mine.not_solved += theirs.not_solved;
        }
        self.worst = self.worst.largest(&other.worst);
        for (mine, theirs) in self.decades.iter_mut().zip(other.decades) {
            *mine += theirs;
        }
        self.wrong += other.wrong;
        self.most_work = self.most_work.max(other.most_work);
        self.stories.extend(other.stories);
        self
    }

    /// Whether nothing is wrong, and next to nothing not solved.
    pub fn is_accepted(&self) -> bool {
        let all = self.counts.iter().flatten();
        let (not_solved, solutions) = all.fold((0, 0), |(lost, sum), c| {
            (lost + c.not_solved, sum + c.solved + c.out_of_range + c.not_solved)
        });
        let is_short = self.most_work <= MOST_WORK;
        self.wrong == 0 && is_short && not_solved <= solutions / PER_NOT_SOLVED
    }
}

fn brief(outcome: &Outcome) -> String {
    match outcome {
        Outcome::Solved(state) => format!("at {} Hz", state.switching_frequency.0),
        other => other.name().to_owned(),
    }
}

impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (arrangement, ways) in Arrangement::ALL.iter().zip(&self.counts) {
            for (way, c) in WAYS.iter().zip(ways) {
                let all = (c.solved + c.out_of_range + c.not_solved).max(1) as f64;
                let percent = |n: u64| 100.0 * n as f64 / all;
                writeln!(
                    f,
                    "{:10} {way:16} {:9} solved ({:.2} %) {:9} out of range ({:.2} %) {:4} not solved",
                    arrangement.name(),
                    c.solved,
                    percent(c.solved),
                    c.out_of_range,
                    percent(c.out_of_range),
                    c.not_solved,
                )?;
            }
        }
        writeln!(f, "largest misses: {:?}", self.worst)?;
        write!(f, "solutions by worst miss:")?;
        for (decade, count) in self.decades.iter().enumerate().filter(|(_, count)| **count > 0) {
            write!(f, " 1e-{decade}+: {count}")?;
        }
        writeln!(f, "\n{} wrong; at most {:.4} of the work", self.wrong, self.most_work)?;
        self.stories.iter().try_for_each(|story| writeln!(f, "{story}"))
    }
}
