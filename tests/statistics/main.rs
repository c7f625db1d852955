//! Estimates and their intervals against published values.

mod counted_quantiles;
mod published;
mod sequential;
mod shapes;
mod variance_shares;
