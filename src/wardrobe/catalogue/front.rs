//! The first page: every garment with its thumbnail, a box for words, and facets.

use super::super::archive::{Archive, Garment, Picture};
use super::super::page::{Parts, count, link, page as whole};
use super::super::small::{Small, small};
use super::super::years::years;
use super::place::Place;
use super::{Entry, keys};
use maud::{Markup, PreEscaped, html};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::path::Path;

const STYLE: &str = include_str!("front.css");
const SCRIPT: &str = concat!(include_str!("../page.js"), include_str!("front.js"));
/// Values that a facet offers, the commonest first: more would be no choice, and the box for words finds the rest.
const MOST: usize = 60;

/// What garments are told apart by: the name in the page's code, and what it is called.
const FACETS: [(&str, &str); 4] = [("kind", "Kind"), ("maker", "Maker"), ("decade", "Decade"), ("holder", "Held by")];

/// A garment's value for each facet.
fn values(g: &Garment) -> [Option<String>; 4] {
    let word = |key: &str| g.word(key).map(str::to_owned);
    let decade = years(g.word("date_earliest"), g.word("date_latest"), g.word("date"))
        .and_then(|[first, last]| [first, last].into_iter().find(|y| (1..9999).contains(y)))
        .map(|y| format!("{}s", y / 10 * 10));
    [word("kind"), word("maker"), decade, word("holder")]
}

/// The page's text.
pub(super) fn page(root: &Path, archive: &Archive, entries: &[Entry], place: &Place) -> String {
    let first = |e: &Entry| e.garment.pictures.iter().find_map(|p| small(root, p));
    let smalls: Vec<Option<Small>> = entries.par_iter().map(first).collect();
    let loose: Vec<Option<Small>> = archive.loose.par_iter().map(|p| small(root, p)).collect();
    let twice = archive.twice();
    let body = html! {
        a.skip href="#garments" { "Skip to the garments" }
        header.wide {
            h1 { "Catalogue of garments" }
            p { (count(entries.len(), "garment", "garments")) @if !archive.loose.is_empty() { ", " (count(archive.loose.len(), "picture", "pictures")) " of no garment" } "." }
        }
        (asking(entries))
        main.wide {
            @for (id, paths) in &twice {
                p.note { "The number " bdi { (id) } " belongs to " (count(paths.len(), "garment", "garments")) ": "
                    @for (k, path) in paths.iter().enumerate() { @if k > 0 { ", " } bdi { (path) } } "." }
            }
            h2 #garments { "Garments" }
            ul.rail { @for (e, s) in entries.iter().zip(&smalls) { (item(e, s.as_ref())) } }
            @if !archive.loose.is_empty() {
                h2 { "Pictures of no garment" }
                ul.rail { @for (p, s) in archive.loose.iter().zip(&loose) { (loose_item(p, s.as_ref(), place)) } }
            }
        }
        footer.wide { p.quiet {
            "Every file with its hash: " a href=(link("hashes.txt")) { "hashes.txt" } ". What took the place of what: "
            a href=(link("supersedes.csv")) { "supersedes.csv" } ". Pictures shown are derivatives, straightened and drawn on."
        } }
    };
    whole(Parts { title: "Catalogue of garments", style: STYLE, script: Some(SCRIPT), body })
}

fn asking(entries: &[Entry]) -> Markup {
    let all: Vec<[Option<String>; 4]> = entries.iter().map(|e| values(e.garment)).collect();
    html! {
        form.ask #ask role="search" aria-label="Find garments" hidden {
            div.wide {
                div.row {
                    div { label for="words" { "Words" } input #words name="words" type="search" autocomplete="off"; }
                    @for (k, (code, called)) in FACETS.iter().enumerate() {
                        @let choices = choices(all.iter().filter_map(|v| v[k].as_deref()), *code == "decade");
                        @if choices.len() > 1 {
                            div { label for=(code) { (called) }
                                select id=(code) name=(code) {
                                    option value="" { "any" }
                                    @for (value, n) in &choices { option value=(value) { (short(value)) " (" (n) ")" } }
                                } }
                        }
                    }
                }
                p #count role="status" aria-live="polite" {}
            }
        }
        noscript { div.wide { p.note { "Search and facets need the page's own script, which is off; all garments stand below, and your browser finds words in the page." } } }
    }
}

/// Values with how often each occurs, the commonest first, decades in their order.
fn choices<'a>(values: impl Iterator<Item = &'a str>, in_order: bool) -> Vec<(&'a str, usize)> {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    values.for_each(|v| *counts.entry(v).or_default() += 1);
    let mut out: Vec<(&str, usize)> = counts.into_iter().collect();
    if !in_order {
        out.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(b.0)));
        out.truncate(MOST);
    }
    out
}

/// A value that fits into a list.
fn short(text: &str) -> String {
    if text.chars().count() > 48 { text.chars().take(47).chain(['…']).collect() } else { text.to_owned() }
}

fn item(e: &Entry, small: Option<&Small>) -> Markup {
    let g = e.garment;
    let [kind, maker, decade, holder] = values(g);
    let said: Vec<&str> = ["kind", "maker", "date"].iter().filter_map(|k| g.word(k)).collect();
    let measures: Vec<String> = g.pieces.iter().flat_map(|p| &p.measures).take(3).map(|m| format!("{} {:.0} mm", m.name, m.mm)).collect();
    let more: Vec<&str> = g.told.iter().map(|s| s.words.as_str()).chain([g.path.as_str()]).collect();
    html! {
        li data-kind=[kind] data-maker=[maker] data-decade=[decade] data-holder=[holder] data-words=(more.join(" ")) {
            div.look { (look(small, &format!("Evidence picture of {}", g.title()))) }
            div {
                h3 { a href=(link(&format!("garments/{}.html", e.slug))) { bdi { (g.title()) } } }
                @if let Some(n) = g.number() { p { bdi { (n) } } }
                @if !said.is_empty() { p { @for (k, s) in said.iter().enumerate() { @if k > 0 { ", " } bdi { (s) } } } }
                @if !measures.is_empty() { p.quiet { (measures.join(", ")) } }
                @if g.word("fragile").is_some() || g.word("hazards").is_some() { p { strong { "Handle with care" } ": see its page" } }
                @if let Some(say) = &g.unread { p { "garment.json " (say) } }
                @for key in ["credit", "rights"].iter().filter(|k| keys::public(k)) { @if let Some(words) = g.word(key) { p.quiet { bdi { (words) } } } }
            }
        }
    }
}

fn loose_item(p: &Picture, small: Option<&Small>, place: &Place) -> Markup {
    html! {
        li data-words=(p.path) {
            div.look { (look(small, &format!("Evidence picture of {}", p.title()))) }
            div {
                h3 { bdi { (p.title()) } }
                p.quiet { bdi { (p.path) } }
                @for (file, words) in [("evidence.jpg", "evidence picture"), ("outline.svg", "drawing"), ("outline.json", "outline record")] {
                    @if p.has(file) { p { a href=(place.link("", &p.path, file)) { (words) } } }
                }
            }
        }
    }
}

fn look(small: Option<&Small>, alt: &str) -> Markup {
    html! {
        @match small {
            Some(s) => img src=(PreEscaped(&s.uri)) width=(s.width) height=(s.height) loading="lazy" decoding="async" alt=(alt);,
            None => p.none { "no picture" },
        }
    }
}
