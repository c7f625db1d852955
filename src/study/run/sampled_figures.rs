//! Which figures a run takes of its samples.

use crate::study::common::demand::Demand;
use crate::study::common::figures::Figure;
use crate::study::common::loss_figures::LossFigure;
use crate::study::common::session::Session;

/// The figures that are taken of every sample.
pub fn sampled_figures(session: &Session) -> Vec<Figure> {
    let scenario = session.scenario();
    let mut figures = Figure::all(scenario.phases, session.size().legs);
    let method = session.settings().method;
    figures.extend(LossFigure::told(scenario, method).map(Figure::Losses));
    figures.extend(session.part_figures());
    // Such as the time to settle: what no run takes unless it is limited.
    let limited = Demand::figures(&scenario.limits).into_iter();
    let others: Vec<Figure> = limited.filter(|own| !figures.contains(own)).collect();
    figures.extend(others);
    figures
}
