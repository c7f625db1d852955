//! Current sharing of interleaved LLC converters, over all their parts and operating points.
//!
//! Data flows one way, and each module uses only those before it:
//!
//! ```text
//! units → input → scenario → population ┐
//!       → converter ↗                   ├→ engine → study → report → cli
//!                   → solver ───────────┘           ↑
//!         statistics ───────────────────────────────┘
//! ```
//!
//! - [`units`]: henry, farad, … as types; [`printable`]: text from outside, made safe to show;
//! - [`input`]: quantities, CSV rows, errors that point at a place in a file;
//! - [`converter`]: parts, bridge chain, drive, rectifier, sharing measures;
//! - [`scenario`]: TOML text → checked scenario, with all errors of a file at once;
//! - [`population`]: shapes, lots, random streams, files of measured parts;
//! - [`solver`]: the exact periodic steady state, and the averaged (fundamental harmonic) one;
//! - [`statistics`]: estimates with their intervals; its page has all statistical methods;
//! - [`engine`]: batches of samples on all threads;
//! - [`study`]: one folder per question;
//! - [`report`]: one folder per verb, for page, terminal, JSON, Parquet and CSV;
//! - [`cli`]: the command line.
//!
//! # Validity
//!
//! Input and output voltages are stiff, and parts are linear. Switching is ideal, at duty 0.5,
//! without dead time and output capacitance. Diodes are ideal with a fixed drop. Dead time,
//! magnetic saturation and the dynamics of the control loop are outside the steady state.
//! [`solver::commutation`] follows a dead time from there.
//!
//! The averaged solver keeps only fundamentals. It is fast and understates the sharing error. On one
//! three-phase design its error was 1.1 to 1.3 times too small in the median, and 1.9 times at the
//! 95 % point near resonance. Its frequency was up to 17 % off. Use the exact solver for verdicts of a
//! design review.
//!
//! # Sources
//!
//! [`solver`] has the circuit equations with their sources, [`statistics`] the statistical methods
//! with theirs. A test beside each published value names where it comes from.

pub mod cli;
pub mod converter;
pub mod engine;
pub mod input;
pub mod population;
pub mod printable;
pub mod report;
pub mod scenario;
pub mod solver;
pub mod statistics;
pub mod study;
pub mod units;
