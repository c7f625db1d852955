//! The program as its users run it, and rules of the project itself.

mod bands;
mod bench;
mod bounded_work;
mod csv_files;
mod decide;
mod determinism;
mod draft;
mod gain;
mod grades;
mod help;
mod hostile_text;
mod interrupted;
mod losses;
mod memory;
mod output_folder;
mod project;
mod ratings;
mod result_files;
mod run_and_units;
mod scenario_errors;
mod schema;
mod sensors;
mod shapes;
mod soft_switching;
mod summary_schema;
mod support;
