//! `ruboff trace`: the main job. Flags in, files and one line a picture out.

mod archive;
mod one;
mod planned;
mod ready;
mod repeats;
mod talk;

use super::typed::{Bytes, Points, Same, bytes, known_place, points, same_place};
use super::{SOME_FAILED, WRONG_CALL, say};
use crate::length::{Length, Mm, Px};
use crate::notes::{self, MarkKind};
use crate::wardrobe::{AUTO, Keeping, Room, Run, Task, Terms, Traced, Unit, gather, keep_call, run as run_over, usable};
use anyhow::{Context, anyhow};
use clap::{Args, ValueEnum};
use one::{Came, Done};
use ready::{Ready, ready};
use repeats::{compared, repeat};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::{Mutex, PoisonError};
use talk::Talk;

/// What stands after `trace`.
#[derive(Args)]
#[command(after_help = CAUTIONS)]
pub(super) struct Call {
    /// Pictures, or folders of pictures
    #[arg(required = true, value_name = "PICTURE|FOLDER")]
    pictures: Vec<PathBuf>,
    /// Folder for the results: one folder a picture, named after it
    #[arg(long, value_name = "DIR", required_unless_present_any = ["check_only", "list"])]
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
    /// Which line to follow: the outer edge (unless the notes say seam), or the stitch line inside a shown allowance
    #[arg(long, value_enum)]
    line: Option<LineWord>,
    /// Width of the shown allowance, with --line seam
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    allowance: Option<Length>,
    /// A seam within the piece: its ends, and points between, in pixels of the upright picture
    #[arg(long, alias = "seam", value_name = "x,y x,y …", value_parser = points, action = clap::ArgAction::Append, allow_hyphen_values = true)]
    inner: Vec<Points>,
    /// How many pieces lie on the sheet
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=200))]
    pieces: Option<u32>,
    /// What lies between sheet and garment, larger than that, so that its edge is not taken for the cloth's
    #[arg(long, value_enum, value_name = "WHAT")]
    under: Option<UnderWord>,
    /// A picture of the bare sheet, tissue and all, taken from the same place before the garment was laid on it
    #[arg(long, value_name = "PICTURE", conflicts_with_all = ["join", "layings"])]
    bare: Option<PathBuf>,
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
    /// Threads to use at once; one for each core unless given
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=512))]
    jobs: Option<u16>,
    /// Memory that pictures traced at once may take together, such as 2GB; most of what is free unless given
    #[arg(long, value_name = "SIZE", value_parser = bytes)]
    memory: Option<Bytes>,
    /// Trace again what was traced before and has not changed
    #[arg(long, conflicts_with = "check_only")]
    anew: bool,
    /// Only say what would be traced, and why; writes nothing
    #[arg(long, conflicts_with_all = ["check_only", "list"])]
    dry_run: bool,
    /// Only list the units of work, garments and pictures alone, by their ids
    #[arg(long, conflicts_with_all = ["check_only", "layings", "join"])]
    list: bool,
    /// Do one unit of work, as --list names it; may be said several times
    #[arg(long, value_name = "ID", action = clap::ArgAction::Append, conflicts_with_all = ["list", "layings", "join"])]
    only: Vec<String>,
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
Examples:
  ruboff trace front.jpg --out traced                      on a coded sheet
  ruboff trace front.jpg --pitch 1in --thickness 1.5mm --out traced
  ruboff trace inside.jpg --pitch 1in --line seam --allowance 1/4in --out traced
  ruboff trace top.jpg hem.jpg --join --out traced         one long garment
  ruboff trace scans --pitch 10mm --out traced --memory 2GB --json
  ruboff trace wardrobe --out traced --dry-run             what would be done
  ruboff trace front.jpg --pitch 1in --check-only          good enough to keep?

Lay the garment flat and relaxed; do not pin, tape, weight or flatten historic cloth. Old textiles may carry dust, mould or \
toxic residues: ask a conservator and follow local rules. A traced outline keeps no protective or safety property of the \
garment it was taken from.";

/// How far an outline may be out when a picture is checked and nobody says: what plain cloth allows, mm.
const ACCURACY: f64 = 0.2;

impl Call {
    /// Where results go; nowhere for a check.
    fn out(&self) -> &Path {
        self.out.as_deref().unwrap_or(Path::new(""))
    }

    /// What it asks of every picture.
    fn terms(&self) -> Terms {
        Terms {
            sheet: self.sheet.clone(),
            pitch: self.pitch,
            thickness: self.thickness,
            marks: self.marks.map(|m| match m {
                MarksWord::Stickers => MarkKind::Stickers,
                MarksWord::Pins => MarkKind::Pins,
                MarksWord::Pointers => MarkKind::Pointers,
            }),
            line: self.line.map(|l| match l {
                LineWord::Rim => notes::Line::Rim,
                LineWord::Seam => notes::Line::Seam,
            }),
            allowance: self.allowance,
            inner: self.inner.iter().map(|p| p.0.clone()).collect(),
            pieces: self.pieces,
            under: self.under.map(|u| u.word().into()),
            bare: self.bare.clone(),
            notes: self.notes.clone(),
            at: self.at.clone(),
            trust_dpi: self.trust_dpi,
            lens: self.lens.clone(),
            same: self.same.clone(),
            join: self.join,
            partial: self.partial,
        }
    }

    /// Whether what was done before is looked for: workings are wanted of work that is done.
    fn looks_back(&self) -> bool {
        !self.anew && self.workings.is_none()
    }
}

/// Which line, as typed.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum LineWord {
    Rim,
    Seam,
}

/// What lies under the garment, as typed.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum UnderWord {
    /// Tissue paper, through which the ruling is seen
    Tissue,
    /// Clear film
    Film,
}

impl UnderWord {
    fn word(self) -> &'static str {
        match self {
            Self::Tissue => "tissue",
            Self::Film => "film",
        }
    }
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

/// Memory for a run where neither person nor system says, bytes.
const MEMORY: u64 = 2_000_000_000;

/// Runs the verb.
pub(super) fn run(call: &Call) -> ExitCode {
    let failed = ready(call).and_then(|ready| {
        if call.list {
            planned::list(&ready, call.json);
            return Ok(0);
        }
        if call.dry_run {
            planned::tell(call, &ready);
            return Ok(0);
        }
        say::quietly(|| trace(call, &ready))
    });
    match failed {
        Ok(0) => ExitCode::SUCCESS,
        Ok(_) => ExitCode::from(SOME_FAILED),
        Err(e) => {
            say::fault(&e);
            ExitCode::from(WRONG_CALL)
        }
    }
}

/// Traces all that is to be traced; gives how much of it failed.
fn trace(call: &Call, ready: &Ready) -> anyhow::Result<usize> {
    let keeping = match ready.archive {
        true => Some(Keeping::at(call.out()).with_context(|| format!("cannot write in the folder {}", call.out().display()))?),
        false => None,
    };
    if ready.archive {
        keep_call(call.out(), &call.pictures, &ready.terms)?;
    }
    let threads = call.jobs.map(usize::from).or_else(|| std::thread::available_parallelism().ok().map(Into::into)).unwrap_or(1);
    let room = Room::new(call.memory.map(|m| m.0).or_else(usable).unwrap_or(MEMORY));
    let talk = Talk::new(call, ready.pictures());
    ready.left_out.iter().for_each(|l| talk.left_out(l));
    let repeats: Mutex<Vec<Traced>> = Mutex::default();
    let work = Work { call, ready, room: &room, keeping: keeping.as_ref(), talk: &talk, repeats: &repeats };
    let run = Run { units: &ready.units, threads, keeping: keeping.as_ref() };
    run_over(run, |task| work.picture(&task), |unit, came| work.unit(unit, came)).context("cannot start that many threads")?;
    let lost = talk.end();
    // A call that fails leaves nothing behind.
    if !ready.archive && !call.check_only && lost < ready.pictures() {
        keep_call(call.out(), &call.pictures, &ready.terms)?;
    }
    let mut failed = lost + ready.left_out.iter().filter(|l| l.lost).count();
    let mut repeats = repeats.into_inner().unwrap_or_else(PoisonError::into_inner);
    if let Some(word) = call.layings.filter(|_| repeats.len() > 1 || failed == 0) {
        let place = |t: &Traced| ready.units.iter().flat_map(|u| &u.jobs).position(|j| j.folder == t.folder);
        repeats.sort_by_key(place);
        failed += usize::from(!compared(call, word, &mut repeats));
    }
    if ready.archive {
        failed += usize::from(!archive::told(call, ready));
    }
    Ok(failed)
}

/// A run, as its threads see it.
struct Work<'a> {
    call: &'a Call,
    ready: &'a Ready,
    room: &'a Room,
    keeping: Option<&'a Keeping>,
    talk: &'a Talk,
    repeats: &'a Mutex<Vec<Traced>>,
}

impl Work<'_> {
    /// One picture, told of as soon as it is done.
    fn picture(&self, task: &Task) -> Came {
        // A fault of our own must cost one picture, not the run, and must not look like one of the person's.
        let done = catch_unwind(AssertUnwindSafe(|| one::one(self, task)));
        let done = done.unwrap_or_else(|_| Err(anyhow!("an internal fault stopped the work; please report it with the picture")));
        if let (Some(_), Ok(Done::Traced(outcome, _))) = (self.call.layings, &done) {
            self.repeats.lock().unwrap_or_else(PoisonError::into_inner).push(repeat(self.call, task.job, outcome));
        }
        self.talk.done(task.job, done)
    }

    /// A garment, once all of its pictures are done.
    fn unit(&self, unit: &Unit, came: Vec<Came>) {
        if self.call.check_only || unit.notes.is_none() {
            return;
        }
        let work = || Ok(gather(unit, came.into_iter().filter_map(Came::outcome).collect())?);
        let written = catch_unwind(AssertUnwindSafe(work));
        let fault = || Err(anyhow!("an internal fault stopped the work on the record of {}; please report it with its notes", unit.id));
        self.talk.garment(written.unwrap_or_else(|_| fault()));
    }
}
