//! Waveforms of a converter on one time axis, from top to bottom: the currents of every phase, what the
//! rectifiers deliver, the bridge voltages, the resonant capacitors, and every flying capacitor.
//!
//! - `frame`: what is drawn, sizes and scales;
//! - `phase_rows`, `panels`: the rows and panels;
//! - `whole`: all of them one below the other;
//! - `curve_path`, `line_labels`: paths in few bytes, labels that keep apart.

mod curve_path;
mod frame;
mod line_labels;
mod panels;
mod phase_rows;
mod whole;

pub(in crate::report) use self::frame::{WaveformScales, Waveforms};
pub(in crate::report) use self::whole::waveforms;
