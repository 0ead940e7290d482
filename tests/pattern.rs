//! `ruboff pattern` from records alone: what it writes, what it refuses. What other programs read in the files is checked in `tests/crosscheck`.

#[path = "support/drawn_pieces.rs"]
mod drawn_pieces;
#[path = "support/pdf.rs"]
mod pdf;

use assert_cmd::Command;
use drawn_pieces::{F, boxed, outlines, path, pattern};
use pdf::boxes;
use ruboff::sheet::Paper;
use ruboff::write::GarmentRecord;
use ruboff::write::pattern::{Choices, Joining, LineKind, Orientation, Units, dxf, pattern_of_garment, pattern_svg, roll, tiled};
use serde_json::{Value, json};
use std::path::Path;

const GARMENT: &str = include_str!("golden/garment.json");

fn verb(words: &[&str], dir: &Path) -> (i32, String, String) {
    let out = Command::cargo_bin("ruboff").expect("built").current_dir(dir).arg("pattern").args(words).output().expect("run");
    let text = |b: &[u8]| String::from_utf8_lossy(b).into_owned();
    (out.status.code().unwrap_or(-1), text(&out.stdout), text(&out.stderr))
}

/// Pages that stand upright, whatever that costs.
fn upright() -> Joining {
    Joining { orientation: Orientation::Portrait, ..Joining::default() }
}

/// R-PAP-7: A4 is 595.2755906 x 841.8897638 points, never 595 x 842; ANSI A 8.5 x 11 in.
#[test]
fn pages_are_as_large_as_their_paper() {
    let p = pattern(&outlines(&[("front", &boxed(400.0, 500.0))]));
    for (paper, [w, h]) in [("a4", [595.275_590_6, 841.889_763_8]), ("letter", [612.0, 792.0]), ("tabloid", [792.0, 1224.0])] {
        let paper: Paper = paper.parse().expect("a paper");
        let printed = tiled(&p, &paper, &upright(), false).expect("pages");
        let all = boxes(&printed.bytes);
        assert_eq!(all.len(), printed.pages);
        assert!(all.iter().all(|b| (b[0] - w).abs() < 1e-3 && (b[1] - h).abs() < 1e-3), "{all:?}");
    }
}

#[test]
fn pages_without_anything_are_left_out_and_pieces_share_pages() {
    let paper: Paper = "a4".parse().expect("a paper");
    let count = |pieces: &[(&str, &[[f64; 2]])]| {
        let printed = tiled(&pattern(&outlines(pieces)), &paper, &upright(), false).expect("pages");
        printed.pages - printed.front
    };
    assert_eq!(count(&[("a", &boxed(170.0, 250.0))]), 1);
    // Two pockets and a cuff on one page; a strip of 1.2 m takes five pages in a row and no more.
    assert_eq!(count(&[("a", &boxed(80.0, 120.0)), ("b", &boxed(80.0, 120.0)), ("c", &boxed(160.0, 60.0))]), 1);
    assert_eq!(count(&[("strip", &boxed(60.0, 1200.0))]), 5);
    // A frame's empty middle: 12 pages round it, none inside it, for nothing is drawn and no cloth is there.
    let c: Vec<[f64; 2]> =
        vec![[0.0, 0.0], [700.0, 0.0], [700.0, 60.0], [60.0, 60.0], [60.0, 900.0], [700.0, 900.0], [700.0, 960.0], [0.0, 960.0]];
    assert_eq!(count(&[("c", &c)]), 4 + 4 + 2);
}

/// R-PDF-3 and -4: no page over 14 400 units (5080 mm), split or refused, never scaled, never `UserUnit`.
#[test]
fn a_roll_is_split_or_refused_and_never_scaled() {
    let long: Vec<(String, [[f64; 2]; 4])> = (0..5).map(|k| (format!("p{k}"), boxed(700.0, 1500.0))).collect();
    let pieces: Vec<(&str, &[[f64; 2]])> = long.iter().map(|(n, b)| (n.as_str(), b.as_slice())).collect();
    let printed = roll(&pattern(&outlines(&pieces)), 914.4, &Joining::default(), false).expect("a roll");
    let all = boxes(&printed.bytes);
    assert!(all.len() >= 2 && all.iter().all(|b| (b[0] - 36.0 * 72.0).abs() < 1e-3 && b[1] <= 14_400.0), "{all:?}");
    assert!(!printed.bytes.windows(8).any(|w| w == b"UserUnit"));
    let wide = pattern(&outlines(&[("cloak", &boxed(1000.0, 500.0))]));
    let e = roll(&wide, 914.4, &Joining::default(), false).expect_err("too wide").to_string();
    assert!(e.contains("cloak") && e.contains("--turn"), "{e}");
    assert!(roll(&wide, 914.4, &Joining::default(), true).is_ok());
    let e = roll(&pattern(&outlines(&[("train", &boxed(500.0, 5200.0))])), 914.4, &Joining::default(), true).expect_err("too long");
    assert!(e.to_string().contains("train"), "{e}");
}

/// A print that comes out at 99 and 99.5 mm is drawn 1/0.99 and 1/0.995 as long, and says so.
#[test]
fn a_printers_correction_is_applied_to_each_axis() {
    let p = pattern(&outlines(&[("front", &boxed(150.0, 200.0))]));
    let paper: Paper = "a4".parse().expect("a paper");
    let joining = Joining { printed: [99.0, 99.5], ..Joining::default() };
    let [x, y] = joining.correction();
    assert!((x * 99.0 - 100.0).abs() < 1e-9 && (y * 99.5 - 100.0).abs() < 1e-9);
    let (plain, mended) = (tiled(&p, &paper, &Joining::default(), false), tiled(&p, &paper, &joining, false));
    let (plain, mended) = (plain.expect("pages"), mended.expect("pages"));
    assert_ne!(plain.bytes, mended.bytes);
    assert_eq!(boxes(&plain.bytes)[0], boxes(&mended.bytes)[0]);
    let again = tiled(&p, &paper, &joining, false).expect("pages");
    assert_eq!(mended.bytes, again.bytes, "the same call gives the same bytes");
}

#[test]
fn a_garments_record_brings_allowance_fold_notches_and_grain() {
    let mut record: Value = serde_json::from_str(GARMENT).expect("the golden record");
    let front = &mut record["pieces"][0];
    front["as_drafted"]["down"] = json!("grain");
    front["as_drafted"]["how"] = json!("noted");
    front["chosen"] = json!([
        {"what": "cut", "value": "1, place on fold", "how": "chosen"},
        {"what": "cloth", "value": "brown wool", "how": "noted"},
        {"what": "allowance: all, mm", "value": 10.0, "how": "chosen"},
        {"what": "allowance: hem, mm", "value": 30.0, "how": "chosen"},
        {"what": "larger for shrinkage, lengthwise, %", "value": 4.1667, "how": "chosen"},
        {"what": "larger for shrinkage, crosswise, %", "value": 0.0, "how": "chosen"},
    ]);
    let drafted = &mut front["as_drafted"];
    // As an earlier program wrote it, which drew no cut line.
    drafted.as_object_mut().expect("a layer").remove("cut_line");
    drafted["on_fold"] = json!(["armhole right"]);
    let notch = |edge: &str, at: f64, count: u32, style: &str| json!({"edge": edge, "at_mm": at, "place": [0.0, 0.0], "count": count, "style": style, "how": "noted"});
    drafted["notches"] = json!([notch("side left", 100.0, 1, "slit"), notch("armhole left", 50.0, 2, "V")]);
    drafted["marks"] = json!([{"name": "pocket", "at": [200.0, 300.0], "is": "drill hole", "how": "noted"}]);
    drafted["darts"] = json!([{"name": "waist dart", "legs": ["M 250 600 L 260 500", "M 270 600 L 260 500"]}]);
    drafted["undone"] = json!(["the place of button is known in the picture only"]);
    record["notes"]["as_written"]["piece"]["front"]["gather"] = json!([{"name": "g", "edge": "shoulder left", "sewn": "120 mm"}]);
    let record = GarmentRecord::from_text(&record.to_string()).expect("a record");
    let made = pattern_of_garment(&record, &Choices::default()).expect("a pattern");
    let p = &made.pieces[0];
    let drawn = &record.pieces[0].as_drafted.lines;
    let side = drawn.edges.iter().position(|e| e.name == "side left").expect("a side");
    let count = |kind| p.lines.iter().filter(|l| l.kind == kind).count();
    assert_eq!((count(LineKind::Fold), count(LineKind::Stitch)), (1, drawn.edges.len() - 1));
    // 10 mm beyond the side, 30 mm beyond the hem, nothing beyond the fold.
    let far = |x: f64, y: f64| {
        use kurbo::ParamCurveNearest;
        let at = kurbo::Point::new(x, y);
        p.outer.segments().map(|s| s.nearest(at, 1e-9).distance_sq).fold(f64::INFINITY, f64::min).sqrt()
    };
    let (a, b) = (drawn.corners[side].at, drawn.corners[(side + 1) % drawn.corners.len()].at);
    assert!((far((a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0) - 10.0).abs() < 0.01);
    assert!((far(260.0, 600.0) - 30.0).abs() < 0.01);
    assert!(
        p.lines.iter().filter(|l| l.kind == LineKind::Fold).all(|l| l
            .path
            .elements()
            .iter()
            .all(|e| e.end_point().is_none_or(|q| far(q.x, q.y) < 1e-6)))
    );
    assert_eq!(p.cut_words(), "cut 1 brown wool, place on fold");
    assert_eq!(p.side, "right side up");
    assert_eq!(p.larger.as_deref(), Some("made 4.2 % longer along the grain for shrinkage"));
    assert_eq!(p.grain, Some(kurbo::Vec2::new(0.0, 1.0)));
    assert!(p.allowance.contains("as written on each edge"), "{}", p.allowance);
    // One slit in the side, two Vs in the armhole, all on the cut line and into the piece.
    let widths: Vec<bool> = p.notches.iter().map(|n| n.width > 0.0).collect();
    assert_eq!(widths, [false, true, true]);
    assert!(p.notches.iter().all(|n| far(n.at.x, n.at.y) < 0.3 && (2.0..=4.0).contains(&n.depth)));
    assert_eq!(p.marks.len(), 1);
    assert!(made.left_out.iter().any(|w| w.contains("button")), "{:?}", made.left_out);
    let words: Vec<&str> = p.edge_words.iter().map(|w| w.words.as_str()).collect();
    // 120 mm along a shoulder that slopes, which shares in what is longer along the grain.
    for wanted in ["turn up 30 mm", "place on fold", "gather to 120.5 mm"] {
        assert!(words.iter().any(|w| w.contains(wanted)), "{wanted}: {words:?}");
    }
    // What other programs read: layers of D6673.
    let text = dxf(&made, Units::Metric, 0.02).expect("a file");
    for (layer, kind, count) in [("6", "LINE", 1), ("7", "LINE", 1), ("4", "POINT", 3), ("13", "POINT", 1), ("14", "POLYLINE", 7)] {
        let found = text.matches(&format!("  0\r\n{kind}\r\n  8\r\n{layer}\r\n")).count();
        assert_eq!(found, count, "{kind} on layer {layer}");
    }
    assert!(text.contains("made 4.2 % longer along the grain"));
    assert!(text.contains("Quantity: 1,0") && text.contains("Material: brown wool") && text.is_ascii());
    let drawing = pattern_svg(&made).expect("a drawing");
    for id in ["piece-1-cut-1", "piece-1-stitch-1", "piece-1-fold-1", "piece-1-darts-2", "piece-1-notches-3"] {
        assert!(drawing.contains(&format!("id=\"{id}\"")), "{id}");
    }
}

/// What the record calls the cut line is what is cut, to the last digit; another allowance is drawn anew.
#[test]
fn the_records_own_cut_line_stands() {
    let mut record: Value = serde_json::from_str(GARMENT).expect("the golden record");
    let lining = json!({"id": "x", "name": "lining", "from": "front", "as_drafted": record["pieces"][0]["as_drafted"], "chosen": []});
    record["derived"] = json!([lining]);
    let record = GarmentRecord::from_text(&record.to_string()).expect("a record");
    let told = &record.pieces[0].as_drafted.marked.cut_line.as_ref().expect("a cut line").outline;
    let made = pattern_of_garment(&record, &Choices::default()).expect("a pattern");
    let path = kurbo::BezPath::from_svg(told).expect("path data");
    assert_eq!((made.pieces.len(), made.pieces[1].name.as_str()), (2, "lining"));
    assert_eq!(made.pieces[0].outer, path);
    let drawn: f64 = made.pieces[0].lines.iter().filter(|l| l.kind == LineKind::Cut).map(|l| kurbo::Shape::perimeter(&l.path, 1e-6)).sum();
    assert!((drawn - kurbo::Shape::perimeter(&path, 1e-6)).abs() < 1e-6, "every part of it is drawn once");
    let wider = Choices { allowance: vec![("all".into(), 15.0)], ..Choices::default() };
    let made = pattern_of_garment(&record, &wider).expect("a pattern");
    assert!(made.pieces[0].allowance.contains("15 mm"), "{}", made.pieces[0].allowance);
}

#[test]
fn shared_lines_are_printed_too() {
    let drafted = json!({"format": "ruboff-drafted", "version": 1, "units": "mm", "pieces": [{
        "name": "front", "outline": path(&F, true), "found": path(&F, true), "changes": [],
        "notches": [{"edge": "e0", "at_mm": 80.0, "count": 2, "how": "noted"}],
        "corners": F.iter().enumerate().map(|(k, at)| json!({"name": format!("c{k}"), "at": at})).collect::<Vec<_>>(),
        "edges": (0..10).map(|k| json!({"name": format!("e{k}"), "how": "seen", "path": path(&[F[k], F[(k + 1) % 10]], false), "length_mm": 1.0}))
            .collect::<Vec<_>>(),
    }]});
    let dir = tempfile::tempdir().expect("a folder");
    std::fs::write(dir.path().join("drafted.json"), drafted.to_string()).expect("written");
    let (code, out, err) = verb(&[".", "--out", "p", "--svg", "--allowance", "8mm"], dir.path());
    assert_eq!((code, err.as_str()), (0, ""), "{out}");
    let drawing = std::fs::read_to_string(dir.path().join("p/pattern.svg")).expect("a drawing");
    assert!(drawing.contains("piece-1-stitch-10") && drawing.contains("piece-1-notches-2"));
}

#[test]
fn edges_that_nobody_measured_are_drawn_otherwise() {
    let mut record: Value = serde_json::from_str(GARMENT).expect("the golden record");
    record["pieces"][0]["as_drafted"]["edges"][2]["how"] = json!("assumed");
    let record = GarmentRecord::from_text(&record.to_string()).expect("a record");
    let made = pattern_of_garment(&record, &Choices::default()).expect("a pattern");
    let assumed: Vec<&str> = made.pieces[0].lines.iter().filter(|l| l.assumed).map(|l| l.name.as_str()).collect();
    assert_eq!(assumed, ["armhole left", "armhole left"], "once as it is cut, once as it is sewn");
    assert!(made.pieces[0].edge_words.iter().any(|w| w.words == "armhole left, assumed"));
}

/// R-SVG-7: the same F in a drawing with y down and in a file with y up.
#[test]
fn an_f_stays_an_f() {
    let p = pattern(&outlines(&[("f", &F)]));
    let drawing = pattern_svg(&p).expect("a drawing");
    let at = drawing.find("id=\"piece-1-outer\"").expect("the outline");
    let d = drawing[at..].split(" d=\"").nth(1).and_then(|t| t.split('"').next()).expect("path data");
    let points: Vec<kurbo::Point> =
        kurbo::BezPath::from_svg(d).expect("a path").elements().iter().filter_map(kurbo::PathEl::end_point).collect();
    let text = dxf(&p, Units::Metric, 0.02).expect("a file");
    let groups: Vec<&str> = text.lines().map(str::trim).collect();
    let start = groups.iter().position(|l| *l == "POLYLINE").expect("a boundary");
    for (k, f) in F.iter().enumerate() {
        let (dx, dy) = (points[k].x - points[0].x, points[k].y - points[0].y);
        assert!((dx - f[0]).abs() < 1e-3 && (dy - f[1]).abs() < 1e-3, "SVG {k}: {dx} {dy}");
        let v = groups.iter().enumerate().skip(start).filter(|(_, l)| **l == "VERTEX").nth(k).map(|(n, _)| n).expect("a vertex");
        let number = |code: &str| {
            let n = (v..).step_by(2).skip(1).map(|n| n - 1).find(|n| groups[*n] == code && *n > v).expect("a code");
            groups[n + 1].parse::<f64>().expect("a number")
        };
        assert!((number("10") - f[0]).abs() < 0.006 && (number("20") + f[1]).abs() < 0.006, "DXF {k}");
    }
}

#[test]
fn names_of_any_kind_break_nothing() {
    let p = pattern(&outlines(&[
        ("a/b \"c\"\n<d> & 'e'", &F),
        ("a/b \"c\"\n<d> & 'e'", &boxed(90.0, 90.0)),
        ("żupan пальто", &boxed(90.0, 90.0)),
    ]));
    let drawing = pattern_svg(&p).expect("a drawing");
    assert!(drawing.contains("<title>a/b &quot;c&quot; &lt;d&gt; &amp; 'e'</title>"));
    let text = dxf(&p, Units::English, 0.02).expect("a file");
    assert!(text.is_ascii() && text.contains("Piece Name: zupan pal'to"));
    assert_eq!(text.matches("  0\r\nBLOCK\r\n").count(), 3);
    let paper: Paper = "letter".parse().expect("a paper");
    assert!(tiled(&p, &paper, &Joining::default(), false).is_ok());
    // Paper is refused; other programs have letters of their own.
    let p = pattern(&outlines(&[("着物", &F)]));
    let e = tiled(&p, &paper, &Joining::default(), false).expect_err("letters that are not there").to_string();
    assert!(e.contains("着物") && e.contains("--font"), "{e}");
    assert!(pattern_svg(&p).expect("a drawing").contains("<title>着物</title>"));
    assert!(dxf(&p, Units::Metric, 0.02).expect("a file").contains("Piece Name: Zhao Wu"));
}

#[test]
fn the_verb_writes_what_is_asked_for_and_nothing_over_another_file() {
    let dir = tempfile::tempdir().expect("a folder");
    std::fs::write(dir.path().join("outline.json"), outlines(&[("f", &F)]).to_string()).expect("written");
    let all = ["outline.json", "--out", "p", "--paper", "a4", "--roll", "841mm", "--svg", "--dxf", "english", "--date", "1926-05-17"];
    let (code, out, err) = verb(&all, dir.path());
    assert_eq!((code, err.as_str()), (0, ""), "{out}");
    let made = ["pattern-a4.pdf", "pattern-roll.pdf", "pattern.svg", "pattern.dxf"];
    let bytes = |name: &str| std::fs::read(dir.path().join("p").join(name)).expect("a file");
    let first: Vec<Vec<u8>> = made.iter().map(|n| bytes(n)).collect();
    let (code, _, err) = verb(&all, dir.path());
    assert!(code == 2 && err.contains("--force") && err.lines().count() == 1, "{err}");
    let (code, ..) = verb(&[all.as_slice(), &["--force"]].concat(), dir.path());
    assert_eq!(code, 0);
    assert_eq!(first, made.iter().map(|n| bytes(n)).collect::<Vec<_>>());
    assert_eq!(std::fs::read_dir(dir.path().join("p")).expect("listed").count(), 4, "nothing is left lying about");
}

#[test]
fn bad_calls_are_told_in_one_line_and_write_nothing() {
    let dir = tempfile::tempdir().expect("a folder");
    let put = |name: &str, record: &Value| std::fs::write(dir.path().join(name), record.to_string()).expect("written");
    put("outline.json", &outlines(&[("f", &F)]));
    let mut newer = outlines(&[("f", &F)]);
    newer["version"] = json!(9);
    newer["pieces"] = json!("kept otherwise");
    put("newer.json", &newer);
    put("none.json", &outlines(&[]));
    put("other.json", &json!({"format": "recipe"}));
    put("huge.json", &outlines(&[("sail", &boxed(90_000.0, 90_000.0))]));
    put("kimono.json", &outlines(&[("着物", &F)]));
    let mut broken = outlines(&[("f", &F)]);
    broken["pieces"][0]["edges"][0]["path"] = json!("M 0 0 L nowhere");
    put("broken.json", &broken);
    std::fs::write(dir.path().join("text.json"), "{").expect("written");
    let a4 = ["--paper", "a4"];
    let calls: [(&str, &[&str], &str); 18] = [
        ("outline.json", &[], "say what to make"),
        ("newer.json", &a4, "newer ruboff"),
        ("none.json", &a4, "no pieces"),
        ("other.json", &a4, "no garment.json and no outline.json"),
        ("text.json", &a4, "no garment.json and no outline.json"),
        ("gone.json", &a4, "cannot read"),
        ("huge.json", &a4, "sail"),
        ("kimono.json", &a4, "--font"),
        ("broken.json", &a4, "e0"),
        ("outline.json", &["--paper", "foolscap"], "no paper"),
        ("outline.json", &["--paper", "a4", "--margin", "70mm"], "--margin"),
        ("outline.json", &["--paper", "90x90mm"], "page one needs"),
        ("outline.json", &["--paper", "a4", "--printed", "90mm,100mm"], "scaled"),
        ("outline.json", &["--paper", "a4", "--allowance", "400mm"], "no allowance"),
        ("outline.json", &["--paper", "a4", "--allowance", "hemm=25mm"], "no edge is called that"),
        ("outline.json", &["--roll", "20m"], "roll"),
        ("outline.json", &["--roll", "150mm"], "f is 160 mm wide"),
        ("outline.json", &["--dxf", "furlongs"], "furlongs"),
    ];
    for (record, words, told) in calls {
        let (code, out, err) = verb(&[&[record, "--out", "p"], words].concat(), dir.path());
        assert!(code == 2 && out.is_empty(), "{record} {words:?}: {code} {out}{err}");
        assert!(
            err.contains(told) && err.lines().count() == 1 && (15..=300).contains(&err.trim().chars().count()),
            "{record} {words:?}: {err}"
        );
        assert!(!dir.path().join("p").exists(), "{record} {words:?} left a folder");
    }
}
