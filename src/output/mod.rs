//! Formats results; computes nothing of its own.

pub mod json;
pub mod show;
pub mod table;
pub mod tables;
pub mod text;
