//! What repeated readings of one place tell of the texture of the bark.
//!
//! Texture looks like noise of the readings as long as no place is read twice. Where one is, the readings of that place differ
//! by the instrument alone, and what the noise learned from all readings has beyond that is texture. Its logarithm has the
//! normal law of [`Texture`] before; what repeats say of its square is taken as normal with the standard error of the two
//! variances compared.

use super::model::Model;
use super::rows::noise_mm;
use super::texture::Texture;
use crate::domain::{Kind, Reading, Tube};
use crate::numeric::summary::{count, mean};
use std::collections::BTreeMap;

/// Readings this near to each other, mm along and degrees round, are of one place.
const SAME_MM: f64 = 0.1;
const SAME_DEG: f64 = 0.1;
/// Readings of one place that differ by more than so many standard deviations are a slip and say nothing.
const SLIP: f64 = 6.0;
/// Grid of the logarithm: so many steps, over so many standard deviations either way.
const STEPS: i32 = 60;
const REACH: f64 = 4.0;

/// What the repeats of one instrument say: the texture's variance over that of a reading, and its standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Said {
    variance: f64,
    error: f64,
    reading_sd_mm: f64,
}

/// The texture that repeated readings of places leave beside the learned noise of their instrument.
/// `noise_log_sd` says how surely the noise of an instrument is learned.
pub(super) fn texture<'a>(
    tubes: impl Iterator<Item = &'a Tube>,
    model: &Model,
    noise_log_sd: impl Fn(Kind, &str) -> f64,
) -> Texture {
    let texture = model.population.texture;
    let Texture { mm: before, log_sd: sd } = texture;
    let said = if sd > 0.0 && before > 0.0 { said(tubes, model, noise_log_sd) } else { Vec::new() };
    if said.is_empty() {
        return texture;
    }
    let log_chance = |u: f64| -> f64 {
        let size = before * (sd * u).exp();
        let off = |s: &Said| ((size / s.reading_sd_mm).powi(2) - s.variance) / s.error;
        -0.5 * (u * u + said.iter().map(|s| off(s).powi(2)).sum::<f64>())
    };
    let grid: Vec<f64> = (-STEPS..=STEPS).map(|i| REACH * f64::from(i) / f64::from(STEPS)).collect();
    let logs: Vec<f64> = grid.iter().map(|u| log_chance(*u)).collect();
    let top = logs.iter().copied().fold(f64::MIN, f64::max);
    let chances: Vec<f64> = logs.iter().map(|l| (l - top).exp()).collect();
    let total: f64 = chances.iter().sum();
    let middle = grid.iter().zip(&chances).map(|(u, p)| u * p).sum::<f64>() / total;
    let spread = grid.iter().zip(&chances).map(|(u, p)| (u - middle).powi(2) * p).sum::<f64>() / total;
    Texture { mm: before * (sd * middle).exp(), log_sd: sd * spread.sqrt() }
}

/// Instrument by instrument. Only dials and gauges that touch a point are asked: jaws bridge the texture.
fn said<'a>(
    tubes: impl Iterator<Item = &'a Tube>,
    model: &Model,
    noise_log_sd: impl Fn(Kind, &str) -> f64,
) -> Vec<Said> {
    // squares of what repeats differ, over the variance of a reading; their number; and the sd of a reading
    let mut all: BTreeMap<(Kind, String), (f64, f64, Vec<f64>)> = BTreeMap::new();
    for tube in tubes {
        let mut points: Vec<&Reading> =
            tube.readings.iter().filter(|r| matches!(r.kind, Kind::Radius | Kind::Runout)).collect();
        points.sort_by(|a, b| {
            (a.kind, &a.rig, &a.set)
                .cmp(&(b.kind, &b.rig, &b.set))
                .then(a.z_mm.total_cmp(&b.z_mm))
                .then(a.angle.wrapped().degrees().total_cmp(&b.angle.wrapped().degrees()))
        });
        let alike = |a: &&Reading, b: &&Reading| {
            (a.kind, &a.rig, &a.set) == (b.kind, &b.rig, &b.set)
                && (a.z_mm - b.z_mm).abs() < SAME_MM
                && a.angle.gap_to(b.angle).degrees().abs() < SAME_DEG
        };
        for place in points.chunk_by(alike).filter(|p| p.len() > 1) {
            let (first, rig) = (place[0], model.rig(&place[0].rig));
            let (sd, step) = noise_mm(first, rig);
            let sd = sd * model.population.noise_of(first.kind, &first.rig);
            // a coarse step hides what repeats differ
            if step > sd {
                continue;
            }
            let values: Vec<f64> = place.iter().map(|r| r.value_mm).collect();
            let middle = mean(&values);
            if values.iter().any(|v| (v - middle).abs() > SLIP * sd) {
                continue;
            }
            let squares: f64 = values.iter().map(|v| (v - middle).powi(2)).sum();
            let sum = all.entry((first.kind, first.rig.clone())).or_default();
            sum.0 += squares / (sd * sd);
            sum.1 += count(values.len() - 1);
            sum.2.push(sd);
        }
    }
    let one = |((kind, rig), (squares, freedom, sds)): ((Kind, String), (f64, f64, Vec<f64>))| {
        let own = squares / freedom;
        // the noise learned from all readings holds the texture, that of repeats does not
        let (of_repeats, of_all) = (2.0 / freedom, (2.0 * noise_log_sd(kind, &rig)).powi(2));
        Said { variance: 1.0 - own, error: (of_repeats + of_all).sqrt(), reading_sd_mm: mean(&sds) }
    };
    all.into_iter().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::super::learn::learn_population;
    use super::super::problem::Problem;
    use super::*;
    use crate::domain::Angle;
    use crate::numeric::draws::{normals, stream};

    /// Four tubes drawn from the prior, read by a dial of 0.008 mm of noise twice at every place, on bark of this texture.
    /// Angles 12 deg apart: lobes up to the ninth cannot be what differs from one to the next.
    fn read(texture_mm: f64) -> Vec<Tube> {
        let one = |k: u64| {
            let mut tube = Tube { name: format!("T{k}"), length_mm: 200.0, ..Tube::default() };
            let places = (0..5).flat_map(|j| (0..30).map(move |i| (10.0 + 45.0 * f64::from(j), 12.0 * f64::from(i))));
            for (z, a) in places {
                let mut r = Reading::new(Kind::Radius, z, Angle::from_degrees(a), 12.7);
                r.sd_mm = Some(0.008);
                tube.readings.extend([r.clone(), r]);
            }
            let mut read = Problem::new(&tube, &Model::default()).expect("complete").drawn(&tube, 40 + k);
            let mut rng = stream(5, &tube.name, 0);
            for place in read.readings.chunks_mut(2) {
                let off = texture_mm * normals(&mut rng, 1)[0];
                place.iter_mut().for_each(|r| r.value_mm += off);
            }
            read
        };
        (0..4).map(one).collect()
    }

    #[test]
    fn repeats_tell_texture_from_noise_and_without_them_its_doubt_stays() {
        let learned =
            |tubes: &[Tube]| learn_population(tubes, &Model::default()).expect("enough tubes").population.texture;
        let rough = learned(&read(0.012));
        // part of it passes for unevenness of the fine lobes, which lifts a stick as well
        assert!((0.005..0.014).contains(&rough.mm) && rough.log_sd < 0.3, "{rough:?}");
        let smooth = learned(&read(0.0));
        // 600 differences know a variance of 0.008^2 to 6 %: 0.002 mm beside it cannot be told from nothing
        assert!(smooth.mm * smooth.log_sd.exp() < 0.0025 && smooth.log_sd > 0.4, "{smooth:?}");
        let mut once = read(0.012);
        once.iter_mut().for_each(|t| t.readings = t.readings.iter().step_by(2).cloned().collect());
        assert_eq!(learned(&once), Texture::BUILT_IN);
    }
}
