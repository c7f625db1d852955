//! Steady states against other solvers, published values and the laws of physics.

mod cases;
mod conservation;
mod coupled_circuit;
mod dissipation;
mod drift;
mod faults;
mod high_intervals;
mod part_loads;
mod published;
mod settling;
mod solved_converters;
mod start_up;
mod start_up_integrated;
mod starts;
mod stress;
mod two_phase_tables;
mod voltage_gain;
mod waveforms;
