//! Rough outlines of cloth on rendered pictures, against the true silhouettes the renderer wrote beside them: lattice and
//! view found from the picture itself, nothing told but the pitch.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

#[path = "rim/line.rs"]
mod line;
mod truth;

use line::to_line;
use ruboff::cloth::{self, Cloth, ClothError, Settings, Side};
use ruboff::grid;
use ruboff::length::{Length, Px};
use ruboff::proof::Proof;
use ruboff::sheet::SheetProfile;
use ruboff::shot::{Limits, Shot};
use ruboff::view;
use std::path::PathBuf;
use truth::Truth;

/// 95 % of a rough rim lie this near the true one, px. A ratchet: lowered as the finder improves.
const P95_PX: f64 = 7.0;
/// The same for white cloth on white paper.
const P95_WHITE_PX: f64 = 9.1;
/// And none of it further than this, mm.
const MOST_MM: f64 = 9.5;

/// Distances both ways between a found rim and a true one, px: 95 %, largest, and where that is.
fn distances(found: &[Px], truth: &[Px]) -> (f64, f64, Px) {
    let mut all: Vec<(f64, Px)> = truth.iter().step_by(2).map(|&p| (to_line(found, p), p)).collect();
    all.extend(found.iter().step_by(2).map(|&p| (to_line(truth, p), p)));
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let worst = all[all.len() - 1];
    (all[all.len() * 95 / 100].0, worst.0, worst.1)
}

/// Silhouettes as seen.
fn rims(t: &Truth) -> Vec<Vec<Px>> {
    let seen = |(path, h): &(kurbo::BezPath, f64)| truth::outline(path, 1.0).into_iter().map(|m| Px::from(t.see([m.x, m.y], *h))).collect();
    t.pieces.iter().map(seen).collect()
}

/// Finds the cloth as the main job does. `None` when the sheet itself was not found, which other tests look after.
fn run(t: &Truth, settings: Settings) -> Option<Result<Cloth, ClothError>> {
    let shot = Shot::open(&t.file, &Limits::default()).unwrap();
    let profile = SheetProfile::from_words(&t.kind, Some(Length::from_mm(t.pitch))).unwrap();
    let mut proof = Proof::off();
    if let Some(dir) = std::env::var_os("RUBOFF_WORKINGS") {
        let dir = PathBuf::from(dir).join(&t.name);
        std::fs::create_dir_all(&dir).unwrap();
        proof = Proof::into_dir(&dir);
    }
    let lattice =
        grid::find(&shot, &profile, &grid::Settings::default(), &mut Proof::off()).map_err(|e| println!("{}: {e}", t.name)).ok()?;
    let size = (shot.width, shot.height);
    let solved =
        view::solve(&lattice, size, &shot.tags, &view::Settings::default(), &mut Proof::off()).map_err(|e| println!("{e}")).ok()?;
    let height = t.pieces.first().map_or(1.0, |p| p.1);
    let cloth = cloth::find(&shot, &lattice, &solved.view, &Settings { height, ..settings }, &mut proof);
    proof.finish().unwrap();
    Some(cloth)
}

#[test]
fn rough_rims_lie_by_the_true_ones() {
    let Some(dir) = truth::pictures() else { return };
    let only = std::env::var("RUBOFF_ONLY").unwrap_or_default();
    let mut bad = Vec::new();
    for t in truth::all(&dir, &['A', 'B', 'C', 'E']).iter().filter(|t| t.name.contains(&only)) {
        let cloth = match run(t, Settings::default()) {
            Some(Ok(cloth)) => cloth,
            Some(Err(e)) => {
                bad.push(format!("{}: {e}", t.name));
                continue;
            }
            None => continue,
        };
        let rims = rims(t);
        if cloth.regions.len() != rims.len() || cloth.regions.iter().any(|r| !r.holes.is_empty()) {
            bad.push(format!("{}: {} pieces for {}, or holes", t.name, cloth.regions.len(), rims.len()));
        }
        for rim in &rims {
            let nearest = cloth.regions.iter().map(|r| distances(&r.rim, rim)).min_by(|a, b| a.1.total_cmp(&b.1));
            let (p95, most, at) = nearest.unwrap();
            let mm = most / px_per_mm(t, rim);
            println!(
                "{:<28} 95 % {p95:.1} px, most {most:.1} px = {mm:.1} mm at {:.0} {:.0}, others {}",
                t.name,
                at.x,
                at.y,
                cloth.others.len()
            );
            let limit = if t.name.contains("white_on_white") { P95_WHITE_PX } else { P95_PX };
            if p95 > limit || mm > MOST_MM {
                bad.push(format!("{}: 95 % {p95:.1} px, most {mm:.1} mm", t.name));
            }
        }
    }
    assert!(bad.is_empty(), "{bad:#?}");
}

/// Rough scale from the length of the rim in mm and px.
fn px_per_mm(t: &Truth, rim: &[Px]) -> f64 {
    let length = |n: usize, d: &dyn Fn(usize, usize) -> f64| (0..n).map(|k| d(k, (k + 1) % n)).sum::<f64>();
    let px = length(rim.len(), &|a, b| rim[a].distance(rim[b]));
    let outlines = t.pieces.iter().map(|p| truth::outline(&p.0, 1.0)).find(|o| o.len() == rim.len()).unwrap();
    px / length(outlines.len(), &|a, b| outlines[a].distance(outlines[b]))
}

#[test]
fn a_garment_out_of_the_frame_is_refused_with_its_sides() {
    let Some(dir) = truth::pictures() else { return };
    let t = Truth::read(&dir.join("D58_out_of_frame.truth.json"));
    match run(&t, Settings::default()) {
        Some(Err(ClothError::CutOff(sides))) => assert!(sides.contains(&Side::Right), "{sides:?}"),
        Some(other) => panic!("cut off by the right side, but {:?}", other.map(|c| c.regions.len())),
        None => return,
    }
    let part = run(&t, Settings { partial: true, ..Settings::default() }).unwrap().unwrap();
    assert_eq!(part.regions.len(), 1);
    assert!(part.regions[0].cut_by.contains(&Side::Right));
}
