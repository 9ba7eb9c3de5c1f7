//! Roundness of one section: the four reference circles of ISO 12181-1 and the ellipse of least distances.
//!
//! # Where the points lie
//! A radius or runout reading is the height `h(a) = R(a) + x cos a + y sin a` (see `domain`), so the bark lies at
//! `(x, y) + R(a) (cos a, sin a)` once the first harmonic (x, y) is taken off. That is exact for a circle under a flat
//! foot, and to second order in the lobes for any section. A *pointed* foot reads the distance itself, which for a circle
//! of radius R whose centre is e off the axis is `h - e^2 sin^2 / 2R`: a false deviation of at most `e^2 / 2R` (0.02 mm for
//! e = 0.7 mm on an inch tube), half of it as ovality. An outline is a set of points as it is, and exact.
//!
//! # Without the size
//! A dial of unknown zero does not know R. The distance of the bark from a centre that lies `d` off the section's own is
//! `R(a) - d cos(a - f) + d^2 sin^2(a - f) / 2R + ...`; without the last term the deviation needs no size (the section is
//! then read as a limaçon). Both centres compared lie within the departures from round, so dropping it changes the
//! deviation about the least-squares and the minimum-zone circle by at most `d^2 / 2R`: 0.0004 mm for d = 0.1 mm. The
//! circumscribed and the inscribed circle are another matter: round an oval their centre is held across the long (short)
//! diameter by that very term alone, so without the size they have no place, and are not seen.
//!
//! # Fewest readings
//! Roundness is told where the readings carry three lobes, which takes seven of them, with no gap above 72 degrees (five
//! evenly spaced are the fewest that see an oval at all). With 4 any section is "touched" by four of four. Even so the
//! readings may miss the crests: m evenly spaced ones tell an oval that lies worst by up to `1 - cos(2 pi / m)` too
//! small (m = 8: 29 %; 12: 13 %; 24: 3 %), while noise of sd s widens the zone of a round section, by about 3 s of 12.

use super::geometry::Measured;
use crate::domain::Angle;
use crate::domain::units::MM_PER_INCH;
use crate::geometry::{Noise, ReferenceCircle, fit_ellipse_geometric, highest_carried, reference_circles};
use crate::numeric::summary::mean;
use std::f64::consts::TAU;

/// Lobes that readings must carry before a roundness is told: oval and triangle.
const LEAST_LOBES: usize = 3;
/// Lobes that readings must carry before an ellipse is fitted.
const ELLIPSE_LOBES: usize = 2;
/// Fewest readings of an ellipse: one more than its five unknowns.
const ELLIPSE_READINGS: usize = 6;
/// Widest gap between neighbouring readings, degrees: a fifth of the turn; half a thousandth for rounding.
const WIDEST_GAP_DEG: f64 = 72.000_5;
/// Mean radius at which a section without a size is laid out, mm: so large that the size no longer matters (`d^2 / 2R` below
/// 1e-6 mm for d = 0.4 mm), so small that coordinates round to 1e-11 mm.
const SIZELESS_MM: f64 = 1e5;

/// One reference circle and the roundness about its centre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AboutCircle {
    /// Centre, mm from the axis of the readings (of a tracing: from its point).
    pub centre_mm: [f64; 2],
    /// Radius, mm (of the minimum zone: the middle of its two circles); `None` where the readings do not know the size.
    pub radius_mm: Option<f64>,
    /// Peak-to-valley roundness deviation about that centre, mm.
    pub deviation_mm: f64,
}

/// The four reference circles of ISO 12181-1; `None` where the readings cannot tell one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Roundness {
    /// Least squares.
    pub least_squares: AboutCircle,
    /// Minimum zone: two concentric circles with the readings between them, as near each other as can be.
    pub minimum_zone: Option<AboutCircle>,
    /// Minimum circumscribed: the smallest round everything.
    pub minimum_circumscribed: Option<AboutCircle>,
    /// Maximum inscribed: the largest within.
    pub maximum_inscribed: Option<AboutCircle>,
    /// Standard deviation of a deviation, mm, at most: one crest less one valley. The shares of the two crests and the two
    /// valleys that hold a minimum zone add to one each, so its variance lies between one and two of a reading's.
    pub deviation_sd_mm: f64,
    /// Most that a pointed foot, instead of the flat one assumed, could falsify a deviation, mm: `e^2 / 2R` with the section's
    /// centre e off the axis. 0 for points that are what they are (outline, scan); told of an inch tube where the size is
    /// not known.
    pub pointed_foot_mm: f64,
}

impl Roundness {
    /// The same, read by a foot about an axis that the section's `centre` lies off, mm.
    #[must_use]
    pub(super) fn by_a_foot(self, centre: [f64; 2]) -> Roundness {
        let radius = self.least_squares.radius_mm.unwrap_or(0.5 * MM_PER_INCH);
        let square = centre[0] * centre[0] + centre[1] * centre[1];
        Roundness { pointed_foot_mm: square / (2.0 * radius), ..self }
    }
}

/// An ellipse of least distances.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EllipseAt {
    /// Centre, mm from the axis of the readings (of a tracing: from its point).
    pub centre_mm: [Measured; 2],
    /// Half the largest diameter, mm.
    pub semi_major_mm: Measured,
    /// Half the smallest diameter, mm.
    pub semi_minor_mm: Measured,
    /// Direction of the largest, degrees in [0, 180); `None` where the section is as good as round.
    pub direction_deg: Option<Measured>,
    /// Root mean square distance of the readings from it, mm: what is not oval about the section.
    pub rms_mm: f64,
}

/// The section's points from readings of its height about an axis; `centre` is its first harmonic. `None` when they are no
/// section: the centre farther off than the bark.
pub(super) fn section_points(
    angles: &[Angle],
    heights: &[f64],
    centre: [f64; 2],
    sizeless: bool,
) -> Option<Vec<[f64; 2]>> {
    let base = if sizeless { SIZELESS_MM - mean(heights) } else { 0.0 };
    let place = |(a, h): (&Angle, &f64)| {
        let (s, c) = a.sin_cos();
        let r = base + h - centre[0] * c - centre[1] * s;
        (r > 0.0).then_some([centre[0] + r * c, centre[1] + r * s])
    };
    angles.iter().zip(heights).map(place).collect()
}

/// The four reference circles of points that lie at `angles` about the section's centre, one reading good to `sd`, mm.
pub(super) fn roundness_of(points: &[[f64; 2]], angles: &[Angle], sd: f64, sized: bool) -> Option<Roundness> {
    if !goes_round(angles) || highest_carried(angles, LEAST_LOBES) < LEAST_LOBES {
        return None;
    }
    let all = reference_circles(points).ok()?;
    let about = |r: &ReferenceCircle| AboutCircle {
        centre_mm: r.circle.centre,
        radius_mm: sized.then_some(r.circle.radius),
        deviation_mm: r.peak_to_valley(),
    };
    Some(Roundness {
        least_squares: about(&all.least_squares),
        minimum_zone: all.minimum_zone.as_ref().map(about),
        minimum_circumscribed: sized.then(|| about(&all.minimum_circumscribed)),
        maximum_inscribed: all.maximum_inscribed.as_ref().filter(|_| sized).map(about),
        deviation_sd_mm: 2.0_f64.sqrt() * sd,
        pointed_foot_mm: 0.0,
    })
}

/// The ellipse of least distances of the same points.
pub(super) fn ellipse_of(points: &[[f64; 2]], angles: &[Angle], sd: f64) -> Option<EllipseAt> {
    let told = points.len() >= ELLIPSE_READINGS && highest_carried(angles, ELLIPSE_LOBES) >= ELLIPSE_LOBES;
    if !told || !goes_round(angles) {
        return None;
    }
    let fit = fit_ellipse_geometric(points, Noise::Stated(sd)).ok()?;
    let own = fit.covariance?;
    let axes = fit.axes_covariance();
    let root = |v: f64| v.max(0.0).sqrt();
    // of a section as good as round, the axes are the mean one and half an oval part that may point anywhere
    let axis_sd = |i: usize| axes.map_or(root(own[(2, 2)] + own[(3, 3)].max(own[(4, 4)])), |c| root(c[(i, i)]));
    let e = fit.ellipse;
    let [x, y] = e.centre();
    Some(EllipseAt {
        centre_mm: [Measured { value: x, sd: root(own[(0, 0)]) }, Measured { value: y, sd: root(own[(1, 1)]) }],
        semi_major_mm: Measured { value: e.semi_major(), sd: axis_sd(2) },
        semi_minor_mm: Measured { value: e.semi_minor(), sd: axis_sd(3) },
        direction_deg: axes
            .map(|c| Measured { value: e.tilt().degrees(), sd: Angle::from_radians(root(c[(4, 4)])).degrees() }),
        rms_mm: fit.rms_residual,
    })
}

/// True when readings stand all round, without a wide gap.
pub(super) fn goes_round(angles: &[Angle]) -> bool {
    let mut at: Vec<f64> = angles.iter().map(|a| a.wrapped().radians()).collect();
    at.sort_by(f64::total_cmp);
    let (Some(first), Some(last)) = (at.first(), at.last()) else { return false };
    let gap = at.windows(2).map(|w| w[1] - w[0]).fold(first + TAU - last, f64::max);
    gap.to_degrees() <= WIDEST_GAP_DEG
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::summary::count;

    fn evenly(m: usize) -> Vec<Angle> {
        (0..m).map(|k| Angle::from_radians(TAU * count(k) / count(m))).collect()
    }

    fn heights(angles: &[Angle], of: impl Fn(f64) -> f64) -> Vec<f64> {
        angles.iter().map(|a| of(a.radians())).collect()
    }

    #[test]
    fn six_readings_or_a_wide_gap_tell_no_roundness() {
        let all = evenly(12);
        let told = |angles: &[Angle]| {
            let h = heights(angles, |a| 12.7 + 0.2 * (2.0 * a).cos());
            let p = section_points(angles, &h, [0.0; 2], false).expect("a section");
            (roundness_of(&p, angles, 0.02, true).is_some(), ellipse_of(&p, angles, 0.02).is_some())
        };
        assert_eq!(told(&all), (true, true));
        assert_eq!(told(&evenly(7)), (true, true));
        assert_eq!(told(&evenly(6)), (false, true));
        assert_eq!(told(&evenly(5)), (false, false));
        // 90 degrees missing out of 12 readings
        assert_eq!(told(&all[..10]), (false, false));
    }

    #[test]
    fn a_pointed_foot_shows_a_round_tube_out_of_round_by_no_more_than_derived() {
        // the distance of a circle of radius R from an axis e off its centre, read as a height
        let (r, e) = (12.7, 1.0);
        let angles = evenly(36);
        let h = heights(&angles, |a| e * a.cos() + (r * r - (e * a.sin()).powi(2)).sqrt());
        let first = crate::geometry::fit_harmonics(&angles, &h, &[0.02], None).expect("even").first().expect("seen");
        let p = section_points(&angles, &h, first, false).expect("a section");
        let got = roundness_of(&p, &angles, 0.02, true).expect("36 readings").minimum_zone.expect("a zone");
        let derived = e * e / (2.0 * r);
        let told = roundness_of(&p, &angles, 0.02, true).expect("36 readings").by_a_foot(first).pointed_foot_mm;
        assert!((told / derived - 1.0).abs() < 0.02, "{told}, {derived}");
        assert!(got.deviation_mm <= derived * 1.01 && got.deviation_mm > 0.95 * derived, "{got:?}, {derived}");
        // a flat foot reads the height itself: nothing is wrong
        let flat = heights(&angles, |a| r + e * a.cos());
        let p = section_points(&angles, &flat, [e, 0.0], false).expect("a section");
        let got = roundness_of(&p, &angles, 0.02, true).expect("36 readings");
        assert!(got.least_squares.deviation_mm < 1e-13, "{got:?}");
    }

    #[test]
    fn without_a_size_the_deviation_is_right_within_what_was_derived() {
        // lobes that draw the least-squares and the minimum-zone centre apart
        let shape = |a: f64| 0.3 * (2.0 * a).cos() + 0.12 * (3.0 * a + 0.4).sin() + 0.05 * (5.0 * a + 1.0).cos();
        let angles = evenly(24);
        let real = heights(&angles, |a| 12.7 + shape(a));
        let dial = heights(&angles, |a| shape(a) - 3.0);
        let sized = section_points(&angles, &real, [0.0; 2], false).expect("a section");
        let sizeless = section_points(&angles, &dial, [0.0; 2], true).expect("a section");
        let sized = roundness_of(&sized, &angles, 0.02, true).expect("24 readings");
        let sizeless = roundness_of(&sizeless, &angles, 0.02, false).expect("24 readings");
        let pairs = [
            (sized.least_squares, sizeless.least_squares),
            (sized.minimum_zone.expect("a zone"), sizeless.minimum_zone.expect("a zone")),
        ];
        for (a, b) in pairs {
            let d = a.centre_mm[0].hypot(a.centre_mm[1]).max(b.centre_mm[0].hypot(b.centre_mm[1]));
            let off = (a.deviation_mm - b.deviation_mm).abs();
            assert!(off <= d * d / (2.0 * 12.0) + 1e-9, "{off} for d = {d}");
            assert!(a.radius_mm.is_some() && b.radius_mm.is_none());
        }
        assert!(pairs[1].0.deviation_mm < pairs[0].0.deviation_mm - 0.01, "the centres are the same: no test");
        assert!(sizeless.minimum_circumscribed.is_none() && sizeless.maximum_inscribed.is_none());
    }

    #[test]
    fn a_round_section_has_an_ellipse_without_a_direction() {
        let angles = evenly(12);
        let h = heights(&angles, |a| 12.7 + 0.001 * (2.0 * a).cos());
        let p = section_points(&angles, &h, [0.0; 2], false).expect("a section");
        let e = ellipse_of(&p, &angles, 0.02).expect("12 readings");
        assert!(e.direction_deg.is_none() && e.semi_major_mm.sd > 0.005, "{e:?}");
    }
}
