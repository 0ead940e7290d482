//! `report.html`: what came of every picture, worst first, in one page that needs no other file and no network; `report.csv` beside it is
//! in `table`.

mod table;

use super::archive::{Archive, Doubted, Figures, Garment, Outcome, Picture};
use super::gather::sentence;
use super::page::{Parts, count, link, link_in, mm, page, write_changed};
use super::small::{Small, small, source};
use super::standing::{Standing, badness, out};
use super::tree::stamp;
use crate::write::{WriteError, write_whole};
use maud::{Markup, PreEscaped, html};
use rayon::prelude::*;
use std::collections::HashMap;
use std::path::Path;

/// The page's name, and the table's.
pub const NAMES: [&str; 2] = ["report.html", "report.csv"];

const STYLE: &str = include_str!("report.css");
const SCRIPT: &str = concat!(include_str!("../page.js"), include_str!("report.js"));
/// What the page was last made of.
const STAMP: &str = ".ruboff/report.stamp";
/// What to do about a picture that says nothing better.
const TRACE_AGAIN: &str = "Trace the picture again; its record is made anew.";

/// A picture with its place in the report.
struct Row<'a> {
    garment: Option<&'a Garment>,
    picture: &'a Picture,
    standing: Standing,
}

/// Writes both files into an archive's root, each only when something changed. Says whether any was written.
///
/// # Errors
/// The folder can't be written to.
pub fn write(root: &Path, archive: &Archive) -> Result<bool, WriteError> {
    let rows = rows(archive);
    let table = write_changed(&root.join(NAMES[1]), table::csv(&rows).as_bytes())?;
    let (page, stamp) = (root.join(NAMES[0]), root.join(STAMP));
    let of = resting(root, archive, &rows);
    // Thumbnails take longest: where nothing changed that the page is made of, nor the page, it is left as it is.
    if std::fs::read_to_string(&stamp).is_ok_and(|s| s == stamped(&of, &page)) {
        return Ok(table);
    }
    let smalls: Vec<Option<Small>> = rows.par_iter().map(|r| small(root, r.picture)).collect();
    let written = write_changed(&page, whole(archive, &rows, &smalls).as_bytes())?;
    // Only a cache: without it the page is made and compared each time.
    if std::fs::create_dir_all(stamp.with_file_name("")).is_ok() {
        let _ = write_whole(&stamp, stamped(&of, &page).as_bytes());
    }
    Ok(written || table)
}

/// A hash of all that the page is made of: its text without thumbnails, and size and time of each picture that one is made of.
fn resting(root: &Path, archive: &Archive, rows: &[Row]) -> String {
    let mut hasher = blake3::Hasher::new();
    hasher.update(whole(archive, rows, &vec![None; rows.len()]).as_bytes());
    for row in rows {
        hasher.update(changed(&source(root, row.picture)).as_bytes());
    }
    hasher.finalize().to_hex().to_string()
}

/// What the page was made of, and the page's own size and time.
fn stamped(of: &str, page: &Path) -> String {
    format!("{of} {}\n", changed(page))
}

fn changed(file: &Path) -> String {
    std::fs::metadata(file).map_or_else(|_| "none".into(), |m| format!("{} {}", m.len(), stamp(&m)))
}

/// All pictures, worst first: by standing, then by how far the line may be out, then by path.
fn rows(archive: &Archive) -> Vec<Row<'_>> {
    let mut rows: Vec<Row> =
        archive.pictures().map(|(garment, picture)| Row { garment, picture, standing: Standing::of(picture) }).collect();
    rows.sort_by(|a, b| {
        let bad = badness(b.picture).total_cmp(&badness(a.picture));
        a.standing.cmp(&b.standing).then(bad).then_with(|| a.picture.path.cmp(&b.picture.path))
    });
    rows
}

fn whole(archive: &Archive, rows: &[Row], smalls: &[Option<Small>]) -> String {
    let counts = Standing::ALL.map(|s| rows.iter().filter(|r| r.standing == s).count());
    let mut by_name: Vec<usize> = (0..rows.len()).collect();
    by_name.sort_by(|a, b| rows[*a].picture.path.cmp(&rows[*b].picture.path));
    let names: HashMap<usize, usize> = by_name.into_iter().enumerate().map(|(place, k)| (k, place)).collect();
    let doubted: Vec<&Garment> = archive.garments.iter().filter(|g| !g.doubts.is_empty()).collect();
    let body = html! {
        a.skip href="#pictures" { "Skip to the pictures" }
        header.wide {
            h1 { "What came of the pictures" }
            p { (summary(archive, counts)) }
            p.quiet { "Worst first. How far a line may be out is a claim about its shape; how differently the garment lies is known only where it was laid again. "
                "The pictures shown are derivatives, straightened and drawn on." }
        }
        (asking(counts))
        main.wide {
            (notices(archive))
            h2 { "Pictures" }
            @if rows.is_empty() { p { "Nothing was traced here yet." } }
            @if !doubted.is_empty() { p { a href="#doubted" { (count(doubted.len(), "garment has", "garments have")) " doubts of " (if doubted.len() == 1 { "its" } else { "their" }) " own" } ", below the pictures." } }
            ol.cards #pictures { @for (k, row) in rows.iter().enumerate() { (card(row, k, names[&k], smalls[k].as_ref())) } }
            (garments(&doubted))
        }
        footer.wide { p.quiet { "The same figures as a table: " a href=(link(NAMES[1])) { (NAMES[1]) } "." } }
    };
    page(Parts { title: "What came of the pictures", style: STYLE, script: Some(SCRIPT), body })
}

fn summary(archive: &Archive, counts: [usize; 5]) -> String {
    let all: usize = counts.iter().sum();
    let parts: Vec<String> = Standing::ALL.iter().zip(counts).filter(|(_, n)| *n > 0).map(|(s, n)| format!("{n} {}", s.word())).collect();
    let told = if parts.is_empty() { String::new() } else { format!(": {}", parts.join("; ")) };
    format!("{} of {}{told}.", count(all, "picture", "pictures"), count(archive.garments.len(), "garment", "garments"))
}

/// What the page can be asked; hidden until its script is there to answer.
fn asking(counts: [usize; 5]) -> Markup {
    html! {
        form.ask #ask role="search" aria-label="Sort and filter the pictures" hidden {
            div.wide {
                div.row {
                    div { label for="words" { "Words" } input #words name="words" type="search" autocomplete="off"; }
                    div {
                        label for="order" { "Order" }
                        select #order name="order" {
                            option value="worst" { "worst first" }
                            option value="out" { "line out by most first" }
                            option value="coarse" { "coarsest pictures first" }
                            option value="name" { "by name" }
                        }
                    }
                    fieldset {
                        legend { "Show" }
                        div.boxes {
                            @for (s, n) in Standing::ALL.iter().zip(counts).filter(|(_, n)| *n > 0) {
                                label { input type="checkbox" value=(s.code()) checked; (s.word()) " (" (n) ")" }
                            }
                        }
                    }
                }
                p #count role="status" aria-live="polite" {}
            }
        }
        noscript { div.wide { p.note { "Sorting and filtering need the page's own script, which is off. The pictures stand worst first; your browser finds words in the page." } } }
    }
}

/// What is to be known of the archive as a whole.
fn notices(archive: &Archive) -> Markup {
    let twice = archive.twice();
    let unread: Vec<&Garment> = archive.garments.iter().filter(|g| g.unread.is_some()).collect();
    html! {
        @if !twice.is_empty() || !unread.is_empty() || !archive.skipped.is_empty() {
            h2 { "The archive as a whole" }
            @for (id, paths) in &twice {
                p.note { "The number " bdi { (id) } " belongs to " (count(paths.len(), "garment", "garments")) ": "
                    @for (k, path) in paths.iter().enumerate() { @if k > 0 { ", " } bdi { (shown(path)) } }
                    ". Give each its own in its garment.toml, so that a record can be cited." }
            }
            @for garment in unread {
                p.note { bdi { (shown(&garment.path)) } ": garment.json " (garment.unread.as_deref().unwrap_or_default()) ". Trace the garment's folder again to make it anew." }
            }
            @for passed in &archive.skipped { p.note { bdi { (passed.path) } " " (passed.say) "." } }
        }
    }
}

/// Doubts about whole garments: tapes that disagree, layings that were not compared.
fn garments(doubted: &[&Garment]) -> Markup {
    html! {
        @if !doubted.is_empty() {
            h2 #doubted { "Garments with doubts of their own" }
            ul.cards { @for garment in doubted {
                li.whole {
                    h3 { bdi { (garment.title()) } }
                    (doubts(&garment.doubts))
                    p.quiet { "In " bdi { (shown(&garment.path)) } ", " a href=(link_in(&garment.path, "garment.json")) { "garment record" } }
                }
            } }
        }
    }
}

/// A folder's path; the root has no name of its own.
fn shown(path: &str) -> &str {
    if path.is_empty() { "this folder" } else { path }
}

fn card(row: &Row, place: usize, name: usize, small: Option<&Small>) -> Markup {
    let picture = row.picture;
    let figures = match &picture.result {
        Outcome::Traced(f) => Some(f.as_ref()),
        _ => None,
    };
    let worst = figures.and_then(out).unwrap_or(-1.0);
    let px = figures.and_then(|f| f.px_per_mm).unwrap_or(1e6);
    html! {
        li.card data-standing=(row.standing.code()) data-worst=(place) data-name=(name) data-out=(format!("{worst:.3}")) data-px=(format!("{px:.2}")) {
            div.look {
                @match small {
                    Some(s) => img src=(PreEscaped(&s.uri)) width=(s.width) height=(s.height) loading="lazy" decoding="async" alt={ "Evidence picture of " (picture.title()) };,
                    None => p.none { "no picture" },
                }
            }
            article aria-labelledby={ "p" (place) } {
                h3 id={ "p" (place) } { bdi { (picture.title()) } @if let Some(g) = row.garment { ", " bdi { (g.title()) } } @else if let Some(folder) = picture.home() { ", " bdi { (folder) } } }
                p.state.(row.standing.code()) { (row.standing.word()) }
                @match &picture.result {
                    Outcome::Traced(f) => { (figures_of(f)) (doubts(&f.doubts)) },
                    Outcome::Failed(say) => p { (sentence(say)) },
                    Outcome::Unread(say) => p { "The record " (say) ". " (TRACE_AGAIN) },
                }
                p.quiet { "In " bdi { (shown(&picture.path)) } }
                (files(row))
            }
        }
    }
}

fn figures_of(f: &Figures) -> Markup {
    let pieces = if f.pieces.len() == 1 { "Piece" } else { "Pieces" };
    html! {
        dl.figures {
            div { dt { "Worst edge may be out by" } dd { (f.out_mm.map_or_else(|| "not known".into(), mm)) @if f.cut_off { ", cut off by the frame" } } }
            @if f.out_mm.is_some_and(|o| f.worst_place_mm > o + 0.005) { div { dt { "at its worst place" } dd { (mm(f.worst_place_mm)) } } }
            div { dt { "Layings" } dd { (laid(f)) } }
            @if let Some(px) = f.px_per_mm { div { dt { "Coarsest" } dd { (format!("{px:.1} px/mm")) } } }
            @if let Some(tilt) = f.tilt_deg { div { dt { "Tilt" } dd { (format!("{tilt:.0}°")) } } }
            div { dt { "Sheet found" } dd { (format!("{:.0} %", f.coverage * 100.0)) } }
            div { dt { (pieces) } dd { @for (k, p) in f.pieces.iter().enumerate() { @if k > 0 { ", " } bdi { (p) } } } }
            @if let Some(made) = &f.derived { div { dt { "Made" } dd { (made) } } }
        }
        @if !f.replaces.is_empty() {
            ul.doubts { @for r in &f.replaces {
                li { "Takes the place of an earlier tracing" @if let Some(d) = r.differs_mm { ", from which it differs by " (mm(d)) }
                    @if !r.say.is_empty() { ": " (r.say) } }
            } }
        }
    }
}

/// How differently the piece lay, or that nobody knows.
fn laid(f: &Figures) -> String {
    let words = f.laid.clone().unwrap_or_else(|| "not told".into());
    f.laid_mm.map_or(words.clone(), |d| format!("{words}, {} apart", mm(d)))
}

fn doubts(all: &[Doubted]) -> Markup {
    html! { @if !all.is_empty() { ul.doubts { @for d in all { li { (d.say) } } } } }
}

fn files(row: &Row) -> Markup {
    let own =
        [("evidence.jpg", "evidence picture"), ("outline.svg", "drawing"), ("points.csv", "points"), ("outline.json", "outline record")];
    let picture = row.picture;
    html! {
        ul.files {
            @for (file, words) in own.iter().filter(|(f, _)| picture.has(f)) { li { a href=(link_in(&picture.path, file)) { (words) } } }
            @if let Some(g) = row.garment { li { a href=(link_in(&g.path, "garment.json")) { "garment record" } } }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOSTILE: &str = "<script>alert(1)</script>\"'><img src=x onerror=alert(1)>&amp;";

    fn picture(path: &str, result: Outcome) -> Picture {
        Picture { path: path.into(), of: vec![format!("{path}.jpg")], result, files: vec!["evidence.jpg".into()] }
    }

    fn traced(out: f64, code: Option<&str>) -> Outcome {
        let doubts = code.map(|c| Doubted { code: c.into(), say: "Look at it.".into(), place: None }).into_iter().collect();
        Outcome::Traced(Box::new(Figures { out_mm: Some(out), pieces: vec!["front".into()], doubts, ..Figures::default() }))
    }

    fn archive() -> Archive {
        let loose = vec![
            picture("good", traced(0.1, None)),
            picture("remarks", traced(5.0, Some("pitch-not-measured"))),
            picture("doubt-small", traced(0.3, Some("edge-unsure"))),
            picture("doubt-large", traced(0.4, Some("crease"))),
            picture("broken", Outcome::Unread("is damaged at line 1".into())),
            picture("failed", Outcome::Failed("=is too dark".into())),
        ];
        Archive { loose, ..Archive::default() }
    }

    #[test]
    fn worst_comes_first() {
        let archive = archive();
        let order: Vec<&str> = rows(&archive).iter().map(|r| r.picture.path.as_str()).collect();
        assert_eq!(order, ["failed", "broken", "doubt-large", "doubt-small", "remarks", "good"]);
    }

    #[test]
    fn hostile_names_stay_words() {
        let dir = tempfile::tempdir().expect("a folder");
        let long = "x".repeat(5000);
        let mut archive = archive();
        archive.loose.push(picture(HOSTILE, Outcome::Failed(HOSTILE.into())));
        archive.loose.push(picture("שמלה \u{202e}gpj.teg", traced(0.1, None)));
        archive.garments.push(Garment { path: long.clone(), id: HOSTILE.into(), unread: Some(HOSTILE.into()), ..Garment::default() });
        assert!(write(dir.path(), &archive).expect("written"));
        let text = std::fs::read_to_string(dir.path().join(NAMES[0])).expect("read");
        assert_eq!(text.matches("<script>").count(), 1, "only the page's own");
        assert!(!text.contains("<img src=x") && text.contains("&lt;script&gt;alert(1)") && text.contains(&long));
    }

    #[test]
    fn nothing_is_written_when_nothing_changed() {
        let dir = tempfile::tempdir().expect("a folder");
        assert!(write(dir.path(), &archive()).expect("written"));
        assert!(!write(dir.path(), &archive()).expect("the same"));
        let mut changed = archive();
        changed.loose.pop();
        assert!(write(dir.path(), &changed).expect("written"));
        let page = dir.path().join(NAMES[0]);
        std::fs::write(&page, "spoilt").expect("written");
        assert!(write(dir.path(), &changed).expect("made anew"));
        // A thumbnail that changed is seen though no word of the page did.
        std::fs::create_dir(dir.path().join("good")).expect("made");
        let mut bytes = Vec::new();
        jpeg_encoder::Encoder::new(&mut bytes, 80).encode(&[90; 300], 10, 10, jpeg_encoder::ColorType::Rgb).expect("encoded");
        std::fs::write(dir.path().join("good/evidence.jpg"), bytes).expect("written");
        assert!(write(dir.path(), &archive()).expect("written"));
        assert!(std::fs::read_to_string(&page).expect("read").contains("data:image/jpeg"));
    }
}
