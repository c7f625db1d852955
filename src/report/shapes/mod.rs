//! Shapes of measured values: what terminal, page and summary tell of them.
//!
//! They are fitted in `study::shapes`; the file is read by `population::measurements`.

mod brief;
mod drawings;
mod json;
mod lines;
mod page;
mod source;
mod terminal;
mod words;

pub(in crate::report) use self::json::{ShapesBasis, ShapesResults};
pub use self::source::MeasurementsSource;
use crate::report::format::Report;
use crate::study::shapes::MeasuredShapes;

/// What `shapes` shows and writes.
///
/// # Errors
///
/// None that can happen with a result of the study.
pub fn report(source: &MeasurementsSource, found: &MeasuredShapes) -> anyhow::Result<Report> {
    Ok(Report {
        screen: terminal::screen(source, found),
        summary: json::summary(source, found).text()?,
        files: vec![("report.html", page::page(source, found))],
    })
}
