//! A rigid frame laid into a scan.

/// An origin and three directions at right angles, right-handed; the third is the axis.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Frame {
    origin: [f64; 3],
    axes: [[f64; 3]; 3],
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

fn unit(a: [f64; 3]) -> [f64; 3] {
    let n = dot(a, a).sqrt();
    if n > 0.0 { a.map(|v| v / n) } else { [0.0, 0.0, 1.0] }
}

impl Frame {
    /// The frame with this axis whose x lies as near `x` as a right angle allows.
    pub(super) fn new(origin: [f64; 3], x: [f64; 3], axis: [f64; 3]) -> Frame {
        let z = unit(axis);
        let lean = dot(x, z);
        let x = unit([0, 1, 2].map(|i| x[i] - lean * z[i]));
        Frame { origin, axes: [x, cross(z, x), z] }
    }

    /// The same place with another of the three directions as axis.
    pub(super) fn turned(&self, which: usize) -> Frame {
        let [x, y, z] = self.axes;
        match which % 3 {
            0 => Frame::new(self.origin, x, z),
            1 => Frame::new(self.origin, y, x),
            _ => Frame::new(self.origin, z, y),
        }
    }

    /// A point in this frame.
    pub(super) fn local(&self, p: [f64; 3]) -> [f64; 3] {
        let d = [0, 1, 2].map(|i| p[i] - self.origin[i]);
        self.axes.map(|a| dot(a, d))
    }

    /// The frame whose axis is the line `at + slope * z` of this one.
    pub(super) fn along_line(&self, at: [f64; 2], slope: [f64; 2]) -> Frame {
        let [x, y, z] = self.axes;
        let origin = [0, 1, 2].map(|i| self.origin[i] + at[0] * x[i] + at[1] * y[i]);
        let axis = [0, 1, 2].map(|i| z[i] + slope[0] * x[i] + slope[1] * y[i]);
        Frame::new(origin, x, axis)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_point_on_the_new_axis_has_no_x_and_y() {
        let f = Frame::new([1.0, 2.0, 3.0], [1.0, 0.2, 0.0], [0.3, 0.4, 1.0]);
        for (i, a) in f.axes.iter().enumerate() {
            for (j, b) in f.axes.iter().enumerate() {
                assert!((dot(*a, *b) - f64::from(u8::from(i == j))).abs() < 1e-14);
            }
        }
        let g = f.along_line([0.5, -0.2], [0.01, 0.03]);
        let on = [0, 1, 2].map(|i| f.origin[i] + 0.7 * f.axes[0][i] + 0.4 * f.axes[1][i] + 20.0 * f.axes[2][i]);
        let p = g.local(on);
        assert!(p[0].abs() < 1e-12 && p[1].abs() < 1e-12, "{p:?}");
        assert!(dot(cross(g.axes[0], g.axes[1]), g.axes[2]) > 0.999);
    }
}
