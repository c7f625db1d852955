//! The words that terminal, page and files of `grades` share, a file a subject.

mod answer;
mod balancing;
mod names;
mod numbers;
mod order;
mod stock;

pub(super) use self::answer::{
    advice, cost_count, not_built, reference, refusal, refusal_without, role, role_without,
    stopped_at, target_remark, verdict_in_ranking, verdict_word, verification,
};
pub(super) use self::balancing::balancing;
pub(super) use self::names::{measured_parts_alone, set, set_count};
pub(super) use self::numbers::{
    cost, cost_bounds, cost_ends, points, sum, weeks, yield_bounds, yield_ends,
};
pub use self::order::price_gap;
pub(super) use self::order::{
    cheaper_series, drawn_series, left_out, matching, matching_failures, measured_lots, on_average,
    rival_price, series,
};
pub(super) use self::stock::{bottleneck, mend, proof};
