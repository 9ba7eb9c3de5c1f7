//! Sheets that people print on.

/// A sheet size.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Paper {
    /// 210 by 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 by 11 in, 215.9 by 279.4 mm (ANSI/ASME Y14.1 size A).
    Letter,
}

impl Paper {
    /// Both sizes.
    pub const ALL: [Paper; 2] = [Paper::A4, Paper::Letter];

    /// Width and height standing upright, mm.
    #[must_use]
    pub fn upright_mm(self) -> (f64, f64) {
        match self {
            Paper::A4 => (210.0, 297.0),
            Paper::Letter => (215.9, 279.4),
        }
    }

    /// Width and height lying on its long side, mm.
    #[must_use]
    pub fn lying_mm(self) -> (f64, f64) {
        let (w, h) = self.upright_mm();
        (h, w)
    }

    /// The word used on the command line and in file names.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Paper::A4 => "a4",
            Paper::Letter => "letter",
        }
    }

    /// The paper named by `word`, ignoring case and surrounding blanks.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Paper> {
        let w = word.trim().to_lowercase();
        Paper::ALL.into_iter().find(|p| p.word() == w)
    }
}
