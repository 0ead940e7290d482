//! Garments on a tiled floor (photographs of the public clothing dataset by A. Grigorev and contributors, CC0): areas in
//! tiles against masks made with GrabCut and looked at. Joints are sparse and shadows soft, and must not be taken for cloth.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod truth;

use ruboff::cloth::{Settings, find};
use ruboff::grid::{Lattice, Node};
use ruboff::length::Px;
use ruboff::proof::Proof;
use ruboff::sheet::SheetKind;
use ruboff::shot::{Limits, Shot, Tags};
use ruboff::view;
use serde_json::Value;
use std::path::PathBuf;

/// Areas lie this near the masks' (a share), which are good to that themselves.
const REACHED: f64 = 0.03;

/// Side of a tile, mm: unknown, and any will do.
const TILE: f64 = 300.0;

#[test]
fn garments_on_tiles_have_their_area() {
    let Some(dir) = truth::data() else { return };
    let dir = dir.join("garments-on-tiles");
    let all: Value = serde_json::from_slice(&std::fs::read(dir.join("expected.json")).unwrap()).unwrap();
    let mut bad = Vec::new();
    for (name, of) in all.as_object().unwrap() {
        let Some(want) = of["garment_area_tiles2"].as_f64() else { continue };
        let shot = Shot::open(&dir.join(name), &Limits::default()).unwrap();
        let crossings = of["crossings_i_j_x_y_hidden"].as_array().unwrap();
        let nodes = crossings.iter().filter(|c| c[4] == 0).map(|c| {
            let n = |k: usize| c[k].as_f64().unwrap();
            Node { at: Px::new(n(2), n(3)), i: n(0) as i32, j: n(1) as i32, error: 0.3 }
        });
        let lattice =
            Lattice { kind: SheetKind::Lines, pitch: [TILE; 2], nodes: nodes.collect(), mark_half_width: 3.0, ..Lattice::default() };
        let tags = Tags { focal_px: Some(515.0), camera: true, ..Tags::default() };
        let solved = view::solve(&lattice, (shot.width, shot.height), &tags, &view::Settings::default(), &mut Proof::off());
        let view = match solved {
            Ok(s) => s.view,
            Err(e) => {
                println!("{name}: {e}");
                continue;
            }
        };
        let mut proof = Proof::off();
        if let Some(d) = std::env::var_os("RUBOFF_WORKINGS") {
            let d = PathBuf::from(d).join(name);
            std::fs::create_dir_all(&d).unwrap();
            proof = Proof::into_dir(&d);
        }
        let found = find(&shot, &lattice, &view, &Settings { height: 0.0, pieces: Some(1), ..Settings::default() }, &mut proof);
        proof.finish().unwrap();
        match found {
            Ok(c) => {
                let got = c.regions[0].area / TILE / TILE;
                println!("{name}: {got:.3} tiles for {want:.3}");
                if (got / want - 1.0).abs() > REACHED {
                    bad.push(format!("{name}: {got:.3} for {want:.3}"));
                }
            }
            Err(e) => bad.push(format!("{name}: {e}")),
        }
    }
    assert!(bad.is_empty(), "{bad:#?}");
}
