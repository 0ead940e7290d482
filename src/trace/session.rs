//! The stages of one picture in their order, each kept so that a change redoes only what it touches.

use super::assemble;
use super::bare;
use super::checks;
use super::error::TraceError;
use super::joint::Placement;
use super::laid::{self, Laid, Places};
use super::lens::{self, ChosenLens};
use super::lines::{self, Lines, Rims};
use super::plain;
use super::print;
use super::retake::{self, Flaw};
use super::second;
use super::tracing::{Further, Line, Picture, Tracing};
use super::wanted::Wanted;
use crate::cloth::{self, Cloth, ClothError};
use crate::grid::{self, Lattice};
use crate::length::Mm;
use crate::notes::ShotNotes;
use crate::proof::{Doubt, Proof};
use crate::sheet::SheetKind;
use crate::shot::Shot;
use crate::sticker;
use crate::view::Solved;
use std::sync::Arc;
use std::time::Instant;

/// What the stages up to the lines gave.
#[derive(Clone, Copy)]
pub(super) struct Stages<'a> {
    pub lattice: &'a Lattice,
    pub solved: &'a Solved,
    pub cloth: &'a Cloth,
    pub lines: &'a Lines,
    /// Height of the edge above the sheet and its standard error, mm.
    pub height: f64,
    pub height_error: f64,
}

/// What the stages up to the cloth leave behind when none of them failed.
const LAID: &str = "lattice, view and cloth are there once they were laid";

/// One picture being traced.
pub struct Session {
    /// The picture.
    pub shot: Arc<Shot>,
    /// What is asked for.
    pub wanted: Wanted,
    /// The sheet bare, in a picture taken before, when there is one.
    bare: Option<Arc<Shot>>,
    lattice: Option<Lattice>,
    solved: Option<Solved>,
    laid: Option<Vec<Laid>>,
    cloth: Option<Cloth>,
    rims: Option<Vec<Rims>>,
    lines: Option<Lines>,
}

impl Session {
    /// A session in which nothing has been computed yet.
    pub fn new(shot: impl Into<Arc<Shot>>, wanted: Wanted) -> Self {
        Self { shot: shot.into(), wanted, bare: None, lattice: None, solved: None, laid: None, cloth: None, rims: None, lines: None }
    }

    /// With a picture of the bare sheet, taken before the garment was laid on it.
    pub fn with_bare(self, bare: Option<Arc<Shot>>) -> Self {
        Self { bare, ..self }
    }

    /// Takes all that is wanted anew and drops what rested on what was wanted otherwise: the next run redoes only what that touches.
    pub fn want(&mut self, wanted: Wanted) {
        let old = std::mem::replace(&mut self.wanted, wanted);
        let new = &self.wanted;
        let sheet = |w: &Wanted| format!("{:?}{:?}{}{}{:?}{:?}", w.sheet, w.at, w.trust_dpi, w.as_ruled, w.lens, w.prints);
        let lines = |w: &Wanted| (w.thickness, w.line, w.allowance, w.inner.clone());
        let sheet_too = sheet(&old) != sheet(new);
        let cloth_too = sheet_too || (old.pieces, old.partial) != (new.pieces, new.partial);
        let lines_too = lines(&old) != lines(new);
        if sheet_too {
            (self.lattice, self.solved, self.laid) = (None, None, None);
        }
        if cloth_too {
            self.drop_cloth();
        }
        if old.thickness != self.wanted.thickness {
            self.rims = None;
        }
        if lines_too {
            self.lines = None;
        }
        let notes = std::mem::replace(&mut self.wanted.notes, old.notes);
        self.renote(notes);
    }

    /// Drops the cloth and all that rests on it.
    fn drop_cloth(&mut self) {
        self.cloth = None;
        self.rims = None;
        self.lines = None;
    }

    /// Takes new notes in and drops what rested on the old ones: other marks or regions from there on, through-points and seams
    /// within from the lines on, names and corners the outlines only.
    fn renote(&mut self, notes: ShotNotes) {
        let old = std::mem::replace(&mut self.wanted.notes, notes);
        let new = self.wanted.notes.clone();
        let marks = old.marks != new.marks;
        let regions = old.regions != new.regions;
        if marks {
            self.laid = None;
        }
        if marks || regions || old.under != new.under {
            self.drop_cloth();
        }
        // Edges that may run inside the cloth do so between their corners.
        let within = |n: &ShotNotes| n.edges.iter().any(|e| e.line.is_some_and(|l| l != crate::notes::Line::Rim));
        let edges = (within(&old) || within(&new)) && (old.edges != new.edges || old.corners != new.corners);
        if edges || old.through != new.through || old.inner != new.inner {
            self.lines = None;
        }
    }

    /// What is wrong with a fresh picture for an outline that is to be right within `accuracy` mm: runs the stages up to the
    /// cloth and measures blur, light, scale and tilt along its rough rim.
    ///
    /// # Errors
    /// The first stage that could not do its work; then the picture is no good either.
    pub fn check(&mut self, accuracy: f64, proof: &mut Proof) -> Result<Vec<Flaw>, TraceError> {
        // A piece that is cut off is one of the things to tell.
        let partial = std::mem::replace(&mut self.wanted.partial, true);
        let laid = self.lay(proof);
        self.wanted.partial = partial;
        laid?;
        let (Some(lattice), Some(solved), Some(cloth)) = (&self.lattice, &self.solved, &self.cloth) else { unreachable!("{LAID}") };
        let flaws = retake::flaws(&self.shot, lattice, solved, cloth, &self.wanted, accuracy, proof);
        // A run that was not asked for parts must still refuse them.
        if !partial && cloth.regions.iter().any(|r| !r.cut_by.is_empty()) {
            self.drop_cloth();
        }
        Ok(flaws)
    }

    /// Runs the stages up to the view that are not there yet.
    ///
    /// # Errors
    /// The first of them that could not do its work.
    pub(super) fn views(&mut self, proof: &mut Proof) -> Result<(&mut Lattice, &Solved), TraceError> {
        let Self { shot, wanted, .. } = self;
        let lattice = match self.lattice.take() {
            Some(kept) => kept,
            None => {
                let found = timed("grid", proof, |p| match wanted.sheet.kind {
                    Some(SheetKind::Plain) => Ok(plain::lattice()),
                    _ => grid::find(shot, &wanted.sheet, &grid::Settings::default(), p),
                });
                let found = found.or_else(|e| if plain::instead(&e, shot, wanted) { Ok(plain::lattice()) } else { Err(e) })?;
                if found.squares {
                    return Err(TraceError::Squares);
                }
                checks::nodes(shot, &found, proof);
                print::laid(found, wanted)
            }
        };
        let lattice = self.lattice.insert(lattice);
        let solved = match self.solved.take() {
            Some(kept) => kept,
            None => {
                let found = timed("view", proof, |p| match lattice.kind {
                    SheetKind::Plain => plain::view(shot, wanted),
                    _ => lens::view(shot, lattice, wanted, p),
                })?;
                checks::residuals(shot, lattice, &found, proof);
                found
            }
        };
        let solved = self.solved.insert(solved);
        lattice.pitch = solved.pitch.unwrap_or(lattice.pitch);
        lattice.lay.pages = solved.joined.as_ref().map(|j| j.laid.clone());
        Ok((lattice, solved))
    }

    /// Runs the stages up to the cloth that are not there yet.
    fn lay(&mut self, proof: &mut Proof) -> Result<(), TraceError> {
        self.views(proof)?;
        let Self { shot, wanted, bare, .. } = self;
        let (Some(lattice), Some(solved)) = (&self.lattice, &self.solved) else { unreachable!("{LAID}") };
        let laid = match self.laid.take() {
            Some(kept) => kept,
            None if wanted.notes.marks.is_empty() => Vec::new(),
            None => timed("sticker", proof, |p| laid::named(sticker::find(shot, lattice, &solved.view, &wanted.notes.marks, p), wanted))?,
        };
        let laid = self.laid.insert(laid);
        let cloth = match self.cloth.take() {
            Some(kept) => kept,
            None => {
                let height = wanted.height().0;
                let [kept, left_out] = Places { shot, view: &solved.view, height, laid }.regions(wanted)?;
                let hidden = laid.iter().map(|l| l.mark.cover.clone()).collect();
                let veiled = wanted.notes.under.is_some();
                let ground = (&**shot, lattice, &solved.view);
                let bare = bare.as_ref().map(|bare| bare::sheet(bare, ground, wanted, &mut Proof::off())).transpose()?;
                let unlike = matches!(bare, Some(None));
                let bare = bare.flatten();
                let settings =
                    cloth::Settings { pieces: wanted.pieces, partial: wanted.partial, height, hidden, kept, left_out, veiled, bare };
                let found = timed("cloth", proof, |p| cloth::find(shot, lattice, &solved.view, &settings, p));
                if lattice.kind == SheetKind::Plain && cut_off(&found) {
                    // A ruling's lines run from the frame into the cloth.
                    plain::ruling(shot, wanted, proof).map_or(Ok(()), Err)?;
                } else if let Err(ClothError::CutOff(sides)) = &found {
                    let all = cloth::find(shot, lattice, &solved.view, &cloth::Settings { partial: true, ..settings }, &mut Proof::off());
                    if all.is_ok_and(|all| second::lies_under(shot, lattice, &solved.view, &all)) {
                        return Err(TraceError::SecondSheet(sides.clone()));
                    }
                }
                let mut cloth = found?;
                cloth.doubts.extend(unlike.then_some(Doubt::BareUnlike));
                cloth
            }
        };
        let rims: Vec<_> = cloth.regions.iter().map(|r| (r.rim.clone(), r.holes.clone())).collect();
        laid::settle(laid, &rims, &solved.view, wanted.height().0);
        self.cloth = Some(cloth);
        Ok(())
    }

    /// Runs the stages up to the lines that are not there yet.
    ///
    /// # Errors
    /// The first stage that could not do its work.
    pub(super) fn lines(&mut self, proof: &mut Proof) -> Result<(), TraceError> {
        self.lay(proof)?;
        let Self { shot, wanted, .. } = self;
        let (Some(lattice), Some(solved), Some(cloth)) = (&self.lattice, &self.solved, &self.cloth) else { unreachable!("{LAID}") };
        if self.lines.is_none() {
            let even = cloth.evening.as_ref().map(|by| shot.times(by));
            let shot: &Shot = even.as_ref().unwrap_or(shot);
            let places = Places { shot, view: &solved.view, height: wanted.height().0, laid: self.laid.as_deref().unwrap_or_default() };
            let found = timed("seam", proof, |p| {
                let rims = match self.rims.take() {
                    Some(kept) => kept,
                    None => lines::rims(lattice, cloth, &places, wanted, p)?,
                };
                lines::find(lattice, self.rims.insert(rims), &places, wanted, p)
            })?;
            checks::lines(shot, &found, proof);
            self.lines = Some(found);
        }
        Ok(())
    }

    /// What those stages gave, once they were run.
    pub(super) fn stages(&self) -> Option<Stages<'_>> {
        let (height, height_error) = self.wanted.height();
        Some(Stages {
            lattice: self.lattice.as_ref()?,
            solved: self.solved.as_ref()?,
            cloth: self.cloth.as_ref()?,
            lines: self.lines.as_ref()?,
            height,
            height_error,
        })
    }

    /// Gives the sheet's nodes other addresses, solves the view again in them, and takes the lines along.
    ///
    /// # Errors
    /// The view.
    pub(super) fn placed(&mut self, by: Placement, proof: &mut Proof) -> Result<(), TraceError> {
        let Self { shot, wanted, .. } = self;
        let Some(lattice) = &mut self.lattice else { return Ok(()) };
        let pitch = lattice.pitch;
        by.readdress(lattice);
        self.solved = Some(timed("view", proof, |p| lens::view(shot, lattice, wanted, p))?);
        if let Some(lines) = &mut self.lines {
            for piece in &mut lines.pieces {
                piece.outer = by.path(&piece.outer, pitch);
                piece.holes.iter_mut().for_each(|h| *h = by.path(h, pitch));
            }
        }
        Ok(())
    }

    /// What the view leaves of each node of the sheet, mm: where the node is, and how far off it was seen. Empty before a run.
    pub fn residuals(&self) -> Vec<[Mm; 2]> {
        let (Some(lattice), Some(solved)) = (&self.lattice, &self.solved) else { return Vec::new() };
        let left = |node: &crate::grid::Node| {
            let place = lattice.place(f64::from(node.i), f64::from(node.j));
            let seen = solved.view.to_mm(node.at, 0.0)?;
            Some([place, seen]).filter(|p| p.iter().all(|p| p.is_finite()))
        };
        lattice.nodes.iter().filter_map(left).collect()
    }

    /// The picture as one of several.
    pub(super) fn further(&self, stages: &Stages) -> Further {
        let used = |l: &&ChosenLens| stages.solved.focal_from == Some(crate::view::FocalFrom::LensProfile) && !l.profile.name.is_empty();
        let lens = self.wanted.lens.as_ref().filter(used).map(|l| &l.profile);
        Further {
            picture: Picture::of(&self.shot, &stages.solved.view),
            view: stages.solved.view.clone(),
            focal_from: stages.solved.focal_from,
            lens_profile: lens.map(|l| l.name.clone()),
            lens_blake3: lens.map(|l| l.blake3()),
            px_per_mm: stages.solved.px_per_mm,
        }
    }

    /// Runs the stages that are not there yet.
    ///
    /// # Errors
    /// The first stage that could not do its work.
    pub fn run(&mut self, proof: &mut Proof) -> Result<Tracing, TraceError> {
        self.lines(proof)?;
        let Self { shot, wanted, .. } = self;
        let (Some(lattice), Some(solved), Some(cloth), Some(lines)) = (&self.lattice, &self.solved, &self.cloth, &self.lines) else {
            unreachable!("{LAID}")
        };
        let (view, height) = (&solved.view, wanted.height().0);
        if wanted.line == Line::Rim {
            // Under a mark at a corner the rough rim cuts the corner off.
            laid::settle(self.laid.as_deref_mut().unwrap_or_default(), &lines.rims(), view, height);
        }
        let places = Places { shot, view, height, laid: self.laid.as_deref().unwrap_or_default() };
        let tracing = timed("outline", proof, |_| assemble::tracing(lattice, solved, cloth, lines, &places, wanted))?;
        checks::curves(&tracing.pieces.iter().map(|p| &p.outline).collect::<Vec<_>>(), lines, proof);
        Ok(tracing)
    }
}

/// Whether something on the sheet runs out of the picture.
fn cut_off(found: &Result<Cloth, ClothError>) -> bool {
    match found {
        Err(e) => matches!(e, ClothError::CutOff(_)),
        Ok(cloth) => cloth.regions.iter().any(|r| !r.cut_by.is_empty()),
    }
}

fn timed<T>(stage: &str, proof: &mut Proof, work: impl FnOnce(&mut Proof) -> T) -> T {
    let start = Instant::now();
    let out = work(proof);
    proof.time(stage, start.elapsed());
    out
}
