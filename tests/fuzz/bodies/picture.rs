//! Picture files: headers, tags, colour profiles and pixels of every kind. What is read is whole; what is refused is told in one line.

use ruboff::shot::{Limits, Shot};

/// Small, so that a header that asks for much is refused and not waited for.
const LIMITS: Limits = Limits { pixels: 1_000_000, bytes: 8 << 20 };

/// # Panics
/// A property does not hold.
pub fn read(bytes: &[u8]) {
    match Shot::decode(bytes, &LIMITS) {
        Ok(shot) => {
            assert_eq!(shot.rgb.len(), shot.width * shot.height * 3);
            assert!((shot.width * shot.height) as u64 <= LIMITS.pixels);
            let tags = &shot.tags;
            assert!(tags.focal_px.is_none_or(|f| f.is_finite() && f > 0.0), "{tags:?}");
            assert!(tags.px_per_mm.is_none_or(|r| r.iter().all(|v| v.is_finite() && *v > 0.0)), "{tags:?}");
            assert!(tags.jpeg_quality.is_none_or(|q| (0.0..=100.0).contains(&q)), "{tags:?}");
            assert!(tags.model.as_ref().is_none_or(|m| m.chars().count() <= 200 && !m.chars().any(char::is_control)), "{tags:?}");
        }
        Err(e) => {
            let text = e.to_string();
            assert!((15..=290).contains(&text.chars().count()) && !text.contains('\n'), "{text}");
        }
    }
}
