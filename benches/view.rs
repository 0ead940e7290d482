//! How long a view and a straightened picture take: `cargo bench --bench view`.
#![allow(clippy::unwrap_used, missing_docs)]

use nalgebra::{Rotation3, Vector3};
use ruboff::grid::{Lattice, Node};
use ruboff::length::{Mm, Px};
use ruboff::proof::Proof;
use ruboff::sheet::SheetKind;
use ruboff::shot::{Shot, Tags};
use ruboff::straight::{Frame, straighten};
use ruboff::view::{Lens, Model, Settings, View, solve};

fn main() {
    divan::main();
}

fn view() -> View {
    let lens = Lens { k1: 0.015, k2: -0.008, p1: 2e-4, p2: -3e-4, ..Lens::ideal(3028.0, Px::new(2021.0, 1504.0)) };
    let rotation = Rotation3::new(Vector3::new(0.2, 0.03, 0.1)).into_inner();
    View::known(Model::Pinhole { lens, rotation, translation: Vector3::new(4.0, -7.0, 1000.0) }, 4032, 3024)
}

fn lattice() -> Lattice {
    let view = view();
    let mut nodes = Vec::new();
    for j in -20..20 {
        for i in -25..25 {
            let at = view.to_px(Mm::new(f64::from(i) * 20.0, f64::from(j) * 20.0), 0.0);
            if at.x > 0.0 && at.y > 0.0 && at.x < 4031.0 && at.y < 3023.0 && (i * i + j * j) > 80 {
                let noise = f64::from((i * 37 + j * 91) % 11 - 5) * 0.03;
                nodes.push(Node { at: Px::new(at.x + noise, at.y - noise), i, j, error: 0.12 });
            }
        }
    }
    Lattice { kind: SheetKind::Lines, pitch: [20.0; 2], nodes, mark_half_width: 0.25, ..Lattice::default() }
}

/// With tags, and without (which also fits a scan).
#[divan::bench(args = [true, false])]
fn solve_view(bencher: divan::Bencher, tagged: bool) {
    let lattice = lattice();
    let tags = if tagged { Tags { focal_px: Some(3028.0), camera: true, ..Tags::default() } } else { Tags::default() };
    bencher
        .counter(divan::counter::ItemsCount::new(lattice.nodes.len()))
        .bench_local(|| solve(&lattice, (4032, 3024), &tags, &Settings::default(), &mut Proof::off()).unwrap());
}

fn frame(view: &View) -> Frame {
    let corners = [(0.0, 0.0), (4031.0, 0.0), (4031.0, 3023.0), (0.0, 3023.0)].map(|(x, y)| view.to_mm(Px::new(x, y), 0.0).unwrap());
    Frame::around(corners, 0.0, 10.0, 1600).unwrap()
}

#[divan::bench(sample_count = 20)]
fn straighten_shot(bencher: divan::Bencher) {
    let (shot, view) = (Shot::from_rgb(4032, 3024, vec![127; 4032 * 3024 * 3]), view());
    bencher.bench_local(|| straighten(&shot, &view, &frame(&view), 0.0));
}
