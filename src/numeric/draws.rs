//! Seeded streams of random numbers: draw `k` comes from (seed, name, k) and from nothing else.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, StandardNormal};

/// The generator for draw `k` of the thing called `name` under `seed`.
///
/// `ChaCha8` is a fixed algorithm (D. J. Bernstein 2008), so results do not change with a library's default. The key is
/// the seed and two 64-bit FNV-1a hashes of the name (Fowler, Noll, Vo; offset bases differ), the stream number is `k`:
/// neither the number of draws nor the order in which threads take them matters.
#[must_use]
pub fn stream(seed: u64, name: &str, k: u64) -> ChaCha8Rng {
    let mut key = [0_u8; 32];
    key[..8].copy_from_slice(&seed.to_le_bytes());
    key[8..16].copy_from_slice(&fnv1a(name, 0xcbf2_9ce4_8422_2325).to_le_bytes());
    key[16..24].copy_from_slice(&fnv1a(name, 0x6c62_272e_07bb_0142).to_le_bytes());
    let mut rng = ChaCha8Rng::from_seed(key);
    rng.set_stream(k);
    rng
}

/// `n` independent standard normal numbers.
pub fn normals(rng: &mut ChaCha8Rng, n: usize) -> Vec<f64> {
    (0..n).map(|_| StandardNormal.sample(rng)).collect()
}

/// The stream of the pair that draw `k` belongs to, and the sign its normal numbers take: draws 2 j and 2 j + 1 share
/// their numbers with opposite signs, so that what they are about cancels in their mean (antithetic variates; J. M.
/// Hammersley, K. W. Morton, Proc. Camb. Phil. Soc. 52 (1956) 449-475).
#[must_use]
pub fn mirrored(seed: u64, name: &str, k: u64) -> (ChaCha8Rng, f64) {
    (stream(seed, name, k / 2), if k.is_multiple_of(2) { 1.0 } else { -1.0 })
}

/// `n` standard normal numbers of draw `k` (see [`mirrored`]).
#[must_use]
pub fn mirrored_normals(seed: u64, name: &str, k: u64, n: usize) -> Vec<f64> {
    let (mut rng, sign) = mirrored(seed, name, k);
    normals(&mut rng, n).into_iter().map(|z| sign * z).collect()
}

/// The 64-bit FNV-1a hash of a text (Fowler, Noll, Vo), from their usual offset basis.
#[must_use]
pub fn fingerprint(text: &str) -> u64 {
    fnv1a(text, 0xcbf2_9ce4_8422_2325)
}

fn fnv1a(text: &str, basis: u64) -> u64 {
    text.bytes().fold(basis, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0000_0100_0000_01b3))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_draw_depends_on_its_number_only() {
        let a = normals(&mut stream(7, "T1", 3), 4);
        let _ = normals(&mut stream(7, "T1", 2), 9);
        assert_eq!(a, normals(&mut stream(7, "T1", 3), 4));
        assert_ne!(a, normals(&mut stream(7, "T1", 4), 4));
        assert_ne!(a, normals(&mut stream(7, "T2", 3), 4));
        assert_ne!(a, normals(&mut stream(8, "T1", 3), 4));
    }

    #[test]
    fn normals_have_mean_zero_and_sd_one() {
        let v = normals(&mut stream(1, "", 0), 20_000);
        let m = crate::numeric::summary::mean(&v);
        let s = crate::numeric::summary::sd(&v);
        assert!(m.abs() < 4.0 / 20_000_f64.sqrt(), "{m}");
        assert!((s - 1.0).abs() < 0.03, "{s}");
    }
}
