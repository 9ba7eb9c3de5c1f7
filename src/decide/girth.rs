//! Lengths of bark round a section: how far round the tube an angle lies, as a strip of paper or a ruler bent over the bark
//! measures it.

use super::tube_plan::TubePlan;
use crate::domain::Angle;
use crate::numeric::summary::{count, to_index};
use crate::tube::{Belief, Section};
use std::f64::consts::TAU;

/// Points of the polygon that stands for the bark: its length is less than 1e-5 of the girth too short.
const POINTS: usize = 720;

/// The bark round one section, measured clockwise from the index line.
#[derive(Debug, Clone, PartialEq)]
pub struct Girth {
    /// Length of bark from the index line to every point of the polygon, mm; the last is the whole girth.
    along_mm: Vec<f64>,
}

impl Girth {
    /// Of the section whose bark lies at `bark` (x, y in mm) in every direction.
    ///
    /// # Example
    /// ```
    /// use quarterlight::decide::girth::Girth;
    /// // on a circle a length of bark is radius times angle: 12 mm and 90 deg make 18.85 mm
    /// let circle = Girth::of(|a| [12.0 * a.sin_cos().1, 12.0 * a.sin_cos().0]);
    /// assert!((circle.between_mm(10.0, 100.0) - 18.85).abs() < 0.01);
    /// assert!((circle.between_mm(350.0, 80.0) - 18.85).abs() < 0.01);
    /// ```
    pub fn of(bark: impl Fn(Angle) -> [f64; 2]) -> Girth {
        let point = |i: usize| bark(Angle::from_radians(TAU * count(i % POINTS) / count(POINTS)));
        let mut along_mm = vec![0.0; POINTS + 1];
        let mut last = point(0);
        for i in 1..=POINTS {
            let next = point(i);
            along_mm[i] = along_mm[i - 1] + (next[0] - last[0]).hypot(next[1] - last[1]);
            last = next;
        }
        Girth { along_mm }
    }

    /// Of a believed section.
    #[must_use]
    pub fn of_section(section: Section<'_>) -> Girth {
        Girth::of(|a| section.bark_mm(a))
    }

    /// All the way round, mm.
    #[must_use]
    pub fn whole_mm(&self) -> f64 {
        self.along_mm[POINTS]
    }

    /// From the index line clockwise to a direction in degrees, mm.
    #[must_use]
    pub fn at_mm(&self, deg: f64) -> f64 {
        let u = deg.rem_euclid(360.0) / 360.0 * count(POINTS);
        let i = to_index(u.floor()).min(POINTS - 1);
        let t = u - count(i);
        (1.0 - t) * self.along_mm[i] + t * self.along_mm[i + 1]
    }

    /// From one direction clockwise to another, degrees, mm; less than once round.
    #[must_use]
    pub fn between_mm(&self, from_deg: f64, to_deg: f64) -> f64 {
        (self.at_mm(to_deg) - self.at_mm(from_deg)).rem_euclid(self.whole_mm())
    }
}

/// The index end as it is marked and split.
#[derive(Debug, Clone, PartialEq)]
pub struct IndexEnd {
    /// Lengths of bark there.
    pub girth: Girth,
    /// Radius about the end's own centre at 180 equal steps of angle from the index line, clockwise, mm.
    pub radius_mm: Vec<f64>,
}

impl IndexEnd {
    pub(super) fn of(belief: &Belief) -> IndexEnd {
        let sections = belief.mean_sections(&[0.0]);
        let section = sections.section(0);
        let radius = |i: usize| section.radius_mm(Angle::from_radians(TAU * count(i) / 180.0));
        IndexEnd { girth: Girth::of_section(section), radius_mm: (0..180).map(radius).collect() }
    }
}

/// For every run of every piece how far its blank's middle lies from the clockwise edge of the piece, mm of bark half way
/// along the run. Split lines follow the grain: where it turns, so does the edge.
pub(super) fn across_mm(belief: &Belief, plan: &TubePlan) -> Vec<Vec<f64>> {
    let of_run = |edge_deg: f64, line_deg: f64, z_mm: f64| {
        let sections = belief.mean_sections(&[0.0, z_mm]);
        let turn_deg = belief.fields().turn_at().map_or(0.0, |at| sections.row(1)[at] - sections.row(0)[at]);
        Girth::of_section(sections.section(1)).between_mm(line_deg, edge_deg + turn_deg)
    };
    let of_piece = |(i, p): (usize, &super::tube_plan::PlannedPiece)| {
        let edge_deg = p.from_deg + plan.span_deg(i);
        p.runs.iter().map(|r| of_run(edge_deg, r.line_deg, f64::midpoint(r.from_mm, r.to_mm))).collect()
    };
    plan.pieces.iter().enumerate().map(of_piece).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tube::Fields;

    fn polar(radius: impl Fn(f64) -> f64) -> Girth {
        Girth::of(|a| {
            let (s, c) = a.sin_cos();
            let r = radius(a.radians());
            [3.0 + r * c, r * s - 1.0]
        })
    }

    #[test]
    fn on_a_circle_a_length_of_bark_is_radius_times_angle() {
        // R = 12.7 mm: once round 79.796 mm, a degree 0.22166 mm; where the centre lies does not matter
        let g = polar(|_| 12.7);
        assert!((g.whole_mm() - 79.796).abs() < 1e-3, "{}", g.whole_mm());
        for (from, to, mm) in [(0.0, 37.0, 8.201), (0.0, 90.25, 20.005), (300.0, 30.0, 19.949), (30.0, 20.0, 77.580)] {
            let got = g.between_mm(from, to);
            assert!((got - mm).abs() < 1e-3, "{from} to {to}: {got}, {mm} by hand");
        }
        assert!(g.at_mm(0.0).abs() < 1e-12 && (g.at_mm(-90.0) - 59.847).abs() < 1e-3);
    }

    #[test]
    fn on_an_oval_it_is_the_integral_along_the_bark() {
        // R = 12.5 + 0.5 cos 2a: ds = (R^2 + R'^2)^1/2 da, by Simpson's rule on 2000 steps
        let radius = |a: f64| 12.5 + 0.5 * (2.0 * a).cos();
        let ds = |a: f64| radius(a).hypot((2.0 * a).sin());
        let integral = |from: f64, to: f64| {
            let h = (to - from).to_radians() / 2000.0;
            let term = |i: usize| {
                let k = if i == 0 || i == 2000 { 1.0 } else { f64::from(u8::try_from(2 + 2 * (i % 2)).unwrap()) };
                k * ds(from.to_radians() + h * count(i))
            };
            (0..=2000).map(term).sum::<f64>() * h / 3.0
        };
        let g = polar(radius);
        for (from, to) in [(0.0, 45.0), (0.0, 90.0), (20.0, 61.0), (135.0, 300.0), (0.0, 359.9)] {
            let (got, want) = (g.between_mm(from, to), integral(from, to));
            assert!((got - want).abs() < 1e-3, "{from} to {to}: {got} {want}");
        }
        // equal angles are not equal lengths: the eighth on the wide side is longer by about a third of a millimetre
        let (first, second) = (g.between_mm(0.0, 45.0), g.between_mm(45.0, 90.0));
        assert!(first - second > 0.3 && first - second < 0.6, "{first} {second}");
    }

    #[test]
    fn a_section_is_measured_as_its_bark() {
        let fields = Fields { top: 2, wall: false, twist: false };
        let mut row = vec![0.0; fields.count()];
        row[Fields::R0] = 12.0;
        let g = Girth::of_section(Section::new(fields, &row));
        assert!((g.between_mm(100.0, 130.0) - 12.0 * 30.0_f64.to_radians()).abs() < 1e-4);
    }
}
