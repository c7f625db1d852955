//! Each question against closed forms, brute force and simulation.

mod allocation;
mod bands;
mod bands_assumptions;
mod bands_confidence;
mod bands_more_samples;
mod bands_orderable;
mod bands_unequal;
mod bands_words;
mod batches;
mod capacitors;
mod choice;
mod conditions;
mod explanation;
mod frequency_trim;
mod grades;
mod grades_confidence;
mod measured_files;
mod population;
mod sensors;
mod sensors_confidence;
mod sensors_words;
mod shapes;
mod soft_switching_confidence;
mod stand_in;
mod trial;
mod worst_case;
