//! Starting sets: what a blank of each instrument usually is, and how near to it bark has to come.
//!
//! Every figure is common practice, no source, unless its line says otherwise. Sizes lie within the ranges in common use
//! (tested against them); limits are own choice.

/// The word that stands for every set, so that none can be called so.
pub const ALL_SETS: &str = "all";

/// A named starting set of targets. Lengths in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Instrument {
    /// The word used in `lot.toml`.
    pub name: &'static str,
    /// Pieces a tube is split into.
    pub pieces: usize,
    /// Blank length (of a double reed's piece as cut, before it is folded), width, thickness (of a double reed's gouged
    /// middle) and arc diameter.
    pub blank: [f64; 4],
    /// Tolerance of the arc diameter.
    pub arc_tolerance_mm: f64,
    /// Most light under the middle of the stick, and most that an end of it may drop.
    pub flat: [f64; 2],
    /// Most difference of arc diameter between the rails.
    pub skew_mm: f64,
    /// Most that a fibre may drift over the blank.
    pub grain_drift_mm: f64,
    /// Width to spare on each side.
    pub edge_margin_mm: f64,
    /// Wall wanted beyond the thickness.
    pub clean_up_mm: f64,
}

/// A single reed: four pieces, and the limits of the clarinet whatever its length.
const fn single(name: &'static str, blank: [f64; 4], arc_tolerance_mm: f64) -> Instrument {
    Instrument {
        name,
        pieces: 4,
        blank,
        arc_tolerance_mm,
        flat: [0.08, 0.12],
        skew_mm: 6.0,
        grain_drift_mm: 1.0,
        edge_margin_mm: 0.3,
        clean_up_mm: 0.2,
    }
}

/// The starting sets.
///
/// Single reeds: the middle of the ranges in common use.
///
/// Double reeds: length, thickness and number of pieces likewise; the arc diameter is the middle of the tubes in use, with
/// these anchors: an oboe's tubes 10 to 11 mm (a supplier's article), an English horn's 12 to 12.5 mm (a player's page on
/// choosing cane), a bassoon's 24 to 25 mm, its piece 120 mm long (a bassoonist's articles on splitting, 2013 and 2017).
/// Own choice, no source:
///
/// - width: in the lower part of its range, since the chord of a third of 10.25 mm is 8.9 mm and that of a quarter of
///   25 mm 17.7, and split lines wander;
/// - arc tolerance: 0.7 to 0.8 of half the range of tubes in use, as the single reeds have it. On a bassoon tube that
///   differs by 1 mm from end to end, the most that a bassoonist accepts (2013), it leaves 0.9 mm for the size itself;
/// - hollow, rock and drift of the grain: what the clarinet has, in proportion to the length of the stick;
/// - skew: in proportion to the arc diameter;
/// - clean-up: the least wall wanted (1.0, 1.2, 1.2, 2.2, 2.5 mm) less the thickness.
pub const INSTRUMENTS: [Instrument; 12] = [
    single("e-flat clarinet", [63.0, 12.6, 3.0, 24.5], 1.2),
    single("clarinet", [70.0, 13.5, 3.2, 25.4], 1.2),
    single("bass clarinet", [76.0, 16.0, 3.5, 29.0], 1.4),
    single("soprano saxophone", [64.0, 13.2, 3.2, 26.5], 1.3),
    single("alto saxophone", [72.5, 15.4, 3.4, 27.2], 1.3),
    single("tenor saxophone", [80.5, 16.6, 3.5, 29.0], 1.4),
    single("baritone saxophone", [89.5, 18.0, 3.8, 31.5], 1.5),
    Instrument {
        name: "oboe",
        pieces: 3,
        blank: [73.0, 7.8, 0.6, 10.25],
        arc_tolerance_mm: 0.6,
        flat: [0.08, 0.12],
        skew_mm: 2.4,
        grain_drift_mm: 1.0,
        edge_margin_mm: 0.2,
        clean_up_mm: 0.4,
    },
    Instrument {
        name: "oboe d'amore",
        pieces: 3,
        blank: [83.0, 8.8, 0.65, 11.5],
        arc_tolerance_mm: 0.4,
        flat: [0.09, 0.14],
        skew_mm: 2.7,
        grain_drift_mm: 1.2,
        edge_margin_mm: 0.2,
        clean_up_mm: 0.55,
    },
    Instrument {
        name: "english horn",
        pieces: 3,
        blank: [91.0, 9.4, 0.68, 12.25],
        arc_tolerance_mm: 0.6,
        flat: [0.10, 0.16],
        skew_mm: 2.9,
        grain_drift_mm: 1.3,
        edge_margin_mm: 0.2,
        clean_up_mm: 0.52,
    },
    Instrument {
        name: "bassoon",
        pieces: 4,
        blank: [120.0, 16.0, 1.3, 25.0],
        arc_tolerance_mm: 1.4,
        flat: [0.14, 0.21],
        skew_mm: 5.9,
        grain_drift_mm: 1.7,
        edge_margin_mm: 0.2,
        clean_up_mm: 0.9,
    },
    Instrument {
        name: "contrabassoon",
        pieces: 4,
        blank: [145.0, 19.0, 1.5, 29.0],
        arc_tolerance_mm: 2.0,
        flat: [0.17, 0.25],
        skew_mm: 6.9,
        grain_drift_mm: 2.1,
        edge_margin_mm: 0.2,
        clean_up_mm: 1.0,
    },
];

/// A name without what people write differently: small letters, no `-` or `_`, no apostrophe.
fn plain_name(name: &str) -> String {
    let bare = name.to_lowercase().replace(['_', '-'], " ").replace(['\'', '\u{2019}'], "");
    bare.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Whether two names are one, but for what people write differently.
#[must_use]
pub fn same_name(a: &str, b: &str) -> bool {
    plain_name(a) == plain_name(b)
}

impl Instrument {
    /// The starting set of that name.
    #[must_use]
    pub fn named(name: &str) -> Option<&'static Instrument> {
        INSTRUMENTS.iter().find(|i| same_name(i.name, name))
    }

    /// Their names.
    #[must_use]
    pub fn names() -> Vec<&'static str> {
        INSTRUMENTS.iter().map(|i| i.name).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    type InUse = (&'static str, [f64; 2], usize, [[f64; 2]; 4]);

    /// Tube, pieces, blank length, width, thickness, wall wanted: the ranges in common use, typed from our table of them
    /// (common practice, no source / from memory).
    const IN_USE: [InUse; 12] = [
        ("e-flat clarinet", [23.0, 26.0], 4, [[60.0, 66.0], [11.8, 13.5], [2.7, 3.3], [3.0, 4.2]]),
        ("clarinet", [24.0, 27.0], 4, [[67.0, 73.0], [12.8, 14.0], [2.9, 3.6], [3.2, 4.5]]),
        ("bass clarinet", [27.0, 31.0], 4, [[72.0, 80.0], [15.0, 17.0], [3.2, 3.9], [3.5, 5.0]]),
        ("soprano saxophone", [25.0, 28.0], 4, [[60.0, 68.0], [12.3, 14.0], [2.9, 3.6], [3.2, 4.5]]),
        ("alto saxophone", [25.5, 29.0], 4, [[69.0, 76.0], [14.6, 16.2], [3.1, 3.7], [3.4, 4.8]]),
        ("tenor saxophone", [27.0, 31.0], 4, [[77.0, 84.0], [15.8, 17.5], [3.2, 3.9], [3.5, 5.0]]),
        ("baritone saxophone", [29.0, 34.0], 4, [[85.0, 94.0], [17.0, 19.0], [3.4, 4.2], [3.8, 5.5]]),
        ("oboe", [9.5, 11.0], 3, [[70.0, 76.0], [7.5, 9.5], [0.55, 0.65], [1.0, 2.2]]),
        ("oboe d'amore", [11.0, 12.0], 3, [[78.0, 88.0], [8.5, 10.5], [0.6, 0.7], [1.2, 2.4]]),
        ("english horn", [11.5, 13.0], 3, [[86.0, 96.0], [9.0, 11.0], [0.62, 0.75], [1.2, 2.6]]),
        ("bassoon", [23.0, 27.0], 4, [[118.0, 122.0], [16.0, 19.0], [1.2, 1.4], [2.2, 4.0]]),
        ("contrabassoon", [26.0, 32.0], 4, [[135.0, 155.0], [19.0, 23.0], [1.35, 1.65], [2.5, 4.5]]),
    ];

    #[test]
    fn every_set_lies_within_the_ranges_in_use() {
        assert_eq!(IN_USE.len(), INSTRUMENTS.len());
        for (name, tube, pieces, ranges) in IN_USE {
            let i = Instrument::named(name).expect(name);
            let [length, width, thick, arc] = i.blank;
            assert_eq!((i.name, i.pieces), (name, pieces));
            let wall = thick + i.clean_up_mm;
            for (what, x, [least, most]) in [
                ("length", length, ranges[0]),
                ("width", width, ranges[1]),
                ("thickness", thick, ranges[2]),
                ("wall", wall, ranges[3]),
                ("arc", arc, tube),
            ] {
                assert!((least - 1e-9..=most + 1e-9).contains(&x), "{name}: {what} {x}, in use {least} to {most}");
            }
            // no tube is good whose size lies outside what is in use
            assert!(i.arc_tolerance_mm <= (tube[1] - tube[0]) / 2.0, "{name}: {}", i.arc_tolerance_mm);
        }
        // double reeds: the middle of the tubes in use
        for (name, [least, most], ..) in IN_USE.iter().skip(7) {
            let arc = Instrument::named(name).expect(name).blank[3];
            assert!((arc - f64::midpoint(*least, *most)).abs() < 1e-9, "{name}: {arc}");
        }
    }

    #[test]
    fn sources_that_name_a_size_hold() {
        let of = |name: &str| Instrument::named(name).expect(name);
        let [oboe, horn, bassoon] = ["oboe", "english horn", "bassoon"].map(|n| of(n).blank);
        assert!((10.0..=11.0).contains(&oboe[3]) && (12.0..=12.5).contains(&horn[3]), "{oboe:?} {horn:?}");
        assert!((24.0..=25.0).contains(&bassoon[3]) && (bassoon[0] - 120.0).abs() < 1e-9, "{bassoon:?}");
        // a bassoon tube that differs by 1 mm from end to end is within the limit at both
        assert!(of("bassoon").arc_tolerance_mm >= 0.5);
    }

    #[test]
    fn a_blank_fits_between_split_lines_that_wander() {
        for i in &INSTRUMENTS {
            let [_, width, thick, arc] = i.blank;
            let (half, radius) = (width / 2.0, arc / 2.0);
            let bark = ((half + i.edge_margin_mm) / radius).asin().to_degrees();
            let below = (half / (radius - thick)).atan().to_degrees();
            let room = 180.0 / i.pieces as f64 - bark.max(below);
            assert!(room > 2.9, "{}: {room} deg to either side", i.name);
        }
    }
}
