//! scenario
