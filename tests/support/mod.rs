//! Small readers that let tests measure files without the code that wrote them, and sample drawings.

pub mod pdf_lines;
pub mod pgm;
pub mod samples;
