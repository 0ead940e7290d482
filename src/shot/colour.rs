//! Embedded colour profiles (ICC.1): pixels of another colour space are brought to sRGB.

use moxcms::{ColorProfile, DataColorSpace, Layout, Transform8BitExecutor, TransformOptions};
use rayon::prelude::*;
use std::sync::Arc;

/// Longest profile that is looked at, bytes: print profiles reach a few MB, pictures of sheets carry a few kB.
const LONGEST_PROFILE: usize = 8 << 20;

/// A profile whose result differs from the stored bytes by no more than this is taken for sRGB and left alone.
const ALIKE: u8 = 2;

/// Bytes done at once: small enough to stay in the nearest cache.
const BLOCK: usize = 3 << 13;

/// Brings `rgb` to sRGB when `profile` says that it is something else; a profile that can't be used is ignored.
pub(super) fn to_srgb(profile: &[u8], rgb: &mut [u8]) {
    if let Some(transform) = transform(profile) {
        rgb.par_chunks_mut(BLOCK).for_each_init(Vec::new, |copy: &mut Vec<u8>, block| {
            copy.clear();
            copy.extend_from_slice(block);
            // Lengths are whole pixels and agree, the only thing it could complain of.
            let _ = transform.transform(copy, block);
        });
    }
}

/// The way to sRGB, unless the profile is that already.
fn transform(profile: &[u8]) -> Option<Arc<Transform8BitExecutor>> {
    let source = Some(profile).filter(|p| p.len() <= LONGEST_PROFILE).and_then(|p| ColorProfile::new_from_slice(p).ok())?;
    if source.color_space != DataColorSpace::Rgb {
        return None;
    }
    let transform = source.create_transform_8bit(Layout::Rgb, &ColorProfile::new_srgb(), Layout::Rgb, TransformOptions::default()).ok()?;
    // Seven steps of each channel, all of them with each other.
    let step = |k: usize| [0u8, 40, 80, 128, 170, 210, 255][k % 7];
    let probe: Vec<u8> = (0..343).flat_map(|k| [step(k), step(k / 7), step(k / 49)]).collect();
    let mut seen = vec![0; probe.len()];
    transform.transform(&probe, &mut seen).ok()?;
    probe.iter().zip(&seen).any(|(a, b)| a.abs_diff(*b) > ALIKE).then_some(transform)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn srgb_is_left_alone_and_wider_colours_are_brought_in() {
        let srgb = ColorProfile::new_srgb().encode().expect("a profile");
        assert!(transform(&srgb).is_none());
        let p3 = ColorProfile::new_display_p3().encode().expect("a profile");
        // Display P3 (200, 100, 50) is sRGB (214.90, 92.61, 30.95): worked out apart from this crate from the
        // primaries of SMPTE EG 432-1 with the white point D65 and from IEC 61966-2-1.
        let mut rgb = [200, 100, 50, 128, 128, 128].repeat(9000);
        to_srgb(&p3, &mut rgb);
        for (got, want) in rgb[rgb.len() - 6..].iter().zip([215u8, 93, 31, 128, 128, 128]) {
            assert!(got.abs_diff(want) <= 1, "{got} {want}");
        }
        assert!(transform(b"not a profile").is_none());
    }
}
