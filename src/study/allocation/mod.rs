//! The allocation of measured parts in stock to converters, such that most of the converters pass.
//!
//! It is a part of the question of `grades`: which parts to buy, and how to use those that are
//! there. It needs nothing of [`grades`](super::grades), and `grades` needs nothing of it.
//!
//! Charge balance evens out what the phases draw. The remaining error depends on how far the tanks
//! of one converter differ from each other, not on how far they are from nominal. Tanks that are
//! alike therefore belong together. The allocation takes four steps:
//!
//! 1. A first-order surrogate predicts every limited figure of a converter ([`Surrogate`]).
//! 2. Tanks are grouped to converters by the surrogate ([`group_tanks`]).
//! 3. The solver evaluates every converter ([`ConverterEvaluator`]), and exchanges of tanks that it
//!    confirms are kept.
//! 4. Where converters still fail, small stocks, and parts of larger ones, are regrouped: of all
//!    groups that pass, the most that share no part are chosen ([`pack`]).
//!
//! Converters that fail in the end stand apart, each with the one part whose exchange would mend it.
//!
//! The same evaluator sees two simpler ways: tanks allocated at random, and tanks sorted by their
//! resonance. How measured parts are read from files: `population::stock`. Which grade of a part to
//! buy: `study::grades`.

mod allocate;
mod allocator;
mod evaluator;
mod exchange;
mod grouping;
mod mend;
mod packing;
mod plan;
mod regroup;
mod search;
mod stock;
mod surrogate;

pub use self::allocate::{
    Allocation, AllocationRequest, Bottleneck, FrequentMiss, PassingRange, REPEATS,
    StockAllocation, allocate,
};
pub use self::evaluator::{ChainEvaluator, ConverterEvaluator, Evaluation, MissedLimit, PassCheck};
pub use self::grouping::{StartingOrder, group_tanks};
pub use self::packing::{Packing, PackingLimits, pack};
pub use self::plan::{
    GroupCount, Mend, PartExchange, PlannedConverter, RejectedConverter, TankGroups,
};
pub use self::stock::{Stock, StockReach};
pub use self::surrogate::{LimitedFigure, PhaseAggregate, Surrogate};
