//! The four reference circles of ISO 12181-1.

use crate::geometry::bisector::{Kind, Piece, pieces};
use crate::geometry::circle::{Circle, minus};
use crate::geometry::circle_fit::{Noise, fit_circle_geometric};
use crate::geometry::error::FitError;
use crate::geometry::hull::convex_hull;
use crate::geometry::straightness::minimum_zone_strip;
use std::f64::consts::{PI, TAU};

/// A reference circle and the roundness measured from its centre.
#[derive(Debug, Clone, PartialEq)]
pub struct ReferenceCircle {
    /// The circle, mm: least squares; for the minimum zone the middle of the two; the circumscribed or the inscribed one.
    pub circle: Circle,
    /// Largest distance of a point from the centre, mm.
    pub outer: f64,
    /// Smallest distance of a point from the centre, mm.
    pub inner: f64,
    /// Indices of the points at the largest distance (to rounding), ascending.
    pub touching_outer: Vec<usize>,
    /// Indices of the points at the smallest distance (to rounding), ascending.
    pub touching_inner: Vec<usize>,
}

impl ReferenceCircle {
    /// Peak-to-valley roundness deviation from this circle's centre (`RONt`), mm.
    #[must_use]
    pub fn peak_to_valley(&self) -> f64 {
        self.outer - self.inner
    }
}

/// The four reference circles of one set of points.
#[derive(Debug, Clone, PartialEq)]
pub struct ReferenceCircles {
    /// Least squares (LSCI).
    pub least_squares: ReferenceCircle,
    /// Minimum zone (MZCI): two concentric circles of least distance that hold all points between them. `None` when there
    /// is none: the points cover so little of the turn that two parallel lines do better.
    pub minimum_zone: Option<ReferenceCircle>,
    /// Minimum circumscribed (MCCI).
    pub minimum_circumscribed: ReferenceCircle,
    /// Maximum inscribed (MICI): the largest circle with no point inside and points all round it. `None` when the points
    /// surround no place.
    pub maximum_inscribed: Option<ReferenceCircle>,
}

/// Points relative to the least-squares centre, and how far from it a better centre can lie.
struct Section {
    points: Vec<[f64; 2]>,
    origin: [f64; 2],
    outer: f64,
    /// Centres farther from the origin than this have a wider zone and a smaller inscribed circle; `None` when the points
    /// leave too wide a gap for such a bound.
    bound: Option<f64>,
    /// Indices in order round the origin.
    order: Vec<usize>,
}

impl Section {
    fn new(all: &[[f64; 2]], origin: [f64; 2]) -> Self {
        let points: Vec<[f64; 2]> = all.iter().map(|p| minus(*p, origin)).collect();
        let radius = |p: &[f64; 2]| p[0].hypot(p[1]);
        let outer = points.iter().map(radius).fold(0.0, f64::max);
        let inner = points.iter().map(radius).fold(f64::INFINITY, f64::min);
        let angle = |i: usize| points[i][1].atan2(points[i][0]);
        let mut order: Vec<usize> = (0..points.len()).collect();
        order.sort_by(|i, j| angle(*i).total_cmp(&angle(*j)).then(i.cmp(j)));
        let n = order.len();
        let gap = (0..n).map(|k| (angle(order[(k + 1) % n]) - angle(order[k])).rem_euclid(TAU)).fold(0.0, f64::max);
        let bound = bound(outer, inner, (0.5 * gap).cos());
        Section { points, origin, outer, bound, order }
    }

    fn within(&self, distance: f64) -> bool {
        self.bound.is_none_or(|b| distance <= b)
    }

    /// Largest or smallest distance of the listed points from a place.
    fn extreme(&self, sites: &[usize], from: [f64; 2], kind: Kind) -> f64 {
        let d = sites.iter().map(|i| minus(self.points[*i], from)).map(|v| v[0].hypot(v[1]));
        if kind == Kind::Farthest { d.fold(0.0, f64::max) } else { d.fold(f64::INFINITY, f64::min) }
    }

    /// Points that can be nearest to some centre within the bound, in order round the origin.
    ///
    /// With the centre at c, point q is nearer than p when `2 c.(p - q) < |p|^2 - |q|^2`; it is so for every c within the
    /// bound b when `2 b |p - q| < |p|^2 - |q|^2`. Only near neighbours are asked, so some idle points stay: harmless.
    fn inner_sites(&self) -> Vec<usize> {
        const NEIGHBOURS: usize = 24;
        let Some(b) = self.bound else { return self.order.clone() };
        let n = self.order.len();
        let square = |v: [f64; 2]| v[0] * v[0] + v[1] * v[1];
        let idle = |k: usize| {
            let p = self.points[self.order[k]];
            let neighbours = (1..=NEIGHBOURS.min(n / 2)).flat_map(|s| [(k + s) % n, (k + n - s) % n]);
            neighbours.map(|j| self.points[self.order[j]]).any(|q| {
                let room = square(p) - square(q);
                room > 0.0 && 4.0 * b * b * square(minus(p, q)) < room * room * (1.0 - 1e-9)
            })
        };
        (0..n).filter(|k| !idle(*k)).map(|k| self.order[k]).collect()
    }

    fn circle(&self, centre: [f64; 2], radius: impl Fn(f64, f64) -> f64) -> ReferenceCircle {
        // a contact is a point within the rounding of coordinates and of the solved centre
        let slack = 1e-12 * (self.outer + self.origin[0].abs() + self.origin[1].abs());
        let distance: Vec<f64> = self.points.iter().map(|p| minus(*p, centre)).map(|v| v[0].hypot(v[1])).collect();
        let outer = distance.iter().copied().fold(0.0, f64::max);
        let inner = distance.iter().copied().fold(f64::INFINITY, f64::min);
        let touching = |r: f64| (0..distance.len()).filter(|i| (distance[*i] - r).abs() <= slack).collect();
        ReferenceCircle {
            circle: Circle {
                centre: [self.origin[0] + centre[0], self.origin[1] + centre[1]],
                radius: radius(outer, inner),
            },
            outer,
            inner,
            touching_outer: touching(outer),
            touching_inner: touching(inner),
        }
    }
}

/// Distance from the least-squares centre beyond which every centre is worse, for points between the radii `inner` and
/// `outer` with no gap wider than twice the angle whose cosine is `k`.
///
/// Moving the centre by d, some point lies within that angle of straight ahead, some other of straight behind. The one
/// behind is at least `inner + d k` away; the one ahead at most `sqrt(outer^2 - 2 outer d k + d^2)`. Both the zone, which
/// grows with d from these two, and the inscribed radius, which must stay `inner` or more, bound d.
fn bound(outer: f64, inner: f64, k: f64) -> Option<f64> {
    let (zone, limit) = (outer - inner, inner * k);
    let ahead = |d: f64| (outer * outer - 2.0 * outer * d * k + d * d).max(0.0).sqrt();
    let worse = |d: f64| inner + d * k - ahead(d) > zone && ahead(d) < inner;
    // the first trial is the answer for small zones; the factors give room for the second-order terms
    [1.01, 1.1, 1.25, 1.5, 2.0, 3.0].map(|f| f * zone / k).into_iter().find(|d| *d > 0.0 && *d < limit && worse(*d))
}

/// Least-squares, minimum-zone, minimum circumscribed and maximum inscribed circle of a section (ISO 12181-1).
///
/// The last three are exact, by enumeration of the places where they can lie. With `F(c)` and `N(c)` the largest and the
/// smallest distance from c: the circumscribed circle is the lowest place of F on the bisector pieces of farthest pairs; the
/// inscribed circle the highest corner of the nearest-pair pieces that its contacts surround; the minimum zone, the
/// least `F - N`, lies at a crossing of a farthest with a nearest piece, or at a corner of either. (With one outer or one
/// inner contact to spare there is no minimum: where the slopes of F and N along a piece agree, c, the outer and the inner
/// contact are in line, and the curvature of `F - N` there is `sin^2 (1/F - 1/N) < 0`.)
///
/// # Arguments
/// `points`: n >= 3, mm, any order, round the section. Meant for up to a few thousand points.
///
/// # Errors
/// Those of [`fit_circle_geometric`](crate::geometry::fit_circle_geometric).
///
/// # Accuracy
/// Rounding of the coordinates: 1e-13 of the radius on the published sets.
///
/// # Degenerate cases
/// Of several equal optima one is returned, always the same for the same input. Where the points surround the least-squares
/// centre closely enough, only centres inside the ring of points compete. On part of a turn the minimum zone may not exist,
/// and the inscribed circle does not: `None`. The inscribed circle of readings can be larger than that of the curve they
/// were taken from.
///
/// # Source
/// ISO 12181-1:2011, 3.3.1; candidates as in Ebara et al. (1989), recalled, for the minimum-width annulus.
///
/// # Example
/// ```
/// use quarterlight::geometry::reference_circles;
/// let cross = [[5.0, 0.0], [-5.0, 0.0], [0.0, 4.0], [0.0, -4.0]];
/// let all = reference_circles(&cross).unwrap();
/// assert!((all.minimum_zone.unwrap().peak_to_valley() - 1.0).abs() < 1e-15);
/// assert!((all.minimum_circumscribed.circle.radius - 5.0).abs() < 1e-15);
/// assert!((all.least_squares.circle.radius - 4.5).abs() < 1e-15);
/// ```
pub fn reference_circles(points: &[[f64; 2]]) -> Result<ReferenceCircles, FitError> {
    let fit = fit_circle_geometric(points, Noise::FromResiduals)?;
    let section = Section::new(points, fit.circle.centre);
    let hull = convex_hull(&section.points);
    let far = pieces(&section.points, &hull, Kind::Farthest);
    let inner_sites = section.inner_sites();
    let mut near = pieces(&section.points, &inner_sites, Kind::Nearest);
    near.retain(|p| section.within(p.reach()));
    let circumscribed = lowest(&far).ok_or(FitError::Collinear)?;
    Ok(ReferenceCircles {
        least_squares: section.circle([0.0; 2], |_, _| fit.circle.radius),
        minimum_zone: narrowest(&section, &far, &near, &hull, &inner_sites)
            .filter(|(zone, _)| section.bound.is_some() || beats_a_strip(&section, *zone))
            .map(|(_, c)| section.circle(c, |outer, inner| 0.5 * (outer + inner))),
        minimum_circumscribed: section.circle(circumscribed, |outer, _| outer),
        maximum_inscribed: roomiest(&section, &near).map(|c| section.circle(c, |_, inner| inner)),
    })
}

/// Place of least largest distance.
fn lowest(far: &[Piece]) -> Option<[f64; 2]> {
    let best = |p: &Piece| 0.0f64.clamp(p.low, p.high);
    far.iter().min_by(|p, q| p.distance(best(p)).total_cmp(&q.distance(best(q)))).map(|p| p.place(best(p)))
}

/// Place of largest smallest distance that its contacts surround.
fn roomiest(section: &Section, near: &[Piece]) -> Option<[f64; 2]> {
    let corners = near.iter().flat_map(|p| p.corners().map(|t| (p.distance(t), p.place(t))));
    let mut corners: Vec<(f64, [f64; 2])> = corners.filter(|(_, c)| section.within(c[0].hypot(c[1]))).collect();
    corners.sort_by(|a, b| b.0.total_cmp(&a.0));
    corners.into_iter().map(|(_, c)| c).find(|c| surrounded(section, *c))
}

/// True when the nearest points leave no gap of more than half a turn round a place.
fn surrounded(section: &Section, c: [f64; 2]) -> bool {
    /// Contacts of a half turn exactly (a rectangle) count as surrounding, to rounding.
    const ROUNDING: f64 = 1e-9;
    let found = section.circle(c, |_, inner| inner);
    let mut angles: Vec<f64> =
        found.touching_inner.iter().map(|i| minus(section.points[*i], c)).map(|v| v[1].atan2(v[0])).collect();
    angles.sort_by(f64::total_cmp);
    let n = angles.len();
    n >= 3 && (0..n).all(|k| (angles[(k + 1) % n] - angles[k]).rem_euclid(TAU) <= PI + ROUNDING)
}

/// Place of least zone and its width, over crossings and corners.
fn narrowest(
    section: &Section,
    far: &[Piece],
    near: &[Piece],
    hull: &[usize],
    inner_sites: &[usize],
) -> Option<(f64, [f64; 2])> {
    let mut best: Option<(f64, [f64; 2])> = None;
    let mut offer = |zone: f64, c: [f64; 2]| {
        if section.within(c[0].hypot(c[1])) && best.is_none_or(|(least, _)| zone < least) {
            best = Some((zone, c));
        }
    };
    let far: Vec<&Piece> = far.iter().filter(|p| section.within(p.reach())).collect();
    for p in &far {
        for t in p.corners() {
            let c = p.place(t);
            offer(p.distance(t) - section.extreme(inner_sites, c, Kind::Nearest), c);
        }
    }
    for q in near {
        for s in q.corners() {
            let c = q.place(s);
            offer(section.extreme(hull, c, Kind::Farthest) - q.distance(s), c);
        }
        for p in &far {
            if let Some((t, s)) = crossing(p, q) {
                offer(p.distance(t) - q.distance(s), p.place(t));
            }
        }
    }
    best
}

/// Where two pieces cross: t on the first, s on the second.
fn crossing(p: &Piece, q: &Piece) -> Option<(f64, f64)> {
    let cross = |a: [f64; 2], b: [f64; 2]| a[0] * b[1] - a[1] * b[0];
    let det = cross(p.direction, q.direction);
    if det.abs() < 1e-14 {
        return None;
    }
    let between = minus(q.middle, p.middle);
    let (t, s) = (cross(between, q.direction) / det, cross(between, p.direction) / det);
    let inside = p.low <= t && t <= p.high && q.low <= s && s <= q.high;
    inside.then_some((t, s))
}

/// On part of a turn the zone of two parallel lines may be narrower than that of any two circles.
fn beats_a_strip(section: &Section, zone: f64) -> bool {
    minimum_zone_strip(&section.points).is_ok_and(|strip| zone < strip.width)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lobed(n: u32, waves: f64, height: f64) -> Vec<[f64; 2]> {
        let at = |k: u32| TAU * f64::from(k) / f64::from(n);
        (0..n)
            .map(|k| (at(k).sin_cos(), 12.5 + height * (waves * at(k)).cos()))
            .map(|((s, c), r)| [r * c, r * s])
            .collect()
    }

    #[test]
    fn a_lobed_section_has_contacts_on_every_crest_and_in_every_valley() {
        let all = reference_circles(&lobed(72, 3.0, 0.1)).expect("a section");
        let zone = all.minimum_zone.expect("all round");
        assert!((zone.peak_to_valley() - 0.2).abs() < 1e-14, "{zone:?}");
        assert_eq!((zone.touching_outer, zone.touching_inner), (vec![0, 24, 48], vec![12, 36, 60]));
        assert!((all.maximum_inscribed.expect("surrounded").circle.radius - 12.4).abs() < 1e-14);
        assert_eq!(all.minimum_circumscribed.touching_outer, vec![0, 24, 48]);
    }

    #[test]
    fn a_perfect_circle_has_no_zone() {
        for n in [3, 4, 5, 12, 36, 100] {
            let all = reference_circles(&lobed(n, 0.0, 0.0)).unwrap_or_else(|e| panic!("{n}: {e}"));
            let zone = all.minimum_zone.unwrap_or_else(|| panic!("{n}: no zone"));
            let inscribed = all.maximum_inscribed.unwrap_or_else(|| panic!("{n}: no inscribed circle"));
            assert!(zone.peak_to_valley() < 1e-14 && (zone.circle.radius - 12.5).abs() < 1e-14, "{n}: {zone:?}");
            assert!((inscribed.circle.radius - 12.5).abs() < 1e-14, "{n}: {inscribed:?}");
        }
    }

    #[test]
    fn part_of_a_turn_has_no_inscribed_circle() {
        let arc: Vec<[f64; 2]> = lobed(72, 7.0, 0.01).into_iter().take(20).collect();
        let all = reference_circles(&arc).expect("an arc");
        assert!(all.maximum_inscribed.is_none());
        let zone = all.minimum_zone.expect("an arc of 100 degrees bends enough");
        assert!(zone.peak_to_valley() < all.least_squares.peak_to_valley() + 1e-15, "{zone:?}");
    }

    #[test]
    fn repeated_points_change_nothing() {
        let mut points = lobed(24, 5.0, 0.05);
        let once = reference_circles(&points).expect("a section");
        points.extend(points.clone());
        let twice = reference_circles(&points).expect("a section");
        let off =
            once.minimum_zone.expect("round").peak_to_valley() - twice.minimum_zone.expect("round").peak_to_valley();
        assert!(off.abs() < 1e-14, "{off}");
    }

    #[test]
    fn six_hundred_readings_take_no_noticeable_time() {
        let points = lobed(600, 2.0, 0.2);
        let all = reference_circles(&points).expect("a section");
        assert!((all.minimum_zone.expect("round").peak_to_valley() - 0.4).abs() < 1e-12);
    }
}
