//! The lines of a piece from its layer: cut line, stitch line, folds, seams within, and words along its edges.

use super::piece::{EdgeWords, LineKind, PatternError, PatternLine, PatternPiece};
use crate::notes::Called;
use crate::piece::{Allowance, AllowanceError, CutLine, Finish, How, Layer, Line, cut_line_past};
use kurbo::{BezPath, ParamCurve, PathSeg, Point};

/// No piece of a garment is longer, mm: a train, or a cloak laid open.
const LONGEST_PIECE: f64 = 12_000.0;

/// What is chosen for an edge.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct EdgeChoice {
    /// Allowance, mm, and where it comes from; nothing where nobody chose one.
    pub allowance: Option<(f64, How)>,
    /// It lies on the fold of the cloth.
    pub on_fold: bool,
    /// It is turned up along itself.
    pub hem: bool,
    /// Nobody saw or measured it, whatever the layer says.
    pub assumed: bool,
    /// It is the end of an open dart.
    pub dart_end: bool,
}

/// A piece with its lines, cut along `recorded` where there is one; what is known of it beside them is the caller's to add.
///
/// # Errors
/// No cut line can be drawn, or the piece is of no size.
pub(super) fn piece(name: &str, layer: &Layer, choices: &[EdgeChoice], recorded: Option<CutLine>) -> Result<PatternPiece, PatternError> {
    sized(name, layer)?;
    let widths: Vec<f64> = choices.iter().map(|c| if c.on_fold { 0.0 } else { c.allowance.map_or(0.0, |a| a.0) }).collect();
    let lines = Lines { layer, choices, widths: &widths };
    let cut = if recorded.is_some() {
        recorded.filter(|_| widths.iter().any(|w| *w != 0.0))
    } else if widths.iter().any(|w| *w != 0.0) {
        Some(added(layer, choices, &widths).map_err(|why| PatternError::Allowance { piece: name.into(), why })?)
    } else {
        None
    };
    let outer = cut.as_ref().map_or_else(|| layer.outline(), |c| c.path.clone());
    let mut all = cut.as_ref().map_or_else(|| lines.finished(), |c| lines.cut(c));
    all.extend(layer.inner.iter().map(|i| line(LineKind::Inner, false, &i.name, i.path.clone())));
    all.extend(layer.holes.iter().enumerate().map(|(k, h)| line(LineKind::CutOut, false, &format!("hole {}", k + 1), h.clone())));
    Ok(PatternPiece {
        name: name.to_owned(),
        corners: corners(&all),
        outer,
        lines: all,
        edge_words: lines.words(),
        allowance: lines.allowance_words(),
        band: None,
        ..PatternPiece::default()
    })
}

/// The cut line. A hem's ends are mirrored where that can be drawn, else cut square.
fn added(layer: &Layer, choices: &[EdgeChoice], widths: &[f64]) -> Result<CutLine, AllowanceError> {
    let dart_ends: Vec<usize> = (0..choices.len()).filter(|&k| choices[k].dart_end).collect();
    let with = |hem: Finish| {
        let how = |c: &EdgeChoice| c.allowance.map_or(How::Assumed, |a| a.1);
        let finish = |c: &EdgeChoice| if c.hem { hem } else { Finish::Mitred };
        let each: Vec<Allowance> =
            choices.iter().zip(widths).map(|(c, w)| Allowance { width: *w, finish: finish(c), how: how(c) }).collect();
        cut_line_past(layer, &each, &dart_ends)
    };
    with(Finish::Mirrored).or_else(|e| with(Finish::Squared).map_err(|_| e))
}

fn sized(name: &str, layer: &Layer) -> Result<(), PatternError> {
    use kurbo::Shape;
    let b = layer.outline().bounding_box();
    let long = b.width().max(b.height());
    if long.is_finite() && long <= LONGEST_PIECE {
        Ok(())
    } else {
        Err(PatternError::Huge { piece: name.into(), long, most: LONGEST_PIECE })
    }
}

fn line(kind: LineKind, assumed: bool, name: &str, path: BezPath) -> PatternLine {
    PatternLine { kind, assumed, name: name.to_owned(), path }
}

/// What the lines of one piece are drawn from.
struct Lines<'a> {
    layer: &'a Layer,
    choices: &'a [EdgeChoice],
    widths: &'a [f64],
}

impl Lines<'_> {
    fn assumed(&self, k: usize) -> bool {
        self.choices[k].assumed || self.layer.edges[k].how == How::Assumed
    }

    /// All edges where nothing is added to them.
    fn finished(&self) -> Vec<PatternLine> {
        let one = |k: usize| {
            let kind = if self.choices[k].on_fold { LineKind::Fold } else { LineKind::Cut };
            line(kind, self.assumed(k), &self.layer.edges[k].name, self.layer.edges[k].path.clone())
        };
        (0..self.layer.edges.len()).map(one).collect()
    }

    /// The cut line, parted by edges, and the stitch line where the two differ.
    fn cut(&self, cut: &CutLine) -> Vec<PatternLine> {
        let mut out: Vec<PatternLine> = Vec::new();
        for (edge, segment) in owners(cut) {
            let name = edge.map_or("", |k| self.layer.edges[k].name.as_str());
            let kind = if edge.is_some_and(|k| self.choices[k].on_fold) { LineKind::Fold } else { LineKind::Cut };
            let assumed = edge.is_some_and(|k| self.assumed(k));
            // What joins two edges at a corner goes with the edge before it, unless that one is drawn otherwise.
            match out.last_mut() {
                Some(last) if last.kind == kind && last.assumed == assumed && (edge.is_none() || last.name == name) => {
                    last.path.push(segment.as_path_el());
                }
                _ => {
                    let mut path = BezPath::new();
                    path.move_to(segment.start());
                    path.push(segment.as_path_el());
                    out.push(line(kind, assumed, name, path));
                }
            }
        }
        let stitched = (0..self.layer.edges.len()).filter(|&k| self.widths[k] != 0.0);
        out.extend(stitched.map(|k| line(LineKind::Stitch, self.assumed(k), &self.layer.edges[k].name, self.layer.edges[k].path.clone())));
        out
    }

    /// What is written along the edges: the allowance where not all have the same, what is turned up, what lies on the fold.
    fn words(&self) -> Vec<EdgeWords> {
        let n = self.layer.edges.len();
        let changes = self.even().is_none();
        let one = |k: usize| {
            let edge = &self.layer.edges[k];
            let mut words = Vec::new();
            let nameless = edge.name.strip_prefix("edge ").is_some_and(|r| r.parse::<u32>().is_ok());
            if !nameless && !edge.name.is_empty() {
                words.push(edge.name.clone());
            }
            if self.choices[k].on_fold {
                words = vec!["place on fold".into()];
            } else if edge.line == Line::Cut {
                words.push("cut off by the picture, not known".into());
            } else if self.choices[k].hem && self.widths[k] > 0.0 {
                words.push(format!("turn up {}", said(self.widths[k])));
            } else if changes && self.widths[k] != 0.0 {
                words.push(format!("{} allowance", said(self.widths[k])));
            } else if changes {
                words.push("no allowance".into());
            }
            if self.assumed(k) && edge.line != Line::Cut {
                words.push("assumed".into());
            }
            (!words.is_empty()).then(|| EdgeWords { path: edge.path.clone(), words: words.join(", ") })
        };
        (0..n).filter_map(one).collect()
    }

    /// Which allowance is included, as one phrase.
    fn allowance_words(&self) -> String {
        match self.even() {
            Some(0.0) => "no allowance included: the line drawn is the finished edge".into(),
            Some(width) => format!("stitch line drawn, {} allowance to the cut line", said(width)),
            None => "stitch line drawn; allowance to the cut line as written on each edge".into(),
        }
    }

    /// The allowance, mm, where all edges that can have one have the same.
    fn even(&self) -> Option<f64> {
        let free = |k: &usize| !self.choices[*k].on_fold && self.layer.edges[*k].line != Line::Cut;
        let mut widths = (0..self.widths.len()).filter(free).map(|k| self.widths[k]);
        let first = widths.next().unwrap_or(0.0);
        widths.all(|w| (w - first).abs() < 1e-6).then_some(first)
    }
}

/// A width as it is written on a pattern: `10 mm`, `6.4 mm`.
pub(super) fn said(mm: f64) -> String {
    let text = format!("{mm:.1}");
    format!("{} mm", text.trim_end_matches(".0"))
}

/// Each part of a cut line with the edge it belongs to; nothing for what joins two of them.
fn owners(cut: &CutLine) -> Vec<(Option<usize>, PathSeg)> {
    // Where a line turns by next to nothing a part of it may have no length.
    let long = |s: &PathSeg| s.start().distance(s.end()) > 1e-9;
    let mut waiting = cut.edges.iter().enumerate().flat_map(|(k, e)| e.path.segments().filter(long).map(move |s| (k, s))).peekable();
    let near = |a: Point, b: Point| a.distance(b) < 1e-6;
    let mut out = Vec::new();
    for segment in cut.path.segments().filter(long) {
        let own = waiting.peek().filter(|(_, s)| near(s.start(), segment.start()) && near(s.end(), segment.end())).map(|w| w.0);
        if own.is_some() {
            waiting.next();
        }
        out.push((own, segment));
    }
    out
}

/// Ends of all lines, each once: where a drawn line turns.
fn corners(lines: &[PatternLine]) -> Vec<Point> {
    let mut out: Vec<Point> = Vec::new();
    for line in lines {
        let segments: Vec<PathSeg> = line.path.segments().collect();
        let bends = segments.windows(2).filter(|w| bent(&w[0], &w[1])).map(|w| w[1].start());
        let ends = segments.first().map(PathSeg::start).into_iter().chain(segments.last().map(PathSeg::end));
        for p in ends.chain(bends) {
            if out.iter().all(|q| q.distance(p) > 1e-4) {
                out.push(p);
            }
        }
    }
    out
}

/// Whether two parts of a line meet at more than a degree.
fn bent(a: &PathSeg, b: &PathSeg) -> bool {
    let (p, q) = (a.eval(0.99), b.eval(0.01));
    let (u, v) = (a.end() - p, q - b.start());
    u.cross(v).atan2(u.dot(v)).abs() > 1f64.to_radians()
}

/// The allowance a table has for an edge (see [`Called`]).
pub(super) fn allowance_of(table: &[(String, f64)], edge: &Called) -> Option<f64> {
    let key = edge.key(table.iter().map(|(key, _)| key.as_str()))?;
    table.iter().find(|(own, _)| own == key).map(|(_, width)| *width)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::piece::CutEdge;

    /// A part of no length in one edge's line must not keep those behind it from their owners: a fold would be drawn as a cut.
    #[test]
    fn parts_without_length_belong_to_nobody() {
        let path = |data: &str| BezPath::from_svg(data).expect("path data");
        let of = |name: &str, data: &str| CutEdge {
            name: name.into(),
            path: path(data),
            allowance: Allowance { width: 0.0, finish: Finish::Mitred, how: How::Noted },
        };
        let edges = vec![of("hem", "M0 0 L50 0 L50 0"), of("side", "M50 0 L50 80"), of("fold", "M50 80 L0 0")];
        let cut = CutLine { path: path("M0 0 L50 0 L50 0 L50 80 L0 0 Z"), edges };
        let owned: Vec<Option<usize>> = owners(&cut).into_iter().map(|o| o.0).collect();
        assert_eq!(owned, [Some(0), Some(1), Some(2)]);
    }
}
