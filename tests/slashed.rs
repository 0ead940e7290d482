//! Where a piece is slashed to be spread, and what stays as it lies, on pieces with straight edges whose result arithmetic gives.

mod given;
mod straight;

use given::{draft, length, notes};
use kurbo::ParamCurve;
use ruboff::piece::{Draft, Layer, marked};
use straight::{half_front, lines};

/// Half a skirt, its centre on the left: a waist of 200 mm, a hem of 300, 500 mm long.
fn half_skirt() -> Layer {
    lines(&[
        ("waist centre", "waist", [0.0, 0.0]),
        ("waist side", "side", [200.0, 0.0]),
        ("hem side", "hem", [300.0, 500.0]),
        ("hem centre", "centre front", [0.0, 500.0]),
    ])
}

fn pleats(edge: &str, [from, to]: [f64; 2], count: u32, more: &str) -> String {
    let place = |at: f64| format!("{{ edge = \"{edge}\", at = \"{at} mm\" }}");
    format!(
        "[piece.front]\nopen = true\n[[piece.front.pleat]]\nname = \"p\"\nedge = \"{edge}\"\nbetween = [{}, {}]\ndepth = \"10 mm\"\ncount = {count}\n{more}",
        place(from),
        place(to)
    )
}

/// Where straight steps of 20 mm along an edge start and end, across the page.
fn steps(layer: &Layer, edge: &str) -> Vec<[f64; 2]> {
    let path = &layer.edges[layer.edge(edge).expect("there")].path;
    let all = path.segments().map(|s| [s.start().x, s.end().x]).map(|[a, b]| [a.min(b), a.max(b)]);
    let mut all: Vec<[f64; 2]> = all.filter(|[a, b]| (b - a - 20.0).abs() < 1e-6).collect();
    all.sort_by(|p, q| p[0].total_cmp(&q[0]));
    all
}

fn close(found: &[[f64; 2]], want: &[[f64; 2]]) -> bool {
    found.len() == want.len() && found.iter().flatten().zip(want.iter().flatten()).all(|(a, b)| (a - b).abs() < 1e-6)
}

fn drafted(layer: &Layer, text: &str) -> Draft {
    let d = draft("front", layer, &notes(text));
    assert!(d.undone.is_empty(), "{:?}", d.undone);
    d
}

/// Four pleats at an eighth, three, five and seven eighths of the waist, as full at the hem: they lie at the same shares of it, 300 mm for 200, and
/// not all below the waist; the centre stays where it is, and everything moves level.
#[test]
fn a_panel_is_as_full_from_end_to_end() {
    for flip in [false, true] {
        let layer = if flip { half_skirt().mapped(kurbo::Affine::FLIP_X) } else { half_skirt() };
        let d = drafted(&layer, &pleats("waist", [0.0, 200.0], 4, "across = \"hem\"\n"));
        let out = if flip { d.piece.drafted().mapped(kurbo::Affine::FLIP_X) } else { d.piece.drafted().clone() };
        let b = kurbo::Shape::bounding_box(&out.outline());
        let out = out.mapped(kurbo::Affine::translate((-b.x0, -b.y0)));
        let at = |width: f64| [0, 1, 2, 3].map(|k| width * (f64::from(k) + 0.5) / 4.0 + 20.0 * f64::from(k)).map(|x| [x, x + 20.0]);
        assert!(close(&steps(&out, "waist"), &at(200.0)), "{:?}", steps(&out, "waist"));
        assert!(close(&steps(&out, "hem"), &at(300.0)), "{:?}", steps(&out, "hem"));
        assert!((length(&out, "side") - length(&layer, "side")).abs() < 1e-6 && (out.area() - layer.area() - 80.0 * 500.0).abs() < 1e-3);
        assert!((b.width() - 380.0).abs() < 1e-6 && (b.height() - 500.0).abs() < 1e-6);
        // Its lines run beside the slash, which leans by as much as the panel does there, and 20 mm apart.
        let drawn = marked(&d, &notes("").garment, "x").fullness.remove(0);
        let ends: Vec<[kurbo::Point; 2]> = drawn.lines.iter().filter_map(|l| l.segments().next()).map(|s| [s.start(), s.end()]).collect();
        let lean = |k: usize| ((ends[k][1].x - ends[k][0].x) / (ends[k][1].y - ends[k][0].y)).abs();
        for (k, share) in [0.125, 0.375, 0.625, 0.875].into_iter().enumerate() {
            let k = if flip { 3 - k } else { k };
            assert!((lean(2 * k) - share * 0.2).abs() < 1e-6 && (lean(2 * k + 1) - share * 0.2).abs() < 1e-6, "{:?}", ends);
        }
    }
    let gathered =
        "[piece.front]\nopen = true\n[[piece.front.gather]]\nname = \"g\"\nedge = \"waist\"\nfull = \"300 mm\"\nacross = \"hem\"\n";
    let out = drafted(&half_skirt(), gathered);
    let out = out.piece.drafted();
    assert!((length(out, "waist") - 300.0).abs() < 1e-6 && (length(out, "hem") - 400.0).abs() < 1e-6);
    assert!((length(out, "centre front") - 500.0).abs() < 1e-6 && (out.area() - 350.0 * 500.0).abs() < 1e-3);
}

/// Opened to nothing at the hem, half a skirt keeps its centre upright, by its name or where the notes mark it, and it is the side that swings out.
#[test]
fn the_centre_stays_as_it_lies() {
    let named = |name: &str| {
        let mut out = half_skirt();
        out.edges[3].name = name.into();
        out
    };
    for (layer, more) in [(named("centre front"), ""), (named("opening"), "[piece.front]\ncentre = [\"waist centre\", \"hem centre\"]\n")] {
        let text =
            pleats("waist", [50.0, 150.0], 2, "").replacen("[piece.front]\n", if more.is_empty() { "[piece.front]\n" } else { more }, 1);
        let d = drafted(&layer, &text);
        let out = d.piece.drafted();
        let corner = |name: &str| out.corners[out.corner(name).expect("there")].at;
        let (top, foot) = (corner("waist centre"), corner("hem centre"));
        assert!((top.x - foot.x).abs() < 1e-6 && (foot.y - top.y - 500.0).abs() < 1e-6, "{top:?} {foot:?}");
        assert!((length(out, "waist") - 240.0).abs() < 1e-6 && (length(out, "hem") - 300.0).abs() < 1e-6);
    }
    // Straight across from the side lies the centre, which would bend: told, and how else.
    let d = draft("front", &half_skirt(), &notes(&pleats("side", [200.0, 300.0], 2, "")));
    assert!(d.undone.iter().any(|u| u.contains("would bend centre front, which is its centre") && u.contains("across")), "{:?}", d.undone);
    // As full there it stays straight.
    let d = drafted(&half_skirt(), &pleats("side", [200.0, 300.0], 2, "across = \"centre front\"\n"));
    assert!((length(d.piece.drafted(), "centre front") - 540.0).abs() < 1e-6);
}

/// A shoulder slopes by 20° (12.5° in the drawing of `half_front`): its pleats run down the piece to the hem, to nothing there or as full.
#[test]
fn pleats_run_down_from_a_shoulder() {
    let mut front = half_front();
    let slope = 90.0 * f64::to_radians(20.0).tan();
    front.corners[1].at.y = slope;
    for (k, [a, b]) in [[[60.0, 0.0], [150.0, slope]], [[150.0, slope], [200.0, 200.0]]].into_iter().enumerate() {
        front.edges[k].path = kurbo::BezPath::from_vec(vec![
            kurbo::PathEl::MoveTo(kurbo::Point::from((a[0], a[1]))),
            kurbo::PathEl::LineTo(kurbo::Point::from((b[0], b[1]))),
        ]);
    }
    front.check().expect("closed");
    let d = drafted(&front, &pleats("shoulder", [20.0, 60.0], 2, ""));
    assert!(d.piece.changes().iter().any(|c| c.what.contains("to nothing at hem")), "{:?}", d.piece.changes());
    let d = drafted(&front, &pleats("shoulder", [20.0, 60.0], 2, "across = \"hem\"\n"));
    assert!((length(d.piece.drafted(), "hem") - 240.0).abs() < 1e-6);
    assert!((length(d.piece.drafted(), "centre") - length(&front, "centre")).abs() < 1e-9);
}

/// A whole body whose neckline is parted in a V at the centre opens alike on both sides: gathers and pleats of the hem run out to nothing along all of the
/// neckline, whose halves keep their length, and so does every other edge.
#[test]
fn a_parted_neckline_is_one_edge_across() {
    let whole = lines(&[
        ("neck left", "shoulder left", [60.0, 0.0]),
        ("tip left", "armhole left", [150.0, 20.0]),
        ("underarm left", "side left", [200.0, 200.0]),
        ("hem left", "hem", [200.0, 600.0]),
        ("hem right", "side right", [-200.0, 600.0]),
        ("underarm right", "armhole right", [-200.0, 200.0]),
        ("tip right", "shoulder right", [-150.0, 20.0]),
        ("neck right", "neckline", [-60.0, 0.0]),
        ("neck point", "neckline 2", [0.0, 60.0]),
    ]);
    let place = |x: f64| format!("{{ mm = [\"{x} mm\", \"600 mm\"] }}");
    let gather =
        format!("[[piece.front.gather]]\nname = \"g\"\nedge = \"hem\"\nbetween = [{}, {}]\nfull = \"160 mm\"\n", place(-50.0), place(50.0));
    let pleat = format!(
        "[[piece.front.pleat]]\nname = \"p\"\nedge = \"hem\"\nbetween = [{}, {}]\ndepth = \"15 mm\"\ncount = 2\n",
        place(-50.0),
        place(50.0)
    );
    for what in [gather, pleat] {
        // Turned round the list of edges starts elsewhere, in the neckline too.
        for first in 0..9 {
            let mut layer = whole.clone();
            layer.corners.rotate_left(first);
            layer.edges.rotate_left(first);
            let d = drafted(&layer, &format!("[piece.front]\nkind = \"body front\"\nopen = true\n{what}"));
            let out = d.piece.drafted();
            assert!((length(out, "hem") - 460.0).abs() < 1e-3, "{}", length(out, "hem"));
            for edge in &whole.edges {
                let kept = edge.name == "hem" || (length(out, &edge.name) - edge.length()).abs() < 0.01;
                assert!(kept, "{}: {}", edge.name, length(out, &edge.name));
            }
            // From the neck's point to both ends of every pair: as far on the left as on the right.
            let at = |name: &str| out.corners[out.corner(name).unwrap_or_else(|| panic!("{name}"))].at;
            for pair in ["neck", "tip", "underarm", "hem"] {
                let [left, right] = ["left", "right"].map(|side| at(&format!("{pair} {side}")).distance(at("neck point")));
                assert!((left - right).abs() < 0.01, "{pair}: {left} {right}");
            }
            let turned = at("hem left").distance(at("hem right"));
            assert!(turned > 440.0 && turned < 460.0, "{turned}");
        }
    }
}
