//! A garment's record on paper, to be pinned to the rail: its number large, then what is to be minded, then what is known.

use super::super::archive::Garment;
use super::super::page::{Parts, link, page as whole};
use super::super::small::small;
use super::Entry;
use super::garment::{measures, words};
use super::place::Place;
use crate::notes::guide::Guides;
use maud::{Markup, PreEscaped, html};
use std::path::Path;

const STYLE: &str = include_str!("sheet.css");

/// The page's text.
pub(super) fn page(root: &Path, e: &Entry, place: &Place) -> String {
    let g = e.garment;
    let look = g.pictures.iter().find_map(|p| small(root, p));
    let body = html! {
        main {
            p.back { a href=(link(&format!("../garments/{}.html", e.slug))) { "Back to the garment" } ". Print this page on A4 or Letter." }
            div.top {
                div {
                    p.number { bdi { (g.number().unwrap_or(&g.id)) } }
                    h1 { bdi { (g.title()) } }
                    @if let Some(kind) = g.word("kind") { p { bdi { (kind) } } }
                }
                @if let Some(s) = &look { img src=(PreEscaped(&s.uri)) width=(s.width) height=(s.height) alt={ "Evidence picture of " (g.title()) }; }
            }
            (care(g, &Guides::built_in()))
            @if let Some(say) = &g.unread { p { "garment.json " (say) "." } }
            (measures(g))
            h2 { "Record" }
            (words(g))
            div.sign { p { "Checked by" } p { "on" } @if !place.published { p { "Moved to" } } }
        }
    };
    whole(Parts { title: &format!("Record of {}", g.title()), style: STYLE, script: None, body })
}

/// The usual cautions, where the notes ask for them; words and sources are those of the laying guide.
fn care(g: &Garment, guides: &Guides) -> Markup {
    let (fragile, child) = (g.word("fragile").is_some(), g.word("child").is_some());
    let hazards = g.word("hazards");
    let mouldy = hazards.is_some_and(|h| ["mould", "mold", "mildew"].iter().any(|w| h.to_lowercase().contains(w)));
    let asked: Vec<&str> = [
        (hazards.is_some(), "hazards"),
        (mouldy, "mould"),
        (fragile || hazards.is_some(), "handling"),
        (fragile, "fragile cloth"),
        (child, "children's clothes"),
        (child, "children's sleepwear"),
    ]
    .into_iter()
    .filter_map(|(wanted, about)| wanted.then_some(about))
    .collect();
    let told: Vec<(&str, &str)> = asked.iter().filter_map(|about| guides.caution(about)).collect();
    html! {
        @if !told.is_empty() {
            section.care aria-label="Cautions" {
                @if fragile { p { strong { "FRAGILE. Nothing may touch, turn, flatten or weight it." } } }
                @if let Some(h) = hazards { p { strong { "SUSPECTED HAZARDS: " bdi { (h) } } } }
                ul { @for (words, _) in &told { li { (words) } } }
                p { "A conservator or safety officer who knows the object decides, and local rules come first." }
                p.from { "After " @for (k, (_, source)) in told.iter().enumerate() { @if k > 0 { "; " } (source) } "." }
            }
        }
    }
}
