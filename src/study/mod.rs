//! The proof: tubes of known truth are measured, planned by this crate, and its promises held against the truth.
//!
//! Tubes, readings and yields come from `known`; `promise` is the one file that calls what is judged.

pub mod asked;
pub mod goals;
pub mod outcome;
pub mod promise;
pub mod whole;
