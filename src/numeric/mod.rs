//! Numerics that know no geometry: least squares, splines, seeded draws, summaries.

pub mod draws;
pub mod least_squares;
pub mod linear;
pub(crate) mod small_svd;
pub mod spline;
pub mod summary;
mod triangle;

pub use triangle::Triangle;
