//! The two things taken from EXIF: how the picture stands, and its resolution.
//!
//! # Source
//! TIFF 6.0 (1992), the layout of a directory; tags 274 orientation, 282 and 283 resolution, 296 its unit. EXIF uses the
//! same in its first directory.

/// What EXIF says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Exif {
    /// Pixels per inch, across and down as stored.
    pub(super) dpi: Option<(f64, f64)>,
    /// 1 to 8.
    pub(super) orientation: u32,
}

impl Default for Exif {
    fn default() -> Exif {
        Exif { dpi: None, orientation: 1 }
    }
}

impl Exif {
    /// From the bytes of the block, with or without its `Exif` heading. What cannot be read is not stated.
    pub(super) fn of(block: &[u8]) -> Exif {
        Block::of(block.strip_prefix(b"Exif\0\0").unwrap_or(block)).and_then(|b| b.read()).unwrap_or_default()
    }
}

/// Pixels per inch by the number of the unit: 2 inch, 3 centimetre; others say nothing.
pub(super) fn dpi_of(x: f64, y: f64, unit: u32) -> Option<(f64, f64)> {
    match unit {
        2 => Some((x, y)),
        3 => Some((x * 2.54, y * 2.54)),
        _ => None,
    }
}

struct Block<'a> {
    bytes: &'a [u8],
    big: bool,
}

impl<'a> Block<'a> {
    fn of(bytes: &'a [u8]) -> Option<Block<'a>> {
        match bytes.get(..4)? {
            b"II*\0" => Some(Block { bytes, big: false }),
            b"MM\0*" => Some(Block { bytes, big: true }),
            _ => None,
        }
    }

    fn number(&self, at: usize, bytes: usize) -> Option<u32> {
        let part = self.bytes.get(at..at.checked_add(bytes)?)?;
        let add = |sum: u32, b: &u8| (sum << 8) | u32::from(*b);
        Some(if self.big { part.iter().fold(0, add) } else { part.iter().rev().fold(0, add) })
    }

    fn offset(&self, at: usize) -> Option<usize> {
        usize::try_from(self.number(at, 4)?).ok()
    }

    fn ratio(&self, at: usize) -> Option<f64> {
        let (above, below) = (self.number(at, 4)?, self.number(at.checked_add(4)?, 4)?);
        (below > 0).then(|| f64::from(above) / f64::from(below))
    }

    fn read(&self) -> Option<Exif> {
        let start = self.offset(4)?;
        let (mut x, mut y, mut unit, mut orientation) = (None, None, 2, 1);
        for i in 0..self.number(start, 2)? as usize {
            let at = start.checked_add(2 + 12 * i)?;
            match self.number(at, 2)? {
                274 => orientation = self.number(at + 8, 2)?,
                282 => x = self.offset(at + 8).and_then(|o| self.ratio(o)),
                283 => y = self.offset(at + 8).and_then(|o| self.ratio(o)),
                296 => unit = self.number(at + 8, 2)?,
                _ => {}
            }
        }
        let dpi = x.zip(y).and_then(|(x, y)| dpi_of(x, y, unit));
        Some(Exif { dpi, orientation: if (1..=8).contains(&orientation) { orientation } else { 1 } })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A block of both byte orders with orientation 6 and 118 by 119 pixels a centimetre.
    fn block(big: bool) -> Vec<u8> {
        let n = |v: u32, bytes: usize| -> Vec<u8> {
            let all = v.to_be_bytes();
            let part = all[4 - bytes..].to_vec();
            if big { part } else { part.into_iter().rev().collect() }
        };
        let mut out = if big { b"MM\0*".to_vec() } else { b"II*\0".to_vec() };
        out.extend(n(8, 4));
        out.extend(n(4, 2));
        for (tag, kind, value) in [(274, 3, 6), (282, 5, 62), (283, 5, 70), (296, 3, 3)] {
            out.extend(n(tag, 2));
            out.extend(n(kind, 2));
            out.extend(n(1, 4));
            out.extend(if kind == 3 { [n(value, 2), vec![0, 0]].concat() } else { n(value, 4) });
        }
        out.extend(n(0, 4));
        for v in [1180, 10, 119, 1] {
            out.extend(n(v, 4));
        }
        out
    }

    #[test]
    fn both_byte_orders_say_the_same() {
        for big in [true, false] {
            let exif = Exif::of(&block(big));
            let (x, y) = exif.dpi.expect("stated");
            assert!((x - 118.0 * 2.54).abs() < 1e-9 && (y - 119.0 * 2.54).abs() < 1e-9, "{exif:?}");
            assert_eq!(exif.orientation, 6);
            let whole = block(big);
            for cut in 0..whole.len() {
                let _ = Exif::of(&whole[..cut]);
            }
        }
        assert_eq!(Exif::of(b"nothing"), Exif::default());
    }
}
