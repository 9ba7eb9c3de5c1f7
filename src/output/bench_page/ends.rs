//! Sawn ends from a picture that is dropped on the page.

use super::frame::{Desk, Place, page};
use crate::lot::ends::EndName;
use crate::output::cautions::ON_THE_GLASS;
use crate::paper::font::plain;
use maud::html;

/// The page a picture is dropped on. `said`: what was written last.
#[must_use]
pub fn ends_drop(desk: &Desk, said: Option<&str>) -> String {
    let body = html! {
        @if let Some(words) = said { pre { (words) } }
        p { "Stand the sawn ends on the glass with the scale card beside them, a pencil tick at each index line." }
        p.small { (ON_THE_GLASS) }
        div.drop {
            p { "Drop the picture here, or choose it:" }
            input type="file" accept=".png,.jpg,.jpeg,.tif,.tiff,image/png,image/jpeg,image/tiff" aria-label="picture of sawn ends";
            p id="drop-said" role="status" {}
        }
    };
    page(desk, Place::Ends, "Sawn ends", None, &body)
}

/// A picture whose rings are numbered and to be named.
#[derive(Debug)]
pub struct EndsSeen<'a> {
    /// What it is called.
    pub stem: &'a str,
    /// What was found, in lines.
    pub words: &'a str,
    /// Number of rings.
    pub rings: usize,
    /// Names of the lot's tubes.
    pub tubes: &'a [String],
    /// Why the names were not taken.
    pub refused: Option<&'a str>,
    /// What was chosen for each ring, where that was done already: [`EndName::key`], or `-` for none.
    pub chosen: &'a [String],
}

/// The page on which rings get their names.
#[must_use]
pub fn ends_seen(desk: &Desk, e: &EndsSeen<'_>) -> String {
    let end = |tube: &String, far: bool| EndName { tube: tube.clone(), far }.key();
    let chosen =
        |i: usize| e.chosen.get(i).cloned().unwrap_or_else(|| e.tubes.get(i).map_or(String::new(), |t| end(t, false)));
    let body = html! {
        @if let Some(why) = e.refused { p.warn role="alert" { (plain(why)) } }
        p { "Which number is which tube? The names are set in the lot's order: change what differs, then take them." }
        img.glass src="/ends/seen.png" alt=(format!("The picture with {} numbered rings", e.rings));
        pre { (e.words) }
        form method="post" action="/ends/take" {
            input type="hidden" name="token" value=(desk.token);
            @for i in 0..e.rings {
                label { span { "ring " (i + 1) }
                    select name=(format!("ring{}", i + 1)) {
                        option value="-" selected[chosen(i).is_empty() || chosen(i) == "-"] { "none" }
                        @for t in e.tubes {
                            @let (index, far) = (end(t, false), end(t, true));
                            option value=(index) selected[chosen(i) == index] { (plain(t)) ", index end" }
                            option value=(far) selected[chosen(i) == far] { (plain(t)) ", far end" }
                        }
                    }
                }
            }
            p { button.main { "take them" } " " a href="/ends" { "another picture" } }
        }
    };
    page(desk, Place::Ends, &format!("Ends of {}", e.stem), None, &body)
}
