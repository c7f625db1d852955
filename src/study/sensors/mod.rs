//! The case for or against current sensors: four variants of the same converters.
//!
//! (a) paralleled; (b) a chain with charge-balancing capacitors; (c) paralleled with a current
//! sensor and a trim loop for each phase; (d) both. All see the same parts, sample by sample, and (c)
//! and (d) the same sensors, so that they differ by what is built, not by the luck of the draw.
//!
//! The sampling lives in `sampling`, `variant_case`, `tally` and `part_tally`, the results in `result`,
//! `reader` and `part_reader`. The answer is in `decision`, the break-even factors in `survey` and `sensitivity`, what
//! they say of the answer in `robustness`. How a trim loop settles:
//! `solver::trim`. How sensors scatter: `population`.

mod decision;
mod difference;
mod nominal;
mod part_reader;
mod part_tally;
mod price;
mod quantile;
mod rating;
mod reader;
mod result;
mod robustness;
mod sampling;
mod scaling;
mod sensitivity;
mod study;
mod survey;
mod suspects;
mod tally;
mod variant;
mod variant_case;

pub use self::decision::{CostDoubt, Decision, PricedYield, joint_level};
pub use self::difference::VariantDifference;
pub use self::price::{BreakEvenPrice, SensedConverter, break_even_price};
pub use self::quantile::{QuantileComparison, TargetQuantile};
pub use self::rating::{NoRating, joint_rating};
pub use self::result::{CostOverPrice, SensorStudy, TrimLoops, Unfinished, VariantResult};
pub use self::robustness::Robustness;
pub use self::sensitivity::{
    FreshYield, ScaledQuantity, Sensitivity, SensitivityQuestion, VerifiedBreakEven,
};
pub use self::study::sensors;
pub use self::survey::{
    BreakEvenFactor, FactorBounds, FactorSpan, TargetComparison, break_evens, survey,
};
pub use self::variant::{BillOfParts, Variant};
