//! Where two points are the nearest, or the farthest, of a set: pieces of their bisector.

use crate::geometry::circle::{dot, minus};

/// The piece of the bisector of two points on which no other point is nearer (or, of the farthest kind, farther).
/// Places on it are `middle + t * direction` for t from `low` to `high`.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Piece {
    pub(crate) middle: [f64; 2],
    pub(crate) direction: [f64; 2],
    /// Half the distance between the two points.
    pub(crate) half: f64,
    pub(crate) low: f64,
    pub(crate) high: f64,
}

impl Piece {
    pub(crate) fn place(&self, t: f64) -> [f64; 2] {
        [self.middle[0] + t * self.direction[0], self.middle[1] + t * self.direction[1]]
    }

    /// Distance of the place from either point.
    pub(crate) fn distance(&self, t: f64) -> f64 {
        self.half.hypot(t)
    }

    /// The finite ends of the piece: places as far from a third point as from the two.
    pub(crate) fn corners(&self) -> impl Iterator<Item = f64> {
        [self.low, self.high].into_iter().filter(|t| t.is_finite())
    }

    /// Distance of the origin from the nearest place of the piece.
    pub(crate) fn reach(&self) -> f64 {
        let t = (-dot(self.middle, self.direction)).clamp(self.low, self.high);
        let [x, y] = self.place(t);
        x.hypot(y)
    }
}

/// Which of the two kinds of piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Nearest,
    Farthest,
}

/// All pieces with more than one place, over pairs of `sites` (indices into `points`, best in order round the middle).
///
/// Each pair tests the others, neighbours in the list first, and stops when nothing is left: about n^2 steps for n
/// points round a section, n^3 at worst.
pub(crate) fn pieces(points: &[[f64; 2]], sites: &[usize], kind: Kind) -> Vec<Piece> {
    let mut found = Vec::new();
    for a in 0..sites.len() {
        // the point that emptied the last pair's bisector is likely to empty this one too
        let mut killer = None;
        for b in a + 1..sites.len() {
            match piece(points, sites, a, b, kind, killer) {
                Ok(Some(piece)) => found.push(piece),
                Ok(None) => {}
                Err(k) => killer = Some(k),
            }
        }
    }
    found
}

/// `Err` names the place in `sites` of the point that left nothing; `Ok(None)` stands for a pair in one place.
fn piece(
    points: &[[f64; 2]],
    sites: &[usize],
    a: usize,
    b: usize,
    kind: Kind,
    killer: Option<usize>,
) -> Result<Option<Piece>, usize> {
    let (p, q) = (points[sites[a]], points[sites[b]]);
    let d = minus(q, p);
    let length = d[0].hypot(d[1]);
    if length <= 0.0 {
        return Ok(None);
    }
    let mut piece = Piece {
        middle: [0.5 * (p[0] + q[0]), 0.5 * (p[1] + q[1])],
        direction: [-d[1] / length, d[0] / length],
        half: 0.5 * length,
        low: f64::NEG_INFINITY,
        high: f64::INFINITY,
    };
    let sign = if kind == Kind::Nearest { 1.0 } else { -1.0 };
    let n = sites.len();
    let round = (1..n).map(|step| (a + if step % 2 == 1 { step.div_ceil(2) } else { n - step / 2 }) % n);
    for k in killer.into_iter().chain(round) {
        if k == a || k == b {
            continue;
        }
        // |r - c|^2 - |p - c|^2 = (r - p).(r - q) - 2 t (r - middle).direction for c = middle + t direction
        let r = points[sites[k]];
        let constant = sign * dot(minus(r, p), minus(r, q));
        let slope = 2.0 * sign * dot(minus(r, piece.middle), piece.direction);
        if slope > 0.0 {
            piece.high = piece.high.min(constant / slope);
        } else if slope < 0.0 {
            piece.low = piece.low.max(constant / slope);
        } else if constant < 0.0 {
            return Err(k);
        }
        if piece.low >= piece.high {
            return Err(k);
        }
    }
    Ok(Some(piece))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_square_has_four_pieces_of_each_kind_meeting_in_the_middle() {
        let p = [[1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0], [1.0, -1.0]];
        for kind in [Kind::Nearest, Kind::Farthest] {
            let found = pieces(&p, &[0, 1, 2, 3], kind);
            assert_eq!(found.len(), 4, "{kind:?}: {found:?}");
            for f in found {
                let t: Vec<f64> = f.corners().collect();
                assert!(t.len() == 1 && (f.distance(t[0]) - 2f64.sqrt()).abs() < 1e-15, "{kind:?}: {f:?}");
                assert!(f.reach() < 1e-15, "{f:?}");
            }
        }
    }
}
