//! What every decoder makes of its file, and how much it may be.

use super::error::PictureError;
use super::grey::Grey;

/// The most pixels a picture may have: two pages of 210 by 297 mm at 1200 dpi. In grey each takes a byte.
pub const MOST_PIXELS: usize = 280_000_000;
/// The smallest side in which a ring could be seen, pixels.
const LEAST_SIDE: usize = 100;

/// What a decoder hands over: the pixels as stored, and what the file says beside them.
pub(super) struct Stored {
    pub(super) grey: Grey,
    /// Pixels per inch, across and down as stored.
    pub(super) dpi: Option<(f64, f64)>,
    /// Orientation by EXIF and TIFF, 1 where none is stated.
    pub(super) orientation: u32,
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
