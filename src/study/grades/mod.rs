//! Which part grades give the lowest cost per good converter, and how well the samples establish it.
//!
//! All sets of grades are evaluated on the same samples, in the chain and without charge balancing,
//! so that they differ by their parts alone. The cheapest few that meet the yield target there make
//! up the short list, one for each arrangement. A set that is picked because it is the best on some
//! samples looks better there than it is. Therefore the short lists are evaluated again on fresh
//! samples. The recommended set is the cheapest in the chain that meets the target there, at a level
//! that allows for the length of the list. Where none does, none is recommended: the cheapest that may
//! meet it is named, and the verdict says so.
//!
//! The allocation of parts in stock, which the same verb offers: `study::allocation`. What is on
//! offer, and at which price: `scenario`.

mod balancing;
mod cost;
mod families;
mod lot_series;
mod matching_option;
mod order;
mod price_slip;
mod rank;
mod result;
mod rival_price;
mod set;

pub use self::cost::{Cost, CostModel, PartOrder, PriceList};
use self::lot_series::fail_together;
pub use self::lot_series::{LotSeries, SeriesGoal, Undrawn};
pub use self::matching_option::{MatchingOption, UndecidedSets, matching_options};
pub use self::order::{
    BoundedYield, BuildNumber, OrderedPart, SeriesChance, SeriesLots, SeriesOrder,
};
pub use self::price_slip::{ListedPrice, PriceGap, price_gaps};
pub use self::rank::{EvaluateSets, RankingRequest, fewest_samples, rank};
pub use self::result::{
    BalancingAnswer, BalancingReason, BalancingVerdict, CostDifference, GradeStep, NextOrder,
    OpenReason, OpenRival, Ranking, RankingAnswer, SeriesOfSet, SetComparison, SetResult, Stage,
    SteppedSet,
};
pub use self::rival_price::{RivalPrice, rival_price};
pub use self::set::GradeSet;
use crate::engine::EngineError;
use crate::scenario::Grades;
use crate::study::common::error::StudyError;
use crate::study::common::progress::Progress;
use crate::study::common::session::Session;
use crate::study::common::settings::Draws;
use crate::study::common::soft_switching::SharingShift;
use crate::study::common::trials::{ConverterVariant, Solving, paired_trials, passing_in_batches};

/// Compares all sets of the scenario's grades. Interrupted, it gives what it has, if that is
/// anything.
///
/// # Errors
///
/// When the user asks to stop before the first samples are done, and when the confidence level is
/// not one that statistics can take.
pub fn grades(
    session: &Session,
    grades: &Grades,
    progress: &mut dyn Progress,
) -> Result<Ranking, StudyError> {
    let (scenario, settings) = (session.scenario(), session.settings());
    let mut evaluate = |stage: Stage, sets: &[GradeSet], source| {
        let variants: Vec<ConverterVariant> =
            sets.iter().map(|set| set.variant(scenario, grades)).collect();
        progress.stage(stage.name(), variants.len() as u64 * settings.samples);
        let draws = Draws { source, ..settings.draws() };
        // The short lists are verified sample by sample.
        let solving = match stage {
            Stage::ShortList => Solving::ToTheEnd,
            Stage::All | Stage::Steps | Stage::Series => Solving::UntilClear,
        };
        paired_trials(session, &variants, draws, solving, progress)
    };
    let request = RankingRequest { scenario, grades, settings, size: session.size() };
    let ranking = rank(request, &mut evaluate)?;
    let mut ranking = Ranking { sharing_shift: SharingShift::largest(session), ..ranking };
    if !ranking.is_partial() {
        draw_series(session, grades, &mut ranking, progress)?;
    }
    Ok(ranking)
}

/// Draws the series of the set to build and of the next one in cost from lots.
fn draw_series(
    session: &Session,
    grades: &Grades,
    ranking: &mut Ranking,
    progress: &mut dyn Progress,
) -> Result<(), StudyError> {
    let scenario = session.scenario();
    let (Some(lots), target) = (scenario.lots, scenario.limits.yield_target) else { return Ok(()) };
    let sets = [ranking.set_to_build(target), ranking.next_to_build(target)];
    let fails = |set: &&SetResult| fail_together(scenario, grades, &set.candidate);
    let drawable =
        |set: &&SetResult| lots.batches <= LotSeries::most(grades.quantity, set.good.estimate);
    let sets = sets.into_iter().flatten().filter(fails).filter(drawable);
    let sets: Vec<SetResult> = sets.cloned().collect();
    for set in sets {
        let Some(order) = ranking.order_of(scenario, grades, &set) else { continue };
        let goal = SeriesGoal { wanted: order.wanted, on_average: order.series.on_average };
        progress.stage(Stage::Series.name(), lots.batches);
        let variant = set.candidate.variant(scenario, grades);
        let source = ranking.verification;
        let drawn = passing_in_batches(session, &variant, source, lots.converters, |count| {
            LotSeries::draw(lots, goal, count, progress)
        });
        match drawn {
            Err(StudyError::Engine(EngineError::Interrupted(_))) => {
                ranking.interrupted = Some(Stage::Series);
                break;
            }
            drawn => ranking.lot_series.push(SeriesOfSet { set: set.candidate, series: drawn? }),
        }
    }
    Ok(())
}
