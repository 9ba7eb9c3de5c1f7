//! Which scales a lot's tubes were believed under, where each came from, and how sure it is.

use crate::domain::Kind;
use crate::tube::learn::{Learned, LearnedNoise, LearnedScale};
use crate::tube::{Measured, Unknown};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The scales of a lot in use, with their doubt.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ScalesUsed {
    /// Tubes they were learned from; 0 where none could be fitted.
    pub tubes: usize,
    /// Tubes that could have served; of more than twenty-four an even choice is taken.
    pub of_tubes: usize,
    /// False when the learning was stopped by its cap.
    pub settled: bool,
    /// Every scale these tubes use, in a fixed order.
    pub scales: Vec<ScaleUsed>,
    /// Every instrument of which the lot tells something.
    pub instruments: Vec<InstrumentUsed>,
}

/// One scale in use.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ScaleUsed {
    /// Its name, as under `[population]` in `lot.toml`.
    pub name: String,
    /// Its value, mm; of the twist degrees.
    pub value: f64,
    /// Lower end of its 68 % interval; the value itself where the scale is given and not doubted.
    pub low: f64,
    /// Upper end of the same.
    pub high: f64,
    /// Where it comes from.
    pub source: ScaleSource,
}

/// Where a scale comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum ScaleSource {
    /// The lot's own readings, within the built-in law.
    #[serde(rename = "lot")]
    Lot,
    /// The built-in law: these readings see too little of this scale by itself. It stands off the built-in centre where
    /// scales that the law ties to it were learned.
    #[serde(rename = "built-in")]
    BuiltIn,
    /// Fixed under `[population]` in `lot.toml`.
    #[serde(rename = "lot.toml")]
    LotToml,
}

impl ScaleSource {
    /// The word shown and stored.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            ScaleSource::Lot => "lot",
            ScaleSource::BuiltIn => "built-in",
            ScaleSource::LotToml => "lot.toml",
        }
    }
}

/// One instrument as a lot tells it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct InstrumentUsed {
    /// What is read with it: the word of the kind.
    pub kind: String,
    /// Name of its rig; empty where none was given.
    pub rig: String,
    /// Its noise over what it states or its kind is known for; `None` where its steps hide the noise.
    pub noise: Option<NoiseUsed>,
    /// Error of its zero that is the same on all tubes, mm; `None` for kinds that have their zeros set anew.
    pub bias_mm: Option<Measured>,
    /// Error of its scale that is the same on all tubes, percent; `None` where its rig states none.
    #[serde(default)]
    pub scale_percent: Option<Measured>,
}

/// The noise of an instrument over the stated one.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct NoiseUsed {
    /// How many times the stated noise.
    pub times: f64,
    /// Lower end of its 68 % interval.
    pub low: f64,
    /// Upper end of the same.
    pub high: f64,
}

impl Default for ScalesUsed {
    /// Nothing learned and nothing used, as of a lot without a tube that can be fitted.
    fn default() -> Self {
        ScalesUsed { tubes: 0, of_tubes: 0, settled: true, scales: Vec::new(), instruments: Vec::new() }
    }
}

impl ScalesUsed {
    /// What was learned of a lot, as it is kept beside its results.
    #[must_use]
    pub fn of(learned: &Learned) -> ScalesUsed {
        let population = &learned.population;
        let source = |s: &LearnedScale| match (s.learned, population.is_fixed(&s.name)) {
            (_, true) => ScaleSource::LotToml,
            (true, false) => ScaleSource::Lot,
            (false, false) => ScaleSource::BuiltIn,
        };
        let one = |s: &LearnedScale| {
            let (low, high) = within(s.value, s.log_sd);
            ScaleUsed { name: s.name.clone(), value: s.value, low, high, source: source(s) }
        };
        let given = |name: &str, value: f64| {
            let source = if population.is_fixed(name) { ScaleSource::LotToml } else { ScaleSource::BuiltIn };
            ScaleUsed { name: name.into(), value, low: value, high: value, source }
        };
        let mut scales: Vec<ScaleUsed> = learned.scales.iter().map(one).collect();
        if scales.iter().any(|s| s.name == "wall_level") {
            scales.push(given("wall_mm", population.wall_mm));
        }
        ScalesUsed {
            tubes: learned.tubes,
            of_tubes: learned.of_tubes,
            settled: learned.settled,
            scales,
            instruments: instruments(learned),
        }
    }

    /// The scale of this name, where these tubes use it.
    #[must_use]
    pub fn scale(&self, name: &str) -> Option<&ScaleUsed> {
        self.scales.iter().find(|s| s.name == name)
    }
}

/// The interval of one standard deviation of the logarithm either way.
fn within(value: f64, log_sd: f64) -> (f64, f64) {
    (value * (-log_sd).exp(), value * log_sd.exp())
}

fn instruments(learned: &Learned) -> Vec<InstrumentUsed> {
    type Told = (Option<NoiseUsed>, Option<Measured>, Option<Measured>);
    let mut all: BTreeMap<(Kind, String), Told> = BTreeMap::new();
    for LearnedNoise { kind, rig, times, log_sd } in &learned.noise {
        let (low, high) = within(*times, *log_sd);
        all.entry((*kind, rig.clone())).or_default().0 = Some(NoiseUsed { times: *times, low, high });
    }
    for (unknown, &(value, sd)) in &learned.common {
        match unknown {
            Unknown::Bias(kind, rig) => all.entry((*kind, rig.clone())).or_default().1 = Some(Measured { value, sd }),
            Unknown::Scale(kind, rig) => {
                let percent = Measured { value: 100.0 * value, sd: 100.0 * sd };
                all.entry((*kind, rig.clone())).or_default().2 = Some(percent);
            }
            _ => {}
        }
    }
    let one = |((kind, rig), (noise, bias_mm, scale_percent)): ((Kind, String), Told)| InstrumentUsed {
        kind: kind.word().into(),
        rig,
        noise,
        bias_mm,
        scale_percent,
    };
    all.into_iter().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::PopulationOverride;
    use crate::tube::Population;

    #[test]
    fn every_scale_says_where_it_comes_from_and_a_given_one_has_no_doubt() {
        let one = |name: &str, value: f64, log_sd: f64, learned: bool| LearnedScale {
            name: name.into(),
            before: 1.0,
            value,
            log_sd,
            learned,
        };
        let over = PopulationOverride::from([("lobe3_level".into(), 0.08), ("texture_mm".into(), 0.01)]);
        let noise = LearnedNoise { kind: Kind::Runout, rig: String::new(), times: 2.0, log_sd: 2_f64.ln() };
        let bias = (Unknown::Bias(Kind::Diameter, "jaws".into()), (0.03, 0.01));
        let learned = Learned {
            scales: vec![
                one("lobe2_level", 0.4, 2_f64.ln(), true),
                one("lobe3_level", 0.08, 0.0, false),
                one("centre_bend", 1.3, 0.7, false),
                one("texture_mm", 0.01, 0.0, false),
            ],
            noise: vec![noise],
            population: Population::with(&over).expect("good names"),
            common: [bias].into(),
            tubes: 12,
            of_tubes: 40,
            gain: 5.0,
            settled: true,
        };
        let used = ScalesUsed::of(&learned);
        assert_eq!((used.tubes, used.of_tubes), (12, 40));
        let oval = used.scale("lobe2_level").expect("listed");
        // a factor of two either way
        assert!((oval.low - 0.2).abs() < 1e-12 && (oval.high - 0.8).abs() < 1e-12 && oval.source == ScaleSource::Lot);
        assert_eq!(used.scale("centre_bend").expect("listed").source, ScaleSource::BuiltIn);
        for (name, value) in [("lobe3_level", 0.08), ("texture_mm", 0.01)] {
            let s = used.scale(name).expect("listed");
            assert_eq!((s.source, s.value, s.low, s.high), (ScaleSource::LotToml, value, value, value));
        }
        assert!(used.scale("wall_mm").is_none(), "no wall was read");
        let [jaws, dial] = used.instruments.as_slice() else { panic!("{used:?}") };
        assert_eq!((jaws.kind.as_str(), jaws.rig.as_str(), jaws.noise), ("diameter", "jaws", None));
        assert_eq!(jaws.bias_mm, Some(Measured { value: 0.03, sd: 0.01 }));
        let noise = dial.noise.expect("told");
        assert!(dial.kind == "runout" && (noise.low - 1.0).abs() < 1e-12 && (noise.high - 4.0).abs() < 1e-12);
    }
}
