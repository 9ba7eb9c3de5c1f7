//! Why a scene could not be drawn.

/// Why a scene could not be turned into a file.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DrawError {
    /// A side is zero, negative, not a number or larger than a PDF page may be.
    #[error("a drawing of {width_mm} by {height_mm} mm cannot be made: each side must be above 0 and at most 5080 mm")]
    Size {
        /// Width asked for, mm.
        width_mm: f64,
        /// Height asked for, mm.
        height_mm: f64,
    },
    /// A mark holds a NaN, an infinity or a negative size.
    #[error("mark {index} ({title:?}) of the drawing has a place or size that is not a usable number")]
    NotANumber {
        /// Place of the mark in the scene, from 0.
        index: usize,
        /// The mark's own title.
        title: String,
    },
    /// The prefix for ids is not a plain name.
    #[error("{prefix:?} cannot start the ids of a drawing: use a letter, then letters, digits, '-' or '_'")]
    Prefix {
        /// As given.
        prefix: String,
    },
    /// A chart's axis has no width, or no room on the paper.
    #[error("the axis {axis:?} cannot be drawn: {why}")]
    Axis {
        /// Label of the axis.
        axis: String,
        /// What is wrong.
        why: String,
    },
    /// A document without a page.
    #[error("a document needs at least one page")]
    NoPages,
    /// The encoder gave up; not expected for any scene that passed its check.
    #[error("the {format} encoder stopped: {message}")]
    Encoder {
        /// Which file kind.
        format: &'static str,
        /// What it said.
        message: String,
    },
}
