//! TIFF: strips or tiles one after another; resolution and orientation from its tags.

use super::error::PictureError;
use super::exif::dpi_of;
use super::grey::Grey;
use super::stored::{Stored, push_grey, room};
use std::io::{BufRead, Seek};
use tiff::decoder::{Decoder, DecodingResult, Limits};
use tiff::tags::Tag;
use tiff::{ColorType, TiffError};

/// Memory one strip or tile may take, bytes: a page at 1200 dpi in colour that is stored as one.
const MOST_BYTES: usize = 512 << 20;

pub(super) fn decode<R: BufRead + Seek>(from: R) -> Result<Stored, PictureError> {
    let mut limits = Limits::default();
    limits.decoding_buffer_size = MOST_BYTES;
    limits.intermediate_buffer_size = MOST_BYTES;
    let mut decoder = Decoder::new(from).map_err(failed)?.with_limits(limits);
    let (width, height) = decoder.dimensions().map_err(failed)?;
    let (width, height) = (width as usize, height as usize);
    let pixels = room(width, height)?;
    let channels = channels(&mut decoder)?;
    let (dpi, orientation) = facts(&mut decoder);
    let mut grey = vec![0; pixels];
    let (chunk_width, chunk_height) = decoder.chunk_dimensions();
    let across = width.div_ceil((chunk_width as usize).max(1));
    let count = across * height.div_ceil((chunk_height as usize).max(1));
    let mut part = Vec::new();
    for index in 0..count {
        let number = u32::try_from(index).unwrap_or(u32::MAX);
        let samples = bytes(decoder.read_chunk(number).map_err(failed)?)?;
        let (w, h) = decoder.chunk_data_dimensions(number);
        let (w, h) = (w as usize, h as usize);
        part.clear();
        push_grey(&mut part, &samples, channels);
        let (left, top) = ((index % across) * chunk_width as usize, (index / across) * chunk_height as usize);
        if part.len() < w * h || left + w > width || top + h > height || w == 0 {
            return Err(PictureError::Broken {
                format: "TIFF",
                why: "a strip of another size than its heading says".into(),
            });
        }
        for (row, from) in part.chunks_exact(w).take(h).enumerate() {
            grey[(top + row) * width + left..][..w].copy_from_slice(from);
        }
    }
    let short = || PictureError::Broken { format: "TIFF", why: "it ends before its last row".into() };
    Ok(Stored { grey: Grey::new(width, height, grey).ok_or_else(short)?, dpi, orientation })
}

/// Samples of a pixel, where they stand together and are of a kind that is read.
fn channels<R: BufRead + Seek>(decoder: &mut Decoder<R>) -> Result<usize, PictureError> {
    let unsupported = |what: String| Err(PictureError::Unsupported { format: "TIFF", what });
    let colour = decoder.colortype().map_err(failed)?;
    let channels = match colour {
        ColorType::Gray(8 | 16) => 1,
        ColorType::GrayA(8 | 16) => 2,
        ColorType::RGB(8 | 16) => 3,
        ColorType::RGBA(8 | 16) => 4,
        ColorType::Gray(bits) => return unsupported(format!("{bits} bits a pixel")),
        other => return unsupported(format!("colours {other:?}")),
    };
    let planes = decoder.find_tag_unsigned::<u32>(Tag::PlanarConfiguration).ok().flatten().unwrap_or(1);
    if planes != 1 && channels > 1 { unsupported("colours in planes of their own".into()) } else { Ok(channels) }
}

/// Pixels per inch and orientation, as far as the tags state them.
fn facts<R: BufRead + Seek>(decoder: &mut Decoder<R>) -> (Option<(f64, f64)>, u32) {
    let mut number = |tag| decoder.find_tag(tag).ok().flatten();
    let unit = number(Tag::ResolutionUnit).and_then(|v| v.into_u32().ok()).unwrap_or(2);
    let mut ratio = |tag| match number(tag) {
        Some(tiff::decoder::ifd::Value::Rational(above, below)) if below > 0 => {
            Some(f64::from(above) / f64::from(below))
        }
        _ => None,
    };
    let (x, y) = (ratio(Tag::XResolution), ratio(Tag::YResolution));
    let orientation = number(Tag::Orientation).and_then(|v| v.into_u32().ok()).filter(|o| (1..=8).contains(o));
    (x.zip(y).and_then(|(x, y)| dpi_of(x, y, unit)), orientation.unwrap_or(1))
}

/// The samples in 8 bits.
fn bytes(read: DecodingResult) -> Result<Vec<u8>, PictureError> {
    match read {
        DecodingResult::U8(v) => Ok(v),
        DecodingResult::U16(v) => Ok(v.iter().map(|s| s.to_be_bytes()[0]).collect()),
        _ => Err(PictureError::Unsupported { format: "TIFF", what: "samples that are no whole numbers".into() }),
    }
}

fn failed(error: TiffError) -> PictureError {
    match error {
        TiffError::UnsupportedError(what) => PictureError::Unsupported { format: "TIFF", what: what.to_string() },
        TiffError::LimitsExceeded => {
            PictureError::Unsupported { format: "TIFF", what: "one strip of more than 512 million bytes".into() }
        }
        other => PictureError::Broken { format: "TIFF", why: other.to_string() },
    }
}
