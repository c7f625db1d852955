//! Checks against published values: one file for each source, which it names.
#![allow(clippy::unwrap_used, reason = "a check that cannot be made has failed")]
#![allow(clippy::float_cmp, reason = "values that must be equal to the bit are compared so")]

mod clopper_pearson_1934;
mod goodness_of_fit;
mod jcgm_101_2008;
mod newcombe_1998;
mod nist_capability;
mod nist_strd;
mod nist_student;
mod order_statistics;
mod wilks_1941;
