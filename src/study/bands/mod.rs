//! Which tolerance may each part have? The widest bands with which the lower end of the yield's
//! interval still meets the target.
//!
//! Each question is asked in two steps. The *search* ([`line_search`], [`cheapest`], [`step_search`]) compares bands on
//! common samples: all its trials draw the same samples, so that they differ by their bands alone.
//! Whoever chooses among many trials on the same samples is flattered by them, so the
//! *verification* draws fresh samples that the search never used ([`verification`]).
//!
//! What a search says of the order of parts is an order of estimates. Which part is the most critical
//! one is therefore tested on fresh samples too ([`CriticalComparison`]).
//!
//! The search asks nothing of a trial but how many samples pass, and a comparison how often two sets
//! of bands pass together ([`YieldEvaluator`]): both can be tried on populations whose yield has a
//! closed form.

mod answer;
pub mod cheapest;
mod critical;
mod critical_question;
mod limited;
pub mod line_search;
pub mod map;
mod more_samples;
pub mod orderable;
mod other_assumptions;
pub mod rule;
mod sampled_yield;
pub mod step_search;
mod study;
mod trials;
pub mod verification;

pub use self::answer::{
    ArrangementBands, BandOutcome, Bands, BandsStep, Proposal, ProposalSource, Subject, WidestBand,
    scaled,
};
pub use self::critical::{ComparedPart, CriticalComparison, Variation};
pub use self::limited::{LimitedBy, StepLimit};
pub use self::more_samples::MoreSamples;
pub use self::other_assumptions::OtherAssumptions;
pub use self::rule::Rule;
pub use self::study::{BandsError, bands, bands_by};
pub use self::trials::{Trials, YieldEvaluator, fresh_source};
