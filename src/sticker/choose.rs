//! Which of the round or pointed spots are the marks that were meant.
//!
//! Marks of one group come from one packet: of one colour, alike in size. A colour that is also found in spots of other shapes is
//! print, and discs on the nodes of the sheet are its own dots.

use super::Mark;
use super::spots::Spot;
use crate::grid::Lattice;
use crate::notes::{MarkColour, MarksNotes};
use crate::solve::median;
use std::collections::BTreeMap;

/// A mark that a spot may be.
pub(super) struct Candidate {
    pub mark: Mark,
    /// Number of its colour among the rare ones.
    pub colour: u8,
    /// Area of its spot.
    pub area: f64,
}

/// Sizes of one packet differ by no more than this share.
const ALIKE: f64 = 0.25;
/// Least share of a colour's spots of about a mark's size or more that the marks must be.
const PURE: f64 = 0.6;
/// A spot smaller than this share of a mark is a fleck.
const FLECK: f64 = 0.3;
/// Distance from a node of the sheet within which a disc lies on it, mm, and how many there are when they are the sheet's dots.
const AT_NODE: f64 = 1.2;
const DOTS: usize = 6;

/// The marks among the candidates. When several colours would do, the one that is there as often as there are names is taken.
pub(super) fn choose(candidates: Vec<Candidate>, spots: &[Spot], asked: &MarksNotes, lattice: &Lattice) -> Vec<Mark> {
    let mut packets: BTreeMap<u8, Vec<Candidate>> = BTreeMap::new();
    for c in candidates.into_iter().filter(|c| asked.colour.is_none_or(|called| is_called(c.mark.colour, called))) {
        packets.entry(c.colour).or_default().push(c);
    }
    let packets: Vec<Vec<Mark>> = packets.into_iter().filter_map(|(colour, all)| packet(colour, all, spots, lattice)).collect();
    let (all, named) = (packets.iter().map(Vec::len).sum::<usize>(), asked.names.len());
    let mut fitting = packets.iter().filter(|p| p.len() == named);
    if named > 0
        && all != named
        && let (Some(one), None) = (fitting.next(), fitting.next())
    {
        return one.clone();
    }
    packets.into_iter().flatten().collect()
}

/// The marks of one colour; `None` when it is print or the sheet's own.
fn packet(colour: u8, all: Vec<Candidate>, spots: &[Spot], lattice: &Lattice) -> Option<Vec<Mark>> {
    let usual = median(&mut all.iter().map(|c| c.mark.across).collect::<Vec<_>>())?;
    let alike = |c: &Candidate| (c.mark.across / usual - 1.0).abs() <= ALIKE;
    let kept: Vec<Candidate> = all.into_iter().filter(alike).collect();
    let middle = median(&mut kept.iter().map(|c| c.area).collect::<Vec<_>>())?;
    let like = spots.iter().filter(|s| s.colour == colour && s.area >= FLECK * middle).count();
    let at_node = kept.iter().filter(|c| lies_at_node(&c.mark, lattice)).count();
    let dots = at_node >= DOTS && 2 * at_node > kept.len();
    (kept.len() as f64 >= PURE * like as f64 && !dots).then(|| kept.into_iter().map(|c| c.mark).collect())
}

fn lies_at_node(mark: &Mark, lattice: &Lattice) -> bool {
    let off = |v: f64, pitch: f64| if pitch > 0.0 { v - (v / pitch).round() * pitch } else { f64::INFINITY };
    off(mark.at.x, lattice.pitch[0]).hypot(off(mark.at.y, lattice.pitch[1])) < AT_NODE
}

/// Whether a colour (sRGB bytes) goes by an everyday name. Neighbouring names overlap, as they do among people and lamps.
pub(super) fn is_called(rgb: [u8; 3], called: MarkColour) -> bool {
    let [r, g, b] = rgb.map(f64::from);
    let (most, least) = (r.max(g).max(b), r.min(g).min(b));
    let range = (most - least).max(1.0);
    // The hue angle of the hexagon of colours.
    let hue = 60.0
        * if most == r {
            ((g - b) / range).rem_euclid(6.0)
        } else if most == g {
            (b - r) / range + 2.0
        } else {
            (r - g) / range + 4.0
        };
    let within = |from: f64, to: f64| (from..=to).contains(&hue) || (from..=to).contains(&(hue - 360.0));
    let pale = least > 0.35 * most;
    match called {
        MarkColour::Red => within(-25.0, 18.0),
        MarkColour::Orange => within(12.0, 46.0),
        MarkColour::Yellow => within(40.0, 74.0),
        MarkColour::Green => within(70.0, 185.0),
        MarkColour::Blue => within(175.0, 262.0),
        MarkColour::Purple => within(250.0, 315.0),
        MarkColour::Pink => within(-65.0, -15.0) || pale && within(-25.0, 20.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Keywords of CSS Color 4 (W3C), which are everyday names.
    #[test]
    fn colours_go_by_their_names() {
        let names = [
            ([255, 0, 0], MarkColour::Red),
            ([220, 20, 60], MarkColour::Red),
            ([255, 165, 0], MarkColour::Orange),
            ([255, 255, 0], MarkColour::Yellow),
            ([0, 128, 0], MarkColour::Green),
            ([50, 205, 50], MarkColour::Green),
            ([0, 0, 255], MarkColour::Blue),
            ([30, 144, 255], MarkColour::Blue),
            ([128, 0, 128], MarkColour::Purple),
            ([255, 105, 180], MarkColour::Pink),
            ([255, 182, 193], MarkColour::Pink),
        ];
        for (rgb, name) in names {
            assert!(is_called(rgb, name), "{rgb:?} {name:?}");
        }
        assert!(!is_called([255, 0, 0], MarkColour::Green) && !is_called([0, 0, 255], MarkColour::Red));
    }
}
