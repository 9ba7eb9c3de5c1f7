//! Why a fit or a construction has no answer.

use crate::numeric::least_squares::SolveError;

/// Why a fit or a construction has no answer. Each variant holds the numbers that make its case.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FitError {
    /// Too few points or readings.
    #[error("{got} points, at least {need} needed")]
    TooFewPoints {
        /// Least number that could work.
        need: usize,
        /// Number given.
        got: usize,
    },
    /// A coordinate, reading or sd is NaN or infinite.
    #[error("number {index} (counted from 0) is not finite")]
    NotFinite {
        /// Place in the input, from 0.
        index: usize,
    },
    /// Lists that belong together differ in length.
    #[error("{left} angles or points but {right} readings")]
    LengthMismatch {
        /// Length of the first list.
        left: usize,
        /// Length of the second list.
        right: usize,
    },
    /// All points are the same point, to rounding.
    #[error("all points coincide")]
    Coincident,
    /// All points lie on one straight line, to rounding, or too near one for a circle to be told from it.
    #[error("the points lie on a straight line")]
    Collinear,
    /// A standard deviation that is not a positive number.
    #[error("a standard deviation must be a positive number, not {sd}")]
    BadSd {
        /// The value given.
        sd: f64,
    },
    /// The readings fix fewer combinations of the unknowns than are asked for.
    #[error("the readings determine only {rank} of {need} unknowns")]
    Undetermined {
        /// Combinations determined.
        rank: usize,
        /// Unknowns.
        need: usize,
    },
    /// The best conic through the points is not an ellipse.
    #[error("no ellipse fits the points better than a parabola or hyperbola does")]
    NotAnEllipse,
    /// No such figure: the named quantity lies outside its range.
    #[error("no such figure: {what} is {value}")]
    Impossible {
        /// The quantity.
        what: &'static str,
        /// Its value.
        value: f64,
    },
    /// The solver refused to start.
    #[error("{0}")]
    Solver(#[from] SolveError),
}

/// Refuses too few points and coordinates that are not finite.
pub(crate) fn check_points<const D: usize>(points: &[[f64; D]], need: usize) -> Result<(), FitError> {
    if points.len() < need {
        return Err(FitError::TooFewPoints { need, got: points.len() });
    }
    match points.iter().position(|p| !p.iter().all(|v| v.is_finite())) {
        Some(index) => Err(FitError::NotFinite { index }),
        None => Ok(()),
    }
}
