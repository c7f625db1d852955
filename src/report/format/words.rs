//! Numbers and names under the names that they had; to be dropped.

use super::names;
pub(in crate::report) use super::names::{
    arrangement_heading, parameter_and_symbol as parameter, verdict_heading as verdict,
};
pub(in crate::report) use super::numbers::{
    NONE, count, given_percent, samples, unbroken, yield_percent,
};
use crate::converter::Arrangement;
use crate::solver::Method;

pub(in crate::report) fn arrangement(arrangement: Arrangement) -> &'static str {
    match arrangement {
        Arrangement::Chain => "balanced chain",
        Arrangement::Paralleled => "paralleled",
    }
}

pub(in crate::report) fn method(method: Method) -> &'static str {
    names::method(method).long
}
