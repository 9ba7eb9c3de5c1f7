//! Picture files by what they begin with.

use super::error::PictureError;
use super::grey::Grey;
use super::scale::PixelScale;
use super::{jpeg_file, png_file, tiff_file};
use std::fs::File;
use std::io::{BufRead, BufReader, Seek};
use std::path::Path;

/// The most pixels a picture may have: two pages of 210 by 297 mm at 1200 dpi. In grey each takes a byte.
pub const MOST_PIXELS: usize = 280_000_000;
/// The smallest side in which a ring could be seen, pixels.
const LEAST_SIDE: usize = 100;

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

/// What a decoder hands over: the pixels as stored, and what the file says beside them.
pub(super) struct Stored {
    pub(super) grey: Grey,
    /// Pixels per inch, across and down as stored.
    pub(super) dpi: Option<(f64, f64)>,
    /// Orientation by EXIF and TIFF, 1 where none is stated.
    pub(super) orientation: u32,
}

/// Reads a picture file: PNG, JPEG or TIFF, told by its first bytes whatever its name.
///
/// Memory: one byte for each pixel, at most [`MOST_PIXELS`]; PNG and TIFF are read row by row or strip by strip.
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

/// The number of pixels, when it is one that is taken.
pub(super) fn room(width: usize, height: usize) -> Result<usize, PictureError> {
    let pixels = width.saturating_mul(height);
    if pixels > MOST_PIXELS {
        return Err(PictureError::TooLarge { width, height, most: MOST_PIXELS / 1_000_000 });
    }
    if width.min(height) < LEAST_SIDE {
        return Err(PictureError::TooSmall { width, height });
    }
    Ok(pixels)
}

/// Adds pixels of interleaved samples of 8 bits as grey: one or two samples (the second an opacity that is passed over), or
/// three or four of red, green and blue. Luma by the weights of ITU-R BT.601, as JPEG has it.
pub(super) fn push_grey(out: &mut Vec<u8>, samples: &[u8], channels: usize) {
    match channels {
        1 => out.extend_from_slice(samples),
        2 => out.extend(samples.chunks_exact(2).map(|s| s[0])),
        n => out.extend(samples.chunks_exact(n).map(|s| {
            let y = 299 * u32::from(s[0]) + 587 * u32::from(s[1]) + 114 * u32::from(s[2]);
            u8::try_from((y + 500) / 1000).unwrap_or(u8::MAX)
        })),
    }
}
