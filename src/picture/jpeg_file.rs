//! JPEG: decoded straight to its luma; resolution from JFIF, else from EXIF.

use super::error::PictureError;
use super::exif::{Exif, dpi_of};
use super::grey::Grey;
use super::stored::{Stored, push_grey, room};
use std::io::{BufRead, Seek};
use zune_jpeg::JpegDecoder;
use zune_jpeg::errors::DecodeErrors;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

/// The most a side of a JPEG can have by its format.
const MOST_SIDE: usize = 65_535;

pub(super) fn decode<R: BufRead + Seek>(mut from: R) -> Result<Stored, PictureError> {
    let density = from.fill_buf().ok().and_then(jfif);
    let broken = |e: DecodeErrors| PictureError::Broken { format: "JPEG", why: format!("{e:?}") };
    // strict: what is missing of a file that was cut short would else be filled with grey
    let options = DecoderOptions::default()
        .set_max_width(MOST_SIDE)
        .set_max_height(MOST_SIDE)
        .set_strict_mode(true)
        .set_use_unsafe(false)
        .jpeg_set_out_colorspace(ColorSpace::Luma);
    let mut decoder = JpegDecoder::new_with_options(from, options);
    decoder.decode_headers().map_err(broken)?;
    let (Some(info), Some(coded)) = (decoder.info(), decoder.input_colorspace()) else {
        return Err(PictureError::Broken { format: "JPEG", why: "it has no heading".into() });
    };
    let (width, height) = (usize::from(info.width), usize::from(info.height));
    let pixels = room(width, height)?;
    let exif = decoder.exif().map(|b| Exif::of(b)).unwrap_or_default();
    let luma = matches!(coded, ColorSpace::Luma | ColorSpace::YCbCr);
    if !luma && coded != ColorSpace::RGB {
        return Err(PictureError::Unsupported { format: "JPEG", what: format!("colours {coded:?}") });
    }
    if !luma {
        decoder.set_options(decoder.options().jpeg_set_out_colorspace(ColorSpace::RGB));
    }
    let decoded = decoder.decode().map_err(broken)?;
    let grey = if luma {
        decoded
    } else {
        let mut grey = Vec::with_capacity(pixels);
        push_grey(&mut grey, &decoded, 3);
        grey
    };
    let short = || PictureError::Broken { format: "JPEG", why: "it ends before its last row".into() };
    let grey = Grey::new(width, height, grey).ok_or_else(short)?;
    Ok(Stored { grey, dpi: density.or(exif.dpi), orientation: exif.orientation })
}

/// Pixels per inch by the JFIF heading, which stands first in the file where there is one.
///
/// # Source
/// JFIF 1.02 (1992): units 1 inch, 2 centimetre, 0 a ratio only.
fn jfif(head: &[u8]) -> Option<(f64, f64)> {
    let head = head.get(..18).filter(|h| h.starts_with(b"\xff\xd8\xff\xe0") && &h[6..11] == b"JFIF\0")?;
    let number = |at: usize| f64::from(u16::from_be_bytes([head[at], head[at + 1]]));
    dpi_of(number(14), number(16), u32::from(head[13]) + 1)
}
