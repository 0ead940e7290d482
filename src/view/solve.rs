//! From a numbered lattice to a view: photo or scan, priors, fit, checks.

use super::buckle::Followed;
use super::camera::{self, Camera, Pair};
use super::check::{self, Field, HeldOut};
use super::oblong::{Oblong, oblong};
use super::prior::{ASSUMED_ERROR, FocalFrom, Prior};
use super::stretch::stretched;
use super::waves::on_waves;
use super::{Bend, JoinedPages, Lens, Model, View, ViewError, pages, scan};
use crate::grid::{Lattice, Node};
use crate::proof::{Doubt, Proof};
use crate::sheet::pages::address;
use crate::shot::Tags;
use crate::solve::median;
use std::time::Instant;

/// Nodes further out than this many standard errors have no part in the Gaussian fit: one honest node in 3000.
pub(super) const INLIER: f64 = 4.0;

/// Fewest nodes that fix a view with anything left to check it by.
pub(super) const FEWEST: usize = 6;

/// Smooth residual from which a sheet is doubted, and from which it is refused as not flat, mm.
const DOUBTED: f64 = 1.0;
const REFUSED: f64 = 3.0;

/// Step at a join of pages from which a person is told, mm: looked for, the eye finds less.
const TOLD: f64 = 0.3;

/// A fit without perspective or lens is taken when nodes kept out of it lie no further off than this much more: less is
/// the luck of which nodes were kept out.
const NO_GAIN: f64 = 1.05;

/// Residuals this many times the nodes' errors make one ask whether beliefs of the lens are to blame; what is believed is
/// given up when residuals without it shrink to this share. A buckled sheet, which has no lens to blame, gains far less.
const MISFIT: f64 = 1.5;
pub(super) const CLEARLY_BETTER: f64 = 0.7;

/// What may be told to [`solve`].
#[derive(Clone, Debug, Default)]
pub struct Settings {
    /// A photo or a scan; `None` (default) lets tags and nodes decide, which costs a second fit when there are no tags.
    pub kind: Option<Kind>,
    /// A lens solved before from several pictures, with standard errors of focal length (relative), centre x and y (px),
    /// k1, k2, p1, p2; `None` (default) goes by tags.
    pub lens: Option<(Lens, [f64; 7])>,
    /// Whether the pitch was measured over the whole of a sheet that may be joined from pages (default: not): then gaps at joins are part of it.
    pub over_joins: bool,
    /// What the sheet's pitch is known to along x and y (relative standard errors); nothing (default) takes the sheet as it was told, whatever
    /// the lens says.
    pub pitch_error: [f64; 2],
}

/// How a picture was taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Through a lens.
    Photo,
    /// On a flatbed.
    Scan,
}

/// A view and what speaks for it.
#[derive(Clone, Debug)]
pub struct Solved {
    /// The map.
    pub view: View,
    /// Nodes the last fit used.
    pub nodes: usize,
    /// Nodes that did not fit and were left out.
    pub outliers: usize,
    /// Root mean square distance of the nodes used from where the view sees them, px.
    pub rms_px: f64,
    /// Nodes kept out of a first fit; `None` when there were too few to spare any.
    pub held_out: Option<HeldOut>,
    /// Share of the picture inside the nodes' convex hull.
    pub coverage: f64,
    /// Where the focal length comes from; `None` for a scan.
    pub focal_from: Option<FocalFrom>,
    /// Relative standard error of the focal length; 0 for a scan.
    pub focal_error: f64,
    /// Fewest and most pixels per mm over the nodes and all directions.
    pub px_per_mm: [f64; 2],
    /// The smooth part of what the model leaves.
    pub field: Field,
    /// Pages of a coded sheet that lie out of place; the view holds within each of them.
    pub joined: Option<JoinedPages>,
    /// The sheet's pitch along x and y, mm, where the lens says better than what was told; the view is that of this sheet.
    pub pitch: Option<[f64; 2]>,
    /// What a person should know.
    pub doubts: Vec<Doubt>,
}

/// A fit of either kind.
pub(super) struct Fit {
    pub view: View,
    pub used: Vec<bool>,
    pub prior: Option<Prior>,
    /// The factor by which the nodes' errors had to grow, and what is left of them and of the beliefs then.
    pub scale: f64,
    pub cost: f64,
    /// A buckled sheet that could be followed.
    pub followed: Option<Followed>,
}

impl Fit {
    pub fn camera(&self) -> Option<Camera> {
        match self.view.model {
            Model::Pinhole { lens, rotation, translation } => Some(Camera { lens, rotation, translation }),
            Model::Scan { .. } => None,
        }
    }
}

/// The view of a picture of `size` (width, height) px with `tags` that shows `lattice`.
///
/// Nodes need addresses and standard errors; they may hold wild ones. A camera is fitted robustly (Cauchy's loss), then by
/// plain least squares on the nodes that fit, over focal length, principal point, k1, k2, p1, p2 and pose, with what is
/// believed of lenses beforehand as further observations. One node in ten is kept out of a first fit and speaks for it.
///
/// # Errors
/// Too few nodes, nodes in one line, nodes that contradict each other, a sheet that does not lie flat.
pub fn solve(lattice: &Lattice, size: (usize, usize), tags: &Tags, settings: &Settings, proof: &mut Proof) -> Result<Solved, ViewError> {
    let begun = Instant::now();
    let nodes: Vec<Node> = lattice.nodes.iter().filter(|n| n.at.is_finite()).copied().collect();
    let pairs: Vec<Pair> = nodes.iter().map(|n| pair(n, lattice)).collect();
    if pairs.len() < FEWEST {
        return Err(ViewError::TooFewNodes { found: pairs.len() });
    }
    let prior = first_prior(size, tags, settings);
    let (kept, out): (Vec<_>, Vec<_>) = nodes.iter().zip(&pairs).partition(|(n, _)| !check::kept_out(n));
    let kept: Vec<Pair> = kept.into_iter().map(|p| *p.1).collect();
    let out: Vec<Pair> = out.into_iter().map(|p| *p.1).collect();
    let (kind, held_out, near) = decide(&kept, &out, &prior, size, tags, settings);
    let fit = match kind {
        Kind::Photo => photo(&pairs, &prior, size, near),
        Kind::Scan => flatbed(&pairs, size),
    }
    .ok_or(ViewError::NoPlane)?;
    let squares = lattice.pitch[0].max(lattice.pitch[1]);
    let solved = if let Some((fit, pairs, joined)) = page_by_page(&fit, &nodes, &pairs, lattice, (size, settings.over_joins)) {
        // Pages were told by all nodes; the view is still spoken for by those it did not see.
        let held_out = kept_apart(&nodes, &pairs, &prior, size, fit.camera());
        let mut solved = report(fit, &nodes, &pairs, held_out, squares)?;
        if let Some(step) = joined.steps.first().filter(|s| s.size() >= TOLD) {
            let between = step.pages.map(|[column, row]| address(row, column));
            solved.doubts.push(Doubt::PagesOutOfPlace { most: step.size(), at: step.at, between });
        }
        Solved { joined: Some(joined), ..solved }
    } else if let Some((fit, held_out)) = on_waves(&fit, &nodes, &pairs, squares, &prior) {
        report(fit, &nodes, &pairs, held_out, squares)?
    } else {
        match oblong(&fit, &pairs, &prior, (size, tags), settings) {
            Some(Oblong { fit, share: Some(share), doubt }) => {
                let pairs = stretched(&pairs, share);
                let pitch = Some([lattice.pitch[0] * (1.0 + share / 2.0), lattice.pitch[1] * (1.0 - share / 2.0)]);
                let held_out = kept_apart(&nodes, &pairs, &prior, size, fit.camera());
                let solved = report(fit, &nodes, &pairs, held_out, squares)?;
                Solved { pitch, doubts: std::iter::once(doubt).chain(solved.doubts).collect(), ..solved }
            }
            Some(Oblong { fit, doubt, .. }) => {
                let solved = report(fit, &nodes, &pairs, held_out, squares)?;
                Solved { doubts: std::iter::once(doubt).chain(solved.doubts).collect(), ..solved }
            }
            None => report(fit, &nodes, &pairs, held_out, squares)?,
        }
    };
    leave(&solved, proof);
    proof.time("view", begun.elapsed());
    Ok(solved)
}

/// What nodes kept out say of a camera fitted to the others.
fn kept_apart(nodes: &[Node], pairs: &[Pair], prior: &Prior, size: (usize, usize), near: Option<Camera>) -> Option<HeldOut> {
    let (kept, out): (Vec<_>, Vec<_>) = nodes.iter().zip(pairs).partition(|(n, _)| !check::kept_out(n));
    let [kept, out] = [kept, out].map(|part: Vec<(&Node, &Pair)>| part.into_iter().map(|p| *p.1).collect::<Vec<_>>());
    let spare = kept.len() >= FEWEST && !out.is_empty();
    photo(&kept, prior, size, near).filter(|_| spare).map(|f| check::held_out(&f.view, &out, limit(&f.view, &kept)))
}

/// The view with every page of a coded sheet where it lies, and the nodes' places so; `None` where the sheet is in one piece, or might be.
fn page_by_page(
    fit: &Fit,
    nodes: &[Node],
    pairs: &[Pair],
    lattice: &Lattice,
    (size, over_joins): ((usize, usize), bool),
) -> Option<(Fit, Vec<Pair>, JoinedPages)> {
    let mut found = pages::find(nodes, pairs, lattice.code?, over_joins, (fit.prior.as_ref()?, fit.camera()?))?;
    // The lens is believed or doubted anew, once steps are no longer held against it.
    let again = photo(&found.moved(pairs), fit.prior.as_ref()?, size, fit.camera())?;
    let (camera, covariance, joined) = found.settle(pairs, again.prior.as_ref()?, again.camera()?, lattice.pitch)?;
    let view = View { model: camera.model(), covariance, ..again.view };
    Some((Fit { view, ..again }, found.moved(pairs), joined))
}

pub(super) fn pair(node: &Node, lattice: &Lattice) -> Pair {
    let mm = lattice.place(f64::from(node.i), f64::from(node.j));
    // A node without a usable error counts as found to a fifth of a pixel.
    let error = if node.error.is_finite() && node.error > 0.0 { node.error.max(0.01) } else { 0.2 };
    Pair { mm, px: node.at, error }
}

fn first_prior(size: (usize, usize), tags: &Tags, settings: &Settings) -> Prior {
    match settings.lens {
        Some((lens, errors)) => Prior { lens, errors, from: FocalFrom::LensProfile },
        None => Prior::new(size.0, size.1, tags),
    }
}

/// Photo or scan, what the nodes kept out say of the winner, and the camera of the first fit.
fn decide(
    kept: &[Pair],
    out: &[Pair],
    prior: &Prior,
    size: (usize, usize),
    tags: &Tags,
    settings: &Settings,
) -> (Kind, Option<HeldOut>, Option<Camera>) {
    let spare = kept.len() >= FEWEST && !out.is_empty();
    let judged = |fit: Option<&Fit>| spare.then_some(fit).flatten().map(|f| check::held_out(&f.view, out, limit(&f.view, kept)));
    let told = settings.kind.or((tags.camera || settings.lens.is_some()).then_some(Kind::Photo));
    if told == Some(Kind::Scan) {
        return (Kind::Scan, judged(flatbed(kept, size).as_ref()), None);
    }
    let photo = photo(kept, prior, size, None);
    let by_camera = judged(photo.as_ref());
    if told.is_none() {
        let by_scan = judged(flatbed(kept, size).as_ref());
        let plain = match (by_camera, by_scan) {
            (Some(c), Some(s)) => s.nodes >= c.nodes && s.rms_px <= NO_GAIN * c.rms_px,
            (None, Some(_)) => true,
            _ => false,
        };
        if plain {
            return (Kind::Scan, by_scan, None);
        }
    }
    (Kind::Photo, by_camera, photo.and_then(|f| f.camera()))
}

/// Beyond this a kept-out node is a wild one, px: the same rule as for nodes of the fit.
pub(super) fn limit(view: &View, kept: &[Pair]) -> f64 {
    let mut miss: Vec<f64> = kept.iter().map(|p| view.to_px(p.mm, 0.0).distance(p.px)).collect();
    let typical = median(&mut miss).unwrap_or(0.0) / 1.1774;
    (2.0 * INLIER * typical).max(1.0)
}

/// A camera fitted; when the sheet contradicts what was believed of the lens, again with less faith in it.
pub(super) fn photo(pairs: &[Pair], prior: &Prior, size: (usize, usize), near: Option<Camera>) -> Option<Fit> {
    let (mut prior, mut near) = (*prior, near);
    let mut found = loop {
        let found = camera::fit(pairs, &prior, near)?;
        near = Some(found.best.state);
        // Each doubt widens a belief, at most three times in all.
        match prior.doubted(&found.best.state.lens, size.0, size.1) {
            Some(next) => prior = next,
            None => break found,
        }
    };
    // A misfit swells the nodes' errors until no belief seems contradicted: then beliefs must show that they are not to blame.
    if let Some(free) = prior.freed(size.0, size.1).filter(|_| found.scale > MISFIT && pairs.len() >= camera::FEW) {
        let other = camera::fit(pairs, &free, near)?;
        if other.scale < CLEARLY_BETTER * found.scale {
            (found, prior) = (other, free);
        }
    }
    let covariance = found.best.normal.covariance()?;
    let view = View { model: found.best.state.model(), covariance, buckle: None, bend: Bend::default(), width: size.0, height: size.1 };
    Some(Fit { view, used: found.used, prior: Some(prior), scale: found.scale, cost: found.best.normal.cost, followed: None })
}

fn flatbed(pairs: &[Pair], size: (usize, usize)) -> Option<Fit> {
    let fit = scan::fit(pairs)?;
    let view = View { model: fit.model(), covariance: fit.covariance, buckle: None, bend: Bend::default(), width: size.0, height: size.1 };
    Some(Fit { view, used: fit.used, prior: None, scale: 1.0, cost: 0.0, followed: None })
}

fn report(fit: Fit, all: &[Node], pairs: &[Pair], held_out: Option<HeldOut>, pitch: f64) -> Result<Solved, ViewError> {
    let Fit { mut view, used, prior, followed, .. } = fit;
    let nodes = used.iter().filter(|u| **u).count();
    let outliers = used.len() - nodes;
    if nodes < FEWEST || outliers > nodes {
        return Err(ViewError::Contradiction { outliers, found: used.len() });
    }
    let (field, bend, unexplained) = match followed {
        Some(f) => (f.field, f.bend, f.unexplained),
        None => check::field(&view, all, pairs, pitch),
    };
    view.bend = bend;
    if field.most_mm > REFUSED || unexplained > REFUSED / 2.0 {
        return Err(ViewError::NotFlat { most_mm: field.most_mm.max(unexplained), i: field.node[0], j: field.node[1] });
    }
    let inliers = || pairs.iter().zip(&used).filter(|p| *p.1).map(|p| p.0);
    let rms_px = (inliers().map(|p| (view.to_px(p.mm, 0.0) - p.px).norm_squared()).sum::<f64>() / nodes as f64).sqrt();
    let px_per_mm =
        inliers().map(|p| view.local(p.mm, 0.0).px_per_mm()).fold([f64::INFINITY, 0.0f64], |a, b| [a[0].min(b[0]), a[1].max(b[1])]);
    let coverage = check::coverage(inliers().map(|p| p.px), view.width, view.height);
    let (focal_from, focal_error) = focal(&view, prior.as_ref());
    let mut doubts = Vec::new();
    // A fold, or waves shorter than three squares, are no smooth field: nodes kept out of it lie elsewhere.
    if field.most_mm > DOUBTED || unexplained > DOUBTED {
        doubts.push(Doubt::SheetNotFlat { most: field.most_mm.max(unexplained), at: field.at });
    }
    if focal_from == Some(FocalFrom::Assumed) {
        doubts.push(Doubt::FocalAssumed { share: focal_error, tilt: view.tilt_deg() });
    }
    Ok(Solved {
        view,
        nodes,
        outliers,
        rms_px,
        held_out,
        coverage,
        focal_from,
        focal_error,
        px_per_mm,
        field,
        joined: None,
        pitch: None,
        doubts,
    })
}

/// Whether the picture itself fixes the focal length better than what was believed before.
fn focal(view: &View, prior: Option<&Prior>) -> (Option<FocalFrom>, f64) {
    match (&view.model, prior) {
        (Model::Pinhole { lens, .. }, Some(prior)) => {
            let error = view.covariance[(0, 0)].max(0.0).sqrt() / lens.focal;
            // Half the error: three quarters of what is known came from the picture.
            let told = prior.from == FocalFrom::LensProfile;
            let from = if !told && error < prior.errors[0].min(ASSUMED_ERROR) / 2.0 { FocalFrom::Picture } else { prior.from };
            (Some(from), error)
        }
        _ => (None, 0.0),
    }
}

fn leave(solved: &Solved, proof: &mut Proof) {
    proof.figure("view", "nodes", solved.nodes as f64);
    proof.figure("view", "outliers", solved.outliers as f64);
    proof.figure("view", "rms_px", solved.rms_px);
    proof.figure("view", "coverage", solved.coverage);
    proof.figure("view", "focal_error", solved.focal_error);
    proof.figure("view", "field_mm", solved.field.most_mm);
    if let Some(h) = solved.held_out {
        proof.figure("view", "held_out_px", h.rms_px);
        proof.figure("view", "held_out_mm", h.rms_mm);
    }
    if let Model::Pinhole { lens, .. } = solved.view.model {
        let named = [lens.focal, lens.centre.x, lens.centre.y, lens.k1, lens.k2, lens.p1, lens.p2];
        for (name, value) in ["focal_px", "centre_x", "centre_y", "k1", "k2", "p1", "p2"].into_iter().zip(named) {
            proof.figure("view", name, value);
        }
    }
}
