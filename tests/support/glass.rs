//! Draws what a scanner would see of sawn ends on its glass: rings whose every size is known. Shares nothing with the crate.
//!
//! Light is linear until the very end; edges are covered by 4 x 4 samples a pixel, then blurred by a Gaussian, coded as sRGB
//! (IEC 61966-2-1) and given noise. Millimetres, angles in radians; screen angles run clockwise from the right.

#![allow(dead_code, reason = "every test uses its own part of it")]

use std::f64::consts::TAU;

/// Samples a pixel side.
const SAMPLES: usize = 4;

/// A sawn end.
#[derive(Debug, Clone)]
pub struct End {
    /// Where its middle lies on the glass.
    pub at: [f64; 2],
    /// Mean radius, and lobes: (number, height, direction of the first crest in the tube's own frame).
    pub radius: f64,
    pub lobes: Vec<(f64, f64, f64)>,
    /// Bore: radius, middle against the bark's in the tube's own frame, and its ovality (height, direction).
    pub bore: f64,
    pub bore_at: [f64; 2],
    pub bore_oval: (f64, f64),
    /// Screen angle of the index line.
    pub turn: f64,
    /// True for a far end: its own angles then run anticlockwise on the glass.
    pub far: bool,
    /// The tick: width and how far it leans from bark to bore, mm; none where it was lost.
    pub tick: Option<(f64, f64)>,
}

impl End {
    /// A plain oval end with a bore off its middle and a tick half a millimetre wide.
    pub fn plain(at: [f64; 2], turn_deg: f64, far: bool) -> End {
        End {
            at,
            radius: 12.6,
            lobes: vec![(2.0, 0.18, 0.7), (3.0, 0.07, 2.0), (5.0, 0.02, 0.3)],
            bore: 8.9,
            bore_at: [0.25, -0.15],
            bore_oval: (0.12, 1.1),
            turn: turn_deg.to_radians(),
            far,
            tick: Some((0.5, 0.0)),
        }
    }

    /// Radius of the bark in a direction of the tube's own frame.
    pub fn bark(&self, own: f64) -> f64 {
        self.radius + self.lobes.iter().map(|(n, height, crest)| height * (n * (own - crest)).cos()).sum::<f64>()
    }

    /// Radius of the bore about the bark's middle in a direction of the tube's own frame.
    pub fn hole(&self, own: f64) -> f64 {
        let [x, y] = self.bore_at;
        let (along, across) = (x * own.cos() + y * own.sin(), y * own.cos() - x * own.sin());
        let r = self.bore + self.bore_oval.0 * (2.0 * (own - self.bore_oval.1)).cos();
        along + (r * r - across * across).sqrt()
    }

    /// The tube's own direction of a screen angle.
    pub fn own(&self, screen: f64) -> f64 {
        if self.far { self.turn - screen } else { screen - self.turn }
    }
}

/// What may go wrong on a page.
#[derive(Debug, Clone)]
pub enum Flaw {
    /// A fibre: from, to, width; as bright as a face.
    Fibre([f64; 2], [f64; 2], f64),
    /// Light on the ground beside a place: middle, radius of its soft rim, strength.
    Glow([f64; 2], f64, f64),
    /// A shadow: the same, taking light away from ground and face alike.
    Shadow([f64; 2], f64, f64),
}

/// A page.
#[derive(Debug, Clone)]
pub struct Page {
    /// Size, mm.
    pub size: [f64; 2],
    /// Pixels per inch, across and down, as they truly are.
    pub dpi: [f64; 2],
    pub ends: Vec<End>,
    /// The scale card: its middle and its turn; mm truly printed for each mm meant, along and across.
    pub card: Option<([f64; 2], f64, [f64; 2])>,
    pub flaws: Vec<Flaw>,
    /// Linear light of the ground, of faces and of bores.
    pub ground: f64,
    pub face: f64,
    pub hole: f64,
    /// How much brighter faces are at the right of a ring than at its left.
    pub glare: f64,
    /// Spread of the blur, pixels, and of the noise, coded values.
    pub blur: f64,
    pub noise: f64,
    pub seed: u64,
}

impl Page {
    /// An empty dark page.
    pub fn dark(size: [f64; 2], dpi: f64) -> Page {
        Page {
            size,
            dpi: [dpi; 2],
            ends: Vec::new(),
            card: None,
            flaws: Vec::new(),
            ground: 0.012,
            face: 0.45,
            hole: 0.02,
            glare: 0.15,
            blur: 0.8,
            noise: 3.0,
            seed: 1,
        }
    }

    pub fn pixels(&self) -> [usize; 2] {
        [0, 1].map(|k| whole(self.size[k] * self.dpi[k] / 25.4))
    }

    /// The page as coded bytes, rows from the top.
    pub fn draw(&self) -> Vec<u8> {
        let [w, h] = self.pixels();
        let ground = code(self.ground);
        let mut out = vec![0_u8; w * h];
        let mut noise = Noise(self.seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
        for p in &mut out {
            *p = byte(ground + self.noise * noise.next());
        }
        for (from, to) in self.busy() {
            self.draw_box(from, to, &mut out, &mut noise);
        }
        out
    }

    /// Boxes, mm, in which there is more than ground.
    fn busy(&self) -> Vec<([f64; 2], [f64; 2])> {
        let mut boxes: Vec<([f64; 2], [f64; 2])> = self
            .ends
            .iter()
            .map(|e| (e.at, e.radius + 1.5))
            .map(|(at, r)| ([at[0] - r, at[1] - r], [at[0] + r, at[1] + r]))
            .collect();
        if let Some((at, turn, _)) = self.card {
            let (s, c) = (turn.sin().abs(), turn.cos().abs());
            let [x, y] = [81.0 * c + 41.0 * s, 81.0 * s + 41.0 * c];
            boxes.push(([at[0] - x, at[1] - y], [at[0] + x, at[1] + y]));
        }
        for f in &self.flaws {
            match f {
                Flaw::Fibre(a, b, _) => boxes
                    .push(([a[0].min(b[0]) - 1.0, a[1].min(b[1]) - 1.0], [a[0].max(b[0]) + 1.0, a[1].max(b[1]) + 1.0])),
                Flaw::Glow(at, r, _) | Flaw::Shadow(at, r, _) => {
                    boxes.push(([at[0] - 3.0 * r, at[1] - 3.0 * r], [at[0] + 3.0 * r, at[1] + 3.0 * r]));
                }
            }
        }
        boxes
    }

    fn draw_box(&self, from: [f64; 2], to: [f64; 2], out: &mut [u8], noise: &mut Noise) {
        let [w, h] = self.pixels();
        let per = self.dpi.map(|d| d / 25.4);
        let low = [0, 1].map(|k| whole((from[k] * per[k]).max(0.0)));
        let high = [whole((to[0] * per[0]).max(0.0)).min(w), whole((to[1] * per[1]).max(0.0)).min(h)];
        if low[0] >= high[0] || low[1] >= high[1] {
            return;
        }
        // room for the blur all round, cut off afterwards
        let rim = whole(4.0 * self.blur) + 1;
        let (tw, th) = (high[0] - low[0] + 2 * rim, high[1] - low[1] + 2 * rim);
        let mut light = vec![0.0; tw * th];
        for (i, l) in light.iter_mut().enumerate() {
            let x = low[0] as f64 - rim as f64 + (i % tw) as f64;
            let y = low[1] as f64 - rim as f64 + (i / tw) as f64;
            *l = self.pixel([x, y], per);
        }
        blur(&mut light, tw, self.blur);
        for y in low[1]..high[1] {
            for x in low[0]..high[0] {
                let l = light[(y - low[1] + rim) * tw + x - low[0] + rim];
                out[y * w + x] = byte(code(l) + self.noise * noise.next());
            }
        }
    }

    /// Mean light over a pixel.
    fn pixel(&self, [x, y]: [f64; 2], per: [f64; 2]) -> f64 {
        let at = |fx: f64, fy: f64| self.light([(x + fx) / per[0], (y + fy) / per[1]]);
        let corners = [at(0.05, 0.05), at(0.95, 0.05), at(0.05, 0.95), at(0.95, 0.95)];
        let (low, high) = corners.iter().fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(*v), h.max(*v)));
        if high - low < 0.02 {
            return corners.iter().sum::<f64>() / 4.0;
        }
        let n = SAMPLES as f64;
        let sum: f64 = (0..SAMPLES * SAMPLES)
            .map(|k| at(((k % SAMPLES) as f64 + 0.5) / n, ((k / SAMPLES) as f64 + 0.5) / n))
            .sum();
        sum / (n * n)
    }

    /// Light at a place of the glass.
    fn light(&self, p: [f64; 2]) -> f64 {
        let mut light = self.ground;
        if let Some(l) = self.card.and_then(|card| card_light(card, p)) {
            light = l;
        }
        for f in &self.flaws {
            match f {
                Flaw::Glow(at, r, strength) => light += strength * bump(p, *at, *r),
                Flaw::Shadow(at, r, strength) => light *= 1.0 - strength * bump(p, *at, *r),
                Flaw::Fibre(a, b, wide) if from_line(p, *a, *b) < wide / 2.0 => light = self.face,
                Flaw::Fibre(..) => {}
            }
        }
        for e in &self.ends {
            let d = [p[0] - e.at[0], p[1] - e.at[1]];
            let r = d[0].hypot(d[1]);
            if r > e.radius + 1.5 {
                continue;
            }
            let own = e.own(d[1].atan2(d[0]));
            let (bark, hole) = (e.bark(own), e.hole(own));
            if r >= bark {
                continue;
            }
            if r < hole {
                light = self.hole;
                continue;
            }
            light = self.face * (1.0 + self.glare * d[0] / e.radius) * vessels(p);
            if let Some((wide, lean)) = e.tick {
                // a straight line from the bark at angle 0 to the bore, where it stands `lean` aside
                let (along, across) = (r * own.cos(), r * own.sin());
                let aside = across - lean * (e.bark(0.0) - along) / (e.bark(0.0) - e.hole(0.0));
                if along > 0.0 && aside.abs() < wide / 2.0 {
                    light *= 0.15;
                }
            }
            for f in &self.flaws {
                if let Flaw::Shadow(at, r, strength) = f {
                    light *= 1.0 - strength * bump(p, *at, *r);
                }
            }
        }
        light
    }
}

/// Light of the card where it lies: white paper, black discs of 5 mm every 20 mm, 8 by 4 without the first.
fn card_light((at, turn, print): ([f64; 2], f64, [f64; 2]), p: [f64; 2]) -> Option<f64> {
    let d = [p[0] - at[0], p[1] - at[1]];
    let (s, c) = turn.sin_cos();
    let (u, v) = ((d[0] * c + d[1] * s) / print[0], (d[1] * c - d[0] * s) / print[1]);
    if u.abs() > 79.0 || v.abs() > 39.0 {
        return None;
    }
    let (i, j) = ((u / 20.0 + 3.5).round().clamp(0.0, 7.0), (v / 20.0 + 1.5).round().clamp(0.0, 3.0));
    let from = ((u - 20.0 * (i - 3.5)) * print[0]).hypot((v - 20.0 * (j - 1.5)) * print[1]);
    Some(if from < 2.5 && (i > 0.0 || j > 0.0) { 0.02 } else { 0.85 })
}

/// The dots that vessels make on a face.
fn vessels(p: [f64; 2]) -> f64 {
    let cell = [(p[0] / 0.45).floor(), (p[1] / 0.45).floor()];
    let mix = |k: f64| {
        let h = (cell[0] * 127.1 + cell[1] * 311.7 + k * 74.7).sin() * 43_758.545;
        h - h.floor()
    };
    let middle = [(cell[0] + 0.3 + 0.4 * mix(1.0)) * 0.45, (cell[1] + 0.3 + 0.4 * mix(2.0)) * 0.45];
    let near = (p[0] - middle[0]).hypot(p[1] - middle[1]) < 0.06 + 0.06 * mix(3.0);
    if near { 0.72 } else { 0.95 + 0.1 * mix(4.0) }
}

/// 1 at the middle, 0 beyond three radii, smooth.
fn bump(p: [f64; 2], at: [f64; 2], r: f64) -> f64 {
    let q = (p[0] - at[0]).hypot(p[1] - at[1]) / r;
    (-0.5 * q * q).exp()
}

fn from_line(p: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    let d = [b[0] - a[0], b[1] - a[1]];
    let t = (((p[0] - a[0]) * d[0] + (p[1] - a[1]) * d[1]) / (d[0] * d[0] + d[1] * d[1])).clamp(0.0, 1.0);
    (p[0] - a[0] - t * d[0]).hypot(p[1] - a[1] - t * d[1])
}

/// Gaussian blur along rows and columns.
fn blur(light: &mut [f64], width: usize, sigma: f64) {
    if sigma <= 0.0 {
        return;
    }
    let reach = whole(4.0 * sigma) + 1;
    let weights: Vec<f64> =
        (0..=2 * reach).map(|k| (-0.5 * ((k as f64 - reach as f64) / sigma).powi(2)).exp()).collect();
    let total: f64 = weights.iter().sum();
    let height = light.len() / width;
    for (along, count, stride, step) in [(width, height, width, 1), (height, width, 1, width)] {
        for line in 0..count {
            let old: Vec<f64> = (0..along).map(|k| light[line * stride + k * step]).collect();
            for k in 0..along {
                let sum: f64 = weights
                    .iter()
                    .enumerate()
                    .map(|(j, w)| w * old[(k + j).saturating_sub(reach).min(along - 1)])
                    .sum();
                light[line * stride + k * step] = sum / total;
            }
        }
    }
}

/// sRGB code of linear light, 0 to 255, not rounded.
fn code(l: f64) -> f64 {
    255.0 * if l <= 0.003_130_8 { 12.92 * l.max(0.0) } else { 1.055 * l.min(1.0).powf(1.0 / 2.4) - 0.055 }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "kept within a byte")]
fn byte(v: f64) -> u8 {
    v.round().clamp(0.0, 255.0) as u8
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "callers keep it small and positive")]
pub fn whole(v: f64) -> usize {
    v.max(0.0) as usize
}

/// Nearly normal numbers: sums of four even ones.
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f64 {
        let mut sum = 0.0;
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        for k in 0..4 {
            sum += ((self.0 >> (16 * k)) & 0xffff) as f64 / 65_536.0 - 0.5;
        }
        sum * 3.0_f64.sqrt()
    }
}

/// As PNG, with a resolution in pixels per metre if stated.
pub fn png(pixels: &[u8], [w, h]: [usize; 2], dpi: Option<[f64; 2]>) -> Vec<u8> {
    let mut out = Vec::new();
    let side = |n: usize| u32::try_from(n).expect("small");
    let mut encoder = png::Encoder::new(&mut out, side(w), side(h));
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::Fastest);
    if let Some(dpi) = dpi {
        let [xppu, yppu] = dpi.map(|d| side(whole((d / 0.0254).round())));
        encoder.set_pixel_dims(Some(png::PixelDimensions { xppu, yppu, unit: png::Unit::Meter }));
    }
    encoder.write_header().expect("heading").write_image_data(pixels).expect("pixels");
    out
}

/// As JPEG in grey, with its density.
pub fn jpeg(pixels: &[u8], [w, h]: [usize; 2], dpi: u16, quality: u8) -> Vec<u8> {
    let mut out = Vec::new();
    let mut encoder = jpeg_encoder::Encoder::new(&mut out, quality);
    encoder
        .set_density(jpeg_encoder::PixelDensity { density: (dpi, dpi), unit: jpeg_encoder::PixelDensityUnit::Inches });
    let side = |n: usize| u16::try_from(n).expect("small");
    encoder.encode(pixels, side(w), side(h), jpeg_encoder::ColorType::Luma).expect("encodes");
    out
}

/// As TIFF in grey.
pub fn tiff(pixels: &[u8], [w, h]: [usize; 2], dpi: [u32; 2]) -> Vec<u8> {
    use tiff::encoder::{Rational, TiffEncoder, colortype};
    let mut out = std::io::Cursor::new(Vec::new());
    let mut encoder = TiffEncoder::new(&mut out).expect("heading");
    let side = |n: usize| u32::try_from(n).expect("small");
    let mut image = encoder.new_image::<colortype::Gray8>(side(w), side(h)).expect("image");
    image.resolution_unit(tiff::tags::ResolutionUnit::Inch);
    image.x_resolution(Rational { n: dpi[0], d: 1 });
    image.y_resolution(Rational { n: dpi[1], d: 1 });
    image.write_data(pixels).expect("pixels");
    out.into_inner()
}

/// Twelve ends in three rows of four below a card on a page of 210 by 297 mm.
pub fn twelve(dpi: [f64; 2]) -> Page {
    let mut page = Page { dpi, ..Page::dark([210.0, 297.0], 600.0) };
    page.card = Some(([104.0, 50.0], 0.01, [1.0, 1.0]));
    for k in 0..12_u32 {
        let (i, j) = (f64::from(k % 4), f64::from(k / 4));
        let mut end =
            End::plain([32.0 + 47.0 * i + 2.0 * j, 125.0 + 55.0 * j - i], 360.0 * f64::from(k) / 13.0, k % 3 == 2);
        end.radius += 0.05 * f64::from(k);
        end.lobes[0].2 += f64::from(k);
        page.ends.push(end);
    }
    page
}

/// One turn.
pub const TURN: f64 = TAU;
