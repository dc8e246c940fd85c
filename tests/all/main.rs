//! The integration tests, one module a topic.

mod theory;
