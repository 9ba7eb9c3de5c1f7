//! What hangs together in a picture of two values.

/// A picture of two values.
#[derive(Debug, Clone)]
pub(super) struct Mask {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) on: Vec<bool>,
}

/// Pixels that touch by their sides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Blob {
    /// Number of pixels.
    pub(super) area: usize,
    /// First and last column and row.
    pub(super) left: usize,
    pub(super) top: usize,
    pub(super) right: usize,
    pub(super) bottom: usize,
    /// Mean place of its pixels, in pixels, their centres at halves.
    pub(super) x: f64,
    pub(super) y: f64,
    /// One of its pixels.
    pub(super) seed: usize,
}

impl Blob {
    pub(super) fn width(&self) -> usize {
        self.right - self.left + 1
    }

    pub(super) fn height(&self) -> usize {
        self.bottom - self.top + 1
    }
}

impl Mask {
    /// The pixels of `width * height` for which `is_on` holds.
    pub(super) fn of(width: usize, height: usize, is_on: impl Fn(usize, usize) -> bool) -> Mask {
        let mut on = Vec::with_capacity(width * height);
        for y in 0..height {
            on.extend((0..width).map(|x| is_on(x, y)));
        }
        Mask { width, height, on }
    }

    /// Every blob of at least `least` pixels, in the order of its first pixel.
    pub(super) fn blobs(&self, least: usize) -> Vec<Blob> {
        let mut seen = vec![false; self.on.len()];
        let mut found = Vec::new();
        let mut stack = Vec::new();
        for start in 0..self.on.len() {
            if self.on[start] && !seen[start] {
                let blob = self.flood(start, &mut seen, &mut stack);
                if blob.area >= least {
                    found.push(blob);
                }
            }
        }
        found
    }

    /// The blob of the pixel `start`, its pixels marked in `seen`.
    fn flood(&self, start: usize, seen: &mut [bool], stack: &mut Vec<usize>) -> Blob {
        let (mut sx, mut sy) = (0.0, 0.0);
        let (x, y) = (start % self.width, start / self.width);
        let mut b = Blob { area: 0, left: x, top: y, right: x, bottom: y, x: 0.0, y: 0.0, seed: start };
        seen[start] = true;
        stack.push(start);
        while let Some(at) = stack.pop() {
            let (x, y) = (at % self.width, at / self.width);
            b.area += 1;
            (sx, sy) = (sx + x as f64 + 0.5, sy + y as f64 + 0.5);
            (b.left, b.right) = (b.left.min(x), b.right.max(x));
            (b.top, b.bottom) = (b.top.min(y), b.bottom.max(y));
            let mut visit = |next: usize| {
                if self.on[next] && !seen[next] {
                    seen[next] = true;
                    stack.push(next);
                }
            };
            if x > 0 {
                visit(at - 1);
            }
            if x + 1 < self.width {
                visit(at + 1);
            }
            if y > 0 {
                visit(at - self.width);
            }
            if y + 1 < self.height {
                visit(at + self.width);
            }
        }
        (b.x, b.y) = (sx / b.area as f64, sy / b.area as f64);
        b
    }

    /// The part of the mask in the box of a blob, with `free` pixels all round that are off where the mask ends.
    fn cut(&self, blob: &Blob, free: usize) -> Mask {
        let inside = |x: usize, y: usize| {
            let (x, y) = ((blob.left + x).checked_sub(free), (blob.top + y).checked_sub(free));
            x.zip(y).is_some_and(|(x, y)| x < self.width && y < self.height && self.on[y * self.width + x])
        };
        Mask::of(blob.width() + 2 * free, blob.height() + 2 * free, inside)
    }

    /// The pixels of one blob alone, in a mask of its box with one free pixel all round: its left top corner stands one
    /// pixel left of and above the blob's.
    pub(super) fn alone(&self, blob: &Blob) -> Mask {
        let cut = self.cut(blob, 1);
        let seed = (blob.seed / self.width - blob.top + 1) * cut.width + blob.seed % self.width - blob.left + 1;
        let mut on = vec![false; cut.on.len()];
        cut.flood(seed, &mut on, &mut Vec::new());
        Mask { on, ..cut }
    }

    /// The mask with its holes filled: all that cannot be reached from its left top corner, which is off.
    pub(super) fn filled(&self) -> Mask {
        let outside = Mask { on: self.on.iter().map(|o| !o).collect(), ..*self };
        let mut reached = vec![false; self.on.len()];
        outside.flood(0, &mut reached, &mut Vec::new());
        Mask { on: reached.into_iter().map(|r| !r).collect(), ..*self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mask(rows: &[&str]) -> Mask {
        Mask::of(rows[0].len(), rows.len(), |x, y| rows[y].as_bytes()[x] == b'#')
    }

    #[test]
    fn two_blobs_that_meet_at_a_corner_are_two() {
        let found = mask(&["##..", "##..", "..#."]).blobs(1);
        assert_eq!(found.iter().map(|b| b.area).collect::<Vec<_>>(), [4, 1]);
        assert!((found[0].x - 1.0).abs() < 1e-12 && (found[1].y - 2.5).abs() < 1e-12);
        assert_eq!(mask(&["##..", "##..", "..#."]).blobs(2).len(), 1);
    }

    #[test]
    fn a_ring_is_filled_and_its_neighbour_left_out() {
        let m = mask(&["####.", "#..#.", "#..##", "####."]);
        let ring = m.blobs(1)[0];
        let filled = m.alone(&ring).filled();
        assert_eq!((filled.width, filled.height), (7, 6));
        assert_eq!(filled.on.iter().filter(|o| **o).count(), 17);
        let alone = mask(&["###.#", "#.#.#", "###.#"]);
        assert_eq!(alone.alone(&alone.blobs(1)[0]).filled().on.iter().filter(|o| **o).count(), 9);
    }
}
