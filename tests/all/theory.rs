//! Theory against published facts, reference tables and laws.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod conventions;
mod errors;
mod facts;
mod laws;
mod tables;
