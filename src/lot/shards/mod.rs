//! Plans of tubes as lines of text, written tube by tube and summed up wherever they meet again.
//!
//! ```text
//! Prepared -- write_lines --> lines of text, one for the lot and one a tube    (one machine a lot, or a part of one)
//!                               |
//!                               v  Gathered::read, one file at a time, in any order, on any number of threads
//! Gathered . with(Gathered) --> Gathered -- summed_up --> Together
//! ```
//!
//! What a [`Gathered`] holds are sums of whole numbers, unions of sets and least places, so [`Gathered::with`] is associative
//! and commutative to the last bit: the same lines give the same answer, whatever files they lie in and in whatever order.
//! It grows with the lots (16 bytes a draw and sum, 13 kB at 200 draws) and with the names of the tubes, which tell a record
//! that came twice, not with what the records hold.

mod gather;
mod line;
mod problems;
mod sums;
mod together;
mod write;

pub use gather::Gathered;
pub use problems::NotSummed;
pub use together::{LotShare, Together};
pub use write::{Part, Which};
