//! A centreline that is bent at places of its own.
//!
//! What drives the unevenness of a field along the tube are its second differences (see `prior`): independent from knot to
//! knot. Those of the centreline, in both planes, are taken from the normal law of the fit over to one with tails (see
//! `tails`): a tube read at few places may be bent sharply at one and straight between the others. A draw of the fit is
//! moved by what the change of its second differences means for all unknowns (linear regression on them under the fit's
//! own covariance), so that it passes as near to the readings as before.
//!
//! The precision of the prior is `(k^2 I + D2)^2` but for its ends, `k` some 0.1: that only `D2` takes the tails and the
//! rest of it stays is an approximation.

use super::group::Group;
use super::law::{CENTRE_ROUGH, LAW};
use super::layout::Layout;
use super::population::{Population, ROUGH, ROUGH_SPACING_MM, scale_name};
use super::tails::{Pattern, Spread};
use crate::numeric::arrow::ArrowFactor;
use crate::numeric::draws;
use crate::numeric::summary::{count, to_index};
use nalgebra::{Cholesky, DMatrix, DVector};
use rand_chacha::ChaCha8Rng;

/// How the centreline of one tube may be bent.
#[derive(Debug, Clone)]
pub(super) struct Kinks {
    /// coefficients whose second difference each one is: of both planes at the first knot, then at the next
    places: Vec<[usize; 3]>,
    /// change of every unknown by the change of each
    follow: DMatrix<f64>,
    patterns: Vec<Option<Pattern>>,
}

impl Kinks {
    /// Under the answer of a fit whose roughness is `rougher` times the population's: factor of its precision and mean of all
    /// unknowns. `None` where `lot.toml` holds the roughness, where the tube is too short to have a bend, and where the
    /// readings leave its second differences no more room than rounding does: there draws are those of the fit.
    pub(super) fn of(
        layout: &Layout,
        factor: &ArrowFactor,
        mean: &[f64],
        population: &Population,
        rougher: f64,
        tube: &str,
    ) -> Option<Kinks> {
        if population.is_fixed(&scale_name("centre", ROUGH)) {
            return None;
        }
        let centre = layout.fields.centre();
        let knots = layout.spline.size().checked_sub(2).filter(|n| *n > 0)?;
        let places: Vec<[usize; 3]> =
            (0..2 * knots).map(|i| [0, 1, 2].map(|on| layout.coefficient(i / 2 + on, centre + i % 2))).collect();
        let mut columns = DMatrix::zeros(layout.size(), places.len());
        for (i, [a, b, c]) in places.iter().enumerate() {
            let mut v = vec![0.0; layout.size()];
            (v[*a], v[*b], v[*c]) = (1.0, -2.0, 1.0);
            factor.solve(&mut v);
            columns.column_mut(i).copy_from_slice(&v);
        }
        let covariance =
            DMatrix::from_fn(places.len(), places.len(), |i, j| second(columns.column(j).as_slice(), &places[i]));
        // the same either way but for rounding
        let precision = Cholesky::new(0.5 * (&covariance + covariance.transpose()))?.inverse();
        let follow = columns * &precision;
        let pulled = &precision * DVector::from_iterator(places.len(), places.iter().map(|p| second(mean, p)));
        let spacing = (layout.spline.spacing() / ROUGH_SPACING_MM).powf(1.5);
        let sd = rougher * Group::of(layout.fields, centre).scale(population).rough * spacing;
        let known = &LAW[CENTRE_ROUGH];
        // a lot bent here and there is rough on the average; one that is smoother than usual is so everywhere
        let usual = (known.centre.exp() * spacing).min(sd);
        let spread = Spread { precision: &precision, pulled: &pulled, sd, usual, unsure: known.sd };
        let patterns = spread.patterns(tube)?;
        Some(Kinks { places, follow, patterns })
    }

    /// Bends the draw `x` anew. `at` from 0 to 1 picks one of the patterns, which are sorted, so that mirrored draws take
    /// opposite ones; normal numbers are taken times `sign`.
    pub(super) fn bend(&self, x: &mut [f64], at: f64, sign: f64, rng: &mut ChaCha8Rng) {
        let most = self.patterns.len().saturating_sub(1);
        let Some(Some(pattern)) = self.patterns.get(to_index(at * count(self.patterns.len())).min(most)) else {
            return;
        };
        let normals = draws::normals(rng, self.places.len()).into_iter().map(|z| sign * z).collect();
        let mut change = pattern.drawn(normals);
        change.iter_mut().zip(&self.places).for_each(|(d, p)| *d -= second(x, p));
        let moved = &self.follow * change;
        x.iter_mut().zip(moved.iter()).for_each(|(x, by)| *x += by);
    }
}

fn second(x: &[f64], [a, b, c]: &[usize; 3]) -> f64 {
    x[*a] - 2.0 * x[*b] + x[*c]
}

#[cfg(test)]
mod tests {
    use crate::domain::{Angle, Kind, Reading, Rig, Tube};
    use crate::tube::belief::Belief;
    use crate::tube::learn::learn_population;
    use crate::tube::model::Model;
    use std::collections::BTreeMap;

    const LENGTH_MM: f64 = 240.0;
    const RINGS_MM: [f64; 5] = [8.0, 64.0, 120.0, 176.0, 232.0];

    /// Where tube `k` is bent, mm.
    fn place(k: u32) -> f64 {
        70.0 + 20.0 * f64::from(k)
    }

    /// Round tubes bent by 3 to 5 deg at one place, each elsewhere, read by a dial on eight lines at
    /// five places, to 0.02 mm.
    fn bent(many: u32) -> Vec<Tube> {
        let one = |k: u32| {
            let at = place(k);
            let (slope, toward) = (0.05 + 0.04 * f64::from(k % 3) / 2.0, 0.7 * f64::from(k));
            let height = |a: f64, z: f64| 12.7 + slope * (z - at).max(0.0) * (a - toward).cos();
            let ring = |z: f64| {
                (0..8).map(move |i| (z, 45.0 * f64::from(i))).map(move |(z, deg)| {
                    let value = height(deg.to_radians(), z) - 12.7;
                    Reading { sd_mm: Some(0.02), ..Reading::new(Kind::Runout, z, Angle::from_degrees(deg), value) }
                })
            };
            let size = Reading::new(Kind::Diameter, 8.0, Angle::ZERO, 25.4);
            let readings = RINGS_MM.into_iter().flat_map(ring).chain([size]).collect();
            Tube { name: format!("B{k}"), length_mm: LENGTH_MM, readings, ..Tube::default() }
        };
        (0..many).map(one).collect()
    }

    fn exact() -> Model {
        let rig = Rig { line_deg: Some(0.0), setting_deg: Some(0.0), bias_mm: Some(0.0), ..Rig::default() };
        Model { rigs: BTreeMap::from([(String::new(), rig)]), index_line_deg: 0.0, ..Model::default() }
    }

    /// How far the centreline departs from straight within 40 mm on either side of places from which its bend is farther
    /// away than that: middle one of all draws.
    fn hollow(belief: &Belief, bend_mm: f64) -> f64 {
        let mut all: Vec<f64> = (0..60)
            .flat_map(|k| {
                let z: Vec<f64> = (0..=22).map(|i| 10.0 + 10.0 * f64::from(i)).collect();
                let drawn = belief.draw_sections(3, k, &z);
                let at = |j: usize| drawn.section(j).centre_mm();
                let off = |j: usize| {
                    let [a, b, c] = [at(j - 4), at(j), at(j + 4)];
                    (a[0] + c[0] - 2.0 * b[0]).hypot(a[1] + c[1] - 2.0 * b[1]) / 2.0
                };
                (4..=18).filter(|j| (z[*j] - bend_mm).abs() > 45.0).map(off).collect::<Vec<_>>()
            })
            .collect();
        all.sort_by(f64::total_cmp);
        all[all.len() / 2]
    }

    #[test]
    fn a_tube_with_one_bend_is_straight_beside_it_and_is_where_it_was_read() {
        let tubes = bent(6);
        let before = exact();
        let model = learn_population(&tubes, &before).expect("measured").model(&before);
        let mut held = model.clone();
        held.population.fixed.insert("centre_rough".into());
        let (mut free, mut alike) = (0.0, 0.0);
        for (k, tube) in (0..).zip(&tubes) {
            let [own, fixed] = [&model, &held].map(|m| Belief::fit(tube, m).expect("fits"));
            free += hollow(&own, place(k)) / 6.0;
            alike += hollow(&fixed, place(k)) / 6.0;
            // a moved draw passes where the fit's own draws pass: the readings still hold it
            let spread = |b: &Belief| {
                let drawn: Vec<Vec<f64>> = (0..60)
                    .map(|k| {
                        let s = b.draw_sections(3, k, &RINGS_MM);
                        let h: Vec<f64> = (0..5).map(|j| s.section(j).height_mm(Angle::from_degrees(45.0))).collect();
                        // what does not hang on the dial's zero and the chuck
                        (1..4).map(|j| h[j - 1] + h[j + 1] - 2.0 * h[j]).collect()
                    })
                    .collect();
                let mean = |j: usize| drawn.iter().map(|d| d[j]).sum::<f64>() / 60.0;
                let sd = |j: usize| (drawn.iter().map(|d| (d[j] - mean(j)).powi(2)).sum::<f64>() / 59.0).sqrt();
                [0, 1, 2].map(|j| (mean(j), sd(j)))
            };
            for ((a, sd), (b, other)) in spread(&own).into_iter().zip(spread(&fixed)) {
                assert!((a - b).abs() < 0.03 && sd < 1.5 * other, "{}: {a} +-{sd}, {b} +-{other}", tube.name);
            }
        }
        // a bend of 0.07 is 1.4 mm within 40 mm at its place, nothing 40 mm away
        assert!(free < 0.1 && free < 0.75 * alike, "{free} mm against {alike} by one normal law");
    }
}
