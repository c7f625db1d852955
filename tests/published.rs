//! Checks against published values: one file for each source, which it names.
#![allow(clippy::unwrap_used, reason = "a check that cannot be made has failed")]
#![allow(clippy::float_cmp, reason = "values that must be equal to the bit are compared so")]

#[path = "published/clopper_pearson_1934.rs"]
mod clopper_pearson_1934;
#[path = "published/jcgm_101_2008.rs"]
mod jcgm_101_2008;
#[path = "published/newcombe_1998.rs"]
mod newcombe_1998;
#[path = "published/nist_strd.rs"]
mod nist_strd;
#[path = "published/nist_student.rs"]
mod nist_student;
#[path = "published/order_statistics.rs"]
mod order_statistics;
#[path = "published/wilks_1941.rs"]
mod wilks_1941;
