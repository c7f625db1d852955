//! Phases trimmed by a loop each until their sensors agree.
//!
//! # What the loops settle at
//!
//! Sensor k reads `m(k) = g(k) i(k) + o(k)`. A loop moves the trim x(k), a fraction of the trimmed
//! part's own value within ±R. Its integrator is fed with the deviation of its reading from the
//! mean of all. These deviations add up to zero, so that the integrators keep the sum of the trims
//! at zero, where it starts: **the mean trim is zero**. That is the condition which N − 1
//! differences of readings leave open. To move all trims together would only move the regulated
//! frequency. Let s = ±1 be the sense in which the nominal converter's current answers a trim, and
//! y = s m. The loops are at rest where for some c
//!
//! ```text
//! Σ x(k) = 0,   y(k) = c where |x(k)| < R,   y(k) ≤ c at x(k) = R,   y(k) ≥ c at x(k) = −R
//! ```
//!
//! the stationary points of integrators that stop at the ends of their range (a projected
//! dynamical system: A. Nagurney and D. Zhang, Projected Dynamical Systems and Variational
//! Inequalities with Applications, 1996, from memory). A saturated phase stays at its end; the
//! others agree among themselves.
//!
//! # Which of them is stable
//!
//! The loops are that system itself: `dx/dt = −Π(y)`, with Π the projection on the directions that
//! keep the sum and leave no end of the range. All have one common gain and are slow against the
//! converter, which is at its steady state at every instant. Let F be the phases that are at no
//! end. The loops come back to a rest point when every eigenvalue of `Π ∂y(F)/∂x(F)` has a positive
//! real part (A. Lyapunov's first method: H. K. Khalil, Nonlinear Systems, 2002, theorem 4.7, from
//! memory). The derivatives are differences of at most N − 1 whole steady states. `loops` has both.
//!
//! # How it is found
//!
//! Where sensors measure output currents, the exact solver has the trims among its unknowns. One Newton's
//! iteration then finds the steady state with its loops at rest, and their eigenvalues (`jointly`). It starts
//! where parts, sensors and trims together have it to first or second order. It is believed if it closes in
//! at once from there, with all trims inside their range. What it leaves is searched for, as follows.
//!
//! Each evaluation is a whole steady state at its regulated frequency, by the solver of the run.
//! To first order a trim moves its own reading by a slope σ(k) and all readings alike by way of
//! frequency and charge. So the next trims are `clamp(x(k) + (c − y(k))/σ(k), ±R)`, with the c,
//! unique because the sum rises with it, that makes their sum zero. The slopes follow the secants
//! (`steps`). The start is the nominal converter's first-order response to parts and sensors.
//!
//! These steps may find nothing, or a rest point that is not stable. Then the loops are followed in
//! their own small steps from no trim, where real ones start. They may come to rest, or drive the
//! converter to where no frequency in the band delivers: then it is out of range. The same is done
//! where a rest point took many steps or lies at an end, and the loops do not lead straight to it.
//! Near a gain limit there can be two rest points, and the steps may leap over the one that the
//! loops come to. What is narrower than a sixteenth of the range can still be leapt over.
//!
//! # Files
//!
//! `case` says what is asked and how the nominal converter answers its parts. `search` evaluates
//! trims, and `range` keeps them within their range. `steps` goes to a rest point, and `loops`
//! tells whether real loops would come to it. `jointly` asks the exact solver for all at once. `settle`
//! joins these. Loops that trim the frequency of paralleled phases are in `frequency`.

mod case;
mod frequency;
mod jointly;
mod loops;
mod range;
mod search;
mod settle;
mod steps;

pub use case::{Trim, TrimCase, TrimStart, Trimmed};
pub use frequency::{FrequencyTrimCase, FrequencyTrimStart};
pub use jointly::ApproachedTrims;
pub use range::AGREEMENT;
