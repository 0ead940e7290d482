//! The joined record of each garment whose folder was given: written once the last of its pictures is done.

use super::faces::faced;
use super::layings::{self, Compared, Repeats, Traced};
use super::{Outcome, WorkError, folded, noted};
use crate::notes::Notes;
use crate::piece::{alike, match_notches};
use crate::proof::Doubt;
use crate::shot::{Glance, Limits};
use crate::wardrobe::{Job, Unit, of_garment};
use crate::write::{GarmentPiece, GarmentRecord, Seen, Shown, made, measures, write_together, write_whole};
use std::path::{Path, PathBuf};

/// The pictures of one garment.
struct Group {
    /// Where the record goes.
    folder: PathBuf,
    shown: Vec<Shown>,
}

/// What was written about a garment.
pub struct Written {
    /// Its record.
    pub record: GarmentRecord,
    /// Where that lies.
    pub file: PathBuf,
    /// Whether it was there already, and right.
    pub unchanged: bool,
    /// Pieces of whose layings something was asked for that could not be made.
    pub lost: Vec<Doubt>,
    /// Pieces of which several pictures were held against each other.
    pub laid: Vec<Laid>,
}

/// Several pictures of one piece, compared.
pub struct Laid {
    /// The piece.
    pub name: String,
    /// What came of it.
    pub compared: Compared,
    /// How many pictures there are of it.
    pub pictures: usize,
}

/// Why a garment can't be worked on where its results would go: the record of another lies there. One that was given another number or
/// name since is known by its pictures.
pub fn taken(unit: &Unit) -> Option<String> {
    let file = unit.notes.as_ref()?;
    let target = unit.home.join("garment.json");
    let before = std::fs::read_to_string(&target).ok().and_then(|text| GarmentRecord::from_text(&text).ok())?;
    // Notes that can't be read fail each picture, with its own line.
    let (notes, _) = noted::whole(file).ok()?;
    let own = GarmentRecord::id_of(&notes, &home(file));
    let known = |hash: String| before.pictures.iter().any(|p| p.blake3.as_ref() == Some(&hash));
    let shown = || unit.jobs.iter().flat_map(|j| j.pictures()).filter_map(|p| Glance::at(p, &Limits::default()).ok());
    if before.id == own || shown().any(|g| known(g.blake3)) {
        return None;
    }
    Some(format!("{} is the record of {}, and {own} would be written over it; say another folder with --out", target.display(), before.id))
}

/// Garments that go by one number or name, in words: their records could not be told apart by it.
pub fn namesakes(units: &[Unit]) -> Vec<String> {
    let named = units.iter().filter_map(|u| {
        let file = u.notes.as_ref()?;
        let (notes, _) = noted::whole(file).ok()?;
        Some((GarmentRecord::id_of(&notes, &home(file)), u))
    });
    let mut by_id: std::collections::BTreeMap<String, Vec<&Unit>> = std::collections::BTreeMap::new();
    named.for_each(|(id, unit)| by_id.entry(id).or_default().push(unit));
    let several = by_id.into_iter().filter(|(_, units)| units.len() > 1);
    let told = several.map(|(id, units)| {
        let homes: Vec<&str> = units.iter().map(|u| u.id.as_str()).collect();
        format!("{} garments are called {id}: {}; give each a number of its own in its notes", homes.len(), homes.join(", "))
    });
    told.collect()
}

/// Takes what came of all pictures of a garment and writes its record. Nothing where no picture was traced, or the notes can't be read,
/// which every picture has said.
///
/// # Errors
/// The record can't be written.
pub fn gather(unit: &Unit, came: Vec<Result<Outcome, String>>) -> Result<Option<Written>, WorkError> {
    let Some((file, (notes, text))) = unit.notes.as_ref().and_then(|f| Some((f, noted::whole(f).ok()?))) else { return Ok(None) };
    if came.iter().all(Result::is_err) {
        return Ok(None);
    }
    let rests = of_garment(&text, &came.iter().map(|c| state(c.as_ref())).collect::<Vec<_>>());
    if let Some(record) = before(&unit.home).filter(|r| r.rests_on.as_ref() == Some(&rests)) {
        return Ok(Some(Written { record, file: unit.home.join("garment.json"), unchanged: true, lost: Vec::new(), laid: Vec::new() }));
    }
    let shown = unit.jobs.iter().zip(came).map(|(job, came)| {
        let name = job.picture.file_name().unwrap_or_default().to_string_lossy().into_owned();
        Shown { file: name, shot: noted::of(&notes, job), found: came.and_then(|outcome| seen(job, outcome)) }
    });
    let mut group = Group { folder: unit.home.clone(), shown: shown.collect() };
    faced(&mut group.shown, &notes);
    let (laid, lost) = compared(&mut group, &notes);
    notched(&mut group, &notes);
    // What was asked for and could not be made is told again each time.
    write(&group, (&notes, &text), file, lost.is_empty().then_some(rests)).map(|written| Some(Written { lost, laid, ..written }))
}

/// What of a picture's tracing a garment's record rests on.
fn state(came: Result<&Outcome, &String>) -> String {
    match came {
        Ok(o) => format!("{:?}{:?}", o.record.pictures, o.record.made_by.rests_on),
        Err(say) => say.clone(),
    }
}

/// The garment's record as it lies there, with all that goes with it.
fn before(home: &Path) -> Option<GarmentRecord> {
    let text = std::fs::read_to_string(home.join("garment.json")).ok()?;
    GarmentRecord::from_text(&text).ok().filter(|_| home.join("measures.csv").is_file())
}

fn seen(job: &Job, outcome: Outcome) -> Result<Box<Seen>, String> {
    let folder = job.folder.file_name().unwrap_or_default().to_string_lossy();
    let outline = format!("{folder}/outline.json");
    Ok(Box::new(Seen { record: outcome.record, pieces: outcome.pieces?, outline, beside: Vec::new() }))
}

/// Compares pictures that show one piece, and makes of them what the notes ask for: that then stands in the record in place of the
/// layings, which keep their own records beside it. Gives what was asked for and could not be made.
fn compared(group: &mut Group, notes: &Notes) -> (Vec<Laid>, Vec<Doubt>) {
    let (mut laid, mut lost) = (Vec::new(), Vec::new());
    let several = repeats(&group.shown, notes);
    let alone = (0..group.shown.len()).filter(|k| !several.iter().flatten().any(|j| j == k)).collect::<Vec<_>>();
    alone.iter().for_each(|k| alone_again(&mut group.shown[*k], &group.folder));
    for numbers in several {
        let Some(name) = group.shown[numbers[0]].shot.piece.clone() else { continue };
        let make = notes.pieces.iter().find(|(n, _)| alike(n, &name)).and_then(|(_, p)| p.layings);
        let mut traced: Vec<Traced> = numbers.iter().filter_map(|&k| as_traced(&group.shown[k], &group.folder)).collect();
        let found = Repeats { name: &name, traced: &mut traced, make, root: &group.folder }.compare();
        let beside = match found {
            Ok(found) => {
                spread(group, &numbers, &found.spreads);
                if let Some(own) = &found.made {
                    stands_for(group, &numbers, notes, own);
                }
                let doubts = found.doubts.clone();
                laid.push(Laid { name: name.clone(), compared: found, pictures: numbers.len() });
                doubts
            }
            Err(e) => {
                let doubt = layings::refusal(&name, &e);
                if make.is_some() {
                    lost.push(doubt.clone());
                }
                vec![doubt]
            }
        };
        if let Ok(seen) = &mut group.shown[numbers[0]].found {
            seen.beside = beside;
        }
    }
    (laid, lost)
}

/// Takes out of a record what it said of other layings, when those have gone since.
fn alone_again(shown: &mut Shown, folder: &Path) {
    let Ok(seen) = &mut shown.found else { return };
    let told = seen.record.pieces.iter_mut().map(|p| usize::from(p.laid_alone())).sum::<usize>() > 0;
    if told {
        // The next run tries again: then the record still says it.
        let _ = write_whole(&folder.join(&seen.outline), seen.record.to_text().as_bytes());
    }
}

/// Numbers of the pictures that show one piece each, the same; not those that show its two faces.
fn repeats(shown: &[Shown], notes: &Notes) -> Vec<Vec<usize>> {
    let one = |k: usize| shown[k].found.as_ref().ok().filter(|s| s.pieces.len() == 1).and(shown[k].shot.piece.as_deref());
    let mut out: Vec<Vec<usize>> = Vec::new();
    for k in 0..shown.len() {
        let Some(name) = one(k) else { continue };
        let faces = |j: usize| shown[j].shot.up.is_some() && shown[k].shot.up.is_some() && shown[j].shot.up != shown[k].shot.up;
        let same = |g: &&mut Vec<usize>| one(g[0]).is_some_and(|n| alike(n, name)) && !faces(g[0]);
        match out.iter_mut().find(same) {
            Some(group) => group.push(k),
            None => out.push(vec![k]),
        }
    }
    // They are taken in the order of the notes, which may say which comes first.
    let place = |k: &usize| {
        let file = &shown[*k].file;
        let own = |p: &str| Path::new(p).file_name().is_some_and(|n| n.to_string_lossy() == **file);
        notes.shots.iter().position(|s| s.picture.as_deref().is_some_and(own)).unwrap_or(usize::MAX)
    };
    out.iter_mut().for_each(|g| g.sort_by_key(place));
    out.retain(|g| g.len() > 1 && !(folded(notes, one(g[0]).unwrap_or_default()) && g.iter().any(|&k| shown[k].shot.up.is_none())));
    out
}

fn as_traced(shown: &Shown, folder: &Path) -> Option<Traced> {
    let seen = shown.found.as_ref().ok()?;
    let folder = folder.join(Path::new(&seen.outline).parent()?);
    Some(Traced { picture: shown.file.clone(), folder, record: seen.record.clone(), shot: shown.shot.clone() })
}

/// Keeps with each picture's piece how the others differ from it, its measures too.
fn spread(group: &mut Group, numbers: &[usize], spreads: &[crate::piece::Spread]) {
    let pieces = |k: &usize| group.shown[*k].found.as_ref().ok().map(|s| &s.pieces[0]);
    let every: Vec<Vec<(&str, Option<&str>, f64)>> =
        numbers.iter().filter_map(pieces).map(|p| p.measures.iter().map(|m| (m.name, m.side, m.length)).collect()).collect();
    let differs = |name: &str, side: Option<&str>| {
        let all: Vec<f64> = every.iter().flatten().filter(|m| m.0 == name && m.1 == side).map(|m| m.2).collect();
        let (low, high) = all.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(*v), h.max(*v)));
        (all.len() > 1).then_some(high - low)
    };
    let told: Vec<Vec<Option<f64>>> =
        numbers.iter().map(|k| pieces(k).map_or_else(Vec::new, |p| p.measures.iter().map(|m| differs(m.name, m.side)).collect())).collect();
    for ((k, own), told) in numbers.iter().zip(spreads).zip(told) {
        let Ok(seen) = &mut group.shown[*k].found else { continue };
        let piece = &mut seen.pieces[0];
        piece.laid = Some(own.clone());
        if own.laid.is_some() {
            piece.measures.iter_mut().zip(told).for_each(|(m, off)| m.laid = off);
        }
    }
}

/// Puts what was made of several layings in their place.
fn stands_for(group: &mut Group, numbers: &[usize], notes: &Notes, own: &layings::MadeOf) {
    let shot = group.shown[numbers[0]].shot.clone();
    for &k in &numbers[1..] {
        if let Ok(seen) = &mut group.shown[k].found {
            seen.pieces.clear();
        }
    }
    let Ok(seen) = &mut group.shown[numbers[0]].found else { return };
    let name = shot.piece.as_deref().unwrap_or_default();
    let before: Vec<GarmentPiece> = std::mem::take(&mut seen.pieces);
    let mut piece = made(&seen.record, (name, &own.layer, &own.words), &shot, notes);
    piece.laid = own.spread.clone();
    for m in &mut piece.measures {
        m.laid = before.iter().flat_map(|p| &p.measures).find(|b| b.name == m.name && b.side == m.side).and_then(|b| b.laid);
    }
    seen.pieces.push(piece);
}

/// Proposes notches for seams that have none: that takes both pieces, which may stand in different pictures.
fn notched(group: &mut Group, notes: &Notes) {
    let seen = group.shown.iter_mut().filter_map(|s| s.found.as_mut().ok());
    let drafts: Vec<_> = seen.flat_map(|s| s.pieces.iter_mut().map(|p| &mut p.draft)).collect();
    let kinds: Vec<_> = drafts.iter().map(|d| d.kind.map(|k| k.value)).collect();
    match_notches(notes, &mut drafts.into_iter().map(|d| &mut d.piece).collect::<Vec<_>>(), &kinds);
}

/// What the folder of a notes file is called.
fn home(file: &Path) -> String {
    let folder = std::path::absolute(file).ok().and_then(|f| f.parent()?.file_name().map(|n| n.to_string_lossy().into_owned()));
    folder.unwrap_or_else(|| "garment".into())
}

fn write(group: &Group, notes: (&Notes, &str), file: &Path, rests: Option<String>) -> Result<Written, WorkError> {
    let target = group.folder.join("garment.json");
    // Changes after a toile belong to a person and outlast a new tracing; a file of another kind holds none.
    let before = std::fs::read_to_string(&target).ok().and_then(|text| GarmentRecord::from_text(&text).ok());
    let mut record = GarmentRecord::of(notes, &group.shown, &home(file), before.map(|b| b.changes).unwrap_or_default());
    record.rests_on = rests;
    let (table, text) = (measures(&record), record.to_text());
    write_together(&[(&group.folder.join("measures.csv"), table.as_bytes()), (&target, text.as_bytes())]).map_err(WorkError::Garment)?;
    Ok(Written { record, file: target, unchanged: false, lost: Vec::new(), laid: Vec::new() })
}
