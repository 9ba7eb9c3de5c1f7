//! The circle that lies nearest to points of a flat arc, and the slope of curvature across it.

/// Centre and radius of the circle with the least sum of squared distances to the points (true distances, by repeated
/// linearising), started from `guess` = centre x, centre y, radius.
#[must_use]
pub fn nearest_circle(points: &[[f64; 2]], guess: [f64; 3]) -> [f64; 3] {
    let [mut x, mut y, mut r] = guess;
    for _ in 0..40 {
        // normal equations of the three corrections
        let mut m = [[0.0; 4]; 3];
        for p in points {
            let (dx, dy) = (p[0] - x, p[1] - y);
            let d = dx.hypot(dy);
            let row = [dx / d, dy / d, 1.0, d - r];
            for i in 0..3 {
                for j in 0..4 {
                    m[i][j] += row[i] * row[j];
                }
            }
        }
        let step = solve(m);
        (x, y, r) = (x + step[0], y + step[1], r + step[2]);
        if step.iter().all(|s| s.abs() < 1e-7) {
            break;
        }
    }
    [x, y, r]
}

/// Three equations, by elimination with the largest pivot.
fn solve(mut m: [[f64; 4]; 3]) -> [f64; 3] {
    for k in 0..3 {
        let top = (k..3).max_by(|&i, &j| m[i][k].abs().total_cmp(&m[j][k].abs())).unwrap_or(k);
        m.swap(k, top);
        let pivot = m[k];
        for (i, row) in m.iter_mut().enumerate() {
            if i != k {
                let f = row[k] / pivot[k];
                row.iter_mut().zip(&pivot).for_each(|(a, b)| *a -= f * b);
            }
        }
    }
    [0, 1, 2].map(|k| m[k][3] / m[k][k])
}

/// Where the `i`-th of `n` even pieces of a back has its middle, as a share of the way from its own middle to a rail: -1 to 1.
fn share(i: usize, n: usize) -> f64 {
    (2.0 * i as f64 + 1.0) / n as f64 - 1.0
}

/// The back between the rails of a blank `width` wide at direction `a`: half the angle it covers (the chord between its
/// rails is the width), and the radius in the middle of each of `n` even pieces from rail to rail.
pub fn back(ring: &dyn Fn(f64) -> f64, a: f64, width: f64, n: usize) -> (f64, Vec<f64>) {
    let mut phi = (width / 2.0 / ring(a)).clamp(0.0, 1.0).asin();
    for _ in 0..4 {
        phi = (width / (ring(a - phi) + ring(a + phi))).clamp(0.0, 1.0).asin();
    }
    (phi, (0..n).map(|i| ring(a + phi * share(i, n))).collect())
}

/// Diameter of the circle nearest to a back, from its half-angle and its radii.
#[must_use]
pub fn arc_diameter(phi: f64, radii: &[f64]) -> f64 {
    let n = radii.len();
    let points: Vec<[f64; 2]> = radii
        .iter()
        .enumerate()
        .map(|(i, r)| {
            let t = phi * share(i, n);
            [r * t.cos(), r * t.sin()]
        })
        .collect();
    2.0 * nearest_circle(&points, [0.0, 0.0, radii[n / 2]])[2]
}

/// Skew of a back: how much larger the curvature diameter is at its clockwise rail than at the other one, when the
/// curvature is taken to change evenly from rail to rail.
///
/// A radius of curvature `rho0 + k t` is that of `r(t) = r0 + k t` plus a shift of the centre (since the curvature radius
/// of a small departure r is `r + r''`), so the odd half of the radii is matched by `k t + e sin t` in least squares, and
/// the skew, as diameter between `-phi` and `phi`, is `4 phi k`.
#[must_use]
pub fn skew(phi: f64, radii: &[f64]) -> f64 {
    let n = radii.len();
    let (mut tt, mut ts, mut ss, mut to, mut so) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for i in 0..n {
        let t = phi * share(i, n);
        let odd = (radii[i] - radii[n - 1 - i]) / 2.0;
        let s = t.sin();
        tt += t * t;
        ts += t * s;
        ss += s * s;
        to += t * odd;
        so += s * odd;
    }
    4.0 * phi * (to * ss - so * ts) / (tt * ss - ts * ts)
}
