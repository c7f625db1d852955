//! The exact periodic steady state, by closed forms between rectifier events.
//!
//! # PhaseUnknowns and equations
//!
//! A phase is known by its state z at the start of its high interval: d, im, e, and e' at the start
//! of the second half, which is written in mirrored signs. Following it through the period in closed
//! form gives, with all derivatives, what closes the period (d + d(T/2)' = 0, im + im(T/2)' = 0),
//! its charges, its amplitude W = (e + e' − Q/Cr)/2 and its output current. When both halves see
//! the same capacitance they are mirror images, and half a period is enough.
//!
//! All phases, the charge and the half period are then found together by Newton's iteration: each
//! phase's 3 or 4 unknowns are eliminated by themselves, so that the effort grows with the number of
//! phases and no faster. Event times are differentiated implicitly, ∂τ = −(∇g · ∂x)/g'.
//!
//! # Starting points
//!
//! A sample starts where the nominal solution's first-order response to its parts expects the
//! solution, and looks for every rectifier event where it was before. Two or three steps follow,
//! each squaring the error.
//!
//! # What is certain
//!
//! - No event is missed: between zeros of its curvature, known in closed form, the event function is
//!   convex or concave, and tangents bound it.
//! - No point counts as solved unless all equations, followed anew, hold to 1e-6; Newton's iteration
//!   ends at steps of 1e-10.
//! - Where the iteration fails, or its solution might not be the one at the highest frequency, a
//!   search from the band's upper end downward settles each phase at each frequency (a passive
//!   circuit with monotone diodes settles from anywhere), brackets the charge (which rises with the
//!   amplitude), and closes in on the current or on its peak.
//!
//! That no higher frequency delivers the output is concluded from slopes: each paralleled phase by
//! itself has one peak of current over frequency, and a chain's current mostly falls with the
//! frequency above its peak. Mostly: in deep boost, a phase that begins or ceases to conduct through the
//! switching instant can put a cusp on it. The search looks into its strides for those; a sample
//! that follows the nominal solution does not. So this is argued, and checked on random designs by a
//! slow search of all frequencies and by answers from two starts (`tests/stress.rs`), not proved.
//!
//! # Files
//!
//! `ring` is the damped oscillator, `crossing` finds events, `half` follows half a period with
//! sensitivities, `cycle` makes a phase's equations, `system` solves all phases at once from where
//! `sensitivity` expects the solution, `nearby`, `search` and `settle` are the slow and certain way,
//! `waveform` integrates the result, `voltage` takes the frequency as given.

mod crossing;
mod cycle;
mod eliminate;
mod half;
mod nearby;
#[cfg(test)]
mod published;
mod ring;
mod search;
mod sensitivity;
mod settle;
mod solution;
mod system;
mod voltage;
mod waveform;

pub use solution::ExactStart;
pub(super) use solution::{prepare, solve};
pub(super) use voltage::AtFrequency;
