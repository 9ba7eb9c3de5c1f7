//! Rings and their names put together.

use super::super::called::called;
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
    /// A name that fits several tubes which differ by case alone, and none exactly.
    #[error("'{name}' may mean {}", .like.join(" or "))]
    Which {
        /// The name.
        name: String,
        /// The tubes it may mean.
        like: Vec<String>,
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
    let mut unknown = Vec::new();
    let mut spelled: Vec<Option<EndName>> = Vec::with_capacity(things);
    for name in names {
        let Some(name) = name else {
            spelled.push(None);
            continue;
        };
        match called(lot, &name.tube) {
            Ok(tube) => spelled.push(Some(EndName { tube, far: name.far })),
            Err(like) if like.is_empty() => unknown.push(name.tube.clone()),
            Err(like) => return Err(NamesError::Which { name: name.tube.clone(), like }),
        }
    }
    if !unknown.is_empty() {
        return Err(NamesError::Unknown { names: unknown });
    }
    let names = spelled;
    let given: Vec<&EndName> = names.iter().flatten().collect();
    let known = |tube: &str| lot.tubes.iter().find(|t| t.name == tube);
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Tube;
    use crate::picture::Thing;

    #[test]
    fn a_name_that_may_mean_several_tubes_is_told_as_such() {
        let tube = |name: &str| Tube { name: name.into(), length_mm: 100.0, ..Tube::default() };
        let lot = Lot { tubes: vec![tube("ab"), tube("Ab")], ..Lot::default() };
        let thing = Thing { place_mm: [0.0; 2], size_mm: 0.0, what: Err(Refusal::Cut) };
        let found = Found { things: vec![thing], large: Vec::new() };
        let named = |tube: &str| name_ends(&found, &[Some(EndName { tube: tube.into(), far: false })], &[], &lot);
        let like = vec!["ab".to_string(), "Ab".into()];
        assert_eq!(named("AB"), Err(NamesError::Which { name: "AB".into(), like }));
        assert_eq!(named("c"), Err(NamesError::Unknown { names: vec!["c".into()] }));
        assert!(named("ab").is_ok());
    }
}
