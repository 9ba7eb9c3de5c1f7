//! A tube whose every dimension is known.

use std::f64::consts::TAU;

/// The bark radius about the centreline at one place, as a function of the direction.
pub type Ring = Box<dyn Fn(f64) -> f64 + Send + Sync>;

/// Any function along the tube.
pub type Along<T> = Box<dyn Fn(f64) -> T + Send + Sync>;

/// A true tube: bark point `P(a, z) = axis(z) + R(a, z) (cos a, sin a)`.
pub struct TrueTube {
    /// Name.
    pub name: String,
    /// Length, mm.
    pub length_mm: f64,
    /// Weight, g.
    pub weight_g: f64,
    /// The bark radius round one place.
    pub ring: Along<Ring>,
    /// The centreline.
    pub axis: Along<[f64; 2]>,
    /// Wall thickness by direction and place.
    pub wall: Box<dyn Fn(f64, f64) -> f64 + Send + Sync>,
    /// How far a fibre has gone round the tube since the index end, degrees clockwise.
    pub turn_deg: Along<f64>,
}

impl std::fmt::Debug for TrueTube {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "tube {} of {:.1} mm", self.name, self.length_mm)
    }
}

impl TrueTube {
    /// A round, straight tube with true grain and an ample wall: the plain start for a made-up one.
    #[must_use]
    pub fn round(length_mm: f64, radius_mm: f64) -> TrueTube {
        TrueTube {
            name: "round".into(),
            length_mm,
            weight_g: 30.0,
            ring: Box::new(move |_| Box::new(move |_| radius_mm)),
            axis: Box::new(|_| [0.0; 2]),
            wall: Box::new(|_, _| 5.0),
            turn_deg: Box::new(|_| 0.0),
        }
    }

    /// Radius about the centreline.
    #[must_use]
    pub fn radius(&self, a: f64, z: f64) -> f64 {
        (self.ring)(z)(a)
    }

    /// Height of the bark line at `a` over the z axis.
    #[must_use]
    pub fn height(&self, a: f64, z: f64) -> f64 {
        let [x, y] = (self.axis)(z);
        self.radius(a, z) + x * a.cos() + y * a.sin()
    }

    /// Points of the bark round one place, `n` of them from direction `from` to `to`, ends included.
    #[must_use]
    pub fn arc_points(&self, z: f64, from: f64, to: f64, n: usize) -> Vec<[f64; 2]> {
        let (ring, [x, y]) = ((self.ring)(z), (self.axis)(z));
        (0..n)
            .map(|i| from + (to - from) * i as f64 / (n - 1).max(1) as f64)
            .map(|b| (ring(b), b))
            .map(|(r, b)| [x + r * b.cos(), y + r * b.sin()])
            .collect()
    }

    /// Points of the bark all round one place.
    #[must_use]
    pub fn outline(&self, z: f64, n: usize) -> Vec<[f64; 2]> {
        self.arc_points(z, 0.0, TAU * (1.0 - 1.0 / n as f64), n)
    }

    /// Mean radius at one place.
    #[must_use]
    pub fn mean_radius(&self, z: f64) -> f64 {
        let ring = (self.ring)(z);
        (0..360).map(|i| ring(f64::from(i).to_radians())).sum::<f64>() / 360.0
    }
}
