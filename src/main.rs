//! The `fivefold` program.
fn main() {}
