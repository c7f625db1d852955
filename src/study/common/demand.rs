//! What a converter must meet, and how many samples meet it.

use crate::converter::Arrangement;
use crate::engine::{SampleRow, Status};
use crate::scenario::{Limits, Scenario};
use crate::solver::Case;
use crate::statistics::{StateError, TallyState};
use crate::study::common::figures::Figure;
use crate::study::common::loss_figures::LossFigure;
use crate::study::common::settling_figures::SettlingFigure;
use crate::study::common::switching_figures::{SwitchingFigure, largest_soft_shortfall};

/// Something that a converter must meet at an operating point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Demand {
    /// The figure that is limited; none for regulation inside the frequency band.
    pub figure: Option<Figure>,
    /// Its upper limit.
    pub limit: f64,
}

impl Demand {
    /// All demands of an arrangement, regulation first.
    pub fn all(limits: &Limits, arrangement: Arrangement) -> Vec<Self> {
        let switches = limits.switches(arrangement);
        let limited = [
            (Figure::SharingError(limits.sharing), limits.sharing_error),
            (Figure::WorstSwitchRms, switches.rms_current.map(|x| x.0)),
            (Figure::WorstSwitchPeak, switches.peak_current.map(|x| x.0)),
            (Figure::WorstBlocking, switches.blocking_voltage.map(|x| x.0)),
            (Figure::Losses(LossFigure::Junction), switches.junction_temperature.map(|x| x.0)),
            (Figure::Losses(LossFigure::LostShare), switches.efficiency.map(|least| 1.0 - least)),
            (
                Figure::Switching(SwitchingFigure::Shortfall),
                switches.soft_turn_on.map(largest_soft_shortfall),
            ),
            (Figure::Settling(SettlingFigure::Time), switches.settling_time.map(|x| x.0)),
        ];
        let limited = limited
            .into_iter()
            .filter_map(|(figure, limit)| Some(Self { figure: Some(figure), limit: limit? }));
        let parts = limits.parts.iter().filter(|part| part.arrangement == arrangement);
        let of_parts =
            parts.map(|part| Self { figure: Some(Figure::Rating(part.rating)), limit: part.limit });
        std::iter::once(Self { figure: None, limit: 0.0 }).chain(limited).chain(of_parts).collect()
    }

    /// Whether an arrangement has a limit: else it is good wherever it delivers the output.
    pub fn is_any_set(limits: &Limits, arrangement: Arrangement) -> bool {
        Self::all(limits, arrangement).iter().any(|demand| demand.figure.is_some())
    }

    /// Whether a yield says anything of what would be built: the arrangement has a limit, and no part on offer
    /// counts as exact.
    pub fn can_be_judged(scenario: &Scenario, arrangement: Arrangement) -> bool {
        Self::is_any_set(&scenario.limits, arrangement) && scenario.exact_offers().is_empty()
    }

    /// How much of a limit a value uses: their ratio, above 1 where it is missed. A shortfall has limits
    /// below zero: it uses as much more than 1 as it exceeds them.
    pub fn use_of(&self, value: f64) -> f64 {
        match self.figure {
            Some(Figure::Switching(SwitchingFigure::Shortfall)) => 1.0 + value - self.limit,
            _ => value / self.limit,
        }
    }

    /// The sharing error and all other figures that are limited in either arrangement, each once.
    pub fn figures(limits: &Limits) -> Vec<Figure> {
        let mut figures = vec![Figure::SharingError(limits.sharing)];
        for demand in Arrangement::ALL.iter().flat_map(|own| Self::all(limits, *own)) {
            figures.extend(demand.figure.filter(|figure| !figures.contains(figure)));
        }
        figures
    }

    /// The name used in files: `regulation`, or that of the limited figure.
    pub fn name(&self) -> String {
        match self.figure {
            None => "regulation".into(),
            Some(Figure::SharingError(_)) => "sharing_error".into(),
            Some(Figure::Switching(SwitchingFigure::Shortfall)) => "soft_switching".into(),
            Some(figure) => figure.name(),
        }
    }
}

/// The demand missed most often, and where.
#[derive(Debug, Clone, PartialEq)]
pub struct Binding {
    /// The operating point's name.
    pub operating_point: String,
    /// The demand.
    pub demand: Demand,
    /// Number of samples that miss it there.
    pub missed: u64,
}

impl Binding {
    /// The demand missed most often at any one of these operating points; none when all samples
    /// pass. Of equals the first.
    pub fn among<'a>(points: impl Iterator<Item = (&'a str, &'a Count)>) -> Option<Self> {
        let misses = points.flat_map(|(name, count)| {
            count.misses.iter().map(move |(demand, missed)| (name, *demand, *missed))
        });
        let most = misses
            .filter(|(.., missed)| *missed > 0)
            .reduce(|most, next| if next.2 > most.2 { next } else { most });
        most.map(|(name, demand, missed)| Self { operating_point: name.into(), demand, missed })
    }
}

/// What became of the samples of one case.
#[derive(Debug, Clone)]
pub struct Count {
    /// Solved, out of range, not solved.
    pub statuses: [u64; 3],
    /// Samples that met all demands.
    pub good: u64,
    /// The demands, each with the number of samples that missed it.
    pub misses: Vec<(Demand, u64)>,
    /// The demands' columns.
    columns: Vec<Option<usize>>,
}

impl Count {
    /// Nothing yet. `figures` are the columns of the rows to come, and hold all that is limited. What does
    /// not apply in the case is not demanded there.
    pub fn new(limits: &Limits, case: &Case, figures: &[Figure]) -> Self {
        let (arrangement, drive) = (case.arrangement, case.point.drive);
        let is_demanded =
            |d: &Demand| d.figure.is_none_or(|figure| figure.applies(arrangement, drive));
        let demands: Vec<Demand> =
            Demand::all(limits, arrangement).into_iter().filter(is_demanded).collect();
        let column = |d: &Demand| figures.iter().position(|f| Some(*f) == d.figure);
        Self {
            statuses: [0; 3],
            good: 0,
            columns: demands.iter().map(column).collect(),
            misses: demands.into_iter().map(|d| (d, 0)).collect(),
        }
    }

    /// Writes what is kept, or joins that of later samples.
    ///
    /// # Errors
    ///
    /// When what is read does not belong to these samples.
    pub fn exchange(&mut self, state: &mut TallyState<'_>) -> Result<(), StateError> {
        let misses = self.misses.iter_mut().map(|(_, missed)| missed);
        let all = self.statuses.iter_mut().chain([&mut self.good]).chain(misses);
        all.into_iter().try_for_each(|own| state.count(own))
    }

    /// Whether a sample meets a demand. What is not solved fails for that reason alone: nothing
    /// else is known of it.
    fn meets_one(demand: &Demand, column: Option<usize>, row: SampleRow) -> bool {
        let solved = row.status == Status::Solved;
        match column {
            Some(column) => !solved || row.figures[column] <= demand.limit,
            // A limited figure that nobody took is met by no sample.
            None => solved && demand.figure.is_none(),
        }
    }

    /// Whether a sample meets all demands.
    pub fn meets(&self, row: SampleRow) -> bool {
        let mut demands = self.misses.iter().zip(&self.columns);
        demands.all(|((demand, _), column)| Self::meets_one(demand, *column, row))
    }

    /// Whether a sample meets all demands but those on these figures.
    pub fn meets_beside(&self, figures: &[Figure], row: SampleRow) -> bool {
        let mut demands = self.misses.iter().zip(&self.columns);
        demands.all(|((demand, _), column)| {
            demand.figure.is_some_and(|figure| figures.contains(&figure))
                || Self::meets_one(demand, *column, row)
        })
    }

    /// Counts a sample; gives whether it meets all demands.
    pub fn add(&mut self, row: SampleRow) -> bool {
        self.statuses[match row.status {
            Status::Solved => 0,
            Status::OutOfRange => 1,
            Status::NotSolved => 2,
        }] += 1;
        for ((demand, missed), column) in self.misses.iter_mut().zip(&self.columns) {
            *missed += u64::from(!Self::meets_one(demand, *column, row));
        }
        let good = self.meets(row);
        self.good += u64::from(good);
        good
    }
}
