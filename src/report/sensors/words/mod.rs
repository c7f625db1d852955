//! The words that terminal, page and summary of `sensors` share, a file a subject.

mod answer;
mod currents;
mod findings;
mod groups;
mod names;
mod numbers;
mod sensitivity;
mod single_faults;
mod warnings;

pub(super) use self::answer::{answer, open_cost, short_answer};
pub(super) use self::findings::findings;
pub(super) use self::names::{name, no_rating, verdict};
pub(super) use self::numbers::{per_part, ratings, volt};
pub(super) use self::sensitivity::{SensitivityText, is_a_price, sensitivity};
pub(super) use self::single_faults::single_faults;
pub(super) use self::warnings::{method, unfinished, warnings};
