//! What camera or scanner wrote beside the pixels (Exif 2.3 and the like), and what of it is worth believing.

use super::Tags;
use exif::{Exif, In, Tag, Value};

/// Tags as they stand in the file, before the size of the picture is known.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Written {
    /// Orientation, 1 to 8; 0 when there is none.
    pub orientation: u32,
    /// Maker of the device.
    pub make: Option<String>,
    /// Its model.
    pub model: Option<String>,
    /// Focal length equivalent on 24 × 36 mm film, mm (0xA405).
    pub film_focal: Option<f64>,
    /// Focal length, mm (0x920A).
    pub focal: Option<f64>,
    /// Pixels to the mm on the sensor, along x (0xA20E, 0xA210).
    pub sensor_px_per_mm: Option<f64>,
    /// Whether there is a tag only a camera writes.
    pub camera: bool,
    /// Size of the picture when it was taken (0xA002, 0xA003).
    pub taken_size: Option<[f64; 2]>,
    /// Digital zoom (0xA404); 1 = none.
    pub zoom: Option<f64>,
    /// Quality that a JPEG's tables amount to, 1 to 100.
    pub jpeg_quality: Option<f64>,
    /// Resolution along stored rows and columns, pixels to the mm.
    pub px_per_mm: Option<[f64; 2]>,
}

/// Diagonal of the 24 × 36 mm film frame.
const FILM_DIAGONAL: f64 = 43.266_615_305_567_875;

impl Written {
    /// From a raw Exif block; what can't be understood is left out.
    pub fn from_exif(block: Vec<u8>) -> Self {
        let read = exif::Reader::new().continue_on_error(true).read_raw(block).or_else(|e| e.distill_partial_result(|_| ()));
        read.map_or_else(|_| Self::default(), |exif| Self::from_fields(&exif))
    }

    /// From fields that were read.
    pub fn from_fields(exif: &Exif) -> Self {
        let number = |tag| exif.get_field(tag, In::PRIMARY).and_then(|f| number(&f.value));
        let text = |tag| exif.get_field(tag, In::PRIMARY).and_then(|f| text(&f.value));
        let unit = number(Tag::FocalPlaneResolutionUnit).unwrap_or(2.0) as u32;
        let (x, y) = (number(Tag::XResolution), number(Tag::YResolution));
        Self {
            orientation: exif.get_field(Tag::Orientation, In::PRIMARY).and_then(|f| f.value.get_uint(0)).unwrap_or(0),
            make: text(Tag::Make),
            model: text(Tag::Model),
            film_focal: number(Tag::FocalLengthIn35mmFilm),
            focal: number(Tag::FocalLength),
            sensor_px_per_mm: number(Tag::FocalPlaneXResolution).and_then(|v| per_mm(v, unit)),
            camera: [Tag::FocalLength, Tag::FocalLengthIn35mmFilm, Tag::ExposureTime, Tag::FNumber, Tag::PhotographicSensitivity]
                .iter()
                .any(|t| exif.get_field(*t, In::PRIMARY).is_some()),
            taken_size: number(Tag::PixelXDimension).zip(number(Tag::PixelYDimension)).map(|(w, h)| [w, h]),
            zoom: number(Tag::DigitalZoomRatio),
            jpeg_quality: None,
            px_per_mm: resolution(x, y, number(Tag::ResolutionUnit).unwrap_or(2.0) as u32),
        }
    }

    /// What is believed of it for a picture of `stored` columns and rows, upright when `turned` back.
    pub fn tags(&self, stored: [usize; 2], turned: bool) -> Tags {
        let size = stored.map(|v| v as f64);
        // A camera's dpi is a number from the factory, usually 72; only a scanner's means something.
        let px_per_mm = self.px_per_mm.filter(|_| !self.camera).map(|[x, y]| if turned { [y, x] } else { [x, y] });
        let model = match (&self.make, &self.model) {
            (Some(make), Some(model)) if !model.starts_with(make.as_str()) => Some(format!("{make} {model}")),
            (make, model) => model.clone().or_else(|| make.clone()),
        };
        let cropped = self.camera && self.cropped(size);
        Tags {
            model,
            focal_px: self.focal_px(size),
            px_per_mm,
            camera: self.camera,
            cropped,
            jpeg_quality: self.jpeg_quality,
            turned: None,
        }
    }

    /// The 35 mm equivalent counts along the diagonal (Exif 2.3, FocalLengthIn35mmFilm); 0 is "unknown".
    fn focal_px(&self, [w, h]: [f64; 2]) -> Option<f64> {
        let film = self.film_focal.filter(|f| (5.0..2000.0).contains(f)).map(|f| f * w.hypot(h) / FILM_DIAGONAL);
        let sensor = self.focal.zip(self.sensor_px_per_mm).map(|(f, d)| {
            let reduced = self.taken_size.map_or(1.0, |[tw, th]| w.max(h) / tw.max(th));
            f * d * reduced
        });
        // A phone's or a camera's lens sees 8 to 130 degrees across, or the numbers mean something else.
        film.or(sensor).filter(|f| (0.2..8.0).contains(&(f / w.max(h))))
    }

    /// Whether the picture shows only part of what the lens drew, so that the focal length tells less.
    fn cropped(&self, [w, h]: [f64; 2]) -> bool {
        let ratio = |a: f64, b: f64| a.max(b) / a.min(b);
        let shape = ratio(w, h);
        let sensor_shape = [4.0 / 3.0, 3.0 / 2.0].iter().any(|s| (shape / s - 1.0).abs() < 0.01);
        let shape_kept = self.taken_size.is_none_or(|[tw, th]| (ratio(tw, th) / shape - 1.0).abs() < 0.01);
        let zoomed = self.zoom.is_some_and(|z| z > 1.01);
        !sensor_shape || !shape_kept || zoomed
    }
}

/// Resolution in pixels to the mm; `unit` 2 = inch, 3 = cm (TIFF 6.0, ResolutionUnit), anything else none.
pub(super) fn resolution(x: Option<f64>, y: Option<f64>, unit: u32) -> Option<[f64; 2]> {
    let x = per_mm(x?, unit)?;
    let y = y.and_then(|y| per_mm(y, unit)).unwrap_or(x);
    // From 10 to 20000 dots to the inch; outside that it is no scanner's.
    [x, y].iter().all(|v| (0.39..790.0).contains(v)).then_some([x, y])
}

fn per_mm(value: f64, unit: u32) -> Option<f64> {
    let mm = match unit {
        2 => 25.4,
        3 => 10.0,
        _ => return None,
    };
    (value > 0.0 && value.is_finite()).then(|| value / mm)
}

fn number(value: &Value) -> Option<f64> {
    let v = match value {
        Value::Rational(v) => v.first()?.to_f64(),
        Value::SRational(v) => v.first()?.to_f64(),
        other => f64::from(other.get_uint(0)?),
    };
    (v.is_finite() && v > 0.0).then_some(v)
}

fn text(value: &Value) -> Option<String> {
    let Value::Ascii(parts) = value else { return None };
    clean(&String::from_utf8_lossy(parts.first()?))
}

/// At most 60 printable characters; `None` when nothing is left.
pub(super) fn clean(words: &str) -> Option<String> {
    let out: String = words.chars().filter(|c| !c.is_control()).take(60).collect();
    let out = out.trim();
    (!out.is_empty()).then(|| out.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn camera() -> Written {
        Written { camera: true, film_focal: Some(26.0), ..Written::default() }
    }

    /// f in px = f35 × diagonal in px / 43.2666 mm, the diagonal of the 24 × 36 mm frame (Exif 2.3, tag 0xA405).
    #[test]
    fn focal_length_from_the_film_equivalent() {
        let tags = camera().tags([4032, 3024], false);
        assert!((tags.focal_px.expect("given") - 26.0 * 5040.0 / 43.2666).abs() < 0.02);
        assert!(!tags.cropped);
        assert_eq!(Written { film_focal: None, ..camera() }.tags([4032, 3024], false).focal_px, None);
        assert!(camera().tags([4032, 2268], false).cropped, "16:9 is cut from a 4:3 sensor");
        assert!(Written { taken_size: Some([4032.0, 3024.0]), ..camera() }.tags([3000, 2000], false).cropped);
        assert!(Written { zoom: Some(2.0), ..camera() }.tags([4032, 3024], true).cropped);
    }

    #[test]
    fn focal_length_from_the_sensor() {
        let w = Written {
            camera: true,
            focal: Some(50.0),
            sensor_px_per_mm: Some(200.0),
            taken_size: Some([6000.0, 4000.0]),
            ..Written::default()
        };
        assert_eq!(w.tags([3000, 2000], false).focal_px, Some(5000.0));
    }

    #[test]
    fn only_a_scanner_is_believed_its_dpi() {
        let scan = Written { px_per_mm: resolution(Some(300.0), Some(600.0), 2), ..Written::default() };
        assert_eq!(scan.tags([100, 200], false).px_per_mm, Some([300.0 / 25.4, 600.0 / 25.4]));
        assert_eq!(scan.tags([100, 200], true).px_per_mm, Some([600.0 / 25.4, 300.0 / 25.4]));
        assert_eq!(Written { camera: true, ..scan }.tags([100, 200], false).px_per_mm, None);
        assert_eq!(resolution(Some(118.0), None, 3), Some([11.8, 11.8]));
        assert_eq!(resolution(Some(1.0), Some(1.0), 2), None);
        assert_eq!(resolution(Some(300.0), Some(300.0), 1), None);
    }
}
