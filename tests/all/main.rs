//! The integration tests, one module a topic.

mod cli;
mod theory;
