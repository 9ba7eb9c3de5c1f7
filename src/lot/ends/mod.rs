//! Readings from a picture of sawn ends: which ring is which end of which tube, and what of it is written down.
//!
//! The index end is seen on a scanner's glass as it is looked at from outside: its angles run clockwise on the picture from the
//! tick. The far end is looked at from the other side: there the same angles run anticlockwise.

mod asked;
mod named;
mod stem;
mod table;

pub use asked::{AskedError, EndName, names, spans_mm, stated_scale, tick};
pub use named::{LeftOut, NamedEnd, NamesError, Seen, name_ends};
pub use stem::picture_stem;
pub use table::{Written, readings_table};
