//! What the command says: results on standard output, talk on standard error.

use crate::trace::Flaw;
use crate::wardrobe::{Compared, LeftOut, Outcome};
use crate::write::{GarmentRecord, MarkRecord, Record};
use serde_json::json;
use std::fmt::Display;
use std::io::{ErrorKind, Write, stderr, stdout};
use std::path::Path;

/// Longest line a failure may take, so that it stays one line on a screen or two.
const LONGEST: usize = 300;

/// Marks told on standard error unless more is asked for.
const MARKS_SHOWN: usize = 12;

/// Doubts told on standard error unless more is asked for.
const SHOWN: usize = 3;

/// One line on standard error about the call itself.
pub(super) fn fault(error: &anyhow::Error) {
    line(&mut stderr(), &format!("ruboff: {}", one_line(&plain(error), LONGEST - 8)));
}

/// One line on standard error about a picture; with `verbose` its causes too. Gives the sentence that was said.
pub(super) fn failed(picture: &str, error: &anyhow::Error, json: bool, verbose: bool) -> String {
    let message = refused(picture, &plain(error), json);
    if verbose {
        for cause in error.chain().skip(1) {
            line(&mut stderr(), &format!("  because: {cause}"));
        }
    }
    message
}

/// The same of a picture that failed before and has not changed since.
pub(super) fn failed_before(picture: &str, message: &str, json: bool) {
    refused(picture, message, json);
}

/// Says that a picture failed, in one line; gives the sentence that was said.
fn refused(picture: &str, message: &str, json: bool) -> String {
    let picture = one_line(picture, 80);
    let room = LONGEST - 11 - picture.chars().count();
    let message = one_line(message, room);
    line(&mut stderr(), &format!("ruboff: {picture}: {message}"));
    if json {
        line(&mut stdout(), &json!({"picture": picture, "result": "failed", "say": message}));
    }
    message
}

/// A failure as one sentence.
pub(super) fn sentence(error: &anyhow::Error) -> String {
    one_line(&plain(error), LONGEST - 11)
}

/// One line about a file or folder that no tracing is made of: what may be lost by it counts as a failure.
pub(super) fn left_out(left: &LeftOut, json: bool) {
    let name = one_line(&left.path.display().to_string(), 160);
    if json {
        let result = if left.lost { "failed" } else { "left out" };
        line(&mut stdout(), &json!({"file": name, "result": result, "say": left.why}));
    }
    if left.lost {
        line(&mut stderr(), &format!("ruboff: {name}: {}", left.why));
    } else {
        note(&format!("left out: {name} {}", left.why));
    }
}

/// One line on standard output about a picture that was traced, now or `before`; doubts of a new one go to standard error.
pub(super) fn traced(picture: &str, folder: &Path, outcome: &Outcome, before: bool, (json, verbose): (bool, bool)) {
    let record = &outcome.record;
    let lens = record.views.iter().find_map(|v| v.lens_profile.as_ref());
    let apart = record.pieces.iter().filter_map(|p| p.joined.as_ref()).map(|j| j.apart_mm).reduce(f64::max);
    if json {
        let pieces: Vec<_> =
            record.pieces.iter().map(|p| json!({"name": p.name, "corners": p.corners.len(), "bound_mm": p.bound_mm})).collect();
        let doubts: Vec<_> = record.doubts.iter().map(|d| json!({"code": d.code, "say": d.say})).collect();
        let whole = json!({"picture": picture, "result": "traced", "unchanged": before, "folder": folder.display().to_string(), "pieces": pieces, "marks": record.marks.len(), "joined": record.pictures.len(), "apart_mm": apart, "doubts": doubts, "lens_profile": lens, "measured_print": record.sheet.measured, "replaces": record.replaces});
        line(&mut stdout(), &whole);
        return;
    }
    let count = record.pieces.len();
    let pieces = if count == 1 { "1 piece".to_string() } else { format!("{count} pieces") };
    // The worst edge is what a cutter must know; the record has the bound of each.
    let worst = record.pieces.iter().flat_map(|p| &p.edges).filter_map(|e| e.bound_mm).fold(0.0, f64::max);
    let cut = record.pieces.iter().any(|p| p.bound_mm.is_none());
    let bound = format!("{}worst edge may be out by {worst:.2} mm", if cut { "cut off by the frame, " } else { "" });
    let doubts = match record.doubts.len() {
        0 => String::new(),
        1 => ", 1 doubt".to_string(),
        n => format!(", {n} doubts"),
    };
    let joined = apart.map_or_else(String::new, |apart| {
        format!("{} pictures joined, within {apart:.2} mm of one another where they overlap, ", record.pictures.len())
    });
    let unchanged = if before { "unchanged, " } else { "" };
    line(&mut stdout(), &format!("{picture}: {unchanged}{joined}{pieces}, {bound}{doubts}: {}", folder.join("outline.json").display()));
    if !before || verbose {
        if let Some(replaced) = record.replaces.first().filter(|_| outcome.replaced) {
            line(
                &mut stderr(),
                &format!("  {picture}: the tracing of the picture before is kept as {}; {}", replaced.outline, replaced.say),
            );
        }
        beside(picture, record, lens, verbose);
    }
}

/// What else there is to know of a picture that was traced, on standard error.
fn beside(picture: &str, record: &Record, lens: Option<&String>, verbose: bool) {
    if let Some(name) = lens {
        line(&mut stderr(), &format!("  {picture}: the lens profile {name} was used"));
    }
    if let Some(words) = &record.sheet.measured {
        line(&mut stderr(), &format!("  {picture}: the measured print of {words} was used"));
    }
    if !record.marks.is_empty() {
        line(&mut stderr(), &format!("  {picture}: {}", marks(&record.marks, verbose)));
    }
    let shown = if verbose { record.doubts.len() } else { record.doubts.len().min(SHOWN) };
    for doubt in &record.doubts[..shown] {
        line(&mut stderr(), &format!("  {picture}: {}", doubt.say));
    }
    if shown < record.doubts.len() {
        line(&mut stderr(), &format!("  {picture}: {} more; say --verbose, or read outline.json", record.doubts.len() - shown));
    }
}

/// One line on standard output about a garment whose pictures are all done; tape readings that disagree go to standard error.
pub(super) fn joined(record: &GarmentRecord, file: &Path, unchanged: bool, json: bool) {
    let measures: usize = record.pieces.iter().map(|p| p.measures.len()).sum();
    if json {
        let pieces: Vec<_> = record.pieces.iter().map(|p| &p.name).collect();
        let doubts: Vec<_> = record.doubts.iter().map(|d| &d.doubt).collect();
        line(
            &mut stdout(),
            &json!({"garment": record.id, "result": "recorded", "unchanged": unchanged, "file": file.display().to_string(), "pieces": pieces, "measures": measures, "doubts": doubts}),
        );
        return;
    }
    let pieces = match record.pieces.len() {
        1 => "1 piece".to_string(),
        n => format!("{n} pieces"),
    };
    let same = if unchanged { "unchanged, " } else { "" };
    let name = record.name();
    line(&mut stdout(), &format!("{name}: {same}{pieces}, {measures} measures: {}", file.display()));
    if unchanged {
        return;
    }
    for doubt in record.doubts.iter().filter(|d| d.picture.is_none()) {
        line(&mut stderr(), &format!("  {name}: {}", doubt.doubt.say));
    }
}

/// One line on standard output about a piece whose pictures were compared. Its doubts in words are for whoever has no garment's record to
/// tell them.
pub(super) fn compared(name: &str, compared: &Compared, pictures: usize, json: bool) {
    let first = compared.spreads.first();
    let file = compared.made.as_ref().map(|m| m.file.display().to_string());
    if json {
        result(&json!({
            "piece": name,
            "result": "compared",
            "pictures": pictures,
            "layings": first.map(|s| s.layings),
            "laid_mm": first.and_then(|s| s.laid),
            "repeat_mm": first.and_then(|s| s.repeat),
            "recorded_by": compared.recorders,
            "made": compared.made.as_ref().map(|m| &m.words),
            "file": file,
            "doubts": compared.doubts.iter().map(|d| json!({"code": d.code(), "say": d.say()})).collect::<Vec<_>>(),
        }));
        return;
    }
    let mut words = Vec::new();
    if let Some(spread) = first {
        match spread.laid {
            Some(laid) => words.push(format!("laid {} times, 95 % of the outline within {laid:.1} mm of one another", spread.layings)),
            None => words.push("laid once".to_owned()),
        }
        words.extend(spread.repeat.map(|off| format!("pictures of one laying within {off:.2} mm")));
    }
    if !compared.recorders.is_empty() {
        words.push(format!("recorded by {}", compared.recorders.join(" and ")));
    }
    words.extend(compared.made.as_ref().map(|m| m.words.clone()));
    let file = file.map(|f| format!(": {f}")).unwrap_or_default();
    result(&format!("{name}: {}{file}", words.join(", ")));
}

/// How many marks were found and where, by number and name.
fn marks(all: &[MarkRecord], verbose: bool) -> String {
    let mut kinds: Vec<String> = Vec::new();
    all.iter().map(|m| format!("{}s", m.kind)).for_each(|k| {
        if !kinds.contains(&k) {
            kinds.push(k)
        }
    });
    let on_cloth = all.iter().filter(|m| m.on == "cloth").count();
    let told = if verbose { all.len() } else { MARKS_SHOWN };
    let list: Vec<String> = all
        .iter()
        .take(told)
        .map(|m| {
            let name = m.name.as_ref().map(|n| format!(" {n}")).unwrap_or_default();
            format!("{}{name} at {:.0},{:.0}", m.number, m.px[0], m.px[1])
        })
        .collect();
    let more = if told < all.len() { ", and so on in outline.json" } else { "" };
    format!("{} {} found, {on_cloth} on the cloth: {} px{more}", all.len(), kinds.join(" and "), list.join("; "))
}

/// Whether a picture had better be taken again: a line for it and one for each reason, on standard output.
pub(super) fn checked(picture: &str, flaws: &[Flaw], json: bool) {
    let result = if flaws.is_empty() { "good" } else { "retake" };
    if json {
        let reasons: Vec<_> = flaws.iter().map(|f| json!({"code": f.code(), "cost_mm": f.cost(), "say": f.say()})).collect();
        line(&mut stdout(), &json!({"picture": picture, "result": result, "reasons": reasons}));
        return;
    }
    let words = if flaws.is_empty() { "good, keep it" } else { "take it again" };
    line(&mut stdout(), &format!("{picture}: {words}"));
    flaws.iter().for_each(|f| line(&mut stdout(), &format!("  {}", f.say())));
}

/// One line of a result on standard output.
pub(super) fn result(text: &dyn Display) {
    line(&mut stdout(), text);
}

/// One line of talk on standard error that is no failure.
pub(super) fn note(text: &str) {
    line(&mut stderr(), &format!("  {}", one_line(text, LONGEST)));
}

/// Runs `work` with the panic message held back: what a person reads is our own line.
pub(super) fn quietly<T>(work: impl FnOnce() -> T) -> T {
    let usual = std::panic::take_hook();
    std::panic::set_hook(Box::new(|_| {}));
    let out = work();
    std::panic::set_hook(usual);
    out
}

fn line(to: &mut dyn Write, text: &dyn Display) {
    // Names of files may hold what moves a terminal's cursor or turns its reading order.
    let unfit = |c: char| c.is_control() && c != '\n' && c != '\t' || ('\u{202a}'..='\u{202e}').contains(&c);
    let text: String = text.to_string().chars().map(|c| if unfit(c) { '\u{fffd}' } else { c }).collect();
    // Nobody is left to tell when the other end of the pipe has gone.
    let _ = writeln!(to, "{text}");
}

/// An error with its causes, the system's own words put plainly.
fn plain(error: &anyhow::Error) -> String {
    let causes = error.chain().map(|cause| match cause.downcast_ref::<std::io::Error>() {
        Some(io) => system(io),
        None => cause.to_string(),
    });
    causes.collect::<Vec<_>>().join(": ")
}

/// What the system said about a file or folder.
fn system(error: &std::io::Error) -> String {
    match error.kind() {
        ErrorKind::NotFound => "there is no such file or folder; check how the name is written".into(),
        ErrorKind::PermissionDenied => "you are not allowed to; change its permissions or choose another place".into(),
        ErrorKind::AlreadyExists | ErrorKind::NotADirectory => "a file stands where a folder is wanted; choose another place".into(),
        ErrorKind::IsADirectory => "a folder stands where a file is wanted; choose another place".into(),
        ErrorKind::ReadOnlyFilesystem => "nothing can be written there; choose another place".into(),
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => "the disk is full; make room or choose another place".into(),
        ErrorKind::InvalidData => "it is no plain text (UTF-8); save it as text".into(),
        ErrorKind::InvalidFilename => "the system takes no such name; choose a shorter or plainer one".into(),
        _ => error.to_string(),
    }
}

/// Line breaks become spaces; what is too long loses its middle, since the end says what to do.
fn one_line(text: &str, longest: usize) -> String {
    let flat: Vec<char> = text.split_whitespace().collect::<Vec<_>>().join(" ").chars().collect();
    if flat.len() <= longest {
        return flat.into_iter().collect();
    }
    let keep = (longest - 1) / 2;
    flat[..keep].iter().chain(['…'].iter()).chain(flat[flat.len() - keep..].iter()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_and_broken_messages_become_one_line() {
        assert_eq!(one_line("a\n  b", 80), "a b");
        let cut = one_line(&"word ".repeat(100), 60);
        assert!(cut.chars().count() <= 60 && cut.contains('…'));
    }
}
