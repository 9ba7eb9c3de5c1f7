//! What tubes are like before anything is measured: the scales of the prior, and how little is known of them.

use super::law::{self, BEND_OF_TILT, ESS_OF_TILT, FACTORS, LAW, OWN_SD, ScaleDoubt};
use super::texture::Texture;
use crate::domain::{Kind, PopulationOverride, SCALE_RANGE};
use crate::numeric::summary::count;
use std::collections::{BTreeMap, BTreeSet};

/// Knot spacing at which roughness is stated, mm.
pub(super) const ROUGH_SPACING_MM: f64 = 18.0;
/// Length over which tilt and bend are stated, mm.
pub(super) const SPAN_MM: f64 = 200.0;
/// Highest harmonic that is carried, whatever the readings: lobes no reading tells apart still decide whether a stick
/// rests, so they have to stay in the doubt. What is finer is texture.
pub const TOP: usize = 9;

/// Name of the distance over which unevenness along the tube reaches, in two parts as the scales of fields are.
pub(super) const REACH: [&str; 2] = ["unevenness", "reach"];

/// Name of the fine texture of the bark.
pub(super) const TEXTURE: &str = "texture_mm";

/// The parts of a field's scale.
pub const PARTS: [&str; 5] = ["level", "tilt", "bend", "ess", "rough"];
/// Place of the last of them.
pub(super) const ROUGH: usize = 4;

/// Name of a part of a field's scale; of the part behind them the reach.
pub(super) fn scale_name(group: &str, part: usize) -> String {
    format!("{group}_{}", PARTS.get(part).unwrap_or(&REACH[1]))
}

/// Prior standard deviations of one field along the tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldScale {
    /// Of its mean over the length, mm.
    pub level: f64,
    /// Of its even change over 200 mm, mm.
    pub tilt: f64,
    /// Of its even curving, as the sagitta over 200 mm, mm.
    pub bend: f64,
    /// Of its S-shaped part, as the departure from the line between its ends to either side over 200 mm, mm.
    pub ess: f64,
    /// Of what is left locally: of the second difference of values 18 mm apart, mm.
    pub rough: f64,
}

impl FieldScale {
    /// In the order of [`PARTS`].
    pub(super) fn parts_mut(&mut self) -> [&mut f64; PARTS.len()] {
        [&mut self.level, &mut self.tilt, &mut self.bend, &mut self.ess, &mut self.rough]
    }
}

/// The scales of the prior, each under a name by which `lot.toml` can fix it.
///
/// No distribution of ovality, lobing, bow or unevenness of dry tube cane is published: the built-in centre is "common
/// practice, no source", and every scale carries a wide doubt ([`ScaleDoubt`]) that lots narrow for themselves.
#[derive(Debug, Clone, PartialEq)]
pub struct Population {
    /// Mean radius; its level is about half the target arc diameter.
    pub radius: FieldScale,
    /// Each of `an`, `bn` for n = 2 to 9.
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
    /// Fine texture of the bark: what is too short for any field, and no reading error.
    pub texture: Texture,
    /// Distance beyond which the unevenness of the outside at two places has nothing to do with each other, mm.
    pub reach_mm: f64,
    /// By how much the noise of an instrument (kind, rig) is larger than it states.
    pub noise: BTreeMap<(Kind, String), f64>,
    /// Names that `lot.toml` fixes.
    pub(super) fixed: BTreeSet<String>,
    /// How unsure all scales are.
    pub(super) doubt: ScaleDoubt,
    /// How much lobes, bow and unevenness of one tube differ from its lot's, sd of the logarithm.
    pub(super) own_sd: [f64; FACTORS],
}

impl Default for Population {
    fn default() -> Self {
        // what is 1 here the law sets
        let scale = |level, tilt| FieldScale { level, tilt, bend: 1.0, ess: 1.0, rough: 1.0 };
        let none = scale(1.0, 1.0);
        let bare = Population {
            // the size of a tube is no guess from its lot: the maker bought it for its arc
            radius: scale(1.5, 1.0),
            lobes: vec![none; TOP - 1],
            centre: scale(0.05, 0.05),
            wall: scale(0.60, 1.0),
            wall_lean: none,
            wall_mm: 3.6,
            twist: scale(20.0, 1.0),
            texture: Texture::BUILT_IN,
            reach_mm: 1.0,
            noise: BTreeMap::new(),
            fixed: BTreeSet::new(),
            doubt: ScaleDoubt::before(),
            own_sd: OWN_SD,
        };
        scales_at(&ScaleDoubt::before().mean, &bare)
    }
}

/// Names under `[population]` that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("lot.toml, [population]: {} cannot be used", .names.join(", "))]
pub struct PopulationError {
    /// The names: no scale is called so, or the value is not within [`SCALE_RANGE`].
    pub names: Vec<String>,
}

impl Population {
    /// The built-in set with the named scales replaced and held there.
    ///
    /// Names: `radius_level`, `lobe2_rough`, `centre_bend`, `wall_tilt`, `wall_lean_level`, `wall_mm`, `twist_tilt`,
    /// `unevenness_reach`, `texture_mm` and so on.
    ///
    /// # Errors
    /// [`PopulationError`] with the names that are not scales, or whose value is not within [`SCALE_RANGE`].
    pub fn with(overrides: &PopulationOverride) -> Result<Population, PopulationError> {
        let mut p = Population::default();
        let mut bad = Vec::new();
        for (name, &value) in overrides {
            match p.scale_mut(name) {
                Some(place) if (SCALE_RANGE.0..=SCALE_RANGE.1).contains(&value) => {
                    *place = value;
                    p.fixed.insert(name.clone());
                }
                _ => bad.push(name.clone()),
            }
        }
        if p.is_fixed(TEXTURE) {
            p.texture.log_sd = 0.0;
        }
        if bad.is_empty() { Ok(p) } else { Err(PopulationError { names: bad }) }
    }

    /// The same with every scale held as it stands here: for tubes whose scales are known.
    #[must_use]
    pub fn held(mut self) -> Population {
        let fields = ["radius", "centre", "wall", "wall_lean", "twist"].map(String::from);
        let lobes = (2..self.lobes.len() + 2).map(|n| format!("lobe{n}"));
        for field in fields.into_iter().chain(lobes) {
            self.fixed.extend(PARTS.map(|part| format!("{field}_{part}")));
        }
        self.fixed.insert(REACH.join("_"));
        self.doubt = ScaleDoubt::none();
        self
    }

    /// The place of a named figure.
    pub(super) fn scale_mut(&mut self, name: &str) -> Option<&mut f64> {
        match name {
            "wall_mm" => return Some(&mut self.wall_mm),
            TEXTURE => return Some(&mut self.texture.mm),
            "unevenness_reach" => return Some(&mut self.reach_mm),
            _ => {}
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
        let part = PARTS.iter().position(|p| *p == part)?;
        scale.parts_mut().into_iter().nth(part)
    }

    /// The scale of harmonic `n`, n = 2 to 9; beyond, that of the highest.
    #[must_use]
    pub fn lobe(&self, n: usize) -> FieldScale {
        self.lobes[n.clamp(2, self.lobes.len() + 1) - 2]
    }

    /// By how much the noise of this kind and rig is larger than stated.
    #[must_use]
    pub fn noise_of(&self, kind: Kind, rig: &str) -> f64 {
        self.noise.get(&(kind, rig.to_string())).copied().unwrap_or(1.0)
    }

    /// True of a scale that is held where it stands, whatever a lot's readings say.
    #[must_use]
    pub fn is_fixed(&self, name: &str) -> bool {
        self.fixed.contains(name)
    }

    /// How unsure the scales are.
    #[must_use]
    pub fn doubt(&self) -> &ScaleDoubt {
        &self.doubt
    }
}

/// The scales the law gives at `theta`; what `start` holds fixed, and what the law does not move, stays as in `start`.
pub(super) fn scales_at(theta: &[f64], start: &Population) -> Population {
    let mut p = start.clone();
    // no number of the law may run away from what any tube could be
    let size = |i: usize| (theta[i] - LAW[i].centre).clamp(-4.0, 4.0);
    let exp = |i: usize| (LAW[i].centre + size(i)).exp();
    let decay = |exponent: f64, n: usize| (3.0 / count(n)).powf(exponent.clamp(0.0, 5.0));
    let (level_falls, rough_falls) = (LAW[law::LOBE_DECAY].centre + size(law::LOBE_DECAY), exp(law::ROUGH_DECAY));
    for n in 2..=TOP {
        let level = if n == 2 { exp(law::OVAL_LEVEL) } else { exp(law::LOBE_LEVEL) * decay(level_falls, n) };
        let tilt = level * exp(law::LOBE_TILT);
        // the oval is no rougher than the third lobe by the law's own slope
        let rough = exp(law::LOBE_ROUGH) * decay(rough_falls, n);
        p.lobes[n - 2] = FieldScale { level, tilt, bend: BEND_OF_TILT * tilt, ess: ESS_OF_TILT * tilt, rough };
    }
    p.radius.tilt = exp(law::RADIUS_TILT);
    p.radius.bend = BEND_OF_TILT * p.radius.tilt;
    p.radius.ess = ESS_OF_TILT * p.radius.tilt;
    p.radius.rough = exp(law::RADIUS_ROUGH);
    p.centre.bend = exp(law::CENTRE_BEND);
    p.centre.ess = exp(law::CENTRE_ESS);
    p.centre.rough = exp(law::CENTRE_ROUGH);
    p.wall.tilt = exp(law::WALL_TILT);
    p.wall.bend = BEND_OF_TILT * p.wall.tilt;
    p.wall.ess = ESS_OF_TILT * p.wall.tilt;
    p.wall.rough = exp(law::WALL_ROUGH);
    let lean = exp(law::WALL_LEAN);
    p.wall_lean = FieldScale {
        level: lean,
        tilt: lean / 2.0,
        bend: 0.15 * lean,
        ess: ESS_OF_TILT * lean / 2.0,
        rough: p.wall.rough * 2.0 / 3.0,
    };
    p.twist.tilt = exp(law::TWIST_TILT);
    p.twist.bend = p.twist.tilt / 6.0;
    p.twist.ess = ESS_OF_TILT * p.twist.tilt;
    p.twist.rough = exp(law::TWIST_ROUGH);
    p.reach_mm = exp(law::REACH);
    let mut held = start.clone();
    for name in &start.fixed {
        if let (Some(kept), Some(place)) = (held.scale_mut(name).map(|v| *v), p.scale_mut(name)) {
            *place = kept;
        }
    }
    p
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scales_are_replaced_by_name_and_bad_names_are_told() {
        let over = PopulationOverride::from([("lobe3_level".into(), 0.08), ("centre_bend".into(), 1.0)]);
        let p = Population::with(&over).expect("good names");
        assert!((p.lobes[1].level - 0.08).abs() < 1e-15 && (p.centre.bend - 1.0).abs() < 1e-15);
        let bad = PopulationOverride::from([
            ("lobe1_level".into(), 0.1),
            ("lobe2_rough".into(), 1e-300),
            ("radius_level".into(), -1.0),
        ]);
        let told = Population::with(&bad).expect_err("bad names");
        assert_eq!(told.names, ["lobe1_level", "lobe2_rough", "radius_level"]);
        let said = "lot.toml, [population]: lobe1_level, lobe2_rough, radius_level cannot be used";
        assert_eq!(told.to_string(), said);
    }

    #[test]
    fn lobes_fall_off_by_the_law_and_the_centre_is_the_built_in_set() {
        let p = Population::default();
        assert!((p.lobe(2).level - 0.20).abs() < 1e-3 && (p.lobe(3).level - 0.035).abs() < 1e-4);
        // (3/6)^2.2 = 0.2176
        assert!((p.lobe(6).level / p.lobe(3).level - 0.2176).abs() < 1e-3);
        assert!((p.lobe(6).rough / p.lobe(3).rough - 0.5).abs() < 1e-9);
        assert!((p.centre.bend - 1.3).abs() < 1e-3 && (p.twist.tilt - 24.0).abs() < 0.01);
    }

    #[test]
    fn a_fixed_scale_stays_when_the_others_move() {
        let over = PopulationOverride::from([("lobe3_level".into(), 0.08)]);
        let p = Population::with(&over).expect("good name");
        let mut theta = p.doubt.mean.clone();
        theta.iter_mut().for_each(|t| *t += 0.5);
        let moved = scales_at(&theta, &p);
        assert!((moved.lobe(3).level - 0.08).abs() < 1e-15);
        assert!(moved.lobe(4).level > 1.1 * p.lobe(4).level);
    }
}
