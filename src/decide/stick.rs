//! The gauge stick: where it touches a bark line, how hollow the line is between, how far an end can drop.

#![allow(clippy::needless_range_loop, reason = "the loops run over vector lanes of several arrays at once")]

use super::Lane;
use super::fan::single;

/// Supporting-slope steps allowed for one window. Each step strictly raises the stick's height over the middle and there
/// are finitely many contact pairs; two or three is usual, and the cap only guards against rounding.
const SLOPE_STEPS: usize = 64;
/// Heights closer than this count as equal, mm: a tenth of a micrometre, far below any bark or reading.
pub(crate) const LEVEL_MM: f32 = 1e-4;

/// Hollow and rock of one window on each of several neighbouring bark lines, mm.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Lying {
    pub(crate) hollow: Lane,
    pub(crate) rock: Lane,
}

/// Lays the stick on `heights` (one row per station, an even number of stations, neighbours one step apart).
///
/// The stick's line is the edge of the upper convex hull that spans the window's middle. It is found as the slope at
/// which the highest point of the left half and the highest point of the right half, both seen along the slope, are
/// level: with contact pair (l, r) the next slope joins them. The line's height over the middle cannot fall from one
/// step to the next and rises strictly until no point stands above the line, so the search ends at the hull edge.
/// `slope` (per step) is where the search starts, that of [`at_least`] is near; lines that are not `asked` are laid as far
/// as the others need.
#[inline(always)]
pub(crate) fn lay(heights: &[Lane], mut slope: Lane, asked: &[bool; super::LANES]) -> Lying {
    let half = heights.len() / 2;
    let (left, right) = heights.split_at(half);
    // places are counted in steps from the middle, which lies between two stations
    let x_left = 0.5 - single(crate::numeric::summary::count(half));
    let mut tries = 0;
    loop {
        let a = highest(left, &slope, x_left);
        let b = highest(right, &slope, 0.5);
        let mut worst = 0.0_f32;
        let mut base = a.height;
        for l in 0..super::LANES {
            let over = b.height[l] - a.height[l];
            worst = worst.max(if asked[l] { over.abs() } else { 0.0 });
            // the line through the two points: its height over the middle and its slope
            let turn = over / (b.place[l] - a.place[l]);
            base[l] -= turn * a.place[l];
            slope[l] += turn;
        }
        tries += 1;
        if worst <= LEVEL_MM || tries >= SLOPE_STEPS {
            return gaps(heights, &slope, x_left, &base, &a.place, &b.place);
        }
    }
}

/// What hollow and rock are at least, by the pairs of stations that stand alike on either side of the middle, and the slope
/// of the pair that stands highest over it, per step.
///
/// The stick's line passes the middle no lower than half the heights of any such pair come to. Over the innermost pair
/// its mean gap, and so the larger of the two, is its height there less half of theirs; the ends drop on average by that
/// height less half of theirs.
#[inline(always)]
pub(crate) fn at_least(heights: &[Lane]) -> (Lying, Lane) {
    let half = heights.len() / 2;
    let middle = |i: usize| -> Lane {
        let (a, b) = (&heights[half - 1 - i], &heights[half + i]);
        std::array::from_fn(|l| 0.5 * (a[l] + b[l]))
    };
    let (mut top, mut slope) = ([f32::NEG_INFINITY; super::LANES], [0.0; super::LANES]);
    for i in 0..half {
        let over = 1.0 / single(crate::numeric::summary::count(2 * i + 1));
        let (a, b, here) = (&heights[half - 1 - i], &heights[half + i], middle(i));
        for l in 0..super::LANES {
            let better = here[l] > top[l];
            top[l] = if better { here[l] } else { top[l] };
            slope[l] = if better { over * (b[l] - a[l]) } else { slope[l] };
        }
    }
    let (inner, outer) = (middle(0), middle(half - 1));
    let hollow = std::array::from_fn(|l| top[l] - inner[l]);
    (Lying { hollow, rock: std::array::from_fn(|l| top[l] - outer[l]) }, slope)
}

#[derive(Debug, Clone, Copy)]
struct Top {
    /// height above the slope line through the middle
    height: Lane,
    /// steps from the middle
    place: Lane,
}

#[inline(always)]
fn highest(rows: &[Lane], slope: &Lane, x_first: f32) -> Top {
    let mut top = Top { height: [f32::NEG_INFINITY; super::LANES], place: [x_first; super::LANES] };
    let mut x = x_first;
    for row in rows {
        for l in 0..super::LANES {
            let v = row[l] - slope[l] * x;
            let better = v > top.height[l];
            top.height[l] = if better { v } else { top.height[l] };
            top.place[l] = if better { x } else { top.place[l] };
        }
        x += 1.0;
    }
    top
}

#[inline(always)]
fn gaps(heights: &[Lane], slope: &Lane, x_first: f32, base: &Lane, from: &Lane, to: &Lane) -> Lying {
    let mut hollow = [0.0_f32; super::LANES];
    let mut x = x_first;
    for row in heights {
        for l in 0..super::LANES {
            let gap = base[l] + slope[l] * x - row[l];
            let between = x > from[l] && x < to[l];
            let wide = between && gap > hollow[l];
            hollow[l] = if wide { gap } else { hollow[l] };
        }
        x += 1.0;
    }
    let mut rock = [0.0_f32; super::LANES];
    if let (Some(first), Some(last)) = (heights.first(), heights.last()) {
        for l in 0..super::LANES {
            let at_first = base[l] + slope[l] * x_first - first[l];
            let at_last = base[l] + slope[l] * (x - 1.0) - last[l];
            rock[l] = at_first.max(at_last).max(0.0);
        }
    }
    Lying { hollow, rock }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::LANES;
    use rand::RngExt;

    fn on_one_line(h: &[f64]) -> (f64, f64) {
        let rows: Vec<Lane> = h.iter().map(|&v| [single(v); LANES]).collect();
        let lying = lay(&rows, at_least(&rows).1, &[true; LANES]);
        (f64::from(lying.hollow[0]), f64::from(lying.rock[0]))
    }

    /// Every pair of stations left and right of the middle, the plain way.
    fn by_trying_all_pairs(h: &[f64]) -> (f64, f64) {
        let half = h.len() / 2;
        let x = |i: usize| i as f64 - (half as f64 - 0.5);
        let mut best = (f64::NEG_INFINITY, 0, 0);
        for i in 0..half {
            for j in half..h.len() {
                let v = h[i] + (h[j] - h[i]) * -x(i) / (x(j) - x(i));
                if v > best.0 {
                    best = (v, i, j);
                }
            }
        }
        let (_, i, j) = best;
        let slope = (h[j] - h[i]) / (x(j) - x(i));
        let gap = |k: usize| h[i] + slope * (x(k) - x(i)) - h[k];
        let hollow = (i..=j).map(gap).fold(0.0, f64::max);
        (hollow, gap(0).max(gap(h.len() - 1)))
    }

    #[test]
    fn a_hollow_line_shows_its_sagitta_and_does_not_rock() {
        let n = 36;
        let h: Vec<f64> = (0..n).map(|i| 0.1 * ((i as f64 / 35.0) * 2.0 - 1.0).powi(2)).collect();
        let (hollow, rock) = on_one_line(&h);
        assert!((hollow - 0.1).abs() < 1e-3 && rock < 1e-6, "{hollow} {rock}");
    }

    #[test]
    fn a_crowned_line_rocks_by_its_sagitta_and_shows_no_hollow() {
        let n = 36;
        let h: Vec<f64> = (0..n).map(|i| -0.1 * ((i as f64 / 35.0) * 2.0 - 1.0).powi(2)).collect();
        let (hollow, rock) = on_one_line(&h);
        assert!(hollow < 1e-4 && (rock - 0.1).abs() < 1e-3, "{hollow} {rock}");
    }

    #[test]
    fn a_tilted_line_lies_flat() {
        let h: Vec<f64> = (0..36).map(|i| 0.3 - 0.02 * f64::from(i)).collect();
        let (hollow, rock) = on_one_line(&h);
        assert!(hollow < 1e-5 && rock < 1e-5, "{hollow} {rock}");
    }

    #[test]
    fn the_slope_search_agrees_with_trying_every_pair() {
        let mut rng = crate::numeric::draws::stream(5, "stick", 0);
        let mut near = 0;
        for case in 0..2000 {
            let smooth: [f64; 4] = std::array::from_fn(|_| rng.random::<f64>() - 0.5);
            let rough = if case % 3 == 0 { 0.2 } else { 0.002 };
            let h: Vec<f64> = (0..36)
                .map(|i| {
                    let t = f64::from(i) / 35.0;
                    smooth[0] * t
                        + smooth[1] * (3.0 * t).sin()
                        + smooth[2] * (9.0 * t).cos() * 0.2
                        + rough * (rng.random::<f64>() - 0.5)
                })
                .collect();
            let rows: Vec<Lane> = h.iter().map(|&v| [single(v); LANES]).collect();
            let (least, slope) = at_least(&rows);
            let lying = lay(&rows, slope, &[true; LANES]);
            assert!(
                least.hollow[5] <= lying.hollow[5] + LEVEL_MM && least.rock[5] <= lying.rock[5] + LEVEL_MM,
                "case {case}"
            );
            near += usize::from(least.hollow[5].max(least.rock[5]) > 0.5 * lying.hollow[5].max(lying.rock[5]));
            let (hollow, rock) = by_trying_all_pairs(&h);
            assert!((f64::from(lying.hollow[3]) - hollow).abs() < 2e-4, "case {case}: {} {hollow}", lying.hollow[3]);
            assert!((f64::from(lying.rock[3]) - rock).abs() < 1e-3, "case {case}: {} {rock}", lying.rock[3]);
        }
        assert!(near > 1300, "a bound that says little: {near}");
    }
}
