//! Which tolerance may each part have? The widest bands with which the lower end of the yield's
//! interval still meets the target.
//!
//! Each question is asked in two steps. The *search* compares bands on common random numbers: all
//! its trials draw the same samples, so that they differ by their bands alone. Whoever chooses
//! among many trials of one seed is flattered by it, so the *proof* draws fresh seeds that the
//! search never saw ([`looks`]).
//!
//! The search asks nothing of a trial but how many samples pass ([`YieldEvaluator`]): it can be tried on
//! populations whose yield has a closed form.

mod answer;
pub mod cheapest;
mod limited;
pub mod line_search;
pub mod map;
mod study;
mod trials;
pub mod verification;

pub use self::answer::{
    ArrangementBands, BandOutcome, Bands, BandsStep, Proposal, ProposalSource, Subject, WidestBand,
    scaled,
};
pub use self::limited::LimitedBy;
pub use self::study::{BandsError, Watcher, bands, bands_by};
pub use self::trials::{Draw, Rule, Trials, YieldEvaluator, fresh_seed};
