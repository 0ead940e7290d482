//! Rough outlines found on a rendered scene against where its cloth is truly seen.
#![allow(dead_code)]

mod line;

use super::render::curve::Curve;
use super::render::scene::Scene;
use line::to_line;
use ruboff::cloth::{self, Cloth, Settings};
use ruboff::grid;
use ruboff::length::{Length, Px};
use ruboff::proof::{Doubt, Proof};
use ruboff::sheet::SheetProfile;
use ruboff::shot::{Limits, Shot};
use ruboff::view;
use std::path::{Path, PathBuf};

/// A rough rim lies this near the true one, px of a picture of few megapixels or mm, whichever is more.
const MOST_PX: f64 = 8.0;
const MOST_MM: f64 = 6.0;
/// And 95 % of it this near.
const P95_PX: f64 = 4.0;
const P95_MM: f64 = 2.0;

/// How a scene's outlines lie.
pub struct Found {
    /// 95 % and greatest distance, px, and the scale at the worst place, px to the mm.
    pub p95: f64,
    pub most: f64,
    pub px_per_mm: f64,
    pub at: Px,
    /// Pieces and holes found, pieces and holes there are.
    pub count: [usize; 4],
    pub doubts: Vec<Doubt>,
}

/// Finds the cloth as the main job does and measures it. `Err` holds the complaint.
pub fn find(file: &Path, kind: &str, pitch: f64, scene: &Scene, name: &str) -> Result<Found, String> {
    let shot = Shot::open(file, &Limits::default()).map_err(|e| e.to_string())?;
    let profile = SheetProfile::from_words(kind, Some(Length::from_mm(pitch))).map_err(|e| e.to_string())?;
    let lattice = grid::find(&shot, &profile, &grid::Settings::default(), &mut Proof::off()).map_err(|e| format!("sheet: {e}"))?;
    let size = (shot.width, shot.height);
    let view =
        view::solve(&lattice, size, &shot.tags, &view::Settings::default(), &mut Proof::off()).map_err(|e| format!("view: {e}"))?.view;
    let workings = std::env::var_os("RUBOFF_WORKINGS").map(|d| PathBuf::from(d).join(name));
    let mut proof = Proof::off();
    if let Some(dir) = &workings {
        std::fs::create_dir_all(dir).map_err(|e| e.to_string())?;
        proof = Proof::into_dir(dir);
    }
    let settings = Settings { height: scene.pieces.first().map_or(1.0, |p| p.thickness), ..Settings::default() };
    let cloth = cloth::find(&shot, &lattice, &view, &settings, &mut proof);
    proof.finish().map_err(|e| e.to_string())?;
    Ok(measure(&cloth.map_err(|e| e.to_string())?, scene))
}

/// Distances both ways between all true rims (holes too) and all found ones.
fn measure(cloth: &Cloth, scene: &Scene) -> Found {
    let seen = |c: &Curve, h: f64| c.even_points(1.5).iter().map(|p| Px::from(scene.camera.project(*p, h))).collect::<Vec<_>>();
    let truth: Vec<Vec<Px>> =
        scene.pieces.iter().flat_map(|p| std::iter::once(&p.outline).chain(&p.holes).map(|c| seen(c, p.thickness))).collect();
    let found: Vec<&Vec<Px>> = cloth.regions.iter().flat_map(|r| std::iter::once(&r.rim).chain(&r.holes)).collect();
    let nearest = |to: &[&Vec<Px>], p: Px| to.iter().map(|l| to_line(l, p)).fold(f64::MAX, f64::min);
    let to: Vec<&Vec<Px>> = truth.iter().collect();
    let mut all: Vec<(f64, Px)> = truth.iter().flatten().map(|&p| (nearest(&found, p), p)).collect();
    all.extend(found.iter().flat_map(|l| l.iter().step_by(2)).map(|&p| (nearest(&to, p), p)));
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (most, at) = all[all.len() - 1];
    let holes: usize = scene.pieces.iter().map(|p| p.holes.len()).sum();
    Found {
        p95: all[all.len() * 95 / 100].0,
        most,
        px_per_mm: scene.camera.px_per_mm(scene.camera.sheet([at.x, at.y], 0.0)),
        at,
        count: [cloth.regions.len(), cloth.regions.iter().map(|r| r.holes.len()).sum(), scene.pieces.len(), holes],
        doubts: cloth.doubts.clone(),
    }
}

/// What was found, in one line.
pub fn words(found: &Result<Found, String>) -> String {
    match found {
        Err(why) => format!("NOT FOUND: {why}"),
        Ok(f) => format!(
            "95 % {:.1} px, most {:.1} px = {:.1} mm at {:.0} {:.0}{}{}",
            f.p95,
            f.most,
            f.most / f.px_per_mm,
            f.at.x,
            f.at.y,
            if f.count[..2] == f.count[2..] { String::new() } else { format!(" COUNT {:?}", f.count) },
            f.doubts.iter().map(|d| format!(" [{}]", d.code())).collect::<String>()
        ),
    }
}

/// What is wrong with it, if anything.
pub fn fault(found: &Result<Found, String>) -> Option<String> {
    let f = match found {
        Err(why) => return Some(why.clone()),
        Ok(f) => f,
    };
    let far = f.most > MOST_PX.max(MOST_MM * f.px_per_mm) || f.p95 > P95_PX.max(P95_MM * f.px_per_mm);
    (far || f.count[..2] != f.count[2..]).then(|| words(found))
}
