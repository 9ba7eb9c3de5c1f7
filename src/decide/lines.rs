//! Sections made ready for many bark lines side by side, in single precision.

#![allow(clippy::needless_range_loop, reason = "the loops run over vector lanes of several arrays at once")]

use super::back::BackGains;
use super::fan::{Fan, single};
use super::{LANES, Lane};
use crate::tube::{Fields, Sections};

/// How the row of a section reads on `LANES` bark lines; one entry per field (of the range each is used with).
#[derive(Debug, Clone)]
pub(super) struct LineFactors {
    pub(super) height: Vec<Lane>,
    pub(super) radius: Vec<Lane>,
    pub(super) shift_out: Vec<Lane>,
    pub(super) shift_side: Vec<Lane>,
    pub(super) skew: Vec<Lane>,
    /// how the once-round wall stands on a line, and how it climbs there
    pub(super) wall: [Lane; 2],
    pub(super) wall_slope: [Lane; 2],
}

impl LineFactors {
    pub(super) fn new(block: usize, fields: Fields, gains: &BackGains) -> LineFactors {
        let lanes = |f: &dyn Fn(f64) -> f64| -> Lane {
            std::array::from_fn(|l| single(f(Fan::line_angle(block * LANES + l).radians())))
        };
        let lobes = |g: &dyn Fn(usize) -> f64, odd: bool| -> Vec<Lane> {
            let turn = |n: usize, a: f64| (crate::numeric::summary::count(n) * a).sin_cos();
            (2..=fields.top)
                .flat_map(|n| {
                    // E_n = an cos + bn sin; O_n = bn cos - an sin
                    let first = lanes(&|a| g(n) * if odd { -turn(n, a).0 } else { turn(n, a).1 });
                    let second = lanes(&|a| g(n) * if odd { turn(n, a).1 } else { turn(n, a).0 });
                    [first, second]
                })
                .collect()
        };
        let mut height = vec![lanes(&|_| 1.0)];
        height.extend(lobes(&|_| 1.0, false));
        height.extend([lanes(&f64::cos), lanes(&f64::sin)]);
        LineFactors {
            height,
            radius: lobes(&|n| gains.radius[n], false),
            shift_out: lobes(&|n| gains.shift_out[n], false),
            shift_side: lobes(&|n| gains.shift_side[n], true),
            skew: lobes(&|n| gains.skew[n], true),
            wall: [lanes(&f64::cos), lanes(&f64::sin)],
            wall_slope: [lanes(&|a| -a.sin()), lanes(&f64::cos)],
        }
    }
}

/// Sum of the fields times their factors, lane by lane.
#[inline(always)]
pub(super) fn weigh(values: &[f32], factors: &[Lane]) -> Lane {
    let mut sum = [0.0_f32; LANES];
    for (v, f) in values.iter().zip(factors) {
        for l in 0..LANES {
            sum[l] += v * f[l];
        }
    }
    sum
}

/// Rows in single precision, the mean radius held as a departure from half the target diameter.
pub(super) struct SingleRows {
    pub(super) width: usize,
    pub(super) count: usize,
    pub(super) radius: f32,
    pub(super) values: Vec<f32>,
}

impl SingleRows {
    pub(super) fn between(sections: &Sections, places: std::ops::Range<usize>, arc_target_mm: f64) -> SingleRows {
        let width = sections.fields().count();
        let mut values = Vec::with_capacity(width * places.len());
        let count = places.len();
        for j in places {
            let row = sections.row(j);
            values.push(single(row[Fields::R0] - arc_target_mm / 2.0));
            values.extend(row[1..].iter().map(|&v| single(v)));
        }
        SingleRows { width, count, radius: single(arc_target_mm / 2.0), values }
    }

    pub(super) fn row(&self, j: usize) -> &[f32] {
        &self.values[j * self.width..(j + 1) * self.width]
    }
}

#[derive(Default)]
pub(super) struct LineBlock {
    pub(super) height: Vec<Lane>,
    pub(super) arc: Vec<Lane>,
    pub(super) skew: Vec<Lane>,
    pub(super) wall: Vec<Lane>,
}

impl LineBlock {
    pub(super) fn resize(&mut self, n: usize, wall: bool) {
        for v in [&mut self.height, &mut self.arc, &mut self.skew] {
            v.resize(n, [0.0; LANES]);
        }
        self.wall.resize(if wall { n } else { 0 }, [0.0; LANES]);
    }
}

#[inline(always)]
pub(super) fn add(sum: &mut Lane, row: &Lane, sign: f32) {
    for l in 0..LANES {
        sum[l] += sign * row[l];
    }
}

#[inline(always)]
pub(super) fn sum_of(rows: &[Lane]) -> Lane {
    rows.iter().fold([0.0; LANES], |mut sum, row| {
        add(&mut sum, row, 1.0);
        sum
    })
}

#[inline(always)]
pub(super) fn least_of(rows: &[Lane]) -> Lane {
    rows.iter().fold([f32::INFINITY; LANES], |least, row| std::array::from_fn(|l| least[l].min(row[l])))
}
