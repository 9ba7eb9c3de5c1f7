//! Numerics that know no geometry: least squares, splines, seeded draws, summaries, divisions into piles.

pub mod arrow;
mod arrow_kernels;
pub mod draws;
pub mod exact_sum;
pub(crate) mod lanes;
pub mod least_squares;
pub(crate) mod linear;
pub mod partition;
pub(crate) mod small_svd;
pub(crate) mod spline;
pub mod summary;
mod triangle;

pub(crate) use triangle::Triangle;
