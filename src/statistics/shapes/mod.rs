//! Shapes of distributions that measured values may have: fits, distribution functions, draws.
//!
//! - `family`: which shapes there are, and why one cannot be fitted;
//! - `values`: the values, in order;
//! - `fitted`: a shape with its parameters, whatever its family;
//! - `triangular`, `cut_normal`, `beta_on_band`: what these families need for themselves.
//!
//! Every family has two parameters that are fitted, so that distances of fits may be compared.

mod beta_on_band;
mod cut_normal;
mod family;
mod fitted;
mod triangular;
mod values;

pub use self::beta_on_band::BetaOnBand;
pub use self::cut_normal::CutNormal;
pub use self::family::{NoFit, ShapeFamily};
pub use self::fitted::FittedShape;
pub use self::triangular::SymmetricTriangle;
pub use self::values::SortedValues;
