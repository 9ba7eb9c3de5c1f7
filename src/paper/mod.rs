//! Drawing on paper and screen: scenes in millimetres, their writers (SVG, PDF), type, colours and hatches, axes, sheets
//! and strips at true size. Knows lengths, angles and words; nothing of tubes, beliefs or plans.

pub mod angle_strip;
pub mod axes;
pub mod font;
pub(crate) mod head;
pub mod measuring_sheet;
pub mod palette;
pub mod pdf;
pub mod plotters_backend;
pub mod raster;
pub mod scale_card;
pub mod scene;
pub mod strip;
pub mod svg;
mod trace;
