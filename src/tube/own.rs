//! How the scales of one tube differ from those of its lot: factors of its own for its lobes beyond the oval, its bow and
//! its unevenness.
//!
//! Tubes of one lot are not alike: a few bent or rough ones would make all seem so if one set of scales had to serve them
//! all, and the others would be believed worse than they are. A factor's logarithm is normal about 0; of the bow the lot
//! teaches its standard deviation as well. While the lot's law is learned each tube's factors of bow and unevenness stand at
//! their likeliest (Laplace; see `climb`); that of the lobes stays at 1, so that the lot's lobes are the mean square of its
//! tubes'. A draw takes lobes and bow from all heights, weighed by how probable each makes the readings: both stand in the
//! border of the equations, so that another height costs no factorisation of the band. For the unevenness see `ladder`.

use super::group::{Group, scales_mut};
use super::law::{BOW, FACTORS, LOBES, OWN_SD, UNEVEN};
use super::population::{Population, ROUGH};
use crate::numeric::summary::count;

/// How unsure that is itself, sd of its logarithm.
const SPREAD_LOG_SD: f64 = 0.6;
/// How many are tried, and the step of the logarithm: a factor of 6 either way.
const SPREADS: usize = 13;
const SPREAD_STEP: f64 = 0.3;
/// Largest change of a factor in one step, as a logarithm.
const LARGEST_STEP: f64 = 0.7;

/// Heights that are tried of a factor, and the step from one to the next, as logarithms: a factor of 12 either way.
const HEIGHTS: usize = 21;
const HEIGHT_STEP: f64 = 0.25;

/// Logarithms of the factors of one tube.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Own(pub(super) [f64; FACTORS]);

/// Which factor a part of the scale of a group's fields takes.
pub(super) fn factor_of(group: Group, part: usize) -> Option<usize> {
    match (group, part) {
        (Group::Centre, ROUGH) => None,
        (_, ROUGH) => Some(UNEVEN),
        (Group::Lobe(3..), _) => Some(LOBES),
        (Group::Centre, 2..) => Some(BOW),
        _ => None,
    }
}

/// The factors that follow the readings while the lot's law is learned. That of the lobes stays: with it promises and losses
/// over seven makes came out no better, and those of tubes whose lobes decay slowly worse.
pub(super) const FOLLOWED: [usize; 2] = [BOW, UNEVEN];

/// Which factor follows the readings of a part.
pub(super) fn followed(group: Group, part: usize) -> Option<usize> {
    factor_of(group, part).filter(|factor| FOLLOWED.contains(factor))
}

impl Own {
    /// The scales of this tube in a lot of these; what `lot.toml` holds stays.
    pub(super) fn of(self, lot: &Population) -> Population {
        let mut p = lot.clone();
        for (group, scale) in scales_mut(&mut p) {
            for (part, value) in scale.parts_mut().into_iter().enumerate() {
                if let Some(factor) = factor_of(group, part)
                    && !group.is_held(lot, part)
                {
                    *value *= self.0[factor].exp();
                }
            }
        }
        p
    }

    /// The factors moved by others.
    pub(super) fn moved(mut self, by: Own) -> Own {
        self.0.iter_mut().zip(by.0).for_each(|(x, by)| *x += by);
        self
    }

    /// A step towards the likeliest.
    pub(super) fn step(&mut self, told: &OwnTold) {
        for (x, by) in self.0.iter_mut().zip(told.step) {
            *x += by.clamp(-LARGEST_STEP, LARGEST_STEP);
        }
    }
}

/// What a tube's own factors do while its lot's law is sought.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Factors {
    /// Go a step towards the likeliest.
    Follow,
    /// Stay.
    Stay,
}

/// What the readings of one tube say of its own factors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct OwnTold {
    pub(super) at: Own,
    /// how much the lot's tubes were taken to differ
    sd: [f64; FACTORS],
    /// information about each, prior included
    pub(super) information: [f64; FACTORS],
    /// whole step of each to its likeliest
    pub(super) step: [f64; FACTORS],
}

impl OwnTold {
    /// From slope and information of the readings where the factors stand at `at`.
    pub(super) fn of(at: Own, slope: [f64; FACTORS], information: [f64; FACTORS], sd: [f64; FACTORS]) -> OwnTold {
        let mut told = OwnTold { at, sd, information, step: [0.0; FACTORS] };
        for i in 0..FACTORS {
            let before = sd[i].powi(-2);
            told.information[i] += before;
            told.step[i] = (slope[i] - at.0[i] * before) / told.information[i];
        }
        told
    }

    /// As how many values of a variance, and which sum of their squares over the lot's, its readings speak of a factor.
    fn as_values(&self, factor: usize) -> [f64; 2] {
        let before = self.sd[factor].powi(-2);
        let n = 0.5 * (self.information[factor] - before);
        let slope = self.step[factor] * self.information[factor] + self.at.0[factor] * before;
        [n, (n + slope).max(0.0) * (2.0 * self.at.0[factor]).exp()]
    }
}

/// How much the tubes of a lot differ, by what each says of itself: the middle of what is then believed of the logarithm of
/// each standard deviation. That of the lobes stays, since nothing is asked of them, and that of the unevenness: learned, it
/// set rungs apart that few readings tell from each other.
///
/// What a tube says of a factor `e^u` is taken as n values of squares that add up to Q times the lot's would say it:
/// `-n u - Q e^(-2 u) / 2`, n and Q from slope and information where it stands.
pub(super) fn spread(told: &[OwnTold]) -> [f64; FACTORS] {
    let one = |factor: usize| {
        let values: Vec<[f64; 2]> = told.iter().map(|t| t.as_values(factor)).collect();
        let tried: Vec<f64> = (0..SPREADS).map(|i| SPREAD_STEP * (count(i) - count(SPREADS / 2))).collect();
        let worth = |off: f64| {
            let sd = OWN_SD[factor] * off.exp();
            values.iter().map(|v| log_chance(*v, sd)).sum::<f64>() - 0.5 * (off / SPREAD_LOG_SD).powi(2)
        };
        let worth: Vec<f64> = tried.iter().map(|off| worth(*off)).collect();
        let top = worth.iter().copied().fold(f64::MIN, f64::max);
        let shares: Vec<f64> = worth.iter().map(|w| (w - top).exp()).collect();
        let middle = tried.iter().zip(&shares).map(|(off, s)| off * s).sum::<f64>() / shares.iter().sum::<f64>();
        OWN_SD[factor] * middle.exp()
    };
    [OWN_SD[LOBES], one(BOW), OWN_SD[UNEVEN]]
}

/// Logarithm of how probable what a tube says is where factors are normal with this standard deviation.
fn log_chance([n, squares]: [f64; 2], sd: f64) -> f64 {
    let worth = |z: f64| -n * sd * z - 0.5 * squares * (-2.0 * sd * z).exp() - 0.5 * z * z;
    // from -6 to 6 standard deviations
    let all: Vec<f64> = (-24..=24).map(|i| worth(0.25 * f64::from(i))).collect();
    let top = all.iter().copied().fold(f64::MIN, f64::max);
    top + all.iter().map(|w| (w - top).exp()).sum::<f64>().ln()
}

/// How probable each height of a factor over the law's mean makes a tube's readings, logarithms.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Heights(Vec<f64>);

impl Heights {
    /// By the log evidence of a height; none where it has none.
    pub(super) fn of(evidence: impl Fn(f64) -> Option<f64>) -> Heights {
        Heights((0..HEIGHTS).map(|i| evidence(height(i)).unwrap_or(f64::MIN)).collect())
    }

    /// The height below which a share `at` of the probability lies when the lot's stands at `shift` and tubes differ from it
    /// by `sd`; density even about each height.
    pub(super) fn below(&self, shift: f64, sd: f64, at: f64) -> f64 {
        let worth = |i: usize| self.0[i] - 0.5 * ((height(i) - shift) / sd).powi(2);
        let top = (0..HEIGHTS).map(worth).fold(f64::MIN, f64::max);
        let shares: Vec<f64> = (0..HEIGHTS).map(|i| (worth(i) - top).exp()).collect();
        let mut left = at * shares.iter().sum::<f64>();
        for (i, share) in shares.iter().enumerate() {
            if left <= *share && *share > 0.0 {
                return height(i) + HEIGHT_STEP * (left / share - 0.5);
            }
            left -= share;
        }
        height(HEIGHTS - 1)
    }
}

/// Height number `i`.
fn height(i: usize) -> f64 {
    HEIGHT_STEP * (count(i) - count(HEIGHTS / 2))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::PopulationOverride;

    #[test]
    fn a_factor_takes_its_own_scales_and_leaves_what_is_held() {
        let lot = Population::with(&PopulationOverride::from([("lobe5_level".into(), 0.01)])).expect("a scale");
        let tube = Own([2.0_f64.ln(), 3.0_f64.ln(), 0.5_f64.ln()]).of(&lot);
        let times = |a: f64, b: f64, by: f64| assert!((a / b - by).abs() < 1e-12, "{a} {b}");
        times(tube.lobe(2).level, lot.lobe(2).level, 1.0);
        times(tube.lobe(2).rough, lot.lobe(2).rough, 0.5);
        times(tube.lobe(3).level, lot.lobe(3).level, 2.0);
        times(tube.lobe(9).tilt, lot.lobe(9).tilt, 2.0);
        times(tube.lobe(5).level, 0.01, 1.0);
        times(tube.lobe(5).tilt, lot.lobe(5).tilt, 2.0);
        times(tube.centre.level, lot.centre.level, 1.0);
        times(tube.centre.bend, lot.centre.bend, 3.0);
        times(tube.centre.ess, lot.centre.ess, 3.0);
        times(tube.centre.rough, lot.centre.rough, 1.0);
        times(tube.radius.rough, lot.radius.rough, 0.5);
        times(tube.radius.tilt, lot.radius.tilt, 1.0);
    }

    /// Of n values seen exactly, root mean square r times the lot's: slope `n (r^2 e^-2u - 1)`, information 2 n.
    fn seen(n: f64, r: f64, sd: f64) -> Own {
        let mut own = Own::default();
        for _ in 0..60 {
            let slope = n * (r * r * (-2.0 * own.0[BOW]).exp() - 1.0);
            own.step(&OwnTold::of(own, [0.0, slope, 0.0], [0.0, 2.0 * n, 0.0], [sd; FACTORS]));
        }
        own
    }

    #[test]
    fn factors_come_to_rest_where_readings_and_lot_balance() {
        // many values outweigh the lot; one pulls as far as 8 sd^2 (r^2 e^-2u - 1) / 8 says
        assert!((seen(1e6, 4.0, 0.3).0[BOW] - 4.0_f64.ln()).abs() < 1e-3);
        let u = seen(4.0, 3.0, 0.3).0[BOW];
        assert!((4.0 * (9.0 * (-2.0 * u).exp() - 1.0) - u / 0.09).abs() < 1e-6 && u > 0.5, "{u}");
    }

    #[test]
    fn tubes_that_say_nothing_leave_the_spread_as_it_was() {
        let nothing = OwnTold::of(Own::default(), [0.0; FACTORS], [0.0; FACTORS], OWN_SD);
        for (got, was) in spread(&[nothing; 12]).into_iter().zip(OWN_SD) {
            assert!((got / was).ln().abs() < 1e-9, "{got} {was}");
        }
    }

    /// Of 30 tubes of eight values each, made of a known spread: wherever their factors stand when they are asked.
    #[test]
    fn the_spread_of_many_tubes_is_found_wherever_their_factors_stand() {
        for (truth, least, most) in [(0.15, 0.10, 0.26), (0.4, 0.26, 0.55), (0.9, 0.7, 1.15)] {
            let mut got = Vec::new();
            for lag in [0.0, 0.5, 1.0] {
                let mut rng = crate::numeric::draws::stream(7, "spread", 0);
                let told: Vec<OwnTold> = (0..30)
                    .map(|_| {
                        let z = crate::numeric::draws::normals(&mut rng, 9);
                        let squares: f64 = z[1..].iter().map(|v| (v * (truth * z[0]).exp()).powi(2)).sum();
                        let u = lag * 0.5 * (squares / 8.0).ln();
                        let slope = squares * (-2.0 * u).exp() - 8.0;
                        OwnTold::of(Own([0.0, u, 0.0]), [0.0, slope, 0.0], [0.0, 16.0, 0.0], OWN_SD)
                    })
                    .collect();
                got.push(spread(&told)[BOW]);
            }
            assert!(got.iter().all(|g| (g - got[0]).abs() < 1e-9), "{got:?}");
            assert!((least..most).contains(&got[0]), "{truth}: {got:?}");
        }
    }

    /// Against the normal law itself: readings and lot both normal in the height.
    #[test]
    fn drawn_heights_have_the_mean_and_the_spread_of_readings_and_lot_together() {
        for (mean, sd) in [(0.9, 0.4), (-0.4, 0.7), (0.0, 50.0)] {
            let heights = Heights::of(|h| Some(-0.5 * ((h - mean) / sd).powi(2)));
            let (shift, own) = (0.2, 0.5_f64);
            let drawn: Vec<f64> = (0..4000).map(|i| heights.below(shift, own, (f64::from(i) + 0.5) / 4000.0)).collect();
            assert!(drawn.windows(2).all(|w| w[0] <= w[1]), "mirrored draws take opposite heights");
            let precision = 1.0 / (sd * sd) + 1.0 / (own * own);
            let want = (mean / (sd * sd) + shift / (own * own)) / precision;
            let (got, spread) = (crate::numeric::summary::mean(&drawn), crate::numeric::summary::sd(&drawn));
            assert!((got - want).abs() < 0.01, "{got} {want}");
            // even between the heights: a twelfth of a step squared more
            let more = (1.0 / precision + HEIGHT_STEP * HEIGHT_STEP / 12.0).sqrt();
            assert!((spread - more).abs() < 0.01, "{spread} {more}");
        }
    }
}
