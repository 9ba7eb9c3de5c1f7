//! The geometry and the solver against published and independently computed values, kept in `tests/reference/`.

#[path = "reference/circles.rs"]
mod circles;
#[path = "reference/definitions.rs"]
mod definitions;
#[path = "reference/ellipses.rs"]
mod ellipses;
#[path = "reference/nonlinear.rs"]
mod nonlinear;
#[path = "reference/partitions.rs"]
mod partitions;
#[path = "reference/roundness.rs"]
mod roundness;
#[path = "reference/source.rs"]
mod source;
#[path = "reference/stations.rs"]
mod stations;
#[path = "reference/straightness.rs"]
mod straightness;
#[path = "reference/uncertainty.rs"]
mod uncertainty;
