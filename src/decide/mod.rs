//! Decisions: pure functions of a believed surface and the maker's target.

pub mod advice;
pub mod back;
pub mod bark_map;
mod believed_after;
pub mod broken;
pub mod by_eye;
pub mod choice;
mod cross_cuts;
pub mod cut_order;
pub mod cut_plan;
pub mod fan;
pub mod girth;
pub mod judged;
pub mod leeway;
mod lines;
pub mod packages;
pub mod piece;
pub mod plan;
pub mod room;
mod run_layer;
pub mod runs;
pub mod saw_first;
pub mod screen;
pub mod serves;
pub mod split;
pub mod stick;
pub mod tube_plan;
pub mod tube_view;
pub mod unread;
pub mod verdict;
mod worth;

/// Bark lines handled side by side: a multiple of four so that loops over them become vector instructions.
pub(crate) const LANES: usize = 12;
/// One number for each of `LANES` neighbouring bark lines.
pub(crate) type Lane = [f32; LANES];
