//! Results as files and text: they show, they compute nothing.
//!
//! One folder a verb, with what it says on the terminal, on its page and in its files; what they
//! share (numbers, names, the frame of pages, figures) lives in `format`.

pub mod bands;
pub mod capacitors;
pub mod check;
pub mod compare;
pub mod faults;
pub mod format;
pub mod gain;
pub mod grades;
pub mod merge;
pub mod run;
pub mod schema;
pub mod sensors;
pub mod shapes;
pub mod units;
