//! Points and curves in millimetres and angles. Nothing here knows of tubes or lots.
//!
//! Points in a plane are `[f64; 2]` (x, y), in space `[f64; 3]` (x, y, z), always passed as slices and never kept.
//! Fits return how sure they are (a covariance, what noise it assumes, its rank) and why they stopped; what cannot be
//! answered is a [`FitError`], never a NaN.

pub mod arc;
mod bisector;
mod circle;
mod circle_fit;
mod ellipse;
mod ellipse_fit;
mod error;
mod harmonics;
mod hull;
mod least_offset;
mod line3;
mod ovality;
mod reference_circle;
pub mod scale_card;
mod straightness;
mod straightness3;
pub use circle::Circle;
pub use circle_fit::{CircleFit, Noise, fit_circle_geometric, fit_circle_hyper, fit_circle_taubin};
pub use ellipse::Ellipse;
pub use ellipse_fit::{EllipseFit, fit_ellipse_direct, fit_ellipse_geometric};
pub use error::FitError;
pub use harmonics::{Harmonic, Harmonics, fit_diameter_harmonics, fit_harmonics, highest_carried};
pub use hull::{convex_hull, upper_hull};
pub use line3::{Bow, bow};
pub use ovality::Ovality;
pub use reference_circle::{ReferenceCircle, ReferenceCircles, reference_circles};
pub use straightness::{Band, end_point_band, least_squares_band, minimum_zone_band, minimum_zone_strip};
pub use straightness3::{ZoneCylinder, minimum_zone_cylinder};
