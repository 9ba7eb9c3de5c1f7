//! The user's files turned into a [`Lot`](crate::domain::Lot).
//!
//! # What a lot can be
//!
//! * **A folder** with `lot.toml` (settings; every key has a default), `tubes.csv` (the list of tubes), any number of
//!   `readings*.csv`, `marks.csv`, `cuts.csv`, and a folder `scans` with `TUBE.csv`, `.xyz` or `.ply` and `index.csv`. Only
//!   readings, scans or a list of tubes must be there. Names of files are compared without regard to case.
//! * **One scan** (`.xyz`, `.ply`), named after its tube.
//! * **One file of readings.** Lengths are then the furthest readings, settings the defaults.
//! * **One workbook** (`.xlsx`, `.ods`) with sheets `tubes`, `readings*`, `marks`, `cuts`, `lot`.
//!
//! | file or sheet | columns |
//! |---|---|
//! | `tubes` | `tube`, `length`, `weight`; optional `wall`, `minutes`, `note` |
//! | `readings*`, long | `tube`, `kind`, `z`, `angle`, `value`; optional `set`, `sd`, `rig`, `vee`, `width`, `span`, `unit` |
//! | `readings*`, grid | `tube`, `kind`, `z`, one column per angle (`0deg`, `45 deg`, `90°`); optional as above |
//! | `readings*`, line | `tube`, `kind`, `angle`, one column per place (`20mm`, `1 1/4 in`); optional as above |
//! | `readings*`, log | `value`, and in the first row of each line `tube`, `kind`, `angle`, `first`, `step`; optional as above |
//! | `marks` | `tube`, `from`, `to`, `angle_from`, `angle_to`, `why` |
//! | `cuts` | `tube`; optional `piece`, `aim`, `split`, `back`, `blanks`, `from`, `to`, `got`, `why` |
//! | `scans/TUBE.*` | points `x`, `y`, `z` in any rigid position; csv with or without header, xyz, ply |
//! | `scans/index.csv` | `tube` and a point `x`, `y`, `z` on the index line, or its `angle`; optional `end` |
//! | `lot` | `key`, `value`; optional `section` |
//!
//! The kinds of reading are the words of [`Kind::ALL`](crate::domain::Kind::ALL). Columns stand in any order, with the unit in the header
//! (`length_mm`, `z (in)`), beside the number (`2 5/8 in`), or left out (mm, g, degrees); see
//! [`units`](crate::domain::units). Commas, semicolons or tabs between cells, decimal points or commas, quoted cells,
//! byte-order marks, any line ends, blank rows and rows beginning with `#` are all ordinary input.
//!
//! [`lot_tables`] and [`TableWriter`] write such tables, [`form_files`] empty ones to begin with; their headers come from the
//! catalogue the readers use.
//!
//! # What is wrong is said all at once
//!
//! Everything that cannot be used, in every file, becomes a [`Finding`](crate::domain::Finding) with file, line, column, what was found, what
//! was expected and what to do. A tube that an error concerns is marked `in_doubt`; the others are read as usual. Rows of
//! readings that cannot be used are set aside where the other readings of that tube in that file are five times as many. An
//! error whose tube cannot be told, or that concerns a whole file, has no tube.

mod book;
mod catalogue;
mod columns;
mod cuts;
mod dialect;
mod edit;
mod error;
mod findings;
mod forms;
mod interchanged;
mod lot_toml;
mod maker;
mod marks;
mod name;
mod nearest;
mod ods_area;
mod own_sets;
mod plain_toml;
mod plausible;
mod readings_grid;
mod readings_line;
mod readings_log;
mod readings_long;
mod readings_row;
mod row;
mod scan;
mod set_aside;
mod settings;
mod source;
mod spans;
mod spreadsheet;
mod table;
mod tubes;
mod typed;
mod unpacked;
mod weights;
mod write;

pub use catalogue::Form;
pub use edit::{EditError, TableText};
pub use error::ReadError;
pub use forms::{FormError, form_files, form_workbook};
pub use nearest::nearest;
pub use plain_toml::{Plain, Setting, plain_toml};
pub use source::{LotRead, read_lot, read_lot_files};
pub use typed::{TYPED_FILE, TYPED_HEADERS, Typed, TypedAt, TypedError, pointed, typed};
pub use write::{Separator, TableWriter, WriteError, lot_tables};
