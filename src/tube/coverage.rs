//! How far any place on the bark is from the nearest reading.

use crate::domain::{Angle, Kind, Tube};
use kiddo::{ImmutableKdTree, SquaredEuclidean};
use std::f64::consts::TAU;

/// Box side along the tube, mm: so long that the period in that direction never matters.
const NO_PERIOD_MM: f64 = 1e9;

/// The readings of the outside laid out on the unrolled bark (girth by length, wrapping round the girth).
#[derive(Debug)]
pub struct Coverage {
    tree: Option<ImmutableKdTree<f64, 2>>,
    radius_mm: f64,
}

impl Coverage {
    /// Lays out the readings of `tube` and the patches of its scan; a diameter touches the bark on both sides, a V-block
    /// at two more places. `radius_mm` unrolls it.
    #[must_use]
    pub fn of(tube: &Tube, radius_mm: f64) -> Coverage {
        let mut points: Vec<[f64; 2]> = Vec::new();
        for r in tube.readings.iter().filter(|r| r.kind.is_outside()) {
            let mut put = |a: Angle| points.push([radius_mm * a.wrapped().radians(), r.z_mm]);
            put(r.angle);
            match (r.kind, r.vee_deg) {
                (Kind::Diameter, _) => put(r.angle + Angle::from_degrees(180.0)),
                (Kind::Vee, Some(v)) => {
                    put(r.angle + Angle::from_degrees(90.0 + v / 2.0));
                    put(r.angle - Angle::from_degrees(90.0 + v / 2.0));
                }
                _ => {}
            }
        }
        let cells = tube.scan.iter().filter_map(|s| s.unrolled.as_ref()).flat_map(|u| &u.cells);
        points.extend(cells.map(|c| [radius_mm * c.angle.wrapped().radians(), c.z_mm]));
        points.retain(|p| p[0].is_finite() && p[1].is_finite());
        Coverage { tree: ImmutableKdTree::new_from_slice(&points).ok().filter(|_| !points.is_empty()), radius_mm }
    }

    /// Distance over the bark from this place to the nearest reading, mm; `None` without readings.
    #[must_use]
    pub fn nearest_mm(&self, z_mm: f64, angle: Angle) -> Option<f64> {
        let at = [self.radius_mm * angle.wrapped().radians(), z_mm];
        let sides = [self.radius_mm * TAU, NO_PERIOD_MM];
        let query = self.tree.as_ref()?.query(&at);
        let found = query.periodic_boundary_condition(&sides).nearest_one::<SquaredEuclidean<f64>>().execute();
        Some(found.distance.sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Reading;
    use rand::RngExt;

    fn tube_with(points: &[(f64, f64)]) -> Tube {
        let reading = |&(z_mm, deg): &(f64, f64)| Reading::new(Kind::Radius, z_mm, Angle::from_degrees(deg), 12.7);
        Tube { readings: points.iter().map(reading).collect(), ..Tube::default() }
    }

    #[test]
    fn distances_wrap_round_the_girth() {
        let c = Coverage::of(&tube_with(&[(50.0, 355.0)]), 12.7);
        let d = c.nearest_mm(50.0, Angle::from_degrees(5.0)).expect("one reading");
        assert!((d - 12.7 * 10_f64.to_radians()).abs() < 1e-9, "{d}");
        assert!(Coverage::of(&tube_with(&[]), 12.7).nearest_mm(1.0, Angle::ZERO).is_none());
    }

    #[test]
    fn the_nearest_reading_agrees_with_trying_all() {
        let mut rng = crate::numeric::draws::stream(3, "coverage", 0);
        // gridded readings with repeats are the hard case for a tree
        let points: Vec<(f64, f64)> =
            (0..240).map(|i| (f64::from(i / 12 % 18) * 12.0, f64::from(i % 12) * 30.0)).collect();
        let c = Coverage::of(&tube_with(&points), 12.7);
        for _ in 0..500 {
            let (z, deg) = (rng.random::<f64>() * 230.0, rng.random::<f64>() * 360.0);
            let all = points
                .iter()
                .map(|p| {
                    let turn = Angle::from_degrees(p.1).gap_to(Angle::from_degrees(deg)).radians() * 12.7;
                    turn.hypot(p.0 - z)
                })
                .fold(f64::MAX, f64::min);
            let got = c.nearest_mm(z, Angle::from_degrees(deg)).expect("readings");
            assert!((got - all).abs() < 1e-9, "{z} {deg}: {got} {all}");
        }
    }
}
