//! Each question against closed forms, brute force and simulation.

mod allocation;
mod bands;
mod bands_confidence;
mod choice;
mod grades;
mod grades_confidence;
mod population;
mod sensors;
mod trial;
