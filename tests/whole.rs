//! From picture to outline: small rendered scenes through the program, held against their exact truth.
//!
//! The limits are for pictures of 2 megapixels, about two pixels to the millimetre; they are a ratchet, tightened as the
//! program improves, never loosened. What is not reached yet is ignored, with the figure it stands at. (Common practice, no
//! source: the trade works to 1/16 in on paper, 1.6 mm.)

// Figures are shown when a test fails or with --nocapture.
#![allow(clippy::print_stdout)]

mod judge;
mod render;

use judge::{Figures, compare, outline, trace};
use render::camera::{Camera, Stand};
use render::cloth::{Fabric, Piece, Weave};
use render::curve::Curve;
use render::file::{self, Written};
use render::light::Light;
use render::scene::Scene;
use render::shapes::{self, Figure, around};
use render::sheet::{Sheet, srgb};
use std::path::Path;

/// What is asked of a traced piece, mm.
#[derive(Clone, Copy)]
struct Limits {
    p95: f64,
    max: f64,
    bias: f64,
    corner: f64,
    /// Cubics and lines against the drawing's.
    segments: f64,
}

/// Plain cloth, well lit.
const PLAIN: Limits = Limits { p95: 0.2, max: 0.6, bias: 0.05, corner: 0.6, segments: 2.0 };

/// Cloth of the sheet's colour, patterns, hard shadows.
const HARD: Limits = Limits { p95: 0.4, max: 1.2, bias: 0.1, corner: 1.2, segments: 2.0 };

/// A phone held over pieces on a sheet: 2 MP, a lens that bends a little.
fn photo(stand: Stand, sheet: Sheet, pieces: Vec<Piece>) -> Scene {
    let camera = Camera::framing([1632, 1224], stand, &around(pieces.iter().map(|p| &p.outline), 45.0), 0.96)
        .with_slack(0.993, [4.0, -3.0])
        .with_lens(-0.035, 0.012, 0.0002, -0.0002);
    Scene::new(camera, sheet, pieces)
}

fn stand(tilt: f64, side: f64, roll: f64) -> Stand {
    Stand { film_mm: 26.0, tilt, side, roll }
}

fn one(name: &str, shape: fn(&mut Figure) -> render::curve::Curve, seed: u64, fabric: Fabric, thickness: f64) -> Piece {
    Piece::new(name, &shape(&mut Figure::varied(seed, 0.08)), fabric, thickness).laid(4.0, [3.0, -8.0])
}

/// Draws, traces, compares: one `Figures` a piece, in the order of the scene's pieces.
fn figures(scene: &Scene, kind: &str, pitch: &str) -> Vec<Figures> {
    told(scene, &["--sheet", kind, "--pitch", pitch])
}

/// The same with these words about the sheet.
fn told(scene: &Scene, sheet: &[&str]) -> Vec<Figures> {
    let folder = tempfile::tempdir().expect("a folder");
    let picture = folder.path().join("shot.jpg");
    std::fs::write(&picture, file::jpeg(&scene.draw(), &Written::phone(26))).expect("written");
    let out = folder.path().join("out");
    let thickness = format!("{}mm", scene.pieces[0].thickness);
    run(&picture, &out, &[sheet, &["--thickness", &thickness]].concat());
    held_against(&outline(&out, "shot"), scene)
}

fn run(picture: &Path, out: &Path, more: &[&str]) {
    let words = [picture.as_os_str(), "--out".as_ref(), out.as_os_str()].into_iter().chain(more.iter().map(|w| w.as_ref()));
    let output = trace(words);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
}

/// Pairs given and true pieces by the distance they leave when laid on each other.
fn held_against(given: &serde_json::Value, scene: &Scene) -> Vec<Figures> {
    assert_eq!(
        (given["format"].as_str(), given["version"].as_u64(), given["units"].as_str()),
        (Some("ruboff-outline"), Some(1), Some("mm"))
    );
    let (left, ppm) = judge::view_error(given, &scene.camera);
    println!("view: 95 % of places within {left:.3} mm, scale {ppm:+.0} ppm");
    assert!(left <= 0.05 && ppm.abs() <= 50.0, "view: {left} mm, {ppm} ppm");
    let pieces = given["pieces"].as_array().expect("pieces");
    assert_eq!(pieces.len(), scene.pieces.len(), "pieces found");
    let best = |truth: &Piece| {
        let all = pieces.iter().map(|g| compare(g, truth));
        all.min_by(|a, b| a.laid.p95().total_cmp(&b.laid.p95())).expect("a piece")
    };
    scene.pieces.iter().map(best).collect()
}

fn check(name: &str, all: &[Figures], limits: Limits) {
    for f in all {
        let laid = &f.laid;
        println!(
            "{name}: p95 {:.3} max {:.3} bias {:+.3} mm, scale {:+.0} ppm, corners {:.2}/{:.2} mm, {} false, area {:+.2} %, segments x{:.2}, bound held {:.3}",
            laid.p95(),
            laid.max(),
            laid.bias,
            laid.scale_ppm,
            f.median_corner,
            f.worst_corner,
            f.false_corners,
            f.area * 100.0,
            f.segments,
            f.held
        );
        assert!(laid.p95() <= limits.p95, "95 % of points within {}", limits.p95);
        assert!(laid.max() <= limits.max, "all points within {}", limits.max);
        assert!(laid.bias.abs() <= limits.bias, "bias within {}", limits.bias);
        assert!(f.worst_corner <= limits.corner, "corners within {}", limits.corner);
        assert_eq!(f.false_corners, 0, "no corner where none is");
        assert!(f.area.abs() < 0.003, "area within 0.3 %");
        assert!(f.segments <= limits.segments, "not more than {} times the segments of the drawing", limits.segments);
    }
}

#[test]
fn plain_bodice_on_ruled_paper() {
    let piece = one("front", shapes::bodice, 2, Fabric::plain(srgb(104, 60, 96)), 2.0).with_topstitch(12.0, srgb(210, 200, 190));
    let scene = photo(stand(14.0, 60.0, 93.0), Sheet::lines(25.4, [1000.0, 900.0]), vec![piece]);
    check("bodice", &figures(&scene, "lines", "1in"), PLAIN);
}

#[test]
fn two_pieces_on_dotted_paper() {
    let pocket = one("pocket", shapes::pocket, 3, Fabric::plain(srgb(48, 78, 120)), 1.2).laid(12.0, [-135.0, 10.0]);
    let gusset = one("gusset", shapes::gusset, 4, Fabric::plain(srgb(48, 78, 120)), 1.2).laid(-20.0, [135.0, 0.0]);
    let scene = photo(stand(9.0, 200.0, -3.0), Sheet::dots(25.4, [900.0, 700.0]), vec![pocket, gusset]);
    check("two pieces", &figures(&scene, "dots", "25.4mm"), PLAIN);
}

#[test]
fn twill_sleeve_on_crosses() {
    let twill = Fabric::plain(srgb(46, 60, 96)).with(Weave::Twill, srgb(150, 160, 180));
    let scene = photo(stand(20.0, 310.0, 8.0), Sheet::crosses(25.4, [900.0, 800.0]), vec![one("sleeve", shapes::sleeve, 5, twill, 1.8)]);
    check("sleeve", &figures(&scene, "crosses", "1in"), PLAIN);
}

/// A seam that is there is drawn without a word; where none is, the line drawn over bare cloth is doubted.
#[test]
fn a_seam_where_none_is_is_doubted() {
    let seam = Curve::from([-70.0, -90.0]).cubic([-55.0, -30.0], [-60.0, 40.0], [-75.0, 100.0]);
    let piece = one("front", shapes::bodice, 2, Fabric::plain(srgb(104, 60, 96)), 2.0).with_seam(seam.laid(4.0, [3.0, -8.0]));
    let scene = photo(stand(14.0, 60.0, 3.0), Sheet::lines(25.4, [1000.0, 900.0]), vec![piece]);
    let ends = |[a, b]: [[f64; 2]; 2]| [a, b].map(|p| scene.camera.project(p, 2.0)).map(|p| format!("{:.0},{:.0}", p[0], p[1])).join(" ");
    let laid = scene.pieces[0].seams[0].line.clone();
    let (there, bare) = (ends([laid.start, laid.stretches[0].end()]), ends([[60.0, -80.0], [70.0, 90.0]]));
    let folder = tempfile::tempdir().expect("a folder");
    let picture = folder.path().join("shot.jpg");
    std::fs::write(&picture, file::jpeg(&scene.draw(), &Written::phone(26))).expect("written");
    let out = folder.path().join("out");
    run(&picture, &out, &["--pitch", "1in", "--thickness", "2mm", "--inner", &there, "--inner", &bare]);
    let given = outline(&out, "shot");
    let doubts = given["doubts"].as_array().expect("doubts").iter().filter(|d| d["code"] == "seam-not-seen");
    let said: Vec<&str> = doubts.filter_map(|d| d["say"].as_str()).collect();
    assert!(said.len() == 1 && said[0].contains("of seam 2"), "{said:?}");
}

/// On a coded sheet nothing has to be told of it. The rim passes close by the code's marks.
#[test]
fn waistcoat_on_a_coded_sheet() {
    let (sheet, _) = Sheet::coded(23, 25.0, [40, 34]);
    let piece = one("front", shapes::waistcoat, 12, Fabric::plain(srgb(70, 50, 74)), 2.2);
    let scene = photo(stand(13.0, 150.0, 187.0), sheet, vec![piece]);
    check("waistcoat, coded", &told(&scene, &[]), PLAIN);
}

/// White cloth stands out from the sheet's tinted ground.
#[test]
fn white_bodice_on_a_coded_sheet() {
    let (sheet, _) = Sheet::coded(400, 20.0, [50, 44]);
    let piece = one("front", shapes::bodice, 13, Fabric::plain(srgb(243, 242, 238)), 1.4);
    let scene = photo(stand(10.0, 20.0, 4.0), sheet, vec![piece]);
    check("white bodice, coded", &told(&scene, &["--sheet", "coded"]), PLAIN);
}

#[test]
#[ignore = "not reached: 0.07 mm too large"]
fn gore_on_a_checker() {
    let scene = photo(
        stand(12.0, 100.0, 88.0),
        Sheet::checker(20.0, [1000.0, 800.0]),
        vec![one("panel", shapes::gore, 6, Fabric::plain(srgb(176, 92, 50)), 2.2)],
    );
    check("gore", &figures(&scene, "checker", "20 mm"), PLAIN);
}

#[test]
fn yoke_on_a_cutting_mat() {
    let scene = photo(
        stand(6.0, 20.0, -4.0),
        Sheet::mat(10.0, 5, [900.0, 600.0]),
        vec![one("yoke", shapes::yoke, 7, Fabric::plain(srgb(214, 180, 120)), 1.4)],
    );
    check("yoke", &figures(&scene, "mat", "1cm"), PLAIN);
}

/// On paper ruled in centimetres, every fifth line heavier. The hole is found, runs the other way and is as large as drawn.
#[test]
fn tabard_with_its_neck_opening() {
    let (outline_, neck) = shapes::tabard(&mut Figure::varied(8, 0.05));
    let piece = Piece::new("tabard", &outline_, Fabric::plain(srgb(60, 96, 70)), 2.0).with_hole(&neck);
    let scene = photo(stand(10.0, 150.0, 90.0), Sheet::heavy_lines(10.0, 5, [1000.0, 800.0]), vec![piece]);
    let folder = tempfile::tempdir().expect("a folder");
    let (picture, out) = (folder.path().join("tabard.jpg"), folder.path().join("out"));
    std::fs::write(&picture, file::jpeg(&scene.draw(), &Written::phone(26))).expect("written");
    run(&picture, &out, &["--sheet", "lines", "--pitch", "10mm", "--thickness", "2mm"]);
    let given = outline(&out, "tabard");
    check("tabard", &held_against(&given, &scene), PLAIN);
    let holes = given["pieces"][0]["holes"].as_array().expect("holes");
    assert_eq!(holes.len(), 1);
    let hole = judge::path(if holes[0].is_string() { &holes[0] } else { &holes[0]["outline"] });
    let signed = |c: &render::curve::Curve| render::curve::area(&c.points(0.2));
    assert!(signed(&hole) < 0.0 && signed(&judge::path(&given["pieces"][0]["outline"])) > 0.0);
    let laid = render::lay::lay(&hole, &scene.pieces[0].holes[0]);
    assert!(laid.p95() < PLAIN.p95 && laid.bias.abs() < PLAIN.bias, "hole: p95 {} bias {}", laid.p95(), laid.bias);
}

/// A striped tabard: on a mat with few lines, and on crosses that its stripes resemble.
fn striped_tabard(sheet: Sheet) -> Scene {
    let stripes = Fabric::plain(srgb(226, 214, 184)).with(Weave::Stripes { period: 34.0, width: 0.3 }, srgb(58, 84, 142));
    let (outline, neck) = shapes::tabard(&mut Figure::varied(13, 0.03));
    let piece = Piece::new("front", &outline, stripes, 2.0).with_hole(&neck).with_topstitch(8.0, srgb(120, 110, 96));
    photo(stand(8.0, 20.0, 84.0), sheet, vec![piece.laid(2.0, [5.0, -9.0])])
}

#[test]
#[ignore = "not reached: 1.0 mm at worst, 2.7 times the segments"]
fn striped_tabard_on_a_mat_ruled_in_inches() {
    check("on a mat", &figures(&striped_tabard(Sheet::mat(25.4, 0, [1800.0, 1300.0])), "mat", "1in"), PLAIN);
}

#[test]
#[ignore = "not reached: 7.7 mm at worst, where the line follows stripes"]
fn striped_tabard_on_crosses() {
    check("on crosses", &figures(&striped_tabard(Sheet::crosses(25.4, [900.0, 640.0])), "crosses", "1in"), PLAIN);
}

/// A round piece is one closed edge without corners.
#[test]
fn round_piece_has_no_corners() {
    let scene = photo(
        stand(17.0, 260.0, 30.0),
        Sheet::lines(25.4, [800.0, 800.0]),
        vec![one("round", shapes::round, 9, Fabric::plain(srgb(120, 40, 48)), 1.5)],
    );
    check("round", &figures(&scene, "lines", "1 in"), PLAIN);
}

#[test]
#[ignore = "not reached: a corner rounded off, 1 mm at worst"]
fn white_cloth_on_white_paper() {
    let scene = photo(
        stand(8.0, 45.0, 91.0),
        Sheet::heavy_lines(10.0, 5, [1000.0, 900.0]),
        vec![one("waistcoat", shapes::waistcoat, 10, Fabric::plain(srgb(236, 235, 230)), 2.5)],
    );
    check("white on white", &figures(&scene, "lines", "1cm"), HARD);
}

#[test]
fn gingham_under_a_hard_lamp() {
    let gingham = Fabric::plain(srgb(180, 50, 60)).with(Weave::Gingham { period: 9.0 }, srgb(236, 230, 224));
    let scene = photo(stand(13.0, 120.0, 2.0), Sheet::lines(25.4, [900.0, 700.0]), vec![one("collar", shapes::collar, 11, gingham, 1.5)]);
    check("gingham", &figures(&Scene { light: Light::lamp(), ..scene }, "lines", "1in"), HARD);
}

/// Dark cloth with a strip of even shade beside it, up to 6 mm wide and as wide as the lamp's direction says.
#[test]
fn dark_bodice_beside_a_lamps_shadow() {
    let moss = Fabric::plain(srgb(74, 88, 50));
    let scene = photo(stand(9.0, 70.0, 12.0), Sheet::lines(25.4, [900.0, 800.0]), vec![one("bodice", shapes::bodice, 12, moss, 2.6)]);
    check("lamp", &figures(&Scene { light: Light::lamp(), ..scene }, "lines", "1in"), PLAIN);
}

/// A flatbed at 150 dpi whose carriage runs 0.3 % short: the sheet knows better than the file's dpi.
#[test]
fn scan_with_a_scale_error() {
    let piece = one("pocket", shapes::pocket, 12, Fabric::plain(srgb(70, 84, 110)), 1.0);
    let per = 150.0 / 25.4;
    let camera = Camera::flatbed([1240, 1754], [per, per * 0.997], 2.0, [0.0, 0.0]);
    let scene = Scene { light: Light::flatbed(), ..Scene::new(camera, Sheet::heavy_lines(10.0, 5, [400.0, 400.0]), vec![piece]) };
    let folder = tempfile::tempdir().expect("a folder");
    let (picture, out) = (folder.path().join("scan.png"), folder.path().join("out"));
    std::fs::write(&picture, file::png(&scene.draw(), Some(150.0))).expect("written");
    run(&picture, &out, &["--sheet", "lines", "--pitch", "10mm", "--thickness", "1mm"]);
    let given = outline(&out, "scan");
    assert_eq!(given["pictures"][0]["kind"].as_str(), Some("scan"));
    check("scan", &held_against(&given, &scene), PLAIN);
}

/// Every file, byte for byte, whatever the number of threads.
#[test]
fn threads_do_not_show_in_the_files() {
    let scene = photo(
        stand(11.0, 60.0, 3.0),
        Sheet::lines(25.4, [800.0, 600.0]),
        vec![one("collar", shapes::collar, 13, Fabric::plain(srgb(40, 90, 80)), 1.5)],
    );
    let folder = tempfile::tempdir().expect("a folder");
    let picture = folder.path().join("shot.jpg");
    std::fs::write(&picture, file::jpeg(&scene.draw(), &Written::phone(26))).expect("written");
    let files = |threads: &str| {
        let out = folder.path().join(threads);
        let words = [picture.as_os_str(), "--out".as_ref(), out.as_os_str(), "--pitch".as_ref(), "1in".as_ref()];
        let output = judge::command().env("RAYON_NUM_THREADS", threads).args(words).output().expect("the program starts");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let mut all: Vec<_> =
            std::fs::read_dir(out.join("shot")).expect("a folder of files").map(|e| e.expect("an entry").path()).collect();
        all.sort();
        all.iter().map(|f| (f.file_name().map(ToOwned::to_owned), std::fs::read(f).expect("readable"))).collect::<Vec<_>>()
    };
    let (one, two) = (files("1"), files("2"));
    assert!(!one.is_empty());
    assert!(one == two, "files differ");
}

#[test]
fn the_demos_garments() {
    for (name, f) in demo() {
        assert!(f.laid.p95() < 0.5 && f.laid.bias.abs() < 0.1, "{name}: p95 {} bias {}", f.laid.p95(), f.laid.bias);
        assert_eq!(f.false_corners, 0, "{name}");
    }
}

#[test]
fn the_demos_corners() {
    for (name, f) in demo() {
        assert!(f.worst_corner <= 1.0, "{name}: a corner is {} mm off", f.worst_corner);
    }
}

/// The whole demo folder in one run, told only the pitch; sheets and thickness stand in the notes.
fn demo() -> Vec<(&'static str, Figures)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/wardrobe");
    let out = tempfile::tempdir().expect("a folder");
    let output = judge::trace([folder.as_os_str(), "--pitch".as_ref(), "1in".as_ref(), "--out".as_ref(), out.path().as_os_str()]);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let one = |(file, scene): (&'static str, Scene)| {
        let name = Path::new(file);
        let (parent, stem) = (name.parent().expect("a folder"), name.file_stem().expect("a stem").to_string_lossy());
        let given = judge::outline(&out.path().join(parent), &stem);
        assert_eq!(given["pieces"].as_array().map(Vec::len), Some(1), "{}", name.display());
        let f = judge::compare(&given["pieces"][0], &scene.pieces[0]);
        println!(
            "{}: p95 {:.3} max {:.3} bias {:+.3} mm, corners {:.2} mm",
            name.display(),
            f.laid.p95(),
            f.laid.max(),
            f.laid.bias,
            f.worst_corner
        );
        (file, f)
    };
    render::wardrobe::all().into_iter().map(one).collect()
}

/// Bright cloth throws its own hue into a faint, wide shadow beside it, which is sheet all the same.
#[test]
fn a_faint_shadow_of_the_cloths_own_hue() {
    for (name, colour, hue) in [("red", srgb(170, 60, 55), [0.5, 0.95, 1.0]), ("blue", srgb(70, 90, 150), [1.0, 0.87, 0.47])] {
        let piece = one("front", shapes::bodice, 2, Fabric::plain(colour), 2.0);
        let scene = photo(stand(10.0, 60.0, 3.0), Sheet::lines(25.4, [1000.0, 900.0]), vec![piece]);
        let light = Light { shadow: 0.14, hue, reach: 4.0, softness: 5.0, ..Light::soft() };
        check(name, &figures(&Scene { light, ..scene }, "lines", "1in"), PLAIN);
    }
}

/// One lamp in a dark room: a hard shadow that takes four fifths of the light lies beside the cloth, a centimetre wide.
#[test]
fn a_hard_deep_shadow_is_no_cloth() {
    for (name, colour) in [("blue", srgb(60, 90, 140)), ("sand", srgb(205, 190, 160))] {
        let piece = one("front", shapes::bodice, 2, Fabric::plain(colour), 2.0);
        let scene = photo(stand(10.0, 60.0, 3.0), Sheet::lines(25.4, [1000.0, 900.0]), vec![piece]);
        let light = Light { shadow: 0.78, reach: 4.0, softness: 0.4, ..Light::soft() };
        check(name, &figures(&Scene { light, ..scene }, "lines", "1in"), HARD);
    }
}

/// The shadow of a wall or a window's frame, with a border that runs across sheet and garment, sharp and soft, faint and deep.
#[test]
fn a_shadows_border_runs_under_the_garment() {
    let lines = || Sheet::lines(25.4, [1000.0, 900.0]);
    let cases = [
        ("faint", lines(), ["--sheet", "lines", "--pitch", "1in"], Fabric::plain(srgb(110, 70, 140)), [0.22, 70.0, -0.05, 3.0]),
        ("half", lines(), ["--sheet", "lines", "--pitch", "1in"], Fabric::plain(srgb(205, 190, 160)), [0.45, 20.0, 0.06, 3.0]),
        ("soft", lines(), ["--sheet", "lines", "--pitch", "1in"], Fabric::plain(srgb(60, 90, 140)), [0.4, 120.0, 0.02, 100.0]),
        ("deep", lines(), ["--sheet", "lines", "--pitch", "1in"], Fabric::plain(srgb(150, 50, 60)), [0.62, 160.0, 0.0, 3.0]),
        (
            "squares",
            Sheet::checker(20.0, [1000.0, 900.0]),
            ["--sheet", "checker", "--pitch", "2cm"],
            Fabric::plain(srgb(160, 50, 45)),
            [0.45, 70.0, 0.0, 3.0],
        ),
    ];
    for (name, sheet, told, fabric, falls) in cases {
        let [takes, way, off, soft]: [f32; 4] = falls;
        let scene = photo(stand(9.0, 60.0, 3.0), sheet, vec![one("front", shapes::bodice, 2, fabric, 1.5)]);
        let mut picture = scene.draw();
        let [width, height] = picture.size.map(|n| n as f32);
        let (sin, cos) = way.to_radians().sin_cos();
        for (n, pixel) in picture.rgb.as_chunks_mut::<3>().0.iter_mut().enumerate() {
            let (x, y) = ((n % picture.size[0]) as f32 - width / 2.0, (n / picture.size[0]) as f32 - height / 2.0);
            let share = ((x * cos + y * sin - off * width) / soft + 0.5).clamp(0.0, 1.0);
            // As a camera writes light: to the 1/2.2nd power, nearly (IEC 61966-2-1).
            *pixel = pixel.map(|v| (f32::from(v) * (1.0 - takes * share).powf(1.0 / 2.2)) as u8);
        }
        let folder = tempfile::tempdir().expect("a folder");
        let (file, out) = (folder.path().join("shot.jpg"), folder.path().join("out"));
        std::fs::write(&file, file::jpeg(&picture, &Written::phone(26))).expect("written");
        run(&file, &out, &[&told[..], &["--thickness", "1.5mm"]].concat());
        check(name, &held_against(&outline(&out, "shot"), &scene), HARD);
    }
}

/// A sheet that is burnt out to white over half of the picture, its lines with it: that they are gone there makes no cloth of it, and it is told.
#[test]
fn a_sheet_burnt_out_is_no_cloth() {
    let piece = one("front", shapes::bodice, 2, Fabric::plain(srgb(110, 70, 140)), 1.5);
    let scene = photo(stand(9.0, 60.0, 3.0), Sheet::lines(25.4, [1000.0, 900.0]), vec![piece]);
    let mut picture = scene.draw();
    let brightest = |v: &[u8; 3]| f32::from(v[0].max(v[1]).max(v[2]));
    let paper = picture.rgb.as_chunks::<3>().0.iter().map(brightest).fold(0.0, f32::max);
    let wide = picture.size[0];
    for (n, pixel) in picture.rgb.as_chunks_mut::<3>().0.iter_mut().enumerate() {
        // Brighter and brighter towards one side.
        let more = 1.0 + 0.2 * (n % wide) as f32 / wide as f32;
        *pixel = pixel.map(|v| (f32::from(v) * 255.0 / paper * more).min(255.0) as u8);
    }
    let folder = tempfile::tempdir().expect("a folder");
    let (file, out) = (folder.path().join("shot.jpg"), folder.path().join("out"));
    std::fs::write(&file, file::jpeg(&picture, &Written::phone(26))).expect("written");
    run(&file, &out, &["--sheet", "lines", "--pitch", "1in", "--thickness", "1.5mm"]);
    let given = outline(&out, "shot");
    assert!(given["doubts"].as_array().expect("doubts").iter().any(|d| d["code"] == "too-bright"), "{}", given["doubts"]);
    let laid = compare(&given["pieces"][0], &scene.pieces[0]).laid;
    println!("burnt out: p95 {:.3} max {:.3}", laid.p95(), laid.max());
    assert!(laid.p95() <= HARD.p95 && laid.max() <= HARD.max, "{} {}", laid.p95(), laid.max());
}

/// Pictures as messengers save them, colour at half the size and coarsely: what strong colours leave in the blocks beside them is no cloth.
#[test]
fn bright_cloth_in_a_coarsely_saved_picture() {
    let piece = one("front", shapes::bodice, 2, Fabric::plain(srgb(170, 60, 55)), 2.0);
    let scene = photo(stand(10.0, 60.0, 3.0), Sheet::lines(25.4, [1000.0, 900.0]), vec![piece]);
    let picture = scene.draw();
    for quality in [60, 75] {
        let mut bytes = Vec::new();
        let mut encoder = jpeg_encoder::Encoder::new(&mut bytes, quality);
        encoder.set_sampling_factor(jpeg_encoder::SamplingFactor::F_2_2);
        let [w, h] = picture.size.map(|n| n as u16);
        encoder.encode(&picture.rgb, w, h, jpeg_encoder::ColorType::Rgb).expect("encoded");
        let folder = tempfile::tempdir().expect("a folder");
        let (file, out) = (folder.path().join("shot.jpg"), folder.path().join("out"));
        std::fs::write(&file, bytes).expect("written");
        run(&file, &out, &["--pitch", "1in", "--thickness", "2mm"]);
        check(&format!("quality {quality}"), &held_against(&outline(&out, "shot"), &scene), HARD);
    }
}
