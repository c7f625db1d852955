//! Estimates and their intervals against published values.

mod counted_quantiles;
mod measured_files;
mod published;
mod sequential;
mod shapes;
mod variance_shares;
