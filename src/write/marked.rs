//! What is drawn on a piece, as its record holds it.

use super::garment::{CutEdgeOf, CutLineOf, DartOf, FullnessOf, LineOf, MarkOf, MarkedOf, NotchOf};
use super::path_text::{path_text, round};
use crate::length::Mm;
use crate::notes::NotchStyle;
use crate::piece::{Finish, How, Layer, Line, Marked};

impl MarkedOf {
    /// For a piece whose lines as drafted are `layer`.
    pub(super) fn of(marked: &Marked, layer: &Layer) -> Self {
        let cut_line = marked.cut.as_ref().map(|cut| CutLineOf {
            outline: path_text(&cut.path),
            edges: cut
                .edges
                .iter()
                .map(|e| CutEdgeOf {
                    name: e.name.clone(),
                    path: path_text(&e.path),
                    width_mm: round(e.allowance.width),
                    corners: finish_word(e.allowance.finish).into(),
                    how: e.allowance.how,
                })
                .collect(),
        });
        let notches = marked.notches.iter().map(|n| NotchOf {
            edge: n.notch.edge.clone(),
            at_mm: round(n.notch.at),
            place: pair(n.place),
            count: n.notch.count,
            style: if n.notch.style == NotchStyle::V { "V" } else { "slit" }.into(),
            how: n.notch.how,
            answers: n.notch.answers.clone(),
            paths: n.paths.iter().map(path_text).collect(),
        });
        let darts = marked.darts.iter().map(|d| DartOf { name: d.name.clone(), legs: d.legs.iter().map(path_text).collect() });
        let fullness = marked.fullness.iter().map(|f| FullnessOf {
            name: f.name.clone(),
            words: f.words.clone(),
            lines: f.lines.iter().map(path_text).collect(),
        });
        let marks = marked.marks.iter().map(|m| MarkOf { name: m.name.clone(), at: pair(m.at), is: m.is.clone(), how: m.how });
        Self {
            cut_line,
            notches: notches.collect(),
            darts: darts.collect(),
            fullness: fullness.collect(),
            marks: marks.collect(),
            on_fold: layer.edges.iter().filter(|e| e.line == Line::Fold).map(|e| e.name.clone()).collect(),
            grain_line: marked.grain.map(|(ends, how)| line(ends, how)),
            scale_line: marked.scale.map(|ends| line(ends, How::Chosen)),
            label: marked.label.clone(),
        }
    }
}

fn pair(p: Mm) -> [f64; 2] {
    [round(p.x), round(p.y)]
}

fn line(ends: [Mm; 2], how: How) -> LineOf {
    LineOf { from_to: ends.map(pair), length_mm: round(ends[0].distance(ends[1])), how }
}

fn finish_word(finish: Finish) -> &'static str {
    match finish {
        Finish::Mitred => "mitred",
        Finish::Squared => "squared",
        Finish::Mirrored => "mirrored",
    }
}
