//! Numerics that know no geometry: least squares, linear and not.

pub mod least_squares;
pub mod linear;
pub(crate) mod small_svd;
mod triangle;

pub use triangle::Triangle;
