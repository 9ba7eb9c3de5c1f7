//! What really came of the tubes, against what was promised of them; and where the split lines fell, against their aims.
//!
//! *Blanks.* Tube `i` has room for `c_i` blanks and was promised `e_i`. With a factor `f` common to the lot each place is good
//! with a chance of `f e_i / c_i` on average, places of one tube together more or less often than of another: the count is
//! beta-binomial with that mean and a precision `s`. `f` has a prior about 1 (its logarithm has an sd of [`PRIOR_SD`]), `s` one
//! that is even over its logarithm; both are summed out on a grid. Over lots the counts are taken together.
//!
//! *Lines.* What line `j` of tube `i` falls off its aim is a shift common to all, a turn of the tube's own and a spread of the
//! line's: the mean and the two variances of a one-way analysis of variance (G. W. Snedecor, W. G. Cochran, Statistical
//! Methods, from memory). An interval of the spread follows from its chi-squared.

use super::assessed::Assessed;
use super::estimate::Estimate;
use super::json::of_format;
use super::own_limits::OwnLimits;
use super::pace_seen::PaceSeen;
use super::prepared::Prepared;
use crate::domain::Tube;
use crate::numeric::summary::{count, mean};
use serde::Serialize;
use statrs::distribution::{ChiSquared, ContinuousCDF, StudentsT};
use statrs::function::gamma::ln_gamma;
use std::f64::consts::{PI, TAU};

/// How far real blanks may lie from promised ones before anything was cut, as an sd of the factor's logarithm: twice what
/// tubes of makes that nobody tuned the belief to showed, common practice none, no source.
const PRIOR_SD: f64 = 0.25;
/// Factors tried: so many to either side of 1, a hundredth of a logarithm apart.
const HALF: i32 = 120;
/// Precisions of a tube tried.
const PRECISIONS: [f64; 8] = [1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 1e6];
/// Lines further than this from their aim are taken for another line's, degrees.
const FAR_DEG: f64 = 40.0;

/// One tube, promised and cut.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CutTube {
    /// Its name.
    pub tube: String,
    /// Blanks promised, at the angle aimed at.
    pub promised: f64,
    /// 5 % point.
    pub low: f64,
    /// 95 % point.
    pub high: f64,
    /// Blanks its length has room for.
    pub room: usize,
    /// Blanks got.
    pub got: u32,
    /// How far each split line fell from its aim, degrees, clockwise; empty where nobody wrote it down.
    pub off_deg: Vec<f64>,
}

/// What lots are promised with what they taught.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Again {
    /// Lot by lot, blanks of the tubes that were counted.
    pub promised: Vec<(String, f64)>,
    /// Blanks got for each one so promised, over all lots.
    pub factor: Option<Estimate>,
}

/// Where split lines fall about their aims.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct WanderSeen {
    /// Tubes whose lines are known.
    pub tubes: usize,
    /// Lines of them.
    pub lines: usize,
    /// What all lines are off on average, clockwise, degrees, with its 90 % interval.
    pub shift_deg: Estimate,
    /// Sd of what a whole tube is turned by beyond that, degrees; `None` of a single tube.
    pub turn_deg: Option<f64>,
    /// Sd of one line about its tube's, degrees, with its 90 % interval.
    pub spread_deg: Estimate,
    /// Sd of a line about its aim without the shift: turn and spread together.
    pub wander_deg: f64,
    /// What the lot says of it.
    pub stated_deg: f64,
}

/// One lot, promised and cut.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CutLot {
    /// Its name.
    pub lot: String,
    /// Its tubes of which the blanks were counted.
    pub tubes: Vec<CutTube>,
    /// Blanks promised of these.
    pub promised: f64,
    /// 5 % and 95 % points of the promise.
    pub promised_90: [f64; 2],
    /// Blanks got.
    pub got: u32,
    /// Tubes whose count lies in its interval.
    pub held: usize,
    /// Blanks got for each one promised; `None` where none was counted.
    pub factor: Option<Estimate>,
    /// Where its split lines fell; `None` where nobody wrote it down.
    pub wander: Option<WanderSeen>,
}

/// What several lots say.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BorneOut {
    /// Lot by lot.
    pub lots: Vec<CutLot>,
    /// All lots together.
    pub factor: Option<Estimate>,
    /// All lots together.
    pub wander: Option<WanderSeen>,
    /// How long measuring takes; `None` where too few looked at the clock.
    pub pace: Option<PaceSeen>,
    /// The limits this maker works by, from stretches that were judged; `None` where too few were.
    pub limits: Option<OwnLimits>,
    /// What the lots would have been promised with what was learned here; `None` where nothing changes.
    pub again: Option<Again>,
}

impl BorneOut {
    /// From lots that were planned as aimed, each with its tubes as they were read.
    #[must_use]
    pub fn of(lots: &[(String, Prepared, Assessed)]) -> BorneOut {
        let pace = PaceSeen::of(lots);
        let lots: Vec<(CutLot, Vec<Vec<f64>>)> =
            lots.iter().map(|(name, read, a)| lot_of(name, a, &read.lot.tubes)).collect();
        let all: Vec<&CutTube> = lots.iter().flat_map(|(l, _)| &l.tubes).collect();
        let stated = lots.iter().filter_map(|(l, _)| l.wander.map(|w| w.stated_deg)).next().unwrap_or(0.0);
        let off: Vec<Vec<f64>> = lots.iter().flat_map(|(_, off)| off.clone()).collect();
        BorneOut {
            factor: factor_of(&all),
            wander: wander_of(&off, stated),
            pace,
            lots: lots.into_iter().map(|l| l.0).collect(),
            limits: None,
            again: None,
        }
    }

    /// The same with the limits this maker works by.
    #[must_use]
    pub fn with_limits(self, limits: Option<OwnLimits>) -> BorneOut {
        BorneOut { limits, ..self }
    }

    /// The same, beside what the lots are promised by what it taught.
    #[must_use]
    pub fn with_again(self, after: &BorneOut) -> BorneOut {
        let lots = after.lots.iter().map(|l| (l.lot.clone(), l.promised)).collect();
        BorneOut { again: Some(Again { promised: lots, factor: after.factor }), ..self }
    }

    /// As JSON of format 1.
    #[must_use]
    pub fn to_json(&self) -> String {
        of_format(self)
    }
}

fn lot_of(name: &str, a: &Assessed, tubes: &[Tube]) -> (CutLot, Vec<Vec<f64>>) {
    let pieces = a.lot.target.pieces;
    let (mut cut, mut off, mut totals) = (Vec::new(), Vec::new(), Vec::new());
    for plan in a.plans() {
        let written = tubes.iter().find(|t| t.name == plan.fit.tube).and_then(|t| t.cut.as_ref());
        let (Some(written), Some(split)) = (written, &plan.split) else { continue };
        let aim = split.best.angle_deg.to_radians();
        // widths alone say nothing of a turn of the whole
        let lines = if written.lines.len() == pieces { written.lines_radians(pieces, aim) } else { None };
        let own: Vec<f64> = lines.map_or(Vec::new(), |l| off_degrees(&l, aim, pieces));
        if !own.is_empty() {
            off.push(own.clone());
        }
        let Some(got) = written.got(pieces) else { continue };
        totals.resize(split.draws.len().max(totals.len()), 0.0);
        totals.iter_mut().enumerate().for_each(|(k, t)| *t += plan.blanks_of_draw(k));
        cut.push(CutTube {
            tube: plan.fit.tube.clone(),
            promised: plan.expected(),
            low: split.interval.0,
            high: split.interval.1,
            room: plan.capacity,
            got,
            off_deg: own,
        });
    }
    let (low, high) = if totals.is_empty() { (0.0, 0.0) } else { crate::numeric::summary::ninety(&totals) };
    let lot = CutLot {
        lot: name.to_string(),
        promised: cut.iter().map(|t: &CutTube| t.promised).sum::<f64>() + 0.0,
        promised_90: [low, high],
        got: cut.iter().map(|t| t.got).sum(),
        held: cut.iter().filter(|t| (t.low..=t.high).contains(&f64::from(t.got))).count(),
        factor: factor_of(&cut.iter().collect::<Vec<_>>()),
        wander: wander_of(&off, a.lot.split.wander_deg),
        tubes: cut,
    };
    (lot, off)
}

/// How far lines fell from those of a split aimed at `aim`, each taken against the aim that the whole lies nearest to: a tube
/// turned by a piece is the same split. Empty where one lies too far from every aim.
fn off_degrees(lines: &[f64], aim: f64, pieces: usize) -> Vec<f64> {
    let part = TAU / count(pieces);
    let off: Vec<f64> =
        lines.iter().enumerate().map(|(i, l)| (l - aim - part * count(i) + PI).rem_euclid(TAU) - PI).collect();
    let turned = part * (mean(&off) / part).round();
    let off: Vec<f64> = off.into_iter().map(|o| (o - turned).to_degrees()).collect();
    if off.iter().any(|o| o.abs() > FAR_DEG) { Vec::new() } else { off }
}

/// Blanks got for each one promised; `None` where nothing was promised or counted.
fn factor_of(tubes: &[&CutTube]) -> Option<Estimate> {
    let told: Vec<(f64, f64, f64)> = tubes
        .iter()
        .filter(|t| t.promised > 0.0 && t.room > 0)
        .map(|t| (t.promised, count(t.room).max(f64::from(t.got)), f64::from(t.got)))
        .collect();
    if told.is_empty() {
        return None;
    }
    let factors: Vec<f64> = (-HALF..=HALF).map(|i| (0.01 * f64::from(i)).exp()).collect();
    let log: Vec<Vec<f64>> = factors
        .iter()
        .map(|f| {
            let prior = -0.5 * (f.ln() / PRIOR_SD).powi(2);
            PRECISIONS.iter().map(|s| prior + told.iter().map(|t| ln_beta_binomial(*t, *f, *s)).sum::<f64>()).collect()
        })
        .collect();
    let top = log.iter().flatten().copied().fold(f64::MIN, f64::max);
    let weights: Vec<f64> = log.iter().map(|row| row.iter().map(|l| (l - top).exp()).sum()).collect();
    let all: f64 = weights.iter().sum();
    let expected = factors.iter().zip(&weights).map(|(f, w)| f * w).sum::<f64>() / all;
    let point = |p: f64| {
        let mut sum = 0.0;
        let at = weights.iter().position(|w| {
            sum += w / all;
            sum >= p
        });
        factors[at.unwrap_or(factors.len() - 1)]
    };
    Some(Estimate { expected, low: point(0.05), high: point(0.95) })
}

/// The logarithm of the beta-binomial chance of `got` good places of `room`, `f` times what was promised on average.
fn ln_beta_binomial((promised, room, got): (f64, f64, f64), f: f64, s: f64) -> f64 {
    let p = (f * promised / room).clamp(1e-6, 1.0 - 1e-6);
    let (a, b) = (p * s, (1.0 - p) * s);
    let ln_beta = |a: f64, b: f64| ln_gamma(a) + ln_gamma(b) - ln_gamma(a + b);
    let choose = ln_gamma(room + 1.0) - ln_gamma(got + 1.0) - ln_gamma(room - got + 1.0);
    choose + ln_beta(got + a, room - got + b) - ln_beta(a, b)
}

/// Shift, turn and spread of lines; `None` without two lines of one tube.
fn wander_of(tubes: &[Vec<f64>], stated_deg: f64) -> Option<WanderSeen> {
    let lines: usize = tubes.iter().map(Vec::len).sum();
    let freedom = lines.checked_sub(tubes.len()).filter(|f| *f > 0)?;
    let means: Vec<f64> = tubes.iter().map(|t| mean(t)).collect();
    let within: f64 =
        tubes.iter().zip(&means).map(|(t, m)| t.iter().map(|o| (o - m).powi(2)).sum::<f64>()).sum::<f64>();
    let spread = within / count(freedom);
    let shift = mean(&tubes.concat());
    let each = count(lines) / count(tubes.len());
    let between = tubes.len().checked_sub(1).filter(|n| *n > 0).map(|n| {
        let squares: f64 = tubes.iter().zip(&means).map(|(t, m)| count(t.len()) * (m - shift).powi(2)).sum();
        squares / count(n)
    });
    // the mean of a tube's lines varies by its turn and by a share of their spread
    let turn = between.map(|b| ((b - spread) / each).max(0.0));
    let (square, n) = between.map_or((spread, freedom), |b| (b.max(spread), tubes.len() - 1));
    let student = StudentsT::new(0.0, 1.0, count(n)).ok()?.inverse_cdf(0.95);
    let error = student * (square / count(lines)).sqrt();
    let chi = ChiSquared::new(count(freedom)).ok()?;
    let bound = |p: f64| (within / chi.inverse_cdf(p)).sqrt();
    Some(WanderSeen {
        tubes: tubes.len(),
        lines,
        shift_deg: Estimate { expected: shift, low: shift - error, high: shift + error },
        turn_deg: turn.map(f64::sqrt),
        spread_deg: Estimate { expected: spread.sqrt(), low: bound(0.95), high: bound(0.05) },
        wander_deg: (spread + turn.unwrap_or(0.0)).sqrt(),
        stated_deg,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::draws::{normals, stream};
    use rand::RngExt;

    fn tube(promised: f64, room: usize, got: u32) -> CutTube {
        CutTube { tube: "A".into(), promised, low: 0.0, high: 9.0, room, got, off_deg: Vec::new() }
    }

    #[test]
    fn the_beta_binomial_is_that_of_the_hand() {
        // precision 2 and mean one half: uniform over 0..=4
        for got in 0..=4 {
            assert!((ln_beta_binomial((2.0, 4.0, f64::from(got)), 1.0, 2.0) - 0.2_f64.ln()).abs() < 1e-9, "{got}");
        }
        // hardly any precision of its own: binomial, 6 / 16
        assert!((ln_beta_binomial((2.0, 4.0, 2.0), 1.0, 1e9) - 0.375_f64.ln()).abs() < 1e-4);
    }

    #[test]
    fn a_promise_that_is_kept_stays_and_one_that_is_not_is_told() {
        let kept: Vec<CutTube> = (0..20).map(|i| tube(5.0, 8, 4 + i % 3)).collect();
        let f = factor_of(&kept.iter().collect::<Vec<_>>()).expect("counted");
        assert!((f.expected - 1.0).abs() < 0.02 && !f.excludes(1.0), "{f:?}");
        let short: Vec<CutTube> = (0..20).map(|i| tube(5.0, 8, 3 + i % 2)).collect();
        let f = factor_of(&short.iter().collect::<Vec<_>>()).expect("counted");
        assert!((0.68..0.76).contains(&f.expected) && f.excludes(1.0), "{f:?}");
        // one tube says little, none nothing; more blanks than there is room for are no fault of arithmetic
        let one = factor_of(&[&tube(5.0, 8, 2)]).expect("counted");
        assert!(!one.excludes(1.0) && one.expected < 1.0, "{one:?}");
        assert_eq!(factor_of(&[]), None);
        assert_eq!(factor_of(&[&tube(0.0, 8, 2)]), None);
        assert!(factor_of(&[&tube(5.0, 8, 12)]).is_some_and(|f| f.expected > 1.0));
    }

    #[test]
    fn the_interval_of_the_factor_holds_as_often_as_it_says() {
        // lots of twelve tubes, a factor drawn from the prior, places of a tube alike with a precision of 8
        let mut held = 0;
        for lot in 0..500 {
            let mut rng = stream(3, "factor", lot);
            let f = (PRIOR_SD * normals(&mut rng, 1)[0]).exp();
            let tubes: Vec<CutTube> = (0..12)
                .map(|_| {
                    let promised = 2.0 + 4.0 * rng.random::<f64>();
                    let weights: Vec<f64> =
                        (0..=8).map(|k| ln_beta_binomial((promised, 8.0, f64::from(k)), f, 8.0).exp()).collect();
                    let (at, mut sum) = (rng.random::<f64>() * weights.iter().sum::<f64>(), 0.0);
                    let got = weights.iter().position(|w| {
                        sum += w;
                        sum >= at
                    });
                    tube(promised, 8, u32::try_from(got.unwrap_or(8)).expect("small"))
                })
                .collect();
            let factor = factor_of(&tubes.iter().collect::<Vec<_>>()).expect("counted");
            held += u32::from((factor.low..=factor.high).contains(&f));
        }
        assert!((430..=470).contains(&held), "{held} of 500");
    }

    #[test]
    fn shift_turn_and_spread_are_told_apart() {
        // means 1, 3 and 2, each +-1 about it: shift 2; spread of squares 1 + 1 a tube over one freedom each: 2; between
        // 2 (1 + 1 + 0) / 2 = 2, so no turn beyond what the spread explains
        let w = wander_of(&[vec![0.0, 2.0], vec![2.0, 4.0], vec![1.0, 3.0]], 3.0).expect("lines");
        assert!((w.shift_deg.expected - 2.0).abs() < 1e-12 && w.turn_deg.is_some_and(|t| t.abs() < 1e-6), "{w:?}");
        assert!((w.spread_deg.expected - 2_f64.sqrt()).abs() < 1e-12 && (w.wander_deg - 2_f64.sqrt()).abs() < 1e-9);
        // tubes turned by -5 and 5, their lines alike
        let w = wander_of(&[vec![-5.0, -5.1, -4.9, -5.0], vec![5.0, 5.1, 4.9, 5.0]], 3.0).expect("lines");
        assert!((w.turn_deg.expect("two tubes") - 50_f64.sqrt()).abs() < 0.01 && w.spread_deg.expected < 0.1, "{w:?}");
        assert!(wander_of(&[], 3.0).is_none() && wander_of(&[vec![1.0]], 3.0).is_none());
        assert!(wander_of(&[vec![1.0, 2.0]], 3.0).is_some_and(|w| w.turn_deg.is_none()));
    }

    #[test]
    fn a_split_turned_by_a_piece_is_the_same_split() {
        let at = |d: [f64; 4]| d.map(f64::to_radians).to_vec();
        let near =
            |got: Vec<f64>, want: [f64; 4]| got.iter().zip(want).all(|(a, b)| (a - b).abs() < 1e-9) && got.len() == 4;
        assert!(near(off_degrees(&at([32.0, 119.0, 210.0, 301.0]), 30_f64.to_radians(), 4), [2.0, -1.0, 0.0, 1.0]));
        assert!(near(off_degrees(&at([119.0, 210.0, 301.0, 392.0]), 30_f64.to_radians(), 4), [-1.0, 0.0, 1.0, 2.0]));
        assert!(!off_degrees(&at([30.0, 90.0, 210.0, 300.0]), 30_f64.to_radians(), 4).is_empty());
        assert!(off_degrees(&at([30.0, 60.0, 210.0, 300.0]), 30_f64.to_radians(), 4).is_empty());
    }
}
