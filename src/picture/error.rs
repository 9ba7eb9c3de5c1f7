//! Why a picture cannot be used at all.

/// Nothing of the picture could be used.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PictureError {
    /// The system refuses the file.
    #[error("it cannot be read: {source}")]
    Unreadable {
        /// What the system says.
        #[source]
        source: std::io::Error,
    },
    /// It begins like no picture this version knows.
    #[error("it is no PNG, JPEG or TIFF picture")]
    NotAPicture,
    /// More pixels than are taken.
    #[error("it has {width} x {height} pixels, and {most} million are the most")]
    TooLarge {
        /// Pixels across.
        width: usize,
        /// Pixels down.
        height: usize,
        /// The limit, millions.
        most: usize,
    },
    /// Fewer pixels than a ring needs.
    #[error("it has {width} x {height} pixels, too few for a ring")]
    TooSmall {
        /// Pixels across.
        width: usize,
        /// Pixels down.
        height: usize,
    },
    /// A form of its format that is not read.
    #[error("it is a {format} file of a form that is not read: {what}")]
    Unsupported {
        /// The format.
        format: &'static str,
        /// Which form.
        what: String,
    },
    /// The file is damaged.
    #[error("the {format} file is damaged: {why}")]
    Broken {
        /// The format.
        format: &'static str,
        /// What the decoder says.
        why: String,
    },
}

impl PictureError {
    /// What to do about it.
    #[must_use]
    pub fn fix(&self) -> &'static str {
        match self {
            PictureError::Unreadable { .. } => "check the name and that you may read it",
            PictureError::NotAPicture => "save the scan as PNG, JPEG or TIFF",
            PictureError::TooLarge { .. } => "scan at 600 dpi, or a smaller part of the glass",
            PictureError::TooSmall { .. } => "scan at 600 dpi, in grey or colour",
            PictureError::Unsupported { .. } => "save it as PNG, 8 bits, grey or colour",
            PictureError::Broken { .. } => "scan or copy it again",
        }
    }
}
