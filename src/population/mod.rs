//! Converters to be solved: whose parts are known, or drawn.

pub mod parts_file;
