//! One reading as the equations see it: its value on a surface, and how it changes with every unknown.

use super::fields::Fields;
use super::foot::under_foot;
use super::instrument::{Probe, surface_value};
use super::layout::{Layout, SHAPES};
use super::outline::traced_radius;
use super::rows::Row;
use super::section::Section;
use crate::domain::{Angle, Kind};
use crate::numeric::arrow::Arrow;
use crate::numeric::lanes::{axpy, wide};
use pulp::NullaryFnOnce;

/// Step of the angle for how a reading changes with it, radians; the error is its square, far below any reading.
pub(super) const TURN_STEP: f64 = 1e-4;

/// A row linear about some unknowns; filled again and again.
#[derive(Debug)]
pub(super) struct Tangent {
    /// What the row would read.
    pub(super) value: f64,
    section: Vec<f64>,
    gradient: Vec<f64>,
    spare: Vec<f64>,
    /// weights of the four knots that act at the row's place, and the first of them
    weight: [f64; 4],
    first: usize,
    shapes: [f64; SHAPES],
    band: usize,
    /// factors of the unknowns of the measuring
    measuring: Vec<(usize, f64)>,
}

impl Tangent {
    pub(super) fn new(fields: Fields) -> Tangent {
        let f = fields.count();
        Tangent {
            value: 0.0,
            section: vec![0.0; f],
            gradient: vec![0.0; f],
            spare: vec![0.0; f],
            weight: [0.0; 4],
            first: 0,
            shapes: [0.0; SHAPES],
            band: 0,
            measuring: Vec::new(),
        }
    }

    /// Takes the tangent of `row` at the unknowns `x`.
    pub(super) fn take(&mut self, row: &Row, layout: &Layout, x: &[f64]) {
        let w = layout.spline.weights(row.z_mm);
        (self.first, self.weight) = (w.first, w.weight);
        (self.shapes, self.band) = (layout.shapes(row.z_mm), layout.band());
        layout.row_at(x, row.z_mm, &mut self.section);
        let Tangent { section, gradient, spare, measuring, .. } = self;
        let section = Section::new(layout.fields, section);
        let turned: f64 = row.turn.iter().map(|&at| x[at]).sum();
        let probe = Probe { angle: Angle::from_radians(row.probe.angle.radians() + turned), ..row.probe };
        measuring.clear();
        gradient.fill(0.0);
        // the point a tracing was measured from and the axis under a foot act through the shape; all other unknowns add
        self.value = match (probe.kind, row.nuisance.as_slice(), row.foot) {
            (Kind::Outline, &[(u, _), (v, _), ref rest @ ..], _) => {
                let from = [x[u], x[v]];
                let (value, by) = traced_radius(section, probe.angle, from, gradient);
                measuring.extend([(u, by[0]), (v, by[1])]);
                measuring.extend_from_slice(rest);
                turn(row, probe, measuring, spare, |p, spare| traced_radius(section, p.angle, from, spare).0);
                value + sum(rest, x)
            }
            (_, &[x0, y0, x1, y1, ref rest @ ..], Some(foot)) => {
                let ends = [x0, y0, x1, y1];
                let t = if layout.length_mm > 0.0 { row.z_mm / layout.length_mm } else { 0.0 };
                let axis = [0, 1].map(|part| (1.0 - t) * x[ends[part].0] + t * x[ends[2 + part].0]);
                let (value, by) = under_foot(section, probe.angle, axis, foot, gradient);
                let shares = [1.0 - t, 1.0 - t, t, t];
                measuring.extend(ends.iter().enumerate().map(|(i, end)| (end.0, shares[i] * by[i % 2])));
                measuring.extend_from_slice(rest);
                turn(row, probe, measuring, spare, |p, spare| under_foot(section, p.angle, axis, foot, spare).0);
                value + sum(rest, x)
            }
            _ => {
                let value = surface_value(probe, section, gradient);
                measuring.extend_from_slice(&row.nuisance);
                turn(row, probe, measuring, spare, |p, spare| surface_value(p, section, spare));
                value + sum(&row.nuisance, x)
            }
        };
    }

    /// Factors of the fields at its place.
    pub(super) fn gradient(&self) -> &[f64] {
        &self.gradient
    }

    /// (unknown, factor) of the measuring; one unknown may come twice.
    pub(super) fn measuring(&self) -> &[(usize, f64)] {
        &self.measuring
    }

    /// (unknown, factor) of the surface.
    pub(super) fn of_surface(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        let f = self.gradient.len();
        let some = || self.gradient.iter().copied().enumerate().filter(|(_, g)| g.abs() > 0.0);
        let knots =
            (0..4).flat_map(move |k| some().map(move |(field, g)| ((self.first + k) * f + field, self.weight[k] * g)));
        let effects = some()
            .flat_map(move |(field, g)| (0..SHAPES).map(move |s| (self.band + SHAPES * field + s, self.shapes[s] * g)));
        knots.chain(effects)
    }

    /// (unknown, factor) of everything.
    pub(super) fn entries(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        self.of_surface().chain(self.measuring.iter().copied())
    }

    /// Change of the value when the unknowns change by `d`.
    pub(super) fn along(&self, d: &[f64]) -> f64 {
        self.entries().map(|(at, g)| g * d[at]).sum()
    }

    /// Adds `pull` times the square of this row to a matrix, and `moment` times the row to a vector.
    pub(super) fn add_to(&self, matrix: &mut Arrow, right: &mut [f64], pull: f64, moment: f64) {
        self.entries().for_each(|(at, g)| right[at] += moment * g);
        wide(AddSquare { row: self, matrix, pull });
    }
}

/// What unknowns that add come to.
fn sum(unknowns: &[(usize, f64)], x: &[f64]) -> f64 {
    unknowns.iter().map(|&(at, factor)| factor * x[at]).sum()
}

/// Adds `pull` times the square of a row to a matrix.
struct AddSquare<'a> {
    row: &'a Tangent,
    matrix: &'a mut Arrow,
    pull: f64,
}

impl NullaryFnOnce for AddSquare<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let AddSquare { row: t, matrix, pull } = self;
        let gradient = &t.gradient[..];
        let f = gradient.len();
        // the surface's own block, knot by knot: rows and columns lie side by side
        for k in 0..4 {
            for (field, &g) in gradient.iter().enumerate() {
                let i = (t.first + k) * f + field;
                let row = matrix.band_row_mut(i);
                let w = row.len() - 1;
                let by = pull * t.weight[k] * g;
                for l in 0..=k {
                    let upto = if l == k { field + 1 } else { f };
                    let from = w + (t.first + l) * f - i;
                    axpy(by * t.weight[l], gradient, &mut row[from..from + upto]);
                }
            }
        }
        let effects: Vec<f64> = gradient.iter().flat_map(|g| t.shapes.map(|s| s * g)).collect();
        let border = effects.iter().copied().enumerate();
        let measuring = t.measuring.iter().map(|&(at, g)| (at - t.band, g));
        for (r, g) in border.chain(measuring) {
            if g.abs() > 0.0 {
                let row = matrix.border_row_mut(r);
                let by = pull * g;
                for k in 0..4 {
                    let from = (t.first + k) * f;
                    axpy(by * t.weight[k], gradient, &mut row[from..from + f]);
                }
                let own = &mut row[t.band..];
                let upto = effects.len().min(r + 1);
                axpy(by, &effects, &mut own[..upto]);
                if r >= effects.len() {
                    for &(at, h) in &t.measuring {
                        if at - t.band <= r {
                            own[at - t.band] += by * h;
                        }
                    }
                }
            }
        }
    }
}

/// How the value changes with what turns its direction.
fn turn(
    row: &Row,
    probe: Probe,
    measuring: &mut Vec<(usize, f64)>,
    spare: &mut [f64],
    value: impl Fn(Probe, &mut [f64]) -> f64,
) {
    if row.turn.is_empty() {
        return;
    }
    let mut at = |by: f64| {
        spare.fill(0.0);
        value(Probe { angle: Angle::from_radians(probe.angle.radians() + by), ..probe }, spare)
    };
    let slope = (at(TURN_STEP) - at(-TURN_STEP)) / (2.0 * TURN_STEP);
    measuring.extend(row.turn.iter().map(|&at| (at, slope)));
}

#[cfg(test)]
mod tests {
    use super::super::instrument::{Probe, Unknown};
    use super::*;

    #[test]
    fn the_block_way_adds_the_square_of_the_entries() {
        let fields = Fields { top: 3, wall: true, twist: false };
        let unknowns = [Unknown::ScanSize, Unknown::ScanWall];
        let layout = Layout::new(fields, 90.0, unknowns);
        let (u, v) = (layout.measuring[&Unknown::ScanSize], layout.measuring[&Unknown::ScanWall]);
        let row = Row {
            index: None,
            probe: Probe::new(Kind::Diameter, Angle::from_degrees(33.0), 0.0),
            z_mm: 41.0,
            value: 0.0,
            sd: 1.0,
            half_step: 0.0,
            nuisance: vec![(v, 0.7)],
            turn: vec![u],
            foot: None,
            held: false,
        };
        let mut x: Vec<f64> =
            (0..layout.size()).map(|i| 0.01 * (f64::from(u32::try_from(i).expect("small"))).sin()).collect();
        x[layout.effect(Fields::R0, 0)] = 12.7;
        let mut t = Tangent::new(fields);
        t.take(&row, &layout, &x);
        let (n, b) = (layout.band(), layout.border());
        let mut fast = Arrow::zeros(n, layout.half_band(), b);
        let mut plain = fast.clone();
        let mut right = vec![0.0; layout.size()];
        t.add_to(&mut fast, &mut right, 2.5, 0.3);
        let entries: Vec<(usize, f64)> = t.entries().collect();
        plain.add_square(&entries, 2.5);
        for probe in 0..layout.size() {
            let mut e = vec![0.0; layout.size()];
            e[probe] = 1.0;
            e[(probe * 7 + 3) % layout.size()] += 0.5;
            assert!((fast.form(&e) - plain.form(&e)).abs() < 1e-12, "{probe}");
        }
        for &(at, g) in &entries {
            assert!((right[at] - 0.3 * g).abs() < 1e-14 || entries.iter().filter(|e| e.0 == at).count() > 1);
        }
        // the whole gradient, turn included, against numeric differentiation
        for &(at, g) in &entries {
            let value = |h: f64| {
                let mut y = x.clone();
                y[at] += h;
                let mut t = Tangent::new(fields);
                t.take(&row, &layout, &y);
                t.value
            };
            assert!(((value(1e-5) - value(-1e-5)) / 2e-5 - g).abs() < 1e-6, "unknown {at}");
        }
    }

    /// Catches an error of scale, or any other unknown more, by which a tracing would no longer be measured from its point, nor
    /// a foot ride about its axis.
    #[test]
    fn a_scale_leaves_the_point_of_a_tracing_and_the_axis_under_a_foot() {
        let fields = Fields { top: 3, wall: false, twist: false };
        let scale = Unknown::Scale(Kind::Outline, "r".into());
        let axes = [0, 1, 2, 3].map(|i| Unknown::Axis(Kind::Runout, "r".into(), i / 2, i % 2));
        let layout = Layout::new(fields, 90.0, [axes.to_vec(), vec![scale.clone()]].concat());
        let at = |u: &Unknown| layout.measuring[u];
        let mut x = vec![0.0; layout.size()];
        x[layout.effect(Fields::R0, 0)] = 12.7;
        x[layout.effect(Fields::R0 + 1, 0)] = 0.3;
        axes.iter().zip([0.4, -0.3, 0.2, 0.1]).for_each(|(u, off)| x[at(u)] = off);
        x[at(&scale)] = 0.001;
        let tracing = vec![(at(&axes[0]), 0.0), (at(&axes[1]), 0.0)];
        let foot = axes.iter().map(|u| (at(u), 0.0)).collect();
        for (kind, foot_mm, own) in [(Kind::Outline, None, tracing), (Kind::Runout, Some(1.5), foot)] {
            let row = |nuisance| Row {
                index: None,
                probe: Probe::new(kind, Angle::from_degrees(33.0), 0.0),
                z_mm: 41.0,
                value: 0.0,
                sd: 1.0,
                half_step: 0.0,
                nuisance,
                turn: Vec::new(),
                foot: foot_mm,
                held: false,
            };
            let value = |nuisance: Vec<(usize, f64)>, x: &[f64]| {
                let mut t = Tangent::new(fields);
                t.take(&row(nuisance), &layout, x);
                (t.value, t.entries().filter(|e| e.0 == at(&axes[0])).map(|e| e.1).sum::<f64>())
            };
            let scaled: Vec<(usize, f64)> = [own.clone(), vec![(at(&scale), 25.0)]].concat();
            let (with, without) = (value(scaled.clone(), &x), value(own, &x));
            assert!((with.0 - without.0 - 0.025).abs() < 1e-12, "{kind:?}: {with:?} {without:?}");
            assert!((with.1 - without.1).abs() < 1e-12 && with.1.abs() > 0.3, "{kind:?}: {with:?} {without:?}");
            let mut moved = x.clone();
            moved[at(&axes[0])] += 1e-5;
            let slope = (value(scaled, &moved).0 - with.0) / 1e-5;
            assert!((slope - with.1).abs() < 1e-4, "{kind:?}: {slope} {with:?}");
        }
    }
}
