//! How far any place on the bark is from the nearest reading.

use super::contact::contacts;
use crate::domain::{Angle, Rig, Tube};
use kiddo::{ImmutableKdTree, SquaredEuclidean};
use std::collections::BTreeMap;
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
    /// Lays out where the readings of `tube` touch the bark (see [`contacts`]) and the patches of its scan; `radius_mm`
    /// unrolls it.
    #[must_use]
    pub fn of(tube: &Tube, rigs: &BTreeMap<String, Rig>, radius_mm: f64) -> Coverage {
        let touched = tube.readings.iter().flat_map(|r| contacts(r, rigs.get(&r.rig)));
        let mut points: Vec<[f64; 2]> = touched.map(|c| [radius_mm * c.angle.wrapped().radians(), c.z_mm]).collect();
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
    use crate::domain::{Kind, Reading};
    use rand::RngExt;

    fn laid_out(points: &[(f64, f64)]) -> Coverage {
        let reading = |&(z_mm, deg): &(f64, f64)| Reading::new(Kind::Radius, z_mm, Angle::from_degrees(deg), 12.7);
        let tube = Tube { readings: points.iter().map(reading).collect(), ..Tube::default() };
        Coverage::of(&tube, &BTreeMap::new(), 12.7)
    }

    #[test]
    fn distances_wrap_round_the_girth() {
        let c = laid_out(&[(50.0, 355.0)]);
        let d = c.nearest_mm(50.0, Angle::from_degrees(5.0)).expect("one reading");
        assert!((d - 12.7 * 10_f64.to_radians()).abs() < 1e-9, "{d}");
        assert!(laid_out(&[]).nearest_mm(1.0, Angle::ZERO).is_none());
    }

    #[test]
    fn the_nearest_reading_agrees_with_trying_all() {
        let mut rng = crate::numeric::draws::stream(3, "coverage", 0);
        // gridded readings with repeats are the hard case for a tree
        let points: Vec<(f64, f64)> =
            (0..240).map(|i| (f64::from(i / 12 % 18) * 12.0, f64::from(i % 12) * 30.0)).collect();
        let c = laid_out(&points);
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
