//! What one tube is made of: numbers drawn for it, and the surface they describe.

use super::chance::Chance;
use super::numbers::Numbers;
use super::shape::{Ring, TrueTube};
use super::wobble::Wobble;
use serde::Serialize;
use std::f64::consts::{PI, TAU};

/// One lobe: height `amplitude (1 + swell u) + wobble(z)` at `direction + turn u`, u from -1 to 1 along the tube.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct Lobe {
    order: f64,
    amplitude: f64,
    direction: f64,
    swell: f64,
    turn: f64,
    /// unevenness of its two components
    wobble: Option<[Vec<Wobble>; 2]>,
}

/// A local rise (or fall, when negative) of the bark: bell-shaped round the tube and along it.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct Dent {
    height: f64,
    angle: f64,
    /// standard width round the tube, radians
    wide: f64,
    z: f64,
    /// standard width along the tube, mm
    long: f64,
    /// true: from `z` on it fades as exp(-distance / long) instead
    fading: bool,
}

/// A bend of the centreline at one place: straight on either side, round over `over` mm.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct Kink {
    at: f64,
    over: f64,
    slope: [f64; 2],
}

/// What one tube is made of, every number of it: the centreline, the size, the lobes, what stands out of them, the wall.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Form {
    /// Name.
    pub name: String,
    /// Length.
    pub length_mm: f64,
    /// Mean radius.
    pub radius_mm: f64,
    /// Change of the diameter from end to end.
    pub taper_mm: f64,
    lobes: Vec<Lobe>,
    dents: Vec<Dent>,
    size: Vec<Wobble>,
    arch_mm: [f64; 2],
    ess_mm: [f64; 2],
    kinks: Vec<Kink>,
    sway: [Vec<Wobble>; 2],
    density_g_mm3: f64,
    /// even part, and what changes once round by cosine and sine
    wall_mm: [f64; 3],
    fibre_deg_per_mm: f64,
}

impl Form {
    /// Draws a tube of these numbers from the stream for (seed, word, number).
    #[must_use]
    pub fn draw(n: &Numbers, name: String, of: (u64, &str, u64)) -> Form {
        let mut chance = Chance::of(of.0, of.1, of.2);
        let c = &mut chance;
        let mut form = Form::usual(n, name, c);
        // wild: every scale times its own heavy-tailed factor
        let mut factor = || if n.wild > 0.0 { (n.wild * c.heavy(3)).clamp(-1.8, 2.2).exp() } else { 1.0 };
        let (lobes, bow, rough, dents) = (factor(), factor(), factor(), factor());
        form.arch_mm = form.arch_mm.map(|a| n.bow_share * bow * a);
        form.ess_mm = form.ess_mm.map(|a| bow * a);
        if n.uneven_mm > 0.0 {
            form.uneven_lobes(n, c);
        }
        if n.turning_oval_deg > 0.0
            && let Some(oval) = form.lobes.first_mut()
        {
            oval.turn = n.turning_oval_deg.to_radians() * c.normal() / 2.0;
        }
        form.cosine_lobes(n, lobes, c);
        if n.groove_most_mm > 0.0 {
            form.groove(n, c);
        }
        if n.size_rough_mm > 0.0 {
            form.rough_size(c, n.size_rough_mm * rough, n.size_reach_mm);
        }
        // of wild tubes only some
        if n.dents_most > 0.0 && (n.wild <= 0.0 || dents > 1.5) {
            form.dents(n, c);
        }
        if n.kink_mm > 0.0 {
            form.kinks(n, c);
        }
        form.inside(n, c);
        form
    }

    /// Whether cane could be so.
    ///
    /// # Errors
    /// What it is that it could not be.
    pub fn possible(&self) -> Result<(), &'static str> {
        let tube = self.clone().tube();
        let wall = |a: f64| self.wall_mm[0] + self.wall_mm[1] * a.cos() + self.wall_mm[2] * a.sin();
        let round = || (0..72).map(|i| f64::from(5 * i).to_radians());
        for z in (0..=24).map(|i| self.length_mm * f64::from(i) / 24.0) {
            let ring = (tube.ring)(z);
            if round().any(|a| ring(a) < wall(a) + 1.0) {
                return Err("there is no bore left in it");
            }
            let mean = tube.mean_radius(z);
            if round().any(|a| (ring(a) / mean - 1.0).abs() > 0.25) {
                return Err("it is further out of round than a quarter of its radius");
            }
        }
        if round().any(|a| wall(a) < 0.3) {
            return Err("its wall is thinner than 0.3 mm");
        }
        let far = |z: f64| {
            let [x, y] = (tube.axis)(z);
            x.hypot(y)
        };
        if (0..=24).any(|i| far(self.length_mm * f64::from(i) / 24.0) > 0.2 * self.length_mm) {
            return Err("it is bent by more than a fifth of its length");
        }
        if self.density_g_mm3 <= 0.0 {
            return Err("it weighs nothing");
        }
        Ok(())
    }

    /// Weight, g.
    #[must_use]
    pub fn weight_g(&self) -> f64 {
        let wall = self.wall_mm[0];
        self.density_g_mm3 * PI * (2.0 * self.radius_mm - wall) * wall * self.length_mm
    }

    /// Mean wall, mm.
    #[must_use]
    pub fn mean_wall_mm(&self) -> f64 {
        self.wall_mm[0]
    }

    /// Length, size, taper, an even oval and an even bow as of the kindest make, slightly uneven.
    fn usual(n: &Numbers, name: String, c: &mut Chance) -> Form {
        let length = c.even(n.length_least_mm, n.length_most_mm);
        let grown = (length / 200.0_f64).powi(2);
        let oval = n.ovality_mm * (n.ovality_log_sd * c.normal()).exp();
        let lobe = Lobe {
            order: 2.0,
            amplitude: oval / 4.0,
            direction: c.direction(),
            swell: n.oval_swell * c.normal(),
            turn: n.oval_turn * c.normal(),
            wobble: None,
        };
        let wave = |c: &mut Chance| vec![Wobble::waves(c, (40.0, 150.0), n.wave_mm)];
        Form {
            name,
            length_mm: length,
            radius_mm: n.radius_mm + n.radius_sd_mm * c.normal(),
            taper_mm: c.side() * (n.taper_mm + n.taper_sd_mm * c.normal()) * length / 200.0,
            lobes: vec![lobe],
            dents: Vec::new(),
            size: wave(c),
            arch_mm: [n.bow_mm * grown * c.normal(), n.bow_mm * grown * c.normal()],
            ess_mm: [n.ess_mm * grown * c.normal(), n.ess_mm * grown * c.normal()],
            kinks: Vec::new(),
            sway: [wave(c), wave(c)],
            density_g_mm3: n.density_g_mm3 + n.density_sd_g_mm3 * c.normal(),
            wall_mm: [0.0; 3],
            fibre_deg_per_mm: 0.0,
        }
    }

    /// Lobes from the third to `top`, evenly changing along the tube.
    fn cosine_lobes(&mut self, n: &Numbers, factor: f64, c: &mut Chance) {
        let mut order = 3.0;
        while order <= n.lobe_top {
            let fade = n.lobe_fade;
            #[allow(clippy::cast_possible_truncation, reason = "a whole number below ten")]
            let fallen =
                if fade.fract() == 0.0 { (3.0 / order).powi(fade as i32) } else { f64::powf(3.0 / order, fade) };
            self.lobes.push(Lobe {
                order,
                amplitude: n.lobe_mm * factor * fallen * (n.lobe_log_sd * c.normal()).exp(),
                direction: c.direction(),
                swell: n.lobe_swell * factor.min(2.0) * c.normal(),
                turn: n.lobe_turn * c.normal(),
                wobble: None,
            });
            order += 1.0;
        }
    }

    fn rough_size(&mut self, c: &mut Chance, sd: f64, reach: f64) {
        self.size.push(Wobble::new(c, self.length_mm, sd, reach));
    }

    /// Flats and bumps: four to twelve a tube, two in three of them flats, 18 to 34 deg and 16 to 36 mm across.
    fn dents(&mut self, n: &Numbers, c: &mut Chance) {
        let many = c.even(n.dents_fewest, n.dents_most);
        let mut made = 0.0;
        while made < many {
            let size = c.even(n.dent_least_mm, n.dent_most_mm);
            self.dents.push(Dent {
                height: if c.is(2.0 / 3.0) { -size } else { size },
                angle: c.direction(),
                // a bell is seen over some three standard widths
                wide: c.even(18.0, 34.0).to_radians() / 3.0,
                z: c.even(0.0, self.length_mm),
                long: c.even(16.0, 36.0) / 3.0,
                fading: false,
            });
            made += 1.0;
        }
    }

    /// Lobes two to nine, height as order^-1.7, with unevenness of 90 mm and of 18 mm.
    fn uneven_lobes(&mut self, n: &Numbers, c: &mut Chance) {
        self.lobes.clear();
        for order in (2..=9).map(f64::from) {
            let scale = n.uneven_mm * (2.0 / order).powf(n.uneven_fade);
            let mut pair = || {
                vec![
                    Wobble::new(c, self.length_mm, n.uneven_share * scale, 90.0),
                    Wobble::new(c, self.length_mm, n.uneven_short_mm * (4.0 / order).min(1.0), 18.0),
                ]
            };
            let wobble = Some([pair(), pair()]);
            self.lobes.push(Lobe {
                order,
                amplitude: scale * c.normal().hypot(c.normal()),
                direction: c.direction(),
                swell: 0.0,
                turn: 0.0,
                wobble,
            });
        }
    }

    /// A groove comes in from one end, most often where a bud sat; the far
    /// end may have a shallow flat.
    fn groove(&mut self, n: &Numbers, c: &mut Chance) {
        let near = c.is(0.5);
        let mut fade = |c: &mut Chance, height: f64, at_index: bool| {
            self.dents.push(Dent {
                height: -height,
                angle: c.direction(),
                wide: c.even(6.0, 14.0).to_radians(),
                z: if at_index { 0.0 } else { self.length_mm },
                long: c.even(15.0, 45.0),
                fading: true,
            });
        };
        let deep = c.even(n.groove_least_mm, n.groove_most_mm);
        fade(c, deep, near);
        if c.is(0.4) {
            let shallow = c.even(0.02, 0.08);
            fade(c, shallow, !near);
        }
    }

    /// One or two bends of the centreline; half the tubes lie within 3 mm of straight, one in eight beyond 7.
    fn kinks(&mut self, n: &Numbers, c: &mut Chance) {
        let many = if c.is(n.second_kink) { 2 } else { 1 };
        for _ in 0..many {
            let (toward, out) = (c.direction(), n.kink_mm * (n.kink_log_sd * c.normal()).exp());
            let at = c.even(0.2, 0.8) * self.length_mm;
            // a bend of slope k at a place u of the length stands k L u (1 - u) off the chord
            let slope =
                out.min(n.kink_most_mm) / (self.length_mm * (at / self.length_mm) * (1.0 - at / self.length_mm));
            let slope = [slope * toward.cos(), slope * toward.sin()];
            self.kinks.push(Kink { at, over: c.even(15.0, 60.0), slope });
        }
    }

    /// A bark whose wall and fibre are drawn last.
    fn inside(&mut self, n: &Numbers, c: &mut Chance) {
        self.wall_mm =
            [n.wall_mm + n.wall_sd_mm * c.normal(), n.wall_lean_mm * c.normal(), n.wall_lean_mm * c.normal()];
        if n.fibre_lean_deg > 0.0 {
            let lean = (n.fibre_lean_deg * c.normal()).to_radians();
            self.fibre_deg_per_mm = (lean.tan() / self.radius_mm).to_degrees();
        }
    }

    /// The tube itself.
    #[must_use]
    pub fn tube(self) -> TrueTube {
        let weight_g = self.weight_g();
        let Form { name, length_mm: length, radius_mm: radius, taper_mm: taper, lobes, dents, size, .. } = self;
        let (arch, ess, kinks, sway) = (self.arch_mm, self.ess_mm, self.kinks, self.sway);
        let (wall, fibre) = (self.wall_mm, self.fibre_deg_per_mm);
        let ring = move |z: f64| -> Ring {
            let u = 2.0 * z / length - 1.0;
            let r0 = radius + taper / 4.0 * u + size.iter().map(|w| w.at(z)).sum::<f64>();
            // the components of every lobe, and the height of every dent here
            let waves: Vec<[f64; 3]> = lobes.iter().map(|l| l.components(z, u)).collect();
            let local: Vec<[f64; 3]> =
                dents.iter().map(|d| [d.height_at(z), d.angle, d.wide]).filter(|d| d[0].abs() > 1e-7).collect();
            Box::new(move |a: f64| {
                let mut r = r0;
                for [n, even, odd] in &waves {
                    let (s, co) = (n * a).sin_cos();
                    r += even * co + odd * s;
                }
                for [height, angle, wide] in &local {
                    let d = (a - angle + PI).rem_euclid(TAU) - PI;
                    r += height * (-0.5 * (d / wide).powi(2)).exp();
                }
                r
            })
        };
        let axis = move |z: f64| {
            let u = 2.0 * z / length - 1.0;
            let (even, odd) = (1.0 - u * u, (PI * u).sin());
            [0, 1].map(|i| {
                let bent: f64 = kinks.iter().map(|k| k.slope[i] * k.off(z, length)).sum();
                arch[i] * even + ess[i] * odd + bent + sway[i].iter().map(|w| w.at(z)).sum::<f64>()
            })
        };
        TrueTube {
            name,
            length_mm: length,
            weight_g,
            ring: Box::new(ring),
            axis: Box::new(axis),
            wall: Box::new(move |a, _| wall[0] + wall[1] * a.cos() + wall[2] * a.sin()),
            turn_deg: Box::new(move |z| fibre * z),
        }
    }
}

impl Lobe {
    fn components(&self, z: f64, u: f64) -> [f64; 3] {
        let height = self.amplitude * (1.0 + self.swell * u);
        let (s, c) = (self.order * (self.direction + self.turn * u)).sin_cos();
        let extra = |i: usize| self.wobble.as_ref().map_or(0.0, |w| w[i].iter().map(|w| w.at(z)).sum());
        [self.order, height * c + extra(0), height * s + extra(1)]
    }
}

impl Dent {
    fn height_at(&self, z: f64) -> f64 {
        let d = (z - self.z) / self.long;
        self.height * if self.fading { (-d.abs()).exp() } else { (-0.5 * d * d).exp() }
    }
}

impl Kink {
    /// How far the bent line stands off the straight one between the tube's ends, per unit of slope.
    fn off(&self, z: f64, length: f64) -> f64 {
        // a softened ramp: its slope goes from 0 to 1 over about `over`
        let s = self.over / 4.0;
        let ramp = |z: f64| s * ((z - self.at) / s).exp().ln_1p();
        let (from, to) = (ramp(0.0), ramp(length));
        from + (to - from) * z / length - ramp(z)
    }
}
