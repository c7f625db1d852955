//! Estimates and their intervals against published values.

mod counted_quantiles;
mod held_out_limits;
mod measured_files;
mod published;
mod sequential;
mod shapes;
mod variance_shares;
