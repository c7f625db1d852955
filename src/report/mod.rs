//! Results as files and text: they show, they compute nothing.

pub mod bands;
pub mod csv;
pub mod folder;
pub mod grades;
pub mod html;
pub mod json;
pub mod parquet;
pub mod sensors;
mod svg;
pub mod terminal;
