//! Which part grades give the lowest cost per good converter, and how well the samples establish it.
//!
//! All sets of grades are evaluated on the same samples, in the chain and without charge balancing,
//! so that they differ by their parts alone. The cheapest few that meet the yield target there make
//! up the short list. Whatever is picked where it looked best looks better than it is. Therefore the
//! short list is evaluated again on fresh samples. The recommended set is the cheapest of it that
//! meets the target there, at a level that allows for the length of the list. Where none does, it is
//! the cheapest that may, and the verdict says so.
//!
//! The allocation of parts in stock, which the same verb offers: `study::allocation`. What is on
//! offer, and at which price: `scenario`.

mod cost;
mod rank;
mod result;
mod set;

pub use self::cost::{Cost, CostModel};
pub use self::rank::{EvaluateSets, RankingRequest, rank};
pub use self::result::{
    BalancingVerdict, CostDifference, GradeStep, Ranking, SetComparison, SetResult, Stage,
    SteppedSet,
};
pub use self::set::{GradeSet, converter_size};
