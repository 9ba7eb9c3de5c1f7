//! Points and curves in millimetres and angles. Nothing here knows of tubes or lots.
pub mod arc;
mod circle;
mod circle_fit;
mod ellipse;
mod ellipse_fit;
mod error;
pub mod harmonics;
mod ovality;
pub use circle::Circle;
pub use circle_fit::{CircleFit, Noise, fit_circle_geometric, fit_circle_hyper, fit_circle_kasa, fit_circle_taubin};
pub use ellipse::Ellipse;
pub use ellipse_fit::{EllipseFit, fit_ellipse_direct, fit_ellipse_geometric};
pub use error::FitError;
pub use ovality::Ovality;
