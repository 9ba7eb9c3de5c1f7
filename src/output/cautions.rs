//! Cautions that go with every plan that ends at a chisel or a saw.
//!
//! In our own words. Each figure names where it is published; what has no source says so. None of this replaces the
//! instructions of the tool maker, local rules, or training and supervision where they are required.

/// One caution.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Caution {
    /// What it protects, one or two words.
    pub topic: &'static str,
    /// What to do, in plain words.
    pub words: &'static str,
    /// Where its figures or rule are published, or that it is common practice.
    pub source: &'static str,
}

/// What stands above every list of cautions.
pub const FIRST_OF_ALL: &str = "This is planning arithmetic only. Follow the instructions of the tool's maker, your local \
     safety rules and, where required, trained or licensed supervision: where they differ from this page, they are \
     right. If a piece cannot be clamped with hands outside the marked zone, do not cut it at a powered saw.";

/// The one line that stands on every sheet of strips and in every row of the runs.
///
/// Whoever has only that sheet or that table in hand sees it: a page printed from a larger report, a spreadsheet sorted or
/// cut down to some rows. Short enough for one line across the narrower paper.
pub const IN_ONE_LINE: &str = "Wear eye protection; clamp what is short, never hold it at a powered saw; the tool maker's \
     instructions and local rules come first.";

/// What is said where raw ends are stood on a scanner.
pub const ON_THE_GLASS: &str = "Keep mouldy tubes off the glass, wipe it after raw cane, and mind that freshly sawn edges \
     cut: the tool maker's instructions and local rules come first.";

/// The cautions, in the order the work is done.
pub(crate) const CAUTIONS: [Caution; 11] = [
    Caution {
        topic: "Mould",
        words: "Reject tubes with visible mould and do not saw or sand them. Fever, cough or short breath some hours \
                after sawing: stop and see a doctor. Players and fibre workers have fallen ill with lung inflammation \
                from moulds.",
        source: "case reports: Metzger et al., Chest 138:724-726 (2010); Metersky et al., Chest 138:754-756 (2010); \
                 Eur. Clin. Respir. J. 4:1351268 (2017); Cruz et al., Med. Clin. 120:578-583 (2003)",
    },
    Caution {
        topic: "Eyes",
        words: "Wear impact-rated eye protection for splitting as well as for sawing (marked ANSI Z87.1 or EN ISO \
                16321): cane splits all at once and flies.",
        source: "common practice, no source; the two standards name the marking only",
    },
    Caution {
        topic: "Chisel",
        words: "Stand the tube upright on a solid block in a holder, never in the hand. Keep hands below and behind the \
                edge and tap with a mallet. For splitting only, a cut-resistant glove on the holding hand; take it off \
                before you go to the saw. Keep others out of the line in which the pieces fly apart.",
        source: "common practice, no source",
    },
    Caution {
        topic: "Hands",
        words: "Freshly split edges are as keen as a knife: handle quarters by the bark and take off the sharp corners \
                first.",
        source: "common practice, no source",
    },
    Caution {
        topic: "Short pieces",
        words: "The no-hands distance used here is 150 mm unless you set another. A saw standard asks for at least 100 mm \
                on each side when stock is held by hand and forbids pieces too small to be clamped or held; a safety \
                authority keeps hands 300 mm away on each side of the blade of a cross-cut saw; a school procedure \
                forbids pieces under 200 mm. Take the strictest that applies to you. A blank of 70 mm can never be held \
                by hand at a powered saw: use a fixture that clamps both sides, or a fine hand saw in a mitre box.",
        source: "AS/NZS 62841.3.9:2020 (IEC 62841-3-9 family), 100 mm; UK HSE, web page on woodworking cross-cut saws \
                 (2019), 300 mm, with its Information Sheet WIS36 on the same saws; 150 mm and 200 mm: workshop \
                 procedures",
    },
    Caution {
        topic: "Stop",
        words: "Put the stop on the side that is held, never on the side that falls: a piece caught between stop and \
                blade can be thrown. Let the blade come to rest before you lift it or reach in.",
        source: "common practice; the same advice stands in woodworking magazines",
    },
    Caution {
        topic: "Round stock",
        words: "A whole tube rolls: cut it only in a V-shaped cradle that is clamped to the fence. A quarter rocks: lay it \
                bark-down in a trough that fits.",
        source: "common practice, no source",
    },
    Caution {
        topic: "Clothing",
        words: "At the saw no gloves, no loose sleeves and no rings, bracelets or other jewellery; long hair tied back: a \
                blade that catches any of them takes the hand along.",
        source: "common practice, no source",
    },
    Caution {
        topic: "Saw",
        words: "Guards in place and working, stock against the fence, arms never crossed. Let the blade stand still and \
                pull the plug or take out the battery before you adjust, clean or change anything on it. Workplaces in the United States have a rule of their own for woodworking machines.",
        source: "CCOHS, OSH Answers, Woodworking Machines - Mitre Saws; OSHA, 29 CFR 1910.213; unplugging: common \
                 practice, no source",
    },
    Caution {
        topic: "Ears",
        words: "Wear hearing protection for any run of powered cuts: circular saws give about 97 to 102 dB, and \
                workplace action begins at 80 to 85 dB(A) over a day.",
        source: "UK HSE, wood-working noise page (97 to 102 dB); UK HSE, WIS13, Noise at woodworking machines (80, 85 \
                 and 87 dB(A))",
    },
    Caution {
        topic: "Dust",
        words: "Draw off dust at the saw and wear a fitted mask (P2, N95 or better) for sawing and sanding. Cane is a \
                grass and its bark is rich in silica; no limit of its own is known to us. The nearest yardstick is \
                wood dust at 1 mg/m3 over eight hours.",
        source: "OSHA, wood-dust page (NIOSH and ACGIH values)",
    },
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_hazard_is_covered_and_every_caution_says_where_it_comes_from() {
        for topic in ["Eyes", "Ears", "Dust", "Mould", "Hands", "Chisel", "Short pieces", "Clothing", "Saw"] {
            assert_eq!(CAUTIONS.iter().filter(|c| c.topic == topic).count(), 1, "{topic}");
        }
        for c in &CAUTIONS {
            assert!(!c.words.is_empty() && !c.source.is_empty(), "{c:?}");
            // a caution with a figure that has no source must not exist, apart from names of standards
            let figure = c.words.contains(" mm") || c.words.contains(" dB") || c.words.contains("mg/");
            assert!(!figure || !c.source.starts_with("common practice"), "{c:?}");
        }
    }

    fn words_on(topic: &str) -> &'static str {
        CAUTIONS.iter().find(|c| c.topic == topic).map_or("", |c| c.words)
    }

    #[test]
    fn a_glove_is_for_the_chisel_and_never_for_the_saw() {
        assert!(
            words_on("Chisel").contains("glove") && words_on("Chisel").contains("take it off before you go to the saw")
        );
        for want in ["no gloves", "no loose sleeves", "jewellery"] {
            assert!(words_on("Clothing").contains(want), "{want}");
        }
        assert!(words_on("Saw").contains("pull the plug") && words_on("Saw").contains("before you adjust"));
        let others = CAUTIONS.iter().filter(|c| !matches!(c.topic, "Chisel" | "Clothing"));
        assert!(others.filter(|c| c.words.contains("glove")).count() == 0, "glove advice elsewhere");
    }

    #[test]
    fn the_standard_on_short_pieces_and_the_300_mm_say_what_their_sources_say() {
        let short = CAUTIONS.iter().find(|c| c.topic == "Short pieces").expect("there");
        assert!(short.words.contains("too small to be clamped or held"), "{}", short.words);
        assert!(short.source.contains("cross-cut saws (2019), 300 mm"), "{}", short.source);
    }

    #[test]
    fn the_first_words_defer_to_maker_rules_and_supervision() {
        for want in ["instructions of the tool's maker", "local safety rules", "supervision"] {
            assert!(FIRST_OF_ALL.contains(want), "{want}");
        }
        assert!(CAUTIONS.iter().all(|c| !c.words.contains("  ") && !c.source.contains("  ")));
    }
}
