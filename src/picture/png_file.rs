//! PNG: rows one after another; pixels per metre from `pHYs`.

use super::error::PictureError;
use super::exif::Exif;
use super::grey::Grey;
use super::stored::{Stored, push_grey, room};
use png::{Limits, Transformations, Unit};
use std::io::{BufRead, Seek};

/// Memory the decoder may take for rows and side information, bytes.
const MOST_BYTES: usize = 256 << 20;

pub(super) fn decode<R: BufRead + Seek>(from: R) -> Result<Stored, PictureError> {
    let broken = |e: png::DecodingError| PictureError::Broken { format: "PNG", why: e.to_string() };
    let mut decoder = png::Decoder::new_with_limits(from, Limits { bytes: MOST_BYTES });
    decoder.set_transformations(Transformations::EXPAND | Transformations::STRIP_16);
    let mut reader = decoder.read_info().map_err(broken)?;
    let info = reader.info();
    let (width, height) = (info.width as usize, info.height as usize);
    let pixels = room(width, height)?;
    let per_metre = info.pixel_dims.filter(|d| matches!(d.unit, Unit::Meter));
    let exif = info.exif_metadata.as_deref().map(Exif::of).unwrap_or_default();
    let dpi = per_metre.map(|d| (f64::from(d.xppu) * 0.0254, f64::from(d.yppu) * 0.0254)).or(exif.dpi);
    let interlaced = info.interlaced;
    let channels = reader.output_color_type().0.samples();
    let mut grey = Vec::with_capacity(pixels);
    if interlaced {
        let size = reader
            .output_buffer_size()
            .filter(|s| *s <= 2 * MOST_BYTES)
            .ok_or_else(|| PictureError::Unsupported { format: "PNG", what: "interlaced and very large".into() })?;
        let mut whole = vec![0; size];
        reader.next_frame(&mut whole).map_err(broken)?;
        push_grey(&mut grey, &whole, channels);
    } else {
        while let Some(row) = reader.next_row().map_err(broken)? {
            push_grey(&mut grey, row.data(), channels);
        }
    }
    let short = || PictureError::Broken { format: "PNG", why: "it ends before its last row".into() };
    Ok(Stored { grey: Grey::new(width, height, grey).ok_or_else(short)?, dpi, orientation: exif.orientation })
}
