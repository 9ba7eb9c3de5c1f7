//! What stands out from the background, piece by piece, in the picture made small.

use super::blobs::{Blob, Mask};
use super::grey::Grey;
use crate::numeric::linear::LinearProblem;
use crate::numeric::summary::median;

/// Share of the picture's sides that counts as its border, where the background is looked at.
const BORDER: usize = 50;
/// Least difference from the background that counts, in coded values.
const LEAST_CONTRAST: f64 = 12.0;
/// Share of the largest difference, and number of standard deviations of the background, that count at first.
const FIRST_SHARE: f64 = 0.12;
const NOISE_SDS: f64 = 5.0;
/// Which part of a piece's own differences stands for its face: a bore, darker than a face on white, comes after it.
const FACE_PART: f64 = 0.35;
/// Steps in which the level is raised where a piece is no ring, and how far: of a bright face up to this share of its
/// brightest parts; of a dark one no further than its face, since beyond it stand the bores alone.
const LEVEL_STEP: f64 = 1.25;
const BRIGHT_TOP: f64 = 0.8;
const FACE_TOP: f64 = 0.9;
/// Most pieces that are looked at: no glass holds so many rings.
const MOST_PIECES: usize = 500;

/// One piece.
#[derive(Debug, Clone)]
pub(super) struct Piece {
    /// Where it stands in the small picture.
    pub(super) blob: Blob,
    /// Its pixels, the corner of the mask one pixel left of and above the blob's.
    pub(super) alone: Mask,
    /// The piece without holes, its corner one pixel left of and above the blob's.
    pub(super) filled: Mask,
    /// Whether its face is brighter than the background.
    pub(super) bright: bool,
}

/// The background: a level that changes smoothly over the picture, as light falls off, and its noise; coded values.
#[derive(Debug, Clone, Copy)]
struct Background {
    parts: [f64; 6],
    size: [f64; 2],
    noise: f64,
}

/// Most places of the border that are asked.
const MOST_ASKED: usize = 6000;
/// Rounds of leaving out what is no background.
const ROUNDS: usize = 6;

impl Background {
    /// The surface of second degree through most of what lies along the border.
    fn of(small: &Grey) -> Background {
        let (w, h) = (small.width(), small.height());
        let band = (w.min(h) / BORDER).max(1);
        let is_border = |x: usize, y: usize| x < band || y < band || x + band >= w || y + band >= h;
        let border: Vec<(usize, usize)> =
            (0..h).flat_map(|y| (0..w).map(move |x| (x, y))).filter(|&(x, y)| is_border(x, y)).collect();
        let asked: Vec<(usize, usize)> = border.iter().step_by(border.len() / MOST_ASKED + 1).copied().collect();
        let level = |p: &(usize, usize)| f64::from(small.at(p.0, p.1));
        let first = median(&asked.iter().map(level).collect::<Vec<_>>());
        let mut ground =
            Background { parts: [first, 0.0, 0.0, 0.0, 0.0, 0.0], size: [w as f64, h as f64], noise: f64::INFINITY };
        for _ in 0..ROUNDS {
            let off: Vec<f64> = asked.iter().map(|p| (level(p) - ground.at(p.0, p.1)).abs()).collect();
            // a coded value is rounded, so nothing is even to better than a third
            ground.noise = (median(&off) / 0.6745).max(0.33);
            let mut problem = LinearProblem::new(6);
            for (p, _) in asked.iter().zip(&off).filter(|(_, off)| **off <= 3.0 * ground.noise) {
                problem.add(&ground.row(p.0, p.1), level(p), 1.0);
            }
            let Some(fit) = problem.solve() else { break };
            ground.parts = std::array::from_fn(|k| fit.least_norm[k]);
        }
        ground
    }

    fn row(&self, x: usize, y: usize) -> [f64; 6] {
        let (x, y) = (2.0 * x as f64 / self.size[0] - 1.0, 2.0 * y as f64 / self.size[1] - 1.0);
        [1.0, x, y, x * x, x * y, y * y]
    }

    fn at(&self, x: usize, y: usize) -> f64 {
        self.row(x, y).iter().zip(&self.parts).map(|(r, p)| r * p).sum()
    }
}

/// The value below which a share of the counted values lies.
fn part_of(counts: &[usize; 256], share: f64) -> f64 {
    let total: usize = counts.iter().sum();
    let mut sum = 0;
    for (v, n) in counts.iter().enumerate() {
        sum += n;
        if sum as f64 >= share * total as f64 && sum > 0 {
            return v as f64;
        }
    }
    0.0
}

/// The pieces of at least `least` pixels that differ from the background, separated half-way up to their own face, higher
/// where that shows a ring; `is_ring` tells one.
pub(super) fn pieces(small: &Grey, least: usize, is_ring: impl Fn(&Piece) -> bool) -> Vec<Piece> {
    let ground = Background::of(small);
    let mut counts = [[0_usize; 256]; 2];
    for (i, &p) in small.pixels().iter().enumerate() {
        let d = f64::from(p) - ground.at(i % small.width(), i / small.width());
        counts[usize::from(d > 0.0)][super::scale::whole(d.abs()).min(255)] += 1;
    }
    let both: [usize; 256] = std::array::from_fn(|v| counts[0][v] + counts[1][v]);
    let first = LEAST_CONTRAST.max(NOISE_SDS * ground.noise).max(FIRST_SHARE * part_of(&both, 0.995));
    let over = |side: usize| counts[side].iter().skip(super::scale::whole(first)).sum::<usize>();
    let bright = over(1) >= over(0);
    let sign = if bright { 1.0 } else { -1.0 };
    let differs = |x: usize, y: usize| sign * (f64::from(small.at(x, y)) - ground.at(x, y));
    let look = Look { differs: &differs, bright, least, is_ring };
    let all = Blob {
        area: small.width() * small.height(),
        left: 0,
        top: 0,
        right: small.width() - 1,
        bottom: small.height() - 1,
        x: 0.0,
        y: 0.0,
        seed: 0,
    };
    let coarse = Mask::of(small.width(), small.height(), |x, y| differs(x, y) > first);
    let mut found = Vec::new();
    for blob in coarse.blobs(least).into_iter().take(MOST_PIECES) {
        let piece = look.piece(&coarse, &blob, &all);
        let own = look.own(&piece);
        let most = if bright { BRIGHT_TOP * part_of(&own, 0.95) } else { FACE_TOP * part_of(&own, FACE_PART) };
        found.extend(look.apart(piece, (part_of(&own, FACE_PART) / 2.0).max(first), most));
    }
    found.truncate(MOST_PIECES);
    found
}

/// How pieces are taken apart.
struct Look<'a, D, R> {
    differs: &'a D,
    bright: bool,
    least: usize,
    is_ring: R,
}

impl<D: Fn(usize, usize) -> f64, R: Fn(&Piece) -> bool> Look<'_, D, R> {
    /// A blob of the mask of a part of the picture.
    fn piece(&self, mask: &Mask, blob: &Blob, part: &Blob) -> Piece {
        let alone = mask.alone(blob);
        Piece { blob: shifted(*blob, part), filled: alone.filled(), alone, bright: self.bright }
    }

    /// How many of a piece's pixels differ by how much.
    fn own(&self, piece: &Piece) -> [usize; 256] {
        let mut counts = [0_usize; 256];
        for (x, y) in piece.pixels() {
            counts[super::scale::whole((self.differs)(x, y)).min(255)] += 1;
        }
        counts
    }

    /// The rings in a piece when only what differs by more than a level counts, the level raised step by step where there is
    /// none: light between two rings or a shadow beside them must not join them. Where no level shows one, the piece itself
    /// at the first level.
    fn apart(&self, piece: Piece, level: f64, most: f64) -> Vec<Piece> {
        let part = piece.blob;
        let fine = Mask::of(part.width(), part.height(), |x, y| {
            piece.alone.on[(y + 1) * piece.alone.width + x + 1] && (self.differs)(part.left + x, part.top + y) > level
        });
        let mut found = Vec::new();
        for blob in fine.blobs(self.least).into_iter().take(MOST_PIECES) {
            let piece = self.piece(&fine, &blob, &part);
            if (self.is_ring)(&piece) || level * LEVEL_STEP > most {
                found.push(piece);
                continue;
            }
            let deeper = self.apart(piece.clone(), level * LEVEL_STEP, most);
            if deeper.iter().any(|p| (self.is_ring)(p)) { found.extend(deeper) } else { found.push(piece) }
        }
        found
    }
}

/// A blob of a part of the picture, as it stands in the whole; its seed stays one of the part.
fn shifted(b: Blob, part: &Blob) -> Blob {
    Blob {
        left: b.left + part.left,
        top: b.top + part.top,
        right: b.right + part.left,
        bottom: b.bottom + part.top,
        x: b.x + part.left as f64,
        y: b.y + part.top as f64,
        ..b
    }
}

impl Piece {
    /// Column and row of every pixel, holes left out.
    fn pixels(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        let (w, left, top) = (self.alone.width, self.blob.left, self.blob.top);
        let on = self.alone.on.iter().enumerate().filter(|(_, on)| **on);
        on.map(move |(i, _)| (left + i % w - 1, top + i / w - 1))
    }

    /// Middle and area, in the small picture, of every part of the piece that lies where `is_in` does not hold.
    pub(super) fn beyond(&self, is_in: impl Fn([f64; 2]) -> bool) -> Vec<([f64; 2], f64)> {
        let (left, top) = (self.blob.left as f64 - 1.0, self.blob.top as f64 - 1.0);
        let (w, h) = (self.filled.width, self.filled.height);
        let out =
            Mask::of(w, h, |x, y| self.filled.on[y * w + x] && !is_in([left + x as f64 + 0.5, top + y as f64 + 0.5]));
        out.blobs(9).iter().map(|b| ([left + b.x, top + b.y], b.area as f64)).collect()
    }

    /// True where it reaches the picture's edge.
    pub(super) fn is_cut(&self, small: &Grey) -> bool {
        let b = &self.blob;
        b.left == 0 || b.top == 0 || b.right + 1 >= small.width() || b.bottom + 1 >= small.height()
    }

    /// Number of pixels without holes, and their mean place in the small picture.
    pub(super) fn middle(&self) -> (f64, [f64; 2]) {
        let (mut n, mut sx, mut sy) = (0.0, 0.0, 0.0);
        for (i, _) in self.filled.on.iter().enumerate().filter(|(_, on)| **on) {
            n += 1.0;
            sx += (i % self.filled.width) as f64 - 0.5;
            sy += (i / self.filled.width) as f64 - 0.5;
        }
        (n, [self.blob.left as f64 + sx / n, self.blob.top as f64 + sy / n])
    }

    /// How far the piece reaches from a place of the small picture in `rays` directions, small pixels: the furthest pixel
    /// that belongs to it. Directions are taken in a frame stretched by `stretch` (down over across).
    pub(super) fn reach(&self, from: [f64; 2], rays: usize, stretch: f64) -> Vec<f64> {
        let most = (self.filled.width + self.filled.height) as f64;
        let (left, top) = (self.blob.left as f64 - 1.0, self.blob.top as f64 - 1.0);
        let is_in = |x: f64, y: f64| {
            x >= 0.0
                && y >= 0.0
                && x < self.filled.width as f64
                && y < self.filled.height as f64
                && self.filled.on[super::scale::whole(y) * self.filled.width + super::scale::whole(x)]
        };
        (0..rays)
            .map(|k| {
                let (s, c) = (std::f64::consts::TAU * k as f64 / rays as f64).sin_cos();
                let mut r = most;
                while r > 0.0 && !is_in(from[0] - left + r * c, from[1] - top + r * s * stretch) {
                    r -= 0.5;
                }
                r.max(0.0)
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn disc(x: f64, y: f64, cx: f64, cy: f64, r: f64) -> bool {
        (x - cx).hypot(y - cy) < r
    }

    fn drawn(ground: u8, face: u8, bore: u8) -> Grey {
        let pixels = (0..200 * 120)
            .map(|i| ((i % 200) as f64 + 0.5, (i / 200) as f64 + 0.5))
            .map(|(x, y)| match () {
                () if disc(x, y, 60.0, 60.0, 20.0) || disc(x, y, 140.0, 60.0, 20.0) => bore,
                () if disc(x, y, 60.0, 60.0, 30.0) || disc(x, y, 140.0, 60.0, 30.0) => face,
                () => ground,
            })
            .collect();
        Grey::new(200, 120, pixels).expect("pixels")
    }

    #[test]
    fn rings_are_found_on_black_and_on_white() {
        for (ground, face, bore, bright) in [(12, 170, 20, true), (250, 170, 30, false)] {
            let small = drawn(ground, face, bore);
            let found = pieces(&small, 50, |_| true);
            assert_eq!(found.len(), 2, "{ground}");
            for p in &found {
                let (area, middle) = p.middle();
                assert!((area - 900.0 * std::f64::consts::PI).abs() < 40.0, "{ground}: {area}");
                assert!((middle[1] - 60.0).abs() < 0.1 && p.bright == bright && !p.is_cut(&small));
                assert!(p.reach(middle, 36, 1.0).iter().all(|r| (r - 30.0).abs() < 1.2));
            }
        }
    }

    #[test]
    fn an_even_picture_has_no_pieces() {
        assert!(pieces(&Grey::new(150, 150, vec![77; 22500]).expect("pixels"), 5, |_| true).is_empty());
    }
}
