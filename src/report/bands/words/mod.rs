//! What terminal, page and summary say in the same words. Each function gives whole sentences, or the
//! text of one cell; where they stand is up to the terminal and the page.

pub(super) mod assumptions;
pub(super) mod cheapest;
pub(super) mod confidence;
pub(super) mod critical;
pub(super) mod excluded;
pub(super) mod limits;
pub(super) mod margins;
pub(super) mod marks;
pub(super) mod names;
pub(super) mod numbers;
pub(super) mod orderable;
pub(super) mod specify;
