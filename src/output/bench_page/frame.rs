//! What every page has round it.

use crate::output::cautions::{CAUTIONS, FIRST_OF_ALL};
use crate::output::show::Units;
use crate::paper::font::plain;
use maud::{DOCTYPE, Markup, html};

/// Where in the pages one is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// The list of tubes.
    Tubes,
    /// Sawn ends from a picture.
    Ends,
    /// Piles for one sharpening each, and the board of the lot.
    Piles,
    /// Lots side by side.
    Lots,
    /// What can be printed.
    Print,
    /// A tube.
    Tube,
}

const PLACES: [(Place, &str, &str); 5] = [
    (Place::Tubes, "/", "Tubes"),
    (Place::Ends, "/ends", "Ends"),
    (Place::Piles, "/piles", "Piles"),
    (Place::Lots, "/lots", "Lots"),
    (Place::Print, "/print", "Print"),
];

/// What all pages of a lot share.
#[derive(Debug, Clone)]
pub struct Desk {
    /// Name of the lot.
    pub lot: String,
    /// What a request that changes something must bring along.
    pub token: String,
    /// Unit of lengths, shown and typed.
    pub units: Units,
    /// What is being worked out just now; empty when all is.
    pub doing: String,
}

/// A page: its title, and the tube it is about where it is about one.
#[must_use]
pub fn page(desk: &Desk, place: Place, title: &str, tube: Option<(&str, &str)>, body: &Markup) -> String {
    let title = plain(title);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light";
                meta name="token" content=(desk.token);
                @if let Some((tube, stage)) = tube {
                    meta name="tube" content=(tube);
                    meta name="stage" content=(stage);
                }
                title { (title) " – lot " (plain(&desk.lot)) }
                link rel="icon" href="/icon.svg";
                link rel="stylesheet" href="/bench.css";
                script src="/bench.js" defer {}
            }
            body.desk {
                a.skip href="#main" { "To the content" }
                header.top {
                    b { (plain(&desk.lot)) }
                    nav aria-label="Pages" {
                        @for (p, to, words) in PLACES {
                            a href=(to) aria-current=[(p == place).then_some("page")] { (words) }
                        }
                    }
                    @if !desk.doing.is_empty() { span.doing role="status" { (desk.doing) } }
                }
                main id="main" {
                    h1 { (title) }
                    noscript { p.warn { "Typing readings and dropping pictures needs the page's script, which this browser does not run." } }
                    (body)
                }
            }
        }
    };
    page.into_string()
}

/// The sign of the program in a browser's bar: a ring in four.
pub const ICON: &str = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 32 32\"><g fill=\"none\" stroke=\"#1e1e1e\" stroke-width=\"5\"><path d=\"M18 5a11 11 0 0 1 9 9M27 18a11 11 0 0 1-9 9M14 27a11 11 0 0 1-9-9M5 14a11 11 0 0 1 9-9\"/></g></svg>";

/// The cautions, to be read before the first split card; `back` is where one came from, a path of these pages.
#[must_use]
pub fn cautions_page(desk: &Desk, back: &str) -> String {
    let body = html! {
        p.caution { (FIRST_OF_ALL) }
        form method="post" action="/cautions" {
            input type="hidden" name="token" value=(desk.token);
            input type="hidden" name="back" value=(back);
            button.main id="read" { "I have read them: show the split" }
        }
        dl.cautions { @for c in &CAUTIONS { div { dt { (c.topic) } dd { (c.words) " " small { "Source: " (c.source) "." } } } } }
    };
    page(desk, Place::Tube, "Before the first split", None, &body)
}

/// What a device that is not this computer is asked first.
#[must_use]
pub fn code_page(refused: bool) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Code" }
                link rel="stylesheet" href="/bench.css";
            }
            body.desk {
                main {
                    h1 { "Type the code" }
                    p { "It stands where the program was started, the last one there, and lets in one device." }
                    @if refused { p.warn role="alert" { "That was not the code, or it was used already." } }
                    form method="post" action="/code" {
                        label { span { "code" } input name="code" autocomplete="off" autofocus required maxlength="20"; }
                        button.main { "go on" }
                    }
                }
            }
        }
    };
    page.into_string()
}

/// A page that only says something.
#[must_use]
pub fn plain_words(desk: &Desk, title: &str, words: &str) -> String {
    let body = html! { p { (plain(words)) } p { a href="/" { "Back to the tubes" } } };
    page(desk, Place::Tube, title, None, &body)
}
