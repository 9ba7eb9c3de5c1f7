//! Formats results: words, text, tables, JSON, figures, the report. Computes nothing about tubes; draws with `paper`.

pub mod advice;
pub mod at_a_glance;
pub mod batches;
pub mod bench_list;
pub mod borne_out;
pub mod cautions;
pub mod compare;
pub mod cut_list;
pub mod doubts;
pub mod ends_picture;
pub mod ends_report;
pub mod figures;
pub mod fit_report;
mod fold;
pub mod new_lot;
pub mod own_file;
pub mod population_report;
pub mod report;
pub mod roundness_block;
pub mod scales;
pub mod scan_report;
pub mod show;
pub mod table;
pub mod tables;
pub mod text;
pub mod ways;
pub mod words;
