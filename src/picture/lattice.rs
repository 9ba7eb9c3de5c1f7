//! A lattice of like discs among dark blobs, whatever its size and turn.

use super::blobs::{Blob, Mask};
use super::grey::Grey;
use crate::geometry::scale_card::{COLUMNS, DISC_MM, PITCH_MM, ROWS};
use std::collections::BTreeMap;

/// Shares of the brightest light (coded) below which a pixel is taken as print, tried one after another.
const PRINT: [f64; 3] = [0.5, 0.35, 0.65];
/// Smallest disc, pixels.
const LEAST_AREA: usize = 30;
/// Most blobs that are looked at.
const MOST: usize = 4000;
/// How far the distance of neighbours may lie off, as a share of it.
const PLAY: f64 = 0.12;
/// Fewest discs that make a card.
pub(super) const LEAST_DISCS: usize = 24;

/// A disc in the small picture, with its column and row, both from 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Disc {
    pub(super) cell: (i32, i32),
    pub(super) at: [f64; 2],
    pub(super) diameter: f64,
}

/// The discs of the card, their long side along the columns; `None` where there is none, or not enough of it.
pub(super) fn find(small: &Grey) -> Option<Vec<Disc>> {
    let white = brightest(small);
    PRINT.iter().find_map(|share| {
        let level = share * white;
        let mask = Mask::of(small.width(), small.height(), |x, y| f64::from(small.at(x, y)) < level);
        let discs: Vec<Disc> = mask.blobs(LEAST_AREA).iter().filter_map(disc).take(MOST).collect();
        let found = largest(&discs)?;
        upright(&found)
    })
}

/// The value below which 99 % of the pixels lie.
fn brightest(small: &Grey) -> f64 {
    let mut pixels = small.pixels().to_vec();
    let at = (pixels.len() - 1) * 99 / 100;
    f64::from(*pixels.select_nth_unstable(at).1)
}

/// A blob that is about a full disc.
fn disc(b: &Blob) -> Option<Disc> {
    let (w, h) = (b.width() as f64, b.height() as f64);
    let full = b.area as f64 / (w * h);
    let diameter = 2.0 * (b.area as f64 / std::f64::consts::PI).sqrt();
    (0.75..1.34).contains(&(w / h)).then_some(())?;
    // a disc fills pi / 4 of its box
    (0.66..0.90).contains(&full).then_some(Disc { cell: (0, 0), at: [b.x, b.y], diameter })
}

/// The step from one disc to another where they are neighbours of the lattice.
fn step(a: &Disc, b: &Disc) -> Option<[f64; 2]> {
    let d = [b.at[0] - a.at[0], b.at[1] - a.at[1]];
    let far = PITCH_MM / DISC_MM * a.diameter;
    let alike = (b.diameter / a.diameter - 1.0).abs() < 0.2;
    (alike && (d[0].hypot(d[1]) / far - 1.0).abs() < PLAY).then_some(d)
}

/// The largest lattice among the discs: neighbour to neighbour, each a step or a quarter turn of it.
fn largest(discs: &[Disc]) -> Option<Vec<Disc>> {
    let mut used = vec![false; discs.len()];
    let mut best: Vec<Disc> = Vec::new();
    for start in 0..discs.len() {
        if used[start] {
            continue;
        }
        let Some(base) = discs.iter().enumerate().find_map(|(i, d)| (i != start).then(|| step(&discs[start], d))?)
        else {
            continue;
        };
        let found = grown(discs, start, base, &mut used);
        if found.len() > best.len() {
            best = found;
        }
    }
    (best.len() >= LEAST_DISCS).then_some(best)
}

fn grown(discs: &[Disc], start: usize, base: [f64; 2], used: &mut [bool]) -> Vec<Disc> {
    let mut cells: BTreeMap<(i32, i32), usize> = BTreeMap::from([((0, 0), start)]);
    let mut queue = vec![(start, (0, 0), base)];
    used[start] = true;
    while let Some((at, cell, base)) = queue.pop() {
        let size = base[0].hypot(base[1]);
        for (i, other) in discs.iter().enumerate().filter(|(i, _)| *i != at) {
            let Some(d) = step(&discs[at], other) else { continue };
            let along = (d[0] * base[0] + d[1] * base[1]) / (size * size);
            let across = (d[1] * base[0] - d[0] * base[1]) / (size * size);
            let (u, v) = match () {
                () if along.abs() > 4.0 * across.abs() => (if along > 0.0 { 1 } else { -1 }, 0),
                () if across.abs() > 4.0 * along.abs() => (0, if across > 0.0 { 1 } else { -1 }),
                () => continue,
            };
            let next = (cell.0 + u, cell.1 + v);
            if used[i] || cells.contains_key(&next) {
                continue;
            }
            used[i] = true;
            cells.insert(next, i);
            // the step itself, turned back onto the base, so that a picture may be bent a little
            let (u, v) = (f64::from(u), f64::from(v));
            queue.push((i, next, [d[0] * u + d[1] * v, d[1] * u - d[0] * v]));
        }
    }
    cells.into_iter().map(|(cell, i)| Disc { cell, ..discs[i] }).collect()
}

/// Counted from 0, columns along the long side, rows a quarter turn clockwise from them; `None` unless it has the card's
/// size.
fn upright(found: &[Disc]) -> Option<Vec<Disc>> {
    let span = |f: &dyn Fn(&Disc) -> i32| {
        let (low, high) = found.iter().map(f).fold((i32::MAX, i32::MIN), |(l, h), v| (l.min(v), h.max(v)));
        (low, usize::try_from(high - low + 1).unwrap_or(0))
    };
    let ((left, columns), (top, rows)) = (span(&|d| d.cell.0), span(&|d| d.cell.1));
    let at = |d: &Disc| (d.cell.0 - left, d.cell.1 - top);
    match (columns, rows) {
        (COLUMNS, ROWS) => Some(found.iter().map(|d| Disc { cell: at(d), ..*d }).collect()),
        (ROWS, COLUMNS) => {
            // a quarter turn: what ran down runs along, what ran along runs up
            let last = i32::try_from(ROWS).unwrap_or(0) - 1;
            Some(found.iter().map(|d| (at(d), d)).map(|((i, j), d)| Disc { cell: (j, last - i), ..*d }).collect())
        }
        _ => None,
    }
}
