//! Copies for others. Left out: originals, whatever their rights say; where things are kept; words under names of one's own; what cameras
//! and programs write into pictures (Exif, XMP, IPTC: places, times, owners, serial numbers); tracings that were replaced.

use super::super::archive::{Archive, Garment};
use super::super::tree::joined;
use super::CatalogueError;
use super::keys::public;
use super::place::{COPIES, Place};
use rayon::prelude::*;
use serde_json::Value;
use std::path::Path;

/// Files of a garment's folder that are published.
pub(super) const OF_GARMENT: [&str; 2] = ["garment.json", "measures.csv"];
/// Files of a picture's folder.
const OF_PICTURE: [&str; 5] = ["outline.json", "outline.svg", "points.csv", "evidence.jpg", "thumbnail.jpg"];

/// The archive as others see it.
pub(super) fn shown(archive: &Archive) -> Archive {
    let mut shown = archive.clone();
    shown.garments.iter_mut().for_each(|g| g.told.retain(|s| public(&s.key)));
    shown
}

/// Copies what may be published. Gives what was left out because it can't be made fit for it.
pub(super) fn copies(root: &Path, archive: &Archive, place: &Place) -> Result<Vec<String>, CatalogueError> {
    let garments = archive.garments.iter().flat_map(|g| files(g, &OF_GARMENT, &g.files, &g.path));
    let pictures = archive.pictures().flat_map(|(_, p)| OF_PICTURE.iter().filter(|f| p.has(f)).map(|f| joined(&p.path, f)));
    let all: Vec<String> = garments.chain(pictures).collect();
    let left: Result<Vec<Option<String>>, CatalogueError> = all
        .par_iter()
        .map(|file| {
            let Ok(bytes) = std::fs::read(root.join(file)) else { return Ok(Some(format!("{file} can't be read"))) };
            let fit = match file.rsplit('/').next() {
                Some("garment.json") => without_places(&bytes),
                Some("evidence.jpg" | "thumbnail.jpg") => without_tags(&bytes),
                _ => Some(bytes),
            };
            match fit {
                Some(bytes) => place.put(&format!("{COPIES}/{file}"), &bytes).map(|()| None),
                None => Ok(Some(format!("{file} is damaged"))),
            }
        })
        .collect();
    Ok(left?.into_iter().flatten().collect())
}

fn files<'a>(g: &'a Garment, wanted: &'a [&str], there: &'a [String], folder: &'a str) -> impl Iterator<Item = String> + use<'a> {
    let readable = g.unread.is_none();
    wanted.iter().filter(move |f| readable && there.iter().any(|t| t == *f)).map(move |f| joined(folder, f))
}

/// A garment's record without the words that are not published, in its own table and in the notes as they were written.
fn without_places(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut record: Value = serde_json::from_slice(bytes).ok()?;
    record.get_mut("garment")?.as_object_mut()?.retain(|key, _| public(key));
    if let Some(own) = record.pointer_mut("/notes/as_written/garment").and_then(Value::as_object_mut) {
        own.retain(|key, _| public(key) && key != "more");
    }
    let mut text = serde_json::to_vec_pretty(&record).ok()?;
    text.push(b'\n');
    Some(text)
}

/// A JPEG without what was written into it beside the picture (ITU-T T.81, annex B): application segments but JFIF's, the colour profile and
/// Adobe's, comments, and whatever follows its end. None where it is no whole JPEG.
fn without_tags(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut out = bytes.get(..2).filter(|b| *b == [0xff, 0xd8])?.to_vec();
    let mut at = 2;
    loop {
        let [0xff, marker] = *bytes.get(at..at + 2)? else { return None };
        match marker {
            0xff => at += 1,
            0xd9 => {
                out.extend([0xff, 0xd9]);
                return Some(out);
            }
            _ => {
                let length = usize::from(u16::from_be_bytes(bytes.get(at + 2..at + 4)?.try_into().ok()?));
                let segment = bytes.get(at..at + 2 + length.max(2))?;
                if stays(marker, &segment[4..]) {
                    out.extend(segment);
                }
                at += segment.len();
                if marker == 0xda {
                    let end = at + scan_end(bytes.get(at..)?)?;
                    out.extend(&bytes[at..end]);
                    at = end;
                }
            }
        }
    }
}

/// Whether a segment belongs to the picture itself.
fn stays(marker: u8, content: &[u8]) -> bool {
    match marker {
        0xe0 => content.starts_with(b"JFIF\0"),
        0xe2 => content.starts_with(b"ICC_PROFILE\0"),
        0xee => content.starts_with(b"Adobe"),
        0xe1..=0xef | 0xfe => false,
        _ => true,
    }
}

/// How long a scan's coded data are: up to the next marker that is neither a stuffed byte nor a restart.
fn scan_end(data: &[u8]) -> Option<usize> {
    data.windows(2).position(|w| w[0] == 0xff && !matches!(w[1], 0x00 | 0xd0..=0xd7 | 0xff))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn jpeg() -> Vec<u8> {
        let mut bytes = Vec::new();
        let pixels: Vec<u8> = (0..64 * 48 * 3).map(|k| (k % 251) as u8).collect();
        jpeg_encoder::Encoder::new(&mut bytes, 80).encode(&pixels, 64, 48, jpeg_encoder::ColorType::Rgb).expect("encoded");
        bytes
    }

    /// A JPEG with a place in it: Exif 2.32, IFD 0 with a GPS IFD that holds the latitude's letter.
    fn placed() -> Vec<u8> {
        let mut tiff = b"II*\0\x08\0\0\0".to_vec();
        tiff.extend([1, 0, 0x25, 0x88, 4, 0, 1, 0, 0, 0, 26, 0, 0, 0, 0, 0, 0, 0]);
        tiff.extend([1, 0, 1, 0, 2, 0, 2, 0, 0, 0, b'N', 0, 0, 0, 0, 0, 0, 0]);
        let mut exif = b"Exif\0\0".to_vec();
        exif.extend(tiff);
        let mut out = vec![0xff, 0xd8, 0xff, 0xe1];
        out.extend(u16::try_from(exif.len() + 2).expect("short").to_be_bytes());
        out.extend(&exif);
        out.extend([0xff, 0xfe, 0, 8]);
        out.extend(b"secret");
        out.extend(&jpeg()[2..]);
        out.extend(b"and a film with a place behind it");
        out
    }

    fn tags(bytes: &[u8]) -> Option<exif::Exif> {
        exif::Reader::new().read_from_container(&mut std::io::Cursor::new(bytes)).ok()
    }

    /// Read by kamadak-exif, which this project has no part in.
    #[test]
    fn places_go_and_the_picture_stays() {
        let with = placed();
        let place = |e: &exif::Exif| e.get_field(exif::Tag::GPSLatitudeRef, exif::In::PRIMARY).is_some();
        assert!(tags(&with).as_ref().is_some_and(place), "the test's own picture has a place");
        let without = without_tags(&with).expect("a JPEG");
        assert!(tags(&without).is_none());
        assert_eq!(without, without_tags(&jpeg()).expect("a JPEG"));
        let pixels = |b: &[u8]| image::load_from_memory(b).expect("decoded").into_rgb8();
        assert_eq!(pixels(&without), pixels(&with));
    }

    #[test]
    fn damaged_pictures_are_not_published() {
        let whole = jpeg();
        for end in [0, 1, 2, 10, whole.len() / 2, whole.len() - 2] {
            assert_eq!(without_tags(&whole[..end]), None, "{end}");
        }
        assert_eq!(without_tags(b"<svg/>"), None);
    }

    #[test]
    fn where_things_are_kept_is_not_published() {
        let record = br#"{"garment":{"name":{"value":"coat"},"storage":{"value":"rail 4"},"more: shelf":{"value":"2"}},
            "notes":{"as_written":{"garment":{"name":"coat","storage":"rail 4","more":{"shelf":"2"}}}}}"#;
        let text = String::from_utf8(without_places(record).expect("a record")).expect("text");
        assert!(text.contains("coat") && !text.contains("rail 4") && !text.contains("shelf"), "{text}");
    }
}
