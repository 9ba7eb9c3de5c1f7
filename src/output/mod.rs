//! Formats results: drawings, paper, text. Computes nothing about tubes.

pub mod axes;
pub mod cautions;
pub mod cut_list;
pub mod font;
pub mod palette;
pub mod pdf;
pub mod plotters_backend;
pub mod png;
pub mod scene;
pub mod strip;
pub mod svg;
