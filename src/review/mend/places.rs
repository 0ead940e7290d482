//! Places of the sheet, checked and told in pixels of the picture.

use super::error::MendError;
use super::write::Where;
use crate::length::{Mm, Px};
use crate::notes::{Draft, Place};
use crate::write::{Record, path_from_text};
use kurbo::{ParamCurveNearest, Point};
use std::path::Path;

/// A corner put farther than this from the outline takes the outline along, mm.
const ON_OUTLINE: f64 = 0.5;
/// How exactly a foot on the outline is sought, mm.
const FOOT: f64 = 1e-3;

impl Where<'_> {
    /// The record of the picture.
    pub(super) fn traced(&self) -> Result<&Record, MendError> {
        self.record.ok_or(MendError::NotTraced)
    }

    /// Where a place of the sheet is in the picture, to a tenth of a pixel.
    pub(super) fn at(&self, what: &'static str, at: [f64; 2]) -> Result<Px, MendError> {
        let [width, height] = self.size()?;
        let outside = MendError::Outside { what };
        let at = Mm::from(at);
        if !at.is_finite() {
            return Err(outside);
        }
        let p = (self.px)(at).filter(|p| p.is_finite()).ok_or(outside.clone())?;
        let p = Px::new(tenth(p.x), tenth(p.y));
        let inside = (0.0..=width - 1.0).contains(&p.x) && (0.0..=height - 1.0).contains(&p.y);
        if inside { Ok(p) } else { Err(outside) }
    }

    /// The same of several, none of them twice in a row.
    pub(super) fn all(&self, what: &'static str, places: &[[f64; 2]], least: usize, most: usize) -> Result<Vec<Px>, MendError> {
        let counted = |got: usize| {
            if (least..=most).contains(&got) { Ok(()) } else { Err(MendError::Places { what, least, most, got }) }
        };
        counted(places.len())?;
        let mut out = places.iter().map(|at| self.at(what, *at)).collect::<Result<Vec<_>, _>>()?;
        out.dedup();
        if out.len() < least { Err(MendError::NoExtent { what }) } else { Ok(out) }
    }

    /// Columns and rows of the picture.
    pub(super) fn size(&self) -> Result<[f64; 2], MendError> {
        let pictures = &self.traced()?.pictures;
        let own = pictures.iter().find(|p| Path::new(&p.file).file_name() == Path::new(self.picture).file_name());
        let p = own.or(pictures.first()).ok_or(MendError::NotTraced)?;
        Ok([p.width_px as f64, p.height_px as f64])
    }

    /// Puts a corner at a place; where that lies off the outline, a through-point takes the outline along. One that was set there for
    /// the corner's place before goes.
    pub(super) fn put_corner(&self, draft: &mut Draft, name: &str, at: [f64; 2], [round, exact]: [bool; 2]) -> Result<(), MendError> {
        let place = self.at("the corner", at)?;
        if let Some(before) = self.notes.corners.iter().find(|c| c.name == name).filter(|c| matches!(c.at, Place::Px(_)))
            && let Some(n) = self.notes.through.iter().position(|t| *t == before.at)
        {
            draft.remove_through(self.picture, n)?;
        }
        draft.set_corner(self.picture, name, Place::Px(place))?;
        draft.set_corner_is(self.picture, name, round, exact)?;
        if off_outline(self.traced()?, Mm::from(at)) > ON_OUTLINE {
            draft.add_through(self.picture, Place::Px(place))?;
        }
        Ok(())
    }
}

/// How far a place lies from the nearest outline of a record, mm; nothing where there is none.
fn off_outline(record: &Record, at: Mm) -> f64 {
    let paths = record.pieces.iter().filter_map(|p| path_from_text(&p.outline).ok());
    let feet = paths.flat_map(|p| p.segments().map(|s| s.nearest(Point::new(at.x, at.y), FOOT).distance_sq).collect::<Vec<_>>());
    feet.fold(f64::INFINITY, f64::min).sqrt()
}

/// To a tenth of a pixel, as the notes keep it.
fn tenth(v: f64) -> f64 {
    (v * 10.0).round() / 10.0
}
