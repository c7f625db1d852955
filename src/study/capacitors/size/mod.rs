//! How large must the flying capacitors be?
//!
//! A grid of preferred numbers is tried on the same samples, so that sizes differ by their capacitors
//! alone. The nominal converter tells ripple, currents and voltages of each size ([`loads`]), the samples
//! tell its yield (`sampled`). The yield need not rise with the size: flying capacitors resonate with
//! the tanks, and the frequency may leave its band. So the answer is the smallest size from which on all
//! larger ones meet the target too, except those that settle too slowly. It is verified on fresh samples
//! ([`smallest`]).

pub mod corner;
pub mod loads;
mod prepared;
mod purchase;
mod result;
mod sampled;
pub mod smallest;
mod study;
mod trap;

pub use self::prepared::Wear;
pub use self::purchase::{PlacePurchase, SizePurchase};
pub use self::result::{SizeCase, SizeResult, SizeSamples, SizeStudy};
pub(in crate::study) use self::study::size;
pub use self::trap::SizeTrap;
