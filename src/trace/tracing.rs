//! What a run gives: everything that is written about one picture, with nothing left to compute.

use super::laid::Laid;
use crate::length::Mm;
use crate::outline::Outline;
use crate::path::SeamPath;
use crate::proof::Doubt;
use crate::sheet::SheetKind;
use crate::shot::Shot;
use crate::view::{FocalFrom, HeldOut, JoinedPages, Model, View};
use kurbo::{BezPath, Rect, Shape};

/// One picture traced.
#[derive(Clone, Debug)]
pub struct Tracing {
    /// The picture it was taken from.
    pub picture: Picture,
    /// The sheet as found.
    pub sheet: SheetFound,
    /// The map between picture and sheet.
    pub view: View,
    /// Where the focal length comes from; `None` for a scan.
    pub focal_from: Option<FocalFrom>,
    /// Name of the lens profile that was used.
    pub lens_profile: Option<String>,
    /// Least and greatest resolution over the pieces, pixels per mm.
    pub px_per_mm: [f64; 2],
    /// Height of the traced edge above the sheet, mm.
    pub thickness: f64,
    /// Further pictures that were joined with the first, on the same sheet's axes; none mostly.
    pub more: Vec<Further>,
    /// Pieces, largest first.
    pub pieces: Vec<Traced>,
    /// Marks laid by hand, in the order of counting.
    pub marks: Vec<Laid>,
    /// What may be wrong all the same.
    pub doubts: Vec<Doubt>,
    /// What each source of error contributes, mm.
    pub budget: Budget,
    /// Hashes of the profiles that went in, as `blake3 …`.
    pub profiles: Vec<String>,
}

impl Tracing {
    /// Boxes round all pieces, mm.
    pub fn extents(&self) -> Vec<Rect> {
        self.pieces.iter().map(|p| p.outline.path.bounding_box()).collect()
    }
}

/// A further picture of a joined tracing.
#[derive(Clone, Debug)]
pub struct Further {
    /// The picture.
    pub picture: Picture,
    /// The map between it and the sheet.
    pub view: View,
    /// Where the focal length comes from; `None` for a scan.
    pub focal_from: Option<FocalFrom>,
    /// Name and hash of the lens profile that was used.
    pub lens_profile: Option<String>,
    /// The hash.
    pub lens_blake3: Option<String>,
    /// Least and greatest resolution, pixels per mm.
    pub px_per_mm: [f64; 2],
}

/// How several pictures agree on one piece.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Joined {
    /// Numbers of the pictures its outline is from.
    pub pictures: Vec<usize>,
    /// Length of outline that several see, mm.
    pub overlap: f64,
    /// 95 % of its places lie no further apart than this in the pictures that see them, mm.
    pub apart: f64,
    /// How far apart they lie at the worst place, mm, and where that is.
    pub most: f64,
    /// That place.
    pub at: Mm,
    /// What the errors of the pictures allow (95 %), mm.
    pub allowed: f64,
}

/// Facts about the picture file.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// File name without folders.
    pub file: String,
    /// BLAKE3 of the file, hex.
    pub blake3: String,
    /// Columns of the upright picture.
    pub width: usize,
    /// Rows of the upright picture.
    pub height: usize,
    /// Whether it was taken by a camera (else by a flatbed).
    pub photo: bool,
}

impl Picture {
    /// The facts of a picture that is seen by `view`.
    pub fn of(shot: &Shot, view: &View) -> Self {
        Self {
            file: shot.file.file_name().unwrap_or_default().to_string_lossy().into_owned(),
            blake3: shot.blake3.clone(),
            width: shot.width,
            height: shot.height,
            photo: matches!(view.model, Model::Pinhole { .. }),
        }
    }
}

/// Figures of the sheet as found.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetFound {
    /// How it is marked.
    pub kind: SheetKind,
    /// Number of a coded sheet.
    pub number: Option<u32>,
    /// The measured print it is, in words.
    pub measured: Option<String>,
    /// Pages that were joined out of place, and were corrected for.
    pub joined: Option<JoinedPages>,
    /// Distance of neighbouring nodes along x and y, mm.
    pub pitch: [f64; 2],
    /// Nodes the view rests on.
    pub nodes: usize,
    /// Root mean square distance of the nodes from the view, px.
    pub rms_px: f64,
    /// Share of the picture that lies between nodes, 0 to 1.
    pub coverage: f64,
    /// Nodes kept out of a trial fit; `None` when there were too few to spare any.
    pub held_out: Option<HeldOut>,
}

/// One piece with its names and bounds.
#[derive(Clone, Debug)]
pub struct Traced {
    /// What it is called.
    pub name: String,
    /// Its outer edge.
    pub outline: Outline,
    /// Names of the corners, in the outline's order.
    pub corner_names: Vec<String>,
    /// Names and bounds of the edges, in the outline's order.
    pub edges: Vec<EdgeFound>,
    /// Holes through which the sheet is seen.
    pub holes: Vec<Outline>,
    /// Seams within the piece.
    pub inner: Vec<InnerSeam>,
    /// 95 % of all edge points lie within this distance, mm; `None` when part of the outline is cut off.
    pub bound: Option<f64>,
    /// How the pictures agree, where several were joined.
    pub joined: Option<Joined>,
    /// The points that its lines were drawn through, as they were found: the outer edge, then holes, then seams within, by name.
    pub points: Vec<(String, SeamPath)>,
}

/// What the outer edge's points are called among those of a piece.
pub(super) const OUTER: &str = "outer edge";

/// How an edge was seen and how well it is known.
#[derive(Clone, Debug, PartialEq)]
pub struct EdgeFound {
    /// What it is called.
    pub name: String,
    /// Which line was followed.
    pub line: Line,
    /// 95 % of its points lie within this distance of the truth, mm; `None` for an edge along the frame.
    pub bound: Option<f64>,
    /// Distance along the edge and the bound there, both mm.
    pub along: Vec<[f64; 2]>,
    /// How its line was found.
    pub found: Found,
    /// How far the cloth's own edge wanders about the line drawn, mm (standard deviation), where it is frayed or lace-like.
    pub rough: Option<f64>,
    /// Numbers of the pictures it is from.
    pub pictures: Vec<usize>,
}

/// How the line of an edge was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Found {
    /// Measured in the picture.
    Picture,
    /// Moved in from what was seen.
    Offset,
    /// Where a person said.
    Hand,
}

/// Which line of the cloth an edge is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Line {
    /// Where cloth ends and sheet begins.
    Rim,
    /// A stitch line, or a seam within the cloth.
    Seam,
    /// A folded edge.
    Fold,
    /// Along the picture's frame: cut off, not measured.
    Cut,
}

/// A seam within the piece.
#[derive(Clone, Debug)]
pub struct InnerSeam {
    /// What it is called.
    pub name: String,
    /// The fitted line, mm.
    pub path: BezPath,
    /// 95 % of its points lie within this distance of the truth, mm.
    pub bound: f64,
}

/// Errors by source over all outlines.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Budget {
    /// At the place where each is worst.
    pub worst: Sources,
    /// At its median place.
    pub median: Sources,
    /// What the sheet would add at the worst place had nobody measured it, mm (95 %).
    pub not_measured: f64,
}

/// Errors by source at one place, mm (95 %). All but the sheet's are across the edge, after the best rigid laying-on.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sources {
    /// What is not known of the sheet's own pitch, over the distance from the piece's middle: apart from the shape's bound.
    pub sheet: f64,
    /// Nodes of the sheet, through the pose, were the lens known.
    pub grid: f64,
    /// What focal length, centre and distortion add.
    pub lens: f64,
    /// Finding the edge.
    pub edge: f64,
    /// The height of the cloth.
    pub thickness: f64,
}

impl Traced {
    /// Middle of the piece's box, mm.
    pub fn middle(&self) -> Mm {
        let b = self.outline.path.bounding_box();
        Mm::new(b.center().x, b.center().y)
    }
}
