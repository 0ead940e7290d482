//! Marks laid by hand and what the notes say by places: which mark is which, and where each place of the notes is.

use super::wanted::Wanted;
use crate::length::{Mm, Px};
use crate::notes::{Belongs, MarkKind, MarkName, Place};
use crate::proof::Doubt;
use crate::shot::{Area, Shot};
use crate::sticker::Mark;
use crate::view::View;

/// A pointer shows the rim that lies ahead of its tip within this, mm.
const AHEAD: f64 = 25.0;
/// Marks told of in one message.
const TOLD: usize = 6;

/// Why the notes of a picture can't be followed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum NotesError {
    /// A place lies outside the picture.
    #[error("the notes place {what} at {x:.0}, {y:.0} px, outside the picture of {width} × {height}; count pixels in the upright picture")]
    Outside {
        /// What has that place.
        what: &'static str,
        /// Across, px.
        x: f64,
        /// Down, px.
        y: f64,
        /// Columns of the picture.
        width: usize,
        /// Rows of the picture.
        height: usize,
    },
    /// As many marks are named as are not there.
    #[error("the notes name {named} {kind} but {found} were found{}; say which lie there, or their colour", places(.at))]
    Miscounted {
        /// The word for several of them.
        kind: &'static str,
        /// How many names there are.
        named: usize,
        /// How many were found.
        found: usize,
        /// Where.
        at: Vec<Px>,
    },
    /// A number beyond the last mark.
    #[error("the notes use mark {name} but only {found} were found{}; look whether one is hidden or of the cloth's colour", places(.at))]
    NoSuchMark {
        /// The mark.
        name: String,
        /// How many were found.
        found: usize,
        /// Where.
        at: Vec<Px>,
    },
    /// A region of the notes has no extent.
    #[error("a region in the notes has no extent on the sheet; give its border by three places or more that are not in one line")]
    NoRegion,
    /// A region is said to belong to a piece and not to.
    #[error("the notes say of one region, about {x:.0}, {y:.0} px, that it is kept and that it is left out; say one of them")]
    RegionBoth {
        /// Across, px.
        x: f64,
        /// Down, px.
        y: f64,
    },
}

/// Where marks were found, for a message.
fn places(at: &[Px]) -> String {
    let list: Vec<String> = at.iter().take(TOLD).map(|p| format!("{:.0},{:.0}", p.x, p.y)).collect();
    match list.len() {
        0 => String::new(),
        _ => format!(" (px {}{})", list.join(" "), if at.len() > TOLD { " …" } else { "" }),
    }
}

/// A mark with what the notes make of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Laid {
    /// Its number in the order of counting, from 1.
    pub number: usize,
    /// Its name, when it has one.
    pub name: Option<String>,
    /// Where it lies: a round one on cloth at the cloth's height, everything else at the sheet's.
    pub at: Mm,
    /// Whether it lies on cloth.
    pub on_cloth: bool,
    /// The place of the rim that a pointer points at, when one lies ahead.
    pub shows: Option<Mm>,
    /// As it was found.
    pub mark: Mark,
}

/// The marks of a picture, counted and named.
///
/// # Errors
/// Places of the notes rest on marks, and another number of them was found than is named.
pub(super) fn named(found: Vec<Vec<Mark>>, wanted: &Wanted) -> Result<Vec<Laid>, NotesError> {
    let used = wanted.notes.places().any(|(_, p)| matches!(p, Place::Mark(_)));
    let mut out = Vec::new();
    for (group, marks) in wanted.notes.marks.iter().zip(found) {
        let fits = group.names.is_empty() || group.names.len() == marks.len();
        if !fits && used {
            let at = marks.iter().map(|m| m.px).collect();
            return Err(NotesError::Miscounted { kind: group.are.word(), named: group.names.len(), found: marks.len(), at });
        }
        for (k, mark) in marks.into_iter().enumerate() {
            let name = group.names.get(k).filter(|_| fits).cloned();
            out.push(Laid { number: out.len() + 1, name, at: mark.at, on_cloth: false, shows: None, mark });
        }
    }
    Ok(out)
}

/// Tells marks on cloth from those on the sheet, and what pointers show, by the outlines of all pieces and their holes, px.
pub(super) fn settle(laid: &mut [Laid], pieces: &[(Vec<Px>, Vec<Vec<Px>>)], view: &View, height: f64) {
    let areas = |rim: &[Px]| Area::new(rim.to_vec());
    let rims: Vec<(Option<Area>, Vec<Area>)> =
        pieces.iter().map(|(rim, holes)| (areas(rim), holes.iter().filter_map(|h| areas(h)).collect())).collect();
    for m in laid {
        // One that reaches over an edge of the cloth lies on it.
        let half = 0.5 * m.mark.across * view.px_per_mm(m.mark.at);
        let touches = |a: &Area| a.nearest(m.mark.px).distance(m.mark.px) < half;
        let holds = |(rim, holes): &(Option<Area>, Vec<Area>)| {
            let within = rim.as_ref().is_some_and(|r| r.holds(m.mark.px)) && !holes.iter().any(|h| h.holds(m.mark.px));
            within || rim.iter().chain(holes).any(touches)
        };
        m.on_cloth = m.mark.kind != MarkKind::Pointers && rims.iter().any(holds);
        m.at = if m.on_cloth { view.to_mm(m.mark.px, height).unwrap_or(m.mark.at) } else { m.mark.at };
        m.shows = m.mark.ahead.and_then(|ahead| {
            let all = pieces.iter().flat_map(|(rim, holes)| std::iter::once(rim).chain(holes));
            let meets = all.filter_map(|rim| {
                let rim: Vec<Mm> = rim.iter().filter_map(|p| view.to_mm(*p, height)).collect();
                // From a little behind the tip, which may touch the cloth.
                first_meeting(m.mark.at - ahead * 3.0, ahead, &rim)
            });
            meets.min_by(f64::total_cmp).map(|far| m.mark.at + ahead * (far - 3.0)).filter(|p| p.distance(m.mark.at) <= AHEAD)
        });
    }
}

/// How far along a ray it first crosses a closed polygon.
fn first_meeting(from: Mm, ahead: nalgebra::Vector2<f64>, rim: &[Mm]) -> Option<f64> {
    let crossing = |k: usize| {
        let (a, leg) = (rim[k], rim[(k + 1) % rim.len()] - rim[k]);
        let det = ahead.perp(&leg);
        let off = a - from;
        let (t, s) = (off.perp(&leg) / det, off.perp(&ahead) / det);
        (det.abs() > 1e-12 && t >= 0.0 && (0.0..=1.0).contains(&s)).then_some(t)
    };
    (0..rim.len()).filter_map(crossing).min_by(f64::total_cmp)
}

/// Where the places of the notes are in the picture.
pub(super) struct Places<'a> {
    pub shot: &'a Shot,
    pub view: &'a View,
    pub height: f64,
    pub laid: &'a [Laid],
}

impl Places<'_> {
    /// One place; `what` has it.
    pub fn px(&self, what: &'static str, place: &Place) -> Result<Px, NotesError> {
        let px = match place {
            Place::Px(px) => *px,
            Place::Mm([x, y]) => self.view.to_px(Mm::new(x.mm(), y.mm()), self.height),
            Place::Mark(name) => {
                let laid = self.mark(name)?;
                laid.shows.map_or(laid.mark.px, |at| self.view.to_px(at, self.height))
            }
        };
        let (width, height) = (self.shot.width, self.shot.height);
        let inside = px.x >= -0.5 && px.y >= -0.5 && px.x <= width as f64 - 0.5 && px.y <= height as f64 - 0.5;
        if inside { Ok(px) } else { Err(NotesError::Outside { what, x: px.x, y: px.y, width, height }) }
    }

    /// The place of a named corner: one of the notes, or a mark that lies there.
    pub fn corner(&self, wanted: &Wanted, name: &str) -> Result<Px, NotesError> {
        match wanted.notes.corners.iter().find(|c| c.name == name) {
            Some(corner) => self.px("a corner", &corner.at),
            None => self.px("a corner", &Place::Mark(MarkName::Name(name.to_owned()))),
        }
    }

    /// The mark that goes by a name.
    pub fn mark(&self, name: &MarkName) -> Result<&Laid, NotesError> {
        let found = self.laid.iter().find(|l| match name {
            MarkName::Number(n) => l.number == *n,
            MarkName::Name(n) => l.name.as_ref() == Some(n),
        });
        let at = || self.laid.iter().map(|l| l.mark.px).collect();
        found.ok_or_else(|| NotesError::NoSuchMark { name: name.to_string(), found: self.laid.len(), at: at() })
    }

    /// The regions that belong to a piece, and those that don't.
    pub fn regions(&self, wanted: &Wanted) -> Result<[Vec<Area>; 2], NotesError> {
        let mut out = [Vec::new(), Vec::new()];
        for region in &wanted.notes.regions {
            let border = region.border.iter().map(|p| self.px("a region", p)).collect::<Result<Vec<_>, _>>()?;
            let area = Area::new(border).ok_or(NotesError::NoRegion)?;
            out[usize::from(region.is == Belongs::LeftOut)].push(area);
        }
        let [kept, left] = &out;
        match kept.iter().find(|k| left.iter().any(|l| same(k, l))).map(|k| k.extent()) {
            Some([low, high]) => Err(NotesError::RegionBoth { x: (low.x + high.x) / 2.0, y: (low.y + high.y) / 2.0 }),
            None => Ok(out),
        }
    }
}

/// Whether two areas are about the same: they share this part of what both cover together. (One may well lie within the other.)
fn same(a: &Area, b: &Area) -> bool {
    const SHARED: f64 = 0.8;
    const LOOKS: usize = 24;
    let ([low, high], [other_low, other_high]) = (a.extent(), b.extent());
    let (low, high) =
        (Px::new(low.x.min(other_low.x), low.y.min(other_low.y)), Px::new(high.x.max(other_high.x), high.y.max(other_high.y)));
    let place = |k: usize| {
        let part = |k: usize| (k as f64 + 0.5) / LOOKS as f64;
        Px::new(low.x + (high.x - low.x) * part(k % LOOKS), low.y + (high.y - low.y) * part(k / LOOKS))
    };
    let held = (0..LOOKS * LOOKS).map(place).map(|p| (a.holds(p), b.holds(p)));
    let (both, either) = held.fold((0u32, 0u32), |(both, either), (a, b)| (both + u32::from(a && b), either + u32::from(a || b)));
    f64::from(both) > SHARED * f64::from(either)
}

/// What may be wrong with the marks: none where some are told of, or another number than there are names.
pub(super) fn doubts(laid: &[Laid], wanted: &Wanted) -> Vec<Doubt> {
    let mut out = Vec::new();
    for group in &wanted.notes.marks {
        let own = laid.iter().filter(|l| l.mark.kind == group.are && (group.names.is_empty() || l.name.is_some()));
        let (found, named) = (own.count(), group.names.len());
        if found == 0 || named > 0 && found < named {
            let all = laid.iter().filter(|l| l.mark.kind == group.are).count();
            out.push(Doubt::MarksMiscounted { kind: group.are.word(), named, found: all });
        }
    }
    out
}
