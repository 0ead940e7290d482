//! What a cutter checks before the cloth is cut, each with what was found.

use super::balance::{Balance, balance};
use super::draft::Piece;
use super::halves::swapped;
use super::roughness::rough;
use super::truing::{Joined, NotWalked, Verdict, piece_notes};
use super::{Down, How, Line, Pairs, alike, centre, halves};
use crate::notes::{Called, EdgeIs, GrainAlong, JoinSide, Notes};
use std::borrow::Borrow;

/// How a check came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// In order.
    Good,
    /// Something to look at.
    Look,
    /// It cannot be told from the records; a person checks it.
    ByHand,
}

/// One check.
#[derive(Clone, Debug, PartialEq)]
pub struct Check {
    /// Short fixed code for files.
    pub code: &'static str,
    /// What is checked.
    pub what: &'static str,
    /// How it came out.
    pub outcome: Outcome,
    /// What was found, a sentence each.
    pub found: Vec<String>,
}

/// Left and right of a laid garment differ by some millimetres; beyond this it is told, mm (1/4 in, as flat widths are
/// tolerated; propercloth.com, accepted tolerances).
const HALVES_DIFFER: f64 = 6.35;
/// The middle of a level further beside the centre line than this is told, mm: half of what both sides may differ by.
const LEVEL_OFF: f64 = HALVES_DIFFER / 2.0;
/// An edge that may be out by more is told, mm: 1/16 in.
const EDGE_SURE: f64 = 1.5875;
/// A marked centre turned further than this from the halved widths is told, degrees: 3 mm on 600. Common practice, no source.
const TURNED: f64 = 0.3;
/// A right angle at the fold within this, degrees. Common practice, no source.
const RIGHT: f64 = 2.0;
/// Beyond it the point at the fold is meant, degrees.
const MEANT: f64 = 20.0;

/// All checks in the order of the work.
pub fn checks<P: Borrow<Piece>>(notes: &Notes, pieces: &[P], joins: &[Result<Joined, NotWalked>]) -> Vec<Check> {
    let pieces: &[&Piece] = &pieces.iter().map(Borrow::borrow).collect::<Vec<_>>();
    let walked: Vec<&Joined> = joins.iter().flatten().collect();
    let mut out = vec![list(notes, pieces), lengths(&walked, joins)];
    // Of what is not there nothing is said to be good.
    if !walked.is_empty() {
        out.extend([notches(&walked), smooth(&walked), allowances(notes)]);
    }
    out.extend(folds(notes, pieces));
    out.extend(sides(notes, pieces));
    out.extend(pairs(pieces));
    out.extend([grain(notes, pieces), sure(pieces)]);
    out.extend(cautions(notes));
    out.push(Check {
        code: "printed-square",
        what: "The printed square measures 100 mm across and down, and a test is cut first in cheap cloth.",
        outcome: Outcome::ByHand,
        found: Vec::new(),
    });
    out
}

fn check(code: &'static str, what: &'static str, found: Vec<String>) -> Check {
    Check { code, what, outcome: if found.is_empty() { Outcome::Good } else { Outcome::Look }, found }
}

fn list(notes: &Notes, pieces: &[&Piece]) -> Check {
    let mut found = Vec::new();
    for (name, known) in &notes.pieces {
        if !pieces.iter().any(|p| alike(&p.name, name)) {
            found.push(match &known.from {
                Some(from) => format!("{name} is to be derived from {from} and was not."),
                None => format!("{name} stands in the notes and was not traced."),
            });
        }
        // What is derived is cut as its piece unless its own notes say otherwise.
        let theirs = || known.from.as_ref().and_then(|from| piece_notes(&notes.pieces, from)).and_then(|of| of.cut.as_ref());
        match known.cut.as_ref().or_else(theirs) {
            None => found.push(format!("The notes do not say how many of {name} are cut.")),
            Some(cut) if cut.count > 1 && !cut.mirrored => {
                found.push(format!("{name} is cut {} times and the notes do not say whether mirrored: \"{}\".", cut.count, cut.words));
            }
            Some(_) => {}
        }
    }
    for p in pieces.iter().filter(|p| piece_notes(&notes.pieces, &p.name).is_none()) {
        found.push(format!("{} was traced and the notes do not say how many are cut.", p.name));
    }
    check("pieces", "Every piece of the list is there, with how many are cut; pairs are mirrored.", found)
}

fn lengths(walked: &[&Joined], joins: &[Result<Joined, NotWalked>]) -> Check {
    let mut found: Vec<String> = joins.iter().filter_map(|j| j.as_ref().err()).map(|e| format!("{e}.")).collect();
    for j in walked {
        let [a, b] = &j.sides;
        match j.verdict {
            Verdict::Off => found.push(format!(
                "{a} is {} than {b}, {} asked; it may be off by {:.1} mm.",
                longer(j.difference()),
                if j.ease.value == 0.0 { "equal lengths are".into() } else { format!("{:.1} mm more is", j.ease.value) },
                j.tolerance.value
            )),
            Verdict::Ease if j.difference() < 0.0 => {
                found.push(format!("{a} is {} than {b}: a cap can't be eased in.", longer(j.difference())))
            }
            Verdict::Ease => found.push(format!("{a} is {} than {b}, a great deal to ease in.", longer(j.difference()))),
            Verdict::Stretch => {
                let [needed, there] = [j.stretched(), j.stretches].map(|s| 100.0 * s.unwrap_or_default());
                found.push(format!(
                    "{a} to {b}: the band is stretched by {needed:.0} %, and its cloth stretches by no more than {there:.0} %."
                ));
            }
            Verdict::Loose => {
                let [long, over] = [j.relaxed, j.band_over()].map(Option::unwrap_or_default);
                found.push(format!(
                    "{a} to {b}: the band, {long:.1} mm relaxed, is {over:.1} mm longer than its edge; note what draws it up (gathers, elastic, ease), or measure it again."
                ));
            }
            Verdict::True => {}
        }
        found.extend(j.sections_off.iter().map(|(k, d)| format!("{a} to {b}: section {k} is off by {d:+.1} mm between its notches.")));
    }
    if joins.is_empty() {
        let say = "The notes name no joins; write [[join]] with edges = [\"front: side left\", \"back: side left\"].";
        return Check { outcome: Outcome::ByHand, ..check("lengths", LENGTHS, vec![say.into()]) };
    }
    check("lengths", LENGTHS, found)
}

const LENGTHS: &str = "Edges that are sewn together are equally long, or as much longer as they are eased; a band is as long as its edge, or is stretched to it.";

fn longer(difference: f64) -> String {
    format!("{:.1} mm {}", difference.abs(), if difference < 0.0 { "shorter" } else { "longer" })
}

fn notches(walked: &[&Joined]) -> Check {
    if walked.iter().all(|j| j.walked.notches == [0, 0]) {
        let say = "The notes name no notches; write [[piece.front.notch]] with edge and at, or mark them by hand.";
        return Check { outcome: Outcome::ByHand, ..check("notches", NOTCHES, vec![say.into()]) };
    }
    let unlike = walked.iter().filter(|j| j.walked.notches[0] != j.walked.notches[1]);
    let found =
        unlike.map(|j| format!("{} has {} and {} has {}.", j.sides[0], count(j.walked.notches[0]), j.sides[1], count(j.walked.notches[1])));
    check("notches", NOTCHES, found.collect())
}

const NOTCHES: &str = "Notches on both sides of a seam answer one another.";

fn count(n: usize) -> String {
    match n {
        0 => "none noted or drawn".into(),
        1 => "1 notch".into(),
        n => format!("{n} notches"),
    }
}

fn smooth(walked: &[&Joined]) -> Check {
    let found = rough(walked).into_iter().map(|r| {
        let x = r.across;
        let others = match r.others {
            0 => String::new(),
            n => format!(" (and at {n} more like it)"),
        };
        format!(
            "{} to {}: at {} the lines of {} and {} make a {} of {:.0}° across the seam{others}.",
            r.sides[0],
            r.sides[1],
            x.corner,
            x.edges[0],
            x.edges[1],
            x.makes(),
            x.bend_deg.abs()
        )
    });
    check("smooth", "With the seams closed, neck, armholes and hem run on without a point or a dent, worst first.", found.collect())
}

fn allowances(notes: &Notes) -> Check {
    let of = |side: &JoinSide| -> Vec<Option<f64>> {
        // What is sewn is a seam, whatever else it is.
        let one = |e: &crate::notes::EdgeName| {
            let piece = piece_notes(&notes.pieces, &e.piece)?;
            Some(piece.allowance_of(&Called::of(&e.edge, Some(EdgeIs::Seam.word()), piece.kind))?.1.mm())
        };
        side.0.iter().map(one).collect()
    };
    let mut found = Vec::new();
    for join in &notes.joins {
        let [a, b] = &join.edges;
        let all: Vec<Option<f64>> = of(a).into_iter().chain(of(b)).collect();
        let known: Vec<f64> = all.iter().flatten().copied().collect();
        if known.len() < all.len() {
            found.push(format!("{a} to {b}: an allowance is not chosen."));
        } else if known.iter().any(|w| (w - known[0]).abs() > 0.05) {
            let list: Vec<String> = known.iter().map(|w| format!("{w:.1}")).collect();
            found.push(format!("{a} to {b}: the allowances differ, {} mm.", list.join(" and ")));
        }
    }
    check("allowances", "Allowances that are sewn together are equally wide.", found)
}

fn folds(notes: &Notes, pieces: &[&Piece]) -> Option<Check> {
    let on_fold = |p: &&&Piece| piece_notes(&notes.pieces, &p.name).and_then(|n| n.cut.as_ref()).is_some_and(|c| c.on_fold);
    if !pieces.iter().any(|p| on_fold(&p)) {
        return None;
    }
    let mut found = Vec::new();
    for p in pieces.iter().filter(on_fold) {
        let layer = p.drafted();
        if layer.edges.iter().any(|e| e.line == Line::Fold) {
            continue;
        }
        let Some(both) = centre(layer, &Pairs::of(layer)).and_then(|c| halves(layer, &c).ok()) else {
            found.push(format!("{} is cut on the fold and its centre line was not found.", p.name));
            continue;
        };
        for m in both.iter().flat_map(|h| &h.meets) {
            let off = (m.angle_deg - 90.0).abs();
            if off > RIGHT && off < MEANT {
                found.push(format!(
                    "{}: {} meets the fold at {:.0}°, so the opened piece has a point or a dent there.",
                    p.name, m.edge, m.angle_deg
                ));
            }
        }
    }
    Some(check("folds", "Edges meet the fold at right angles.", found))
}

/// As found: of a half that is kept there is nothing left to compare.
fn sides(notes: &Notes, pieces: &[&Piece]) -> Option<Check> {
    let known = pieces.iter().filter_map(|p| Some((p, balance(p.found(), piece_notes(&notes.pieces, &p.name))?)));
    let known: Vec<(&&Piece, Balance)> = known.collect();
    if known.is_empty() {
        return None;
    }
    let mut found = Vec::new();
    for (p, b) in known {
        if let Some((off, turned)) = b.marked.filter(|(off, turned)| off.abs() > EDGE_SURE || turned.abs() > TURNED) {
            found.push(format!(
                "{}: the marked centre lies {:.1} mm beside the middle of the widths and turns {:.1}° from it.",
                p.name,
                off.abs(),
                turned.abs()
            ));
        }
        for level in b.centre.levels.iter().filter(|l| l.off.abs() > LEVEL_OFF) {
            found.push(format!(
                "{}: at {} the middle of the width lies {:.1} mm beside the centre line.",
                p.name,
                level.name,
                level.off.abs()
            ));
        }
        let d = &b.difference;
        if d.most > HALVES_DIFFER {
            found.push(format!("{}: left and right differ by up to {:.1} mm, {:.1} mm in the mean.", p.name, d.most, d.mean));
        }
    }
    Some(check("left-and-right", "Left and right are alike, or meant to differ.", found))
}

/// A left piece and a right one of the same name, edge by edge, each against the other's mirror image.
fn pairs(pieces: &[&Piece]) -> Option<Check> {
    let other = |p: &Piece| pieces.iter().find(|q| alike(&q.name, &swapped(&p.name))).copied();
    let is_left = |p: &&&Piece| p.name.to_lowercase().split(' ').any(|w| w == "left");
    let both: Vec<(&Piece, &Piece)> = pieces.iter().filter(is_left).filter_map(|p| Some((*p, other(p)?))).collect();
    if both.is_empty() {
        return None;
    }
    let mut found = Vec::new();
    for (left, right) in both {
        for e in &left.drafted().edges {
            let theirs = right.drafted().edge(&swapped(&e.name)).or_else(|| right.drafted().edge(&e.name));
            match theirs.map(|k| e.length() - right.drafted().edges[k].length()) {
                None => found.push(format!("{} has no edge that answers {} of {}.", right.name, e.name, left.name)),
                Some(d) if d.abs() > EDGE_SURE => {
                    found.push(format!("{}: {} is {} than that of {}.", left.name, e.name, longer(d), right.name))
                }
                Some(_) => {}
            }
        }
    }
    Some(check("pairs", "Left and right pieces are one another's mirror images.", found))
}

fn grain(notes: &Notes, pieces: &[&Piece]) -> Check {
    // A facing or lining lies as the piece it comes from.
    let own = |p: &&&Piece| piece_notes(&notes.pieces, &p.name).is_none_or(|n| n.from.is_none());
    let found = pieces.iter().filter(own).filter_map(|p| {
        let Some(known) = piece_notes(&notes.pieces, &p.name).and_then(|n| n.grain.as_ref()) else {
            return Some(format!("{}: the grain is not recorded.", p.name));
        };
        // Where the draft laid it; of lines that were never laid, where it would.
        let placed = p.down().map_or_else(|| super::grain(p.drafted(), Some(known)).is_some(), |down| down == Down::Grain);
        match &known.along {
            _ if placed => None,
            GrainAlong::Edge(e) => Some(format!("{}: the grain is said to follow {e}, which it has not.", p.name)),
            GrainAlong::Centre => Some(format!("{}: the grain is said to follow its centre line, which was not found.", p.name)),
            GrainAlong::Spots(_) => Some(format!("{}: the places between which the grain is said to run are not on it.", p.name)),
        }
    });
    check("grain", "Every piece has its grain line.", found.collect())
}

fn sure(pieces: &[&Piece]) -> Check {
    let edges = pieces.iter().flat_map(|p| p.drafted().edges.iter().map(move |e| (p, e)));
    let found = edges.filter_map(|(p, e)| match (e.how, e.bound) {
        (How::Assumed, _) => Some(format!("{}: {} was not seen; it is assumed.", p.name, e.name)),
        (How::Seen | How::Noted, Some(b)) if b > EDGE_SURE => Some(format!("{}: {} may be out by {b:.1} mm.", p.name, e.name)),
        _ => None,
    });
    check("edges", "Every edge was seen and is known to a sixteenth of an inch.", found.collect())
}

/// Words that tell of work where clothes can hurt someone; local rules come first.
fn cautions(notes: &Notes) -> Vec<Check> {
    let g = &notes.garment;
    let text =
        [&g.name, &g.kind, &g.materials, &g.remarks, &g.size].into_iter().flatten().map(|t| t.to_lowercase()).collect::<Vec<_>>().join(" ");
    let says = |words: &[&str]| words.iter().any(|w| text.contains(w));
    let by_hand = |code, what| Check { code, what, outcome: Outcome::ByHand, found: Vec::new() };
    let mut out = Vec::new();
    let child = g.child || says(&["child", "baby", "infant", "toddler"]);
    if child {
        out.push(by_hand("cords", "Children's clothes: no cords or drawstrings at hood and neck, at the waist and hem short and without knots or toggles; the rules (such as EN 14682, ASTM F1816) differ from place to place and with age, and come first."));
    }
    if child && says(&["sleep", "night", "pyjama", "pajama"]) {
        out.push(by_hand("sleepwear", "Children's sleepwear: some places ask for flame tests unless it fits tightly by given largest measures (US 16 CFR 1615 and 1616); a copy with added ease can lose that. Ask before it is made."));
    }
    if says(&["protective", "flame", "fire", "hi-vis", "high visibility", "chainsaw", "welding", "ppe"]) {
        out.push(by_hand("protective", "Protective clothing: a copied outline carries none of the protection; such clothes are tested and supplied under rules of their own (EU 2016/425 and others). Ask those who certify it."));
    }
    out.push(by_hand("rights", "Designs: a cut is free in many places, prints and some shapes are protected in some (unregistered design rights last 3 to 15 years); for anything sold ask first, local law decides."));
    out
}
