//! Pure functions from what is believed about tubes to what to do with them.

pub mod cut_order;
