//! `ruboff pattern`: pieces of a garment at true size, on paper and for other programs.

use super::garment::missing;
use super::{WRONG_CALL, say};
use crate::length::Length;
use crate::notes::Day;
use crate::sheet::{LONGEST_PAGE, Paper};
use crate::write::pattern::{
    Choices, Font, Joining, Orientation, Pattern, PatternError, Printed, Units, dxf, pattern_of_drafted, pattern_of_garment,
    pattern_of_outline, pattern_svg, roll, tables_of_garment, tiled,
};
use crate::write::{DraftedRecord, GarmentRecord, Record, measures, write_whole};
use anyhow::{Context, anyhow, bail};
use clap::{Args, ValueEnum};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use time::OffsetDateTime;

/// What stands after `pattern`.
#[derive(Args)]
#[command(after_help = CAUTIONS)]
pub(super) struct Call {
    /// A garment.json, outline.json or drafted.json, or the folder of one
    #[arg(value_name = "RECORD")]
    record: PathBuf,
    /// Folder for the files
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// A PDF of pages to be joined: a4, letter, a3, tabloid, or a size like 330x483mm or 13x19in
    #[arg(long, value_name = "SIZE")]
    paper: Option<Paper>,
    /// A PDF for a roll of this width, such as 36in or 841mm
    #[arg(long, value_name = "WIDTH", allow_hyphen_values = true)]
    roll: Option<Length>,
    /// An SVG in mm, one group a piece
    #[arg(long)]
    svg: bool,
    /// A DXF (R12 entities, D6673 layers; no conformance is claimed) in mm or inches
    #[arg(long, value_enum, value_name = "UNITS")]
    dxf: Option<UnitsWord>,
    /// Measures and walked seams of a garment.json: two CSV files, and pages of the PDF that --paper makes
    #[arg(long)]
    tables: bool,
    /// Allowance for all edges, or for one by its name or what it is: 10mm, hem=25mm; goes before the record's
    #[arg(long, value_name = "[EDGE=]LENGTH", value_parser = allowance, action = clap::ArgAction::Append, allow_hyphen_values = true)]
    allowance: Vec<(String, f64)>,
    /// Left bare at each side of a page
    #[arg(long, value_name = "LENGTH", default_value = "10mm", allow_hyphen_values = true)]
    margin: Length,
    /// How far neighbouring pages lie over one another
    #[arg(long, value_name = "LENGTH", default_value = "10mm", allow_hyphen_values = true)]
    overlap: Length,
    /// Which way round pages lie: fewest takes whichever saves pages
    #[arg(long, value_enum, value_name = "WAY", default_value_t = OrientationWord::Fewest)]
    orientation: OrientationWord,
    /// Let pieces take a quarter turn to save paper
    #[arg(long)]
    turn: bool,
    /// What the 100 mm square measured on a print, across and down: lengths are corrected by it, and page one and the pages to be joined say so
    #[arg(long, value_name = "ACROSS,DOWN", value_parser = printed, allow_hyphen_values = true)]
    printed: Option<[f64; 2]>,
    /// How far the DXF's curves may lie from the chords between their points
    #[arg(long, value_name = "LENGTH", default_value = "0.02mm", allow_hyphen_values = true)]
    tolerance: Length,
    /// A TrueType or OpenType font to set pages in, for names in letters that the program's own font has not
    #[arg(long, value_name = "FILE")]
    font: Option<PathBuf>,
    /// The day on the labels, such as 1926-05-17; today unless given
    #[arg(long, value_name = "DAY", value_parser = day)]
    date: Option<String>,
    /// Write over files that are already there
    #[arg(long)]
    force: bool,
    /// One line of JSON a file on standard output
    #[arg(long)]
    json: bool,
}

const CAUTIONS: &str = "\
Examples:
  ruboff pattern traced/bodice --paper a4 --out paper
  ruboff pattern bodice --roll 36in --allowance 10mm --out roll
  ruboff pattern bodice --allowance 10mm --allowance hem=25mm --svg --out svg
  ruboff pattern bodice --dxf metric --out dxf

Print at 100 % (actual size) and measure the squares and rulers of page one before anything is cut; sew a test in cheap cloth first. \
Without an allowance the line drawn is the finished edge. An outline keeps nothing of the safety of the original: children's cords, \
sleepwear and protective clothing have rules of their own, and local rules come first. Exit code 0: written; 2: the call itself \
is wrong, nothing is written.";

/// Units, as typed.
#[derive(Clone, Copy, ValueEnum)]
enum UnitsWord {
    Metric,
    English,
}

/// Which way round pages lie, as typed.
#[derive(Clone, Copy, ValueEnum)]
enum OrientationWord {
    Fewest,
    Portrait,
    Landscape,
}

/// Longest record read, bytes.
const LONGEST: u64 = 64 << 20;
/// What 100 mm may measure on a print, mm: beyond that a print dialog has scaled the page.
const PRINTED: std::ops::RangeInclusive<f64> = 95.0..=105.0;
/// Widths an allowance may have, mm.
const ALLOWANCES: std::ops::RangeInclusive<f64> = 0.0..=150.0;
/// How far a curve's points may leave it, mm: finer the file's decimals can't show, coarser is seen.
const TOLERANCES: std::ops::RangeInclusive<f64> = 0.005..=1.0;
/// Margins, and overlaps, mm.
const MARGINS: std::ops::RangeInclusive<f64> = 0.0..=60.0;

/// Runs the verb.
pub(super) fn run(call: &Call) -> ExitCode {
    match write(call) {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            say::fault(&e);
            ExitCode::from(WRONG_CALL)
        }
    }
}

/// A file to be written, and what is said of it.
struct File {
    name: String,
    bytes: Vec<u8>,
    words: String,
    facts: Value,
}

fn write(call: &Call) -> anyhow::Result<()> {
    let joining = joining(call)?;
    let names = names(call)?;
    if let Some(there) = names.iter().map(|n| call.out.join(n)).find(|f| f.exists() && !call.force) {
        bail!("{} is already there; choose another folder with --out, or say --force to write over it", there.display());
    }
    let (pattern, measured) = read(call)?;
    let mut files = made(call, &pattern, &joining)?;
    if let (Some(measured), Some(tables)) = (measured, &pattern.tables) {
        let facts = json!({"measures": tables.measures.len(), "seams": tables.seams.len()});
        let words = |n: usize, what: &str| format!("{n} {what}{}, comma-separated", if n == 1 { "" } else { "s" });
        let two = [
            ("measures.csv", measured, words(tables.measures.len(), "measure")),
            ("seams.csv", tables.seams_csv.clone(), words(tables.seams.len(), "seam")),
        ];
        files.extend(two.map(|(name, text, words)| File { name: name.into(), bytes: text.into_bytes(), words, facts: facts.clone() }));
    }
    std::fs::create_dir_all(&call.out)
        .with_context(|| format!("cannot make the folder {}; choose another with --out", call.out.display()))?;
    for f in &files {
        let path = call.out.join(&f.name);
        write_whole(&path, &f.bytes)?;
        if call.json {
            say::result(
                &json!({"result": "written", "file": path.display().to_string(), "pieces": pattern.pieces.len(), "facts": f.facts}),
            );
        } else {
            say::result(&format!("{}: {}", path.display(), f.words));
        }
    }
    pattern.left_out.iter().for_each(|words| say::note(words));
    Ok(())
}

fn joining(call: &Call) -> anyhow::Result<Joining> {
    for (what, l, most) in
        [("margin", call.margin, &MARGINS), ("overlap", call.overlap, &MARGINS), ("tolerance", call.tolerance, &TOLERANCES)]
    {
        if !most.contains(&l.mm()) {
            bail!("--{what} takes {} to {} mm, not {} mm", most.start(), most.end(), l.mm());
        }
    }
    let orientation = match call.orientation {
        OrientationWord::Fewest => Orientation::Fewest,
        OrientationWord::Portrait => Orientation::Portrait,
        OrientationWord::Landscape => Orientation::Landscape,
    };
    Ok(Joining { margin: call.margin.mm(), overlap: call.overlap.mm(), printed: call.printed.unwrap_or([100.0; 2]), orientation })
}

/// The files that are asked for.
fn names(call: &Call) -> anyhow::Result<Vec<String>> {
    let mut out: Vec<String> = Vec::new();
    out.extend(call.paper.as_ref().map(pages_name));
    out.extend(call.roll.map(|_| "pattern-roll.pdf".to_owned()));
    out.extend(call.svg.then(|| "pattern.svg".to_owned()));
    out.extend(call.dxf.map(|_| "pattern.dxf".to_owned()));
    out.extend(call.tables.then_some(["measures.csv", "seams.csv"]).into_iter().flatten().map(str::to_owned));
    if out.is_empty() {
        bail!("say what to make: --paper a4 (or letter, a3, tabloid, a size), --roll 36in, --svg, --dxf metric or --tables");
    }
    Ok(out)
}

fn pages_name(paper: &Paper) -> String {
    let plain: String = paper.name.to_lowercase().chars().filter(|c| c.is_ascii_alphanumeric() || *c == '.').collect();
    format!("pattern-{plain}.pdf")
}

fn made(call: &Call, pattern: &Pattern, joining: &Joining) -> anyhow::Result<Vec<File>> {
    let mut out = Vec::new();
    let count = pattern.pieces.len();
    let pieces = if count == 1 { "1 piece".to_owned() } else { format!("{count} pieces") };
    if let Some(paper) = &call.paper {
        let Printed { bytes, pages, front, paper: lies } = tiled(pattern, paper, joining, call.turn)?;
        let words = format!("{pieces} on {} pages of {lies}, and {front} with the list, squares and map", pages - front);
        out.push(File { name: pages_name(paper), bytes, words, facts: json!({"paper": lies, "pages": pages, "front": front}) });
    }
    if let Some(width) = call.roll {
        if !(100.0..=LONGEST_PAGE).contains(&width.mm()) {
            bail!("a roll is 100 to {LONGEST_PAGE:.0} mm wide, not {} mm", width.mm());
        }
        let Printed { bytes, pages, .. } = roll(pattern, width.mm(), joining, call.turn)?;
        let sheets = if pages == 1 { "1 sheet".to_owned() } else { format!("{pages} sheets") };
        let words = format!("{pieces} on {sheets} of a roll {} mm wide", width.mm());
        out.push(File { name: "pattern-roll.pdf".into(), bytes, words, facts: json!({"roll_mm": width.mm(), "pages": pages}) });
    }
    if call.svg {
        let bytes = pattern_svg(pattern)?.into_bytes();
        out.push(File { name: "pattern.svg".into(), bytes, words: format!("{pieces}, in mm"), facts: json!({"units": "mm"}) });
    }
    if let Some(units) = call.dxf {
        let (units, word) = match units {
            UnitsWord::Metric => (Units::Metric, "METRIC"),
            UnitsWord::English => (Units::English, "ENGLISH"),
        };
        let bytes = dxf(pattern, units, call.tolerance.mm())?.into_bytes();
        let words = format!("{pieces}, R12 entities, D6673 layers, {word}");
        out.push(File { name: "pattern.dxf".into(), bytes, words, facts: json!({"layers": "D6673", "units": word}) });
    }
    Ok(out)
}

/// Reads whichever record is there; with tables, also the measures as a table.
fn read(call: &Call) -> anyhow::Result<(Pattern, Option<String>)> {
    let file = record_file(&call.record)?;
    let about = std::fs::metadata(&file).with_context(|| format!("cannot read {}", file.display()))?;
    if about.len() > LONGEST {
        bail!("{} is far too large for a record; name another file", file.display());
    }
    let text = std::fs::read_to_string(&file).with_context(|| format!("cannot read {}", file.display()))?;
    let date = call.date.clone().unwrap_or_else(|| OffsetDateTime::now_utc().date().to_string());
    let font = call.font.as_deref().map(font).transpose()?;
    let choices = Choices { allowance: call.allowance.clone(), date, tables: None, font };
    let format = serde_json::from_str::<Value>(&text).ok().and_then(|v| Some(v.get("format")?.as_str()?.to_owned()));
    let named = |e: PatternError| anyhow!("{}: {e}", file.display());
    let (pattern, measured) = match format.as_deref() {
        Some("ruboff-garment") => {
            let record = GarmentRecord::from_text(&text).with_context(|| file.display().to_string())?;
            if let Some(files) = missing(&record) {
                say::note(&format!("{files} could not be traced: what is shown there is not in this pattern; see failed.json"));
            }
            let tables = if call.tables { Some(tables_of_garment(&record).map_err(named)?) } else { None };
            let measured = tables.is_some().then(|| measures(&record));
            let choices = Choices { tables, ..choices.clone() };
            (pattern_of_garment(&record, &choices).map_err(named)?, measured)
        }
        Some("ruboff-outline") if call.tables => {
            bail!("{} holds no measures and no seams; name the garment.json for --tables", file.display())
        }
        Some("ruboff-outline") => {
            let record = Record::from_text(&text).with_context(|| file.display().to_string())?;
            (pattern_of_outline(&record, &choices).map_err(named)?, None)
        }
        Some("ruboff-drafted") => {
            let record = DraftedRecord::from_text(&text).with_context(|| file.display().to_string())?;
            let stem = file.file_stem().unwrap_or_default().to_string_lossy();
            (pattern_of_drafted(&record, &stem, &choices).map_err(named)?, None)
        }
        _ => bail!("{} is no garment.json and no outline.json; name one that trace wrote", file.display()),
    };
    if let Some(name) = choices.unused(&pattern) {
        let mut edges: Vec<&str> =
            pattern.pieces.iter().flat_map(|p| &p.lines).map(|l| l.name.as_str()).filter(|n| !n.is_empty()).collect();
        edges.sort_unstable();
        edges.dedup();
        bail!("--allowance {name}=…: no edge is called that; there are {}", edges.join(", "));
    }
    Ok((pattern, measured))
}

/// A font of the user's own.
fn font(file: &Path) -> anyhow::Result<Font> {
    let about = std::fs::metadata(file).with_context(|| format!("cannot read the font {}", file.display()))?;
    if about.len() > LONGEST {
        bail!("{} is far too large for a font; name another file", file.display());
    }
    let bytes = std::fs::read(file).with_context(|| format!("cannot read the font {}", file.display()))?;
    Font::from_bytes(bytes).with_context(|| format!("{} can't be used", file.display()))
}

/// The record in a folder: the garment's where there is one, drafted lines where there is nothing else.
fn record_file(place: &Path) -> anyhow::Result<PathBuf> {
    if !place.is_dir() {
        return Ok(place.to_path_buf());
    }
    let each = ["garment.json", "outline.json", "drafted.json"].map(|n| place.join(n));
    let found = each.into_iter().find(|f| f.is_file());
    found.ok_or_else(|| anyhow!("there is no garment.json and no outline.json in {}; trace the pictures first", place.display()))
}

/// A day of the calendar, as typed.
fn day(text: &str) -> Result<String, String> {
    let parsed = Day::from_text(text).map_err(|_| format!("`{text}` is no day; write 1926-05-17, 1926-05 or 1926"))?;
    Ok(parsed.text().to_owned())
}

fn allowance(text: &str) -> Result<(String, f64), String> {
    let (edge, length) = text.rsplit_once('=').map_or(("all", text), |(edge, length)| (edge.trim(), length));
    let length: Length = length.parse().map_err(|e: crate::length::LengthError| e.to_string())?;
    if edge.is_empty() || !ALLOWANCES.contains(&length.mm()) {
        return Err(format!("`{text}` is no allowance; write 10mm, or hem=25mm, up to {} mm", ALLOWANCES.end()));
    }
    Ok((edge.to_owned(), length.mm()))
}

fn printed(text: &str) -> Result<[f64; 2], String> {
    let (a, b) = text
        .split_once(',')
        .ok_or_else(|| format!("`{text}` is no print's measure; write what 100 mm measured across and down: 99.2mm,99.6mm"))?;
    let read = |t: &str| t.parse::<Length>().map(Length::mm).map_err(|e| e.to_string());
    let both = [read(a)?, read(b)?];
    if both.iter().all(|v| PRINTED.contains(v)) {
        Ok(both)
    } else {
        Err(format!(
            "100 mm that measures {} or {} mm was scaled by the print dialog; print at 100 % (actual size) and measure again",
            both[0], both[1]
        ))
    }
}
