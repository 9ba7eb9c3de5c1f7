//! Formats results: drawings, paper, text. Computes nothing about tubes.

pub mod font;
pub mod pdf;
pub mod png;
pub mod scene;
pub mod svg;
