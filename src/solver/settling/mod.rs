#![doc = include_str!("model.md")]

mod disturbance;
mod modes;
mod period_map;

pub use modes::{NodeShare, Settling, SettlingMode};
pub use period_map::PeriodMap;
