//! Thumbnails as they stand in a page: as text, so that the page needs no other file.

use super::archive::Picture;
use crate::write::as_jpeg;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use image::{ImageReader, Limits, imageops};
use std::io::Cursor;
use std::path::{Path, PathBuf};

/// Long side of a thumbnail in a page, px: two thousand of them must be read in a moment.
const LONG: u32 = 176;
/// What a thumbnail of fabric and lines needs; 5 kB each.
const QUALITY: u8 = 62;
/// Largest picture that a thumbnail is made of, bytes and px a side: an evidence picture has 1600 px.
const LARGEST: u64 = 16 << 20;
const WIDEST: u32 = 8192;

/// A small picture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Small {
    /// `data:image/jpeg;base64,…`
    pub uri: String,
    pub width: u32,
    pub height: u32,
}

/// The picture that a small one is made of, where there is one: the thumbnail, else the evidence picture.
pub(super) fn source(root: &Path, picture: &Picture) -> PathBuf {
    let name = if picture.has("thumbnail.jpg") { "thumbnail.jpg" } else { "evidence.jpg" };
    root.join(&picture.path).join(name)
}

/// The small picture of a tracing, from its thumbnail or else its evidence picture; none where neither can be read.
pub(super) fn small(root: &Path, picture: &Picture) -> Option<Small> {
    let folder = root.join(&picture.path);
    ["thumbnail.jpg", "evidence.jpg"].into_iter().filter(|f| picture.has(f)).find_map(|f| shrunk(&folder.join(f)))
}

fn shrunk(file: &Path) -> Option<Small> {
    if std::fs::metadata(file).ok()?.len() > LARGEST {
        return None;
    }
    let bytes = std::fs::read(file).ok()?;
    let mut reader = ImageReader::new(Cursor::new(bytes)).with_guessed_format().ok()?;
    let mut limits = Limits::default();
    (limits.max_image_width, limits.max_image_height) = (Some(WIDEST), Some(WIDEST));
    reader.limits(limits);
    let whole = reader.decode().ok()?.into_rgb8();
    let (w, h) = whole.dimensions();
    let (width, height) = fitted(w, h)?;
    let image = if width < w { imageops::thumbnail(&whole, width, height) } else { whole };
    let uri = format!("data:image/jpeg;base64,{}", STANDARD.encode(as_jpeg(&image, QUALITY).ok()?));
    Some(Small { uri, width: image.width(), height: image.height() })
}

/// The size with the long side cut to that of a thumbnail.
fn fitted(w: u32, h: u32) -> Option<(u32, u32)> {
    let long = w.max(h);
    if w == 0 || h == 0 {
        return None;
    }
    let to = |n: u32| if long > LONG { (n * LONG).div_ceil(long).max(1) } else { n };
    Some((to(w), to(h)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_sides_are_cut_and_nothing_is_made_larger() {
        assert_eq!(fitted(1600, 900), Some((176, 99)));
        assert_eq!(fitted(3, 8000), Some((1, 176)));
        assert_eq!(fitted(100, 80), Some((100, 80)));
        assert_eq!(fitted(0, 5), None);
    }

    #[test]
    fn what_is_no_picture_gives_none() {
        let dir = tempfile::tempdir().expect("a folder");
        let file = dir.path().join("thumbnail.jpg");
        std::fs::write(&file, b"<svg onload=alert(1)>").expect("written");
        assert_eq!(shrunk(&file), None);
    }
}
