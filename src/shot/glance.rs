//! A look at a picture file without decoding it: what it is to the byte, how large, and what its camera wrote.

use super::kind::Kind;
use super::open::read;
use super::upright::Orientation;
use super::written::Written;
use super::{Limits, ShotError, Tags};
use image::{ImageDecoder, ImageReader};
use std::fs::File;
use std::io::{Cursor, Read};
use std::path::Path;

/// Endings of files that somebody takes for pictures.
const ENDINGS: [&str; 9] = ["jpg", "jpeg", "png", "tif", "tiff", "webp", "heic", "heif", "gif"];

/// What can be told of a picture without its pixels.
#[derive(Clone, Debug)]
pub struct Glance {
    /// BLAKE3 of the file's bytes, in hex.
    pub blake3: String,
    /// Columns and rows of the upright picture; `None` where only decoding can tell.
    pub size: Option<[usize; 2]>,
    /// Bytes that its stored samples take.
    pub samples: u64,
    /// What camera or scanner wrote.
    pub tags: Tags,
    /// Bytes of the file.
    pub bytes: u64,
}

impl Glance {
    /// Whether a file begins like a picture, whatever its name; else why it is none, in words that follow its name. What seems to be a
    /// picture that is damaged, or of a kind not read here, passes: whoever opens it says more.
    ///
    /// # Errors
    /// It is no picture.
    pub fn kind(path: &Path) -> Result<(), String> {
        let mut head = [0; 32];
        let picture_by_name = || path.extension().is_some_and(|e| ENDINGS.contains(&e.to_string_lossy().to_lowercase().as_str()));
        // Looked at before it is opened: opening a pipe would wait for ever.
        let ordinary = std::fs::metadata(path).is_ok_and(|m| m.is_file());
        let read = if ordinary { File::open(path).and_then(|mut f| f.read(&mut head)) } else { Ok(0) };
        match Kind::of(&head[..*read.as_ref().unwrap_or(&0)]) {
            Ok(_) | Err(ShotError::Heic) => Ok(()),
            _ if picture_by_name() => Ok(()),
            Err(ShotError::Kind(what)) => Err(format!("is {what}, which is not read; save it as JPEG, PNG, TIFF or WebP")),
            Err(_) => Err("is no picture".into()),
        }
    }

    /// Looks at a file. What is wrong with its inside is left to whoever decodes it.
    ///
    /// # Errors
    /// It is not there, may not be read, is no picture or too long.
    pub fn at(path: &Path, limits: &Limits) -> Result<Self, ShotError> {
        let bytes = read(path, limits)?;
        let blake3 = blake3::hash(&bytes).to_hex().to_string();
        let decoder = ImageReader::new(Cursor::new(&bytes)).with_guessed_format().ok().and_then(|r| r.into_decoder().ok());
        let stored = decoder.as_ref().map(|d| [d.dimensions().0 as usize, d.dimensions().1 as usize]);
        let samples = decoder.as_ref().map_or(0, ImageDecoder::total_bytes);
        let exif = exif::Reader::new().continue_on_error(true).read_from_container(&mut Cursor::new(&bytes));
        let written = exif.or_else(|e| e.distill_partial_result(|_| ())).map_or_else(|_| Written::default(), |e| Written::from_fields(&e));
        let orientation = Orientation::of_tag(written.orientation);
        let size = stored.map(|[w, h]| if orientation.turns() { [h, w] } else { [w, h] });
        let tags = stored.map_or_else(Tags::default, |s| Tags { turned: orientation.quarters(), ..written.tags(s, orientation.turns()) });
        Ok(Self { blake3, size, samples, tags, bytes: bytes.len() as u64 })
    }
}
