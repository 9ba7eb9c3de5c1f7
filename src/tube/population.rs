//! What tubes are like before anything is measured: the scales of the prior.

use crate::domain::PopulationOverride;

/// Knot spacing at which roughness is stated, mm.
pub const ROUGH_SPACING_MM: f64 = 18.0;
/// Length over which tilt and bend are stated, mm.
pub const SPAN_MM: f64 = 200.0;

/// Prior standard deviations of one field along the tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldScale {
    /// Of its mean over the length, mm.
    pub level: f64,
    /// Of its even change over 200 mm, mm.
    pub tilt: f64,
    /// Of its even curving, as the sagitta over 200 mm, mm.
    pub bend: f64,
    /// Of what is left locally: of the second difference of neighbouring spline coefficients 18 mm apart, mm.
    pub rough: f64,
}

/// Names under `[population]` that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("lot.toml, [population]: {} cannot be used", .names.join(", "))]
pub struct PopulationError {
    /// The names: no scale is called so, or the value is not positive.
    pub names: Vec<String>,
}

/// A documented set of prior scales, named so that it can be replaced from `lot.toml`.
///
/// The built-in figures are for dry tube cane of about one inch. No distribution of its ovality, lobing or bow is
/// published; the figures are "common practice, no source" and chosen wide, so that a dozen readings outweigh them.
#[derive(Debug, Clone, PartialEq)]
pub struct Population {
    /// Mean radius; its level is about half the target arc diameter.
    pub radius: FieldScale,
    /// Each of `an`, `bn` for n = 2, 3, ...; the last entry stands for its own n, higher n shrink as 1/n^2.
    pub lobes: Vec<FieldScale>,
    /// Each of `cx`, `cy`. Level and tilt only fix the frame: a straight centreline anywhere is the same tube.
    pub centre: FieldScale,
    /// Mean wall.
    pub wall: FieldScale,
    /// Each of the two once-round parts of the wall.
    pub wall_lean: FieldScale,
    /// Mean wall expected, mm.
    pub wall_mm: f64,
    /// Turn of the grain, in degrees instead of mm: its tilt is how far a fibre goes round in 200 mm. The level only fixes
    /// where the turn is counted from.
    pub twist: FieldScale,
}

impl Default for Population {
    fn default() -> Self {
        let scale = |level, tilt, bend, rough| FieldScale { level, tilt, bend, rough };
        Population {
            radius: scale(1.5, 0.30, 0.05, 0.010),
            lobes: vec![
                scale(0.20, 0.12, 0.020, 0.0060),
                scale(0.030, 0.02, 0.008, 0.0040),
                scale(0.010, 0.008, 0.003, 0.0015),
                scale(0.005, 0.004, 0.002, 0.0010),
                scale(0.003, 0.002, 0.001, 0.0006),
            ],
            centre: scale(0.05, 0.05, 1.30, 0.035),
            wall: scale(0.60, 0.20, 0.05, 0.015),
            wall_lean: scale(0.20, 0.10, 0.03, 0.010),
            wall_mm: 3.6,
            // fibres lean 0 to 3 deg to the axis (value from memory, no distribution is published); 1.5 deg, taken as one
            // sd, carry a fibre 200 tan(1.5 deg) = 5.2 mm or 24 deg round a one-inch tube
            twist: scale(20.0, 24.0, 4.0, 0.5),
        }
    }
}

impl Population {
    /// The built-in set with the named scales replaced.
    ///
    /// Names: `radius_level`, `lobe2_rough`, `centre_bend`, `wall_tilt`, `wall_lean_level`, `wall_mm`, `twist_tilt` and so
    /// on.
    ///
    /// # Errors
    /// [`PopulationError`] with the names that are not scales, or whose value is not positive.
    pub fn with(overrides: &PopulationOverride) -> Result<Population, PopulationError> {
        let mut p = Population::default();
        let mut names = Vec::new();
        for (name, &value) in overrides {
            match p.scale_mut(name) {
                Some(place) if value.is_finite() && value > 0.0 => *place = value,
                _ => names.push(name.clone()),
            }
        }
        if names.is_empty() { Ok(p) } else { Err(PopulationError { names }) }
    }

    fn scale_mut(&mut self, name: &str) -> Option<&mut f64> {
        if name == "wall_mm" {
            return Some(&mut self.wall_mm);
        }
        let (field, part) = name.rsplit_once('_')?;
        let scale = match field {
            "radius" => &mut self.radius,
            "centre" => &mut self.centre,
            "wall" => &mut self.wall,
            "wall_lean" => &mut self.wall_lean,
            "twist" => &mut self.twist,
            _ => {
                let n: usize = field.strip_prefix("lobe")?.parse().ok()?;
                self.lobes.get_mut(n.checked_sub(2)?)?
            }
        };
        match part {
            "level" => Some(&mut scale.level),
            "tilt" => Some(&mut scale.tilt),
            "bend" => Some(&mut scale.bend),
            "rough" => Some(&mut scale.rough),
            _ => None,
        }
    }

    /// The scale of harmonic `n`, n >= 2.
    #[must_use]
    pub fn lobe(&self, n: usize) -> FieldScale {
        let at = n.saturating_sub(2);
        if let Some(s) = self.lobes.get(at) {
            return *s;
        }
        let last_n = crate::numeric::summary::count(self.lobes.len() + 1);
        let shrink = (last_n / crate::numeric::summary::count(n)).powi(2);
        let s = self.lobes.last().copied().unwrap_or(FieldScale { level: 0.1, tilt: 0.1, bend: 0.1, rough: 0.1 });
        FieldScale { level: s.level * shrink, tilt: s.tilt * shrink, bend: s.bend * shrink, rough: s.rough * shrink }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scales_are_replaced_by_name_and_bad_names_are_told() {
        let over = PopulationOverride::from([("lobe3_level".into(), 0.08), ("centre_bend".into(), 1.0)]);
        let p = Population::with(&over).expect("good names");
        assert!((p.lobes[1].level - 0.08).abs() < 1e-15 && (p.centre.bend - 1.0).abs() < 1e-15);
        let bad = PopulationOverride::from([("lobe1_level".into(), 0.1), ("radius_level".into(), -1.0)]);
        let told = Population::with(&bad).expect_err("bad names");
        assert_eq!(told.names, ["lobe1_level", "radius_level"]);
        assert_eq!(told.to_string(), "lot.toml, [population]: lobe1_level, radius_level cannot be used");
    }
}
