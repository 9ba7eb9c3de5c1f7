//! The geometry and the solver against published and independently computed values, kept in `tests/reference/`.

#[path = "reference/circles.rs"]
mod circles;
#[path = "reference/nonlinear.rs"]
mod nonlinear;
#[path = "reference/source.rs"]
mod source;
