//! `ruboff sheet`: a coded sheet to print; with `--measured`, what a tape says of a print.

use super::measured::{self, Diagonals, Reading};
use super::{WRONG_CALL, say};
use crate::length::Length;
use crate::sheet::paper::{short, sides};
use crate::sheet::{LONGEST_PAGE, Paper, SheetPlan, called};
use crate::write::sheet::{Ground, ROLL_MARGIN, sheet_roll, sheet_svg, sheet_tiled, surround};
use crate::write::write_whole;
use anyhow::{Context, anyhow, bail};
use clap::{Args, ValueEnum};
use serde_json::{Value, json};
use std::path::PathBuf;
use std::process::ExitCode;

/// What stands after `sheet`.
#[derive(Args)]
#[command(after_help = HOW)]
pub(super) struct Call {
    /// Number of the sheet, 1 to 400: which one it is in pictures, and what its measured print is kept under
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub number: u32,
    /// Distance of neighbouring lines, such as 25mm or 1in
    #[arg(long, alias = "squares", value_name = "LENGTH", default_value = "25mm", allow_hyphen_values = true)]
    pub pitch: Length,
    /// From the first line to the last, across and down, rounded to whole squares; 900x1200mm unless given, or what a roll has room for
    #[arg(long, value_name = "WxH", value_parser = size, allow_hyphen_values = true)]
    pub size: Option<[Length; 2]>,
    /// Folder for the files; with --measured the file for the measurement (else one in your folder of prints, which `trace` looks through)
    #[arg(long, value_name = "DIR|FILE")]
    pub out: Option<PathBuf>,
    /// A PDF of pages to be joined: a4, letter, a3, tabloid, or a size like 330x483mm or 13x19in
    #[arg(long, value_name = "SIZE", conflicts_with = "measured")]
    paper: Option<Paper>,
    /// A PDF of one page for a roll of this width, such as 36in or 1067mm
    #[arg(long, value_name = "WIDTH", conflicts_with = "measured", allow_hyphen_values = true)]
    roll: Option<Length>,
    /// An SVG in mm
    #[arg(long, conflicts_with = "measured")]
    svg: bool,
    /// What cloth lies on: a pale tint, or white paper, which saves ink and tells white cloth less surely
    #[arg(long, value_enum, default_value_t = GroundWord::Tint, conflicts_with = "measured")]
    ground: GroundWord,
    /// Keep what a tape says of a print of this sheet: --across and --down, better with --diagonals
    #[arg(long, requires_all = ["across", "down"])]
    pub measured: bool,
    /// The long ruler across as read between its end marks, in mm or inches
    #[arg(long, value_name = "LENGTH", requires = "measured", allow_hyphen_values = true)]
    pub across: Option<Reading>,
    /// The long ruler down, likewise
    #[arg(long, value_name = "LENGTH", requires = "measured", allow_hyphen_values = true)]
    pub down: Option<Reading>,
    /// Both diagonals between the outermost corners of the squares, the one from the upper left corner first
    #[arg(long, value_name = "LENGTH, LENGTH", requires = "measured", allow_hyphen_values = true)]
    pub diagonals: Option<Diagonals>,
    /// What the 100 mm square measures
    #[arg(long, value_name = "LENGTH", requires = "measured", allow_hyphen_values = true)]
    pub square: Option<Length>,
    /// Standard error of a reading; 0.5 mm unless given, 1/32 in where a ruler was read in inches
    #[arg(long, value_name = "LENGTH", requires = "measured", allow_hyphen_values = true)]
    pub reading_error: Option<Length>,
    /// The day it was measured, such as 1926-05-17; today unless given
    #[arg(long, value_name = "DAY", requires = "measured")]
    pub date: Option<String>,
    /// Who measured it
    #[arg(long, value_name = "NAME", requires = "measured")]
    pub by: Option<String>,
    /// Write over files that are already there
    #[arg(long)]
    pub force: bool,
    /// One line of JSON a file on standard output
    #[arg(long)]
    pub json: bool,
}

const HOW: &str = "\
Examples:
  ruboff sheet --paper a4 --out sheet     900 x 1200 mm of A4 pages to join
  ruboff sheet --roll 36in --pitch 1in --out sheet
  ruboff sheet --number 2 --size 600x400mm --svg --out sheet
  ruboff sheet --measured --across 899.2mm --down 1200.6mm

Print at 100 % (actual size), measure the squares of page one, join the pages, then tape both long rulers and both diagonals and say \
--measured: paper and printers are out by 0.1 to 0.5 %, differently across and down. `ruboff trace` takes the measurement by itself for every \
picture of that sheet and says so; prints are kept in ~/.local/share/ruboff/prints, or in the folder that the variable RUBOFF_PRINTS names, and \
in calibration/prints where you stand. Exit code 0: written; 2: the call itself is wrong, nothing is written.";

/// Usual size of a sheet, mm: a table's width, and longer than most coats.
const USUAL: [f64; 2] = [900.0, 1200.0];
/// Widths of a roll, mm.
const ROLLS: std::ops::RangeInclusive<f64> = 200.0..=LONGEST_PAGE;

/// Grounds, as typed.
#[derive(Clone, Copy, ValueEnum)]
enum GroundWord {
    Tint,
    White,
}

/// Runs the verb.
pub(super) fn run(call: &Call) -> ExitCode {
    let done = if call.measured { measured::keep(call) } else { draw(call) };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            say::fault(&e);
            ExitCode::from(WRONG_CALL)
        }
    }
}

/// The sheet that a call means, when nothing but its words says how large.
pub(super) fn plan(call: &Call, size: [Length; 2]) -> anyhow::Result<SheetPlan> {
    Ok(SheetPlan::new(call.number, call.pitch, call.size.unwrap_or(size))?)
}

/// The usual size.
pub(super) fn usual() -> [Length; 2] {
    USUAL.map(Length::from_mm)
}

/// A file to be written, and what is said of it.
struct File {
    name: String,
    bytes: Vec<u8>,
    words: String,
    facts: Value,
}

fn draw(call: &Call) -> anyhow::Result<()> {
    let out = call.out.as_ref().ok_or_else(|| anyhow!("say where the files go, with --out DIR"))?;
    let files = made(call)?;
    if files.is_empty() {
        bail!("say what to make: --paper a4 (or letter, a3, tabloid, a size), --roll 36in or --svg");
    }
    if let Some(there) = files.iter().map(|f| out.join(&f.name)).find(|f| f.exists() && !call.force) {
        bail!("{} is already there; choose another folder with --out, or say --force to write over it", there.display());
    }
    std::fs::create_dir_all(out).with_context(|| format!("cannot make the folder {}; choose another with --out", out.display()))?;
    for f in &files {
        let path = out.join(&f.name);
        write_whole(&path, &f.bytes)?;
        if call.json {
            say::result(&json!({"result": "written", "file": path.display().to_string(), "facts": f.facts}));
        } else {
            say::result(&format!("{}: {}", path.display(), f.words));
        }
    }
    if matches!(call.ground, GroundWord::White) {
        say::note("white ground: white cloth hardly stands out from it, and its edge is told less surely; the tint is for all cloths");
    }
    Ok(())
}

fn made(call: &Call) -> anyhow::Result<Vec<File>> {
    let ground = match call.ground {
        GroundWord::Tint => Ground::Tint,
        GroundWord::White => Ground::White,
    };
    let mut out = Vec::new();
    let name = |plan: &SheetPlan, what: &str| {
        let pitch: String = called(plan.code.pitch()).replace(' ', "").replace('/', "-");
        format!("sheet-{}-{pitch}{what}", plan.code.number)
    };
    let facts = |plan: &SheetPlan, more: Value| json!({"number": plan.code.number, "pitch_mm": plan.pitch(), "squares": plan.squares, "size_mm": plan.size(), "made": more});
    if let Some(paper) = &call.paper {
        let plan = plan(call, usual())?;
        let print = sheet_tiled(&plan, paper, ground)?;
        let [columns, rows] = print.size;
        let words = format!(
            "{}, on {} pages of {} ({rows} rows of {columns}), after {} on how to",
            plan.words(),
            rows * columns,
            paper.name,
            print.front
        );
        let plain: String = paper.name.to_lowercase().chars().filter(|c| c.is_ascii_alphanumeric() || *c == '.').collect();
        let more = json!({"paper": paper.name, "columns": columns, "rows": rows, "front": print.front});
        out.push(File { name: name(&plan, &format!("-{plain}.pdf")), bytes: print.bytes, words, facts: facts(&plan, more) });
    }
    if let Some(width) = call.roll.map(Length::mm) {
        if !ROLLS.contains(&width) {
            bail!("a roll is {} to {} mm wide, not {width} mm", ROLLS.start(), ROLLS.end());
        }
        let plan = on_roll(call, width)?;
        let bytes = sheet_roll(&plan, width, ground)?;
        let words = format!("{}, on a roll {} mm wide", plan.words(), short(width));
        out.push(File { name: name(&plan, "-roll.pdf"), bytes, words, facts: facts(&plan, json!({"roll_mm": width})) });
    }
    if call.svg {
        let plan = plan(call, usual())?;
        let bytes = sheet_svg(&plan, ground).into_bytes();
        out.push(File {
            name: name(&plan, ".svg"),
            bytes,
            words: format!("{}, in mm", plan.words()),
            facts: facts(&plan, json!({"units": "mm"})),
        });
    }
    Ok(out)
}

/// The sheet asked for, or the usual one as wide as the roll has room for.
fn on_roll(call: &Call, width: f64) -> anyhow::Result<SheetPlan> {
    let whole = plan(call, usual())?;
    let room = width - 2.0 * ROLL_MARGIN - surround(call.pitch.mm());
    if call.size.is_some() || whole.size()[0] <= room {
        return Ok(whole);
    }
    let squares = [(room / call.pitch.mm() + 1e-9).floor().max(0.0) as usize, whole.squares[1]];
    Ok(SheetPlan::of_squares(call.number, call.pitch, squares)?)
}

fn size(text: &str) -> Result<[Length; 2], String> {
    sides(text).ok_or_else(|| format!("`{text}` is no size of a sheet; write it like 900x1200mm or 36x48in"))
}
