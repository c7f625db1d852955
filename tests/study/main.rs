//! Each question against closed forms, brute force and simulation.

mod bands;
mod bands_confidence;
mod choice;
mod grades;
mod pairing;
mod population;
mod sensors;
mod trial;
