//! Plans the splitting of tube cane into single-reed blanks.
pub mod decide;
pub mod domain;
pub mod geometry;
pub mod numeric;
pub mod output;
pub mod paper;
pub mod readings;
pub mod tube;
