//! `ruboff trace`: the main job. Flags in, files and one line a picture out.

mod asked;
mod repeats;

use super::garments::{Garments, Written};
use super::jobs::{self, Job};
use super::layings::Traced;
use super::lenses::Lenses;
use super::outcome::Outcome;
use super::prints;
use super::typed::{Points, Same, known_place, points, same_place};
use super::{SOME_FAILED, WRONG_CALL, noted, say};
use crate::length::{Length, Mm, Px};
use crate::notes::ShotNotes;
use crate::proof::Proof;
use crate::sheet::{MeasuredPrint, SheetError};
use crate::shot::{Limits, Shot};
use crate::trace::{Flaw, JoinWanted, Line, Session, Wanted, join};
use anyhow::{Context, anyhow, bail};
use asked::{settings, sheet, shown, wanted};
use clap::{Args, ValueEnum};
use repeats::{compared, repeat, unmade};
use serde_json::json;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Instant;

/// What stands after `trace`.
#[derive(Args)]
#[command(after_help = CAUTIONS)]
pub(super) struct Call {
    /// Pictures, or folders of pictures
    #[arg(required = true, value_name = "PICTURE|FOLDER")]
    pictures: Vec<PathBuf>,
    /// Folder for the results: one folder a picture, named after it
    #[arg(long, value_name = "DIR", required_unless_present = "check_only")]
    out: Option<PathBuf>,
    /// The sheet: auto, lines, dots, crosses, checker, mat, coded (as `ruboff sheet` draws it), plain (no ruling: --at or --trust-dpi), a built-in profile's name, or a profile file
    #[arg(long, value_name = "KIND|NAME|FILE", default_value = AUTO)]
    sheet: String,
    /// Distance of neighbouring lines or marks, such as 1in or 10mm; a coded sheet tells it
    #[arg(long, alias = "squares", value_name = "LENGTH", allow_hyphen_values = true)]
    pitch: Option<Length>,
    /// Height of the traced edge above the sheet, such as 1.5mm
    #[arg(long, alias = "edge-height", value_name = "LENGTH", allow_hyphen_values = true)]
    thickness: Option<Length>,
    /// Marks laid by hand of one strong colour that cloth and sheet don't have: they are found, numbered clockwise, told, and kept out of the outline
    #[arg(long, value_enum, value_name = "KIND")]
    marks: Option<MarksWord>,
    /// Which line to follow: the outer edge, or the stitch line inside a shown allowance
    #[arg(long, value_enum, default_value = "rim")]
    line: LineWord,
    /// Width of the shown allowance, with --line seam
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    allowance: Option<Length>,
    /// A seam within the piece: its ends, and points between, in pixels of the upright picture
    #[arg(long, alias = "seam", value_name = "x,y x,y …", value_parser = points, action = clap::ArgAction::Append, allow_hyphen_values = true)]
    inner: Vec<Points>,
    /// How many pieces lie on the sheet
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=200))]
    pieces: Option<u32>,
    /// Garment notes (else garment.toml beside the picture, when there is one)
    #[arg(long, value_name = "FILE")]
    notes: Option<PathBuf>,
    /// A known place on a plain sheet: pixels of the upright picture = place in mm; four or more for a photograph, two for a scan
    #[arg(long, value_name = "x,y=mm,mm", value_parser = known_place, action = clap::ArgAction::Append, allow_hyphen_values = true)]
    at: Vec<(Px, Mm)>,
    /// Trace a scan without a ruled sheet by the resolution its file gives
    #[arg(long)]
    trust_dpi: bool,
    /// Lens profile to use, whatever the picture's tags say (else one of yours that fits the tags is taken)
    #[arg(long, value_name = "FILE")]
    lens: Option<PathBuf>,
    /// Only say, in a second, whether the picture had better be taken again, why, what it costs and what to do; writes nothing
    #[arg(long)]
    check_only: bool,
    /// With --check-only: how far the outline may be out, 0.2 mm unless given
    #[arg(long, value_name = "LENGTH", requires = "check_only")]
    accuracy: Option<Length>,
    /// Overlapping pictures of one garment on one sheet, nothing moved between them, are joined to one tracing
    #[arg(long, conflicts_with_all = ["check_only", "layings", "inner", "at", "marks"])]
    join: bool,
    /// With --join: one place seen in two of the pictures, by their numbers as named and in pixels; needed only when told so
    #[arg(long, value_name = "1:x,y=2:x,y", value_parser = same_place, action = clap::ArgAction::Append, requires = "join")]
    same: Vec<Same>,
    /// The pictures show one piece: say how far its layings lie apart (compare), draw their mean as well (mean), or the garment was not moved between them (same)
    #[arg(long, value_enum, value_name = "WORD", conflicts_with = "check_only")]
    layings: Option<LayingsWord>,
    /// Trace a piece that the picture cuts off as far as it is in view
    #[arg(long)]
    partial: bool,
    /// Threads to use at once
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=512))]
    jobs: Option<u16>,
    /// One line of JSON a picture on standard output
    #[arg(long)]
    json: bool,
    /// Folder for figures and times of each stage, and check pictures
    #[arg(long, value_name = "DIR")]
    workings: Option<PathBuf>,
    /// Say more: causes of failures, and every doubt in words
    #[arg(long)]
    verbose: bool,
}

const CAUTIONS: &str = "\
Lay the garment flat and relaxed; do not pin, tape, weight or flatten historic cloth. Old textiles may carry dust, mould or \
toxic residues: ask a conservator and follow local rules. A traced outline keeps no protective or safety property of the \
garment it was taken from.";

/// Greatest height of a traced edge above the sheet, mm: a quilted coat's rolled hem.
const THICKEST: f64 = 60.0;
/// The word that lets the picture tell the kind of sheet.
const AUTO: &str = "auto";
/// How far an outline may be out when a picture is checked and nobody says: what plain cloth allows, mm.
const ACCURACY: f64 = 0.2;

/// What came of a picture.
enum Done {
    Traced(Box<Outcome>),
    Checked(Vec<Flaw>),
}

impl Call {
    /// Where results go; nowhere for a check.
    fn out(&self) -> &Path {
        self.out.as_deref().unwrap_or(Path::new(""))
    }
}

/// Which line, as typed.
#[derive(Clone, Copy, ValueEnum)]
enum LineWord {
    Rim,
    Seam,
}

/// What is asked of several pictures of one piece, as typed.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum LayingsWord {
    /// Laid anew for each picture
    Compare,
    /// Laid anew for each picture; their mean is drawn too
    Mean,
    /// Not moved between the pictures
    Same,
}

/// What was laid as marks, as typed.
#[derive(Clone, Copy, ValueEnum)]
enum MarksWord {
    /// Round stickers
    Stickers,
    /// Round heads of pins
    Pins,
    /// Slim triangles of paper beside the garment, pointing at it
    Pointers,
}

/// Runs the verb.
pub(super) fn run(call: &Call) -> ExitCode {
    let (jobs, mut garments, kept) = match ready(call) {
        Ok(ready) => ready,
        Err(e) => {
            say::fault(&e);
            return ExitCode::from(WRONG_CALL);
        }
    };
    let mut failed = 0;
    let mut repeats: Vec<Traced> = Vec::new();
    for job in &jobs {
        let name = job.name();
        // A fault of our own must cost one picture, not the run, and must not look like one of the person's.
        let done = say::quietly(|| catch_unwind(AssertUnwindSafe(|| trace_one(call, job, &kept))));
        let done = done.unwrap_or_else(|_| Err(anyhow!("an internal fault stopped the work; please report it with the picture")));
        match done {
            Ok(Done::Traced(outcome)) => {
                say::traced(&name, &job.folder, &outcome.tracing, call.json, call.verbose);
                if call.layings.is_some() {
                    repeats.push(repeat(call, job, &outcome));
                }
                failed += usize::from(!joined(call, garments.take(job, Ok(*outcome))));
            }
            Ok(Done::Checked(flaws)) => {
                failed += usize::from(!flaws.is_empty());
                say::checked(&name, &flaws, call.json);
            }
            Err(e) => {
                failed += 1;
                let told = say::failed(&name, &e, call.json, call.verbose);
                joined(call, garments.take(job, Err(told)));
            }
        }
    }
    if let Some(word) = call.layings.filter(|_| repeats.len() > 1 || failed == 0) {
        failed += usize::from(!compared(call, word, &mut repeats));
    }
    if failed > 0 { ExitCode::from(SOME_FAILED) } else { ExitCode::SUCCESS }
}

/// Tells of a garment's record that was written; false when it could not be.
fn joined(call: &Call, written: anyhow::Result<Option<Written>>) -> bool {
    match written {
        Ok(Some(written)) => {
            say::joined(&written.record, &written.file, call.json);
            return written.lost.is_empty();
        }
        Ok(None) => {}
        Err(e) => {
            say::fault(&e);
            return false;
        }
    }
    true
}

/// The pictures, the garments they are of, and what was solved and measured before.
fn ready(call: &Call) -> anyhow::Result<(Vec<Job>, Garments, Kept)> {
    let jobs = prepare(call)?;
    let garments = Garments::among(if call.check_only { &[] } else { &jobs }, call.notes.as_deref(), call.json);
    garments.apart()?;
    if call.layings.is_none() {
        unmade(call, &jobs);
    }
    Ok((jobs, garments, Kept { lenses: Lenses::gather(call.lens.as_deref())?, prints: prints::gather() }))
}

/// Checks the call as a whole before any picture is opened.
fn prepare(call: &Call) -> anyhow::Result<Vec<Job>> {
    let jobs = jobs::list(&call.pictures, call.out())?;
    let pictures = jobs.len();
    let jobs = if call.join { jobs::as_one(jobs) } else { jobs::grouped(jobs, |job| noted::together(call.notes.as_deref(), job)) };
    if call.join && pictures < 2 {
        bail!("--join makes one tracing of several overlapping pictures and one is named; name all of them in one call");
    }
    if let Some(out) = call.same.iter().flatten().map(|s| s.0).find(|k| *k >= pictures) {
        bail!("--same speaks of picture {} and {pictures} are named; count them in the order of the call, from 1", out + 1);
    }
    if !call.check_only {
        jobs::apart(&jobs)?;
    }
    match sheet(&call.sheet, call.pitch, call.trust_dpi || !call.at.is_empty()) {
        // The notes of each picture may still tell.
        Err(SheetError::NoPitch) if jobs.iter().any(|job| noted::file(call.notes.as_deref(), job).is_some()) => {}
        sheet => drop(sheet?),
    }
    // The notes of each picture may still tell.
    if call.allowance.is_some() || !jobs.iter().any(|job| noted::file(call.notes.as_deref(), job).is_some()) {
        shown(call, None)?;
    }
    if matches!(call.line, LineWord::Rim) && call.allowance.is_some() {
        bail!("--allowance says where a stitch line runs and is used with --line seam only; say both or neither");
    }
    if let Some(t) = call.thickness.filter(|t| t.mm() > THICKEST) {
        bail!(
            "{:.0} mm is too high for the edge of cloth above its sheet; give the height of the traced edge itself, such as 1.5mm",
            t.mm()
        );
    }
    if call.accuracy.is_some_and(|a| !(0.01..=100.0).contains(&a.mm())) {
        bail!("--accuracy is how far an outline may be out and lies between 0.01 mm and 100 mm, like --accuracy 0.5mm");
    }
    if jobs.is_empty() {
        bail!("no picture (JPEG, PNG, TIFF, WebP) in the folders given; name a picture or another folder");
    }
    if let Some(notes) = &call.notes {
        std::fs::File::open(notes).with_context(|| format!("cannot read the notes {}", notes.display()))?;
    }
    for dir in call.out.iter().chain(&call.workings) {
        jobs::place_for(dir).with_context(|| format!("cannot make the folder {}", dir.display()))?;
    }
    if jobs.len() < 2 && call.layings.is_some() {
        bail!("--layings compares several pictures of one piece and one is named; name all of them in one call");
    }
    if jobs.len() > 1 && !call.at.is_empty() {
        bail!("--at gives places in one picture and {} are named; trace one picture at a time with it, or write them in notes", jobs.len());
    }
    if jobs.len() > 1 && !call.inner.is_empty() {
        bail!("--inner gives places in one picture and {} are named; trace one picture at a time with it", jobs.len());
    }
    if let Some(threads) = call.jobs {
        rayon::ThreadPoolBuilder::new().num_threads(usize::from(threads)).build_global().context("cannot start that many threads")?;
    }
    Ok(jobs)
}

/// What was solved and measured before.
struct Kept {
    lenses: Lenses,
    prints: Vec<MeasuredPrint>,
}

/// Where a picture's figures and check pictures go.
fn proof(call: &Call, job: &Job) -> anyhow::Result<Proof> {
    let Some(dir) = &call.workings else { return Ok(Proof::off()) };
    let dir = dir.join(job.folder.file_name().unwrap_or_default());
    std::fs::create_dir_all(&dir).with_context(|| format!("cannot make the folder {}", dir.display()))?;
    Ok(Proof::into_dir(&dir))
}

/// Several pictures joined, from files to files.
fn trace_joined(call: &Call, job: &Job, kept: &Kept) -> anyhow::Result<Done> {
    let mut proof = proof(call, job)?;
    let asked = wanted(call, job)?;
    if asked.line == Line::Seam {
        bail!(
            "a stitch line inside a shown allowance is not followed in joined pictures; trace their outer edge, or one picture at a time"
        );
    }
    let notes = asked.notes.clone();
    let within = notes.edges.iter().any(|e| e.line.is_some_and(|l| l != crate::notes::Line::Rim));
    if within || !(notes.inner.is_empty() && notes.regions.is_empty() && notes.through.is_empty() && notes.marks.is_empty()) {
        bail!(
            "marks, regions, through-points and seams or folds within are not followed in joined pictures; leave them out of this [[shot]]"
        );
    }
    let mut sessions = Vec::new();
    for picture in std::iter::once(&job.picture).chain(&job.more) {
        let name = picture.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let shot = Shot::open(picture, &Limits::default()).with_context(|| name)?;
        let wanted = Wanted { lens: kept.lenses.of(&shot), prints: kept.prints.clone(), notes: ShotNotes::default(), ..asked.clone() };
        sessions.push(Session::new(shot, wanted));
    }
    let mut settings = settings(call, &asked);
    settings.insert("joined".into(), json!(sessions.len()));
    let same = if call.same.is_empty() { notes.same.clone() } else { call.same.clone() };
    let whole = JoinWanted { pieces: asked.pieces, partial: asked.partial, same, notes };
    let traced = join(&mut sessions, &whole, &mut proof);
    let written = traced.map_err(anyhow::Error::from).and_then(|tracing| {
        let outcome = Outcome::of(tracing, settings, call.notes.as_deref(), job)?;
        outcome.write(&sessions.iter().map(|s| &s.shot).collect::<Vec<_>>(), &job.folder)?;
        Ok(Done::Traced(Box::new(outcome)))
    });
    proof.finish().context("cannot write the workings; choose another folder with --workings")?;
    written
}

/// One picture, from file to files.
fn trace_one(call: &Call, job: &Job, kept: &Kept) -> anyhow::Result<Done> {
    if !job.more.is_empty() {
        if call.check_only {
            bail!("pictures that are joined are checked one at a time; name one of them with --check-only and without its notes");
        }
        return trace_joined(call, job, kept);
    }
    let start = Instant::now();
    let shot = Shot::open(&job.picture, &Limits::default())?;
    let decoded = start.elapsed();
    let wanted = Wanted { lens: kept.lenses.of(&shot), prints: kept.prints.clone(), ..wanted(call, job)? };
    let mut proof = proof(call, job)?;
    proof.time("shot", decoded);
    let settings = settings(call, &wanted);
    let mut session = Session::new(shot, wanted);
    if call.check_only {
        let flaws = session.check(call.accuracy.map_or(ACCURACY, Length::mm), &mut proof);
        proof.finish().context("cannot write the workings; choose another folder with --workings")?;
        return Ok(Done::Checked(flaws?));
    }
    let traced = session.run(&mut proof);
    let written = traced.map_err(anyhow::Error::from).and_then(|tracing| {
        let start = Instant::now();
        let outcome = Outcome::of(tracing, settings, call.notes.as_deref(), job)?;
        outcome.write(&[&session.shot], &job.folder)?;
        proof.time("write", start.elapsed());
        Ok(Done::Traced(Box::new(outcome)))
    });
    // What the stages left is worth most when one of them failed.
    proof.finish().context("cannot write the workings; choose another folder with --workings")?;
    written
}
