//! Pieces for other programs: R12 entities on the layers of D6673 ("Sewn Products Pattern Data Interchange"). No conformance is claimed:
//! the standard names Release 13 and was withdrawn in 2019; R12 entities are what readers have in common.
//!
//! One block a piece, closed boundary on layer 1, turn and curve points on 2 and 3, notches on 4, mirror line on 6, grain on 7, lines within
//! on 8, cut-outs on 11, drill holes on 13, sew lines on 14, words on 15. x right, y up. Names in 7 bits, letters transliterated.
//! Curves are points close enough together: the standard defines no curve between points.

use super::lay::{Ground, lay};
use super::piece::{LineKind, Pattern, PatternError, PatternPiece};
use crate::sheet::paper::short;
use kurbo::{BezPath, ParamCurve, PathSeg, Point, Shape, Vec2};
use std::fmt::Write;

/// Units of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Units {
    /// Millimetres, two decimals.
    Metric,
    /// Inches, four decimals.
    English,
}

impl Units {
    fn word(self) -> &'static str {
        match self {
            Self::Metric => "METRIC",
            Self::English => "ENGLISH",
        }
    }

    /// A length as the file has it.
    fn number(self, mm: f64) -> String {
        let text = match self {
            Self::Metric => format!("{:.2}", mm),
            Self::English => format!("{:.4}", mm * 5.0 / 127.0),
        };
        // Nothing is nothing on either side.
        if text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.') { text.trim_start_matches('-').to_owned() } else { text }
    }
}

/// Height of words, mm, as the standard suggests.
const LETTERS: f64 = 5.0;
/// Longest name of a block in R12.
const LONGEST_NAME: usize = 31;
/// What pieces are laid out on, mm.
const WIDE: f64 = 1500.0;
/// Turn points lie within this of a corner, mm.
const AT_CORNER: f64 = 1e-3;

/// The file's text. `tolerance` is how far curves may lie from their points' chords, mm.
///
/// # Errors
/// The pieces can't be laid out.
pub fn dxf(pattern: &Pattern, units: Units, tolerance: f64) -> Result<String, PatternError> {
    let outlines: Vec<&BezPath> = pattern.pieces.iter().map(|p| &p.outer).collect();
    let widest = outlines.iter().map(|o| o.bounding_box().width()).fold(0.0, f64::max) + 8.0;
    let laid = lay(&outlines, &Ground { width: widest.max(WIDE), height: f64::from(u32::MAX), page: None, turns: false })
        .ok_or_else(|| PatternError::Tiling("the pieces can't be laid out; please report it with the record".into()))?;
    let names = block_names(pattern);
    let mut out = Writer { text: String::new(), units, tolerance };
    out.code(999, "R12 entities, D6673 layers");
    out.code(999, &format!("made by ruboff {}", env!("CARGO_PKG_VERSION")));
    out.header();
    out.tables();
    out.section("BLOCKS");
    for (piece, name) in pattern.pieces.iter().zip(&names) {
        out.block(piece, name);
    }
    out.code(0, "ENDSEC");
    out.section("ENTITIES");
    for ((piece, name), l) in pattern.pieces.iter().zip(&names).zip(&laid) {
        // Blocks keep the record's own coordinates; where they are put keeps them apart.
        let at = (l.by * piece.outer.clone()).bounding_box().origin() - piece.extent().origin();
        out.code(0, "INSERT");
        out.code(8, "1");
        out.code(2, name);
        out.point(10, Point::new(at.x, at.y));
    }
    out.style(pattern);
    out.code(0, "ENDSEC");
    out.code(0, "EOF");
    Ok(out.text)
}

/// A text in 7 bits, letters transliterated, nothing that would break a line.
fn seven(text: &str) -> String {
    let spaced: String = text.chars().map(|c| if c.is_whitespace() || c.is_control() { ' ' } else { c }).collect();
    let plain = deunicode::deunicode_with_tofu(&spaced, "?");
    let one = |c: char| if c.is_ascii_graphic() || c == ' ' { c } else { ' ' };
    plain.chars().map(one).collect::<String>().split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Names of blocks: capitals, digits, hyphens and underlines, each once.
fn block_names(pattern: &Pattern) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for (k, p) in pattern.pieces.iter().enumerate() {
        let plain: String =
            seven(&p.name).to_uppercase().chars().map(|c| if c.is_ascii_alphanumeric() || c == '-' { c } else { '_' }).collect();
        let plain: String = plain.trim_matches('_').chars().take(LONGEST_NAME).collect();
        let base = if plain.is_empty() { format!("PIECE_{}", k + 1) } else { plain };
        let counted = (2..).map(|n| {
            let tail = format!("_{n}");
            let head: String = base.chars().take(LONGEST_NAME - tail.len()).collect();
            head + &tail
        });
        let free = std::iter::once(base.clone()).chain(counted).find(|n| !out.contains(n));
        out.push(free.unwrap_or(base));
    }
    out
}

/// The file so far.
struct Writer {
    text: String,
    units: Units,
    tolerance: f64,
}

impl Writer {
    /// A group: its code in three columns, its value on a line of its own, both ending in CR LF.
    fn code(&mut self, code: u16, value: &str) {
        let _ = write!(self.text, "{code:>3}\r\n{value}\r\n");
    }

    fn section(&mut self, name: &str) {
        self.code(0, "SECTION");
        self.code(2, name);
    }

    fn header(&mut self) {
        self.section("HEADER");
        self.code(9, "$ACADVER");
        self.code(1, "AC1009");
        self.code(0, "ENDSEC");
    }

    fn tables(&mut self) {
        self.section("TABLES");
        self.table("LTYPE", 1);
        for (code, value) in [(0, "LTYPE"), (2, "CONTINUOUS"), (70, "0"), (3, "Solid line"), (72, "65"), (73, "0"), (40, "0.0")] {
            self.code(code, value);
        }
        self.code(0, "ENDTAB");
        let layers = ["0", "1", "2", "3", "4", "6", "7", "8", "11", "13", "14", "15"];
        self.table("LAYER", layers.len());
        for layer in layers {
            for (code, value) in [(0, "LAYER"), (2, layer), (70, "0"), (62, "7"), (6, "CONTINUOUS")] {
                self.code(code, value);
            }
        }
        self.code(0, "ENDTAB");
        self.table("STYLE", 1);
        let style =
            [(0, "STYLE"), (2, "STANDARD"), (70, "0"), (40, "0.0"), (41, "1.0"), (50, "0.0"), (71, "0"), (42, "2.5"), (3, "txt"), (4, "")];
        for (code, value) in style {
            self.code(code, value);
        }
        self.code(0, "ENDTAB");
        self.code(0, "ENDSEC");
    }

    fn table(&mut self, name: &str, entries: usize) {
        self.code(0, "TABLE");
        self.code(2, name);
        self.code(70, &entries.to_string());
    }

    fn number(&mut self, code: u16, mm: f64) {
        let value = self.units.number(mm);
        self.code(code, &value);
    }

    /// A place, y up.
    fn point(&mut self, code: u16, p: Point) {
        self.number(code, p.x);
        self.number(code + 10, -p.y);
        self.number(code + 20, 0.0);
    }

    fn entity(&mut self, kind: &str, layer: u8) {
        self.code(0, kind);
        self.code(8, &layer.to_string());
    }

    fn words(&mut self, layer: u8, at: Point, height: f64, text: &str) {
        self.entity("TEXT", layer);
        self.point(10, at);
        self.number(40, height);
        self.code(1, &seven(text));
    }

    fn straight(&mut self, layer: u8, [a, b]: [Point; 2]) {
        self.entity("LINE", layer);
        self.point(10, a);
        self.point(11, b);
    }

    /// A line as points, with its turn and curve points on their own layers where those of the layer are wanted.
    fn line(&mut self, layer: u8, path: &BezPath, closed: bool, corners: Option<&[Point]>) {
        let mut points = flattened(path, self.tolerance);
        if closed && points.len() > 1 && points[0].distance(points[points.len() - 1]) < 1e-6 {
            points.pop();
        }
        self.entity("POLYLINE", layer);
        self.code(66, "1");
        self.point(10, Point::ZERO);
        self.code(70, if closed { "1" } else { "0" });
        for p in &points {
            self.entity("VERTEX", layer);
            self.point(10, *p);
        }
        self.entity("SEQEND", layer);
        let Some(corners) = corners else { return };
        for p in points {
            let turn = corners.iter().any(|c| c.distance(p) < AT_CORNER);
            self.entity("POINT", if turn { 2 } else { 3 });
            self.point(10, p);
        }
    }

    fn block(&mut self, piece: &PatternPiece, name: &str) {
        self.entity("BLOCK", 1);
        self.code(2, name);
        self.code(70, "0");
        self.point(10, Point::ZERO);
        self.code(3, name);
        self.line(1, &piece.outer, true, Some(&piece.corners));
        for line in &piece.lines {
            match line.kind {
                LineKind::Cut => {}
                LineKind::Stitch => self.line(14, &line.path, false, Some(&piece.corners)),
                LineKind::Inner | LineKind::Dart | LineKind::Pleat => self.line(8, &line.path, false, Some(&piece.corners)),
                LineKind::CutOut => self.line(11, &line.path, true, Some(&piece.corners)),
                LineKind::Fold => {
                    let ends = flattened(&line.path, self.tolerance);
                    if let (Some(a), Some(b)) = (ends.first(), ends.last()) {
                        self.straight(6, [*a, *b]);
                    }
                }
            }
        }
        for n in &piece.notches {
            self.entity("POINT", 4);
            self.number(10, n.at.x);
            self.number(20, -n.at.y);
            self.number(30, n.depth);
            self.number(39, n.width);
            let angle = (-n.into.y).atan2(n.into.x).to_degrees().rem_euclid(360.0);
            self.code(50, &format!("{angle:.2}"));
        }
        for m in &piece.marks {
            self.entity("POINT", 13);
            self.point(10, m.at);
        }
        if let Some(way) = piece.grain {
            self.straight(7, grain(piece, way));
        }
        self.piece_words(piece);
        self.entity("ENDBLK", 1);
    }

    fn piece_words(&mut self, piece: &PatternPiece) {
        let middle = piece.extent().center();
        let mut fields = vec![format!("Piece Name: {}", piece.name)];
        if let Some(cut) = &piece.cut {
            let (right, left) = if cut.mirrored { (cut.count.div_ceil(2), cut.count / 2) } else { (cut.count, 0) };
            fields.push(format!("Quantity: {right},{left}"));
        }
        fields.extend(piece.cloth.iter().map(|c| format!("Material: {c}")));
        for (k, text) in fields.iter().enumerate() {
            self.words(1, middle + Vec2::new(0.0, 8.0 * k as f64), LETTERS, text);
        }
        let mut notes = vec![piece.cut_words(), piece.side.to_owned(), piece.allowance.clone()];
        if piece.grain.is_none() {
            notes.push("grain not recorded".into());
        }
        notes.extend(piece.larger.clone());
        notes.extend(piece.edge_words.iter().map(|w| w.words.clone()));
        if piece.notches.iter().any(|n| n.assumed) {
            notes.push("notches proposed for seams are assumed".into());
        }
        notes.extend(piece.marks.iter().map(|m| m.words.clone()));
        for (k, text) in notes.iter().enumerate() {
            self.words(15, middle + Vec2::new(0.0, 8.0 * (fields.len() + k) as f64), LETTERS, text);
        }
    }

    /// What holds for the whole file.
    fn style(&mut self, pattern: &Pattern) {
        let number = pattern.number.as_deref().map(|n| format!(" {n}")).unwrap_or_default();
        // Year, month, day as people write them here; day first in the file.
        let day: Vec<&str> = pattern.date.split('-').collect();
        let day = if let [y, m, d] = day.as_slice() { format!("{d}-{m}-{y}") } else { pattern.date.clone() };
        let tolerance = match self.units {
            Units::Metric => short(self.tolerance),
            Units::English => format!("{:.4}", self.tolerance / 25.4),
        };
        let fields = [
            format!("Style Name: {}{number}", pattern.garment),
            format!("Creation Date: {day}"),
            "Creation Time:".into(),
            format!("Author: ruboff {}", env!("CARGO_PKG_VERSION")),
            "Sample Size:".into(),
            "Grade Rule Table:".into(),
            format!("Units: {}", self.units.word()),
            format!("Curve Tolerance: {tolerance}"),
        ];
        for (k, text) in fields.iter().enumerate() {
            self.words(1, Point::new(0.0, 20.0 + 8.0 * k as f64), LETTERS, text);
        }
        self.words(15, Point::new(0.0, 20.0 + 8.0 * fields.len() as f64), LETTERS, "R12 entities, D6673 layers");
    }
}

/// A path as points on it whose chords lie within a tolerance: equal steps of each cubic's parameter, as many as the bound on its second
/// derivative asks for (Wang's formula; Goldman 2003, "Pyramid Algorithms", 5.6.3). Never fewer, unlike a fitting flattening.
fn flattened(path: &BezPath, tolerance: f64) -> Vec<Point> {
    let mut out: Vec<Point> = Vec::new();
    let mut put = |p: Point| {
        if out.last().is_none_or(|q| q.distance(p) > 1e-6) {
            out.push(p);
        }
    };
    for segment in path.segments() {
        put(segment.start());
        if !matches!(segment, PathSeg::Line(_)) {
            let c = segment.to_cubic();
            let second = |p: Point, q: Point, r: Point| (p.to_vec2() - 2.0 * q.to_vec2() + r.to_vec2()).hypot();
            let bend = second(c.p0, c.p1, c.p2).max(second(c.p1, c.p2, c.p3));
            let steps = (0.75 * bend / tolerance).sqrt().ceil().clamp(1.0, 1e5);
            (1..steps as usize).for_each(|k| put(segment.eval(k as f64 / steps)));
        }
        put(segment.end());
    }
    out
}

/// The grain through the middle of a piece, three quarters of its extent long.
fn grain(piece: &PatternPiece, way: Vec2) -> [Point; 2] {
    let b = piece.extent();
    let reach = [(way.x, b.width()), (way.y, b.height())].into_iter().filter(|(d, _)| d.abs() > 1e-6);
    let half = reach.map(|(d, size)| size / d.abs()).fold(f64::INFINITY, f64::min) * 0.375;
    [b.center() - way * half, b.center() + way * half]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// R-PAT-13 in words: accented names are transliterated and not dropped.
    #[test]
    fn names_are_seven_bits_and_each_once() {
        assert_eq!(seven("Łódź\nÄrmel/2"), "Lodz Armel/2");
        assert_eq!(seven("пальто"), "pal'to");
        let mut pattern = Pattern::default();
        let piece = |name: &str| PatternPiece { name: name.into(), ..PatternPiece::default() };
        pattern.pieces = ["front \"A\"", "front 'A'", "", &"x".repeat(60)].map(piece).into();
        let names = block_names(&pattern);
        assert_eq!(&names[..3], ["FRONT__A", "FRONT__A_2", "PIECE_3"]);
        assert!(names.iter().all(|n| n.len() <= LONGEST_NAME && n.is_ascii()));
    }

    /// A quarter circle of 100 mm as one cubic lies within 0.028 mm of the true one; its points lie on it and their chords within 0.02 mm.
    #[test]
    fn chords_stay_within_the_tolerance() {
        let k = 100.0 * 0.552_284_749_8;
        let mut path = BezPath::new();
        path.move_to((100.0, 0.0));
        path.curve_to((100.0, k), (k, 100.0), (0.0, 100.0));
        let points = flattened(&path, 0.02);
        for pair in points.windows(2) {
            let sag = 100.0 - pair[0].midpoint(pair[1]).to_vec2().hypot();
            assert!(sag < 0.02 + 1e-3 && (pair[0].to_vec2().hypot() - 100.0).abs() < 0.028, "{sag}");
        }
        assert!((20..120).contains(&points.len()), "{}", points.len());
    }

    #[test]
    fn numbers_have_the_decimals_of_their_units() {
        assert_eq!(Units::Metric.number(25.4), "25.40");
        assert_eq!(Units::English.number(25.4), "1.0000");
        assert_eq!(Units::Metric.number(-0.001), "0.00");
        assert_eq!(Units::Metric.number(-0.01), "-0.01");
    }
}
