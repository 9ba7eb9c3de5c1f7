//! A linear quantity of a surface: what its doubt can be asked of.

use super::fields::Fields;
use crate::domain::Angle;

/// A quantity counts as seen when the readings at least halve the standard deviation it had before them.
const SEEN_SHARE: f64 = 0.5;

/// One term of a quantity: `factor` times a field at a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Term {
    /// Place, mm from the index end.
    pub z_mm: f64,
    /// Place of the field in a row.
    pub field: usize,
    /// Its factor.
    pub factor: f64,
}

/// A sum of terms over a surface with given fields, built up piece by piece.
///
/// # Example
/// How far the bark at 30 deg stands above the chord between two places 70 mm apart: what a gauge stick feels there.
/// ```
/// use quarterlight::domain::Angle;
/// use quarterlight::tube::{Fields, Quantity};
/// let (fields, a) = (Fields { top: 2, wall: false, twist: false }, Angle::from_degrees(30.0));
/// let hollow = Quantity::of(fields).height(85.0, a, 1.0).height(50.0, a, -0.5).height(120.0, a, -0.5);
/// // R0, a2, b2, cx and cy at each of three places
/// assert_eq!(hollow.terms().len(), 15);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Quantity {
    fields: Fields,
    terms: Vec<Term>,
}

impl Quantity {
    /// Nothing yet, of a surface with these fields.
    #[must_use]
    pub fn of(fields: Fields) -> Quantity {
        Quantity { fields, terms: Vec::new() }
    }

    /// Its terms, in the order they were added.
    #[must_use]
    pub fn terms(&self) -> &[Term] {
        &self.terms
    }

    /// With `factor` times one field at `z_mm` (see [`Fields`] for its place).
    #[must_use]
    pub fn field(mut self, z_mm: f64, field: usize, factor: f64) -> Quantity {
        self.terms.push(Term { z_mm, field, factor });
        self
    }

    /// With `factor` times the mean of one field over a tube of `length_mm`, taken at five even places.
    #[must_use]
    pub fn mean(mut self, length_mm: f64, field: usize, factor: f64) -> Quantity {
        for share in [0.1, 0.3, 0.5, 0.7, 0.9] {
            self = self.field(share * length_mm, field, 0.2 * factor);
        }
        self
    }

    /// With `factor` times the lobes in direction `angle`, lobe n magnified `gain(n)` times.
    #[must_use]
    pub fn waves(mut self, z_mm: f64, angle: Angle, factor: f64, gain: impl Fn(usize) -> f64) -> Quantity {
        for wave in self.fields.waves(angle.radians()) {
            let by = factor * gain(wave.n);
            self = self.field(z_mm, wave.at, by * wave.cos).field(z_mm, wave.at + 1, by * wave.sin);
        }
        self
    }

    /// With `factor` times the radius about the section's own centre.
    #[must_use]
    pub fn radius(self, z_mm: f64, angle: Angle, factor: f64) -> Quantity {
        self.field(z_mm, Fields::R0, factor).waves(z_mm, angle, factor, |_| 1.0)
    }

    /// With `factor` times the height of the bark line.
    #[must_use]
    pub fn height(self, z_mm: f64, angle: Angle, factor: f64) -> Quantity {
        let ((s, c), centre) = (angle.sin_cos(), self.fields.centre());
        self.radius(z_mm, angle, factor).field(z_mm, centre, factor * c).field(z_mm, centre + 1, factor * s)
    }

    /// With `factor` times the wall; `None` where the fields hold none.
    #[must_use]
    pub fn wall(self, z_mm: f64, angle: Angle, factor: f64) -> Option<Quantity> {
        let at = self.fields.wall_at()?;
        let (s, c) = angle.sin_cos();
        Some(self.field(z_mm, at, factor).field(z_mm, at + 1, factor * c).field(z_mm, at + 2, factor * s))
    }
}

/// How surely a quantity is known, and how surely it was before any reading; in its own unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Doubt {
    /// Standard deviation with the readings.
    pub sd: f64,
    /// Standard deviation before any reading.
    pub prior_sd: f64,
}

impl Doubt {
    /// Whether the readings see the quantity: whether they at least halve its doubt.
    #[must_use]
    pub fn seen(self) -> bool {
        self.sd <= SEEN_SHARE * self.prior_sd
    }

    /// Of the quantity times `by`.
    #[must_use]
    pub fn times(self, by: f64) -> Doubt {
        Doubt { sd: by * self.sd, prior_sd: by * self.prior_sd }
    }

    /// The one of two that is seen less well; this one of equals.
    #[must_use]
    pub(super) fn or_less_seen(self, other: Doubt) -> Doubt {
        if other.sd / other.prior_sd > self.sd / self.prior_sd { other } else { self }
    }
}

#[cfg(test)]
mod tests {
    use super::super::section::Section;
    use super::*;

    /// The quantity of one section.
    fn value(q: &Quantity, row: &[f64]) -> f64 {
        q.terms().iter().map(|t| t.factor * row[t.field]).sum()
    }

    #[test]
    fn radius_height_and_wall_are_those_of_the_section() {
        let fields = Fields { top: 4, wall: true, twist: false };
        let row = [12.7, 0.2, -0.1, 0.03, 0.04, 0.01, -0.02, 0.5, -0.25, 3.5, 0.3, -0.2];
        let section = Section::new(fields, &row);
        for deg in [0.0, 77.0, 200.0] {
            let a = Angle::from_degrees(deg);
            let of = |q: Quantity| value(&q, &row);
            assert!((of(Quantity::of(fields).radius(1.0, a, 1.0)) - section.radius_mm(a)).abs() < 1e-12);
            assert!((of(Quantity::of(fields).height(1.0, a, -2.0)) + 2.0 * section.height_mm(a)).abs() < 1e-12);
            let wall = Quantity::of(fields).wall(1.0, a, 1.0).expect("carried");
            assert!((of(wall) - section.wall_mm(a).expect("known")).abs() < 1e-12);
        }
        assert!(Quantity::of(Fields { wall: false, ..fields }).wall(1.0, Angle::ZERO, 1.0).is_none());
    }

    #[test]
    fn a_quantity_is_seen_when_its_doubt_is_halved() {
        let doubt = |sd: f64| Doubt { sd, prior_sd: 0.2 };
        assert!(doubt(0.1).seen() && !doubt(0.11).seen() && !Doubt { sd: f64::NAN, prior_sd: 0.2 }.seen());
        assert_eq!(doubt(0.1).or_less_seen(doubt(0.05)), doubt(0.1));
        let unseen = Doubt { sd: 0.1, prior_sd: 0.1 };
        assert_eq!(doubt(0.1).or_less_seen(unseen), unseen);
    }
}
