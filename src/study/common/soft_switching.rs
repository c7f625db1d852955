//! How many converters switch softly.

use std::ops::Range;

use crate::converter::Arrangement;
use crate::engine::{Batch, Status};
use crate::scenario::SwitchSettings;
use crate::solver::Case;
use crate::solver::commutation::TurnOn;
use crate::statistics::{
    Distribution, Estimator, KeyFigures, StateError, StatisticsError, TallyState, Yield,
};
use crate::study::common::figures::Figure;
use crate::study::common::high_intervals::ShortHighIntervals;
use crate::study::common::nominal::Baseline;
use crate::study::common::session::Session;
use crate::study::common::switching_figures::{SwitchingFigure, verdict};

/// Shares of converters by how their switches turn on. The rest is not solved somewhere.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SoftShares {
    /// All switches turn on softly.
    pub soft: Yield,
    /// One switch or more is not decided, and none is hard.
    pub not_decided: Yield,
    /// One switch or more turns on hard.
    pub hard: Yield,
}

/// How the switches turn on at an operating point in an arrangement.
#[derive(Debug, Clone, PartialEq)]
pub struct CaseSwitching {
    /// Name of the operating point.
    pub operating_point: String,
    /// The arrangement.
    pub arrangement: Arrangement,
    /// Shares of converters.
    pub shares: SoftShares,
    /// In the order of [`SwitchingFigure::ALL`]; none where nothing was solved.
    figures: Vec<Option<KeyFigures>>,
}

impl CaseSwitching {
    /// The key figures of a figure.
    pub fn key_figures(&self, figure: SwitchingFigure) -> Option<KeyFigures> {
        let place = SwitchingFigure::ALL.iter().position(|own| *own == figure)?;
        *self.figures.get(place)?
    }
}

/// How the switches of the converters turn on.
#[derive(Debug, Clone, PartialEq)]
pub struct PopulationSwitching {
    /// At each operating point in each arrangement.
    pub cases: Vec<CaseSwitching>,
    /// Over all operating points together: chain, paralleled.
    pub joint: [SoftShares; 2],
    /// Operating points at which the dead time shifts the sharing error of the nominal chain by what is
    /// not small beside its limit.
    pub shifts: Vec<SharingShift>,
    /// Operating points at which the timing makes the high intervals of the nominal chain so short that currents
    /// grow.
    pub short_high_intervals: Vec<ShortHighIntervals>,
}

/// A shift of the sharing error by the dead time, which the steady state leaves out.
#[derive(Debug, Clone, PartialEq)]
pub struct SharingShift {
    /// Name of the operating point.
    pub operating_point: String,
    /// About, in half of all converters: two fractions.
    pub shift: [f64; 2],
}

/// Samples of one case or arrangement: soft, not decided, hard.
type Counts = [u64; 3];

/// Counts samples while they pass.
#[derive(Debug, Clone)]
pub(in crate::study) struct SwitchingTally {
    switch: SwitchSettings,
    /// Columns of all figures, in the order of [`SwitchingFigure::ALL`].
    columns: [usize; SwitchingFigure::ALL.len()],
    /// Row of the first case; the others follow.
    first: usize,
    /// Name of the operating point, and arrangement, of each case.
    points: Vec<String>,
    arrangements: Vec<Arrangement>,
    cases: Vec<Counts>,
    joint: [Counts; 2],
}

fn slot(arrangement: Arrangement) -> usize {
    usize::from(arrangement == Arrangement::Paralleled)
}

fn place(verdict: TurnOn) -> usize {
    match verdict {
        TurnOn::Soft => 0,
        TurnOn::NotDecided => 1,
        TurnOn::Hard => 2,
    }
}

impl SwitchingTally {
    /// Nothing yet, in these rows of the cases; none where no figure tells how the switches turn on.
    pub(in crate::study) fn new(
        session: &Session,
        cases: &[Case],
        rows: Range<usize>,
        figures: &[Figure],
    ) -> Option<Self> {
        let column = |own| figures.iter().position(|figure| *figure == Figure::Switching(own));
        let columns: Option<Vec<usize>> = SwitchingFigure::ALL.into_iter().map(column).collect();
        let first = rows.start;
        let cases = &cases[rows];
        Some(Self {
            first,
            switch: session.scenario().switch?,
            columns: columns?.try_into().ok()?,
            points: cases.iter().map(|case| case.point.name.clone()).collect(),
            arrangements: cases.iter().map(|case| case.arrangement).collect(),
            cases: vec![[0; 3]; cases.len()],
            joint: [[0; 3]; 2],
        })
    }

    /// Takes a batch.
    pub(in crate::study) fn take(&mut self, batch: &Batch) {
        for n in 0..batch.len() {
            // The worst of all operating points; none where one of them is not solved.
            let mut worst = [Some(0); 2];
            for (case, arrangement) in self.arrangements.iter().enumerate() {
                let row = batch.row(n, self.first + case);
                let worst = &mut worst[slot(*arrangement)];
                if row.status == Status::Solved {
                    let own = place(self.judged(row.figures[self.columns[0]]));
                    self.cases[case][own] += 1;
                    *worst = worst.map(|worst| own.max(worst));
                } else {
                    *worst = None;
                }
            }
            for (counts, worst) in self.joint.iter_mut().zip(worst) {
                if let Some(worst) = worst {
                    counts[worst] += 1;
                }
            }
        }
    }

    /// Writes what is kept, or joins that of later samples.
    ///
    /// # Errors
    ///
    /// When what is read does not belong to these samples.
    pub(in crate::study) fn exchange(
        &mut self,
        state: &mut TallyState<'_>,
    ) -> Result<(), StateError> {
        let all = self.cases.iter_mut().chain(&mut self.joint).flatten();
        all.into_iter().try_for_each(|own| state.count(own))
    }

    /// A converter whose dead time could not be followed is not decided.
    fn judged(&self, shortfall: f64) -> TurnOn {
        if shortfall.is_nan() { TurnOn::NotDecided } else { verdict(&self.switch, shortfall) }
    }

    /// The shares among so many samples; `of_case` gives the distribution of a case and column.
    pub(in crate::study) fn shares<'a>(
        &self,
        session: &Session,
        estimator: &Estimator,
        samples: u64,
        of_case: &dyn Fn(usize, usize) -> &'a Distribution,
    ) -> Result<PopulationSwitching, StatisticsError> {
        let shares = |counts: &Counts| -> Result<SoftShares, StatisticsError> {
            let [soft, not_decided, hard] = counts.map(|count| estimator.estimate(count, samples));
            Ok(SoftShares { soft: soft?, not_decided: not_decided?, hard: hard? })
        };
        let case = |n: usize| -> Result<CaseSwitching, StatisticsError> {
            let figures = self.columns.iter();
            let figures =
                figures.map(|column| of_case(self.first + n, *column).key_figures_by(estimator));
            Ok(CaseSwitching {
                operating_point: self.points[n].clone(),
                arrangement: self.arrangements[n],
                shares: shares(&self.cases[n])?,
                figures: figures.collect(),
            })
        };
        let [chain, paralleled] = [0, 1].map(|arrangement| shares(&self.joint[arrangement]));
        Ok(PopulationSwitching {
            cases: (0..self.cases.len()).map(case).collect::<Result<_, _>>()?,
            joint: [chain?, paralleled?],
            shifts: SharingShift::all(session),
            short_high_intervals: ShortHighIntervals::all(session),
        })
    }
}

impl SharingShift {
    /// Of the nominal converter, where it is not small.
    fn all(session: &Session) -> Vec<Self> {
        let (limit, nominal) = (session.scenario().limits.sharing_error, session.nominal());
        let measurement = session.measurement(&[]);
        let shift = |Baseline { case, state, .. }: &Baseline| {
            let measured = measurement.solved(state, nominal, case);
            let shift = measured.switching()?.noteworthy_shift(limit)?;
            Some(Self { operating_point: case.point.name.clone(), shift })
        };
        session.baselines().iter().filter_map(shift).collect()
    }

    /// The largest one of the nominal converter; none where all are small.
    pub(in crate::study) fn largest(session: &Session) -> Option<Self> {
        let all = Self::all(session).into_iter();
        all.reduce(|a, b| if b.shift[1] > a.shift[1] { b } else { a })
    }
}
