//! A picture in grey, one byte a pixel, and the light at any place of it.

use super::scale::whole;

/// Largest side of the picture that blobs are looked for in, pixels: a tenth of a millimetre on a page.
const SMALL_SIDE: usize = 2400;

/// A grey picture, rows from the top, sRGB coded.
#[derive(Clone, PartialEq)]
pub struct Grey {
    width: usize,
    height: usize,
    pixels: Vec<u8>,
    light: [f32; 256],
}

impl std::fmt::Debug for Grey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "grey picture of {} x {} pixels", self.width, self.height)
    }
}

impl Grey {
    /// A picture of these pixels; `None` unless there are `width * height` of them, and at least one.
    #[must_use]
    pub fn new(width: usize, height: usize, pixels: Vec<u8>) -> Option<Grey> {
        let fits = width.checked_mul(height).is_some_and(|n| n > 0 && n == pixels.len());
        fits.then(|| Grey { width, height, pixels, light: light_table() })
    }

    /// Pixels across.
    #[must_use]
    pub fn width(&self) -> usize {
        self.width
    }

    /// Pixels down.
    #[must_use]
    pub fn height(&self) -> usize {
        self.height
    }

    /// The pixels, rows from the top.
    #[must_use]
    pub fn pixels(&self) -> &[u8] {
        &self.pixels
    }

    /// The coded value of a pixel; the nearest one's outside the picture.
    #[must_use]
    pub fn at(&self, x: usize, y: usize) -> u8 {
        self.pixels[y.min(self.height - 1) * self.width + x.min(self.width - 1)]
    }

    /// Linear light at a place, 0 to 1, between the four nearest pixel centres.
    #[must_use]
    pub(super) fn light(&self, x: f64, y: f64) -> f64 {
        let (x, y) = (x - 0.5, y - 0.5);
        let (x, y) = (x.clamp(0.0, (self.width - 1) as f64), y.clamp(0.0, (self.height - 1) as f64));
        let (i, j) = (whole(x), whole(y));
        let (fx, fy) = (x - i as f64, y - j as f64);
        let l = |i, j| f64::from(self.light[usize::from(self.at(i, j))]);
        let upper = l(i, j) * (1.0 - fx) + l(i + 1, j) * fx;
        let lower = l(i, j + 1) * (1.0 - fx) + l(i + 1, j + 1) * fx;
        upper * (1.0 - fy) + lower * fy
    }

    /// The picture made so small that no side is above 2400 pixels, by means of squares, and the side of a square. What is
    /// left over at the right and at the bottom of the last whole square is dropped.
    #[must_use]
    pub fn small(&self) -> (Grey, usize) {
        let side = self.width.max(self.height).div_ceil(SMALL_SIDE).min(self.width.min(self.height)).max(1);
        if side == 1 {
            return (self.clone(), 1);
        }
        let (w, h) = (self.width / side, self.height / side);
        let mut pixels = Vec::with_capacity(w * h);
        let mut sums = vec![0_u32; w];
        let area = u32::try_from(side * side).unwrap_or(u32::MAX);
        for j in 0..h {
            sums.fill(0);
            for y in j * side..(j + 1) * side {
                let row = &self.pixels[y * self.width..][..w * side];
                for (sum, square) in sums.iter_mut().zip(row.chunks_exact(side)) {
                    *sum += square.iter().map(|&p| u32::from(p)).sum::<u32>();
                }
            }
            pixels.extend(sums.iter().map(|s| u8::try_from(s / area).unwrap_or(u8::MAX)));
        }
        (Grey { width: w, height: h, pixels, light: self.light }, side)
    }

    /// The picture turned or mirrored upright as its file says, by the orientation numbers 1 to 8 of EXIF and TIFF: where the
    /// first row and the first column of the stored picture belong. Any other number leaves it.
    ///
    /// # Source
    /// TIFF 6.0 (1992), tag 274.
    pub(super) fn upright(self, orientation: u32) -> Grey {
        if !(2..=8).contains(&orientation) {
            return self;
        }
        let (w, h) = (self.width, self.height);
        let (nw, nh) = if orientation >= 5 { (h, w) } else { (w, h) };
        let mut pixels = Vec::with_capacity(w * h);
        for y in 0..nh {
            for x in 0..nw {
                let (i, j) = match orientation {
                    2 => (w - 1 - x, y),
                    3 => (w - 1 - x, h - 1 - y),
                    4 => (x, h - 1 - y),
                    5 => (y, x),
                    6 => (y, h - 1 - x),
                    7 => (w - 1 - y, h - 1 - x),
                    _ => (w - 1 - y, x),
                };
                pixels.push(self.pixels[j * w + i]);
            }
        }
        Grey { width: nw, height: nh, pixels, light: self.light }
    }
}

/// Linear light of every coded value.
///
/// # Source
/// IEC 61966-2-1:1999, the sRGB transfer function.
fn light_table() -> [f32; 256] {
    let mut table = [0.0; 256];
    for (v, light) in (0_u8..=255).zip(table.iter_mut()) {
        let c = f32::from(v) / 255.0;
        *light = if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) };
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn light_lies_between_the_pixels_and_follows_the_code() {
        let g = Grey::new(2, 1, vec![0, 255]).expect("two pixels");
        assert!(g.light(0.5, 0.5).abs() < 1e-6 && (g.light(1.5, 0.5) - 1.0).abs() < 1e-6);
        assert!((g.light(1.0, 0.5) - 0.5).abs() < 1e-6 && g.light(-9.0, 0.5).abs() < 1e-6);
        // half the light is coded as 188 (IEC 61966-2-1: 1.055 x 0.5^(1/2.4) - 0.055 = 0.735)
        let half = Grey::new(1, 1, vec![188]).expect("one pixel");
        assert!((half.light(0.5, 0.5) - 0.5).abs() < 0.004);
        assert!(Grey::new(2, 2, vec![0; 3]).is_none() && Grey::new(0, 0, vec![]).is_none());
    }

    #[test]
    fn a_stored_picture_is_turned_the_way_its_number_says() {
        // the letter F in three by two: first row abc, second row d..
        let f = Grey::new(3, 2, b"abcd..".to_vec()).expect("six pixels");
        let row = |n: u32, y: usize| {
            let g = f.clone().upright(n);
            String::from_utf8(g.pixels()[y * g.width()..][..g.width()].to_vec()).expect("letters")
        };
        assert_eq!(
            (row(1, 0), row(2, 0), row(3, 1), row(4, 1)),
            ("abc".into(), "cba".into(), "cba".into(), "abc".into())
        );
        // 6: the stored top is the right side: turned a quarter clockwise; 8: anticlockwise; 5 and 7 are mirrored too
        assert_eq!((row(6, 0), row(8, 2), row(5, 0), row(7, 2)), ("da".into(), "ad".into(), "ad".into(), "da".into()));
    }

    #[test]
    fn a_large_picture_is_made_small_by_whole_squares() {
        let g = Grey::new(4802, 3, vec![90; 4802 * 3]).expect("pixels");
        let (small, side) = g.small();
        assert_eq!((small.width(), small.height(), side), (1600, 1, 3));
        assert!(small.pixels().iter().all(|&p| p == 90));
    }
}
