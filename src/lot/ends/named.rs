//! Rings and their names put together.

use super::asked::EndName;
use crate::domain::{Angle, Lot};
use crate::picture::{Found, Refusal, Ring, TickFault};

/// Why the names do not fit.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum NamesError {
    /// Another number of names than of numbered things.
    #[error("{names} names for the {things} numbered rings of the picture")]
    Count {
        /// Names given.
        names: usize,
        /// Numbers in the picture.
        things: usize,
    },
    /// Names that the lot does not have, all of them.
    #[error("the lot has no tube {}", .names.join(", no tube "))]
    Unknown {
        /// The names.
        names: Vec<String>,
    },
    /// One end named twice.
    #[error("{tube} is named twice for the same end")]
    Twice {
        /// The tube.
        tube: String,
    },
    /// The far end of a tube whose length nobody stated.
    #[error("the length of {tube} is not known, so nobody knows where its far end is")]
    NoLength {
        /// The tube.
        tube: String,
    },
    /// A tick by hand for a number that is not in the picture.
    #[error("a tick for ring {ring}, and there are {things}")]
    NoSuchRing {
        /// The number.
        ring: usize,
        /// Numbers in the picture.
        things: usize,
    },
}

/// Why nothing of a ring is written down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LeftOut {
    /// It was not measured.
    Refused(Refusal),
    /// It has no tick.
    NoTick(TickFault),
    /// The user gave it no name.
    PassedOver,
}

impl LeftOut {
    /// True where the user wanted it so.
    #[must_use]
    pub fn is_asked_for(self) -> bool {
        self == LeftOut::PassedOver
    }
}

/// A ring that is written down.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedEnd {
    /// Which end.
    pub name: EndName,
    /// Distance from the index end, mm.
    pub z_mm: f64,
    /// Where its index line stands, clockwise on the picture from the right.
    pub tick: Angle,
    /// Whether the tick was given by hand.
    pub by_hand: bool,
    /// What was measured.
    pub ring: Ring,
}

impl NamedEnd {
    /// The direction on the picture of one of the tube's own angles: the far end is seen in a mirror.
    #[must_use]
    pub fn on_picture(&self, own: Angle) -> Angle {
        let turn = if self.name.far { -own.radians() } else { own.radians() };
        Angle::from_radians(self.tick.radians() + turn)
    }
}

/// One numbered thing: written down or left out.
pub type Seen = Result<NamedEnd, LeftOut>;

/// A name as it stands in the lot: as it is, else the one tube of that name whatever the case.
fn spelled(name: &EndName, lot: &Lot) -> EndName {
    let all = || lot.tubes.iter().map(|t| &t.name);
    let mut like = all().filter(|t| t.to_lowercase() == name.tube.to_lowercase());
    match (all().any(|t| *t == name.tube), like.next(), like.next()) {
        (false, Some(only), None) => EndName { tube: only.clone(), ..name.clone() },
        _ => name.clone(),
    }
}

/// Puts names to the things of a picture, in their order; `ticks` are those given by hand, by number from 1.
///
/// # Errors
/// See [`NamesError`].
pub fn name_ends(
    found: &Found,
    names: &[Option<EndName>],
    ticks: &[(usize, Angle)],
    lot: &Lot,
) -> Result<Vec<Seen>, NamesError> {
    let things = found.things.len();
    if names.len() != things {
        return Err(NamesError::Count { names: names.len(), things });
    }
    if let Some((ring, _)) = ticks.iter().find(|t| t.0 > things) {
        return Err(NamesError::NoSuchRing { ring: *ring, things });
    }
    let names: Vec<Option<EndName>> = names.iter().map(|n| n.as_ref().map(|n| spelled(n, lot))).collect();
    let given: Vec<&EndName> = names.iter().flatten().collect();
    let known = |tube: &str| lot.tubes.iter().find(|t| t.name == tube);
    let unknown: Vec<String> = given.iter().filter(|n| known(&n.tube).is_none()).map(|n| n.tube.clone()).collect();
    if !unknown.is_empty() {
        return Err(NamesError::Unknown { names: unknown });
    }
    if let Some((_, twice)) = given.iter().enumerate().find(|(i, n)| given[..*i].contains(n)) {
        return Err(NamesError::Twice { tube: twice.tube.clone() });
    }
    let mut seen = Vec::with_capacity(things);
    for (i, (thing, name)) in found.things.iter().zip(&names).enumerate() {
        let Some(name) = name else {
            seen.push(Err(LeftOut::PassedOver));
            continue;
        };
        let tube = known(&name.tube).filter(|t| t.length_mm > 0.0 && !t.length_is_guess);
        let z_mm = match (name.far, tube) {
            (false, _) => 0.0,
            (true, Some(tube)) => tube.length_mm,
            (true, None) => return Err(NamesError::NoLength { tube: name.tube.clone() }),
        };
        let by_hand = ticks.iter().find(|t| t.0 == i + 1).map(|t| t.1);
        seen.push(match &thing.what {
            Err(refusal) => Err(LeftOut::Refused(*refusal)),
            Ok(ring) => match (by_hand, ring.tick) {
                (None, Err(fault)) => Err(LeftOut::NoTick(fault)),
                (by_hand, found) => {
                    let drawn = found.map_or(Angle::default(), |t| Angle::from_radians(t.angle));
                    let tick = by_hand.unwrap_or(drawn);
                    Ok(NamedEnd { name: name.clone(), z_mm, tick, by_hand: by_hand.is_some(), ring: ring.clone() })
                }
            },
        });
    }
    Ok(seen)
}
