//! Numerics that know no geometry: splines, seeded draws, summaries.

pub mod draws;
pub mod spline;
pub mod summary;
