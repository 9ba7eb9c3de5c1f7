//! The numbers of a make of tubes: levels and spreads, each with its range. All invented, "common practice, no source".

/// Numbers of a make. Lengths in mm; a number of 0 with "none" behind it leaves that part out.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Numbers {
    /// Shortest tube.
    pub length_least_mm: f64,
    /// Longest tube.
    pub length_most_mm: f64,
    /// Mean radius over tubes.
    pub radius_mm: f64,
    /// Sd of the radius over tubes.
    pub radius_sd_mm: f64,
    /// Change of the diameter over 200 mm.
    pub taper_mm: f64,
    /// Sd of the taper over tubes.
    pub taper_sd_mm: f64,
    /// Widest minus narrowest, the middle tube.
    pub ovality_mm: f64,
    /// Sd of its logarithm over tubes.
    pub ovality_log_sd: f64,
    /// How much the oval swells toward one end, a share (sd).
    pub oval_swell: f64,
    /// How far the oval turns to either side of its middle, radians (sd).
    pub oval_turn: f64,
    /// How far the oval turns from end to end in place of that, sd; 0: as `oval_turn` says.
    pub turning_oval_deg: f64,
    /// Height of waves 100 mm long in size and centreline.
    pub wave_mm: f64,
    /// Even bow over 200 mm, sd of each component.
    pub bow_mm: f64,
    /// Share of that bow that stands.
    pub bow_share: f64,
    /// S-shaped part of the centreline over 200 mm, sd of each component.
    pub ess_mm: f64,
    /// Highest lobe of even change; below 3: none.
    pub lobe_top: f64,
    /// Amplitude of the third lobe.
    pub lobe_mm: f64,
    /// Power by which lobes fade with their order.
    pub lobe_fade: f64,
    /// Sd of the logarithm of every amplitude.
    pub lobe_log_sd: f64,
    /// How much lobes swell toward one end, a share (sd).
    pub lobe_swell: f64,
    /// How far lobes turn to either side of the middle, radians (sd).
    pub lobe_turn: f64,
    /// Amplitude of the second of lobes 2 to 9 that are uneven along the tube, in place of the oval; 0: none.
    pub uneven_mm: f64,
    /// Power by which these fade.
    pub uneven_fade: f64,
    /// Their unevenness over 90 mm, a share of their amplitude.
    pub uneven_share: f64,
    /// Their unevenness over 18 mm.
    pub uneven_short_mm: f64,
    /// Unevenness of the size, sd; 0: none.
    pub size_rough_mm: f64,
    /// Its reach along the tube.
    pub size_reach_mm: f64,
    /// Fewest flats and bumps of a tube.
    pub dents_fewest: f64,
    /// Most flats and bumps of a tube; 0: none.
    pub dents_most: f64,
    /// Least height of one.
    pub dent_least_mm: f64,
    /// Most height of one.
    pub dent_most_mm: f64,
    /// Least depth of a groove from one end.
    pub groove_least_mm: f64,
    /// Most depth of it; 0: none.
    pub groove_most_mm: f64,
    /// How far a bend at one place stands off, the middle tube; 0: none.
    pub kink_mm: f64,
    /// Sd of its logarithm.
    pub kink_log_sd: f64,
    /// Most it stands off.
    pub kink_most_mm: f64,
    /// Chance of a second bend.
    pub second_kink: f64,
    /// Scale of the heavy-tailed logarithms by which lobes, bow, roughness and dents of each tube differ; 0: alike.
    pub wild: f64,
    /// Density.
    pub density_g_mm3: f64,
    /// Its sd over tubes.
    pub density_sd_g_mm3: f64,
    /// Mean wall.
    pub wall_mm: f64,
    /// Its sd over tubes.
    pub wall_sd_mm: f64,
    /// Once-round part of the wall, sd of each component.
    pub wall_lean_mm: f64,
    /// Lean of the fibre, sd; 0: true grain.
    pub fibre_lean_deg: f64,
}

impl Default for Numbers {
    /// A round-ended start: length, size, taper, an even oval, an even bow, a wall; no lobes beyond the second.
    fn default() -> Self {
        Numbers {
            length_least_mm: 150.0,
            length_most_mm: 270.0,
            radius_mm: 12.7,
            radius_sd_mm: 0.3,
            taper_mm: 0.4,
            taper_sd_mm: 0.25,
            ovality_mm: 0.7,
            ovality_log_sd: 0.45,
            oval_swell: 0.25,
            oval_turn: 0.12,
            turning_oval_deg: 0.0,
            wave_mm: 0.005,
            bow_mm: 1.1,
            bow_share: 1.0,
            ess_mm: 0.1,
            lobe_top: 0.0,
            lobe_mm: 0.025,
            lobe_fade: 3.0,
            lobe_log_sd: 0.5,
            lobe_swell: 0.25,
            lobe_turn: 0.12,
            uneven_mm: 0.0,
            uneven_fade: 1.7,
            uneven_share: 0.25,
            uneven_short_mm: 0.004,
            size_rough_mm: 0.0,
            size_reach_mm: 30.0,
            dents_fewest: 0.0,
            dents_most: 0.0,
            dent_least_mm: 0.03,
            dent_most_mm: 0.15,
            groove_least_mm: 0.0,
            groove_most_mm: 0.0,
            kink_mm: 0.0,
            kink_log_sd: 0.7,
            kink_most_mm: 10.0,
            second_kink: 0.4,
            wild: 0.0,
            density_g_mm3: 550e-6,
            density_sd_g_mm3: 40e-6,
            wall_mm: 3.8,
            wall_sd_mm: 0.25,
            wall_lean_mm: 0.12,
            fibre_lean_deg: 0.0,
        }
    }
}

/// One number: its name, what it is, least, most, and where it stands.
#[derive(Debug, Clone, Copy)]
pub struct Named {
    /// Name in files.
    pub name: &'static str,
    /// What it is.
    pub what: &'static str,
    /// Least.
    pub least: f64,
    /// Most.
    pub most: f64,
    /// Where it stands.
    pub place: fn(&mut Numbers) -> &mut f64,
}

impl Numbers {
    /// All of them.
    pub const NAMED: [Named; 44] = [
        Named {
            name: "length_least_mm",
            what: "shortest tube",
            least: 90.0,
            most: 1000.0,
            place: |n| &mut n.length_least_mm,
        },
        Named {
            name: "length_most_mm",
            what: "longest tube",
            least: 90.0,
            most: 1000.0,
            place: |n| &mut n.length_most_mm,
        },
        Named {
            name: "radius_mm",
            what: "mean radius over tubes",
            least: 4.0,
            most: 30.0,
            place: |n| &mut n.radius_mm,
        },
        Named {
            name: "radius_sd_mm",
            what: "sd of the radius over tubes",
            least: 0.0,
            most: 1.5,
            place: |n| &mut n.radius_sd_mm,
        },
        Named {
            name: "taper_mm",
            what: "change of the diameter over 200 mm",
            least: 0.0,
            most: 5.0,
            place: |n| &mut n.taper_mm,
        },
        Named {
            name: "taper_sd_mm",
            what: "sd of the taper over tubes",
            least: 0.0,
            most: 2.0,
            place: |n| &mut n.taper_sd_mm,
        },
        Named {
            name: "ovality_mm",
            what: "widest minus narrowest, the middle tube",
            least: 0.0,
            most: 4.0,
            place: |n| &mut n.ovality_mm,
        },
        Named {
            name: "ovality_log_sd",
            what: "sd of its logarithm over tubes",
            least: 0.0,
            most: 0.8,
            place: |n| &mut n.ovality_log_sd,
        },
        Named {
            name: "oval_swell",
            what: "how much the oval swells toward one end, a share (sd)",
            least: 0.0,
            most: 1.0,
            place: |n| &mut n.oval_swell,
        },
        Named {
            name: "oval_turn",
            what: "how far the oval turns to either side of its middle, radians (sd)",
            least: 0.0,
            most: 1.0,
            place: |n| &mut n.oval_turn,
        },
        Named {
            name: "turning_oval_deg",
            what: "how far the oval turns from end to end in place of that, sd; 0: as `oval_turn` says",
            least: 0.0,
            most: 180.0,
            place: |n| &mut n.turning_oval_deg,
        },
        Named {
            name: "wave_mm",
            what: "height of waves 100 mm long in size and centreline",
            least: 0.0,
            most: 0.1,
            place: |n| &mut n.wave_mm,
        },
        Named {
            name: "bow_mm",
            what: "even bow over 200 mm, sd of each component",
            least: 0.0,
            most: 10.0,
            place: |n| &mut n.bow_mm,
        },
        Named {
            name: "bow_share",
            what: "share of that bow that stands",
            least: 0.0,
            most: 1.0,
            place: |n| &mut n.bow_share,
        },
        Named {
            name: "ess_mm",
            what: "S-shaped part of the centreline over 200 mm, sd of each component",
            least: 0.0,
            most: 5.0,
            place: |n| &mut n.ess_mm,
        },
        Named {
            name: "lobe_top",
            what: "highest lobe of even change; below 3: none",
            least: 0.0,
            most: 12.0,
            place: |n| &mut n.lobe_top,
        },
        Named {
            name: "lobe_mm",
            what: "amplitude of the third lobe",
            least: 0.0,
            most: 0.5,
            place: |n| &mut n.lobe_mm,
        },
        Named {
            name: "lobe_fade",
            what: "power by which lobes fade with their order",
            least: 0.0,
            most: 6.0,
            place: |n| &mut n.lobe_fade,
        },
        Named {
            name: "lobe_log_sd",
            what: "sd of the logarithm of every amplitude",
            least: 0.0,
            most: 1.0,
            place: |n| &mut n.lobe_log_sd,
        },
        Named {
            name: "lobe_swell",
            what: "how much lobes swell toward one end, a share (sd)",
            least: 0.0,
            most: 1.0,
            place: |n| &mut n.lobe_swell,
        },
        Named {
            name: "lobe_turn",
            what: "how far lobes turn to either side of the middle, radians (sd)",
            least: 0.0,
            most: 1.0,
            place: |n| &mut n.lobe_turn,
        },
        Named {
            name: "uneven_mm",
            what: "amplitude of the second of lobes 2 to 9 that are uneven along the tube, in place of the oval; 0: none",
            least: 0.0,
            most: 0.5,
            place: |n| &mut n.uneven_mm,
        },
        Named {
            name: "uneven_fade",
            what: "power by which these fade",
            least: 0.0,
            most: 6.0,
            place: |n| &mut n.uneven_fade,
        },
        Named {
            name: "uneven_share",
            what: "their unevenness over 90 mm, a share of their amplitude",
            least: 0.0,
            most: 1.0,
            place: |n| &mut n.uneven_share,
        },
        Named {
            name: "uneven_short_mm",
            what: "their unevenness over 18 mm",
            least: 0.0,
            most: 0.05,
            place: |n| &mut n.uneven_short_mm,
        },
        Named {
            name: "size_rough_mm",
            what: "unevenness of the size, sd; 0: none",
            least: 0.0,
            most: 0.1,
            place: |n| &mut n.size_rough_mm,
        },
        Named {
            name: "size_reach_mm",
            what: "its reach along the tube",
            least: 5.0,
            most: 500.0,
            place: |n| &mut n.size_reach_mm,
        },
        Named {
            name: "dents_fewest",
            what: "fewest flats and bumps of a tube",
            least: 0.0,
            most: 200.0,
            place: |n| &mut n.dents_fewest,
        },
        Named {
            name: "dents_most",
            what: "most flats and bumps of a tube; 0: none",
            least: 0.0,
            most: 200.0,
            place: |n| &mut n.dents_most,
        },
        Named {
            name: "dent_least_mm",
            what: "least height of one",
            least: 0.0,
            most: 1.0,
            place: |n| &mut n.dent_least_mm,
        },
        Named {
            name: "dent_most_mm",
            what: "most height of one",
            least: 0.0,
            most: 1.0,
            place: |n| &mut n.dent_most_mm,
        },
        Named {
            name: "groove_least_mm",
            what: "least depth of a groove from one end",
            least: 0.0,
            most: 1.0,
            place: |n| &mut n.groove_least_mm,
        },
        Named {
            name: "groove_most_mm",
            what: "most depth of it; 0: none",
            least: 0.0,
            most: 1.0,
            place: |n| &mut n.groove_most_mm,
        },
        Named {
            name: "kink_mm",
            what: "how far a bend at one place stands off, the middle tube; 0: none",
            least: 0.0,
            most: 10.0,
            place: |n| &mut n.kink_mm,
        },
        Named {
            name: "kink_log_sd",
            what: "sd of its logarithm",
            least: 0.0,
            most: 1.5,
            place: |n| &mut n.kink_log_sd,
        },
        Named {
            name: "kink_most_mm",
            what: "most it stands off",
            least: 0.0,
            most: 20.0,
            place: |n| &mut n.kink_most_mm,
        },
        Named {
            name: "second_kink",
            what: "chance of a second bend",
            least: 0.0,
            most: 1.0,
            place: |n| &mut n.second_kink,
        },
        Named {
            name: "wild",
            what: "scale of the heavy-tailed logarithms by which lobes, bow, roughness and dents of each tube differ; 0: alike",
            least: 0.0,
            most: 1.5,
            place: |n| &mut n.wild,
        },
        Named { name: "density_g_mm3", what: "density", least: 1e-4, most: 2e-3, place: |n| &mut n.density_g_mm3 },
        Named {
            name: "density_sd_g_mm3",
            what: "its sd over tubes",
            least: 0.0,
            most: 2e-4,
            place: |n| &mut n.density_sd_g_mm3,
        },
        Named { name: "wall_mm", what: "mean wall", least: 0.5, most: 7.0, place: |n| &mut n.wall_mm },
        Named { name: "wall_sd_mm", what: "its sd over tubes", least: 0.0, most: 1.0, place: |n| &mut n.wall_sd_mm },
        Named {
            name: "wall_lean_mm",
            what: "once-round part of the wall, sd of each component",
            least: 0.0,
            most: 1.0,
            place: |n| &mut n.wall_lean_mm,
        },
        Named {
            name: "fibre_lean_deg",
            what: "lean of the fibre, sd; 0: true grain",
            least: 0.0,
            most: 10.0,
            place: |n| &mut n.fibre_lean_deg,
        },
    ];

    /// Pairs of least and most that stand the wrong way round.
    #[must_use]
    pub fn crossed(&self) -> Vec<(&'static str, &'static str)> {
        let pairs = [
            ("length_least_mm", "length_most_mm", self.length_least_mm, self.length_most_mm),
            ("dents_fewest", "dents_most", self.dents_fewest, self.dents_most),
            ("dent_least_mm", "dent_most_mm", self.dent_least_mm, self.dent_most_mm),
            ("groove_least_mm", "groove_most_mm", self.groove_least_mm, self.groove_most_mm),
        ];
        pairs.into_iter().filter(|p| p.2 > p.3).map(|p| (p.0, p.1)).collect()
    }
}
