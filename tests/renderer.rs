//! The renderer against formulas that do not come from it.

mod render;

use render::camera::{Camera, Optics, Stand};
use render::cloth::{Fabric, Piece};
use render::curve::{Curve, Point, Stretch, area, length, lerp, sub};
use render::light::{Light, Sensor};
use render::random::erf;
use render::scene::{Picture, Scene};
use render::shapes::{self, Figure};
use render::sheet::{Sheet, srgb};
use render::{file, lay};

const OVERHEAD: Stand = Stand { film_mm: 26.0, tilt: 0.0, side: 0.0, roll: 0.0 };

/// Linear light of an sRGB byte (IEC 61966-2-1).
fn light(byte: u8) -> f64 {
    let v = f64::from(byte) / 255.0;
    if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
}

/// Black cloth without texture on a blank white sheet, evenly lit, no noise: only geometry and blur are left.
fn bare(camera: Camera, outline: &Curve, height: f64, blur: f64) -> Scene {
    let fabric = Fabric { rough: 0.0, folds: 0.0, rim: 0.0, ..Fabric::plain([0.0; 3]) };
    let sheet = Sheet { ground: [1.0; 3], grain: 0.0, ..Sheet::blank([4000.0, 4000.0]) };
    let mut scene = Scene::new(camera, sheet, vec![Piece::new("piece", outline, fabric, height)]);
    scene.light = Light::even();
    scene.sensor = Sensor { blur, ..Sensor::clean() };
    scene
}

/// A blurred step rises as the error function (Hagara & Kulla, "Edge detection with sub-pixel accuracy based on approximation
/// of edge with erf function"), here averaged over each pixel; from 10 to 90 % takes 2.563103 sigma.
#[test]
fn a_blurred_edge_is_an_error_function() {
    let size = [120, 90];
    let camera = Camera::flatbed(size, [1.0, 1.0], 0.0, [0.0, 0.0]);
    // Integral of the normal distribution function: z P(z) + p(z).
    let sum = |z: f64| z * 0.5 * (1.0 + erf(z / 2f64.sqrt())) + (-0.5 * z * z).exp() / std::f64::consts::TAU.sqrt();
    for (sigma, shift) in [(0.8, 0.0), (0.8, 0.5), (1.5, 0.3), (4.0, 0.77)] {
        let edge = Curve::from([-500.0, -500.0]).line([shift, -500.0]).line([shift, 500.0]).line([-500.0, 500.0]).close();
        let picture = bare(camera.clone(), &edge, 0.0, sigma).draw();
        let x0 = camera.project([shift, 0.0], 0.0)[0];
        let seen: Vec<f64> = (0..size[0]).map(|x| light(picture.pixel(x, 45)[1])).collect();
        for (x, seen) in seen.iter().enumerate() {
            let z = |x: f64| (x - x0) / sigma;
            let step = sigma * (sum(z(x as f64 + 0.5)) - sum(z(x as f64 - 0.5)));
            // Two cells to the pixel leave up to 1 % of the step's height; its place stays exact.
            assert!((seen - step).abs() < 0.011, "sigma {sigma}, column {x}: {seen} for {step}");
        }
        let crossing = |level: f64| {
            let x = seen.iter().position(|v| *v > level).expect("a rise");
            x as f64 - (seen[x] - level) / (seen[x] - seen[x - 1])
        };
        if sigma == 4.0 {
            let rise = crossing(0.9) - crossing(0.1);
            // The pixel aperture adds 1/12 px² of variance; half a byte at either level is worth 0.07 px.
            let wide = 2.563103 * (sigma * sigma + 1.0 / 12.0f64).sqrt();
            assert!((rise - wide).abs() < 0.15, "{rise} for {wide}");
        }
    }
}

/// Where the half level lies along the edge of a tilted, bent, high-lying piece: within 0.02 px of the projected outline.
#[test]
fn edges_are_drawn_where_the_camera_says() {
    let size = [900, 700];
    let stand = Stand { tilt: 24.0, side: 40.0, roll: 12.0, ..OVERHEAD };
    let outline = shapes::round(&mut Figure::plain());
    let camera = Camera::framing(size, stand, &shapes::around([&outline], 40.0), 0.95).with_lens(-0.12, 0.03, 0.0006, -0.0004);
    let scene = bare(camera, &outline, 5.0, 1.0);
    let picture = scene.draw();
    let ground = light(picture.pixel(450, 20)[1]);
    let rim = outline.even_points(7.0);
    let mut off = Vec::new();
    for (k, p) in rim.iter().enumerate() {
        let at = scene.edge_px(&scene.pieces[0], *p);
        let next = scene.edge_px(&scene.pieces[0], rim[(k + 1) % rim.len()]);
        let along = sub(next, at);
        let out: Point = [along[1] / length(along), -along[0] / length(along)];
        // Along the normal the mean of (1 - light) over ±5 px says where the step is.
        let steps: Vec<f64> = (-50..50).map(|s| (s as f64 + 0.5) * 0.1).collect();
        let dark: f64 = steps.iter().map(|s| 1.0 - bilinear(&picture, [at[0] + s * out[0], at[1] + s * out[1]]) / ground).sum();
        off.push(dark * 0.1 - 5.0);
    }
    let rms = (off.iter().map(|v| v * v).sum::<f64>() / off.len() as f64).sqrt();
    let mean = off.iter().sum::<f64>() / off.len() as f64;
    assert!(rms < 0.03 && mean.abs() < 0.01, "rms {rms}, mean {mean}");
}

/// The half level of a blurred disc lies inside its rim: for radius 20 and sigma 3 by 0.22716 px (Bessel form of the blurred disc;
/// the subject: Mendonça et al., "Bias in the localization of curved edges"). It grows with sigma², to which
/// the pixel's aperture adds 1/12.
#[test]
fn a_curved_edge_is_seen_too_far_in() {
    let camera = Camera::flatbed([121, 121], [1.0, 1.0], 0.0, [0.31, -0.17]);
    let disc = shapes::ellipse(20.0, 20.0);
    let picture = bare(camera.clone(), &disc, 0.0, 3.0).draw();
    let middle = camera.project([0.0, 0.0], 0.0);
    let mut sum = 0.0;
    for k in 0..90 {
        let (s, c) = (f64::from(k) * 4f64.to_radians()).sin_cos();
        let at = |r: f64| bilinear(&picture, [middle[0] + r * c, middle[1] + r * s]);
        let (mut low, mut high) = (15.0, 25.0);
        for _ in 0..30 {
            let r = 0.5 * (low + high);
            if at(r) < 0.5 { low = r } else { high = r }
        }
        sum += low / 90.0;
    }
    let want = -0.22716 * (1.0 + 1.0 / 12.0 / 9.0);
    // Four cubics make the disc 0.0028 px too large on average.
    assert!((sum - 20.0028 - want).abs() < 0.01, "{} for {want}", sum - 20.0028);
}

fn bilinear(picture: &Picture, p: Point) -> f64 {
    let (x, y) = (p[0].floor(), p[1].floor());
    let at = |i: usize, j: usize| light(picture.pixel(x as usize + i, y as usize + j)[1]);
    let (s, t) = (p[0] - x, p[1] - y);
    (at(0, 0) * (1.0 - s) + at(1, 0) * s) * (1.0 - t) + (at(0, 1) * (1.0 - s) + at(1, 1) * s) * t
}

/// Covered pixels add up to the polygon's area (Green's theorem on the cubics, closed form of a cubic's signed area).
#[test]
fn drawn_area_is_the_outlines_area() {
    for (k, shape) in shapes::ALL.iter().enumerate() {
        let outline = shape(&mut Figure::varied(k as u64, 0.1)).clockwise(true);
        let camera = Camera::flatbed([700, 800], [1.0, 1.0], 17.0, [0.0, 0.0]);
        let picture = bare(camera, &outline, 0.0, 0.0).draw();
        let ground = light(picture.pixel(2, 2)[1]);
        let drawn: f64 = picture.rgb.chunks_exact(3).map(|p| 1.0 - light(p[1]) / ground).sum();
        let exact = green(&outline);
        // Bytes of 1/255 leave about 0.002 px on each pixel of the rim.
        assert!((drawn - exact).abs() < 2e-5 * exact + 3.0, "{k}: {drawn} for {exact}");
        assert!((area(&outline.points(0.05)) - exact).abs() < 1e-5 * exact);
    }
}

/// (6 c01 + 3 c02 + c03 + 3 c12 + 3 c13 + 6 c23) / 20 for each cubic, cij = xi yj - xj yi; from Green's theorem.
fn green(outline: &Curve) -> f64 {
    let mut from = outline.start;
    let mut sum = 0.0;
    for s in &outline.stretches {
        let to = s.end();
        let [a, b] = match *s {
            Stretch::Cubic(a, b, _) => [a, b],
            Stretch::Line(_) => [lerp(from, to, 1.0 / 3.0), lerp(from, to, 2.0 / 3.0)],
        };
        let p = [from, a, b, to];
        let c = |i: usize, j: usize| p[i][0] * p[j][1] - p[j][0] * p[i][1];
        sum += (6.0 * c(0, 1) + 3.0 * c(0, 2) + c(0, 3) + 3.0 * c(1, 2) + 3.0 * c(1, 3) + 6.0 * c(2, 3)) / 20.0;
        from = to;
    }
    sum
}

/// A tilted pinhole maps a plane by a homography: the one through four corners foretells a fifth point.
#[test]
fn without_a_lens_the_plane_maps_projectively() {
    let stand = Stand { tilt: 31.0, side: 205.0, roll: -8.0, ..OVERHEAD };
    let camera = Camera::at_distance([1600, 1200], stand, [40.0, 60.0], 800.0);
    let square: [Point; 4] = [[-200.0, -150.0], [200.0, -150.0], [200.0, 150.0], [-200.0, 150.0]];
    let q = square.map(|p| camera.project(p, 0.0));
    // Diagonals cross at the middle under any projective map.
    let (a, b, c, d) = (q[0], q[2], q[1], q[3]);
    let den = (a[0] - b[0]) * (c[1] - d[1]) - (a[1] - b[1]) * (c[0] - d[0]);
    let (m, n) = (a[0] * b[1] - a[1] * b[0], c[0] * d[1] - c[1] * d[0]);
    let meet = [(m * (c[0] - d[0]) - (a[0] - b[0]) * n) / den, (m * (c[1] - d[1]) - (a[1] - b[1]) * n) / den];
    assert!(length(sub(meet, camera.project([0.0, 0.0], 0.0))) < 1e-8);
}

/// Straight below the lens nothing is displaced by height; elsewhere by h / (H - h) of its distance, seen from overhead.
#[test]
fn height_displaces_away_from_the_lens() {
    let camera = Camera::at_distance([1200, 1200], OVERHEAD, [10.0, -20.0], 900.0);
    let (h, at) = (6.0, [210.0, 40.0]);
    let seen_at = camera.sheet(camera.project(at, h), 0.0);
    let by = h / (900.0 - h);
    assert!(length(sub(seen_at, [10.0 + 200.0 * (1.0 + by), -20.0 + 60.0 * (1.0 + by)])) < 1e-9);
    assert!(length(sub(camera.sheet(camera.project([10.0, -20.0], h), 0.0), [10.0, -20.0])) < 1e-9);
}

/// Brown's polynomial on a point whose image can be worked out by hand.
#[test]
fn the_lens_bends_as_brown_wrote() {
    let camera = Camera::at_distance([1001, 1001], OVERHEAD, [0.0, 0.0], 1000.0).with_lens(-0.1, 0.02, 0.001, -0.002);
    let Optics::Lens(lens) = &camera.optics else { panic!("a lens") };
    // x = 0.3, y = -0.4, r² = 0.25: radial 1 - 0.025 + 0.00125; tangential 2 p1 xy + p2 (r² + 2x²), p1 (r² + 2y²) + 2 p2 xy.
    let x = 0.3 * 0.97625 + 2.0 * 0.001 * -0.12 - 0.002 * 0.43;
    let y = -0.4 * 0.97625 + 0.001 * 0.57 + 2.0 * -0.002 * -0.12;
    let want = [500.0 + lens.focal * x, 500.0 + lens.focal * y];
    assert!(length(sub(camera.project([300.0, -400.0], 0.0), want)) < 1e-9);
    assert!(length(sub(camera.sheet(want, 0.0), [300.0, -400.0])) < 1e-6);
}

/// Exif orientation (tag 274): where row 0 and column 0 of the stored picture lie. 6 is to be turned clockwise by 90° to be seen.
#[test]
fn stored_pictures_come_upright() {
    let picture = Picture { size: [3, 2], rgb: (0..18).map(|k| k / 3 * 10).collect() };
    for orientation in 1..=8 {
        let bytes = file::png(&file::stored(&picture, orientation), None);
        let mut shown = image::load_from_memory(&bytes).expect("our own PNG");
        shown.apply_orientation(image::metadata::Orientation::from_exif(orientation).expect("1 to 8"));
        assert_eq!(shown.to_rgb8().into_raw(), picture.rgb, "orientation {orientation}");
    }
}

/// An Exif reader finds what was written.
#[test]
fn tags_can_be_read() {
    let picture = Picture { size: [16, 8], rgb: vec![128; 16 * 8 * 3] };
    let written = file::Written { orientation: 6, ..file::Written::phone(26) };
    let bytes = file::jpeg(&picture, &written);
    let tags = exif::Reader::new().read_from_container(&mut std::io::Cursor::new(&bytes)).expect("Exif");
    let number = |tag| tags.get_field(tag, exif::In::PRIMARY).and_then(|f| f.value.get_uint(0));
    assert_eq!(number(exif::Tag::FocalLengthIn35mmFilm), Some(26));
    assert_eq!(number(exif::Tag::Orientation), Some(6));
    assert!(image::load_from_memory(&bytes).is_ok());
}

/// Same seed, same bytes, whatever the number of threads.
#[test]
fn the_same_scene_gives_the_same_bytes() {
    let outline = shapes::pocket(&mut Figure::plain());
    let camera = Camera::framing([500, 400], OVERHEAD, &shapes::around([&outline], 30.0), 0.9);
    let scene =
        Scene::new(camera, Sheet::lines(25.4, [600.0, 500.0]), vec![Piece::new("p", &outline, Fabric::plain(srgb(90, 40, 60)), 2.0)]);
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("a pool").install(|| scene.draw());
    assert!(one == scene.draw());
}

/// An outline moved and put through path text comes back onto itself; one drawn 1000 ppm too large says so.
#[test]
fn laying_on_finds_motion_and_size() {
    let truth = shapes::waistcoat(&mut Figure::varied(3, 0.1));
    let moved = truth.laid(137.0, [412.0, -95.0]);
    let back = lay::path(&moved.svg()).expect("our own path");
    let laid = lay::lay(&back, &truth);
    assert!(laid.max() < 0.01 && laid.scale_ppm.abs() < 10.0, "{} {}", laid.max(), laid.scale_ppm);
    let large = lay::lay(&moved.map(|p| [p[0] * 1.001, p[1] * 1.001]), &truth);
    assert!((large.scale_ppm - 1000.0).abs() < 20.0, "{}", large.scale_ppm);
    assert!(large.bias > 0.05);
}
