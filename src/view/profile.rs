//! Lenses that were solved before, as files: which camera, which lens, how well it is known.

use super::turned::{stored, turned};
use super::{Lens, SolvedLens};
use crate::notes::Fault;
use crate::shot::Tags;
use nalgebra::DMatrix;
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use toml::Spanned;

/// Numbers of a lens in a profile: focal length, centre x y, k1, k2, p1, p2.
const NUMBERS: usize = 7;

/// Focal lengths as written by the camera are alike within this share: they come from whole millimetres of the film
/// equivalent, so that two lenses of a phone differ by far more.
const ALIKE: f64 = 0.01;

/// What a lens changes between one picture and the next, beyond what its profile is known to: focusing on 0.5 to 2 m moves a
/// phone's focal length by some tenths of a percent, stabilisation its centre by some pixels (as shares of focal length and
/// diagonal; common practice, no source).
const FOCUSING: f64 = 0.005;
const STEADYING: f64 = 10.0 / 5040.0;

/// A profile is contradicted by a picture whose sheet pulls a number off it by this many standard errors.
pub const CONTRADICTED: f64 = 3.0;

/// Longest profile, bytes; one takes a kilobyte or two.
const LONGEST_FILE: u64 = 1 << 20;

/// A lens solved from several pictures, for pictures of the same camera, focal length and size.
#[derive(Clone, Debug, PartialEq)]
pub struct LensProfile {
    /// What it is called.
    pub name: String,
    /// Maker and model as the camera writes them; `None` when it writes none.
    pub camera: Option<String>,
    /// Focal length as the camera's tags have it, px; `None` when they have none.
    pub tag_focal_px: Option<f64>,
    /// Columns and rows of the pictures as the camera stores them, before they are turned upright.
    pub size: [usize; 2],
    /// The lens in pixels of the stored picture.
    pub lens: Lens,
    /// Covariance of focal length, centre x y, k1, k2, p1, p2.
    pub covariance: DMatrix<f64>,
    /// Pictures it was solved from.
    pub pictures: usize,
    /// Nodes they showed.
    pub nodes: usize,
    /// Root mean square distance of the nodes, px.
    pub rms_px: f64,
    /// The same of pictures kept out of the fit in turn.
    pub kept_out_rms_px: Option<f64>,
    /// Day it was solved on, as 2026-11-25.
    pub solved_on: String,
}

/// Why a lens profile can't be used.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ProfileError {
    /// The file can't be read.
    #[error("the lens profile {} can't be read ({why}); check the name and who may read it", file.display())]
    File {
        /// The file.
        file: PathBuf,
        /// What the system says.
        why: String,
    },
    /// The file is not right.
    #[error("the lens profile {} is not right, {fault}", file.display())]
    Fault {
        /// The file.
        file: PathBuf,
        /// Which line, and what is wrong.
        fault: Fault,
    },
    /// Of pictures of another size.
    #[error(
        "the lens profile {name} is for pictures of {} × {} px as stored and this one is {} × {}: cut or reduced pictures have another lens; use the original",
        .profile[0], .profile[1], .picture[0], .picture[1]
    )]
    Size {
        /// Name of the profile.
        name: String,
        /// Its size.
        profile: [usize; 2],
        /// The picture's, as stored.
        picture: [usize; 2],
    },
}

/// A profile as it stands in a file.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    name: Spanned<String>,
    camera: Option<String>,
    tag_focal_px: Option<f64>,
    size_px: Spanned<[usize; 2]>,
    solved_on: String,
    pictures: usize,
    nodes: usize,
    rms_px: Spanned<f64>,
    kept_out_rms_px: Option<Spanned<f64>>,
    lens: LensTable,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LensTable {
    model: Spanned<LensModel>,
    focal_px: Spanned<f64>,
    centre_px: Spanned<[f64; 2]>,
    k1: f64,
    k2: f64,
    p1: f64,
    p2: f64,
    covariance: Spanned<Vec<Vec<f64>>>,
}

/// The one camera model there is.
#[derive(Deserialize, Serialize)]
#[serde(rename_all = "lowercase")]
enum LensModel {
    /// Square pixels, Brown's distortion with k1, k2, p1, p2.
    Brown,
}

impl LensProfile {
    /// The profile of a lens just solved from pictures of `size` as stored, with tags like `tags`.
    pub fn of(solved: &SolvedLens, name: String, tags: &Tags, size: [usize; 2], solved_on: String) -> Self {
        // Of the sensor's numbers fx, fy, skew, cx … those of a lens with square pixels.
        const KEPT: [usize; NUMBERS] = [0, 3, 4, 5, 6, 7, 8];
        let covariance = DMatrix::from_fn(NUMBERS, NUMBERS, |r, c| solved.covariance[(KEPT[r], KEPT[c])]);
        Self {
            name,
            camera: tags.model.clone(),
            tag_focal_px: tags.focal_px,
            size,
            lens: solved.sensor.lens(),
            covariance,
            pictures: solved.views.len(),
            nodes: solved.nodes,
            rms_px: solved.rms_px,
            kept_out_rms_px: solved.kept_out.map(|k| k.rms_px),
            solved_on,
        }
    }

    /// Whether a picture of `upright` columns and rows with these tags was taken by this camera with this lens: model, focal
    /// length and size as stored are alike, and all three are known.
    pub fn fits(&self, tags: &Tags, upright: [usize; 2]) -> bool {
        let alike = |a: f64, b: f64| (a / b - 1.0).abs() < ALIKE;
        let focal = tags.focal_px.zip(self.tag_focal_px).is_some_and(|(a, b)| alike(a, b));
        focal && self.camera.is_some() && self.camera == tags.model && stored(tags, upright) == Some(self.size)
    }

    /// The lens in pixels of an upright picture, and standard errors of focal length (relative), centre x y, k1, k2, p1, p2:
    /// what the profile is known to and what focusing and stabilising change from picture to picture.
    ///
    /// # Errors
    /// The picture has another size than those the lens was solved from.
    pub fn upright(&self, tags: &Tags, upright: [usize; 2]) -> Result<(Lens, [f64; NUMBERS]), ProfileError> {
        let size = stored(tags, upright).unwrap_or(upright);
        if size != self.size {
            return Err(ProfileError::Size { name: self.name.clone(), profile: self.size, picture: size });
        }
        let known: [f64; NUMBERS] = std::array::from_fn(|k| self.covariance[(k, k)].max(0.0).sqrt());
        let centre = STEADYING * (size[0] as f64).hypot(size[1] as f64);
        let mut errors = known;
        errors[0] = (known[0] / self.lens.focal).hypot(FOCUSING);
        (errors[1], errors[2]) = (known[1].hypot(centre), known[2].hypot(centre));
        // An unknown that was not sought is believed no better than one that was; and nothing is known for certain.
        for (k, least) in [(3, 1e-3), (4, 1e-3), (5, 1e-4), (6, 1e-4)] {
            errors[k] = errors[k].max(least);
        }
        let quarters = tags.turned.unwrap_or(0) % 4;
        if quarters % 2 == 1 {
            errors.swap(1, 2);
            errors.swap(5, 6);
        }
        Ok((turned(self.lens, quarters, size), errors))
    }

    /// How far the lens that a picture's sheet led to lies from the profile, in standard errors: the worst number.
    pub fn miss(&self, found: &Lens, tags: &Tags, upright: [usize; 2]) -> f64 {
        let Ok((own, errors)) = self.upright(tags, upright) else { return f64::INFINITY };
        let off = [
            (found.focal / own.focal).ln(),
            found.centre.x - own.centre.x,
            found.centre.y - own.centre.y,
            found.k1 - own.k1,
            found.k2 - own.k2,
            found.p1 - own.p1,
            found.p2 - own.p2,
        ];
        off.iter().zip(errors).map(|(o, e)| (o / e).abs()).fold(0.0, f64::max)
    }

    /// Reads a profile from the text of its file.
    ///
    /// # Errors
    /// It is no TOML, lacks a key or has one that is not known here, or holds numbers that no lens has.
    pub fn from_text(text: &str) -> Result<Self, Fault> {
        let file: File = toml::from_str(text).map_err(|e| Fault::of_toml(text, &e))?;
        let fault = |at: usize, words: &str| Err(Fault::at(text, at, words));
        let name = file.name.get_ref().trim().to_owned();
        if name.is_empty() {
            return fault(file.name.span().start, "a lens needs a name, like name = \"phone main lens\"");
        }
        let size = *file.size_px.get_ref();
        if size.iter().any(|s| !(32..=100_000).contains(s)) {
            return fault(file.size_px.span().start, "size_px holds columns and rows of the stored pictures, like [4032, 3024]");
        }
        let diagonal = (size[0] as f64).hypot(size[1] as f64);
        let table = file.lens;
        let (focal, centre) = (*table.focal_px.get_ref(), *table.centre_px.get_ref());
        if !(0.1..100.0).contains(&(focal / diagonal)) {
            return fault(table.focal_px.span().start, "focal_px must lie between a tenth and a hundred times the picture's diagonal");
        }
        if !centre.iter().zip(size).all(|(c, s)| (0.0..=s as f64).contains(c)) {
            return fault(table.centre_px.span().start, "centre_px must lie in the picture");
        }
        let bends = [table.k1, table.k2, table.p1, table.p2];
        if bends.iter().any(|v| v.is_nan() || v.abs() >= 100.0) {
            return fault(table.model.span().start, "k1, k2, p1 and p2 must be plain numbers below 100");
        }
        let rows = table.covariance.get_ref();
        let square = rows.len() == NUMBERS && rows.iter().all(|r| r.len() == NUMBERS);
        if !square || (0..NUMBERS).any(|k| !(rows[k][k] >= 0.0 && rows[k].iter().all(|v| v.is_finite()))) {
            return fault(table.covariance.span().start, "covariance holds seven rows of seven numbers, none below 0 on the diagonal");
        }
        let rests = [Some(&file.rms_px), file.kept_out_rms_px.as_ref()];
        if let Some(rest) = rests.into_iter().flatten().find(|r| !(r.get_ref().is_finite() && *r.get_ref() >= 0.0)) {
            return fault(rest.span().start, "rms_px and kept_out_rms_px are plain numbers of pixels, not below 0");
        }
        let [k1, k2, p1, p2] = bends;
        Ok(Self {
            name,
            camera: file.camera.filter(|c| !c.trim().is_empty()),
            tag_focal_px: file.tag_focal_px.filter(|f| *f > 0.0 && f.is_finite()),
            size,
            lens: Lens { focal, centre: centre.into(), k1, k2, p1, p2 },
            covariance: DMatrix::from_fn(NUMBERS, NUMBERS, |r, c| rows[r][c]),
            pictures: file.pictures,
            nodes: file.nodes,
            rms_px: file.rms_px.into_inner(),
            kept_out_rms_px: file.kept_out_rms_px.map(Spanned::into_inner),
            solved_on: file.solved_on,
        })
    }

    /// The text of its file, which [`LensProfile::from_text`] reads back exactly.
    pub fn to_text(&self) -> String {
        let quoted = |s: &str| toml::Value::String(s.into()).to_string();
        let (l, mut out) = (&self.lens, String::new());
        let mut put = |line: String| {
            // Writing to a string never fails.
            let _ = writeln!(out, "{line}");
        };
        put("# A lens solved by `ruboff lens`. Used for pictures of this camera, focal length and size; `--lens FILE` forces it.".into());
        put(format!("name = {}", quoted(&self.name)));
        if let Some(camera) = &self.camera {
            put(format!("camera = {}", quoted(camera)));
        }
        if let Some(f) = self.tag_focal_px {
            put(format!("tag_focal_px = {f:?}  # as the camera writes it, in pixels of this size"));
        }
        put(format!("size_px = [{}, {}]  # columns and rows as stored", self.size[0], self.size[1]));
        put(format!("solved_on = {}", quoted(&self.solved_on)));
        put(format!("pictures = {}\nnodes = {}\nrms_px = {:?}", self.pictures, self.nodes, self.rms_px));
        if let Some(k) = self.kept_out_rms_px {
            put(format!("kept_out_rms_px = {k:?}  # pictures kept out of the fit in turn"));
        }
        put("\n[lens]\nmodel = \"brown\"  # square pixels; radial k1, k2 and decentring p1, p2 on normalised coordinates".into());
        put(format!("focal_px = {:?}\ncentre_px = [{:?}, {:?}]  # whole numbers are pixel centres", l.focal, l.centre.x, l.centre.y));
        put(format!("k1 = {:?}\nk2 = {:?}\np1 = {:?}\np2 = {:?}", l.k1, l.k2, l.p1, l.p2));
        put("# of focal_px, centre x, centre y, k1, k2, p1, p2\ncovariance = [".into());
        for row in self.covariance.row_iter() {
            put(format!("  [{}],", row.iter().map(|v| format!("{v:?}")).collect::<Vec<_>>().join(", ")));
        }
        put("]".into());
        out
    }

    /// Reads a profile file.
    ///
    /// # Errors
    /// There is no such file, or it is not right.
    pub fn open(file: &Path) -> Result<Self, ProfileError> {
        let fault = |why: String| ProfileError::File { file: file.into(), why };
        let about = std::fs::metadata(file).map_err(|e| fault(e.kind().to_string()))?;
        if !about.is_file() || about.len() > LONGEST_FILE {
            return Err(fault("it is no short text file".into()));
        }
        let text = std::fs::read_to_string(file).map_err(|e| fault(e.kind().to_string()))?;
        Self::from_text(&text).map_err(|fault| ProfileError::Fault { file: file.into(), fault })
    }

    /// BLAKE3 of its text, in hex, for records of what a result was made with.
    pub fn blake3(&self) -> String {
        blake3::hash(self.to_text().as_bytes()).to_hex().to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::super::unturned;
    use super::*;
    use crate::length::Px;
    use nalgebra::Vector2;

    fn profile() -> LensProfile {
        let lens = Lens { focal: 3028.7, centre: Px::new(2021.5, 1504.25), k1: 0.0151, k2: -0.008, p1: 2e-4, p2: -3e-4 };
        let covariance = DMatrix::from_fn(7, 7, |r, c| if r == c { 1e-3 * (r + 1) as f64 } else { 1e-7 });
        LensProfile {
            name: "phone \"main\"".into(),
            camera: Some("Lampyris P7".into()),
            tag_focal_px: Some(3028.66),
            size: [4032, 3024],
            lens,
            covariance,
            pictures: 12,
            nodes: 9000,
            rms_px: 0.11,
            kept_out_rms_px: Some(0.12),
            solved_on: "2026-11-25".into(),
        }
    }

    fn tags(turned: u8) -> Tags {
        Tags { model: Some("Lampyris P7".into()), focal_px: Some(3029.0), camera: true, turned: Some(turned), ..Tags::default() }
    }

    #[test]
    fn what_is_written_is_read_back() {
        let p = profile();
        assert_eq!(LensProfile::from_text(&p.to_text()), Ok(p.clone()));
        for (good, bad, line) in [
            ("[4032, 3024]", "[4032, 3]", 5),
            ("focal_px = 3028.7\n", "focal_px = -1.0\n", 14),
            ("centre_px = [2021.5", "centre_px = [20215", 15),
            ("\"brown\"", "\"fisheye\"", 13),
            ("rms_px = 0.11", "rms = 0.11", 9),
            ("\nrms_px = 0.11", "\nrms_px = nan", 9),
            ("kept_out_rms_px = 0.12", "kept_out_rms_px = -inf", 10),
        ] {
            let text = p.to_text();
            assert!(text.contains(good), "{good} in {text}");
            let fault = LensProfile::from_text(&text.replacen(good, bad, 1)).expect_err(bad);
            assert!((15..=300).contains(&fault.to_string().chars().count()), "{fault}");
            assert!(fault.line == line || bad == "rms = 0.11", "{bad}: {fault}");
        }
    }

    #[test]
    fn taken_for_its_own_camera_only() {
        let p = profile();
        assert!(p.fits(&tags(0), [4032, 3024]) && p.fits(&tags(1), [3024, 4032]));
        assert!(!p.fits(&tags(1), [4032, 3024]), "another size");
        assert!(!p.fits(&Tags { focal_px: Some(1514.0), ..tags(0) }, [4032, 3024]), "the wide lens");
        assert!(!p.fits(&Tags { model: None, ..tags(0) }, [4032, 3024]));
        assert!(!p.fits(&Tags { turned: None, ..tags(0) }, [4032, 3024]), "mirrored");
        assert!(p.upright(&tags(0), [2016, 1512]).expect_err("reduced").to_string().contains("2016"));
    }

    /// A point of the scene seen by the stored picture and by the turned one lies in the same place of the paper print.
    #[test]
    fn a_lens_turns_with_its_picture() {
        let p = profile();
        for quarters in 0..4u8 {
            let size = if quarters % 2 == 1 { [3024, 4032] } else { [4032, 3024] };
            let (lens, errors) = p.upright(&tags(quarters), size).expect("its size");
            let v = Vector2::new(0.31, -0.17);
            let mut w = v;
            (0..quarters).for_each(|_| w = Vector2::new(-w.y, w.x));
            let seen = lens.place(lens.distort(w));
            let back = unturned(seen, quarters, p.size);
            assert!(back.distance(p.lens.place(p.lens.distort(v))) < 1e-9, "{quarters}");
            assert!(errors[0] > 0.005 && errors[0] < 0.006);
            assert!(p.miss(&lens, &tags(quarters), size) < 1e-9);
            assert!(p.miss(&Lens { focal: 1.1 * lens.focal, ..lens }, &tags(quarters), size) > CONTRADICTED);
        }
    }
}
