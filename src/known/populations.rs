//! Populations of tubes, unlike each other and unlike any model's prior.
//!
//! All are invented: nothing is published on the ovality, lobing, bow or twist of dry tube cane, so every figure here is
//! "common practice, no source", chosen within what is known: outside 24 to 27 mm for tubes of about one inch, 0.4 to
//! 1 mm of taper over 200 mm, ovality 0.2 to 1.5 mm (value from memory), fibre lean 0 to 3 deg (value from memory),
//! wrinkles and out-of-round worst near the nodes, that is near the ends.

use super::evaluator::Rules;
use super::form::Form;
use super::numbers::Numbers;
use super::shape::TrueTube;

/// A make of tubes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
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

    /// By its word, small and capital letters alike.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Population> {
        Population::ALL.iter().find(|p| p.0 == word.trim().to_lowercase()).map(|p| p.1)
    }

    /// Tube number `k` under `seed`.
    #[must_use]
    pub fn grow(self, seed: u64, k: u64) -> TrueTube {
        Recipe::of(self).form(seed, k).tube()
    }

    /// Its numbers.
    #[must_use]
    pub fn numbers(self) -> Numbers {
        let usual = Numbers::default();
        let lobes = |top: f64, height: f64, fade: f64, swell: f64, turn: f64| Numbers {
            lobe_top: top,
            lobe_mm: height,
            lobe_fade: fade,
            lobe_swell: swell,
            lobe_turn: turn,
            ..usual.clone()
        };
        let smooth = lobes(7.0, 0.025, 3.0, 0.25, 0.12);
        match self {
            Population::Smooth => smooth,
            Population::RoughLobes => {
                Numbers { size_rough_mm: 0.006, size_reach_mm: 30.0, ..lobes(7.0, 0.060, 2.0, 0.5, 0.2) }
            }
            Population::Dents => Numbers { dents_fewest: 4.0, dents_most: 12.0, ..smooth },
            Population::SlowDecay => {
                Numbers { uneven_mm: 0.12, size_rough_mm: 0.006, size_reach_mm: 18.0, ..usual.clone() }
            }
            Population::Grooves => Numbers {
                turning_oval_deg: 30.0,
                groove_least_mm: 0.03,
                groove_most_mm: 0.30,
                size_rough_mm: 0.006,
                size_reach_mm: 30.0,
                ..lobes(5.0, 0.030, 2.0, 0.3, 0.2)
            },
            Population::Crooked => Numbers { bow_share: 0.7, kink_mm: 2.2, ..lobes(7.0, 0.030, 2.0, 0.4, 0.2) },
            Population::HeavyTails => Numbers {
                wild: 0.6,
                bow_share: 0.7,
                size_rough_mm: 0.004,
                size_reach_mm: 25.0,
                dents_fewest: 4.0,
                dents_most: 12.0,
                ..lobes(7.0, 0.025, 2.2, 0.3, 0.2)
            },
        }
    }
}

/// A make of tubes with numbers of one's own: where it starts, and what it is called.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Recipe {
    /// Its word in tables and files.
    pub name: String,
    /// The make it starts from, whose stream of chance it draws from: with nothing changed the tubes are that make's.
    pub from: Population,
    /// The starting set that its tubes are grown for; the clarinet where none is named.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
    /// What that set wants; `None` where none is named.
    #[serde(skip)]
    pub rules: Option<Rules>,
    /// Its numbers.
    pub numbers: Numbers,
}

impl Recipe {
    /// A built-in make as it is.
    #[must_use]
    pub fn of(from: Population) -> Recipe {
        Recipe { name: from.word().to_string(), from, instrument: None, rules: None, numbers: from.numbers() }
    }

    /// What tube number `k` under `seed` is made of.
    #[must_use]
    pub fn form(&self, seed: u64, k: u64) -> Form {
        let word = self.from.word();
        Form::draw(&self.numbers, format!("{}{:03}", &word[..1].to_uppercase(), k + 1), (seed, word, k))
    }
}

impl From<Population> for Recipe {
    fn from(population: Population) -> Recipe {
        Recipe::of(population)
    }
}
