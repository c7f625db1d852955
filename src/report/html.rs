//! x
use crate::scenario::Scenario;
use crate::study::run::Run;
/// x
pub fn page(_: &Scenario, _: &Run) -> String {
    String::new()
}
