//! Which cause can befall which kind of reading: an instrument is accused only of what it has the mechanism for.
//!
//! | kind | zero slips | sign turns | typed number | stations, angles | why not the rest |
//! |---|---|---|---|---|---|
//! | diameter | yes | no | yes | yes | jaws have no direction |
//! | radius | yes | no | yes | yes | a distance from an axis has no direction |
//! | runout, vee, bridge | yes | yes | yes | yes | |
//! | gap | no | no | no | no | where a resting edge touches is itself believed: a gap that does not fit is doubted, not explained |
//! | lifted | yes | yes | yes | yes | read by dial or depth gauge; a feeler has no sign, and never shows one |
//! | arc | no | no | yes | yes | a gauge held against the light has neither zero nor dial |
//! | outline | no | no | yes | yes | a tracing or scanned end is measured from a point that is solved for: no zero, no dial |
//! | wall | no | no | yes | yes | its zero is an error of the whole lot, and believed as such |
//! | grain | no | no | no | no | an angle has no unit to mistake, and fibres wander by themselves |
//!
//! "Typed number": the decimal mark, inches for mm, mm for inches. "Stations, angles": stations swapped, angles turned by a
//! step, a place in inches. The patches of a scan are no readings: nobody typed them, and they are accused of nothing.

use crate::domain::Kind;

/// What can happen to readings of one kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Mechanism {
    /// It has a zero that can be bumped.
    pub(super) zero: bool,
    /// It has a dial whose sign depends on how it is held.
    pub(super) sign: bool,
    /// Its value is a length that somebody typed.
    pub(super) typed: bool,
    /// It is taken station by station, angle by angle.
    pub(super) placed: bool,
}

/// The table above.
pub(super) fn mechanism(kind: Kind) -> Mechanism {
    let of = |zero, sign| Mechanism { zero, sign, typed: true, placed: true };
    match kind {
        Kind::Diameter | Kind::Radius => of(true, false),
        Kind::Runout | Kind::Vee | Kind::Lifted | Kind::Bridge => of(true, true),
        Kind::Arc | Kind::Outline | Kind::Wall => of(false, false),
        Kind::Grain | Kind::Gap => Mechanism { zero: false, sign: false, typed: false, placed: false },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_has_no_zero_and_no_dial_is_accused_of_neither() {
        for kind in Kind::ALL {
            let m = mechanism(kind);
            let scanned = matches!(kind, Kind::Outline | Kind::Arc | Kind::Wall | Kind::Grain | Kind::Gap);
            assert_eq!(m.zero, !scanned, "{kind:?}");
            assert_eq!(m.sign, matches!(kind, Kind::Runout | Kind::Vee | Kind::Lifted | Kind::Bridge), "{kind:?}");
            assert_eq!(m.typed, !kind.is_angle() && kind != Kind::Gap, "{kind:?}: every length was typed by somebody");
        }
    }
}
