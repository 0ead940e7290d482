//! Many pictures in one run: nothing lost, nothing twice, whatever happens to the run.

use assert_cmd::Command;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// The demo's garments, copied to a folder of their own.
fn wardrobe(dir: &Path) -> PathBuf {
    let all = dir.join("wardrobe");
    copy(&Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/wardrobe"), &all);
    all
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("made");
    for entry in fs::read_dir(from).expect("listed").map(|e| e.expect("an entry").path()) {
        let target = to.join(entry.file_name().expect("a name"));
        if entry.is_dir() {
            copy(&entry, &target)
        } else {
            let _ = fs::copy(&entry, target).expect("copied");
        }
    }
}

fn call(all: &Path, out: &Path) -> std::process::Command {
    let mut call = std::process::Command::new(assert_cmd::cargo::cargo_bin!("ruboff"));
    call.args(["trace", "--pitch", "1in", "--json"]).arg(all).arg("--out").arg(out);
    // Profiles of whoever runs the tests are none of theirs.
    call.env("RUBOFF_LENSES", out.join("none")).env("RUBOFF_PRINTS", out.join("none"));
    call
}

/// Lines that a run wrote to standard output, by the picture they are of.
fn run(call: std::process::Command) -> (Option<i32>, BTreeMap<String, serde_json::Value>, String) {
    let done = Command::from_std(call).output().expect("run");
    let lines = String::from_utf8(done.stdout).expect("text");
    let lines = lines.lines().map(|l| serde_json::from_str::<serde_json::Value>(l).expect("JSON"));
    let named = lines.map(|l| {
        let name = ["picture", "garment", "file", "unit"].iter().find_map(|k| l[k].as_str()).expect("a name").to_owned();
        (name, l)
    });
    (done.status.code(), named.collect(), String::from_utf8_lossy(&done.stderr).into_owned())
}

/// Every visible file below a folder, with its bytes; a hidden one is none of the archive's.
fn files(root: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut all = BTreeMap::new();
    let mut folders = vec![root.to_path_buf()];
    while let Some(folder) = folders.pop() {
        for path in fs::read_dir(folder).into_iter().flatten().map(|e| e.expect("an entry").path()) {
            if path.file_name().is_some_and(|n| n.to_string_lossy().starts_with('.')) {
                continue;
            }
            if path.is_dir() {
                folders.push(path);
            } else {
                let name = path.strip_prefix(root).expect("below").to_string_lossy().into_owned();
                all.insert(name, fs::read(&path).expect("read"));
            }
        }
    }
    all
}

fn unchanged(lines: &BTreeMap<String, serde_json::Value>) -> Vec<&str> {
    lines.iter().filter(|(_, l)| l["unchanged"] == true).map(|(n, _)| n.as_str()).collect()
}

#[test]
fn what_has_not_changed_is_not_traced_again_and_what_has_is() {
    let dir = tempfile::tempdir().expect("a folder");
    let (all, out) = (wardrobe(dir.path()), dir.path().join("out"));
    let (code, lines, _) = run(call(&all, &out));
    assert_eq!((code, lines.len(), unchanged(&lines).len()), (Some(0), 7, 0), "{lines:?}");
    assert_eq!(lines[&all.join("README.md").display().to_string()]["result"], "left out");
    let before = files(&out);
    assert!(before.contains_key("README.txt") && before.contains_key("heralds-tabard/front/thumbnail.jpg"));
    let (_, lines, _) = run(call(&all, &out));
    assert_eq!(unchanged(&lines).len(), 6);
    assert_eq!(files(&out), before);

    // A remark changes the garment's record and no tracing; a thickness its picture's; a new version of the picture keeps the old tracing.
    let notes = all.join("millers-waistcoat/garment.toml");
    let text = fs::read_to_string(&notes).expect("read");
    fs::write(&notes, text.replacen("[garment]", "[garment]\nremarks = \"seen again\"", 1)).expect("written");
    let (_, lines, _) = run(call(&all, &out));
    assert_eq!(lines.len() - unchanged(&lines).len(), 2, "the record and the file that is no picture: {lines:?}");
    fs::write(&notes, text.replacen("2.5 mm", "3 mm", 1)).expect("written");
    let (_, lines, _) = run(call(&all, &out));
    assert_eq!(lines["millers-waistcoat/left-front.jpg"]["unchanged"], false);
    assert_eq!(unchanged(&lines).len(), 4);
    let picture = all.join("ferrywomans-bodice/front.jpg");
    fs::write(&picture, [fs::read(&picture).expect("read"), b"later".to_vec()].concat()).expect("written");
    let (_, lines, _) = run(call(&all, &out));
    let replaced = &lines["ferrywomans-bodice/front.jpg"]["replaces"][0];
    assert_eq!((replaced["outline"].as_str(), replaced["differs_mm"].as_f64()), (Some("earlier/1/outline.json"), Some(0.0)));
    assert_eq!(files(&out)["ferrywomans-bodice/front/earlier/1/outline.json"], before["ferrywomans-bodice/front/outline.json"]);

    // A result that somebody took away comes back; all of it is made anew when that is asked for.
    fs::remove_file(out.join("heralds-tabard/front/evidence.jpg")).expect("removed");
    let (_, lines, _) = run(call(&all, &out));
    assert_eq!(lines["heralds-tabard/front.jpg"]["unchanged"], false);
    let mut anew = call(&all, &out);
    anew.arg("--anew");
    let before = files(&out);
    assert_eq!(run(anew).1.values().filter(|l| l["picture"].is_string() && l["unchanged"] == false).count(), 3);
    assert_eq!(files(&out), before);
}

#[test]
fn threads_memory_and_units_change_no_byte() {
    let dir = tempfile::tempdir().expect("a folder");
    let all = wardrobe(dir.path());
    let out = |name: &str| dir.path().join(name);
    let with = |out: &Path, more: &[&str]| {
        let mut call = call(&all, out);
        call.args(more);
        run(call)
    };
    with(&out("one"), &["--jobs", "1"]);
    with(&out("three"), &["--jobs", "3", "--memory", "200MB"]);
    let mut list = call(&all, &out("units"));
    list.arg("--list");
    let (_, units, _) = run(list);
    assert_eq!(units.keys().map(String::as_str).collect::<Vec<_>>(), ["ferrywomans-bodice", "heralds-tabard", "millers-waistcoat"]);
    assert!(!out("units").exists(), "nothing is written for a list");
    for unit in units.keys().rev() {
        assert_eq!(with(&out("units"), &["--only", unit]).0, Some(0));
    }
    let one = files(&out("one"));
    assert_eq!(files(&out("three")), one);
    assert!(!out("units").join("report.html").exists(), "units done one by one are reported on once all are gathered");
    Command::cargo_bin("ruboff").expect("built").arg("catalogue").arg(out("units")).assert().success();
    let made = |all: BTreeMap<String, Vec<u8>>| all.into_iter().filter(|(n, _)| !n.starts_with("catalogue/")).collect::<BTreeMap<_, _>>();
    assert_eq!(made(files(&out("units"))), one);
    let (code, _, said) = with(&out("units"), &["--only", "nobodys-hat"]);
    assert!(code == Some(2) && said.contains("--list"), "{said}");
    let (code, lines, said) = with(&out("small"), &["--memory", "100MB"]);
    let refused = lines.values().filter(|l| l["say"].as_str().is_some_and(|s| s.contains("allow more"))).count();
    assert_eq!((code, refused), (Some(1), 3), "{said}");
}

#[test]
fn a_dry_run_says_why_and_writes_nothing() {
    let dir = tempfile::tempdir().expect("a folder");
    let (all, out) = (wardrobe(dir.path()), dir.path().join("out"));
    let dry = |more: &[&str]| {
        let mut call = call(&all, &out);
        call.arg("--dry-run").args(more);
        run(call)
    };
    let (code, lines, said) = dry(&[]);
    assert_eq!((code, lines["heralds-tabard/front.jpg"]["why"].as_str()), (Some(0), Some("new")));
    assert!(said.contains("3 of 3") && !out.exists(), "{said}");
    run(call(&all, &out));
    let before = files(&out);
    assert!(dry(&[]).1.values().filter(|l| l["picture"].is_string()).all(|l| l["result"] == "unchanged"));
    // In a folder the notes know better.
    assert!(dry(&["--thickness", "4mm"]).1.values().filter(|l| l["picture"].is_string()).all(|l| l["result"] == "unchanged"));
    let (_, lines, _) = dry(&["--partial"]);
    assert_eq!(lines["heralds-tabard/front.jpg"]["why"], "what is asked or noted has changed");
    assert_eq!(files(&out), before);
}

#[test]
fn pictures_that_fail_cost_no_other_and_are_not_tried_again_unchanged() {
    let dir = tempfile::tempdir().expect("a folder");
    let (all, out) = (wardrobe(dir.path()), dir.path().join("out"));
    fs::write(all.join("grau – Ärmel 袖.png"), image_of(400)).expect("written");
    fs::write(all.join("leaflet.pdf"), b"%PDF-1.7").expect("written");
    fs::write(all.join("spoilt.jpg"), b"\xFF\xD8\xFF\xE0 and no more").expect("written");
    let (code, lines, said) = run(call(&all, &out));
    assert_eq!(code, Some(1), "{said}");
    assert_eq!(lines.values().filter(|l| l["result"] == "traced").count(), 3);
    assert_eq!(lines[&all.join("leaflet.pdf").display().to_string()]["result"], "left out");
    let failed = fs::read_to_string(out.join("grau – Ärmel 袖/failed.json")).expect("why it failed");
    assert!(failed.contains("\"say\"") && !out.join("grau – Ärmel 袖/outline.json").exists());
    let (code, again, told) = run(call(&all, &out));
    assert_eq!((code, &again["grau – Ärmel 袖.png"]), (Some(1), &lines["grau – Ärmel 袖.png"]));
    let of = |said: &str| said.lines().filter(|l| l.starts_with("ruboff: ")).map(str::to_owned).collect::<std::collections::BTreeSet<_>>();
    assert_eq!(of(&said), of(&told), "told again in the same words");
    // Mended, it is traced, and what was said of it goes.
    fs::copy(all.join("heralds-tabard/front.jpg"), all.join("grau – Ärmel 袖.png")).expect("copied");
    let (_, lines, _) = run(call(&all, &out));
    assert_eq!(lines["grau – Ärmel 袖.png"]["result"], "traced");
    assert!(!out.join("grau – Ärmel 袖/failed.json").exists());
}

/// A picture of nothing.
fn image_of(side: u32) -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    image::RgbImage::from_pixel(side, side, image::Rgb([128; 3])).write_to(&mut bytes, image::ImageFormat::Png).expect("encoded");
    bytes.into_inner()
}

#[test]
fn two_garments_of_one_number_and_notes_that_point_outside_are_told() {
    let dir = tempfile::tempdir().expect("a folder");
    let (all, out) = (wardrobe(dir.path()), dir.path().join("out"));
    copy(&all.join("heralds-tabard"), &all.join("another"));
    let notes = all.join("millers-waistcoat/garment.toml");
    let text = fs::read_to_string(&notes).expect("read");
    fs::write(&notes, text.replacen("\"left-front.jpg\"", "\"../../left-front.jpg\"", 1)).expect("written");
    let (code, lines, said) = run(call(&all, &out));
    assert_eq!(code, Some(1));
    assert!(said.contains("2 garments are called") && said.contains("another, heralds-tabard"), "{said}");
    let refused = lines["millers-waistcoat/left-front.jpg"]["say"].as_str().expect("a failure");
    assert!(refused.contains("outside the garment's folder"), "{refused}");
}

#[test]
fn a_garment_keeps_its_place_under_a_new_number_and_no_other_takes_it() {
    let dir = tempfile::tempdir().expect("a folder");
    let (all, out) = (wardrobe(dir.path()), dir.path().join("out"));
    run(call(&all, &out));
    let notes = all.join("millers-waistcoat/garment.toml");
    let text = fs::read_to_string(&notes).expect("read");
    fs::write(&notes, text.replacen("LSP-0412", "LSP-9412", 1)).expect("written");
    let (code, lines, said) = run(call(&all, &out));
    assert_eq!((code, lines["lsp-9412"]["result"].as_str()), (Some(0), Some("recorded")), "{said}");
    // Another garment comes into the folder of that name: its neighbours are still traced.
    fs::remove_dir_all(all.join("millers-waistcoat")).expect("removed");
    copy(&all.join("heralds-tabard"), &all.join("millers-waistcoat"));
    let before = files(&out);
    let (code, lines, said) = run(call(&all, &out));
    assert_eq!((code, unchanged(&lines).len()), (Some(1), 4), "{said}");
    assert!(said.contains("is the record of lsp-9412"), "{said}");
    assert_eq!(files(&out), before);
}

/// Sees that every file there is whole.
fn whole(root: &Path) {
    for (name, bytes) in files(root) {
        match name.rsplit_once('.').map(|(_, ending)| ending) {
            Some("json") => drop(serde_json::from_slice::<serde_json::Value>(&bytes).unwrap_or_else(|e| panic!("{name}: {e}"))),
            Some("jpg") => drop(image::load_from_memory(&bytes).unwrap_or_else(|e| panic!("{name}: {e}"))),
            Some("svg") => assert!(bytes.ends_with(b"</svg>\n"), "{name} is cut short"),
            _ => assert!(!bytes.is_empty(), "{name} is empty"),
        }
        assert!(!name.contains(".part"), "{name}");
    }
}

/// Kills runs over a wardrobe at times spread over what a whole one takes, then lets one end; the archive is that of a run nobody killed.
fn killed(times: u32) {
    let dir = tempfile::tempdir().expect("a folder");
    let (all, quiet, out) = (wardrobe(dir.path()), dir.path().join("quiet"), dir.path().join("out"));
    let started = Instant::now();
    run(call(&all, &quiet));
    let takes = started.elapsed();
    let (mut traced, mut archive) = (BTreeMap::<String, u32>::new(), 0);
    for k in 0..times {
        // Fractions of the golden ratio lie evenly, whatever their number (H. Weyl 1916).
        let share = (f64::from(k) * 0.618_034).fract();
        if walk(&out).iter().filter(|p| p.ends_with("garment.json")).count() == 3 {
            // A wardrobe that is done leaves nothing to kill.
            fs::remove_dir_all(&out).expect("removed");
            archive += 1;
        }
        let log = dir.path().join("said");
        let mut child =
            call(&all, &out).stdout(fs::File::create(&log).expect("a file")).stderr(std::process::Stdio::null()).spawn().expect("started");
        std::thread::sleep(takes.mul_f64(share).min(Duration::from_secs(5)));
        let _ = child.kill();
        child.wait().expect("ended");
        whole(&out);
        for line in fs::read_to_string(&log).expect("read").lines().filter_map(|l| serde_json::from_str::<serde_json::Value>(l).ok()) {
            if line["result"] == "traced" && line["unchanged"] == false {
                *traced.entry(format!("{archive}, {}", line["picture"])).or_default() += 1;
            }
        }
    }
    let (code, lines, said) = run(call(&all, &out));
    assert_eq!(code, Some(0), "{said}");
    assert_eq!(lines.values().filter(|l| l["result"] == "traced").count(), 3);
    assert_eq!(files(&out), files(&quiet));
    // What a run said is done is done: no later one traces it again.
    assert!(traced.iter().all(|(_, times)| *times == 1), "{traced:?}");
    let parts = || walk(&out).into_iter().filter(|p| p.to_string_lossy().ends_with(".part")).collect::<Vec<_>>();
    assert!(parts().is_empty(), "{:?}", parts());
}

fn walk(folder: &Path) -> Vec<PathBuf> {
    let inside = fs::read_dir(folder).into_iter().flatten().map(|e| e.expect("an entry").path());
    inside.flat_map(|p| if p.is_dir() { walk(&p) } else { vec![p] }).collect()
}

#[test]
fn a_killed_run_goes_on_where_it_stopped() {
    killed(6);
}

#[test]
#[ignore = "minutes: a hundred kills"]
fn a_hundred_kills_lose_nothing() {
    killed(100);
}

#[test]
fn two_runs_at_once_share_the_work() {
    let dir = tempfile::tempdir().expect("a folder");
    let (all, quiet, out) = (wardrobe(dir.path()), dir.path().join("quiet"), dir.path().join("out"));
    run(call(&all, &quiet));
    let both: Vec<_> = std::thread::scope(|s| {
        let runs: Vec<_> = (0..2).map(|_| s.spawn(|| run(call(&all, &out)))).collect();
        runs.into_iter().map(|r| r.join().expect("no panic")).collect()
    });
    assert!(both.iter().all(|(code, lines, _)| *code == Some(0) && lines.len() == 7));
    let traced: usize =
        both.iter().map(|(_, l, _)| l.values().filter(|l| l["picture"].is_string() && l["unchanged"] == false).count()).sum();
    assert_eq!(traced, 3, "each picture once");
    assert_eq!(files(&out), files(&quiet));
}

/// The points lie about the curves that were drawn through them: most nearer than the edges may be out.
#[test]
fn points_lie_beside_their_curves() {
    let dir = tempfile::tempdir().expect("a folder");
    let (all, out) = (wardrobe(dir.path()), dir.path().join("out"));
    run(call(&all.join("millers-waistcoat"), &out));
    let record: serde_json::Value =
        serde_json::from_str(&fs::read_to_string(out.join("left-front/outline.json")).expect("read")).expect("JSON");
    let outline = kurbo::BezPath::from_svg(record["pieces"][0]["outline"].as_str().expect("a path")).expect("path data");
    let off = |p: kurbo::Point| {
        use kurbo::ParamCurveNearest;
        outline.segments().map(|s| s.nearest(p, 1e-4).distance_sq).fold(f64::INFINITY, f64::min).sqrt()
    };
    let table = fs::read_to_string(out.join("left-front/points.csv")).expect("read");
    let rows: Vec<Vec<&str>> = table.lines().skip(1).map(|l| l.split(',').collect()).collect();
    let outer =
        rows.iter().filter(|r| r[1] == "outer edge").map(|r| kurbo::Point::new(r[2].parse().expect("mm"), r[3].parse().expect("mm")));
    let mut offs: Vec<f64> = outer.map(off).collect();
    offs.sort_by(f64::total_cmp);
    assert!(offs.len() > 1000 && offs[offs.len() * 95 / 100] < 0.2, "{} points, {:?}", offs.len(), offs.get(offs.len() * 95 / 100));
}
