//! Numbers and names under the names that they had; to be dropped.

use super::names;
pub(in crate::report) use super::names::{
    nominal, parameter_and_symbol as parameter, sharing, verdict_heading as verdict,
};
pub(in crate::report) use super::numbers::{
    NONE, count, ends as interval, four, given_percent, in_percent, level, percent, quantity,
    samples, significant, yield_percent,
};
use crate::converter::Shared;
use crate::solver::Method;
use crate::study::common::demand::Demand;

pub(in crate::report) fn shared(shared: Shared) -> &'static str {
    names::shared(shared).long
}

pub(in crate::report) fn method(method: Method) -> &'static str {
    names::method(method).long
}

pub(in crate::report) fn demand(demand: &Demand) -> &'static str {
    names::limit(demand).long
}
