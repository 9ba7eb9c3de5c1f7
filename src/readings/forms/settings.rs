//! The settings of a new lot: what is known stands, every other key behind a `#` with its default.

use crate::domain::{
    Instrument, MINUTE_BLANKS, NewLot, SPLIT_MINUTES, Saw, ScreenRule, Split, Target, Tool,
    units::{LengthUnit, MM_PER_INCH},
};
use std::fmt::Write as _;

/// One setting.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Setting {
    pub(super) section: String,
    pub(super) key: &'static str,
    /// As it stands in `lot.toml`, texts in quotes.
    pub(super) value: String,
    /// What it means.
    pub(super) about: String,
    pub(super) state: State,
}

/// Why a setting stands as it does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum State {
    /// It holds.
    Given,
    /// Behind a `#`, showing what holds without it.
    Default,
    /// Behind a `#`, showing how one is written; nothing holds without it.
    Example,
}

impl Setting {
    /// The value without the quotes of a text.
    pub(super) fn bare(&self) -> String {
        toml_text(&self.value).unwrap_or_else(|| self.value.clone())
    }
}

/// What stands above the settings.
pub(super) const HEAD: [&str; 4] = [
    "A lot of tubes for quarterlight: quarterlight check tells whether it can be read.",
    "What stands behind # is not read. 'default' shows what holds without the line (common practice, no source);",
    "'for example' shows how it is written, and nothing holds without it. Take the # away to set it.",
    "A bare length is mm, a bare weight g; \"2 3/4 in\" and \"5 lb\" do as well.",
];

/// All settings in the order they are written.
pub(super) fn all(lot: &NewLot) -> Vec<Setting> {
    let mut list = List { inch: lot.unit == LengthUnit::Inch, settings: Vec::new() };
    list.lot(lot);
    list.target(&lot.target);
    list.work();
    for task in &lot.routine.tasks {
        list.rig(task.tool, lot.span_mm);
    }
    list.settings
}

/// `lot.toml`.
pub(super) fn text(lot: &NewLot) -> String {
    let mut out = String::new();
    for line in HEAD {
        let _ = writeln!(out, "# {line}");
    }
    let mut section = String::new();
    for s in all(lot) {
        if s.section != section {
            let _ = writeln!(out, "\n[{}]", s.section);
            section.clone_from(&s.section);
        }
        let (mark, word) = match s.state {
            State::Given => ("", ""),
            State::Default => ("# ", "default; "),
            State::Example => ("# ", "for example; "),
        };
        let setting = format!("{mark}{} = {}", s.key, s.value);
        let _ = writeln!(out, "{setting:<34}# {word}{}", s.about);
    }
    out
}

/// Builds the list, a section at a time.
struct List {
    inch: bool,
    settings: Vec<Setting>,
}

impl List {
    fn push(&mut self, section: &str, key: &'static str, value: String, state: State, about: &str) {
        self.settings.push(Setting { section: section.into(), key, value, about: about.into(), state });
    }

    fn lot(&mut self, lot: &NewLot) {
        use State::{Default, Example, Given};
        self.push("lot", "name", quoted(&lot.name), Given, "what you call it");
        let units = if self.inch { "\"in\"" } else { "\"mm\"" };
        let about = "what lengths are told in unless --units is given; a bare length typed here stays mm";
        self.push("lot", "units", units.into(), Given, about);
        let weight = if self.inch { "\"4 lb\"" } else { "\"2 kg\"" };
        self.push("lot", "bought_weight", weight.into(), Example, "weight paid for: gives blanks of the whole lot");
        self.push("lot", "price", "80".into(), Example, "paid for that weight: gives the cost of a blank");
        self.push("lot", "currency", "\"\"".into(), Default, "put behind prices");
        self.push(
            "lot",
            "humidity_percent",
            "50".into(),
            Example,
            "of the air when the tubes were weighed, for weights at another",
        );
        self.push(
            "lot",
            "index_line_deg",
            "1".into(),
            Default,
            "how far the index line may lie off; about 0.1 for a detent",
        );
    }

    fn target(&mut self, t: &Target) {
        use State::{Default, Given};
        let names = Instrument::names().join(", ");
        self.push(
            "target",
            "instrument",
            quoted(&t.instrument),
            Given,
            &format!("one of {names}, or a set of your own"),
        );
        self.push("target", "pieces", t.pieces.to_string(), Default, "a tube is split into so many");
        let lengths: [(&'static str, f64, &str); 11] = [
            ("blank_length", t.blank_length_mm, "of a blank as sawn"),
            ("blank_width", t.blank_width_mm, "of a blank"),
            ("blank_thickness", t.blank_thickness_mm, "at the crown"),
            ("clean_up", t.clean_up_mm, "wall wanted beyond that"),
            ("arc_diameter", t.arc_diameter_mm, "of the circle the back should fit"),
            ("arc_tolerance", t.arc_tolerance_mm, "either way"),
            ("hollow", t.hollow_mm, "most light under the middle of the gauge stick"),
            ("rock", t.rock_mm, "most that an end of it may drop"),
            ("skew", t.skew_mm, "most difference of arc diameter between the rails"),
            ("grain_drift", t.grain_drift_mm, "most that a fibre may drift over a blank"),
            ("edge_margin", t.edge_margin_mm, "to spare on each side of a blank"),
        ];
        for (key, mm, about) in lengths {
            let value = self.length(mm);
            self.push("target", key, value, Default, about);
        }
    }

    fn work(&mut self) {
        use State::{Default, Example};
        let (saw, split, screen) = (Saw::default(), Split::default(), ScreenRule::default());
        let (kerf, trim, spring) = (self.length(saw.kerf_mm), self.length(saw.trim_mm), self.length(split.spring_mm));
        self.push("saw", "kerf", kerf, Default, "what a cut takes away; 0 for a knife");
        self.push("saw", "trim", trim, Default, "given up at each end of a tube");
        self.push("split", "wander_deg", split.wander_deg.to_string(), Default, "spread of where a split really falls");
        self.push("split", "one_blow", "\"line\"".into(), Default, "lines one blow makes: line, across or all");
        self.push("split", "spring", spring, Default, "light under a blank-long stick on a piece set free");
        self.push("split", "minutes", SPLIT_MINUTES.to_string(), Default, "to mark a tube and split it");
        self.push("assumed", "lean_deg", "0.5".into(), Example, "of the grain where no fibre was followed");
        self.push("assumed", "wall", "\"3.6 mm\"".into(), Example, "where no wall was read");
        self.push(
            "screen",
            "least_blanks",
            screen.least_blanks.to_string(),
            Default,
            "a tube must give to be worth it",
        );
        self.push(
            "screen",
            "split_chance",
            screen.split_chance.to_string(),
            Default,
            "chance of that: from here on split",
        );
        self.push("screen", "leave_chance", screen.leave_chance.to_string(), Default, "up to here leave");
        self.push(
            "measure",
            "minute_blanks",
            MINUTE_BLANKS.to_string(),
            Default,
            "blanks a minute of measuring should bring",
        );
        self.push("measure", "pace", "1.0".into(), Default, "times what the seconds of the instruments below say");
    }

    fn rig(&mut self, tool: Tool, span_mm: f64) {
        use State::{Default, Example, Given};
        let (section, kind) = (format!("rig.{}", tool.word()), tool.kind());
        match tool {
            Tool::Bridge => {
                let span = self.length(span_mm);
                self.push(&section, "span", span, Given, "between the two feet: WRITE THAT OF YOUR OWN BAR");
            }
            Tool::VBlock => {
                self.push(&section, "vee_deg", "90".into(), Given, "between its faces: WRITE THAT OF YOUR OWN BLOCK");
            }
            _ => {}
        }
        let (sd, step) = (self.length(kind.default_sd_mm()), if self.inch { "\"1/64 in\"" } else { "0.01" });
        self.push(&section, "sd", sd, Default, "how much readings of one thing differ (standard deviation)");
        self.push(&section, "resolution", step.into(), Example, "smallest step it shows");
        self.push(&section, "seconds", kind.seconds().to_string(), Default, "one reading takes");
        self.push(&section, "setup_seconds", kind.setup_seconds().to_string(), Default, "moving or laying it takes");
        if matches!(tool, Tool::Dial | Tool::VBlock) {
            self.push(&section, "foot", "\"ball\"".into(), Example, "what touches the bark: flat, ball, point or edge");
        }
    }

    fn length(&self, mm: f64) -> String {
        if self.inch { format!("\"{} in\"", inches(mm)) } else { mm.to_string() }
    }
}

/// As few decimals of an inch as give the millimetres back.
fn inches(mm: f64) -> String {
    let exact = mm / MM_PER_INCH;
    (0..=8)
        .map(|d| format!("{exact:.d$}"))
        .find(|t| t.parse::<f64>().is_ok_and(|x| (x * MM_PER_INCH - mm).abs() < 1e-7))
        .unwrap_or_else(|| exact.to_string())
}

/// A text as TOML writes it.
fn quoted(text: &str) -> String {
    toml_edit::Value::from(text).to_string().trim().to_string()
}

fn toml_text(value: &str) -> Option<String> {
    Some(value.parse::<toml_edit::Value>().ok()?.as_str()?.to_string())
}
