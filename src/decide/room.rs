//! How much of a piece a blank needs: the geometry of a straight blank with a flat underside between two split faces.

use super::fan::{LINES, single};
use crate::domain::Target;
use crate::numeric::summary::{count, to_index};
use std::f64::consts::{FRAC_PI_2, TAU};

/// Lines a side by which pieces are named wider than a blank on the mean radius needs. A start that needs more or less
/// takes it from these: two lines, 4 degrees, hold a tube an eighth thicker than its mean.
const SPARE_LINES: usize = 2;

/// Angle from the centre line of a blank to each face of its piece, radians, over a window whose least mean radius is
/// `radius_mm` (R) and whose centreline leaves its chord by at most `bend_mm`.
///
/// The faces of a piece are planes through the tube's axis. Seen along the axis, with the blank's crown straight up, two
/// pairs of points come near them, at half the width (b) to either side of the middle:
///
/// - the edges of the back, on the bark, at the distance R from the axis: `asin((b + margin) / R)` from the crown, where the
///   edge margin is width to spare at the bark;
/// - the edges of the flat underside, on the plane one thickness (t) below the crown, R - t from the axis:
///   `atan(b / (R - t))`. The faces close in toward the axis, so that the underside may need more although it is no wider
///   than the back. It has to hold the bare width and no more.
///
/// Both must lie within the piece, so the larger angle holds. With 13.5 x 3.2 mm on R = 12.7 mm the bark needs 33.7
/// degrees with 0.3 mm to spare, the underside 35.4: the underside holds; with 1 mm to spare the bark's 37.6 does. A blank
/// as thick as the radius or as wide as the tube fits nowhere: a quarter turn.
///
/// The blank is straight and the piece is not. Its faces go aside with the centreline, at the ends one way and in the
/// middle the other, so the blank needs as much more width as the centreline bends along the flat of the piece, half of it
/// to either side: over 70 mm of a 7 mm bow on 200 mm `7 (70 / 200)^2` = 0.86 mm, which take 1.7 degrees on either side.
/// The whole bend is taken instead of its part along the flat: where it points out of the bark or into it, the window is
/// hollow or rocks anyhow (0.08 and 0.12 mm are allowed, half a degree).
#[must_use]
pub fn inset(target: &Target, radius_mm: f64, bend_mm: f64) -> f64 {
    let half = (target.blank_width_mm + bend_mm) / 2.0;
    let bark = ((half + target.edge_margin_mm) / radius_mm).clamp(0.0, 1.0).asin();
    let below = radius_mm - target.blank_thickness_mm;
    let underside = if below > 0.0 { (half / below).atan() } else { FRAC_PI_2 };
    bark.max(underside)
}

/// Which lines a piece leaves open at one start: one that opens on line `i` (as pieces are named, at the first station) is
/// open from line `i + left + shift` to as far before its last one, `right` lines, `shift` further; all modulo [`LINES`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Side {
    /// Lines the grain has turned by.
    pub shift: usize,
    /// Lines lost at the first split line.
    pub left: usize,
    /// Lines lost at the second.
    pub right: usize,
}

impl Side {
    /// The whole lines for a grain that has turned by `turn` over room narrower by `narrower`, radians.
    ///
    /// The lines lost are rounded together, so that they are too many as often as too few, and then shared out so that the
    /// middle of what is left lies as near as it can to where it should; half a line off where an odd number falls to a
    /// true grain.
    #[must_use]
    pub fn of(turn: f64, narrower: f64) -> Side {
        let step = TAU / count(LINES);
        let whole = (turn / step).round();
        let lost = (narrower / step).round().clamp(0.0, count(LINES));
        let left = (turn / step - whole + lost / 2.0).round_ties_even().clamp(0.0, lost);
        Side { shift: to_index(whole.rem_euclid(count(LINES))), left: to_index(left), right: to_index(lost - left) }
    }
}

/// Where the centre line of a blank may lie inside a piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SideRoom {
    /// Angle given up at each split line, radians.
    pub inset: f64,
}

impl SideRoom {
    /// The room on a straight stretch of this mean radius; see [`inset`].
    #[must_use]
    pub fn new(target: &Target, radius_mm: f64) -> SideRoom {
        SideRoom { inset: inset(target, radius_mm, 0.0) }
    }

    /// The room that pieces are named by: a whole number of lines wider than on a straight stretch of this mean radius, so
    /// that no start needs to add to it, and one that is like the mean loses nothing by rounding.
    #[must_use]
    pub fn base(target: &Target, radius_mm: f64) -> SideRoom {
        SideRoom { inset: inset(target, radius_mm, 0.0) - count(SPARE_LINES) * TAU / count(LINES) }
    }

    /// How much narrower the room is, both sides together, radians, where a blank needs [`inset`] `needed`: all of it where
    /// none fits.
    #[must_use]
    pub fn narrower(&self, needed: f64) -> f64 {
        if needed < FRAC_PI_2 { 2.0 * (needed - self.inset) } else { TAU }
    }

    /// First line and number of lines between two split lines (radians, `to` beyond `from`); 0 when a blank does not fit.
    #[must_use]
    pub fn lines(&self, from: f64, to: f64) -> (usize, usize) {
        let (low, high) = (from + self.inset, to - self.inset);
        let step = TAU / count(LINES);
        // the nearest lines stand for the ends, so that the rounding is as often outward as inward
        let first = (low / step).round();
        let width = (high / step).round() - first + 1.0;
        let start = to_index(first.rem_euclid(count(LINES)));
        if high < low || width < 1.0 { (start, 0) } else { (start, to_index(width)) }
    }
}

/// Wall that a flat underside needs less at its rails than under its crown, mm, where the mean radius is `radius_mm` (R),
/// `crown_mm` (t) is needed at the crown and `cosine` is that of the angle (u) from crown to rail.
///
/// The underside is a plane R - t from the axis, so in the direction u it lies `(R - t) / cos u` from the axis, and the
/// bore, R less the wall, must not reach it: the wall needed is `R - (R - t) / cos u`, less than `t` by
/// `(R - t) (1 / cos u - 1)`. 3.4 mm at the crown of R = 12.7 mm are 1.7 mm at the rails of 13.5 mm.
///
/// For a wall that is the same all round the crown decides, and nothing changes. A wall `w0 + e cos(a - b)` that changes
/// once round, as a bore off the middle makes it, passes the crown and fails at a rail only where e is beyond 3 mm (1.7 mm
/// over `2 sin(u / 2)` = 0.55), no cane but a drawn surface whose wall nobody knows. Between crown and rail such a wall
/// would come nearer the plane than at either, by `e^2 sin^2(a - b) / 2 (R - t)`; but that is what the wave has over a
/// true round bore, whose highest point over the plane is its centre plus its radius, exactly what is seen at the crown.
#[must_use]
pub fn less_at_the_rails(radius_mm: f32, crown_mm: f32, cosine: f32) -> f32 {
    (radius_mm - crown_mm) * (1.0 / cosine - 1.0)
}

/// Furthest that a centreline at equal steps lies off the chord between its ends, mm.
pub(super) fn furthest_off_chord(x: &[f32], y: &[f32]) -> f32 {
    let last = x.len() - 1;
    let over = 1.0 / single(count(last));
    let (dx, dy) = ((x[last] - x[0]) * over, (y[last] - y[0]) * over);
    let (mut along, mut most) = (0.0_f32, 0.0_f32);
    for (x_j, y_j) in x.iter().zip(y) {
        let (off_x, off_y) = (x_j - x[0] - along * dx, y_j - y[0] - along * dy);
        most = most.max(off_x * off_x + off_y * off_y);
        along += 1.0;
    }
    most.sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clarinet(margin: f64, thickness: f64) -> Target {
        Target { edge_margin_mm: margin, blank_thickness_mm: thickness, ..Target::default() }
    }

    fn degrees(margin: f64, thickness: f64, radius: f64) -> f64 {
        inset(&clarinet(margin, thickness), radius, 0.0).to_degrees()
    }

    /// Catches an underside that is forgotten.
    #[test]
    fn the_larger_of_bark_and_underside_holds() {
        // 13.5 x 3.2 mm at R = 12.7: sine 7.05 / 12.7 = 0.5551 at the bark, tangent 6.75 / 9.5 = 0.7105 below
        assert!((degrees(0.3, 0.0, 12.7) - 33.72).abs() < 0.01, "{}", degrees(0.3, 0.0, 12.7));
        assert!((degrees(0.3, 3.2, 12.7) - 35.39).abs() < 0.01, "{}", degrees(0.3, 3.2, 12.7));
        // sine 7.75 / 12.7 = 0.6102: the bark with 1 mm to spare needs more than the underside
        assert!((degrees(1.0, 3.2, 12.7) - 37.61).abs() < 0.01, "{}", degrees(1.0, 3.2, 12.7));
        // sine 0.5551 is 33.7 deg, tangent of that 0.667: 6.75 below 10.12, a thickness of 2.58, needs as much
        assert!((degrees(0.3, 2.5, 12.7) - 33.72).abs() < 0.01 && degrees(0.3, 2.65, 12.7) > 33.8);
    }

    #[test]
    fn a_blank_as_thick_as_the_radius_or_as_wide_as_the_tube_fits_nowhere() {
        for (thickness, radius) in [(12.7, 12.7), (13.0, 12.7), (3.2, 7.05), (3.2, 6.0)] {
            assert!((degrees(0.3, thickness, radius) - 90.0).abs() < 1e-9, "{thickness} {radius}");
            let target = clarinet(0.3, thickness);
            let side = Side::of(0.0, SideRoom::base(&target, 12.7).narrower(inset(&target, radius, 0.0)));
            assert_eq!(side.left + side.right, LINES);
        }
    }

    #[test]
    fn the_side_room_of_a_clarinet_blank_is_the_known_one() {
        // a 13.5 mm blank in a quarter of a 25.4 mm tube may move 12.9 deg either way (closed form 45 - asin(w/D)) at the
        // bark, 9.6 deg with its underside
        let thin = SideRoom::new(&clarinet(0.0, 0.0), 12.7);
        assert!((45.0 - thin.inset.to_degrees() - 12.9).abs() < 0.05, "{thin:?}");
        // 32.1 to 57.9 deg: the lines from 32 to 58
        assert_eq!(thin.lines(0.0, 90_f64.to_radians()), (16, 14));
        assert_eq!(thin.lines(0.0, 60_f64.to_radians()).1, 0);
        let thick = SideRoom::new(&clarinet(0.0, 3.2), 12.7);
        assert!((45.0 - thick.inset.to_degrees() - 9.6).abs() < 0.05, "{thick:?}");
        // 35.4 to 54.6: 36 to 54
        assert_eq!(thick.lines(0.0, 90_f64.to_radians()), (18, 10));
    }

    #[test]
    fn a_bend_and_a_thin_place_narrow_the_room_as_by_hand() {
        let target = Target::default();
        let base = SideRoom::base(&target, 12.7);
        let lost = |radius: f64, bend: f64| base.narrower(inset(&target, radius, bend)).to_degrees();
        // like the mean: the four lines that pieces are named wider
        assert!((lost(12.7, 0.0) - 8.0).abs() < 1e-9);
        // 7 mm of bow on 200 mm over 70: 7 x 0.35^2 = 0.8575 mm; tangent 7.179 / 9.5 = 0.7557, 37.08 deg instead of 35.39
        assert!((lost(12.7, 0.8575) - 8.0 - 3.37).abs() < 0.01, "{}", lost(12.7, 0.8575));
        // R = 12: tangent 6.75 / 8.8 = 0.7670, 37.49 deg instead of 35.39, on both sides
        assert!((lost(12.0, 0.0) - 8.0 - 4.20).abs() < 0.01, "{}", lost(12.0, 0.0));
        // R = 14: tangent 6.75 / 10.8 = 0.625, 32.005 deg; the bark, sine 7.05 / 14, 30.24
        assert!((lost(14.0, 0.0) - 8.0 + 6.78).abs() < 0.01, "{}", lost(14.0, 0.0));
    }

    #[test]
    fn lost_lines_are_rounded_together_and_shared_evenly() {
        let of = |turn: f64, narrower: f64| {
            let s = Side::of((2.0 * turn).to_radians(), (2.0 * narrower).to_radians());
            (s.shift, s.left, s.right)
        };
        assert_eq!(of(0.0, 4.0), (0, 2, 2));
        // rounded each by itself both halves of 4.8 would be 2
        assert_eq!(of(0.0, 4.8), (0, 2, 3));
        assert_eq!(of(0.0, 5.6), (0, 3, 3));
        assert_eq!(of(0.0, -0.7), (0, 0, 0));
        // a grain that has turned between two lines decides where the odd one goes
        assert_eq!(of(1.3, 5.0), (1, 3, 2));
        assert_eq!(of(0.7, 5.0), (1, 2, 3));
        assert_eq!(of(-2.0, 4.0), (178, 2, 2));
        // over a whole range the mean of what is lost is what should be, and so is the mean of the middle
        let (mut lost, mut off) = (0.0, 0.0);
        for i in 0..1000 {
            let (turn, narrower) = (f64::from(i % 40) / 20.0, 2.0 + f64::from(i) / 500.0);
            let (shift, left, right) = of(turn, narrower);
            lost += (count(left + right) - narrower) / 1000.0;
            off += (count(shift) + (count(left) - count(right)) / 2.0 - turn) / 1000.0;
            assert!((count(left + right) - narrower).abs() <= 0.5 + 1e-9);
            assert!((count(shift) + (count(left) - count(right)) / 2.0 - turn).abs() <= 0.5 + 1e-9);
        }
        assert!(lost.abs() < 0.02 && off.abs() < 0.02, "{lost} {off}");
    }

    #[test]
    fn the_rails_need_half_the_wall_of_the_crown() {
        // sine 6.75 / 12.7: 32.1 deg, cosine 0.8471; 12.7 - 9.3 / 0.8471 = 1.721
        let cosine = 0.847_1;
        assert!((3.4 - less_at_the_rails(12.7, 3.4, cosine) - 1.721).abs() < 0.002);
        assert!(less_at_the_rails(12.7, 3.4, 1.0).abs() < 1e-6);
    }
}
