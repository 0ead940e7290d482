//! A piece as it is printed: its lines, notches and marks, the line to tape after assembly, its label, and words along its edges.
//! Words go where nothing else stands; what finds no room is given back, to be told beside the piece.

use super::label;
use super::pens;
use super::piece::{EdgeWords, LineKind, Pattern, PatternLine, PatternPiece};
use super::room::{Room, spans, straight};
use crate::length::Length;
use crate::piece::Walk;
use crate::write::page::{Drawing, Ink, Item, Letters};
use kurbo::{Affine, BezPath, Circle, Line as Straight, Point, Rect, Shape, Vec2};

/// Sizes of words along edges, mm: read at arm's length, and the least that is legible.
const EDGE_SIZES: [f64; 2] = [3.2, 2.5];
/// What words stand clear of their edge, mm: a little more where that is too near for cells along a slanting edge, and a line further in where
/// other words stand along it.
const OFF_EDGE: [f64; 3] = [2.5, 4.0, 8.5];
/// Where along an edge words are tried, as shares of its length.
const PLACES: [f64; 11] = [0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74, 0.2, 0.8, 0.13, 0.87];
/// What the line to be taped stays off the piece's ends, mm.
const OFF_END: f64 = 15.0;
/// What stays clear at either side of it, mm, and less where the piece is too narrow.
const ASIDE: [f64; 3] = [20.0, 8.0, 0.0];
/// What it stays off strips where pages are joined, mm: room for its words.
const OFF_JOINT: f64 = 8.0;
/// What it stays off placement marks, mm.
const OFF_MARK: f64 = 9.0;
/// Radius of a dart's point, mm.
const TIP: f64 = 0.9;
/// Length and half width of an arrow's head, mm.
const HEAD: [f64; 2] = [5.0, 1.2];

/// A piece as it is printed.
pub(super) struct Dressed {
    pub drawing: Drawing,
    /// Words that found no room on it.
    pub homeless: Vec<String>,
}

/// Draws piece `k` of a pattern: its lines first, then its notches, then the rest. Words keep clear of `joints`, where pages are joined,
/// when they find room elsewhere.
pub(super) fn dressed(pattern: &Pattern, k: usize, letters: &Letters, joints: &[BezPath]) -> Dressed {
    let piece = &pattern.pieces[k];
    let room = Room::within(&piece.outer);
    let mut calm = room.clone();
    joints.iter().for_each(|j| calm.take_filled(j));
    let mut at = Desk { out: Drawing::default(), room, calm, letters, homeless: Vec::new() };
    for line in &piece.lines {
        at.stroke(line);
    }
    for notch in &piece.notches {
        at.put(Item::Stroke { path: notch.path.clone(), pen: pens::notch(notch) });
    }
    piece.lines.iter().filter(|l| l.kind == LineKind::Fold).for_each(|l| at.fold(l));
    for mark in &piece.marks {
        at.mark(mark.at, &mark.words);
    }
    for tip in &piece.tips {
        at.put(Item::Fill { path: Circle::new(*tip, TIP).to_path(0.01), ink: Ink::BLACK });
    }
    for [from, tip] in &piece.arrows {
        at.arrow(*from, *tip);
    }
    let taped = at.grain(piece, joints);
    at.label(&label::lines(pattern, k, taped), piece);
    for words in &piece.edge_words {
        at.along(words);
    }
    Dressed { drawing: at.out, homeless: at.homeless }
}

/// What is drawn so far, and where there is room.
struct Desk<'a> {
    out: Drawing,
    room: Room,
    /// The same without the strips where pages are joined.
    calm: Room,
    letters: &'a Letters<'a>,
    homeless: Vec<String>,
}

impl Desk<'_> {
    fn put(&mut self, item: Item) {
        self.room.take(&item, self.letters);
        self.calm.take(&item, self.letters);
        self.out.items.push(item);
    }

    /// Words at the first of several places where nothing stands, those away from joints before the others.
    fn words(&mut self, places: &[Standing], text: &str) -> bool {
        let set = |p: &Standing| {
            let mut one = Drawing::default();
            one.words_about(self.letters, p.middle, p.size, p.turn, text);
            one
        };
        let free = |room: &Room, d: &Drawing| d.items.iter().all(|i| matches!(i, Item::Words(w) if room.is_free(&w.outline(self.letters))));
        let all: Vec<Drawing> = places.iter().map(set).collect();
        let found = [&self.calm, &self.room].into_iter().find_map(|room| all.iter().find(|d| free(room, d)));
        let Some(found) = found.cloned() else { return false };
        found.items.into_iter().for_each(|i| self.put(i));
        true
    }

    fn stroke(&mut self, line: &PatternLine) {
        self.put(Item::Stroke { path: line.path.clone(), pen: pens::of(line) });
    }

    /// The bracket of a place on the fold: two arrows that point at it.
    fn fold(&mut self, line: &PatternLine) {
        let walk = Walk::of(&line.path);
        let long = walk.length();
        let [a, b] = [0.25, 0.75].map(|t| (walk.at(long * t), walk.along(long * t).turn_90()));
        let inside = (long * 0.1).min(12.0);
        let [p, q] = [a, b].map(|(p, into)| p + into * inside);
        for (tip, from) in [(a.0, p), (b.0, q)] {
            self.arrow(from, tip);
        }
        self.put(Item::Stroke { path: Straight::new(p, q).to_path(0.1), pen: pens::FINE });
    }

    /// A line with a head at its end.
    fn arrow(&mut self, from: Point, tip: Point) {
        self.put(Item::Stroke { path: Straight::new(from, tip).to_path(0.1), pen: pens::FINE });
        self.put(Item::Fill { path: head(from, tip), ink: Ink::BLACK });
    }

    /// A placement mark: a small cross in a ring, its words beside it.
    fn mark(&mut self, at: Point, words: &str) {
        for way in [Vec2::new(3.0, 0.0), Vec2::new(0.0, 3.0)] {
            self.put(Item::Stroke { path: Straight::new(at - way, at + way).to_path(0.1), pen: pens::FINE });
        }
        self.put(Item::Stroke { path: Circle::new(at, 1.5).to_path(0.01), pen: pens::FINE });
        let size = EDGE_SIZES[1];
        let off = self.letters.width(words, size) / 2.0 + 5.5;
        let tries = [Vec2::new(off, 0.0), Vec2::new(-off, 0.0), Vec2::new(0.0, 6.5), Vec2::new(0.0, -6.5)];
        if !self.words(&tries.map(|way| Standing { middle: at + way, size, turn: 0.0 }), words) {
            self.homeless.push(words.to_owned());
        }
    }

    /// The arrow along the grain, or a plain line where the grain was not recorded, with its true length; that length, mm.
    fn grain(&mut self, piece: &PatternPiece, joints: &[BezPath]) -> Option<f64> {
        let along = piece.grain.unwrap_or(Vec2::new(0.0, 1.0));
        let marks: Vec<Point> = piece.marks.iter().map(|m| m.at).collect();
        let (from, to) = longest(&piece.outer, &marks, joints, along)?;
        let long = from.distance(to);
        self.put(Item::Stroke { path: Straight::new(from, to).to_path(0.1), pen: pens::FINE });
        for (tip, other) in [(from, to), (to, from)] {
            let path = if piece.grain.is_some() { head(other, tip) } else { bar(tip, along) };
            self.put(match piece.grain {
                Some(_) => Item::Fill { path, ink: Ink::BLACK },
                None => Item::Stroke { path, pen: pens::FINE },
            });
        }
        let said = format!("{long:.0} mm, {}", Length::from_mm(long).sixteenths());
        let words = if piece.grain.is_some() { format!("grain, {said} from tip to tip") } else { format!("check line, {said}") };
        // Read from the right, as turned drawings are.
        let up = if along.y.abs() >= along.x.abs() { -along * along.y.signum() } else { along * along.x.signum() };
        let turn = up.y.atan2(up.x);
        let aside = Vec2::new(up.y, -up.x) * -1.0;
        let beside = |size: f64, share: f64, side: f64| {
            let middle = from.lerp(to, share) + aside * (side * (size * 0.5 + OFF_EDGE[0]));
            Standing { middle, size, turn }
        };
        let places =
            EDGE_SIZES.into_iter().flat_map(|size| PLACES.into_iter().flat_map(move |share| [-1.0, 1.0].map(|s| (size, share, s))));
        let places: Vec<Standing> = places.map(|(size, share, side)| beside(size, share, side)).collect();
        if !self.words(&places, &words) {
            self.homeless.push(words);
        }
        Some(long)
    }

    fn label(&mut self, lines: &[label::Line], piece: &PatternPiece) {
        let (placed, kept) = label::placed(lines, [&self.calm, &self.room], piece.extent().center(), self.letters);
        placed.items.into_iter().for_each(|i| self.put(i));
        self.homeless.extend(lines.iter().skip(kept.max(1)).map(|l| l.text.clone()));
    }

    /// Words along the inside of an edge, where there is room for them.
    fn along(&mut self, edge: &EdgeWords) {
        let walk = Walk::of(&edge.path);
        let long = walk.length();
        let mut places = Vec::new();
        for size in EDGE_SIZES {
            let wide = self.letters.width(&edge.words, size);
            if wide <= long * 0.95 {
                let both = PLACES.into_iter().flat_map(|share| OFF_EDGE.map(|off| (share, off)));
                places.extend(both.filter_map(|(share, off)| beside(&walk, share, wide, size, off)));
            }
        }
        if !self.words(&places, &edge.words) {
            self.homeless.push(edge.words.clone());
        }
    }
}

/// A place where words may stand, by the middle of their height and length.
struct Standing {
    middle: Point,
    size: f64,
    turn: f64,
}

/// The place of words of a length inside a line, about a share of its length; nothing where it bends too much for them.
fn beside(walk: &Walk, share: f64, wide: f64, size: f64, off: f64) -> Option<Standing> {
    let long = walk.length();
    let s = (long * share).clamp(wide / 2.0, long - wide / 2.0);
    let (a, b) = (walk.at(s - wide / 2.0), walk.at(s + wide / 2.0));
    let chord = b - a;
    if chord.hypot() < wide * 0.9 {
        return None;
    }
    let into = chord.normalize().turn_90();
    // Clear of the line also where it bows inwards between.
    let bow = (0..=4).map(|k| (walk.at(s + wide * (f64::from(k) / 4.0 - 0.5)) - a).dot(into)).fold(0.0, f64::max);
    let middle = a.midpoint(b) + into * (bow + off + size * 0.5);
    let way = if chord.x < -1e-6 || (chord.x.abs() <= 1e-6 && chord.y > 0.0) { -chord } else { chord };
    Some(Standing { middle, size, turn: way.y.atan2(way.x) })
}

/// The head of an arrow, its tip where the line ends.
pub(super) fn head(from: Point, tip: Point) -> BezPath {
    let way = (tip - from).normalize();
    let [long, half] = HEAD;
    let mut path = BezPath::new();
    path.move_to(tip);
    path.line_to(tip - way * long + way.turn_90() * half);
    path.line_to(tip - way * long - way.turn_90() * half);
    path.close_path();
    path
}

/// A short bar across the end of a line.
fn bar(at: Point, along: Vec2) -> BezPath {
    let across = along.turn_90() * 2.5;
    Straight::new(at - across, at + across).to_path(0.1)
}

/// The line to be taped: in the given direction, as long as the piece allows near a third of its width, in whole centimetres. Off the
/// middle, so that the label finds room there; clear of the outline, of marks and of strips where pages are joined at its sides where the piece is
/// wide enough.
fn longest(outline: &BezPath, marks: &[Point], joints: &[BezPath], along: Vec2) -> Option<(Point, Point)> {
    // Turned so that the direction runs down.
    let turn = Affine::rotate(std::f64::consts::FRAC_PI_2 - along.y.atan2(along.x));
    let turned = turn * outline.clone();
    let swap: Vec<[Point; 2]> = straight(&turned).iter().map(|e| e.map(|p| Point::new(p.y, p.x))).collect();
    let marks = marks.iter().map(|m| (turn * *m).x).map(|x| [x - OFF_MARK, x + OFF_MARK]);
    let strips = joints.iter().map(|j| (turn * j.clone()).bounding_box()).filter(|b| b.height() > b.width());
    let shunned: Vec<[f64; 2]> = marks.chain(strips.map(|b| [b.x0 - OFF_JOINT, b.x1 + OFF_JOINT])).collect();
    let found = ASIDE.map(|clear| chord(&swap, turned.bounding_box(), &shunned, clear));
    let most = found.iter().flatten().map(|f| f.1[1] - f.1[0]).fold(0.0, f64::max);
    let (x, [y0, y1]) = found.into_iter().flatten().find(|f| f.1[1] - f.1[0] >= 0.7 * most)?;
    let room = y1 - y0 - 2.0 * OFF_END;
    let long = if room >= 100.0 { (room / 10.0).floor() * 10.0 } else { ((y1 - y0) * 0.6 / 5.0).floor() * 5.0 };
    if long < 15.0 {
        return None;
    }
    let y = (y0 + y1 - long) / 2.0;
    let back = turn.inverse();
    Some((back * Point::new(x, y), back * Point::new(x, y + long)))
}

/// The best place across for a line down a piece, and the stretch there over which its sides are clear. The piece's straight bits have
/// their coordinates swapped.
fn chord(swap: &[[Point; 2]], b: Rect, shunned: &[[f64; 2]], clear: f64) -> Option<(f64, [f64; 2])> {
    let wanted = b.x0 + b.width() * 0.36;
    let mut best: Option<(f64, f64, [f64; 2])> = None;
    for k in 1..64 {
        let x = b.x0 + b.width() * f64::from(k) / 64.0;
        let beside = [-clear, clear].map(|d| spans(swap, x + d));
        for pair in spans(swap, x).chunks_exact(2) {
            let mut own = [pair[0], pair[1]];
            for other in &beside {
                let shared = |c: &[f64]| [own[0].max(c[0]), own[1].min(c[1])];
                let longest = other.chunks_exact(2).map(shared).max_by(|p, q| (p[1] - p[0]).total_cmp(&(q[1] - q[0])));
                own = longest.unwrap_or([0.0, 0.0]);
            }
            let near = if shunned.iter().any(|[from, to]| (*from..=*to).contains(&x)) { 100.0 } else { 0.0 };
            let score = (own[1] - own[0]) - 0.9 * (x - wanted).abs() - near;
            if own[1] > own[0] && best.is_none_or(|b| score > b.0) {
                best = Some((score, x, own));
            }
        }
    }
    best.map(|b| (b.1, b.2))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Words along a shoulder that slants find room beside it; those that find none are given back.
    #[test]
    fn words_stand_along_slanting_edges_or_are_given_back() {
        let slope = BezPath::from_svg("M 0 50 L 100 0 L 300 100 L 300 600 L 0 600 Z").expect("a path");
        let edge = |text: &str, words: &str| EdgeWords { path: BezPath::from_svg(text).expect("a path"), words: words.into() };
        let mut piece = PatternPiece { name: "front".into(), outer: slope, ..PatternPiece::default() };
        piece.edge_words = vec![edge("M 0 50 L 100 0", "shoulder, 10 mm allowance"), edge("M 100 0 L 300 100", "gather to 120 mm")];
        let letters = Letters::new();
        let homeless = |piece: &PatternPiece| {
            let pattern = Pattern { garment: "coat".into(), pieces: vec![piece.clone()], ..Pattern::default() };
            dressed(&pattern, 0, &letters, &[]).homeless
        };
        assert_eq!(homeless(&piece), Vec::<String>::new());
        piece.edge_words.push(edge("M 0 50 L 10 45", "turn up 25 mm"));
        assert_eq!(homeless(&piece), ["turn up 25 mm"]);
    }

    #[test]
    fn the_line_to_tape_lies_within_and_along_the_grain() {
        let outline = Rect::new(0.0, 0.0, 300.0, 640.0).to_path(0.1);
        let (a, b) = longest(&outline, &[], &[], Vec2::new(0.0, 1.0)).expect("a line");
        assert!((a.distance(b) - 610.0).abs() < 1e-9 && (a.x - b.x).abs() < 1e-9 && a.y < b.y, "{a:?} {b:?}");
        // Where pages are joined just there it goes further over.
        let joint = Rect::new(a.x - 5.0, -100.0, a.x + 5.0, 900.0).to_path(0.1);
        let (c, _) = longest(&outline, &[], &[joint], Vec2::new(0.0, 1.0)).expect("a line");
        assert!((c.x - a.x).abs() > 5.0 + OFF_JOINT, "{a:?} {c:?}");
        let way = Vec2::new(1.0, 1.0).normalize();
        let (a, b) = longest(&outline, &[], &[], way).expect("a line");
        assert!(((b - a).normalize() - way).hypot() < 1e-9 && outline.contains(a) && outline.contains(b));
        assert!(longest(&Rect::new(0.0, 0.0, 10.0, 20.0).to_path(0.1), &[], &[], Vec2::new(0.0, 1.0)).is_none());
    }
}
