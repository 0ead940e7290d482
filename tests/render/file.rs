//! Picture files as cameras and scanners write them: JPEG with Exif tags and density, PNG with its resolution.

use super::scene::Picture;
use image::codecs::jpeg::{JpegEncoder, PixelDensity, PixelDensityUnit};

/// What is written beside the pixels.
#[derive(Clone, Debug, PartialEq)]
pub struct Written {
    /// JPEG quality, 1 to 100.
    pub quality: u8,
    /// Camera model; `None` writes no Exif at all.
    pub model: Option<String>,
    /// Focal length as on 24 × 36 mm film, mm.
    pub film_mm: Option<u16>,
    /// Exif orientation, 1 to 8; the stored pixels are turned so that a reader who obeys it sees the picture upright.
    pub orientation: u8,
    /// Dots to the inch.
    pub dpi: Option<f64>,
}

impl Written {
    pub fn phone(film_mm: u16) -> Self {
        Self { quality: 90, model: Some("Rendered camera".into()), film_mm: Some(film_mm), orientation: 1, dpi: None }
    }

    pub fn scanner(dpi: f64) -> Self {
        Self { quality: 92, model: None, film_mm: None, orientation: 1, dpi: Some(dpi) }
    }
}

/// The picture as a JPEG file.
pub fn jpeg(picture: &Picture, written: &Written) -> Vec<u8> {
    let stored = stored(picture, written.orientation);
    let mut bytes = Vec::new();
    let mut encoder = JpegEncoder::new_with_quality(&mut bytes, written.quality);
    if let Some(dpi) = written.dpi {
        encoder.set_pixel_density(PixelDensity { density: (dpi as u16, dpi as u16), unit: PixelDensityUnit::Inches });
    }
    let [w, h] = stored.size.map(|n| n as u32);
    encoder.encode(&stored.rgb, w, h, image::ExtendedColorType::Rgb8).expect("a picture in memory can be encoded");
    if written.model.is_some() || written.orientation != 1 {
        let tags = exif(written);
        let mut app1 = vec![0xff, 0xe1];
        app1.extend(((tags.len() + 8) as u16).to_be_bytes());
        app1.extend(b"Exif\0\0");
        app1.extend(tags);
        // Right after the start-of-image marker, where Exif 2.3 (4.5.4) wants it.
        bytes.splice(2..2, app1);
    }
    bytes
}

/// The picture as a PNG file; resolution in the pHYs chunk (dots per metre).
pub fn png(picture: &Picture, dpi: Option<f64>) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, picture.size[0] as u32, picture.size[1] as u32);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_compression(png::Compression::Fast);
    if let Some(dpi) = dpi {
        let per = (dpi / 0.0254).round() as u32;
        encoder.set_pixel_dims(Some(png::PixelDimensions { xppu: per, yppu: per, unit: png::Unit::Meter }));
    }
    let mut writer = encoder.write_header().expect("a header in memory");
    writer.write_image_data(&picture.rgb).expect("as many bytes as pixels");
    writer.finish().expect("an end in memory");
    bytes
}

/// Pixels turned so that the given Exif orientation brings them back. Exif 2.3 tag 274: where row 0 and column 0 of the stored picture lie.
pub fn stored(picture: &Picture, orientation: u8) -> Picture {
    let [w, h] = picture.size;
    let turned = orientation >= 5;
    let size = if turned { [h, w] } else { [w, h] };
    let mut rgb = Vec::with_capacity(picture.rgb.len());
    for row in 0..size[1] {
        for column in 0..size[0] {
            let (x, y) = match orientation {
                2 => (w - 1 - column, row),
                3 => (w - 1 - column, h - 1 - row),
                4 => (column, h - 1 - row),
                5 => (row, column),
                6 => (w - 1 - row, column),
                7 => (w - 1 - row, h - 1 - column),
                8 => (row, h - 1 - column),
                _ => (column, row),
            };
            rgb.extend(picture.pixel(x, y));
        }
    }
    Picture { size, rgb }
}

/// A big-endian TIFF block with model, orientation and focal length as on film.
fn exif(written: &Written) -> Vec<u8> {
    let model = format!("{}\0", written.model.as_deref().unwrap_or("unknown"));
    let film = written.film_mm.unwrap_or(0);
    // Header 8, first directory 2 + 3 entries of 12 + 4, second 2 + 1 entry of 12 + 4, then the model's text.
    let (second, text) = (8 + 42, 8 + 42 + 18);
    let mut b = b"MM\0\x2a\0\0\0\x08".to_vec();
    let entry = |b: &mut Vec<u8>, tag: u16, kind: u16, count: u32, value: [u8; 4]| {
        b.extend(tag.to_be_bytes());
        b.extend(kind.to_be_bytes());
        b.extend(count.to_be_bytes());
        b.extend(value);
    };
    b.extend(3u16.to_be_bytes());
    entry(&mut b, 0x0110, 2, model.len() as u32, (text as u32).to_be_bytes());
    entry(&mut b, 0x0112, 3, 1, [0, written.orientation, 0, 0]);
    entry(&mut b, 0x8769, 4, 1, (second as u32).to_be_bytes());
    b.extend([0; 4]);
    b.extend(1u16.to_be_bytes());
    entry(&mut b, 0xa405, 3, 1, [film.to_be_bytes()[0], film.to_be_bytes()[1], 0, 0]);
    b.extend([0; 4]);
    b.extend(model.as_bytes());
    b
}
