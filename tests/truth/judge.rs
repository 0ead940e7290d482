//! A solved view held against the truth of a rendered picture.

use super::Truth;
use ruboff::length::{Mm, Px};
use ruboff::solve::Similarity;
use ruboff::view::View;

/// What a view does to a picture's sheet and garments.
pub struct Figures {
    pub p95: f64,
    pub ppm: f64,
    pub rim_p95: f64,
    pub rim_ppm: f64,
    pub claimed: f64,
}

/// The map held against the truth: nodes everywhere at height 0, garment outlines at their height.
pub fn judge(t: &Truth, view: &View) -> Figures {
    let measure = |points: Vec<([f64; 2], f64)>| {
        let (mut from, mut to) = (Vec::new(), Vec::new());
        for (mm, h) in points {
            let p = t.see(mm, h);
            from.push(view.to_mm(Px::new(p[0], p[1]), h).unwrap().vector());
            to.push(Mm::new(mm[0], mm[1]).vector());
        }
        let rigid = Similarity::rigid(&from, &to).unwrap();
        let mut off: Vec<f64> = from.iter().zip(&to).map(|(p, q)| (rigid.apply(*p) - q).norm()).collect();
        off.sort_by(f64::total_cmp);
        (off[off.len() * 95 / 100], (1.0 / Similarity::fit(&from, &to).unwrap().scale - 1.0) * 1e6)
    };
    let (p95, ppm) = measure(t.nodes(3.0).into_iter().map(|n| (n.1, 0.0)).collect());
    let rims: Vec<_> = t
        .pieces
        .iter()
        .flat_map(|(path, h)| super::outline(path, 5.0).into_iter().map(|p| ([p.x, p.y], *h)))
        .filter(|(mm, h)| t.in_picture(t.see(*mm, *h), 0.0))
        .collect();
    let (rim_p95, rim_ppm) = measure(rims.clone());
    let mapped: Vec<Mm> = rims
        .iter()
        .map(|(mm, h)| {
            let p = t.see(*mm, *h);
            view.to_mm(Px::new(p[0], p[1]), *h).unwrap()
        })
        .collect();
    let shape = view.shape_errors(&mapped, rims[0].1, 0.0).unwrap();
    let mut sd: Vec<f64> = shape.view.iter().map(|c| c.trace().sqrt()).collect();
    sd.sort_by(f64::total_cmp);
    Figures { p95, ppm, rim_p95, rim_ppm, claimed: sd[sd.len() * 95 / 100] }
}
