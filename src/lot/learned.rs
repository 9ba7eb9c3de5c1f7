//! Learned scales as they are stored.

use super::json::FORMAT;
use super::json::pretty;
use super::scales::{InstrumentUsed, ScalesUsed};
use crate::tube::learn::{Learned, LearnedScale};
use serde::Serialize;

#[derive(Serialize)]
struct Record<'a> {
    format: u64,
    tubes: usize,
    of_tubes: usize,
    log_likelihood_gain: f64,
    scales: Vec<Scale<'a>>,
    instruments: Vec<InstrumentUsed>,
}

#[derive(Serialize)]
struct Scale<'a> {
    scale: &'a str,
    value: f64,
    log_sd: f64,
    before: f64,
    learned: bool,
}

impl Scale<'_> {
    fn of(s: &LearnedScale) -> Scale<'_> {
        Scale { scale: &s.name, value: s.value, log_sd: s.log_sd, before: s.before, learned: s.learned }
    }
}

/// The scales as JSON.
#[must_use]
pub fn learned_json(learned: &Learned) -> String {
    pretty(&Record {
        format: FORMAT,
        tubes: learned.tubes,
        of_tubes: learned.of_tubes,
        log_likelihood_gain: learned.gain,
        scales: learned.scales.iter().map(Scale::of).collect(),
        instruments: ScalesUsed::of(learned).instruments,
    })
}
