//! Darts keep their width whatever else is opened or sewn: gathers and pleats beside them, seams walked over those that lie open.

mod given;
mod straight;

use given::{draft, length, notes};
use kurbo::{ParamCurve, Point};
use ruboff::notes::{NotchStyle, Notes};
use ruboff::piece::{Draft, How, Joined, Layer, NotchAt, Piece, joins, marked};
use straight::lines;

/// A skirt's front, whole: waist of 300 mm, hem of 400 mm, 600 mm long.
fn skirt() -> Layer {
    lines(&[
        ("waist right", "waist", [-150.0, 0.0]),
        ("waist left", "side left", [150.0, 0.0]),
        ("hem left", "hem", [200.0, 600.0]),
        ("hem right", "side right", [-200.0, 600.0]),
    ])
}

/// A dart of 20 mm in its waist, 60 mm right of the centre on the page, whose point lies 30 mm further out.
fn dart(open: bool) -> String {
    format!(
        "[piece.skirt]\nopen = {open}\n[piece.skirt.grain]\nalong = [{{ mm = [\"0 mm\", \"0 mm\"] }}, {{ mm = [\"0 mm\", \"500 mm\"] }}]\n\
         [[piece.skirt.dart]]\nname = \"waist dart\"\nlegs = [{{ mm = [\"60 mm\", \"0 mm\"] }}]\npoint = {{ mm = [\"90 mm\", \"100 mm\"] }}\nintake = \"20 mm\"\n"
    )
}

/// Lengths of the dart's legs, and how far apart they end.
fn legs(drawn: &Draft) -> [f64; 3] {
    let notes = Notes::default();
    let marked = marked(drawn, &notes.garment, "");
    let ends: Vec<[Point; 2]> = marked.darts[0]
        .legs
        .iter()
        .map(|l| {
            let one = l.segments().next().expect("a line");
            [one.start(), one.end()]
        })
        .collect();
    let [a, b] = ends[..] else { panic!("two legs") };
    [a[0].distance(a[1]), b[0].distance(b[1]), a[0].distance(b[0])]
}

/// Gathers all along a waist of 300 mm, drawn out 360 mm long, as full at the hem: the dart that parts it stays 20 mm wide with equal legs, and
/// the waist has its 360 mm beside it.
#[test]
fn gathers_leave_a_dart_as_wide_as_it_is() {
    let plain = legs(&draft("skirt", &skirt(), &notes(&dart(true))));
    let all = format!(
        "{}[[piece.skirt.gather]]\nname = \"gathers\"\nedge = \"waist\"\nby = \"gathers\"\nfull = \"360 mm\"\nacross = \"hem\"\n",
        dart(true)
    );
    let made = draft("skirt", &skirt(), &notes(&all));
    assert!(made.undone.iter().all(|u| u.starts_with("the dart was opened")), "{:?}", made.undone);
    let open = legs(&made);
    assert!((open[2] - 20.0).abs() < 1e-6 && open.iter().zip(&plain).all(|(a, b)| (a - b).abs() < 1e-6), "{open:?} {plain:?}");
    let (stretches, taken_up) = made.piece.edges_of("waist");
    let long: f64 = stretches.iter().map(|&k| made.piece.drafted().edges[k].length()).sum();
    assert!((long - 360.0).abs() < 1e-6 && (taken_up - 60.0).abs() < 1e-6, "{long} {taken_up}");
}

/// A pleat whose line runs between a dart's mouth and its point, which lies further out: the point goes with the mouth. One in the mouth itself would widen it,
/// and is refused with its line.
#[test]
fn a_pleat_leaves_a_dart_as_wide_as_it_is_or_is_refused() {
    let pleat = |at: f64| {
        let place = format!("{{ mm = [\"{at} mm\", \"0 mm\"] }}");
        format!(
            "{}[[piece.skirt.pleat]]\nname = \"pleat\"\nedge = \"waist\"\nbetween = [{place}, {place}]\ncount = 1\ndepth = \"15 mm\"\nlaid = \"to centre\"\nacross = \"hem\"\n",
            dart(true)
        )
    };
    let plain = legs(&draft("skirt", &skirt(), &notes(&dart(true))));
    let made = draft("skirt", &skirt(), &notes(&pleat(85.0)));
    assert!(made.undone.iter().all(|u| u.starts_with("the dart was opened")), "{:?}", made.undone);
    let open = legs(&made);
    assert!(open.iter().zip(&plain).all(|(a, b)| (a - b).abs() < 1e-6), "{open:?} {plain:?}");
    assert!((made.piece.edges_of("waist").1 - 30.0).abs() < 1e-9);
    // The dart lies open already, and the pleat in it.
    let text = pleat(65.0)
        .replace("legs = [{ mm = [\"60 mm\", \"0 mm\"] }]", "legs = [{ mm = [\"60 mm\", \"0 mm\"] }, { mm = [\"80 mm\", \"0 mm\"] }]")
        .replace("[\"90 mm\", \"100 mm\"]", "[\"70 mm\", \"100 mm\"]");
    let made = draft("skirt", &skirt(), &notes(&text));
    let line = text.lines().position(|l| l.contains("piece.skirt.pleat")).expect("there") + 1;
    let told = made.undone.iter().find(|u| u.contains("waist dart")).unwrap_or_else(|| panic!("{:?}", made.undone));
    assert!(told.contains("+30.0 mm wide") && told.contains(&format!("line {line}")), "{told}");
    assert!((legs(&made)[2] - 20.0).abs() < 1e-6);
}

/// Half a front without a fold, whose centre edge alone says where its centre is, upright and turned to the bias: a pleat to the side is laid off that edge,
/// though it lies nearer to it than to the middle of the half.
#[test]
fn a_centre_by_name_is_where_the_centre_is() {
    let half = lines(&[
        ("waist centre", "waist", [0.0, 0.0]),
        ("waist side", "side", [150.0, 0.0]),
        ("hem side", "hem", [200.0, 600.0]),
        ("hem centre", "centre front", [0.0, 600.0]),
    ]);
    for runs in ["lengthwise", "bias"] {
        let text = format!(
            "[piece.skirt]\nopen = true\n[piece.skirt.grain]\nalong = \"centre front\"\nruns = \"{runs}\"\n\
             [[piece.skirt.pleat]]\nname = \"pleat\"\nedge = \"waist\"\nbetween = [{{ mm = [\"30 mm\", \"0 mm\"] }}, {{ mm = [\"30 mm\", \"0 mm\"] }}]\ncount = 1\ndepth = \"10 mm\"\nlaid = \"to side\"\nacross = \"hem\"\n"
        );
        let said = notes(&text);
        let drawn = draft("skirt", &half, &said);
        let centre = drawn.piece.drafted().edge("centre front").map(|k| &drawn.piece.drafted().edges[k].path).expect("there");
        let off = |p: Point| {
            centre.segments().map(|s| kurbo::ParamCurveNearest::nearest(&s, p, 1e-9).distance_sq).fold(f64::INFINITY, f64::min).sqrt()
        };
        let marked = marked(&drawn, &said.garment, "");
        let ends: Vec<[f64; 2]> =
            marked.fullness[0].lines.iter().filter_map(|l| l.segments().next()).map(|l| [off(l.start()), off(l.end())]).collect();
        // Of its three lines the two folds run down along the centre, the arrow away from it.
        let away = ends.iter().filter(|[a, b]| (b - a).abs() > 15.0).collect::<Vec<_>>();
        assert!(away.len() == 1 && away[0][1] > away[0][0], "{runs}: {ends:?}");
    }
}

fn walked(notes: &Notes, made: Draft, band: f64, notches: &[(&str, &str, f64)]) -> Joined {
    let long = lines(&[("a", "edge", [0.0, 0.0]), ("b", "x", [band, 0.0]), ("c", "y", [band, 40.0]), ("d", "z", [0.0, 40.0])]);
    let mut pieces = [made.piece, Piece::new("band", long)];
    for (piece, edge, at) in notches {
        let piece = pieces.iter_mut().find(|p| p.name == *piece).expect("there");
        piece.notches.push(NotchAt { edge: (*edge).into(), at: *at, count: 1, style: NotchStyle::Slit, how: How::Noted, answers: None });
    }
    joins(notes, &pieces).remove(0).expect("walked")
}

/// A dart that lay open in the picture is closed where its seam is walked, however its legs are placed, on a half on the fold as well; what lies beyond
/// it comes that much nearer.
#[test]
fn a_dart_that_lies_open_is_closed_where_its_seam_is_walked() {
    let half = lines(&[
        ("waist centre", "waist", [0.0, 0.0]),
        ("waist side", "side", [150.0, 0.0]),
        ("hem side", "hem", [200.0, 600.0]),
        ("hem centre", "centre", [0.0, 600.0]),
    ]);
    let places = [
        "{ mm = [\"60 mm\", \"0 mm\"] }, { mm = [\"80 mm\", \"0.5 mm\"] }",
        "{ edge = \"waist\", at = \"90 mm\", from = \"waist side\" }, { edge = \"waist\", at = \"80 mm\" }",
    ];
    for legs in places {
        for (cut, band, fold) in [("2, mirrored", 130.0, ""), ("1, place on fold", 260.0, "fold = \"centre\"\n")] {
            let text = format!(
                "[piece.skirt]\ncut = \"{cut}\"\n{fold}[piece.skirt.grain]\nalong = \"centre\"\n\
                 [[piece.skirt.dart]]\nname = \"waist dart\"\nlegs = [{legs}]\npoint = {{ mm = [\"70 mm\", \"100 mm\"] }}\nintake = \"20 mm\"\n\
                 [[join]]\nedges = [\"skirt: waist\", \"band: edge\"]\n"
            );
            let said = notes(&text);
            let made = draft("skirt", &half, &said);
            assert!(made.undone.is_empty(), "{:?}", made.undone);
            let found = walked(&said, made.clone(), band, &[]);
            assert!((found.walked.lengths[0] - band).abs() < 1e-6, "{cut} {legs}: {:?}", found.walked.lengths);
            if fold.is_empty() {
                // Notches to both sides of it.
                let found = walked(
                    &said,
                    made,
                    band,
                    &[("skirt", "waist", 30.0), ("skirt", "waist", 120.0), ("band", "edge", 30.0), ("band", "edge", 100.0)],
                );
                let sections: Vec<f64> = found.walked.sections.iter().map(|s| s.lengths[0]).collect();
                assert!(sections.iter().zip([30.0, 70.0, 30.0]).all(|(s, w)| (s - w).abs() < 1e-6), "{sections:?}");
            }
        }
    }
    // A notch between the legs is sewn into the dart: told with its line; one that marks a leg is not.
    let open = "[piece.skirt]\n[[piece.skirt.dart]]\nname = \"waist dart\"\nlegs = [{ mm = [\"60 mm\", \"0 mm\"] }, { mm = [\"80 mm\", \"0 mm\"] }]\n\
                point = { mm = [\"70 mm\", \"100 mm\"] }\n";
    for (at, told) in [("66 mm", true), ("60 mm", false), ("90 mm", false)] {
        let made = draft("skirt", &half, &notes(&format!("{open}[[piece.skirt.notch]]\nedge = \"waist\"\nat = \"{at}\"\n")));
        let said = made.undone.iter().any(|u| u.contains("in the mouth of a dart") && u.contains("line 6"));
        assert!(said == told && made.piece.notches.len() == 1, "{at}: {:?}", made.undone);
    }
    // A shaped mouth, whose peak is a corner: 20 mm from leg to leg, the sides of the peak between them.
    let peaked = lines(&[
        ("waist centre", "waist", [0.0, 0.0]),
        ("corner 2", "waist 2", [70.0, -4.0]),
        ("waist side", "side", [150.0, 0.0]),
        ("hem side", "hem", [200.0, 600.0]),
        ("hem centre", "centre", [0.0, 600.0]),
    ]);
    let at = |x: f64| format!("{{ mm = [\"{x} mm\", \"{} mm\"] }}", if x < 70.0 { -4.0 * x / 70.0 } else { -4.0 * (150.0 - x) / 80.0 });
    let text = format!(
        "[[shot]]\npicture = \"x.jpg\"\npiece = \"skirt\"\n[[shot.corner]]\nname = \"waist centre\"\npx = [1, 1]\n[[shot.corner]]\nname = \"waist side\"\npx = [9, 1]\n[[shot.edge]]\nname = \"waist\"\nfrom = \"waist centre\"\nto = \"waist side\"\n\
         [piece.skirt]\ncut = \"2, mirrored\"\n[[piece.skirt.dart]]\nname = \"waist dart\"\nlegs = [{}, {}]\npoint = {{ mm = [\"70 mm\", \"100 mm\"] }}\n\
         [[join]]\nedges = [\"skirt: waist\", \"band: edge\"]\n",
        at(80.0),
        at(60.0)
    );
    let said = notes(&text);
    let made = draft("skirt", &peaked, &said);
    assert!(made.undone.is_empty(), "{:?}", made.undone);
    let beside = 60f64.hypot(4.0 * 60.0 / 70.0) + 70f64.hypot(4.0 * 70.0 / 80.0);
    let found = walked(&said, made, beside, &[]);
    assert!((found.walked.lengths[0] - beside).abs() < 1e-6, "{:?}", found.walked.lengths);
    // Legs that end on no edge are told, with their line.
    let text = "[piece.skirt]\n[[piece.skirt.dart]]\nname = \"waist dart\"\nlegs = [{ mm = [\"60 mm\", \"9 mm\"] }, { mm = [\"80 mm\", \"9 mm\"] }]\n\
                point = { mm = [\"70 mm\", \"100 mm\"] }\nintake = \"20 mm\"\n";
    let made = draft("skirt", &half, &notes(text));
    assert!(made.undone.iter().any(|u| u.contains("do not both end on one edge") && u.contains("line 2")), "{:?}", made.undone);
    assert!((length(made.piece.drafted(), "waist") - 150.0).abs() < 1e-9);
}

/// A front whose neckline is a half circle.
fn hollow(r: f64) -> Layer {
    let mut front = lines(&[
        ("neck right", "neckline", [-r, 0.0]),
        ("neck left", "shoulder left", [r, 0.0]),
        ("tip left", "side left", [180.0, 20.0]),
        ("hem left", "hem", [180.0, 500.0]),
        ("hem right", "side right", [-180.0, 500.0]),
        ("tip right", "shoulder right", [-180.0, 20.0]),
    ]);
    let round = kurbo::Arc::new((0.0, 0.0), (r, r), std::f64::consts::PI, -std::f64::consts::PI, 0.0);
    let mut path = kurbo::BezPath::new();
    path.move_to((-r, 0.0));
    round.append_iter(1e-6).for_each(|el| path.push(el));
    if let Some(kurbo::PathEl::CurveTo(_, _, last)) = path.elements_mut().last_mut() {
        *last = Point::new(r, 0.0);
    }
    front.edges[0].path = path;
    front
}

/// A narrow dart in the hollow of a neckline: the cut lines of its two ends would be shorter than nothing, and those of the neckline to both sides of it
/// meet before them. The cut line stays the allowance off everything that is sewn, nearer nowhere.
#[test]
fn a_dart_in_a_hollow_is_cut_across() {
    for (r, intake, allowance) in [(35.0, 2.0, 15.0), (50.0, 2.0, 20.0), (70.0, 2.0, 20.0), (50.0, 8.0, 15.0)] {
        let text = format!(
            "[piece.front]\nopen = true\nallowance = {{ all = \"{allowance} mm\" }}\n[[piece.front.dart]]\nname = \"neck dart\"\n\
             legs = [{{ mm = [\"0 mm\", \"{r} mm\"] }}]\npoint = {{ mm = [\"5 mm\", \"{} mm\"] }}\nintake = \"{intake} mm\"\n",
            2.0 * r + 5.0
        );
        let said = notes(&text);
        let made = draft("front", &hollow(r), &said);
        let drawn = marked(&made, &said.garment, "");
        let cut = drawn.cut.unwrap_or_else(|| panic!("{r} {intake} {allowance}: {:?}", drawn.undone));
        assert_eq!(cut.edges.len(), 9);
        assert!(cut.edges.iter().all(|e| e.path.segments().count() > 0));
        // Sampled by hand: every place of the cut line from every edge.
        let stitch = made.piece.drafted().outline();
        let dense = |path: &kurbo::BezPath| -> Vec<Point> {
            path.segments().flat_map(|s| (0..200).map(move |k| s.eval(f64::from(k) / 200.0))).collect()
        };
        let sewn = dense(&stitch);
        let nearest = dense(&cut.path)
            .iter()
            .map(|p| sewn.iter().map(|q| p.distance(*q)).fold(f64::INFINITY, f64::min))
            .fold(f64::INFINITY, f64::min);
        assert!((nearest - allowance).abs() < 0.05, "{r} {intake} {allowance}: {nearest}");
    }
}
