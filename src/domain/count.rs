//! Numbers of things as numbers to reckon with; numerics are a later layer's.

#[allow(clippy::cast_precision_loss, reason = "what is counted here is far below 2^52")]
pub(super) fn count(n: usize) -> f64 {
    n as f64
}
