//! The exact periodic steady state, by closed forms between rectifier events.
//!
//! # Unknowns and equations
//!
//! The state z at the start of its high interval determines a phase: d, im, e, and e' at the start
//! of the second half, which is written in mirrored signs. A closed form follows it through the
//! period, with all derivatives. This gives what closes the period (d + d(T/2)' = 0, im + im(T/2)'
//! = 0), the charges, the amplitude W = (e + e' − Q/Cr)/2 and the output current. When both halves
//! see the same capacitance they are mirror images, and half a period is enough.
//!
//! Newton's iteration finds all phases, the charge and the half period together. Each phase's 3 or
//! 4 unknowns are eliminated separately, so that the effort is proportional to the number of
//! phases. Event times are differentiated implicitly, ∂τ = −(∇g · ∂x)/g'.
//!
//! # Starting points
//!
//! A sample starts where the nominal solution's first-order response to its parts expects the
//! solution. It looks for every rectifier event where that was before. Two or three steps follow,
//! and each squares the error.
//!
//! # What is certain
//!
//! - No event is missed: between zeros of its curvature, known in closed form, the event function is
//!   convex or concave, and tangents bound it.
//! - No point counts as solved unless all equations, followed anew, hold to 1e-6; Newton's iteration
//!   ends at steps of 1e-10.
//! - A search follows where the iteration fails, or where its solution might not be the one at the
//!   highest frequency. From the band's upper end downward it settles each phase at each frequency,
//!   because a passive circuit with monotone diodes settles from any start. It brackets the charge,
//!   which rises with the amplitude, and closes in on the current or on its peak.
//!
//! Slopes tell that no higher frequency delivers the output. Each paralleled phase by itself has
//! one peak of current over frequency. Where a phase is below its own, the frequencies up to that peak
//! are looked at stride by stride (`nearby`). A chain's current mostly falls with the frequency above its
//! peak. Not always: in deep boost, a phase can begin or cease to conduct through the switching
//! instant, which puts a cusp on the curve. The search looks into its strides for cusps; a sample
//! that follows the nominal solution does not. So this is argued, and checked on random designs by
//! a slow search of all frequencies and by answers from two starts (`tests/solver/stress`). It is
//! not proved.
//!
//! # How far down
//!
//! The search ends where a half period holds eight turns of the slowest tank without load, at 1/16 of
//! its resonance `1/(2π √((Lr + Lm) Ce))`. A band that lies below altogether is out of range without
//! a search. All peaks of current from there on belong to the 17th and higher harmonics of the
//! source, whose amplitudes are a seventeenth and less. Whatever such a peak delivers, one above has
//! delivered. Strides of 2 % would leap over them besides. This too is argued and counted: of 400
//! random designs, from plausible ones to tanks that differ by threefold, none delivered more below
//! than above (`subharmonic`). With one turn nine did: chains in deep boost.
//!
//! Each search has a limit of work, which is counted in stretches and half turns ([`Effort`]). A
//! search that reaches it is *not solved*, with that reason, on every machine alike.
//!
//! [`Effort`]: crate::solver::Effort
//!
//! # Files
//!
//! `ring` is the damped oscillator. `crossing` finds events. `half` follows half a period with
//! sensitivities, and `cycle` makes a phase's equations. `system` solves all phases at once, from
//! where `sensitivity` expects the solution. `trimmed` has trims among the unknowns, in steps of `trim_step`. `nearby`, `search` and `settle` are the slow and
//! certain way. `waveform` integrates the result. `voltage` takes the frequency as given. `start`
//! holds what a solution leaves for converters nearby, and `solution` turns parts into equations
//! and their solution into amperes. `linear_half` linearises a known solution half by half, and `traced` tells
//! its waveforms. `transient` follows one tank from any state.

mod approach;
mod bounds;
mod crossing;
mod curvature;
mod cycle;
mod difference;
mod eliminate;
mod expected;
mod half;
mod linear_half;
mod nearby;
mod output;
mod phase_response;
#[cfg(test)]
mod published;
mod ring;
mod rising_late;
mod search;
mod sensitivity;
mod settle;
mod solution;
mod start;
mod stress;
#[cfg(test)]
mod subharmonic;
mod system;
mod traced;
mod transient;
mod trim_step;
mod trimmed;
mod voltage;
mod waveform;

pub use approach::{Approach, Detail};
pub(super) use approach::{approach, finish};
pub(super) use crossing::Descent;
pub(super) use linear_half::{LinearHalf, linear_halves};
pub(super) use ring::{Instant, Ring, Signal};
pub use rising_late::HighIntervals;
pub(super) use rising_late::rising_late;
pub(super) use solution::{bend, prepare, solve};
pub use start::ExactStart;
pub(super) use traced::{TracedHalf, TracedInstant, traced_halves};
pub(super) use transient::{TransientParts, TransientPassage, TransientState, TransientTank};
pub(super) use trimmed::{OutputLoops, SettledLoops, approach_loops, settle_loops};
pub(super) use voltage::AtFrequency;
