//! population
