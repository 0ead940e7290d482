//! A file to upright sRGB pixels: sniffed, checked against the limits, decoded, turned, its colours brought to sRGB.

#[cfg(feature = "heic")]
use super::heic;
use super::kind::Kind;
use super::upright::Orientation;
use super::written::Written;
use super::{Shot, ShotError, Tags, colour, jpeg, png, tiff, webp};
use std::cell::Cell;
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::panic::{self, AssertUnwindSafe};
use std::path::Path;
use std::sync::Once;

/// How much a picture may need.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Most pixels. The default of 80 million holds a 48-megapixel photograph and an A3 scan at 600 dpi (70 million,
    /// 210 MB); a quarter turn needs as much again for a moment.
    pub pixels: u64,
    /// Most bytes of the file itself and of its decoded samples, each. The default of 800 MB holds the same A3 scan
    /// with 16 bits and alpha.
    pub bytes: u64,
}

impl Default for Limits {
    fn default() -> Self {
        Self { pixels: 80_000_000, bytes: 800_000_000 }
    }
}

/// Shorter sides show no garment, px.
const SMALLEST_SIDE: u64 = 32;

/// Resolutions that scanners offer, dots to the inch.
const SCANNER_DPI: [u32; 8] = [1200, 600, 400, 300, 200, 150, 100, 75];

impl Limits {
    /// Whether a picture of `size` with so many bytes a stored pixel may be decoded.
    pub(super) fn check(&self, size: [u64; 2], bytes_a_pixel: u64, px_per_mm: Option<[f64; 2]>) -> Result<(), ShotError> {
        let [width, height] = size;
        let pixels = width.saturating_mul(height);
        if pixels > self.pixels || pixels.saturating_mul(bytes_a_pixel) > self.bytes {
            let limit = self.pixels.min(self.bytes / bytes_a_pixel);
            let advice = advice(pixels, limit, px_per_mm);
            return Err(ShotError::TooLarge { width, height, limit: limit / 1_000_000, advice });
        }
        if width.min(height) < SMALLEST_SIDE {
            return Err(ShotError::TooSmall { width, height });
        }
        Ok(())
    }
}

fn advice(pixels: u64, limit: u64, px_per_mm: Option<[f64; 2]>) -> String {
    let shrink = (limit as f64 / pixels.max(1) as f64).sqrt();
    let fits = px_per_mm.map(|[x, y]| x.max(y) * 25.4 * shrink);
    match fits.and_then(|f| SCANNER_DPI.iter().find(|d| f64::from(**d) <= f)) {
        Some(dpi) => format!("scan it again at {dpi} dpi"),
        None => "scan A3 at 600 dpi, A2 at 400 dpi, A1 at 300 dpi or less, and set a camera to 50 megapixels or fewer".into(),
    }
}

/// What a decoder hands over: stored pixels, not yet upright.
#[derive(Debug)]
pub(super) struct Raw {
    pub width: usize,
    pub height: usize,
    /// Three bytes a pixel.
    pub rgb: Vec<u8>,
    pub written: Written,
    /// Embedded colour profile.
    pub icc: Option<Vec<u8>>,
}

impl Shot {
    /// Reads a JPEG, PNG, TIFF or WebP, whatever its name: 8 or 16 bits, grey, colour, inks (CMYK), alpha laid on
    /// white. The pixels stand upright and are sRGB. With the feature `heic` HEIC too, which is experimental.
    ///
    /// # Errors
    /// It is no picture, is damaged, cut short, too large or too small: see [`ShotError`].
    pub fn open(path: &Path, limits: &Limits) -> Result<Self, ShotError> {
        let bytes = read(path, limits)?;
        Self::decode(&bytes, limits).map(|shot| Self { file: path.to_path_buf(), ..shot })
    }

    /// The same from a file's bytes in memory.
    ///
    /// # Errors
    /// As [`Shot::open`].
    pub fn decode(bytes: &[u8], limits: &Limits) -> Result<Self, ShotError> {
        if bytes.is_empty() {
            return Err(ShotError::Empty);
        }
        let kind = Kind::of(&bytes[..bytes.len().min(32)])?;
        let (raw, blake3) = rayon::join(
            || {
                guarded(kind, || match kind {
                    Kind::Jpeg => jpeg::decode(bytes, limits),
                    Kind::Png => png::decode(bytes, limits),
                    Kind::Tiff => tiff::decode(bytes, limits),
                    Kind::Webp => webp::decode(bytes, limits),
                    #[cfg(feature = "heic")]
                    Kind::Heic => heic::decode(bytes, limits),
                })
            },
            || blake3::hash(bytes).to_hex().to_string(),
        );
        let Raw { width, height, mut rgb, written, icc } = raw?;
        if let Some(profile) = icc {
            // A profile that upsets its reader is as good as none.
            let _ = guarded(kind, || {
                colour::to_srgb(&profile, &mut rgb);
                Ok(())
            });
        }
        let orientation = Orientation::of_tag(written.orientation);
        let turned = orientation.quarters();
        let tags = Tags { turned, ..written.tags([width, height], orientation.turns()) };
        let rgb = orientation.apply(width, height, rgb);
        let (width, height) = if orientation.turns() { (height, width) } else { (width, height) };
        Ok(Self { file: Default::default(), blake3, width, height, rgb, tags, base: Default::default() })
    }
}

/// The whole file, once it is known to be an ordinary file that starts like a picture and is not too long.
pub(super) fn read(path: &Path, limits: &Limits) -> Result<Vec<u8>, ShotError> {
    let fault = |e: std::io::Error| match e.kind() {
        ErrorKind::NotFound => ShotError::Missing,
        ErrorKind::PermissionDenied => ShotError::Denied,
        ErrorKind::IsADirectory => ShotError::Folder,
        kind => ShotError::Io(kind.to_string()),
    };
    // Looked at before it is opened: opening a pipe would wait for ever.
    let about = std::fs::metadata(path).map_err(fault)?;
    if about.is_dir() {
        return Err(ShotError::Folder);
    }
    if !about.is_file() {
        return Err(ShotError::NotAFile);
    }
    let mut file = File::open(path).map_err(fault)?;
    let mut bytes = Vec::with_capacity(32);
    file.by_ref().take(32).read_to_end(&mut bytes).map_err(fault)?;
    if bytes.is_empty() {
        return Err(ShotError::Empty);
    }
    Kind::of(&bytes)?;
    let too_long = |length: u64| ShotError::TooLong { megabytes: length / 1_000_000, limit: limits.bytes / 1_000_000 };
    if about.len() > limits.bytes {
        return Err(too_long(about.len()));
    }
    bytes.reserve_exact(usize::try_from(about.len()).unwrap_or(0).saturating_sub(bytes.len()) + 1);
    file.take(limits.bytes).read_to_end(&mut bytes).map_err(fault)?;
    if bytes.len() as u64 > limits.bytes { Err(too_long(bytes.len() as u64)) } else { Ok(bytes) }
}

thread_local! {
    /// Whether this thread is inside a decoder whose panic is caught and told as an error.
    static GUARDED: Cell<bool> = const { Cell::new(false) };
}

/// Runs a decoder; a panic in it, on bytes from outside, becomes an error and prints nothing.
fn guarded<T>(kind: Kind, decode: impl FnOnce() -> Result<T, ShotError>) -> Result<T, ShotError> {
    static QUIET: Once = Once::new();
    QUIET.call_once(|| {
        let usual = panic::take_hook();
        panic::set_hook(Box::new(move |info| {
            if !GUARDED.get() {
                usual(info);
            }
        }));
    });
    let before = GUARDED.replace(true);
    let result = panic::catch_unwind(AssertUnwindSafe(decode));
    GUARDED.set(before);
    result.unwrap_or_else(|_| Err(ShotError::Damaged { kind: kind.name(), why: "its data contradict each other".into() }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_must_fit_fits_and_the_rest_is_told_the_dpi() {
        let limits = Limits::default();
        assert_eq!(limits.check([8064, 6048], 3, None), Ok(()));
        // A3 is 297 × 420 mm (ISO 216): at 600 dpi 7016 × 9921 px, here with 16 bits and alpha.
        assert_eq!(limits.check([7016, 9921], 8, None), Ok(()));
        let refused = limits.check([14032, 19842], 3, Some([1200.0 / 25.4; 2])).expect_err("too large");
        assert!(refused.to_string().contains("at 600 dpi"), "{refused}");
        let bomb = limits.check([60_000, 60_000], 3, None).expect_err("too large").to_string();
        assert!(bomb.contains("dpi") && bomb.len() < 260, "{bomb}");
        assert!(limits.check([u64::MAX, u64::MAX], 8, None).is_err());
        assert_eq!(limits.check([1, 1], 3, None), Err(ShotError::TooSmall { width: 1, height: 1 }));
    }

    #[test]
    fn a_panic_in_a_decoder_is_an_error() {
        let kept: Result<(), _> = guarded(Kind::Png, || panic!("never seen"));
        assert!(matches!(kept, Err(ShotError::Damaged { kind: "PNG", .. })));
        assert!(!GUARDED.get());
    }
}
