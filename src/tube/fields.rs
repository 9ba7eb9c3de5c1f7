//! Which numbers the shape of a section is made of, and how they enter it.

/// Which fields a surface is made of, and where each stands in a row.
///
/// A row holds `R0, a2, b2, ..., aN, bN, cx, cy`, where the wall is known `w0, wc, ws`, and where fibres were followed the
/// turn of the grain. The bark radius about the centreline is `R(a) = R0 + sum_n (an cos na + bn sin na)`, the wall
/// `w0 + wc cos a + ws sin a`; all mm. The turn is how far the fibre has gone round the tube, degrees clockwise: only its
/// changes along the tube mean anything, and its slope is the twist.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fields {
    /// Highest harmonic N, at least 2.
    pub top: usize,
    /// Whether the wall fields are there.
    pub wall: bool,
    /// Whether the turn of the grain is there.
    pub twist: bool,
}

impl Fields {
    /// Place of the mean radius.
    pub const R0: usize = 0;

    /// Number of fields.
    #[must_use]
    pub fn count(self) -> usize {
        self.outside() + if self.wall { 3 } else { 0 } + usize::from(self.twist)
    }

    /// Number of fields of the outside shape (without the wall).
    #[must_use]
    pub fn outside(self) -> usize {
        1 + 2 * (self.top - 1) + 2
    }

    /// Place of `an`; `bn` stands right behind it.
    #[must_use]
    pub fn harmonic(self, n: usize) -> usize {
        1 + 2 * (n - 2)
    }

    /// Place of `cx`; `cy` stands right behind it.
    #[must_use]
    pub fn centre(self) -> usize {
        self.outside() - 2
    }

    /// Place of `w0`; `wc` and `ws` stand behind it. `None` where the wall is not known.
    #[must_use]
    pub fn wall_at(self) -> Option<usize> {
        self.wall.then(|| self.outside())
    }

    /// Place of the turn of the grain, degrees. `None` where no fibre was followed.
    #[must_use]
    pub fn turn_at(self) -> Option<usize> {
        self.twist.then(|| self.count() - 1)
    }

    /// The lobes in direction `a` (radians), n = 2 to N: how the fields enter `R(a)` beside the mean radius.
    pub(super) fn waves(self, a: f64) -> impl Iterator<Item = Wave> {
        // from wave to wave by the sum of angles: one sine for all of them, n rounding errors for the n-th
        let (s, c) = a.sin_cos();
        let (mut sin, mut cos) = (s, c);
        (2..=self.top).map(move |n| {
            (sin, cos) = (sin * c + cos * s, cos * c - sin * s);
            Wave { n, at: self.harmonic(n), cos, sin }
        })
    }

    /// Adds `factor` times the gradient of `R(a)` by the fields; `a` in radians. `gradient` has one place per field.
    pub(super) fn add_radius(self, a: f64, factor: f64, gradient: &mut [f64]) {
        gradient[Fields::R0] += factor;
        for wave in self.waves(a) {
            gradient[wave.at] += factor * wave.cos;
            gradient[wave.at + 1] += factor * wave.sin;
        }
    }

    /// Adds `factor` times the gradient of the height `h(a) = R(a) + cx cos a + cy sin a` by the fields; `a` in radians.
    pub(super) fn add_height(self, a: f64, factor: f64, gradient: &mut [f64]) {
        self.add_radius(a, factor, gradient);
        let ((s, c), centre) = (a.sin_cos(), self.centre());
        gradient[centre] += factor * c;
        gradient[centre + 1] += factor * s;
    }

    /// Adds `factor` times the gradient of the wall at `a` (radians) by the fields; nothing where the wall is not known.
    pub(super) fn add_wall(self, a: f64, factor: f64, gradient: &mut [f64]) {
        let Some(at) = self.wall_at() else { return };
        let (s, c) = a.sin_cos();
        gradient[at] += factor;
        gradient[at + 1] += factor * c;
        gradient[at + 2] += factor * s;
    }
}

/// One lobe seen in one direction: with `an` and `bn` at `at` and `at + 1` of a row it stands `an cos na + bn sin na` high.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Wave {
    /// Its number n.
    pub(super) n: usize,
    /// Place of `an`; `bn` stands right behind it.
    pub(super) at: usize,
    /// `cos na`.
    pub(super) cos: f64,
    /// `sin na`.
    pub(super) sin: f64,
}

impl Wave {
    /// Its height where the fields are `row`, mm.
    #[must_use]
    pub(super) fn height_mm(self, row: &[f64]) -> f64 {
        row[self.at] * self.cos + row[self.at + 1] * self.sin
    }

    /// Change of its height with the angle, mm per radian, divided by n.
    #[must_use]
    pub(super) fn slope_mm(self, row: &[f64]) -> f64 {
        row[self.at + 1] * self.cos - row[self.at] * self.sin
    }
}
