//! One Gaussian model per tube that joins all its readings.
//!
//! Every field (see [`Fields`]) is a level, a tilt and a bend plus an unevenness on a cubic B-spline (see `prior`); with the
//! unknowns of the measuring they are all that is unknown (see `layout`). Readings enter through `instrument`; the
//! likelihood is Student-t, computed by reweighting, the exact functionals by Gauss-Newton. A reading shown in steps
//! coarser than its noise is an interval (see `rounding`). The scales of the prior are unsure themselves: every draw takes
//! its own from the law of its lot (see `law`), its roughness from a ladder weighed by evidence (see `ladder`), and bends
//! of the centreline at places of their own (see `kinks`).
//!
//! Where the readings do not look like such a tube the doubt is widened (see [`Widened`]).

use super::bridge::{sag, stands};
use super::doubted::Doubted;
use super::error::BeliefError;
use super::fields::Fields;
use super::fine;
use super::instrument::{Probe, Unknown, scale, turns, unknowns};
use super::ladder::Ladder;
use super::layout::Layout;
use super::linearised::LinearEquations;
use super::model::Model;
use super::passes::Solved;
use super::prior_variance::PriorVariance;
use super::problem::{Problem, Unmodelled};
use super::quantity::{Doubt, Quantity};
use super::resting::touching;
use super::rows::Row;
use super::scan::ScanFault;
use super::sections::Sections;
use super::tangent::{TURN_STEP, Tangent};
use super::texture::Texture;
use super::widened::Widened;
use crate::domain::{Angle, Kind, Reading, Rig, Tube};
use crate::numeric::draws;
use crate::numeric::summary::count;
use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};

/// Share of doubted readings above which a tube, not its readings, is odd. A careful reader slips on fewer than one in
/// fifty; common practice, no source.
const MOST_DOUBTED: f64 = 0.03;
/// Fewer doubted readings than this are slips, whatever their share.
const LEAST_DOUBTED: usize = 4;
/// What is tried where too many are doubted, in this order: roughness and noise times the stated.
const BRAKE: [(f64, f64); 6] = [(3.0, 1.0), (8.0, 1.0), (3.0, 2.0), (8.0, 2.0), (8.0, 4.0), (8.0, 10.0)];

/// So many draws are kept, 5 kB each.
const KEPT_DRAWS: usize = 200;

/// Unknowns of the first draws of a seed.
type KeptDraws = Vec<OnceLock<Arc<Vec<f64>>>>;

/// What is believed about one tube: mean, doubt and draws.
#[derive(Debug, Clone)]
pub struct Belief {
    tube: String,
    pub(super) layout: Layout,
    mean: Vec<f64>,
    prior: PriorVariance,
    ladder: Ladder,
    /// see [`Belief::drawn_unknowns`]
    drawn: OnceLock<(u64, KeptDraws)>,
    doubted: Vec<Doubted>,
    kinds: BTreeMap<Kind, usize>,
    settled: bool,
    unmodelled: Unmodelled,
    widened: Option<Widened>,
    texture: Texture,
}

/// What a reading would show.
#[derive(Debug, Clone, PartialEq)]
pub struct Expected {
    /// Its value, mm (degrees of a fibre); with a zero of a set that no reading had, as if that zero were 0.
    pub mean: f64,
    /// Standard deviation of that value from the doubt about the surface alone, same unit.
    pub sd: f64,
    /// Standard deviation of one reading by this instrument, its step included, same unit.
    pub noise_sd: f64,
    /// What it hangs on, to first order: (unknown of the belief, factor). Surface first, then zeros and axes.
    pub row: Vec<(usize, f64)>,
    /// Unknowns that would come with it, and their factors; see [`Unknown::prior_sd_mm`].
    pub fresh: Vec<(Unknown, f64)>,
}

impl Belief {
    /// Fits the model to everything measured on `tube`.
    ///
    /// A scan is to be laid out before ([`unroll_lot`](super::scan::unroll_lot) for a lot, [`ready`](super::scan::ready) for one tube, which also say what
    /// becomes of readings beside a scan without an index mark).
    ///
    /// # Errors
    /// See [`BeliefError`].
    pub fn fit(tube: &Tube, model: &Model) -> Result<Belief, BeliefError> {
        check(tube)?;
        let not_positive = || BeliefError::NotPositive { tube: tube.name.clone() };
        let problem = Problem::new(tube, model)?;
        let solved = problem.solve().ok_or_else(not_positive)?;
        let doubted = problem.doubted(&solved);
        let before = doubted.len();
        let braked = if odd(before, tube.readings.len()) { brake(tube, model, &problem, &solved)? } else { None };
        let (problem, solved, doubted, base, widened) = match braked {
            Some(b) => {
                (b.problem, b.solved, b.doubted, b.rougher, Some(Widened { times: b.times, doubted_before: before }))
            }
            None => (problem, solved, doubted, 1.0, None),
        };
        let Solved { x: mean, last, settled, .. } = solved;
        let (problem, about) = (Arc::new(problem), Arc::new(last));
        let ladder = Ladder::new(&problem, model, &about, (base, fine::doubt(tube, model))).ok_or_else(not_positive)?;
        let prior = PriorVariance::of(&problem).ok_or_else(not_positive)?;
        let mut kinds = BTreeMap::new();
        for r in &tube.readings {
            *kinds.entry(r.kind).or_insert(0) += 1;
        }
        Ok(Belief {
            tube: tube.name.clone(),
            layout: problem.layout.clone(),
            mean,
            prior,
            ladder,
            drawn: OnceLock::new(),
            doubted,
            kinds,
            settled,
            unmodelled: problem.unmodelled(),
            widened,
            texture: model.population.texture,
        })
    }

    /// How the doubt was widened where the readings do not look like such a tube; `None` where they do.
    #[must_use]
    pub fn widened(&self) -> Option<Widened> {
        self.widened
    }

    /// How rough this tube is over what its lot's law says, weighed by evidence.
    #[must_use]
    pub fn rougher(&self) -> f64 {
        self.ladder.rougher()
    }

    /// Prior doubt of what is not in the model.
    pub(super) fn unmodelled(&self) -> Unmodelled {
        self.unmodelled
    }

    /// True when fibres were followed; otherwise the fields hold no turn, and the grain is taken as running true.
    #[must_use]
    pub fn grain_seen(&self) -> bool {
        self.layout.fields.twist
    }

    /// Name of the tube.
    #[must_use]
    pub fn tube(&self) -> &str {
        &self.tube
    }

    /// Length of the tube, mm.
    #[must_use]
    pub fn length_mm(&self) -> f64 {
        self.layout.length_mm
    }

    /// The fields of every section this belief gives.
    #[must_use]
    pub fn fields(&self) -> Fields {
        self.layout.fields
    }

    /// Readings the fit does not believe, in the order of the tube's readings.
    #[must_use]
    pub fn doubted(&self) -> &[Doubted] {
        &self.doubted
    }

    /// How many readings of each kind went in.
    #[must_use]
    pub fn kinds(&self) -> &BTreeMap<Kind, usize> {
        &self.kinds
    }

    /// False when the reweighting was stopped by its cap.
    #[must_use]
    pub fn settled(&self) -> bool {
        self.settled
    }

    /// True when anything was measured of the wall; otherwise the fields hold no wall.
    #[must_use]
    pub fn wall_seen(&self) -> bool {
        self.layout.fields.wall
    }

    /// The mean surface at these places.
    #[must_use]
    pub fn mean_sections(&self, z_mm: &[f64]) -> Sections {
        self.layout.sections(&self.mean, z_mm)
    }

    /// Draw number `k` of the surface under `seed`, at these places. Depends on (seed, tube name, k) only; what is common
    /// to a lot, its scales and the errors of its instruments, on (seed, k) only.
    #[must_use]
    pub fn draw_sections(&self, seed: u64, k: u64, z_mm: &[f64]) -> Sections {
        let mut out = self.layout.sections(&self.drawn_unknowns(seed, k), z_mm);
        self.texture(seed, k, &mut out);
        out
    }

    /// All unknowns of draw `k`, those of the measuring too: what [`Expected::row`] is told by. The first draws of the seed that
    /// is asked for first are kept, since figures and plans look at the same ones.
    pub(super) fn drawn_unknowns(&self, seed: u64, k: u64) -> Arc<Vec<f64>> {
        let draw = || Arc::new(self.ladder.draw(&self.tube, seed, k));
        let (first, kept) = self.drawn.get_or_init(|| (seed, vec![OnceLock::new(); KEPT_DRAWS]));
        match usize::try_from(k).ok().and_then(|k| kept.get(k)).filter(|_| *first == seed) {
            Some(slot) => slot.get_or_init(draw).clone(),
            None => draw(),
        }
    }

    /// Adds the fine texture of the bark: independent from place to place, of the stated size on every bark line.
    fn texture(&self, seed: u64, k: u64, sections: &mut Sections) {
        let lobes = 1 + 2 * (self.layout.fields.top - 1);
        // R0 and the lobes' cosines and sines add up to 1 + (top - 1) of their common variance on any line
        let sd = self.texture.drawn(seed, k) / count(self.layout.fields.top).sqrt();
        if sd <= 0.0 {
            return;
        }
        let mut rng = draws::stream(seed, &format!("{}/texture", self.tube), k);
        for j in 0..sections.len() {
            let noise = draws::normals(&mut rng, lobes);
            sections.row_mut(j).iter_mut().zip(noise).for_each(|(v, z)| *v += sd * z);
        }
    }

    /// How surely a quantity is known, and how surely it was before any reading.
    ///
    /// A quantity has to be one of this belief's own fields ([`Belief::fields`]).
    #[must_use]
    pub fn doubt_of(&self, quantity: &Quantity) -> Doubt {
        let v = self.layout.vector(quantity);
        Doubt { sd: self.ladder.variance(&v).sqrt(), prior_sd: self.prior.of_quantity(&self.layout, &v).sqrt() }
    }

    /// What a reading would show, taken or not: its value, how surely that is known, and what it hangs on.
    ///
    /// `model` is what the belief was formed with; the value of `reading` is not looked at.
    ///
    /// # Errors
    /// [`BeliefError::Lacks`] where the reading has not the size of instrument its kind needs, [`BeliefError::NotHeld`] for
    /// a wall or a fibre where none was ever measured on this tube: its doubt is then the prior's ([`Belief::sight`]).
    pub fn expect(&self, reading: &Reading, model: &Model) -> Result<Expected, BeliefError> {
        let (expected, surface) = self.look_out(reading, model)?;
        Ok(Expected { sd: self.ladder.variance(&surface).sqrt(), ..expected })
    }

    /// As [`Belief::expect`] but for how surely its value is known, left 0; and what that hangs on, factors of all unknowns.
    pub(super) fn look_out(&self, reading: &Reading, model: &Model) -> Result<(Expected, Vec<f64>), BeliefError> {
        let what = match reading.kind {
            Kind::Wall if !self.wall_seen() => Some("wall"),
            Kind::Grain if !self.grain_seen() => Some("grain"),
            _ => None,
        };
        if let Some(what) = what {
            return Err(BeliefError::NotHeld { tube: self.tube.clone(), what: what.into() });
        }
        let rig = model.rig(&reading.rig);
        let probe = Probe::of(reading, rig).map_err(|what| BeliefError::lacks(&self.tube, reading, what))?;
        if reading.kind == Kind::Bridge {
            return self.look_out_for_bridge(reading, probe, model);
        }
        let edge = unknowns(reading, self.length_mm());
        if reading.kind == Kind::Gap && edge.iter().any(|(u, _)| !self.layout.measuring.contains_key(u)) {
            return Ok(self.look_out_for_gap(reading, rig, model));
        }
        // unknowns of the measuring that no reading had are put behind all others, at the prior's centre
        let size = self.mean.len();
        let mut new: Vec<Unknown> = Vec::new();
        let mut place = |unknown: Unknown| {
            self.layout.measuring.get(&unknown).copied().unwrap_or_else(|| {
                new.push(unknown);
                size + new.len() - 1
            })
        };
        let mut row = Row::of(0, reading, probe, rig, model.population.noise_of(reading.kind, &reading.rig));
        row.nuisance = edge.into_iter().map(|(u, factor)| (place(u), factor)).collect();
        row.turn = turns(reading).into_iter().map(place).collect();
        let mut x = self.mean.clone();
        x.resize(size + new.len(), 0.0);
        let mut tangent = Tangent::new(self.fields());
        tangent.take(&row, &self.layout, &x);
        let mut v = vec![0.0; size];
        tangent.of_surface().for_each(|(at, g)| v[at] += g);
        let (known, fresh): (Vec<_>, Vec<_>) = tangent.entries().partition(|e| e.0 < size);
        let fresh = fresh.into_iter().map(|(at, g)| (new[at - size].clone(), g)).collect();
        let noise_sd = row.whole_sd();
        // what rests has no negative gap
        let mean = if reading.kind == Kind::Gap { tangent.value.max(0.0) } else { tangent.value };
        Ok((self.with_scale(reading, rig, Expected { mean, sd: 0.0, noise_sd, row: known, fresh }), v))
    }

    /// Adds the error of scale of its instrument to what a reading would show.
    fn with_scale(&self, reading: &Reading, rig: Option<&Rig>, mut e: Expected) -> Expected {
        if let Some((unknown, by)) = scale(reading, rig, e.mean) {
            if let Some(&at) = self.layout.measuring.get(&unknown) {
                e.row.push((at, by));
                e.mean += by * self.mean[at];
            } else {
                e.fresh.push((unknown, by));
            }
        }
        e
    }

    /// The gap under a straightedge that is not laid yet: it will rest where the mean surface has it.
    fn look_out_for_gap(&self, reading: &Reading, rig: Option<&Rig>, model: &Model) -> (Expected, Vec<f64>) {
        let (z, angle) = (reading.z_mm, reading.angle);
        let [z0, z1] = touching(&self.layout, &self.mean, angle).z_mm;
        let along = (z - z0) / (z1 - z0);
        let gap = Quantity::of(self.fields()).height(z0, angle, 1.0 - along).height(z1, angle, along);
        let v = self.layout.vector(&gap.height(z, angle, -1.0));
        let mean: f64 = v.iter().zip(&self.mean).map(|(g, x)| g * x).sum();
        let probe = Probe::new(Kind::Gap, angle, 0.0);
        let noise = Row::of(0, reading, probe, rig, model.population.noise_of(reading.kind, &reading.rig));
        let noise_sd = noise.whole_sd();
        let row = v.iter().copied().enumerate().filter(|(_, g)| g.abs() > 0.0).collect();
        let expected = Expected { mean: mean.max(0.0), sd: 0.0, noise_sd, row, fresh: Vec::new() };
        (self.with_scale(reading, rig, expected), v)
    }

    /// What a bar would show: its feet stand where the surface has them, so that it hangs on no post.
    fn look_out_for_bridge(
        &self,
        reading: &Reading,
        probe: Probe,
        model: &Model,
    ) -> Result<(Expected, Vec<f64>), BeliefError> {
        if !stands(reading, model, self.length_mm()) {
            let what = "a bridge reading with a foot beyond the end of the tube";
            return Err(BeliefError::lacks(&self.tube, reading, what));
        }
        let known = |u: &Unknown| self.layout.measuring.get(u).copied();
        let turning = turns(reading);
        let turned: f64 = turning.iter().filter_map(known).map(|at| self.mean[at]).sum();
        let at = |by: f64| {
            let angle = Angle::from_radians(reading.angle.radians() + turned + by);
            self.layout.vector(&sag(Quantity::of(self.fields()), reading, probe.size, angle))
        };
        let value = |v: &[f64]| v.iter().zip(&self.mean).map(|(g, x)| g * x).sum::<f64>();
        let v = at(0.0);
        let slope = (value(&at(TURN_STEP)) - value(&at(-TURN_STEP))) / (2.0 * TURN_STEP);
        let rig = model.rig(&reading.rig);
        let mut mean = value(&v);
        let mut row: Vec<(usize, f64)> = v.iter().copied().enumerate().filter(|(_, g)| g.abs() > 0.0).collect();
        let mut fresh = Vec::new();
        let zeros = unknowns(reading, self.length_mm());
        mean += zeros.iter().filter_map(|(u, by)| Some(by * self.mean[known(u)?])).sum::<f64>();
        for (unknown, by) in zeros.into_iter().chain(turning.into_iter().map(|u| (u, slope))) {
            match known(&unknown) {
                Some(at) => row.push((at, by)),
                None => fresh.push((unknown, by)),
            }
        }
        let noise = Row::of(0, reading, probe, rig, model.population.noise_of(reading.kind, &reading.rig));
        let expected = Expected { mean, sd: 0.0, noise_sd: noise.whole_sd(), row, fresh };
        Ok((self.with_scale(reading, rig, expected), v))
    }

    /// Covariance of two rows over this belief's unknowns, as [`Belief::expect`] gives them; of a row with itself its
    /// variance, the zeros and axes of the measuring included.
    ///
    /// # Panics
    /// Where a row is of another belief with more unknowns.
    #[must_use]
    pub fn covariance(&self, one: &[(usize, f64)], other: &[(usize, f64)]) -> f64 {
        let factor = self.ladder.factor();
        let halved = |row: &[(usize, f64)]| {
            let mut v = vec![0.0; self.mean.len()];
            row.iter().for_each(|&(at, g)| v[at] += g);
            factor.forward(&mut v);
            v
        };
        halved(one).iter().zip(halved(other)).map(|(u, v)| u * v).sum()
    }

    /// The equations of `tube`, linear about the mean of this belief, its unevenness so many times the lot's.
    ///
    /// The belief itself is a mixture over its ladder; [`Belief::rougher`] is the roughness that stands for it.
    ///
    /// # Errors
    /// As [`Belief::fit`]; [`BeliefError::OtherUnknowns`] where they have not the unknowns of this belief.
    pub(super) fn linear_equations(
        &self,
        tube: &Tube,
        model: &Model,
        rougher: f64,
    ) -> Result<LinearEquations, BeliefError> {
        let mut problem = Problem::new(tube, model)?;
        if problem.layout != self.layout {
            return Err(BeliefError::OtherUnknowns { tube: tube.name.clone() });
        }
        problem.roughen(&model.population, rougher);
        Ok(LinearEquations::of(problem, &self.mean))
    }
}

fn norm(v: &[f64]) -> f64 {
    v.iter().map(|x| x * x).sum::<f64>().sqrt()
}

/// Whether so many readings are doubted that it is the tube that is odd.
fn odd(doubted: usize, readings: usize) -> bool {
    doubted >= LEAST_DOUBTED && count(doubted) > MOST_DOUBTED * count(readings)
}

/// A fit with the brake on.
struct Braked {
    problem: Problem,
    solved: Solved,
    doubted: Vec<Doubted>,
    rougher: f64,
    times: f64,
}

/// Fits anew with more roughness and more noise until the readings look like the tube; `None` when nothing mends it but
/// taking them for slips.
fn brake(tube: &Tube, model: &Model, first: &Problem, before: &Solved) -> Result<Option<Braked>, BeliefError> {
    let spread = |p: &Problem, s: &Solved| -> Option<f64> {
        let factor = &s.last.equations(p)?.factor;
        let places = (1..8).map(|i| p.layout.length_mm * f64::from(i) / 8.0);
        let one = |z: f64, deg: f64| {
            let q = Quantity::of(p.layout.fields).height(z, Angle::from_degrees(deg), 1.0);
            let mut v = p.layout.vector(&q);
            factor.forward(&mut v);
            norm(&v)
        };
        Some(places.flat_map(|z| [20.0, 140.0, 260.0].map(|deg| one(z, deg))).sum())
    };
    for (rougher, louder) in BRAKE {
        let mut problem = Problem::new(tube, model)?;
        problem.roughen(&model.population, rougher);
        problem.louder(louder);
        let Some(solved) = problem.solve() else { continue };
        let doubted = problem.doubted(&solved);
        if !odd(doubted.len(), tube.readings.len()) {
            let (Some(wide), Some(narrow)) = (spread(&problem, &solved), spread(first, before)) else { continue };
            let times = wide / narrow;
            return Ok(Some(Braked { problem, solved, doubted, rougher, times }));
        }
    }
    Ok(None)
}

/// Refuses a tube without a length, without a reading of its outside, or with a scan that is not laid out.
pub(super) fn check(tube: &Tube) -> Result<(), BeliefError> {
    if tube.scan.as_ref().is_some_and(|s| s.unrolled.is_none()) {
        return Err(BeliefError::Scan { tube: tube.name.clone(), fault: ScanFault::NotLaidOut });
    }
    if !(tube.length_mm.is_finite() && tube.length_mm > 0.0) {
        return Err(BeliefError::Length { tube: tube.name.clone(), length_mm: tube.length_mm });
    }
    if tube.scan.is_none() && !tube.readings.iter().any(|r| r.kind.is_outside()) {
        return Err(BeliefError::NoReadings { tube: tube.name.clone() });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Rig;
    use crate::tube::population::{FieldScale, Population};

    /// Tubes known to be straight, even and round to a micrometre, but for the mean radius (sd 0.05 mm about 12.7) and the
    /// oval along the index line and across it (sd `oval`).
    fn even(oval: f64) -> Model {
        let scale = |level: f64| FieldScale { level, tilt: 1e-4, bend: 1e-4, ess: 1e-4, rough: 1e-4 };
        let mut lobes = vec![scale(1e-4); Population::default().lobes.len()];
        lobes[0] = scale(oval);
        let population = Population {
            radius: scale(0.05),
            lobes,
            centre: scale(1e-4),
            texture: Texture { mm: 0.0, log_sd: 0.0 },
            ..Population::default()
        };
        // and an instrument without an error of zero or angle
        let exact = Rig { line_deg: Some(0.0), setting_deg: Some(0.0), bias_mm: Some(0.0), ..Rig::default() };
        let rigs = BTreeMap::from([(String::new(), exact)]);
        Model { population: population.held(), rigs, index_line_deg: 0.0, ..Model::default() }
    }

    fn reading(kind: Kind, z_mm: f64, deg: f64, value_mm: f64) -> Reading {
        Reading { sd_mm: Some(0.05), ..Reading::new(kind, z_mm, Angle::from_degrees(deg), value_mm) }
    }

    fn tube(readings: Vec<Reading>) -> Tube {
        Tube { name: "B".into(), length_mm: 200.0, readings, ..Tube::default() }
    }

    fn field(belief: &Belief, at: usize) -> Quantity {
        Quantity::of(belief.fields()).field(100.0, at, 1.0)
    }

    #[test]
    fn one_diameter_and_the_prior_meet_by_their_weights() {
        // prior 12.7 +-0.05 (weight 400), reading 12.8 +-0.025 of the radius (weight 1600): 12.78 +-1/sqrt(2000)
        let belief = Belief::fit(&tube(vec![reading(Kind::Diameter, 100.0, 0.0, 25.6)]), &even(1e-4)).expect("fits");
        let radius = belief.mean_sections(&[100.0]).section(0).mean_radius_mm();
        assert!((radius - 12.78).abs() < 1e-4, "{radius}");
        let doubt = belief.doubt_of(&field(&belief, Fields::R0));
        assert!((doubt.sd - 2000_f64.sqrt().recip()).abs() < 1e-4 && (doubt.prior_sd - 0.05).abs() < 1e-4, "{doubt:?}");
        assert!(doubt.seen() && belief.doubted().is_empty() && belief.settled());
    }

    #[test]
    fn a_width_ties_size_and_oval_together_and_leaves_their_difference_open() {
        // the jaws at 0 deg read 2 (R0 + a2): the sum was known to 0.05 sqrt 2 (weight 200), is read with weight 1600, so
        // stands at 12.7 + 0.1 * 8/9 to 1/sqrt(1800); the difference stays at 0.05 sqrt 2, so both are tied negatively
        let belief = Belief::fit(&tube(vec![reading(Kind::Diameter, 100.0, 0.0, 25.6)]), &even(0.05)).expect("fits");
        let at = belief.fields().harmonic(2);
        let both = |sign: f64| belief.doubt_of(&field(&belief, Fields::R0).field(100.0, at, sign)).sd;
        assert!((both(1.0) - 1800_f64.sqrt().recip()).abs() < 1e-4, "{}", both(1.0));
        assert!((both(-1.0) - 0.005_f64.sqrt()).abs() < 1e-4, "{}", both(-1.0));
        let row = belief.mean_sections(&[100.0]);
        assert!((row.row(0)[Fields::R0] + row.row(0)[at] - 12.7 - 0.1 * 8.0 / 9.0).abs() < 1e-4, "{:?}", row.row(0));
    }

    #[test]
    fn draws_scatter_as_the_belief_says() {
        let belief = Belief::fit(&tube(vec![reading(Kind::Diameter, 100.0, 0.0, 25.6)]), &even(0.05)).expect("fits");
        let at = belief.fields().harmonic(2);
        let n = 4000;
        let drawn: Vec<[f64; 2]> = (0..n)
            .map(|k| belief.draw_sections(7, k, &[100.0]))
            .map(|s| [s.row(0)[Fields::R0] - 12.7, s.row(0)[at]])
            .collect();
        let mean = |f: &dyn Fn(&[f64; 2]) -> f64| drawn.iter().map(f).sum::<f64>() / 4000.0;
        let middle = [mean(&|d| d[0]), mean(&|d| d[1])];
        // each has half of the mean of the sum; var = (1/1800 + 1/200) / 4, covariance (1/1800 - 1/200) / 4
        for m in middle {
            assert!((m - 0.1 * 4.0 / 9.0).abs() < 4.0 * 0.0373 / 63.0, "{middle:?}");
        }
        let moment = |i: usize, j: usize| mean(&|d| (d[i] - middle[i]) * (d[j] - middle[j]));
        let (own, tied) = ((1.0 / 1800.0 + 1.0 / 200.0) / 4.0, (1.0 / 1800.0 - 1.0 / 200.0) / 4.0);
        assert!((moment(0, 0) / own - 1.0).abs() < 0.1 && (moment(1, 1) / own - 1.0).abs() < 0.1);
        assert!((moment(0, 1) / tied - 1.0).abs() < 0.1, "{} {tied}", moment(0, 1));
        assert_eq!(belief.draw_sections(7, 5, &[3.0]), belief.draw_sections(7, 5, &[3.0]));
    }

    #[test]
    fn a_dial_shows_the_oval_and_its_own_zero_but_no_size() {
        // zero at 12.7 mm from the axis, so every reading is h - 16.2; an oval of amplitude 0.15 along the index line
        let readings = (0..12).map(|i| {
            let deg = 30.0 * f64::from(i);
            reading(Kind::Runout, 100.0, deg, -3.5 + 0.15 * (2.0 * deg.to_radians()).cos())
        });
        let model = Model::default();
        let belief = Belief::fit(&tube(readings.collect()), &model).expect("fits");
        let row = belief.mean_sections(&[100.0]);
        let [cos, sin] = [0, 1].map(|part| row.row(0)[belief.fields().harmonic(2) + part]);
        assert!(cos > 0.14 && cos < 0.151 && sin.abs() < 1e-6, "{cos} {sin}");
        assert!(!belief.doubt_of(&field(&belief, Fields::R0)).seen());
        // the same setting read on: the zero is known; a new setting brings a zero of its own
        let on = belief.expect(&reading(Kind::Runout, 100.0, 90.0, 0.0), &model).expect("a runout needs no size");
        assert!((on.mean - (-3.5 - 0.15)).abs() < 0.01 && on.fresh.is_empty(), "{on:?}");
        assert!(belief.covariance(&on.row, &on.row).sqrt() < 0.05, "{on:?}");
        let anew = Reading { set: "second".into(), ..reading(Kind::Runout, 100.0, 90.0, 0.0) };
        let anew = belief.expect(&anew, &model).expect("a runout needs no size");
        // its own zero, which adds to the reading, and its own turn against the index line
        let zero = anew.fresh.iter().find(|(u, _)| matches!(u, Unknown::Zero(Kind::Runout, ..))).expect("a new zero");
        assert!((zero.1 - 1.0).abs() < 1e-12 && anew.fresh.len() == 2, "{:?}", anew.fresh);
        assert!((anew.mean - 12.7 + 0.15).abs() < 0.1 && (anew.sd - on.sd).abs() < 1e-9, "{anew:?}");
    }

    #[test]
    fn a_lifted_edge_whose_gap_opens_toward_the_middle_tells_a_hollow_line() {
        // 1 mm under the middle of a straightedge along 0 deg: the bark there lies lower, so the tube bows toward 180 deg
        let gaps = [(0.0, 0.2), (50.0, 0.95), (100.0, 1.2), (150.0, 0.95), (200.0, 0.2)];
        let readings = gaps.iter().map(|&(z, gap)| reading(Kind::Lifted, z, 0.0, gap)).collect();
        let belief = Belief::fit(&tube(readings), &Model::default()).expect("fits");
        let s = belief.mean_sections(&[0.0, 100.0, 200.0]);
        let h = [0, 1, 2].map(|j| s.section(j).height_mm(Angle::ZERO));
        let hollow = h[1] - 0.5 * (h[0] + h[2]);
        assert!(hollow < -0.9 && hollow > -1.05, "{hollow}");
        assert!(s.section(1).centre_mm()[0] < s.section(0).centre_mm()[0]);
    }

    #[test]
    fn what_is_expected_of_a_reading_is_what_the_fit_doubted_it_against() {
        let mut readings: Vec<Reading> =
            (0..12).map(|i| reading(Kind::Diameter, 50.0 + 10.0 * f64::from(i), 30.0 * f64::from(i), 25.6)).collect();
        readings[5].value_mm = 28.0;
        let tube = tube(readings);
        let model = even(0.05);
        let belief = Belief::fit(&tube, &model).expect("fits");
        let [doubted] = belief.doubted() else { panic!("{:?}", belief.doubted()) };
        assert!(doubted.index == 5 && doubted.departure_sd > 20.0, "{doubted:?}");
        let expected = belief.expect(&tube.readings[5], &model).expect("a width needs no size");
        assert!((expected.mean - doubted.expected_mm).abs() < 1e-9, "{expected:?} {doubted:?}");
        assert!((expected.noise_sd - 0.05).abs() < 1e-12 && expected.sd < 0.1, "{expected:?}");
        // its variance by the row is that of the surface: this caliper has an unknown of its own, but a sure one
        // (the one is of the stated roughness, the other of the ladder's)
        let by_row = belief.covariance(&expected.row, &expected.row).sqrt();
        assert!((by_row / expected.sd - 1.0).abs() < 0.01, "{by_row} {}", expected.sd);
    }

    #[test]
    fn what_was_never_measured_is_refused_and_not_called_sure() {
        let belief = Belief::fit(&tube(vec![reading(Kind::Diameter, 100.0, 0.0, 25.6)]), &even(0.1)).expect("fits");
        let model = Model::default();
        let expect = |kind: Kind| belief.expect(&reading(kind, 100.0, 0.0, 1.0), &model);
        let not_held = |what: &'static str| Err(BeliefError::NotHeld { tube: "B".into(), what: what.into() });
        assert_eq!(expect(Kind::Wall), not_held("wall"));
        assert_eq!(expect(Kind::Grain), not_held("grain"));
        assert!(matches!(expect(Kind::Vee), Err(BeliefError::Lacks { .. })));
        assert!(matches!(Belief::fit(&tube(Vec::new()), &model), Err(BeliefError::NoReadings { .. })));
    }

    /// Catches one zero for two dials: where neither names a set, what they differ by would be taken for size.
    #[test]
    fn two_dials_have_a_zero_each() {
        let mut readings: Vec<Reading> =
            [0.0, 90.0].iter().flat_map(|&deg| [30.0, 170.0].map(|z| reading(Kind::Diameter, z, deg, 25.4))).collect();
        for (rig, zero) in [("one", 0.7), ("other", -0.8)] {
            let ring = |z: f64| (0..8).map(move |i| (z, 45.0 * f64::from(i)));
            let dial = |(z, deg)| Reading { rig: rig.into(), ..reading(Kind::Runout, z, deg, zero) };
            readings.extend([30.0, 100.0, 170.0].into_iter().flat_map(ring).map(dial));
        }
        let belief = Belief::fit(&tube(readings), &Model::default()).expect("fits");
        let told = belief.figures(1, 60);
        let size = told.diameter_mm.expect("seen");
        assert!((size.value - 25.4).abs() < 0.05 && size.sd < 0.1, "{size:?}");
        assert!(belief.doubted().is_empty() && belief.widened().is_none());
    }

    /// Catches an error of scale that is left out of what a reading hangs on before it is taken.
    #[test]
    fn a_reading_to_be_taken_hangs_on_the_scale_of_its_instrument() {
        let rig = Rig { scale_percent: Some(0.2), ..Rig::default() };
        let model = Model { rigs: [("c".to_string(), rig)].into(), ..Model::default() };
        let taken = Reading { rig: "c".into(), ..reading(Kind::Diameter, 100.0, 0.0, 25.4) };
        let by_scale = |rows: &[(usize, f64)], of: &Belief| {
            let at = of.layout.measuring[&Unknown::Scale(Kind::Diameter, "c".into())];
            rows.iter().find(|r| r.0 == at).map(|r| r.1)
        };
        let belief = Belief::fit(&tube(vec![taken.clone()]), &model).expect("fits");
        let next = belief.expect(&Reading { z_mm: 140.0, ..taken.clone() }, &model).expect("a width");
        let by = by_scale(&next.row, &belief).expect("it hangs on it");
        assert!((by - 25.4).abs() < 0.5, "{by}");
        let bare = Belief::fit(&tube(vec![reading(Kind::Diameter, 100.0, 0.0, 25.4)]), &model).expect("fits");
        let anew = bare.expect(&taken, &model).expect("a width");
        assert!(anew.fresh.iter().any(|(u, by)| matches!(u, Unknown::Scale(..)) && (by - 25.4).abs() < 0.5));
    }
}
