#![doc = include_str!("model.md")]

mod cold_tank;
mod followers;
pub mod integration;
mod ladder;
mod laws;

pub use ladder::ladder_lags;
pub use laws::{OperatingStart, StartingChain};
