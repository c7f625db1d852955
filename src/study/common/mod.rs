//! What several questions share: the nominal converter, figures and limits, yields on the same
//! samples, progress. What one question alone needs lives in that question's folder.

pub mod assumption;
pub mod choice;
pub mod clear_limits;
pub mod commutation;
pub mod curve;
pub mod demand;
pub mod drift;
pub mod error;
pub mod figures;
pub mod high_intervals;
pub mod loaded_parts;
pub mod loss_figures;
pub(in crate::study) mod measured_influence;
pub mod missed;
pub mod nominal;
pub mod pairs;
mod part_loads;
pub(in crate::study) mod point_case;
pub mod progress;
pub mod ratings;
pub mod session;
pub mod settings;
pub mod settling_figures;
pub(in crate::study) mod shared_work;
pub mod soft_switching;
pub mod switching_figures;
pub mod tally;
pub mod trials;
pub mod waveforms;
pub mod what_if;
pub mod yield_curve;
