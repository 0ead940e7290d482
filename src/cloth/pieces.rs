//! Which of the parts that are not bare sheet are pieces of cloth, which are the table, which are things.

use super::contour::{self, Part};
use super::evidence::Evidence;
use super::ground::Ground;
use super::place;
use super::{Cloth, ClothError, Region, Settings, Side};
use crate::length::Px;
use crate::proof::Doubt;
use crate::sheet::SheetKind;
use crate::shot::to_picture;
use crate::view::View;

/// Smaller than this (mm²) nothing is a piece by itself: a weight of 40 mm covers 1260.
const LEAST: f64 = 1600.0;
/// Nor below this share of the largest piece.
const SHARE: f64 = 0.012;
/// Smaller than this (mm²) it is print or dirt and not worth naming.
const SPECK: f64 = 60.0;
/// A thing this large (mm²) might have been a small piece after all.
const DOUBTFUL: f64 = 400.0;
/// Longer than this many times its width, a narrow thing is a ruler or pencil.
const SLENDER: f64 = 7.0;
/// Width below which slender things are no cloth, mm: rulers are up to 50 wide.
const NARROW: f64 = 52.0;

/// Slender things narrower than this are pencils and pins even where nothing else lies, mm.
const PENCIL: f64 = 15.0;
/// Cutters' weights are no wider, mm (common practice, no source: 60 to 100).
const WEIGHT: f64 = 110.0;
/// A disc narrower than this, mm, is a weight and no piece even where nothing else lies.
const SMALL_WEIGHT: f64 = 70.0;
/// What might be a piece is a thing beside a piece this many times its area.
const BESIDE: f64 = 4.0;

/// A part with what is known of it.
struct Candidate {
    region: Region,
    middle: Px,
    thing: bool,
    /// A thing if something larger lies beside it.
    perhaps: bool,
}

/// Sorts the parts; largest piece first.
pub(super) fn sort(ground: &Ground, evidence: &Evidence, labels: &[bool], view: &View, settings: &Settings) -> Result<Cloth, ClothError> {
    let width = ground.level.width;
    let (ids, parts) = contour::parts(labels, width);
    let mut all: Vec<Candidate> =
        parts.iter().filter(|p| p.count >= 12).filter_map(|p| candidate(ground, evidence, &ids, p, view, settings)).collect();
    all.sort_by(|a, b| b.region.area.total_cmp(&a.region.area));
    let mut cloth = Cloth::default();
    let (mut biggest, mut small) = (0f64, 0);
    let largest = all.iter().find(|c| !c.thing && !c.perhaps).map_or(0.0, |c| c.region.area);
    // Alone on the sheet, a large disc or a band is what was laid there to be traced.
    all.iter_mut().for_each(|c| c.thing |= c.perhaps && BESIDE * c.region.area < largest);
    let asked = settings.pieces.unwrap_or(usize::MAX);
    let least = if settings.pieces.is_some() { SPECK } else { LEAST.max(SHARE * largest) };
    // When the number is given, size settles it; things come after cloth of any size.
    if settings.pieces.is_some() {
        all.sort_by(|a, b| (a.thing, b.region.area).partial_cmp(&(b.thing, a.region.area)).unwrap_or(std::cmp::Ordering::Equal));
    }
    for c in all {
        let piece = cloth.regions.len() < asked && c.region.area >= least && (settings.pieces.is_some() || !c.thing);
        if piece {
            cloth.regions.push(c.region);
        } else if c.region.area >= SPECK {
            cloth.others.push(c.middle);
            biggest = biggest.max(c.region.area);
            small += usize::from(!c.thing);
        }
    }
    cloth.regions.sort_by(|a, b| b.area.total_cmp(&a.area));
    if settings.pieces.is_none() && biggest >= DOUBTFUL {
        let at = view.to_mm(cloth.others[0], 0.0).unwrap_or_default();
        cloth.doubts.push(Doubt::ThingsLeftOut { pieces: cloth.regions.len(), things: cloth.others.len(), at });
    }
    check(cloth, small, settings)
}

/// Holds what was found against what is asked; of things that are none by their shape `small` might be small pieces.
fn check(cloth: Cloth, small: usize, settings: &Settings) -> Result<Cloth, ClothError> {
    let found = cloth.regions.len();
    if found == 0 {
        return Err(if small > 0 && settings.pieces.is_none() { ClothError::OnlySmall { found: small } } else { ClothError::Nothing });
    }
    if let Some(asked) = settings.pieces
        && found < asked
    {
        return Err(ClothError::Fewer { asked, found });
    }
    let mut cut: Vec<Side> = cloth.regions.iter().flat_map(|r| r.cut_by.iter().copied()).collect();
    cut.sort();
    cut.dedup();
    if !cut.is_empty() && !settings.partial {
        return Err(ClothError::CutOff(cut));
    }
    Ok(cloth)
}

fn candidate(ground: &Ground, evidence: &Evidence, ids: &[u32], part: &Part, view: &View, settings: &Settings) -> Option<Candidate> {
    let f = ground.level.factor;
    let (mut rim, mut holes) = (Vec::new(), Vec::new());
    for line in contour::outlines(ids, ground.level.width, part) {
        let outer = contour::area(&line) > 0.0;
        if !outer && !is_hole(ground, evidence, &line) {
            continue;
        }
        let px: Vec<Px> = place::refine(ground, evidence, &line).iter().map(|p| to_picture(f, p[0], p[1])).collect();
        if outer {
            if line.len() > rim.len() {
                rim = px;
            }
        } else {
            holes.push(px);
        }
    }
    let area = area_mm(&rim, view, settings.height)? + holes.iter().filter_map(|h| area_mm(h, view, settings.height)).sum::<f64>();
    let middle = Px::new(rim.iter().map(|p| p.x).sum::<f64>() / rim.len() as f64, rim.iter().map(|p| p.y).sum::<f64>() / rim.len() as f64);
    let region = Region { cut_by: cut_by(ground, ids, part), rim, holes, area };
    let (thing, perhaps) = is_thing(&region, view);
    let perhaps = perhaps || lines_the_frame(ground, ids, part);
    Some(Candidate { region, middle, thing, perhaps })
}

/// Whether the sheet is really seen through a gap in the labels: its marks must be there, or a white square of a check
/// would pass for a hole.
fn is_hole(ground: &Ground, evidence: &Evidence, line: &[[f64; 2]]) -> bool {
    let middle = line[0].map(|v| (v.max(0.0) as usize).min(ground.level.width.min(ground.level.height) - 1));
    let [.., ga, gb] = ground.coords(middle[0], middle[1]);
    let mut seen = 0usize;
    contour::fill(line, ground.level.width, ground.level.height, |n| seen += usize::from(evidence.present[n]));
    match ground.kind {
        // A node is written into nine pixels; one alone may be a stitch or a speck.
        SheetKind::Dots | SheetKind::Crosses => seen >= 2 * 9,
        _ => seen as f32 >= 1.5 * ga.max(gb),
    }
}

/// Area inside a closed px polygon on the plane `height` above the sheet, mm²; positive for clockwise as seen.
fn area_mm(rim: &[Px], view: &View, height: f64) -> Option<f64> {
    let mm: Option<Vec<[f64; 2]>> = rim.iter().map(|&p| view.to_mm(p, height).map(|m| [m.x, m.y])).collect();
    mm.filter(|m| m.len() >= 3).map(|m| contour::area(&m))
}

/// Sides of the picture that a part touches over more than a few pixels.
fn cut_by(ground: &Ground, ids: &[u32], part: &Part) -> Vec<Side> {
    touching(ids, ground.level.width, ground.level.height, part).into_iter().filter(|&(_, n)| n > 3).map(|(s, _)| s).collect()
}

/// Whether a part lies along a side of the picture like the end of a floor or a table does: most of its length touches it, and
/// it reaches little into the picture.
fn lines_the_frame(ground: &Ground, ids: &[u32], part: &Part) -> bool {
    let [across, down] = [part.x, part.y].map(|[from, to]| to - from);
    touching(ids, ground.level.width, ground.level.height, part).into_iter().any(|(side, n)| {
        let (long, deep) = if matches!(side, Side::Top | Side::Bottom) { (across, down) } else { (down, across) };
        2 * n > long && 3 * deep < long
    })
}

/// How many pixels of a part lie along each side of the picture.
pub(super) fn touching(ids: &[u32], w: usize, h: usize, part: &Part) -> [(Side, usize); 4] {
    let at = |x: usize, y: usize| usize::from(ids[y * w + x] == part.id);
    [
        (Side::Left, (0..h).map(|y| at(0, y)).sum::<usize>()),
        (Side::Right, (0..h).map(|y| at(w - 1, y)).sum()),
        (Side::Top, (0..w).map(|x| at(x, 0)).sum()),
        (Side::Bottom, (0..w).map(|x| at(x, h - 1)).sum()),
    ]
}

/// Whether a region surely is a thing (a pencil, a small weight), and whether it is one if a piece lies beside it (a ruler or a
/// band, a large weight or a round pocket).
fn is_thing(region: &Region, view: &View) -> (bool, bool) {
    let mm: Vec<[f64; 2]> = region.rim.iter().filter_map(|&p| view.to_mm(p, 0.0).map(|m| [m.x, m.y])).collect();
    let [long, short] = spread(&mm);
    let slender = short < NARROW && long > SLENDER * short;
    let disc = long < WEIGHT && is_round(&mm);
    (slender && short < PENCIL || disc && long < SMALL_WEIGHT, slender || disc)
}

/// Whether all points are about equally far from their middle: in a square the farthest is 1.4 times the nearest.
fn is_round(points: &[[f64; 2]]) -> bool {
    let n = points.len().max(1) as f64;
    let middle: [f64; 2] = std::array::from_fn(|k| points.iter().map(|p| p[k]).sum::<f64>() / n);
    let radii = points.iter().map(|p| (p[0] - middle[0]).hypot(p[1] - middle[1]));
    let (near, far) = radii.fold((f64::INFINITY, 0f64), |(a, b), r| (a.min(r), b.max(r)));
    far < 1.2 * near
}

/// Extent of points along and across their main direction.
fn spread(points: &[[f64; 2]]) -> [f64; 2] {
    let n = points.len().max(1) as f64;
    let (cx, cy) = (points.iter().map(|p| p[0]).sum::<f64>() / n, points.iter().map(|p| p[1]).sum::<f64>() / n);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for p in points {
        let (x, y) = (p[0] - cx, p[1] - cy);
        (xx, xy, yy) = (xx + x * x, xy + x * y, yy + y * y);
    }
    let turn = 0.5 * (2.0 * xy).atan2(xx - yy);
    let extent = |c: f64, s: f64| {
        let along = points.iter().map(|p| p[0] * c + p[1] * s);
        along.clone().fold(f64::MIN, f64::max) - along.fold(f64::MAX, f64::min)
    };
    let (a, b) = (extent(turn.cos(), turn.sin()), extent(-turn.sin(), turn.cos()));
    [a.max(b), a.min(b)]
}
