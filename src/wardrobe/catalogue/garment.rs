//! A page a garment.

use super::super::archive::{Garment, Outcome, Picture};
use super::super::page::{Parts, link, mm, page as whole};
use super::place::Place;
use super::{Entry, keys};
use maud::{Markup, html};

const STYLE: &str = include_str!("garment.css");
/// Files of a picture's folder that can be taken, and what each is.
const OF_PICTURE: [(&str, &str); 5] = [
    ("outline.svg", "drawing at true size"),
    ("points.csv", "points as found"),
    ("outline.json", "outline record"),
    ("evidence.jpg", "evidence picture"),
    ("thumbnail.jpg", "thumbnail"),
];

/// The page's text; `same` are the folders of all garments with its number, where there is more than one.
pub(super) fn page(e: &Entry, same: &[&str], place: &Place) -> String {
    let g = e.garment;
    let body = html! {
        header.wide {
            nav.back aria-label="Catalogue" { a href=(link("../index.html")) { "All garments" } " · " a href=(link(&format!("../sheets/{}.html", e.slug))) { "Record sheet to print" } }
            h1 { bdi { (g.title()) } }
            @if let Some(n) = g.number() { p { bdi { (n) } } }
            (rights(g))
        }
        main.wide {
            @if same.len() > 1 {
                p.note { "More than one garment has the number " bdi { (g.id) } ": " @for (k, path) in same.iter().enumerate() { @if k > 0 { ", " } bdi { (path) } } "." }
            }
            @if let Some(say) = &g.unread { p.note { "garment.json " (say) "." } }
            (cautions(g))
            h2 { "Pictures" }
            @if g.pictures.is_empty() { p { "None." } }
            div.shots { @for p in &g.pictures { (shot(p, place)) } }
            (measures(g))
            h2 { "Record" }
            (words(g))
            @if !g.doubts.is_empty() { h2 { "Doubts" } ul { @for d in &g.doubts { li { (d.say) } } } }
            h2 { "Files" }
            ul.files { (files(g, place)) }
        }
        footer.wide { (rights(g)) p.quiet { "Pictures shown are derivatives, straightened and drawn on; originals are kept apart." } }
    };
    whole(Parts { title: g.title(), style: STYLE, script: None, body })
}

/// Credit, rights and access.
fn rights(g: &Garment) -> Markup {
    html! { @for (key, called) in [("credit", ""), ("rights", "Rights: "), ("access", "Permission and access: ")] {
        @if let Some(words) = g.word(key) { p.quiet { (called) bdi { (words) } } }
    } }
}

/// What is to be minded before it is touched.
fn cautions(g: &Garment) -> Markup {
    html! {
        @if g.word("fragile").is_some() || g.word("hazards").is_some() {
            div.note role="note" {
                @if g.word("fragile").is_some() { p { strong { "Fragile." } " Nothing may touch, turn, flatten or weight it." } }
                @if let Some(h) = g.word("hazards") { p { strong { "Suspected hazards: " } bdi { (h) } } }
                p { "A conservator or safety officer who knows the object decides; the record sheet has the usual cautions." }
            }
        }
    }
}

fn shot(p: &Picture, place: &Place) -> Markup {
    html! {
        figure {
            @if p.has("evidence.jpg") {
                a href=(place.link("../", &p.path, "evidence.jpg")) { img src=(place.link("../", &p.path, "evidence.jpg")) loading="lazy" decoding="async" alt={ "Evidence picture of " (p.title()) ", full size" }; }
            }
            figcaption {
                bdi { (p.title()) } ": "
                @match &p.result {
                    Outcome::Traced(f) => {
                        "worst edge may be out by " (f.out_mm.map_or_else(|| "an unknown amount".into(), mm)) @if f.cut_off { ", cut off by the frame" }
                        "; " (f.laid.as_deref().unwrap_or("laying not told")) @if let Some(d) = f.laid_mm { ", " (mm(d)) " apart" }
                        @if !f.doubts.is_empty() { ul { @for d in &f.doubts { li { (d.say) } } } }
                    },
                    Outcome::Failed(say) => { "not traced: " (say) },
                    Outcome::Unread(say) => { "its record " (say) },
                }
            }
        }
    }
}

/// Flat measures and tape readings, as tables.
pub(super) fn measures(g: &Garment) -> Markup {
    let any = g.pieces.iter().any(|p| !p.measures.is_empty());
    let again = g.pieces.iter().any(|p| p.laid_mm.is_some() || p.measures.iter().any(|m| m.laid_mm.is_some()));
    html! {
        @if any {
            h2 { "Measures" }
            div.scroll tabindex="0" role="region" aria-label="Measures" { table {
                caption { "Flat measures from the pictures" }
                thead { tr { th scope="col" { "Piece" } th scope="col" { "Measure" } th scope="col" { "mm" } th scope="col" { "inches" } th scope="col" { "may be out by" } @if again { th scope="col" { "laid anew differs by" } } } }
                tbody { @for p in &g.pieces { @for m in &p.measures { tr {
                    td { bdi { (p.name) } }
                    th scope="row" { (m.name) @if let Some(s) = &m.side { " " (s) } @if m.half_round { " (half of the way round)" } @if m.darts_closed_mm.is_some() { " (darts closed)" } }
                    td.n { (format!("{:.1}", m.mm)) } td.n { (m.inches) }
                    td.n { (m.bound_mm.map(mm).unwrap_or_default()) }
                    @if again { td.n { (m.laid_mm.map_or_else(|| p.laid.clone().filter(|_| p.laid_mm.is_none()).unwrap_or_default(), mm)) } }
                } } } }
            } }
        }
        @if !g.pieces.is_empty() && !again { p.quiet { "Laid once: how differently the garment would lie a second time is not known." } }
        @if !g.tape.is_empty() {
            div.scroll tabindex="0" role="region" aria-label="Tape readings" { table {
                caption { "By tape" }
                thead { tr { th scope="col" { "Measure" } th scope="col" { "Piece" } th scope="col" { "mm" } th scope="col" { "inches" } } }
                tbody { @for t in &g.tape { tr {
                    th scope="row" { bdi { (t.what) } @if t.round { " (all round)" } } td { bdi { (t.piece.as_deref().unwrap_or_default()) } }
                    td.n { (format!("{:.1}", t.mm)) } td.n { (t.inches) }
                } } }
            } }
        }
    }
}

/// The garment's own table by parts, and what nobody wrote down.
pub(super) fn words(g: &Garment) -> Markup {
    let silent = keys::silent(g);
    html! {
        @for (group, words) in keys::grouped(g) {
            h3 { (group) }
            dl.words { @for (called, said) in words { dt { bdi { (called) } } dd { bdi { (said.words) } } } }
        }
        @if !silent.is_empty() { p.quiet { "Nobody wrote down: " (silent.join(", ").to_lowercase()) ". It is not known, which does not mean that there was none." } }
    }
}

fn files(g: &Garment, place: &Place) -> Markup {
    let own = g.files.iter().filter(|f| !place.published || super::publish::OF_GARMENT.contains(&f.as_str()));
    html! {
        @for file in own { li { a href=(place.link("../", &g.path, file)) download { bdi { (file) } } } }
        @for p in &g.pictures { @for (file, what) in OF_PICTURE.iter().filter(|(f, _)| p.has(f)) {
            li { a href=(place.link("../", &p.path, file)) download { bdi { (p.title()) } ": " (what) } }
        } }
    }
}
