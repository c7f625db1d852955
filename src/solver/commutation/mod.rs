#![doc = include_str!("model.md")]

mod advance;
#[cfg(test)]
mod brute_force;
mod case;
#[cfg(test)]
mod closed_forms;
mod commutated;
mod dead_time;
mod groups;
mod instant;
mod leg;
mod lone_advance;
mod lone_node;
mod lone_phase;
mod lone_stretch;
mod lone_swing;
mod motion;
mod nodes;
#[cfg(test)]
mod reference;
mod response;
mod series;
mod solution;
mod steps;
mod stretch;
mod tank;
mod transition;

pub use self::case::CommutationCase;
pub use self::solution::DeadTimePoint;
pub use self::transition::{Commutation, HeldLoad, MARGIN, Swing, Transition, TurnOn};
