//! `ruboff true`: every join of a garment walked, and what a cutter checks before the cloth is cut.

use super::garment::{self, Known};
use super::{SOME_FAILED, WRONG_CALL, say};
use crate::piece::{Check, Joined, NotWalked, Outcome, Piece, Rough, SharedOut, Verdict, checks, joins, rough, shared};
use crate::write::{drafted_text, write_whole};
use anyhow::bail;
use clap::Args;
use serde_json::{Value, json};
use std::path::PathBuf;
use std::process::ExitCode;

/// What stands after `true`.
#[derive(Args)]
#[command(after_help = HOW)]
pub(super) struct Call {
    /// A garment's folder, its garment.toml, or a record by itself: garment.json, outline.json, drafted.json
    #[arg(value_name = "FOLDER|FILE")]
    garment: PathBuf,
    /// Garment notes elsewhere
    #[arg(long, value_name = "FILE")]
    notes: Option<PathBuf>,
    /// Folder of the outlines that `trace` wrote, when it is another
    #[arg(long, value_name = "FOLDER")]
    outlines: Option<PathBuf>,
    /// All checks of a cutter as one page in plain words
    #[arg(long)]
    before_cutting: bool,
    /// Share small differences (up to 1/4 in) between the two pieces, notches with them, and say by how much each moved; the records stay as they are
    #[arg(long)]
    share: bool,
    /// Where the shared lines are kept, with what was changed (with --share)
    #[arg(long, value_name = "FILE", requires = "share")]
    out: Option<PathBuf>,
    /// Write over a file that is already there
    #[arg(long, requires = "out")]
    force: bool,
    /// One line of JSON a join and a check on standard output
    #[arg(long)]
    json: bool,
}

const HOW: &str = "\
Examples:
  ruboff true bodice                      every join of the notes, walked
  ruboff true bodice --before-cutting     a cutter's checks as one page
  ruboff true bodice --share --out shared.json
  ruboff true archive/bodice/garment.json    from the record alone, years after

Joins stand in the notes: [[join]] with edges = [\"front: side left\", \"back: side left\"], where wanted ease = \"12 mm\" (how much longer \
the first is) and tolerance = \"2 mm\"; several edges in a row are written \"front: armhole left + back: armhole left\". Without a \
tolerance 1/16 in is assumed, without ease none, of a sleeve's cap up to 50 mm. Pieces are drafted as the notes ask and walked with darts \
closed and pleats laid; edges that nobody named have the names their shape proposes. It warns and never alters. Exit code 0: all \
is true; 1: something is to be looked at; 2: the call itself is wrong.";

/// Lines that run on across a seam are told when they do so within this, degrees; beyond it a point is meant.
const SAID: f64 = 30.0;
/// Points and dents of less than this, degrees, are told in one line.
const SLIGHT: f64 = 10.0;

/// Runs the verb.
pub(super) fn run(call: &Call) -> ExitCode {
    match done(call) {
        Err(e) => {
            say::fault(&e);
            ExitCode::from(WRONG_CALL)
        }
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::from(SOME_FAILED),
    }
}

/// Whether all is as it should be.
fn done(call: &Call) -> anyhow::Result<bool> {
    let mut known = garment::open(&call.garment, call.notes.as_deref(), call.outlines.as_deref())?;
    if let Some(file) = call.out.as_ref().filter(|f| f.exists() && !call.force) {
        bail!("{} is already there; choose another file with --out, or say --force to write over it", file.display());
    }
    known.said.iter().for_each(|what| say::note(what));
    let mut walked = joins(&known.notes, &known.pieces);
    if walked.is_empty() && !call.before_cutting {
        bail!("the notes name no joins; write [[join]] with edges = [\"front: side left\", \"back: side left\"]");
    }
    if call.share {
        let told = share(&mut known, &walked);
        if told.is_empty() {
            say::note("nothing was shared: no seam is off by little enough");
        }
        for line in told {
            if call.json { say::result(&json!({"result": "shared", "say": line})) } else { say::result(&line) }
        }
        walked = joins(&known.notes, &known.pieces);
        if let Some(file) = &call.out {
            write_whole(file, drafted_text(&known.pieces.iter().collect::<Vec<_>>(), &known.written).as_bytes())?;
            say::note(&format!("{}: the lines as drafted", file.display()));
        }
    }
    let checks = checks(&known.notes, &known.pieces, &walked);
    if call.before_cutting {
        page(call, &known, &checks);
        return Ok(checks.iter().all(|c| c.outcome != Outcome::Look));
    }
    walked.iter().for_each(|j| tell(call.json, j));
    if !call.json {
        across_seams(&walked.iter().flatten().collect::<Vec<_>>());
    }
    Ok(walked.iter().all(|j| j.as_ref().is_ok_and(Joined::good)))
}

/// Shares what is off between the two pieces of each join, and says what moved.
fn share(known: &mut Known, walked: &[Result<Joined, NotWalked>]) -> Vec<String> {
    let mut pieces: Vec<&mut Piece> = known.pieces.iter_mut().collect();
    let told = shared(&known.notes, &mut pieces, walked);
    told.iter().map(|one| one.as_ref().map_or_else(ToString::to_string, words)).collect()
}

fn words(shared: &SharedOut) -> String {
    let moved = shared.moved.each_ref().map(|m| {
        let notches = m.notch_moved.map_or(String::new(), |far| format!(" and its notches up to {far:.2} mm"));
        let half = if m.both_sides { " on either side of the fold" } else { "" };
        let others: Vec<String> = m.others.iter().map(|(name, [from, to])| format!("{name} from {from:.1} to {to:.1} mm")).collect();
        let others = if others.is_empty() { String::new() } else { format!(", which changes {}", others.join(" and ")) };
        let lopsided = m
            .other_side
            .as_ref()
            .map_or(String::new(), |other| format!(" (its {other} does not change alike: {} is no longer alike on both sides)", m.piece));
        format!(
            "{} of {} {:+.2} mm{half}, its corner {} moved {:.2} mm{notches}{others}{lopsided}",
            m.edge, m.piece, m.by, m.corner, m.corner_moved
        )
    });
    format!("{} to {}: {:.2} mm shared; {}", shared.sides[0], shared.sides[1], shared.off, moved.join("; "))
}

fn tell(as_json: bool, join: &Result<Joined, NotWalked>) {
    match join {
        Err(e) if as_json => say::result(&json!({"result": "not walked", "join": e.join, "say": e.why})),
        Err(e) => say::result(&format!("{e}")),
        Ok(j) if as_json => say::result(&record(j)),
        Ok(j) => lines(j).iter().for_each(|l| say::result(l)),
    }
}

fn record(j: &Joined) -> Value {
    // Nothing is never less than nothing.
    let round = |v: f64| (v * 100.0).round() / 100.0 + 0.0;
    let verdict = match j.verdict {
        Verdict::True => "true",
        Verdict::Off => "off",
        Verdict::Ease => "ease",
        Verdict::Stretch => "stretch",
        Verdict::Loose => "loose",
    };
    json!({
        "result": if j.good() { "true" } else { "look" }, "join": j.sides, "lengths_mm": j.walked.lengths.map(round),
        "difference_mm": round(j.difference()), "known_to_mm": round(j.walked.known_to), "verdict": verdict, "cap": j.cap, "band": j.band.map(round), "relaxed_mm": j.relaxed.map(round), "overstretched": j.verdict == Verdict::Stretch,
        "ease": {"mm": round(j.ease.value), "how": j.ease.how}, "tolerance": {"mm": round(j.tolerance.value), "how": j.tolerance.how},
        "notches": j.walked.notches, "ends_known": j.walked.ends_known,
        "sections_mm": j.walked.sections.iter().map(|s| s.lengths.map(round)).collect::<Vec<_>>(),
        "across": j.walked.across.iter().map(|x| json!({"corner": x.corner, "edges": x.edges, "bend_deg": round(x.bend_deg), "known_to_deg": round(x.known_to_deg)})).collect::<Vec<_>>(),
    })
}

fn lines(j: &Joined) -> Vec<String> {
    let [a, b] = &j.sides;
    let [x, y] = j.walked.lengths;
    let difference = j.difference();
    let band = j.relaxed.filter(|_| matches!(j.verdict, Verdict::True | Verdict::Stretch | Verdict::Loose)).map(|long| band(j, long));
    let words = match (j.verdict, j.cap) {
        (Verdict::Stretch | Verdict::Loose, _) => band.unwrap_or_default(),
        (Verdict::True, _) if band.is_some() => band.unwrap_or_default(),
        (Verdict::True, true) => format!("{difference:.1} mm to ease in"),
        (Verdict::Ease, _) if difference < 0.0 => format!("the cap is {:.1} mm shorter than its armhole", -difference),
        (Verdict::Ease, _) => format!("{difference:.1} mm to ease in, more than is usual"),
        (Verdict::True, _) => format!("true within {:.1} mm ({})", j.tolerance.value, j.tolerance.how),
        (Verdict::Off, _) => format!("off by {:+.1} mm, {:.1} mm allowed ({})", j.off(), j.tolerance.value, j.tolerance.how),
    };
    let mut out = vec![format!("{a} to {b}: {x:.1} and {y:.1} mm, {words}")];
    if j.walked.sections.len() > 1 {
        let all: Vec<String> = j.walked.sections.iter().map(|s| format!("{:.1}/{:.1}", s.lengths[0], s.lengths[1])).collect();
        let known = if j.walked.ends_known { "" } else { " (which ends meet is assumed: name the corners, or say meet)" };
        out.push(format!("  between notches: {} mm{known}", all.join(", ")));
    } else if j.walked.notches[0] != j.walked.notches[1] {
        let count = |n: usize| if n == 1 { "1 notch".to_owned() } else { format!("{n} notches") };
        let [first, second] = j.walked.notches;
        let against = if second == 0 { "none".to_owned() } else { second.to_string() };
        out.push(format!("  {} against {against}", count(first)));
    }
    out.extend(j.band.map(|r| format!("  relaxed, the band is {:.0} % as long as its edge", 100.0 * r)));
    let smooth = j.walked.across.iter().filter(|x| !j.rough.contains(x) && x.bend_deg.abs() < SAID);
    out.extend(smooth.map(|x| {
        format!(
            "  at {}, {} and {} run on within {:.1}°, known to {:.1}°",
            x.corner,
            x.edges[0],
            x.edges[1],
            x.bend_deg.abs(),
            x.known_to_deg
        )
    }));
    out.extend(j.sections_off.iter().map(|(k, d)| format!("  section {k} is off by {d:+.1} mm")));
    if j.verdict == Verdict::Off && j.off().abs() < j.walked.known_to {
        out.push(format!("  the lengths themselves are known to {:.1} mm", j.walked.known_to));
    }
    out
}

/// Lines that make a point or a dent across a seam, after all lengths, for a garment has many; the slight ones in one line.
fn across_seams(joins: &[&Joined]) {
    let all = rough(joins);
    if all.is_empty() {
        return;
    }
    say::result(&"lines that do not run on across a seam, worst first:");
    let (plain, slight): (Vec<&Rough>, Vec<&Rough>) = all.iter().partition(|r| r.across.bend_deg.abs() >= SLIGHT);
    for r in plain {
        let (x, [a, b]) = (r.across, r.sides);
        let others = if r.others > 0 { format!(", and so at {} more like it", r.others) } else { String::new() };
        let (what, bend) = (x.makes(), x.bend_deg.abs());
        say::result(&format!(
            "  {a} to {b}: at {}, {} and {} make a {what} of {bend:.0}° across the seam{others}",
            x.corner, x.edges[0], x.edges[1]
        ));
    }
    if !slight.is_empty() {
        let each: Vec<String> =
            slight.iter().map(|r| format!("{:.0}° at {} ({})", r.across.bend_deg.abs(), r.across.corner, r.sides[0])).collect();
        say::result(&format!("  less than {SLIGHT:.0}°: {}", each.join(", ")));
    }
}

/// What a band comes to, by its relaxed length, mm.
fn band(j: &Joined, long: f64) -> String {
    let share = |s: f64| format!("{:.0} %", 100.0 * s);
    let takes = j.stretches.map_or("how far its cloth stretches is not noted".into(), |s| format!("its cloth takes {}", share(s)));
    match (j.verdict, j.stretched()) {
        (Verdict::Stretch, Some(s)) => format!("NOT true: the band, {long:.1} mm relaxed, is stretched by {}, and {takes}", share(s)),
        (Verdict::Loose, _) => {
            let over = j.band_over().unwrap_or_default();
            format!("NOT true: the band, {long:.1} mm relaxed, is {over:.1} mm longer than its edge, and nothing is noted that draws it up")
        }
        (_, Some(s)) => format!("true: the band, {long:.1} mm relaxed, is stretched by {} ({takes})", share(s)),
        (_, None) => format!("true: the band, {long:.1} mm relaxed, is not stretched"),
    }
}

/// Width of the page, characters.
const WIDE: usize = 84;

fn page(call: &Call, known: &Known, checks: &[Check]) {
    if call.json {
        for c in checks {
            let outcome = match c.outcome {
                Outcome::Good => "good",
                Outcome::Look => "look",
                Outcome::ByHand => "by hand",
            };
            say::result(&json!({"result": outcome, "check": c.code, "what": c.what, "found": c.found}));
        }
        return;
    }
    let name = known.notes.garment.name.as_deref().unwrap_or("this garment");
    let count = if known.pieces.len() == 1 { "1 piece".into() } else { format!("{} pieces", known.pieces.len()) };
    say::result(&format!("Before cutting {name} ({count} from {})", known.from));
    say::result(&"");
    for c in checks {
        let sign = match c.outcome {
            Outcome::Good => "good",
            Outcome::Look => "LOOK",
            Outcome::ByHand => "[  ]",
        };
        wrapped(c.what, &format!("{sign}  "), "      ");
        c.found.iter().for_each(|f| wrapped(f, "      - ", "        "));
    }
}

fn wrapped(text: &str, first: &str, rest: &str) {
    let mut line = first.to_owned();
    let mut bare = true;
    for word in text.split_whitespace() {
        if !bare && line.chars().count() + 1 + word.chars().count() > WIDE {
            say::result(&line);
            line = rest.to_owned();
            bare = true;
        }
        if !bare {
            line.push(' ');
        }
        line.push_str(word);
        bare = false;
    }
    say::result(&line);
}
