//! Picture files by what they begin with.

use super::error::PictureError;
use super::grey::Grey;
use super::scale::PixelScale;
use super::{jpeg_file, png_file, tiff_file};
use std::fs::File;
use std::io::{BufRead, BufReader, Seek};
use std::path::Path;

/// A decoded picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// Its pixels in grey, upright.
    pub grey: Grey,
    /// The resolution its file states, if it states one that a scanner can have.
    pub stated: Option<PixelScale>,
    /// The resolution in pixels per inch as the file has it, whatever it is.
    pub stated_dpi: Option<(f64, f64)>,
}

/// Reads a picture file: PNG, JPEG or TIFF, told by its first bytes whatever its name.
///
/// Memory: one byte for each pixel, at most [`MOST_PIXELS`](super::MOST_PIXELS); PNG and TIFF are read row by row or strip by strip.
///
/// # Errors
/// See [`PictureError`].
pub fn read_picture(path: &Path) -> Result<Picture, PictureError> {
    let file = File::open(path).map_err(|source| PictureError::Unreadable { source })?;
    decode(BufReader::with_capacity(1 << 16, file))
}

/// Decodes a picture from anything that can be read and wound back.
///
/// # Errors
/// See [`PictureError`].
pub fn decode<R: BufRead + Seek>(mut from: R) -> Result<Picture, PictureError> {
    let head = from.fill_buf().map_err(|source| PictureError::Unreadable { source })?;
    let stored = if head.starts_with(b"\x89PNG\r\n\x1a\n") {
        png_file::decode(from)
    } else if head.starts_with(b"\xff\xd8\xff") {
        jpeg_file::decode(from)
    } else if head.starts_with(b"II*\0") || head.starts_with(b"MM\0*") || head.starts_with(b"II+\0") {
        tiff_file::decode(from)
    } else {
        Err(PictureError::NotAPicture)
    }?;
    let dpi = stored.dpi.map(|(x, y)| if stored.orientation >= 5 { (y, x) } else { (x, y) });
    Ok(Picture {
        grey: stored.grey.upright(stored.orientation),
        stated: dpi.and_then(|(x, y)| PixelScale::from_dpi(x, y)),
        stated_dpi: dpi,
    })
}
