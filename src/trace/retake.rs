//! Whether a fresh picture had better be taken again: what is wrong with it, what that costs in millimetres, what to do.
//!
//! Only the stages up to the cloth's rough rim are run. Costs are 95 % figures at the worst place of the rim.

use super::error::sides as words;
use super::lit::Lit;
use super::second;
use super::soft::{SQRT_TAU, blur, moved};
use super::wanted::Wanted;
use crate::cloth::{Cloth, Side};
use crate::grid::Lattice;
use crate::length::{Mm, Px};
use crate::proof::{Doubt, Proof};
use crate::sheet::SheetKind;
use crate::shot::{LUMA, Shot};
use crate::solve::TWO_SIDED;
use crate::view::{Model, Solved, View};

/// How far off a rim is found on cloth that is not easy, px (95 %): 0.15 px on plain cloth, 0.4 px on dim, grainy or patterned
/// cloth, measured on rendered pictures of 12 megapixels.
pub(super) const EDGE_PX: f64 = 0.4;
/// Blur (Gaussian, px) up to which that holds; beyond it the error grows with the blur.
const CRISP: f64 = 1.5;
/// Blur from which a picture is called soft, px.
const SOFT: f64 = 2.5;
/// Greatest tilt at which the sheet is still measured well, degrees.
const TILTED: f64 = 35.0;
/// Film equivalent (mm) up to which a phone's lens is its ultra-wide one: those lie at 12 to 16, main ones at 23 to 30.
const WIDE: f64 = 19.0;
/// Diagonal of the 24 × 36 mm frame that the equivalent refers to, mm.
const FRAME_DIAGONAL: f64 = 43.266_615;
/// Messaging apps reduce pictures to 1280, 1600 or 2048 px, strip their tags and save them at a quality of 60 to 85 (common
/// practice, no source).
const MESSAGED: (usize, f64) = (2560, 87.0);
/// JPEG quality below which a picture's own blocks limit its edges, how far off a rim is found there, px (95 %), and how much farther for
/// each step of quality below: measured on bodices rendered at 1.8 and 3.2 px to the mm, navy and red, saved at 75 to 20. Cameras save
/// at 85 and more.
const BLOCKY: f64 = 70.0;
const BLOCKS_PX: f64 = 0.15;
const BLOCKS_STEP: f64 = 0.006;
/// How far off a rim is found where the camera moved, px (95 %), for each square of the blur across it, px: measured on a bodice drawn with
/// the camera moved by 5, 9 and 15 px.
const MOVED_PX: f64 = 0.13;
/// Errors add up as squares, so that what costs less than this share of the accuracy asked for is no reason to take a picture again.
const COUNTS: f64 = 0.25;
const COUNTS_BEYOND: f64 = 0.1;
/// Share of the rim that may lie beyond the outermost marks.
const BEYOND: f64 = 0.01;

/// Something that is wrong with a fresh picture, with what it costs, mm.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
#[allow(missing_docs)] // the numbers are named by what they are; `say` explains them
pub enum Flaw {
    /// The garment is cut off by the frame.
    CutOff { sides: Vec<Side> },
    /// What the frame cuts off has squares of its own.
    SecondSheet { sides: Vec<Side> },
    /// The garment reaches beyond the sheet's marks.
    SheetEnds { share: f64, cost: f64 },
    /// Too few pixels to the millimetre.
    Coarse { px_per_mm: f64, needed: f64, cost: f64 },
    /// Blurred.
    Soft { blur_px: f64, cost: f64 },
    /// Blurred along one direction, as by a camera that moved.
    Moved { by_px: f64, cost: f64 },
    /// Too little light.
    Dark { light: f64, noise: f64, cost: f64 },
    /// The sheet is buckled, and what lies on it with it.
    NotFlat { most: f64, cost: f64 },
    /// The camera leans too far.
    Tilted { degrees: f64, cost: f64 },
    /// An ultra-wide lens.
    UltraWide { film_mm: f64, cost: f64 },
    /// Most of the sheet is white beyond what the picture can hold.
    Burnt { share: f64, cost: f64 },
    /// Reduced and saved again by a messaging app.
    Recompressed { quality: f64, cost: f64 },
    /// Saved so coarsely that edges break up.
    Coded { quality: f64, cost: f64 },
}

impl Flaw {
    /// Short fixed code, words joined by hyphens.
    pub fn code(&self) -> &'static str {
        match self {
            Self::CutOff { .. } => "cut-off",
            Self::SecondSheet { .. } => "second-sheet",
            Self::SheetEnds { .. } => "sheet-cut-off",
            Self::Coarse { .. } => "too-coarse",
            Self::Soft { .. } => "too-soft",
            Self::Moved { .. } => "motion-blur",
            Self::Dark { .. } => "too-dark",
            Self::NotFlat { .. } => "not-flat",
            Self::Tilted { .. } => "too-tilted",
            Self::UltraWide { .. } => "ultra-wide",
            Self::Burnt { .. } => "too-bright",
            Self::Recompressed { .. } | Self::Coded { .. } => "recompressed",
        }
    }

    /// What it may put the outline out by, mm; `None` where there is no outline to be out.
    pub fn cost(&self) -> Option<f64> {
        match self {
            Self::CutOff { .. } | Self::SecondSheet { .. } => None,
            Self::SheetEnds { cost, .. }
            | Self::Coarse { cost, .. }
            | Self::Soft { cost, .. }
            | Self::Moved { cost, .. }
            | Self::Dark { cost, .. }
            | Self::NotFlat { cost, .. }
            | Self::Tilted { cost, .. }
            | Self::UltraWide { cost, .. }
            | Self::Burnt { cost, .. }
            | Self::Recompressed { cost, .. }
            | Self::Coded { cost, .. } => Some(*cost),
        }
    }

    /// Whether it is a reason to take a picture again of which the outline is to be right within `accuracy` mm.
    fn counts(&self, accuracy: f64) -> bool {
        match self {
            // What follows a sheet knows nothing of the cloth that buckles with it.
            Self::NotFlat { most, .. } => *most > accuracy,
            // Beyond the marks nothing checks the sheet.
            Self::SheetEnds { cost, .. } => *cost > COUNTS_BEYOND * accuracy,
            _ => self.cost().is_none_or(|c| c > COUNTS * accuracy),
        }
    }

    /// What is wrong and what to do about it, with the millimetres it costs.
    pub fn say(&self) -> String {
        match self {
            Self::CutOff { sides } => {
                format!("The garment is cut off at the {} of the picture. Step back.", words(sides))
            }
            Self::SecondSheet { sides } => format!(
                "What runs out of the picture at the {} has squares of its own, as a second sheet under the garment has. Take that sheet away; if it is checked cloth, step back.",
                words(sides)
            ),
            Self::SheetEnds { share, cost } => format!(
                "The garment reaches beyond the sheet's marks on {:.0} % of its edge; there it may be out by {cost:.2} mm. Lay more of the same ruling beside the sheet, or use a larger one.",
                share * 100.0
            ),
            Self::Coarse { px_per_mm, needed, cost } => format!(
                "Only {px_per_mm:.1} pixels to the millimetre at the far edge, which costs {cost:.2} mm; {needed:.1} are needed. Come nearer, or take the piece in two pictures."
            ),
            Self::Soft { blur_px, cost } => format!(
                "The picture is blurred over {blur_px:.1} pixels, which costs {cost:.2} mm. Hold still or lean on something, tap to focus on the cloth's edge, wipe the lens."
            ),
            Self::Moved { by_px, cost } => format!(
                "The camera moved while the picture was taken: it is blurred along one direction, over {by_px:.0} pixels, which costs {cost:.2} mm. Lean on something or use the timer, and bring more light."
            ),
            Self::Dark { light, noise, cost } => format!(
                "The picture is too dark (the sheet has {:.0} % of full light, {:.0} % of it noise), which costs {cost:.2} mm. Bring lamps from two sides or go to a window; no flash.",
                light * 100.0,
                noise * 100.0
            ),
            Self::NotFlat { most, cost } => format!(
                "The sheet is out of flat by {most:.1} mm, which costs {cost:.2} mm along the garment. Flatten sheet and garment, weigh the sheet's edges down."
            ),
            Self::Tilted { degrees, cost } => format!(
                "The camera leans by {degrees:.0}°, which costs {cost:.2} mm at the far edge. Hold it level above the middle, within {TILTED:.0}°."
            ),
            Self::UltraWide { film_mm, cost } => format!(
                "The lens is the ultra-wide one ({film_mm:.0} mm equivalent): the cloth's height costs {cost:.2} mm there. Switch to 1× and step back."
            ),
            Self::Burnt { share, cost } => format!(
                "The picture is too bright: {:.0} % of the sheet beside the cloth is burnt out to white, which costs {cost:.2} mm. Turn off the flash, take lamps away, or tap the sheet and slide the exposure down.",
                share * 100.0
            ),
            Self::Coded { quality, cost } => format!(
                "The file was saved at JPEG quality {quality:.0}, so edges break up into blocks, which costs {cost:.2} mm. Use the camera's original, or save at 90 or better."
            ),
            Self::Recompressed { quality, cost } => format!(
                "The file looks as if a messaging app had reduced it (no camera tags, JPEG quality {quality:.0}), which costs {cost:.2} mm. Send the original as a file, or copy it by cable."
            ),
        }
    }
}

/// The doubt about an outline beside which the sheet is burnt out.
pub(super) fn burnt_out(shot: &Shot, cloth: &Cloth, view: &View, height: f64) -> Option<Doubt> {
    let rim = Rim::of(cloth, view, height);
    match Lit::of(shot, cloth, view, &rim, height, &mut Proof::off()).burnt(rim.px_per_mm(view, height), None)? {
        Flaw::Burnt { share, cost } => Some(Doubt::BurntOut { share, cost }),
        _ => None,
    }
}

/// Everything that is wrong with a picture for an outline that is to be right within `accuracy` mm.
pub(super) fn flaws(
    shot: &Shot,
    lattice: &Lattice,
    solved: &Solved,
    cloth: &Cloth,
    wanted: &Wanted,
    accuracy: f64,
    proof: &mut Proof,
) -> Vec<Flaw> {
    let (view, height) = (&solved.view, wanted.height());
    let rim = Rim::of(cloth, view, height.0);
    let mut out = Vec::new();
    let blur_px = blur(shot, lattice, view, cloth);
    let px_per_mm = rim.px_per_mm(view, height.0);
    let lit = Lit::of(shot, cloth, view, &rim, height.0, proof);
    let burnt = lit.burnt(px_per_mm, blur_px);
    let mut sides: Vec<Side> = cloth.regions.iter().flat_map(|r| r.cut_by.iter().copied()).collect();
    sides.sort();
    sides.dedup();
    out.extend(lit.dark(px_per_mm, accuracy));
    // Cloth that ran together with a burnt-out sheet ends anywhere.
    if !sides.is_empty() && burnt.is_none() {
        let second = second::lies_under(shot, lattice, view, cloth);
        out.push(if second { Flaw::SecondSheet { sides } } else { Flaw::CutOff { sides } });
    }
    out.extend(burnt);
    let edge = EDGE_PX / px_per_mm;
    out.extend(sheet_ends(lattice, cloth, view, &rim, height.0));
    let needed = EDGE_PX / accuracy;
    if px_per_mm < needed {
        out.push(Flaw::Coarse { px_per_mm, needed, cost: edge });
    }
    let moved = moved(shot, cloth).map(|across| {
        proof.figure("retake", "moved_px", across);
        Flaw::Moved { by_px: SQRT_TAU * across, cost: MOVED_PX * across * across / px_per_mm }
    });
    let moved = moved.filter(|f| f.cost().is_some_and(|c| c > accuracy));
    if let Some(blur_px) = blur_px {
        proof.figure("retake", "blur_px", blur_px);
        let cost = edge * (blur_px / CRISP).max(1.0);
        if moved.is_none() && blur_px > SOFT && cost > accuracy {
            out.push(Flaw::Soft { blur_px, cost });
        }
    }
    out.extend(moved);
    out.extend(not_flat(solved, &rim));
    if let Model::Pinhole { lens, .. } = &view.model {
        let shape = height_costs(view, &rim, height);
        if view.tilt_deg() > TILTED {
            out.push(Flaw::Tilted { degrees: view.tilt_deg(), cost: edge + shape });
        }
        let film_mm = lens.focal * FRAME_DIAGONAL / (shot.width as f64).hypot(shot.height as f64);
        if film_mm < WIDE && shot.tags.focal_px.is_none_or(|f| f * FRAME_DIAGONAL / (shot.width as f64).hypot(shot.height as f64) < WIDE) {
            out.push(Flaw::UltraWide { film_mm, cost: shape });
        }
        if let Some(quality) =
            shot.tags.jpeg_quality.filter(|q| !shot.tags.camera && *q < MESSAGED.1 && shot.width.max(shot.height) <= MESSAGED.0)
        {
            out.push(Flaw::Recompressed { quality, cost: edge });
        } else if let Some(quality) = shot.tags.jpeg_quality.filter(|q| *q < BLOCKY) {
            out.push(Flaw::Coded { quality, cost: (BLOCKS_PX + BLOCKS_STEP * (BLOCKY - quality)) / px_per_mm });
        }
    }
    proof.figure("retake", "px_per_mm", px_per_mm);
    out.retain(|f| f.counts(accuracy));
    out
}

/// The rough rims of all pieces on the sheet, mm.
pub(super) struct Rim {
    pub places: Vec<Mm>,
}

impl Rim {
    /// Every few points: a hundred or two a piece say all there is to say.
    fn of(cloth: &Cloth, view: &View, height: f64) -> Self {
        let thin = |rim: &[Px]| rim.iter().copied().step_by((rim.len() / 150).max(1)).collect::<Vec<_>>();
        let places = cloth.regions.iter().flat_map(|r| thin(&r.rim)).filter_map(|p| view.to_mm(p, height)).collect();
        Self { places }
    }

    /// Pixels to the mm at its coarsest place.
    fn px_per_mm(&self, view: &View, height: f64) -> f64 {
        self.places.iter().map(|p| view.local(*p, height).px_per_mm()[0]).fold(f64::INFINITY, f64::min)
    }
}

/// What a sheet that is doubted to be flat costs along the rim.
fn not_flat(solved: &Solved, rim: &Rim) -> Option<Flaw> {
    let most = solved.doubts.iter().find_map(|d| if let Doubt::SheetNotFlat { most, .. } = d { Some(*most) } else { None })?;
    Some(Flaw::NotFlat { most, cost: rim.places.iter().map(|p| solved.view.bend.at(*p)).fold(0.0, f64::max) })
}

/// The worst that the height's own error does to the shape.
fn height_costs(view: &View, rim: &Rim, height: (f64, f64)) -> f64 {
    let errors = view.shape_errors(&rim.places, height.0, height.1);
    errors.map_or(0.0, |e| TWO_SIDED * e.height.iter().map(|h| h.norm()).fold(0.0, f64::max))
}

/// Whether the rim leaves the marks by more than a square.
fn sheet_ends(lattice: &Lattice, cloth: &Cloth, view: &View, rim: &Rim, height: f64) -> Option<Flaw> {
    if lattice.kind == SheetKind::Plain || rim.places.is_empty() {
        return None;
    }
    let range = |of: fn(&crate::grid::Node) -> i32, pitch: f64| {
        let ends = lattice.nodes.iter().map(of).fold([i32::MAX, i32::MIN], |r, v| [r[0].min(v), r[1].max(v)]);
        [f64::from(ends[0]) - 1.0, f64::from(ends[1]) + 1.0].map(|v| v * pitch)
    };
    let ([x0, x1], [y0, y1]) = (range(|n| n.i, lattice.pitch[0]), range(|n| n.j, lattice.pitch[1]));
    let outside: Vec<&Mm> = rim.places.iter().filter(|p| p.x < x0 || p.x > x1 || p.y < y0 || p.y > y1).collect();
    let share = outside.len() as f64 / rim.places.len() as f64;
    let over = cloth.doubts.iter().any(|d| matches!(d, Doubt::OverSheetEdge { .. }));
    if share <= BEYOND && !over {
        return None;
    }
    let error = |p: &Mm| view.error_at(*p, height).map_or(0.0, |c| TWO_SIDED * c.symmetric_eigenvalues().max().max(0.0).sqrt());
    Some(Flaw::SheetEnds { share: share.max(BEYOND), cost: rim.places.iter().map(error).fold(0.0, f64::max) })
}

/// Luminance at a place of the picture.
pub(super) fn luminance(shot: &Shot, p: Px) -> Option<f64> {
    shot.sample(p).map(|v| (0..3).map(|k| f64::from(v[k] * LUMA[k])).sum())
}
