//! The averaged solver: fundamental-harmonic approximation.
//!
//! Only the fundamentals of source and winding voltage are kept, as phasors (complex amplitudes)
//! with the winding's voltage as the reference. The rectified current I is in phase with it. With
//! w = 2π fs, X = w Lr − 1/(w C), Xm = w Lm, winding amplitude Vw = (4/π) Vp and source amplitude
//! |Vs| = (4/π) W,
//!
//! ```text
//! It = I + Vw/(j Xm)                        tank current
//! Vs = Vw + (R + j X) It                    source
//! P = Re(Vs · conj It)/2                    input power
//! Iout = (2/π) gain I                       output current
//! ```
//!
//! These are Kirchhoff's laws for one harmonic. Texts on resonant conversion describe the
//! approximation, for example R. W. Erickson and D. Maksimović, Fundamentals of Power Electronics,
//! chapter on resonant conversion, under the name sinusoidal approximation. The swing of a flying
//! capacitor counts as half its elastance in each half period. In a chain every phase draws the
//! same mean input current q, so that P(k) = q W(k).
//!
//! The averaged solver is fast and underestimates the sharing error: see the crate's page on
//! validity.
//!
//! `phase` holds the phasors of one phase, `harmonic` finds frequency and currents of all phases,
//! `solution` makes a steady state of them.

mod harmonic;
mod phase;
mod solution;

pub use harmonic::AveragedStart;
pub(super) use solution::{output_current, prepare, solve};
