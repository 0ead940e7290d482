//! What is drawn on a piece, as its record holds it.

use super::path_text::{path_text, round};
use crate::length::Mm;
use crate::notes::NotchStyle;
use crate::piece::{Finish, How, Layer, Line, Marked};
use serde::{Deserialize, Serialize};

/// What is drawn on a piece beside its stitch line.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
#[allow(missing_docs)]
pub struct MarkedOf {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cut_line: Option<CutLineOf>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub notches: Vec<NotchOf>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub darts: Vec<DartOf>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub fullness: Vec<FullnessOf>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub marks: Vec<MarkOf>,
    /// Edges that are placed on the fold of the cloth.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub on_fold: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub grain_line: Option<LineOf>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scale_line: Option<LineOf>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub label: Vec<String>,
}

/// The line a piece is cut along.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct CutLineOf {
    pub outline: String,
    pub edges: Vec<CutEdgeOf>,
}

/// The cut line of one edge, with its allowance.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct CutEdgeOf {
    pub name: String,
    pub path: String,
    pub width_mm: f64,
    pub corners: String,
    pub how: How,
}

/// A notch: where it is on the stitch line, and how it is cut.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct NotchOf {
    pub edge: String,
    pub at_mm: f64,
    pub place: [f64; 2],
    pub count: u32,
    pub style: String,
    pub how: How,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub answers: Option<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub paths: Vec<String>,
}

/// The stitch lines of a dart.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct DartOf {
    pub name: String,
    pub legs: Vec<String>,
}

/// Pleats, tucks or gathers: what is done with them, the lines they are folded and laid along with arrows between, or where they start and end.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct FullnessOf {
    pub name: String,
    /// The edge it takes up as drafted; older records have none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub edge: Option<String>,
    pub words: String,
    pub lines: Vec<String>,
}

/// A drill point or placement mark.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct MarkOf {
    pub name: String,
    pub at: [f64; 2],
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub is: Option<String>,
    pub how: How,
}

/// A straight line from one place to another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct LineOf {
    pub from_to: [[f64; 2]; 2],
    pub length_mm: f64,
    pub how: How,
}

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
            style: style_word(n.notch.style).into(),
            how: n.notch.how,
            answers: n.notch.answers.clone(),
            paths: n.paths.iter().map(path_text).collect(),
        });
        let darts = marked.darts.iter().map(|d| DartOf { name: d.name.clone(), legs: d.legs.iter().map(path_text).collect() });
        let fullness = marked.fullness.iter().map(|f| FullnessOf {
            name: f.name.clone(),
            edge: Some(f.edge.clone()),
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

pub(super) fn style_word(style: NotchStyle) -> &'static str {
    if style == NotchStyle::V { "V" } else { "slit" }
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
