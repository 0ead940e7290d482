//! `ruboff catalogue` and `ruboff find` as a person calls them, on archives laid out as `trace` leaves them.

use assert_cmd::Command;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

const OUTLINE: &str = include_str!("golden/outline.json");
const GARMENT: &str = include_str!("golden/garment.json");
const HOSTILE: &str = "<script>alert('x')</script> \"q\" & שמלה \u{202e}evil";

fn ruboff(words: &[&str]) -> (i32, String, String) {
    let out = Command::cargo_bin("ruboff").expect("built").args(words).output().expect("run");
    let text = |b: Vec<u8>| String::from_utf8(b).expect("text");
    (out.status.code().expect("a code"), text(out.stdout), text(out.stderr))
}

fn lay(root: &Path, file: &str, text: impl AsRef<[u8]>) {
    let at = root.join(file);
    fs::create_dir_all(at.parent().expect("a folder")).expect("made");
    fs::write(at, text).expect("written");
}

/// A small picture.
fn jpeg() -> Vec<u8> {
    let mut bytes = Vec::new();
    let pixels: Vec<u8> = (0..320 * 240 * 3).map(|k| (k % 251) as u8).collect();
    jpeg_encoder::Encoder::new(&mut bytes, 80).encode(&pixels, 320, 240, jpeg_encoder::ColorType::Rgb).expect("encoded");
    bytes
}

/// A record with words of its own.
fn garment(id: &str, words: &[(&str, &str)], chest: f64) -> String {
    let mut record: serde_json::Value = serde_json::from_str(GARMENT).expect("golden");
    record["id"] = id.into();
    record["garment"] = words.iter().map(|(k, w)| ((*k).to_owned(), serde_json::json!({"value": w, "how": "noted"}))).collect();
    record["notes"]["as_written"] = serde_json::json!({"garment": words.iter().copied().collect::<BTreeMap<_, _>>()});
    record["pictures"] = serde_json::json!([{"file": "front.jpg", "result": "traced", "outline": "front/outline.json"}]);
    record["tape"] = serde_json::json!([]);
    for piece in record["pieces"].as_array_mut().expect("pieces") {
        piece["measures"] = serde_json::json!([]);
    }
    record["pieces"][0]["name"] = "front".into();
    record["pieces"][0]["measures"] = serde_json::json!([{"id": "m", "name": "chest", "mm": chest, "inches": "19 in", "bound_mm": 1.0, "how": "seen", "half_round": true}]);
    serde_json::to_string_pretty(&record).expect("text")
}

fn archive() -> tempfile::TempDir {
    let dir = tempfile::tempdir().expect("a folder");
    let bodice = [
        ("name", "Élise's bodice"),
        ("number", "LSP-0187"),
        ("maker", "Ателье Ёлка"),
        ("kind", "top"),
        ("date", "1930s"),
        ("storage", "rail 4, shelf 2"),
        ("fragile", "yes"),
        ("hazards", "arsenic green dye, mould"),
        ("credit", "Lantern Street Playhouse"),
    ];
    lay(dir.path(), "bodice/garment.json", garment("lsp-0187", &bodice, 482.0));
    lay(dir.path(), "bodice/measures.csv", "garment,piece\r\n");
    lay(dir.path(), "bodice/front/outline.json", OUTLINE);
    lay(dir.path(), "bodice/front/outline.svg", "<svg xmlns=\"http://www.w3.org/2000/svg\"/>");
    lay(dir.path(), "bodice/front/evidence.jpg", jpeg());
    lay(
        dir.path(),
        "miller & son/garment.json",
        garment(
            "lsp-0412",
            &[("name", HOSTILE), ("number", "LSP-0412"), ("kind", "waistcoat"), ("date_earliest", "1905"), ("date_latest", "1911")],
            530.0,
        ),
    );
    lay(dir.path(), "miller & son/left-front/outline.json", OUTLINE);
    lay(
        dir.path(),
        "scans/pocket/failed.json",
        r#"{"format":"ruboff-failed","version":1,"picture":{"file":"pocket.png","blake3":null},"say":"is too dark","made_by":{}}"#,
    );
    dir
}

fn named(dir: &tempfile::TempDir) -> &str {
    dir.path().to_str().expect("plain")
}

fn files(root: &Path) -> Vec<String> {
    let mut out = Vec::new();
    let mut open = vec![root.to_path_buf()];
    while let Some(folder) = open.pop() {
        for entry in fs::read_dir(folder).expect("listed").flatten() {
            if entry.path().is_dir() {
                open.push(entry.path())
            } else {
                out.push(entry.path().strip_prefix(root).expect("below").to_string_lossy().into_owned())
            }
        }
    }
    out.sort();
    out
}

#[test]
fn pages_are_written_once_and_their_links_lead_somewhere() {
    let dir = archive();
    let (code, said, talk) = ruboff(&["catalogue", named(&dir)]);
    assert_eq!(code, 0, "{said}{talk}");
    assert!(said.contains("2 garments"), "{said}");
    for page in files(dir.path()).iter().filter(|f| f.ends_with(".html")) {
        let text = fs::read_to_string(dir.path().join(page)).expect("read");
        let home = dir.path().join(page).parent().expect("a folder").to_path_buf();
        for link in text.split("href=\"").skip(1).filter_map(|t| t.split('"').next()).filter(|l| !l.starts_with('#')) {
            let plain = link.replace("%20", " ").replace("%26", "&").replace("&amp;", "&");
            assert!(home.join(&plain).exists(), "{page}: {link}");
        }
        assert!(text.contains("Content-Security-Policy"), "{page}");
        assert!(!text.contains("<script>alert") && !text.contains("src=\"http"), "{page}");
    }
    let (_, said, _) = ruboff(&["catalogue", named(&dir)]);
    assert!(said.contains("0 files changed") || said.contains("1 file changed"), "{said}");
    let (_, said, _) = ruboff(&["catalogue", named(&dir)]);
    assert!(said.contains("0 files changed"), "{said}");
}

#[test]
fn a_record_sheet_has_the_cautions_its_notes_ask_for() {
    let dir = archive();
    assert_eq!(ruboff(&["catalogue", named(&dir)]).0, 0);
    let sheet = |name: &str| fs::read_to_string(dir.path().join("catalogue/sheets").join(name)).expect("read");
    let bodice = sheet("bodice.html");
    for words in ["FRAGILE", "arsenic green dye", "not vapours", "65 %", "2 °C", "conservator or safety officer", "rail 4", "LSP-0187"] {
        assert!(bodice.contains(words), "{words}");
    }
    let waistcoat = sheet("miller-son.html");
    assert!(!waistcoat.contains("Cautions") && waistcoat.contains("Nobody wrote down: maker"), "{waistcoat}");
}

#[test]
fn published_copies_say_nothing_of_where_things_are() {
    let dir = archive();
    let out = tempfile::tempdir().expect("a folder");
    let to = out.path().join("web");
    let (code, said, talk) = ruboff(&["catalogue", named(&dir), "--published", "--out", to.to_str().expect("plain")]);
    assert_eq!(code, 0, "{said}{talk}");
    let all = files(&to);
    assert!(
        all.contains(&"files/bodice/front/evidence.jpg".to_owned()) && all.contains(&"files/bodice/garment.json".to_owned()),
        "{all:?}"
    );
    for file in &all {
        let bytes = fs::read(to.join(file)).expect("read");
        let text = String::from_utf8_lossy(&bytes);
        assert!(!text.contains("rail 4") && !text.contains(named(&dir)), "{file}");
    }
    let hashes = fs::read_to_string(to.join("hashes.txt")).expect("read");
    for line in hashes.lines() {
        let (hash, path) = line.split_once("  ").expect("two columns");
        assert_eq!(blake3::hash(&fs::read(to.join(path)).expect("read")).to_hex().as_str(), hash);
    }
    assert!(hashes.contains("  files/bodice/garment.json"), "{hashes}");
}

#[test]
fn hashes_and_replaced_tracings_are_listed() {
    let dir = archive();
    let mut record: serde_json::Value = serde_json::from_str(OUTLINE).expect("golden");
    record["replaces"] =
        serde_json::json!([{"outline": "earlier/1/outline.json", "blake3": "ab", "differs_mm": 0.4, "say": "a new picture"}]);
    lay(dir.path(), "bodice/front/outline.json", record.to_string());
    lay(dir.path(), "bodice/front/earlier/1/outline.json", OUTLINE);
    assert_eq!(ruboff(&["catalogue", named(&dir)]).0, 0);
    let read = |f: &str| fs::read_to_string(dir.path().join("catalogue").join(f)).expect("read");
    assert!(read("hashes.txt").contains("  bodice/front/earlier/1/outline.json\n"));
    assert!(read("supersedes.csv").contains("bodice/front/outline.json,bodice/front/earlier/1/outline.json,ab,0.40,a new picture"));
    assert!(fs::read_to_string(dir.path().join("report.html")).expect("read").contains("differs by 0.40 mm"));
}

#[test]
fn spoilt_records_are_told_and_stop_nothing() {
    let dir = archive();
    lay(dir.path(), "hat/garment.json", "{\"format\":");
    lay(dir.path(), "cap/garment.json", garment("lsp-0187", &[("name", "cap")], 300.0));
    let (code, said, talk) = ruboff(&["catalogue", named(&dir)]);
    assert_eq!(code, 1, "{said}{talk}");
    assert!(talk.contains("hat/garment.json is damaged") && talk.contains("lsp-0187 belongs to 2 garments"), "{talk}");
    let report = fs::read_to_string(dir.path().join("report.html")).expect("read");
    assert!(report.contains("is damaged at line 1") && report.contains("belongs to 2 garments"));
    let (code, said, talk) = ruboff(&["find", named(&dir), "hat"]);
    assert_eq!(code, 0);
    assert!(said.contains("is damaged"), "{said}");
    assert!(!talk.contains("more than one"), "{talk}");
    assert!(ruboff(&["find", named(&dir), "cap"]).2.contains("more than one garment"));
}

#[test]
fn calls_that_cannot_work_say_so_in_one_line() {
    let dir = archive();
    let empty = tempfile::tempdir().expect("a folder");
    let taken = dir.path().join("bodice");
    for words in [
        vec!["catalogue", "/nowhere/at/all"],
        vec!["catalogue", named(&empty)],
        vec!["catalogue", named(&dir), "--out", taken.to_str().expect("plain")],
        vec!["catalogue", named(&dir), "--out", named(&dir)],
        vec!["find", "/nowhere/at/all", "x"],
        vec!["find", named(&empty), "x"],
        vec!["find", named(&dir), "chest 5..x"],
        vec!["find", named(&dir), "--measure", "chest"],
        vec!["find", named(&dir), "--from", "1950", "--to", "1940"],
    ] {
        let (code, said, talk) = ruboff(&words);
        assert_eq!((code, said.as_str(), talk.lines().count()), (2, "", 1), "{words:?}: {talk}");
        assert!((15..=300).contains(&talk.trim_end().chars().count()), "{talk}");
    }
    assert_eq!(files(empty.path()).len(), 0, "a folder that is no archive is left as it is");
}

#[test]
fn records_are_found_by_words_measures_and_years() {
    let dir = archive();
    let found = |words: &[&str]| {
        let all: Vec<&str> = ["find", named(&dir)].into_iter().chain(words.iter().copied()).collect();
        let (code, said, _) = ruboff(&all);
        assert_eq!(code == 0, !said.is_empty(), "{said}");
        said.lines().map(|l| l.split(':').next().unwrap_or_default().to_owned()).collect::<Vec<_>>()
    };
    let bodice = vec!["bodice".to_owned()];
    let waistcoat = vec!["miller & son".to_owned()];
    assert_eq!(found(&["elise"]), bodice);
    assert_eq!(found(&["--maker", "АТЕЛЬЕ елка"]), bodice);
    assert_eq!(found(&["שמלה"]), waistcoat);
    assert_eq!(found(&["chest 480..490mm"]), bodice);
    // 482 mm are 18.98 in.
    assert_eq!(found(&["--measure", "chest 18 15/16..19in"]), bodice);
    assert_eq!(found(&["chest 500mm.."]), waistcoat);
    assert_eq!(found(&["--from", "1935"]), bodice);
    assert_eq!(found(&["--to", "1905"]), waistcoat);
    assert_eq!(found(&["--number", "0412", "--kind", "Waistcoat"]), waistcoat);
    assert_eq!(found(&["pocket"]), ["scans/pocket"]);
    assert!(found(&["elise", "chest 100..200mm"]).is_empty());
    let (_, said, _) = ruboff(&["find", named(&dir), "--json", "chest 480..490mm"]);
    let hit: serde_json::Value = serde_json::from_str(said.trim()).expect("a line of JSON");
    assert_eq!((hit["id"].as_str(), hit["measures"][0]["mm"].as_f64()), (Some("lsp-0187"), Some(482.0)));
}

#[cfg(unix)]
#[test]
fn an_archive_that_cannot_be_written_to_is_searched_all_the_same() {
    use std::os::unix::fs::PermissionsExt;
    let dir = archive();
    let mode = |bits| fs::set_permissions(dir.path(), fs::Permissions::from_mode(bits)).expect("set");
    // A file in place of the cache's folder stops even those who may write everywhere.
    lay(dir.path(), ".ruboff", "");
    mode(0o555);
    let (code, said, talk) = ruboff(&["find", named(&dir), "elise"]);
    mode(0o755);
    assert_eq!((code, said.lines().count()), (0, 1), "{talk}");
    assert!(talk.contains("can't be written to"), "{talk}");
}

/// A picture with a place in its tags: Exif 2.32, IFD 0 with a GPS IFD that holds the latitude's letter.
fn placed(picture: &[u8]) -> Vec<u8> {
    let mut exif = b"Exif\0\0II*\0\x08\0\0\0".to_vec();
    exif.extend([1, 0, 0x25, 0x88, 4, 0, 1, 0, 0, 0, 26, 0, 0, 0, 0, 0, 0, 0]);
    exif.extend([1, 0, 1, 0, 2, 0, 2, 0, 0, 0, b'N', 0, 0, 0, 0, 0, 0, 0]);
    let mut out = vec![0xff, 0xd8, 0xff, 0xe1];
    out.extend(u16::try_from(exif.len() + 2).expect("short").to_be_bytes());
    out.extend(exif);
    out.extend(&picture[2..]);
    out
}

/// What a camera wrote into a picture, as kamadak-exif reads it, which this project has no part in.
fn tags(file: &Path) -> Option<exif::Exif> {
    exif::Reader::new().read_from_container(&mut std::io::BufReader::new(fs::File::open(file).expect("open"))).ok()
}

#[test]
fn nothing_that_is_made_of_a_picture_says_where_it_was_taken() {
    let dir = tempfile::tempdir().expect("a folder");
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/wardrobe/millers-waistcoat");
    let picture = dir.path().join("in/waistcoat/left-front.jpg");
    lay(dir.path(), "in/waistcoat/left-front.jpg", placed(&fs::read(demo.join("left-front.jpg")).expect("the demo")));
    lay(dir.path(), "in/waistcoat/garment.toml", fs::read(demo.join("garment.toml")).expect("the demo"));
    let place = |e: &exif::Exif| e.get_field(exif::Tag::GPSLatitudeRef, exif::In::PRIMARY).is_some();
    assert!(tags(&picture).as_ref().is_some_and(place), "the test's own picture has a place");
    let out = dir.path().join("out");
    let path = |p: &Path| p.to_str().expect("plain").to_owned();
    let (code, _, talk) = ruboff(&["trace", &path(&dir.path().join("in")), "--pitch", "1in", "--out", &path(&out)]);
    assert_eq!(code, 0, "{talk}");
    assert_eq!(ruboff(&["catalogue", &path(&out), "--published"]).0, 0);
    let pictures: Vec<String> = files(&out).into_iter().filter(|f| f.ends_with(".jpg")).collect();
    assert!(pictures.iter().any(|f| f.starts_with("published/")) && pictures.len() >= 2, "{pictures:?}");
    pictures.iter().for_each(|f| assert!(tags(&out.join(f)).is_none(), "{f}"));
}
