//! Formats results: text, tables, JSON, drawings, paper. Computes nothing about tubes.

pub mod axes;
pub mod cautions;
pub mod cut_list;
pub mod doubts;
pub mod figures;
pub mod fit_report;
pub mod font;
pub mod palette;
pub mod pdf;
pub mod plotters_backend;
pub mod png;
pub mod population_report;
pub mod report;
pub mod roundness_block;
pub mod scan_report;
pub mod scene;
pub mod show;
pub mod strip;
pub mod svg;
pub mod table;
pub mod tables;
pub mod text;
