//! One thing that the notes place on a piece (a dart, pleat, gather, notch or mark) with its places among the pins, so that all kinds can be
//! laid on the other half of a piece alike.

use super::bench::Pins;
use super::halves::swapped;
use crate::length::Length;
use crate::notes::{InLine, Laid, PieceLines, PieceNotes};
use kurbo::{Affine, Point};

/// A thing of the notes by its kind and its number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Item {
    Dart(usize),
    Pleat(usize),
    Gather(usize),
    Notch(usize),
    Mark(usize),
}

impl Item {
    /// All that the notes place, kind by kind.
    pub fn all(notes: &PieceNotes) -> Vec<Self> {
        let darts = (0..notes.darts.len()).map(Self::Dart);
        let fullness = (0..notes.pleats.len()).map(Self::Pleat).chain((0..notes.gathers.len()).map(Self::Gather));
        darts.chain(fullness).chain((0..notes.notches.len()).map(Self::Notch)).chain((0..notes.marks.len()).map(Self::Mark)).collect()
    }

    /// What it is called; nothing of a notch.
    pub fn name(self, notes: &PieceNotes) -> &str {
        match self {
            Self::Dart(k) => &notes.darts[k].name,
            Self::Pleat(k) => &notes.pleats[k].name,
            Self::Gather(k) => &notes.gathers[k].name,
            Self::Mark(k) => &notes.marks[k].name,
            Self::Notch(_) => "",
        }
    }

    /// Whether it is on the half alone that it was seen on.
    pub fn once(self, notes: &PieceNotes) -> bool {
        match self {
            Self::Dart(k) => notes.darts[k].once,
            Self::Pleat(k) => notes.pleats[k].once,
            Self::Gather(k) => notes.gathers[k].once,
            Self::Notch(k) => notes.notches[k].once,
            Self::Mark(k) => notes.marks[k].once,
        }
    }

    /// The edge that its note names, where it names one.
    pub fn edge(self, notes: &PieceNotes) -> Option<&str> {
        match self {
            Self::Pleat(k) => Some(&notes.pleats[k].edge),
            Self::Gather(k) => Some(&notes.gathers[k].edge),
            Self::Notch(k) => Some(&notes.notches[k].edge),
            Self::Dart(_) | Self::Mark(_) => None,
        }
    }

    /// Its number among those of its kind.
    pub fn number(self) -> usize {
        let (Self::Dart(k) | Self::Pleat(k) | Self::Gather(k) | Self::Notch(k) | Self::Mark(k)) = self;
        k
    }

    /// Whether two are of one kind.
    pub fn like(self, other: Self) -> bool {
        std::mem::discriminant(&self) == std::mem::discriminant(&other)
    }

    /// All its places.
    pub fn places(self, pins: &Pins) -> Vec<Option<Point>> {
        match self {
            Self::Dart(k) => pins.legs[k].iter().chain(&pins.points[k]).copied().collect(),
            Self::Pleat(k) => pins.pleats[k].iter().chain(pins.folds[k].iter().flatten()).chain(&pins.pivots[k]).copied().collect(),
            Self::Gather(k) => pins.gathers[k].iter().flatten().copied().collect(),
            Self::Notch(k) => vec![pins.notches[k]],
            Self::Mark(k) => vec![pins.marks[k]],
        }
    }

    /// Its places as they are in the order of its mirror image, whose first leg or end is the other one.
    pub fn turned(self, pins: &Pins) -> Vec<Option<Point>> {
        let mut own = pins.clone();
        match self {
            Self::Dart(k) => own.legs[k].reverse(),
            Self::Pleat(k) => {
                own.pleats[k].reverse();
                own.folds[k].reverse();
                own.folds[k].iter_mut().for_each(|f| f.reverse());
                own.pivots[k].reverse();
            }
            Self::Gather(k) => own.gathers[k].iter_mut().for_each(|g| g.reverse()),
            Self::Notch(_) | Self::Mark(_) => {}
        }
        self.places(&own)
    }

    /// Moves its places, in the order in which they are told.
    pub fn put(self, pins: &mut Pins, places: &[Option<Point>]) {
        let own: Vec<&mut Option<Point>> = match self {
            Self::Dart(k) => pins.legs[k].iter_mut().chain(&mut pins.points[k]).collect(),
            Self::Pleat(k) => pins.pleats[k].iter_mut().chain(pins.folds[k].iter_mut().flatten()).chain(&mut pins.pivots[k]).collect(),
            Self::Gather(k) => pins.gathers[k].iter_mut().flatten().collect(),
            Self::Notch(k) => vec![&mut pins.notches[k]],
            Self::Mark(k) => vec![&mut pins.marks[k]],
        };
        own.into_iter().zip(places).for_each(|(own, place)| *own = *place);
    }

    /// What both take in becomes the mean of both where both say it, or else what this one takes in.
    pub fn share(self, other: Self, notes: &mut PieceNotes, mean: bool) {
        let one = |a: Option<Length>, b: Option<Length>| match (a, b) {
            (Some(a), Some(b)) if mean => Some(Length::from_mm((a.mm() + b.mm()) / 2.0)),
            _ => a.or(b),
        };
        match (self, other) {
            (Self::Dart(a), Self::Dart(b)) => {
                let intake = one(notes.darts[a].intake, notes.darts[b].intake);
                [a, b].into_iter().for_each(|k| notes.darts[k].intake = intake);
            }
            (Self::Pleat(a), Self::Pleat(b)) => {
                let depth = one(Some(notes.pleats[a].depth), Some(notes.pleats[b].depth));
                [a, b].into_iter().for_each(|k| notes.pleats[k].depth = depth.unwrap_or(notes.pleats[k].depth));
            }
            (Self::Gather(a), Self::Gather(b)) => {
                let sewn = one(notes.gathers[a].sewn, notes.gathers[b].sewn);
                let full = one(notes.gathers[a].full, notes.gathers[b].full);
                [a, b].into_iter().for_each(|k| (notes.gathers[k].sewn, notes.gathers[k].full) = (sewn, full));
            }
            _ => {}
        }
    }

    /// Takes it off the piece.
    pub fn forget(self, (notes, pins): (&mut PieceNotes, &mut Pins)) {
        let k = self.number();
        let lines = match self {
            Self::Dart(_) => {
                notes.darts.remove(k);
                pins.legs.remove(k);
                pins.points.remove(k);
                &mut notes.lines.darts
            }
            Self::Pleat(_) => {
                notes.pleats.remove(k);
                pins.pleats.remove(k);
                pins.folds.remove(k);
                pins.pivots.remove(k);
                &mut notes.lines.pleats
            }
            Self::Gather(_) => {
                notes.gathers.remove(k);
                pins.gathers.remove(k);
                &mut notes.lines.gathers
            }
            Self::Notch(_) => {
                notes.notches.remove(k);
                pins.notches.remove(k);
                &mut notes.lines.notches
            }
            Self::Mark(_) => {
                notes.marks.remove(k);
                pins.marks.remove(k);
                &mut notes.lines.marks
            }
        };
        if k < lines.len() {
            lines.remove(k);
        }
    }

    /// Adds the same thing on the other half, where `mirror` lays it; what has a name is called `name`, edges by what `edge` calls them there.
    pub fn again(self, (notes, pins): (&mut PieceNotes, &mut Pins), mirror: Affine, name: String, edge: &dyn Fn(&str) -> String) {
        let lies = |p: &Option<Point>| p.map(|p| mirror * p);
        match self {
            Self::Dart(k) => {
                let own = notes.darts[k].clone();
                notes.darts.push(crate::notes::Dart { name, gives: own.gives.as_deref().map(edge), ..own });
                same_line(&mut notes.lines.darts, k);
                pins.legs.push(pins.legs[k].iter().map(lies).collect());
                pins.points.push(pins.points[k].each_ref().map(lies));
            }
            Self::Pleat(k) => {
                let own = notes.pleats[k].clone();
                let laid = own.laid.map(across);
                let (edge, across) = (edge(&own.edge), own.across.as_deref().map(edge));
                notes.pleats.push(crate::notes::Pleat { name, edge, across, laid, ..own });
                same_line(&mut notes.lines.pleats, k);
                pins.pleats.push(pins.pleats[k].each_ref().map(lies));
                pins.folds.push(pins.folds[k].iter().map(|f| f.each_ref().map(lies)).collect());
                pins.pivots.push(pins.pivots[k].iter().map(lies).collect());
            }
            Self::Gather(k) => {
                let own = notes.gathers[k].clone();
                let (edge, across) = (edge(&own.edge), own.across.as_deref().map(edge));
                notes.gathers.push(crate::notes::Gather { name, edge, across, ..own });
                same_line(&mut notes.lines.gathers, k);
                pins.gathers.push(pins.gathers[k].as_ref().map(|ends| ends.each_ref().map(lies)));
            }
            Self::Notch(k) => {
                let own = notes.notches[k].clone();
                let from = own.from.as_deref().map(swapped);
                notes.notches.push(crate::notes::Notch { edge: edge(&own.edge), from, ..own });
                same_line(&mut notes.lines.notches, k);
                pins.notches.push(lies(&pins.notches[k]));
            }
            Self::Mark(k) => {
                let own = notes.marks[k].clone();
                notes.marks.push(crate::notes::PieceMark { name, ..own });
                same_line(&mut notes.lines.marks, k);
                pins.marks.push(lies(&pins.marks[k]));
            }
        }
    }
}

/// What is on the other half too stands in the line of what is on this one.
fn same_line(lines: &mut Vec<InLine>, k: usize) {
    lines.push(PieceLines::of(lines, k));
}

/// Which way a pleat is laid in its mirror image.
fn across(laid: Laid) -> Laid {
    match laid {
        Laid::Left => Laid::Right,
        Laid::Right => Laid::Left,
        as_it_is => as_it_is,
    }
}
