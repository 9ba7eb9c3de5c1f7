//! The pages of `bench`: what a maker sees on a tablet beside the tube. Values in, HTML out; what is asked, kept and answered
//! stands in the program.
//!
//! Every page stands alone: its style and script are files of the same program, nothing is fetched from elsewhere, and all
//! that comes from the user's files is escaped.

mod asked;
mod card;
mod ends;
mod fell;
mod frame;
mod measure;
mod more;
mod tubes;

pub use asked::{Asked, Prompt, prompts_of};
pub use card::{Answer, Look, card, fragment, next_words};
pub use ends::{EndsSeen, ends_drop, ends_seen};
pub use fell::{FellForm, fell, reasons};
pub use frame::{Desk, ICON, Place, cautions_page, code_page, page, plain_words};
pub use measure::{Grid, Measure, measure};
pub use more::{lots, piles, prints};
pub use tubes::{Order, State, TubeLine, encoded, tubes};

/// The style of the pages.
#[must_use]
pub fn style() -> String {
    format!("{}\n{}", include_str!("../report/style.css"), include_str!("bench.css"))
}

/// Their script.
pub const SCRIPT: &str = include_str!("bench.js");
