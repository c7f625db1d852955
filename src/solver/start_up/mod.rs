#![doc = include_str!("model.md")]

mod ladder;
mod laws;

pub use ladder::ladder_lags;
pub use laws::StartingChain;
