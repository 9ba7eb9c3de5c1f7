//! Faults planted in the readings of simulated tubes, and whether they are found.

use quarterlight::domain::{Kind, Reading, Tube};
use quarterlight::numeric::draws;
use quarterlight::numeric::summary::{count, to_index};
use quarterlight::tube::faults::suspicions;
use quarterlight::tube::simulate::{Stand, TrueTube};
use quarterlight::tube::{Belief, Cause, Model, Suspicion};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

/// What a tube is read with, at stations 17 mm apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bench {
    /// A dial of unknown zero at 12 angles, 0.02 mm, and four widths at one station.
    Dial,
    /// Distances from an axis at 12 angles, 0.02 mm.
    Axis,
    /// A dial over a 90 deg V-block at 12 angles, 0.02 mm, and four widths at one station.
    Block,
    /// Gaps from a straightedge along 8 lines, 0.03 mm, written line by line, and four widths at every fifth station.
    Straightedge,
    /// Bars of 70 mm along 8 lines, 0.02 mm, and four widths at one station.
    Bar,
    /// Widths in six directions, 0.05 mm.
    Caliper,
}

impl Bench {
    /// The kind the faults are planted in.
    pub fn kind(self) -> Kind {
        match self {
            Bench::Dial => Kind::Runout,
            Bench::Axis => Kind::Radius,
            Bench::Block => Kind::Vee,
            Bench::Straightedge => Kind::Lifted,
            Bench::Bar => Kind::Bridge,
            Bench::Caliper => Kind::Diameter,
        }
    }

    fn has_zero(self) -> bool {
        matches!(self, Bench::Dial | Bench::Block)
    }
}

/// What is planted; "station" is one of the bench's kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Plant {
    /// The zero slips by this much, mm, either way, somewhere in the middle 70 % of a set (of a line, for gaps).
    Slip(f64),
    /// Two neighbouring stations change places.
    SwapNeighbours,
    /// Two stations at least two steps apart change places.
    SwapFar,
    /// The decimal mark of one reading of at least this size, mm, moves one place either way.
    Decimal(f64),
    /// One reading of at least this size, mm, written in inches.
    InchReading(f64),
    /// All values of one station written in inches.
    InchRing,
    /// The place of one station written in inches.
    InchPlace,
    /// The angles of one station turned by one step.
    Turn,
    /// All angles of the kind turned by one step, beside eight widths at each of five stations.
    TurnKind,
    /// One of three sets (one line, for gaps) with its sign reversed.
    SignSet,
    /// One station with its sign reversed, about its own mean.
    SignRing,
}

/// What became of one tube.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// Size of the fault: root mean square change of the readings it touched, mm.
    pub rms_mm: f64,
    /// Something was suspected.
    pub found: bool,
    /// The strongest suspicion names the cause and the readings.
    pub named: bool,
}

/// A tube as read, what its readings belong to, and the state of its stream of chance.
pub struct Read {
    pub tube: Tube,
    /// Readings of the bench's kind by station, then by angle.
    pub stations: Vec<Vec<usize>>,
    pub rng: ChaCha8Rng,
}

/// A fault and what has to be said of it.
pub struct Planted {
    pub tube: Tube,
    pub which: Vec<usize>,
    pub cause: Cause,
    pub rms_mm: f64,
}

/// A tube without fault; zeros change between stations so that there are `sets` of them, and `diameters` (4, else 40)
/// widths lie beside.
pub fn clean(bench: Bench, seed: u64, k: u64, sets: usize, diameters: usize) -> Read {
    let truth = TrueTube::grow(&Stand::default(), seed, k);
    let mut rng = draws::stream(seed, "read", k);
    let mut tube = truth.listed();
    let (angles, noise) = match bench {
        Bench::Dial | Bench::Axis | Bench::Block => (12, 0.02),
        Bench::Straightedge => (8, 0.03),
        Bench::Bar => (8, 0.02),
        Bench::Caliper => (12, 0.05),
    };
    let mut list = truth.rings(bench.kind(), angles, 17.0, noise, &mut rng);
    if bench == Bench::Caliper {
        list = half_round(list);
    }
    let mut places: Vec<f64> = list.iter().map(|r| r.z_mm).collect();
    places.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    if bench == Bench::Straightedge {
        list.sort_by(|a, b| a.angle.degrees().total_cmp(&b.angle.degrees()).then(a.z_mm.total_cmp(&b.z_mm)));
    }
    let station = |r: &Reading| places.iter().position(|z| (z - r.z_mm).abs() < 1e-9).expect("its place");
    let mut stations = vec![Vec::new(); places.len()];
    for (i, r) in list.iter_mut().enumerate() {
        let s = station(r);
        stations[s].push(i);
        if bench == Bench::Bar {
            r.set = format!("{}", s * sets / places.len() + 1);
        }
        if bench.has_zero() {
            let set = s * sets / places.len();
            r.set = format!("{}", set + 1);
            r.value_mm += 0.4 * count(set);
        }
    }
    tube.readings = list;
    if !matches!(bench, Bench::Axis | Bench::Caliper) || diameters > 4 {
        let around = if diameters > 4 { 16 } else { 8 };
        let step = match (bench, diameters) {
            (_, 5..) => truth.length_mm / 4.0,
            (Bench::Straightedge, _) => 85.0,
            _ => 1e9,
        };
        let most = if bench == Bench::Straightedge { usize::MAX } else { diameters };
        tube.readings
            .extend(half_round(truth.rings(Kind::Diameter, around, step, 0.05, &mut rng)).into_iter().take(most));
    }
    Read { tube, stations, rng }
}

/// Widths are the same from both sides.
fn half_round(list: Vec<Reading>) -> Vec<Reading> {
    list.into_iter().filter(|r| r.angle.degrees() < 179.0).collect()
}

/// What the tool says of a tube.
pub fn look(tube: &Tube) -> Vec<Suspicion> {
    let model = Model::default();
    let belief = Belief::fit(tube, &model).expect("readings of the outside");
    suspicions(tube, &belief, &model).expect("searched").told
}

fn pick(rng: &mut ChaCha8Rng, from: usize, to: usize) -> usize {
    from + to_index(rng.random::<f64>() * count(to - from)).min(to - from - 1)
}

/// A tube with one fault, the readings it should name, and the cause.
pub fn planted(bench: Bench, plant: Plant, seed: u64, k: u64) -> Planted {
    let (mut read, before) = bare(bench, plant, seed, k);
    let (which, cause) = plant_one(bench, plant, &mut read);
    let square: f64 = which.iter().map(|&i| (read.tube.readings[i].value_mm - before[i]).powi(2)).sum();
    let rms_mm = (square / count(which.len())).sqrt();
    Planted { tube: read.tube, which, cause, rms_mm }
}

/// A tube with two faults that touch different readings (a slipped zero may lie under the other), or `None` where chance
/// does not part them.
pub fn planted_pair(bench: Bench, plants: [Plant; 2], seed: u64, k: u64) -> Option<[Planted; 2]> {
    let (mut read, _) = bare(bench, plants[0], seed, k);
    let (first, cause) = plant_one(bench, plants[0], &mut read);
    let slipped = matches!(plants[0], Plant::Slip(_));
    for _ in 0..20 {
        let mut tried = Read { tube: read.tube.clone(), stations: read.stations.clone(), rng: read.rng.clone() };
        let (second, other) = plant_one(bench, plants[1], &mut tried);
        read.rng = tried.rng;
        if slipped || second.iter().all(|i| !first.contains(i)) {
            let of = |which: Vec<usize>, cause: Cause| Planted { tube: tried.tube.clone(), which, cause, rms_mm: 0.0 };
            return Some([of(first, cause), of(second, other)]);
        }
    }
    None
}

fn bare(bench: Bench, plant: Plant, seed: u64, k: u64) -> (Read, Vec<f64>) {
    let sets = if plant == Plant::SignSet { 3 } else { 1 };
    let diameters = if plant == Plant::TurnKind { 40 } else { 4 };
    let read = clean(bench, seed, k, sets, diameters);
    let before = read.tube.readings.iter().map(|r| r.value_mm).collect();
    (read, before)
}

/// Plants a fault: the readings it touches, ascending, and its cause.
fn plant_one(bench: Bench, plant: Plant, read: &mut Read) -> (Vec<usize>, Cause) {
    let Read { tube, stations, rng } = read;
    let before: Vec<f64> = tube.readings.iter().map(|r| r.value_mm).collect();
    let main = stations.iter().map(Vec::len).sum::<usize>();
    let side = if rng.random::<bool>() { 1.0 } else { -1.0 };
    let s = pick(rng, 0, stations.len());
    let rs = &mut tube.readings;
    let big = |rng: &mut ChaCha8Rng, least: f64| {
        let list: Vec<usize> = (0..main).filter(|&i| before[i].abs() >= least).collect();
        if list.is_empty() { pick(rng, 0, main) } else { list[pick(rng, 0, list.len())] }
    };
    let turn = |rs: &mut [Reading], ring: &[usize]| {
        let n = ring.len();
        let shift = if side > 0.0 { 1 } else { n - 1 };
        (0..n).for_each(|i| rs[ring[i]].value_mm = before[ring[(i + shift) % n]]);
    };
    let (mut which, cause) = match plant {
        Plant::Slip(size) => {
            let lines = if bench == Bench::Straightedge { stations[0].len() } else { 1 };
            let n = main / lines;
            let line = pick(rng, 0, lines);
            let from = line * n + pick(rng, (n * 15).div_ceil(100).max(3), (n * 85 / 100).min(n - 2));
            let which: Vec<usize> = (from..(line + 1) * n).collect();
            which.iter().for_each(|&i| rs[i].value_mm += side * size);
            (which, Cause::SlippedZero)
        }
        Plant::SwapNeighbours | Plant::SwapFar => {
            let far = if plant == Plant::SwapFar { pick(rng, 2, stations.len() - 1) } else { 1 };
            let a = pick(rng, 0, stations.len() - far);
            let (a, b) = (&stations[a], &stations[a + far]);
            for (&i, &j) in a.iter().zip(b) {
                (rs[i].value_mm, rs[j].value_mm) = (before[j], before[i]);
            }
            ([a.as_slice(), b].concat(), Cause::SwappedStations)
        }
        Plant::Decimal(least) => {
            let i = big(rng, least);
            rs[i].value_mm *= if side > 0.0 { 10.0 } else { 0.1 };
            (vec![i], Cause::DecimalSlip)
        }
        Plant::InchReading(least) => {
            let i = big(rng, least);
            rs[i].value_mm /= 25.4;
            (vec![i], Cause::InchAsMm)
        }
        Plant::InchRing => {
            stations[s].iter().for_each(|&i| rs[i].value_mm /= 25.4);
            (stations[s].clone(), Cause::InchAsMm)
        }
        Plant::InchPlace => {
            let s = pick(rng, 1, stations.len());
            stations[s].iter().for_each(|&i| rs[i].z_mm /= 25.4);
            (stations[s].clone(), Cause::InchAsMm)
        }
        Plant::Turn => {
            turn(rs, &stations[s]);
            (stations[s].clone(), Cause::AnglesShifted)
        }
        Plant::TurnKind => {
            stations.iter().for_each(|ring| turn(rs, ring));
            ((0..main).collect(), Cause::AnglesShifted)
        }
        Plant::SignSet if bench == Bench::Straightedge => {
            let n = stations.len();
            let line = pick(rng, 0, stations[0].len());
            let list: Vec<usize> = (line * n..(line + 1) * n).collect();
            list.iter().for_each(|&i| rs[i].value_mm = -before[i]);
            (list, Cause::SignReversed)
        }
        Plant::SignSet => {
            let set = format!("{}", pick(rng, 0, 3) + 1);
            let list: Vec<usize> = (0..main).filter(|&i| rs[i].set == set).collect();
            list.iter().for_each(|&i| rs[i].value_mm = -before[i]);
            (list, Cause::SignReversed)
        }
        Plant::SignRing => {
            let ring = &stations[s];
            let mean = ring.iter().map(|&i| before[i]).sum::<f64>() / count(ring.len());
            ring.iter().for_each(|&i| rs[i].value_mm = 2.0 * mean - before[i]);
            (ring.clone(), Cause::SignReversed)
        }
    };
    which.sort_unstable();
    (which, cause)
}

/// Outcomes over `tubes` tubes.
pub fn study(bench: Bench, plant: Plant, tubes: u64, seed: u64) -> Vec<Outcome> {
    (0..tubes)
        .into_par_iter()
        .map(|k| {
            let p = planted(bench, plant, seed, k);
            let list = look(&p.tube);
            let named = list.first().is_some_and(|s| names(s, &p, plant));
            Outcome { rms_mm: p.rms_mm, found: !list.is_empty(), named }
        })
        .collect()
}

/// The right cause and the right readings: where a zero slipped is right to within a reading; a kind turned against
/// another may be told of either.
pub fn names(s: &Suspicion, p: &Planted, plant: Plant) -> bool {
    let close = match plant {
        Plant::Slip(_) => s.readings.len().abs_diff(p.which.len()) <= 1 && s.readings.last() == p.which.last(),
        Plant::TurnKind => true,
        _ => s.readings == p.which,
    };
    s.cause == p.cause && close
}

/// How many of `tubes` clean tubes are suspected, and of what.
pub fn false_alarms(bench: Bench, tubes: u64, seed: u64, sets: usize, diameters: usize) -> Vec<(u64, Suspicion)> {
    let of = |k: u64| look(&clean(bench, seed, k, sets, diameters).tube).into_iter().next().map(|s| (k, s));
    (0..tubes).into_par_iter().filter_map(of).collect()
}

/// Of the tubes with two faults: how many there were, how many had both named, and how many at least one.
pub fn study_pair(bench: Bench, plants: [Plant; 2], tubes: u64, seed: u64) -> (usize, usize, usize) {
    let counts: Vec<usize> = (0..tubes)
        .into_par_iter()
        .filter_map(|k| {
            let pair = planted_pair(bench, plants, seed, k)?;
            let list = look(&pair[0].tube);
            Some((0..2).filter(|&n| list.iter().any(|s| names(s, &pair[n], plants[n]))).count())
        })
        .collect();
    let at_least = |n: usize| counts.iter().filter(|&&c| c >= n).count();
    (counts.len(), at_least(2), at_least(1))
}
