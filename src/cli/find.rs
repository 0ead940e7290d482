//! `ruboff find`: records of an archive that answer to words and measures.

use super::{SOME_FAILED, WRONG_CALL, say};
use crate::length::Length;
use crate::wardrobe::{Asked, Card, CardMeasure, MeasureAsked, cards};
use clap::Args;
use serde_json::json;
use std::path::PathBuf;
use std::process::ExitCode;

/// What stands after `find`.
#[derive(Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct Call {
    /// The archive: the folder that `trace --out` wrote
    #[arg(value_name = "DIR")]
    archive: PathBuf,
    /// Words that all stand in the record, in any part of it; capitals and accents do not count. One with `..` in it is a measure
    #[arg(value_name = "WORDS")]
    words: Vec<String>,
    /// A measure within bounds, as the garment lies flat: "chest 480..520mm", "sleeve length ..24in", "waist 400mm.."; a single length is meant within 1/4 in
    #[arg(long, value_name = "NAME LENGTH..LENGTH", value_parser = MeasureAsked::from_text, action = clap::ArgAction::Append)]
    measure: Vec<MeasureAsked>,
    /// Who made it
    #[arg(long, value_name = "WORD")]
    maker: Option<String>,
    /// What kind of garment it is
    #[arg(long, value_name = "WORD")]
    kind: Option<String>,
    /// It may have been made in this year or later
    #[arg(long, value_name = "YEAR", value_parser = clap::value_parser!(i32).range(1..=9999))]
    from: Option<i32>,
    /// It may have been made in this year or before
    #[arg(long, value_name = "YEAR", value_parser = clap::value_parser!(i32).range(1..=9999))]
    to: Option<i32>,
    /// Object, stock or accession number, or a part of it
    #[arg(long, value_name = "WORD")]
    number: Option<String>,
    /// One line of JSON a record
    #[arg(long)]
    json: bool,
    /// Read every record anew, whatever the cache says
    #[arg(long)]
    rebuild: bool,
}

const EXAMPLES: &str = "\
Examples:
  ruboff find out linen bodice
  ruboff find out \"chest 480..520mm\" --maker lantern --from 1930 --to 1960
  ruboff find out --measure \"sleeve length 22..24 in\" --kind coat --json

Records are the truth; what was read of them is kept in DIR/.ruboff/find.jsonl to be quick, and made anew whenever it is missing or a record \
changed. Years are those of date_earliest and date_latest, else those in the date's words. Exit codes: 0 something was found, 1 nothing, 2 the call itself is wrong.";

/// Runs the verb.
pub(super) fn run(call: &Call) -> ExitCode {
    match find(call) {
        Ok(0) => ExitCode::from(SOME_FAILED),
        Ok(_) => ExitCode::SUCCESS,
        Err(e) => {
            say::fault(&e);
            ExitCode::from(WRONG_CALL)
        }
    }
}

/// Prints what is found; gives how many.
fn find(call: &Call) -> anyhow::Result<usize> {
    let asked = asked(call)?;
    if let (Some(from), Some(to)) = (asked.from, asked.to)
        && from > to
    {
        anyhow::bail!("--from {from} lies after --to {to}; say the earlier year with --from");
    }
    let found = cards(&call.archive, call.rebuild)?;
    if found.cards.is_empty() {
        anyhow::bail!("{} holds no records; name the folder that `ruboff trace --out` wrote", call.archive.display());
    }
    for (card, why) in found.cards.iter().filter_map(|c| Some((c, c.unread.as_deref()?))) {
        say::note(&format!("{}: the record {why}", if card.path.is_empty() { "." } else { &card.path }));
    }
    let twice = found.twice();
    let hits: Vec<&Card> = found.cards.iter().filter(|c| asked.fits(c)).collect();
    for card in &hits {
        let fitting: Vec<&CardMeasure> = card.measures.iter().filter(|c| asked.measures.iter().any(|m| m.fits(&c.what, c.mm))).collect();
        let line = if call.json { as_json(card, &fitting, twice.contains(card.id.as_str())) } else { as_line(card, &fitting) };
        say::result(&line);
    }
    let mut told: Vec<&str> = hits.iter().map(|c| c.id.as_str()).filter(|id| twice.contains(id)).collect();
    told.sort_unstable();
    told.dedup();
    told.iter()
        .for_each(|id| say::note(&format!("the number {id} belongs to more than one garment; give each its own in its garment.toml")));
    if !call.json {
        say::note(&format!("{} of {} records", hits.len(), found.cards.len()));
    }
    if !found.kept {
        say::note("the archive can't be written to, so every record is read anew each time");
    }
    Ok(hits.len())
}

/// The question, with measures that stand among the words.
fn asked(call: &Call) -> anyhow::Result<Asked> {
    // A range can be nothing else; a name with a length after it is a measure too, such as "chest 17 1/2 in".
    let (measures, words): (Vec<String>, Vec<String>) =
        call.words.iter().cloned().partition(|w| w.contains("..") || w.contains('…') || MeasureAsked::from_text(w).is_ok());
    let mut all = call.measure.clone();
    for text in measures {
        all.push(MeasureAsked::from_text(&text).map_err(anyhow::Error::msg)?);
    }
    let mut asked = Asked::words(&words).by(call.maker.as_deref(), call.kind.as_deref(), call.number.as_deref());
    (asked.measures, asked.from, asked.to) = (all, call.from, call.to);
    Ok(asked)
}

fn as_line(card: &Card, fitting: &[&CardMeasure]) -> String {
    let number = card.accession.as_ref().or(card.number.as_ref());
    let said: Vec<&str> = [Some(card.name.as_ref().unwrap_or(&card.id)), number, card.maker.as_ref(), card.date.as_ref()]
        .into_iter()
        .flatten()
        .map(String::as_str)
        .collect();
    let measures: Vec<String> = fitting
        .iter()
        .map(|m| format!("{} {:.0} mm ({}){}", m.name, m.mm, Length::from_mm(m.mm).sixteenths(), if m.taped { " by tape" } else { "" }))
        .collect();
    let failed = card.failed.as_ref().map(|s| format!("was not traced: {s}"));
    let unread = card.unread.as_ref().map(|s| if card.loose { s.clone() } else { format!("garment.json {s}") });
    let parts: Vec<String> =
        std::iter::once(said.join(", ")).chain((!measures.is_empty()).then(|| measures.join(", "))).chain(failed).chain(unread).collect();
    let path = if card.path.is_empty() { "." } else { &card.path };
    // A name may hold line breaks, and marks that turn the reading order of a terminal.
    format!("{path}: {}", parts.join("; "))
        .chars()
        .map(|c| if c.is_control() || ('\u{202a}'..='\u{202e}').contains(&c) { ' ' } else { c })
        .collect()
}

fn as_json(card: &Card, fitting: &[&CardMeasure], twice: bool) -> String {
    let measures: Vec<_> = fitting.iter().map(|m| json!({"name": m.name, "mm": m.mm, "taped": m.taped})).collect();
    json!({
        "folder": card.path, "id": card.id, "garment": !card.loose, "name": card.name, "number": card.number, "accession": card.accession,
        "maker": card.maker, "kind": card.kind, "date": card.date, "years": card.years.map(|y| y.map(|v| (v.abs() < 10_000).then_some(v))),
        "measures": measures, "number_twice": twice, "failed": card.failed, "unread": card.unread,
    })
    .to_string()
}
