//! Populations of tubes, unlike each other and unlike any model's prior.
//!
//! All are invented: nothing is published on the ovality, lobing, bow or twist of dry tube cane, so every figure here is
//! "common practice, no source", chosen within what is known: outside 24 to 27 mm for tubes of about one inch, 0.4 to
//! 1 mm of taper over 200 mm, ovality 0.2 to 1.5 mm (value from memory), fibre lean 0 to 3 deg (value from memory),
//! wrinkles and out-of-round worst near the nodes, that is near the ends.

use super::chance::Chance;
use super::shape::{Ring, TrueTube};
use super::wobble::Wobble;
use std::f64::consts::{PI, TAU};

/// A make of tubes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Population {
    /// Lobes of a few hundredths, long waves, even ovals: the kindest make.
    Smooth,
    /// Lobes three to seven three times as high, swelling and turning along the tube.
    RoughLobes,
    /// Smooth tubes with local flats and bumps of 0.03 to 0.15 mm over some 25 deg by 25 mm.
    Dents,
    /// Lobes to the ninth that fade slowly with their order, uneven along the tube at two lengths.
    SlowDecay,
    /// An oval whose direction turns along the tube, and a groove that runs in from one end.
    Grooves,
    /// Far out of straight: bends at one or two places rather than evenly, up to 10 mm over a tube.
    Crooked,
    /// Most tubes kind and some wild: every scale drawn tube by tube from a heavy-tailed distribution.
    HeavyTails,
}

impl Population {
    /// All of them with a word for tables.
    pub const ALL: [(&str, Population); 7] = [
        ("smooth", Population::Smooth),
        ("rough lobes", Population::RoughLobes),
        ("flats and dents", Population::Dents),
        ("slow decay", Population::SlowDecay),
        ("grooves, turning oval", Population::Grooves),
        ("crooked", Population::Crooked),
        ("heavy tails", Population::HeavyTails),
    ];

    /// Its word.
    #[must_use]
    pub fn word(self) -> &'static str {
        Population::ALL.iter().find(|p| p.1 == self).map_or("", |p| p.0)
    }

    /// Tube number `k` under `seed`.
    #[must_use]
    pub fn grow(self, seed: u64, k: u64) -> TrueTube {
        let mut chance = Chance::of(seed, self.word(), k);
        let c = &mut chance;
        let mut plan = Making::usual(c);
        match self {
            Population::Smooth => plan.cosine_lobes(c, 7, |n| 0.025 * (3.0 / n).powi(3), 0.25, 0.12),
            Population::RoughLobes => {
                plan.cosine_lobes(c, 7, |n| 0.060 * (3.0 / n).powi(2), 0.5, 0.2);
                plan.rough_size(c, 0.006, 30.0);
            }
            Population::Dents => {
                plan.cosine_lobes(c, 7, |n| 0.025 * (3.0 / n).powi(3), 0.25, 0.12);
                plan.dents(c);
            }
            Population::SlowDecay => plan.uneven_lobes(c),
            Population::Grooves => plan.groove(c),
            Population::Crooked => {
                plan.cosine_lobes(c, 7, |n| 0.030 * (3.0 / n).powf(2.0), 0.4, 0.2);
                plan.kinks(c);
            }
            Population::HeavyTails => plan.wild(c),
        }
        plan.tube(format!("{}{:03}", &self.word()[..1].to_uppercase(), k + 1), c)
    }
}

/// One lobe: height `amplitude (1 + swell u) + wobble(z)` at `direction + turn u`, u from -1 to 1 along the tube.
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
struct Kink {
    at: f64,
    over: f64,
    slope: [f64; 2],
}

struct Making {
    length: f64,
    radius: f64,
    taper: f64,
    lobes: Vec<Lobe>,
    dents: Vec<Dent>,
    size: Vec<Wobble>,
    arch: [f64; 2],
    ess: [f64; 2],
    kinks: Vec<Kink>,
    sway: [Vec<Wobble>; 2],
    density: f64,
}

impl Making {
    /// Length, size, taper, an even oval and an even bow as of the kindest make, slightly uneven.
    fn usual(c: &mut Chance) -> Making {
        let length = c.even(150.0, 270.0);
        let grown = (length / 200.0_f64).powi(2);
        let oval = 0.7 * (0.45 * c.normal()).exp();
        let lobe = Lobe {
            order: 2.0,
            amplitude: oval / 4.0,
            direction: c.direction(),
            swell: 0.25 * c.normal(),
            turn: 0.12 * c.normal(),
            wobble: None,
        };
        let wave = |c: &mut Chance| vec![Wobble::waves(c, (40.0, 150.0), 0.005)];
        Making {
            length,
            radius: 12.7 + 0.3 * c.normal(),
            taper: c.side() * (0.4 + 0.25 * c.normal()) * length / 200.0,
            lobes: vec![lobe],
            dents: Vec::new(),
            size: wave(c),
            arch: [1.1 * grown * c.normal(), 1.1 * grown * c.normal()],
            ess: [0.1 * grown * c.normal(), 0.1 * grown * c.normal()],
            kinks: Vec::new(),
            sway: [wave(c), wave(c)],
            density: 550e-6 + 40e-6 * c.normal(),
        }
    }

    /// Lobes from the third to `top`, evenly changing along the tube.
    fn cosine_lobes(&mut self, c: &mut Chance, top: u32, scale: impl Fn(f64) -> f64, swell: f64, turn: f64) {
        for order in (3..=top).map(f64::from) {
            self.lobes.push(Lobe {
                order,
                amplitude: scale(order) * (0.5 * c.normal()).exp(),
                direction: c.direction(),
                swell: swell * c.normal(),
                turn: turn * c.normal(),
                wobble: None,
            });
        }
    }

    fn rough_size(&mut self, c: &mut Chance, sd: f64, reach: f64) {
        self.size.push(Wobble::new(c, self.length, sd, reach));
    }

    /// Flats and bumps: four to twelve a tube, two in three of them flats, 18 to 34 deg and 16 to 36 mm across.
    fn dents(&mut self, c: &mut Chance) {
        let many = c.even(4.0, 12.0);
        let mut made = 0.0;
        while made < many {
            let size = c.even(0.03, 0.15);
            self.dents.push(Dent {
                height: if c.is(2.0 / 3.0) { -size } else { size },
                angle: c.direction(),
                // a bell is seen over some three standard widths
                wide: c.even(18.0, 34.0).to_radians() / 3.0,
                z: c.even(0.0, self.length),
                long: c.even(16.0, 36.0) / 3.0,
                fading: false,
            });
            made += 1.0;
        }
    }

    /// Lobes two to nine, height as order^-1.7, with unevenness of 90 mm and of 18 mm.
    fn uneven_lobes(&mut self, c: &mut Chance) {
        self.lobes.clear();
        for order in (2..=9).map(f64::from) {
            let scale = 0.12 * (2.0 / order).powf(1.7);
            let mut pair = || {
                vec![
                    Wobble::new(c, self.length, 0.25 * scale, 90.0),
                    Wobble::new(c, self.length, 0.004 * (4.0 / order).min(1.0), 18.0),
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
        self.rough_size(c, 0.006, 18.0);
    }

    /// The oval turns by some 30 deg along the tube; a groove comes in from one end, most often where a bud sat; the far
    /// end may have a shallow flat.
    fn groove(&mut self, c: &mut Chance) {
        self.lobes[0].turn = 30_f64.to_radians() * c.normal() / 2.0;
        self.cosine_lobes(c, 5, |n| 0.030 * (3.0 / n).powi(2), 0.3, 0.2);
        let near = c.is(0.5);
        let mut fade = |c: &mut Chance, height: f64, at_index: bool| {
            self.dents.push(Dent {
                height: -height,
                angle: c.direction(),
                wide: c.even(6.0, 14.0).to_radians(),
                z: if at_index { 0.0 } else { self.length },
                long: c.even(15.0, 45.0),
                fading: true,
            });
        };
        let deep = c.even(0.03, 0.30);
        fade(c, deep, near);
        if c.is(0.4) {
            let shallow = c.even(0.02, 0.08);
            fade(c, shallow, !near);
        }
        self.rough_size(c, 0.006, 30.0);
    }

    /// One or two bends of the centreline; half the tubes lie within 3 mm of straight, one in eight beyond 7.
    fn kinks(&mut self, c: &mut Chance) {
        self.arch = self.arch.map(|a| 0.7 * a);
        let n = if c.is(0.4) { 2 } else { 1 };
        for _ in 0..n {
            let (toward, out) = (c.direction(), 2.2 * (0.7 * c.normal()).exp());
            let at = c.even(0.2, 0.8) * self.length;
            // a bend of slope k at a place u of the length stands k L u (1 - u) off the chord
            let slope = out.min(10.0) / (self.length * (at / self.length) * (1.0 - at / self.length));
            let slope = [slope * toward.cos(), slope * toward.sin()];
            self.kinks.push(Kink { at, over: c.even(15.0, 60.0), slope });
        }
    }

    /// Every scale of the smooth make times its own heavy-tailed factor.
    fn wild(&mut self, c: &mut Chance) {
        let mut factor = || (0.6 * c.heavy(3)).clamp(-1.8, 2.2).exp();
        let (lobes, bow, rough, dents) = (factor(), factor(), factor(), factor());
        self.arch = self.arch.map(|a| 0.7 * bow * a);
        self.ess = self.ess.map(|a| bow * a);
        self.cosine_lobes(c, 7, |n| 0.025 * lobes * (3.0 / n).powf(2.2), 0.3 * lobes.min(2.0), 0.2);
        self.rough_size(c, 0.004 * rough, 25.0);
        if dents > 1.5 {
            self.dents(c);
        }
    }

    fn tube(self, name: String, c: &mut Chance) -> TrueTube {
        let Making { length, radius, taper, lobes, dents, size, arch, ess, kinks, sway, density } = self;
        let wall = [3.8 + 0.25 * c.normal(), 0.12 * c.normal(), 0.12 * c.normal()];
        let weight_g = density * PI * (2.0 * radius - wall[0]) * wall[0] * length;
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
            turn_deg: Box::new(|_| 0.0),
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
