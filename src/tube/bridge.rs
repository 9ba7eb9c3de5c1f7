//! A bar on two feet with a dial between them, zeroed on a flat: `w = h(z) - [h(z - s/2) + h(z + s/2)] / 2`.
//!
//! Such a reading hangs on three places along the tube, farther apart than the band of the equations reaches. So the height
//! of the bark under a foot is an unknown of its own (a post), tied to the surface by a row that holds, and every row touches
//! one place. Where more feet stand on a line than its spline has coefficients, the posts stand at the knots instead, and
//! the height under each foot is that of the spline through them: exact, since along a line `h` is such a spline.
//!
//! # What it assumes
//! Feet that lie across the line and touch it: knife edges or rollers, thin along the tube. A foot as wide along the tube as
//! the bark waves stands on the tops of the waves.

use super::instrument::{Probe, Unknown, span_mm, turns};
use super::layout::Layout;
use super::model::Model;
use super::quantity::Quantity;
use super::rows::Row;
use crate::domain::{Angle, Kind, Reading, Tube};
use crate::numeric::spline::CubicSpline;
use crate::numeric::summary::count;
use nalgebra::{DMatrix, DVector};
use std::collections::BTreeMap;

/// How closely a post stands for the surface, sd in mm: so far below any noise that it counts for nothing, and so far above
/// rounding that the equations stay sound.
pub(super) const POST_SD_MM: f64 = 1e-3;
/// Feet nearer to each other than this stand on one post, mm.
const SAME_FOOT_MM: f64 = 1e-6;
/// A foot may stand so far beyond an end by rounding, mm.
pub(crate) const END_ROUNDING_MM: f64 = 1e-6;
/// Fewer spans than this have no knots to stand posts at.
const LEAST_SPANS: usize = 2;

/// Where the feet of a bar stand, mm from the index end.
pub(crate) fn feet_mm(z_mm: f64, span_mm: f64) -> [f64; 2] {
    [z_mm - span_mm / 2.0, z_mm + span_mm / 2.0]
}

/// A reading and where its feet stand, mm.
type Bar = (usize, [f64; 2]);

/// A place on a bark line whose height is an unknown of its own.
#[derive(Debug, Clone, PartialEq)]
struct Post {
    name: Unknown,
    angle: Angle,
    z_mm: f64,
    turns: Vec<Unknown>,
}

/// The posts of a tube, and what each bar stands on.
#[derive(Debug, Default)]
pub(super) struct Posts {
    list: Vec<Post>,
    /// by reading: (post, factor in the reading)
    under: BTreeMap<usize, Vec<(Unknown, f64)>>,
}

impl Posts {
    /// Of all bars of a tube.
    ///
    /// # Errors
    /// The place of a reading and what is wrong with it: no span, or a foot beyond an end.
    pub(super) fn of(tube: &Tube, model: &Model) -> Result<Posts, (usize, &'static str)> {
        let mut lines: BTreeMap<(&str, i64), Vec<Bar>> = BTreeMap::new();
        for (i, r) in tube.readings.iter().enumerate().filter(|(_, r)| r.kind == Kind::Bridge) {
            let rig = model.rig(&r.rig);
            // its span is asked for first, so that what is missing is told in one way
            let span = Probe::of(r, rig).map_err(|what| (i, what))?.size;
            let feet = feet_mm(r.z_mm, span);
            if feet[0] < -END_ROUNDING_MM || feet[1] > tube.length_mm + END_ROUNDING_MM {
                return Err((i, "a bridge reading with a foot beyond the end of the tube"));
            }
            lines.entry((&r.rig, fine(r.angle))).or_default().push((i, feet));
        }
        let mut posts = Posts::default();
        let spline = Layout::spline(tube.length_mm);
        for ((rig, at), bars) in &lines {
            posts.stand(&format!("{rig} at {at}"), &tube.readings[bars[0].0], bars, &spline);
        }
        Ok(posts)
    }

    /// The posts of one line.
    fn stand(&mut self, line: &str, first: &Reading, bars: &[Bar], spline: &CubicSpline) {
        let mut feet: Vec<f64> = bars.iter().flat_map(|b| b.1).collect();
        feet.sort_by(f64::total_cmp);
        feet.dedup_by(|a, b| (*a - *b).abs() <= SAME_FOOT_MM);
        let knots = spline.size();
        let at_knots = feet.len() > knots && knots >= LEAST_SPANS + 3;
        let places = if at_knots { through(spline) } else { feet };
        let name = |n: usize| Unknown::Post(line.to_string(), u32::try_from(n).unwrap_or(u32::MAX));
        let between = at_knots.then(|| Between::of(spline, &places)).flatten();
        for &(i, feet) in bars {
            let mut share: BTreeMap<usize, f64> = BTreeMap::new();
            for foot in feet {
                match &between {
                    Some(between) => {
                        for (n, w) in between.weights(foot).into_iter().enumerate() {
                            *share.entry(n).or_default() -= 0.5 * w;
                        }
                    }
                    None => {
                        let n = places.partition_point(|p| *p < foot - SAME_FOOT_MM).min(places.len() - 1);
                        *share.entry(n).or_default() -= 0.5;
                    }
                }
            }
            self.under.insert(i, share.into_iter().map(|(n, by)| (name(n), by)).collect());
        }
        let turns = turns(first);
        let post = |(n, &z_mm): (usize, &f64)| Post { name: name(n), angle: first.angle, z_mm, turns: turns.clone() };
        self.list.extend(places.iter().enumerate().map(post));
    }

    /// What a reading stands on; nothing but for a bar.
    pub(super) fn under(&self, reading: usize) -> impl Iterator<Item = (Unknown, f64)> + '_ {
        self.under.get(&reading).into_iter().flatten().cloned()
    }

    /// The unknown heights.
    pub(super) fn names(&self) -> impl Iterator<Item = Unknown> + '_ {
        self.list.iter().map(|p| p.name.clone())
    }

    /// The rows that tie them to the surface: `h - post = 0`.
    pub(super) fn rows<'a>(&'a self, measuring: &'a BTreeMap<Unknown, usize>) -> impl Iterator<Item = Row> + 'a {
        self.list.iter().map(|p| Row {
            index: None,
            probe: Probe::new(Kind::Bridge, p.angle, 0.0),
            z_mm: p.z_mm,
            value: 0.0,
            sd: POST_SD_MM,
            half_step: 0.0,
            nuisance: vec![(measuring[&p.name], -1.0)],
            turn: p.turns.iter().filter_map(|u| measuring.get(u).copied()).collect(),
            foot: None,
            held: true,
        })
    }
}

/// Millionths of a degree, to group by.
#[allow(clippy::cast_possible_truncation, reason = "a grouping key; `as` saturates")]
fn fine(angle: Angle) -> i64 {
    (angle.wrapped().degrees() * 1e6).round() as i64
}

/// Places through which one spline goes: its knots, and the middles of its first and last span.
fn through(spline: &CubicSpline) -> Vec<f64> {
    let (h, spans) = (spline.spacing(), spline.size() - 3);
    let mut z: Vec<f64> = (0..=spans).map(|k| h * count(k)).collect();
    z.insert(1, 0.5 * h);
    z.insert(spans + 1, h * (count(spans) - 0.5));
    z
}

/// A spline by its values at as many places.
struct Between {
    spline: CubicSpline,
    /// inverse of the basis at these places, transposed
    solve: DMatrix<f64>,
}

impl Between {
    fn of(spline: &CubicSpline, places: &[f64]) -> Option<Between> {
        let n = places.len();
        let mut basis = DMatrix::zeros(n, n);
        for (row, &z) in places.iter().enumerate() {
            let w = spline.weights(z);
            w.weight.iter().enumerate().for_each(|(k, &w1)| basis[(row, w.first + k)] += w1);
        }
        Some(Between { spline: *spline, solve: basis.transpose().try_inverse()? })
    }

    /// Factors of the values at the places in the value at `z`.
    fn weights(&self, z: f64) -> Vec<f64> {
        let w = self.spline.weights(z);
        let mut basis = DVector::zeros(self.solve.nrows());
        w.weight.iter().enumerate().for_each(|(k, &w1)| basis[w.first + k] += w1);
        (&self.solve * basis).iter().copied().collect()
    }
}

/// What a bar shows of the surface alone, as a quantity.
pub(super) fn sag(q: Quantity, reading: &Reading, span_mm: f64, angle: Angle) -> Quantity {
    let [a, b] = feet_mm(reading.z_mm, span_mm);
    q.height(reading.z_mm, angle, 1.0).height(a, angle, -0.5).height(b, angle, -0.5)
}

/// Whether both feet stand on a tube of this length; the span from the reading or its rig.
pub(super) fn stands(reading: &Reading, model: &Model, length_mm: f64) -> bool {
    span_mm(reading, model.rig(&reading.rig)).is_some_and(|s| {
        let [a, b] = feet_mm(reading.z_mm, s);
        a >= -END_ROUNDING_MM && b <= length_mm + END_ROUNDING_MM
    })
}

#[cfg(test)]
mod tests {
    use super::super::belief::Belief;
    use super::super::fields::Fields;
    use super::super::sections::Sections;
    use super::*;

    fn bar(z_mm: f64, deg: f64, span: f64, value: f64) -> Reading {
        Reading { span_mm: Some(span), ..Reading::new(Kind::Bridge, z_mm, Angle::from_degrees(deg), value) }
    }

    /// What a bar shows on a surface.
    fn shown(surface: &dyn Fn(f64, &mut [f64]), reading: &Reading) -> f64 {
        let fields = Fields { top: 3, wall: false, twist: false };
        let q = sag(Quantity::of(fields), reading, reading.span_mm.expect("a span"), reading.angle);
        q.terms()
            .iter()
            .map(|t| {
                let mut s = Sections::zeros(fields, &[t.z_mm]);
                surface(t.z_mm, s.row_mut(0));
                t.factor * s.row(0)[t.field]
            })
            .sum()
    }

    #[test]
    fn a_straight_round_tube_shows_nothing_and_a_bow_its_share() {
        // straight, even and oval: the same oval under all three
        let straight = |z: f64, row: &mut [f64]| {
            (row[0], row[1], row[2]) = (12.7 + 0.001 * z, 0.3, -0.2);
        };
        assert!(shown(&straight, &bar(100.0, 30.0, 70.0, 0.0)).abs() < 1e-12);
        // bow B = 1.6 mm toward 90 deg over L = 200 mm, 4 B z (L - z) / L^2: h(z) - [h(z - d) + h(z + d)] / 2 with d = s / 2
        // is 4 B d^2 / L^2, of a 50 mm bar 4 * 1.6 * 625 / 40000 = 0.1 mm, wherever it stands, times cos(a - 90 deg)
        let bent = |z: f64, row: &mut [f64]| {
            (row[0], row[6]) = (12.7, 4.0 * 1.6 * z * (200.0 - z) / 40_000.0);
        };
        for (z, deg, span, want) in [
            (100.0, 90.0, 50.0, 0.1),
            (40.0, 90.0, 50.0, 0.1),
            (100.0, 270.0, 50.0, -0.1),
            (100.0, 30.0, 50.0, 0.05),
            (100.0, 0.0, 50.0, 0.0),
            // as long as the tube it shows the bow itself
            (100.0, 90.0, 200.0, 1.6),
        ] {
            let got = shown(&bent, &bar(z, deg, span, 0.0));
            assert!((got - want).abs() < 1e-12, "{z} mm, {deg} deg, {span} mm: {got}");
        }
    }

    #[test]
    fn posts_stand_under_few_feet_and_at_the_knots_under_many_with_the_same_answer() {
        let line = |n: u32| {
            let places = (0..n).map(|i| 40.0 + 120.0 * f64::from(i) / f64::from(n - 1));
            places.map(|z| bar(z, 90.0, 60.0, 0.144 + 0.01 * (z / 9.0).sin())).collect::<Vec<Reading>>()
        };
        let tube = |readings| Tube { name: "A".into(), length_mm: 200.0, readings, ..Tube::default() };
        let model = Model::default();
        let few = Posts::of(&tube(line(5)), &model).expect("they stand");
        // places 30 mm apart and feet 60: neighbours share a foot's place
        assert_eq!(few.list.len(), 7);
        let many = Posts::of(&tube(line(40)), &model).expect("they stand");
        // knots every 10 mm: 20 spans
        assert_eq!(many.list.len(), 23);
        // the weights of a reading give any cubic as the mean of its two feet
        let cubic = |z: f64| 1.0 + z * (0.5 - z * (0.01 - z * 1e-4));
        for (i, r) in line(40).iter().enumerate() {
            let of = |u: &Unknown| many.list.iter().find(|p| p.name == *u).expect("a post").z_mm;
            let got: f64 = many.under(i).map(|(u, by)| by * cubic(of(&u))).sum();
            let want = -0.5 * (cubic(r.z_mm - 30.0) + cubic(r.z_mm + 30.0));
            assert!((got - want).abs() < 1e-9, "{i}: {got} {want}");
        }
        // eleven bars on 22 posts of their own, and the same with two that say nothing, which stands on 23 at the knots
        let fit = |readings: Vec<Reading>| Belief::fit(&tube(readings), &model).expect("fits");
        let mut at_feet = line(12);
        at_feet.pop();
        let mut at_knots = at_feet.clone();
        at_knots.extend([37.0, 51.3].map(|z| Reading { sd_mm: Some(1e4), ..bar(z, 90.0, 60.0, 0.0) }));
        let posts = [&at_feet, &at_knots].map(|l| Posts::of(&tube(l.clone()), &model).expect("they stand").list.len());
        assert_eq!(posts, [22, 23]);
        let (a, b) = (fit(at_feet), fit(at_knots));
        let bow = |belief: &Belief| {
            let (f, q) = (belief.fields(), Quantity::of(belief.fields()));
            let q =
                q.field(100.0, f.centre() + 1, 1.0).field(0.0, f.centre() + 1, -0.5).field(200.0, f.centre() + 1, -0.5);
            let s = belief.mean_sections(&[0.0, 100.0, 200.0]);
            let at = |j: usize| s.row(j)[f.centre() + 1];
            (at(1) - 0.5 * (at(0) + at(2)), belief.doubt_of(&q).sd)
        };
        let ((va, sa), (vb, sb)) = (bow(&a), bow(&b));
        assert!((va - vb).abs() < 2e-3 && (sa / sb - 1.0).abs() < 0.02, "{va} {sa} against {vb} {sb}");
    }

    #[test]
    fn what_was_read_is_expected_again_and_a_foot_beyond_the_end_is_refused() {
        let list: Vec<Reading> = [40.0, 80.0, 120.0, 160.0]
            .iter()
            .flat_map(|&z| {
                [0.0, 90.0, 180.0, 270.0].map(|deg: f64| bar(z, deg, 70.0, 0.2 * (deg - 60.0).to_radians().cos()))
            })
            .collect();
        let tube = Tube { name: "A".into(), length_mm: 200.0, readings: list.clone(), ..Tube::default() };
        let model = Model::default();
        let belief = Belief::fit(&tube, &model).expect("fits");
        for r in &list {
            let e = belief.expect(r, &model).expect("it stands");
            assert!((e.mean - r.value_mm).abs() < 0.02 && e.sd < 0.02 && e.fresh.is_empty(), "{r:?}: {e:?}");
            // what it hangs on gives the same spread as the surface, the zero and the lines together
            assert!(belief.covariance(&e.row, &e.row).sqrt() < 0.03);
        }
        let fresh = belief.expect(&bar(100.0, 45.0, 120.0, 0.0), &model).expect("it stands");
        assert!(fresh.fresh.len() == 1 && matches!(fresh.fresh[0].0, Unknown::Line(..)), "{:?}", fresh.fresh);
        // the bow alone: 4 B (s / 2)^2 / L^2 grows with the square of the span
        let want = 0.2 * (120.0_f64 / 70.0).powi(2) * 15_f64.to_radians().cos();
        assert!((fresh.mean - want).abs() < 0.05, "{} {want}", fresh.mean);
        assert!(belief.expect(&bar(30.0, 0.0, 70.0, 0.0), &model).is_err());
        let bad = Tube { readings: vec![bar(170.0, 0.0, 70.0, 0.0)], ..tube.clone() };
        let error = Belief::fit(&bad, &model).expect_err("a foot beyond").to_string();
        assert!(error.contains("a foot beyond the end"), "{error}");
        let none = Tube { readings: vec![Reading::new(Kind::Bridge, 100.0, Angle::ZERO, 0.0)], ..tube };
        let error = Belief::fit(&none, &model).expect_err("no span").to_string();
        assert!(error.contains("without the span"), "{error}");
    }
}
