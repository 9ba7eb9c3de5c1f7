//! Which scale a picture has: by the card in it, else as given, else as its file says.

use super::card::{Card, CardFault, find_card};
use super::decode::Picture;
use super::scale::PixelScale;
use crate::geometry::scale_card::SPAN_MM;

/// A card and a scanner that differ by more than this cannot both be right, percent: scanners stretch by up to 0.6 %, a
/// printer that fits a page shrinks by 3 % and more. Common practice, no source.
const MOST_APART_PERCENT: f64 = 1.0;
/// A stated resolution further from the card's than this is none of this picture, percent: a photograph's.
const UNRELATED_PERCENT: f64 = 20.0;

/// Where the scale comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ScaleFrom {
    /// The card; whether its lines were measured.
    Card {
        /// True where the user gave their lengths.
        measured: bool,
    },
    /// The user gave it.
    Given,
    /// The file states it.
    File,
}

/// The scale of a picture.
#[derive(Debug, Clone, PartialEq)]
pub struct ScaleFound {
    /// Pixels per millimetre.
    pub scale: PixelScale,
    /// Where from.
    pub from: ScaleFrom,
    /// The card, where there is one.
    pub card: Option<Card>,
    /// How much longer the card says a millimetre is than what was given or the file states, percent, across and down.
    pub stretch_percent: Option<(f64, f64)>,
}

impl ScaleFound {
    /// True where the sizes were checked by a measured card.
    #[must_use]
    pub fn is_checked(&self) -> bool {
        self.from == ScaleFrom::Card { measured: true }
    }
}

/// Why a picture has no scale that can be used.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum ScaleFault {
    /// No card, none given, and the file states none a scanner has.
    None {
        /// What the file states, pixels per inch.
        stated_dpi: Option<(f64, f64)>,
    },
    /// There is a card, but it gives no scale.
    Card(CardFault),
    /// The card shows that the picture is mirrored.
    Mirrored,
    /// Card and stated resolution differ by more than any scanner stretches, percent, and nobody measured the card.
    Apart {
        /// Across and down.
        percent: (f64, f64),
    },
}

/// The scale of a picture. `spans_mm`: the measured lengths of the card's two lines; `given`: the user's resolution.
///
/// # Errors
/// See [`ScaleFault`].
pub fn find_scale(
    picture: &Picture,
    spans_mm: Option<[f64; 2]>,
    given: Option<PixelScale>,
) -> Result<ScaleFound, ScaleFault> {
    let stated = given.or(picture.stated);
    if let Some(card) = find_card(&picture.grey, spans_mm.unwrap_or(SPAN_MM)).map_err(ScaleFault::Card)? {
        if card.mirrored == Some(true) {
            return Err(ScaleFault::Mirrored);
        }
        let apart = |most: f64| move |s: &(f64, f64)| s.0.abs().max(s.1.abs()) <= most;
        let stretch_percent = stated.map(|s| card.scale.stretch_percent(s)).filter(apart(UNRELATED_PERCENT));
        if let Some(percent) = stretch_percent.filter(|s| spans_mm.is_none() && !apart(MOST_APART_PERCENT)(s)) {
            return Err(ScaleFault::Apart { percent });
        }
        let from = ScaleFrom::Card { measured: spans_mm.is_some() };
        return Ok(ScaleFound { scale: card.scale, from, card: Some(card), stretch_percent });
    }
    let scale = stated.ok_or(ScaleFault::None { stated_dpi: picture.stated_dpi })?;
    let from = if given.is_some() { ScaleFrom::Given } else { ScaleFrom::File };
    Ok(ScaleFound { scale, from, card: None, stretch_percent: None })
}
