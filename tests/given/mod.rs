//! What a piece is drafted from, and its draft.
#![allow(dead_code)]

use crate::straight::lines;
use ruboff::notes::{Notes, ShotNotes, Spot};
use ruboff::piece::{Draft, Given, Layer, drafted};

/// A whole body that is `wider` on the wearer's left, which lies on the right of the page.
pub fn body(wider: f64) -> Layer {
    lines(&[
        ("neck left", "shoulder left", [60.0, 0.0]),
        ("tip left", "armhole left", [150.0 + wider, 20.0]),
        ("underarm left", "side left", [200.0 + wider, 200.0]),
        ("hem left", "hem", [200.0 + wider, 600.0]),
        ("hem right", "side right", [-200.0, 600.0]),
        ("underarm right", "armhole right", [-200.0, 200.0]),
        ("tip right", "shoulder right", [-150.0, 20.0]),
        ("neck right", "neckline", [-60.0, 0.0]),
    ])
}

pub fn notes(text: &str) -> Notes {
    Notes::from_text(text).unwrap_or_else(|e| panic!("{e}"))
}

pub fn draft(name: &str, lines: &Layer, notes: &Notes) -> Draft {
    let nothing = ShotNotes::default();
    let shot = notes.shots.iter().find(|s| s.piece.as_deref() == Some(name)).unwrap_or(&nothing);
    let nowhere = |_: &Spot| None;
    let out = drafted(&Given { name, lines, shot, notes, other: None, place: &nowhere });
    out.piece.drafted().check().expect("closed");
    out
}

pub fn length(layer: &Layer, edge: &str) -> f64 {
    layer.edges[layer.edge(edge).unwrap_or_else(|| panic!("{edge}"))].length()
}

/// A front on the fold with a bust dart from its side.
pub const DART: &str = "[piece.front]\ncut = \"1, place on fold\"\nfold = \"centre\"\nopen = true\n[piece.front.grain]\nalong = \"centre\"\n\
    [[piece.front.dart]]\nname = \"bust\"\nlegs = [{ edge = \"side\", at = \"100 mm\" }]\npoint = { mm = [\"90 mm\", \"300 mm\"] }\nintake = \"22 mm\"\n";
