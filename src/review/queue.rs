//! The tracings of an archive, worst first, each with the reason why it stands where it does.

use super::opinion::{Opinions, Verdict, doubt_id};
use super::words::on_page;
use crate::wardrobe::archive::{Doubted, Figures, Garment, Outcome, Picture};
use crate::wardrobe::{Archive, ArchiveError, Kept, Standing, badness, out, outlines_hash, wants_a_look};
use rayon::prelude::*;
use serde::Serialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use std::time::SystemTime;

/// The file of opinions, by which a tracing is known to have any.
const REVIEW: &str = super::opinion::FILE;
/// Longest reason, characters: one line of the queue.
const LONGEST: usize = 160;

/// One tracing.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Entry {
    /// Its folder from the archive's root, `/` between; `.` for the root itself.
    pub at: String,
    /// Changes whenever its outline does.
    pub version: String,
    /// What its garment is called.
    pub garment: Option<String>,
    /// The garment's folder from the archive's root.
    pub garment_at: Option<String>,
    /// Its picture.
    pub title: String,
    /// Names of its pieces.
    pub pieces: Vec<String>,
    /// How it stands.
    pub standing: &'static str,
    /// The same in words.
    pub standing_word: &'static str,
    /// Why, in words.
    pub reason: String,
    /// By how much the line may be out where it is worst, mm.
    pub out_mm: Option<f64>,
    /// Whether there is a small picture of it.
    pub thumbnail: bool,
    /// Doubts about it, and those that nobody ticked off.
    pub doubts: usize,
    #[allow(missing_docs)]
    pub open_doubts: usize,
    /// The reader's own opinion.
    pub opinion: Option<Verdict>,
    /// Whether the outline changed since that was given.
    pub stale: bool,
    /// How many others gave theirs.
    pub others: usize,
    /// File names of its pictures.
    #[serde(skip)]
    pub of: Vec<String>,
    /// Whether it was traced.
    #[serde(skip)]
    pub traced: bool,
}

/// The queue of an archive. What was read of it is kept, so that only records that changed are read again.
#[derive(Debug)]
pub struct Queue {
    root: PathBuf,
    kept: Mutex<Kept>,
    opinions: Mutex<BTreeMap<String, Reviewed>>,
    /// As they were read last, by where they lie.
    latest: Mutex<BTreeMap<String, Listed>>,
}

/// A picture and the garment it is of.
#[derive(Clone, Debug)]
struct Listed {
    garment: Option<OfGarment>,
    picture: Picture,
}

/// What a garment is called, and its folder.
#[derive(Clone, Debug)]
struct OfGarment {
    title: String,
    at: String,
}

/// The opinions of a tracing as they were read, and of which file.
#[derive(Clone, Debug)]
struct Reviewed {
    stamp: (SystemTime, u64),
    /// None where the file can't be read.
    opinions: Option<Opinions>,
}

impl Queue {
    /// The one of the archive in `root`.
    pub fn of(root: &Path) -> Self {
        Self { root: root.to_owned(), kept: Mutex::default(), opinions: Mutex::default(), latest: Mutex::default() }
    }

    /// All tracings, worst first, as the reviewer `by` sees them.
    ///
    /// # Errors
    /// The archive's folder can't be read.
    pub fn entries(&self, by: &str) -> Result<Vec<Entry>, ArchiveError> {
        let archive = Archive::read_again(&self.root, &mut self.kept.lock().unwrap_or_else(PoisonError::into_inner))?;
        let pictures: Vec<(Option<&Garment>, &Picture)> = archive.pictures().collect();
        let reviewed = self.reviewed(&pictures);
        let mut all: Vec<(Standing, f64, Entry)> = pictures
            .iter()
            .map(|(garment, picture)| {
                let opinions = reviewed.get(&picture.path).and_then(|r| r.opinions.as_ref());
                (Standing::of(picture), badness(picture), entry(of(*garment).as_ref(), picture, opinions, by))
            })
            .collect();
        let listed =
            pictures.iter().map(|(garment, picture)| (place(&picture.path), Listed { garment: of(*garment), picture: (*picture).clone() }));
        *self.latest.lock().unwrap_or_else(PoisonError::into_inner) = listed.collect();
        all.sort_by(|a, b| a.0.cmp(&b.0).then(b.1.total_cmp(&a.1)).then_with(|| a.2.at.cmp(&b.2.at)));
        Ok(all.into_iter().map(|(.., entry)| entry).collect())
    }

    /// One tracing as the reviewer `by` sees it, read again by itself; none where there is none of that place.
    ///
    /// # Errors
    /// The archive's folder can't be read.
    pub fn entry(&self, at: &str, by: &str) -> Result<Option<Entry>, ArchiveError> {
        let known = self.latest.lock().unwrap_or_else(PoisonError::into_inner).get(at).cloned();
        let Some(Listed { garment, picture }) = known else { return Ok(self.entries(by)?.into_iter().find(|e| e.at == at)) };
        let picture = Archive::picture_again(&self.root, &picture.path).unwrap_or(picture);
        let opinions = picture.has(REVIEW).then(|| Opinions::open(&self.root.join(&picture.path)).ok()).flatten();
        Ok(Some(entry(garment.as_ref(), &picture, opinions.as_ref(), by)))
    }

    /// The opinions of all tracings that have any; files that are as they were are not read again.
    fn reviewed(&self, pictures: &[(Option<&Garment>, &Picture)]) -> BTreeMap<String, Reviewed> {
        let mut kept = self.opinions.lock().unwrap_or_else(PoisonError::into_inner);
        let read = |picture: &Picture| {
            let folder = self.root.join(&picture.path);
            let about = std::fs::metadata(folder.join(REVIEW)).ok()?;
            let stamp = (about.modified().ok()?, about.len());
            let known = kept.get(&picture.path).filter(|r| r.stamp == stamp).cloned();
            Some((picture.path.clone(), known.unwrap_or_else(|| Reviewed { stamp, opinions: Opinions::open(&folder).ok() })))
        };
        let now: BTreeMap<String, Reviewed> =
            pictures.par_iter().filter(|(_, p)| p.has(REVIEW)).filter_map(|(_, p)| read(p)).collect::<Vec<_>>().into_iter().collect();
        kept.clone_from(&now);
        now
    }
}

/// Where a picture's results lie, as the page says it.
fn place(path: &str) -> String {
    if path.is_empty() { ".".into() } else { path.to_owned() }
}

fn of(garment: Option<&Garment>) -> Option<OfGarment> {
    garment.map(|g| OfGarment { title: g.title().to_owned(), at: place(&g.path) })
}

fn entry(garment: Option<&OfGarment>, picture: &Picture, opinions: Option<&Opinions>, by: &str) -> Entry {
    let standing = Standing::of(picture);
    let figures = match &picture.result {
        Outcome::Traced(figures) => Some(figures.as_ref()),
        _ => None,
    };
    let doubts: &[Doubted] = figures.map_or(&[], |f| &f.doubts);
    let open = |d: &&Doubted| opinions.is_none_or(|o| o.ticked(&doubt_id(&d.code, d.place, &d.say)).is_none());
    let own = opinions.and_then(|o| o.own(by));
    let outline = figures.map_or_else(String::new, |f| f.outline.clone());
    // What was said of a picture that could not be traced is said of no outline.
    let of_then =
        |o: &super::Opinion| if o.outline.is_empty() { String::new() } else { outlines_hash(std::iter::once(o.outline.as_str())) };
    Entry {
        at: place(&picture.path),
        version: outline.clone(),
        garment: garment.map(|g| g.title.clone()),
        garment_at: garment.map(|g| g.at.clone()),
        title: picture.title(),
        pieces: figures.map_or_else(Vec::new, |f| f.pieces.clone()),
        standing: standing.code(),
        standing_word: standing.word(),
        reason: reason(picture),
        out_mm: figures.and_then(out),
        thumbnail: picture.has("thumbnail.jpg") || picture.has("evidence.jpg"),
        doubts: doubts.len(),
        open_doubts: doubts.iter().filter(open).count(),
        opinion: own.map(|o| o.word),
        stale: own.is_some_and(|o| of_then(o) != outline),
        others: opinions.map_or(0, |o| o.others(by)),
        of: picture.of.clone(),
        traced: figures.is_some(),
    }
}

/// Why a picture stands where it does, in a line.
fn reason(picture: &Picture) -> String {
    match &picture.result {
        Outcome::Failed(say) => cut(say),
        Outcome::Unread(say) => cut(&format!("its record {say}")),
        Outcome::Traced(figures) => traced(figures),
    }
}

fn traced(figures: &Figures) -> String {
    if figures.cut_off {
        return "a piece is cut off by the picture's frame".into();
    }
    // Doubts about the line come first, those with a place before the others, as they stand: the worst place first.
    let about = || figures.doubts.iter().filter(|d| wants_a_look(&d.code));
    let told = about().find(|d| d.place.is_some()).or_else(|| about().next()).or_else(|| figures.doubts.first());
    if let Some(doubt) = told {
        return cut(first_sentence(&doubt.say));
    }
    match (&figures.worst_edge, figures.out_mm) {
        (Some(edge), Some(mm)) => cut(&format!("{edge} may be out by {mm:.1} mm, no edge by more")),
        _ => String::new(),
    }
}

/// The first sentence of what is said, without its full stop.
fn first_sentence(say: &str) -> &str {
    let say = say.strip_prefix("The outline ").unwrap_or(say);
    let ends = say.char_indices().filter(|(_, c)| matches!(c, '.' | '?' | '!'));
    let end = ends.map(|(k, _)| k).find(|k| say[k + 1..].chars().next().is_none_or(char::is_whitespace));
    end.map_or(say, |k| &say[..k]).trim()
}

fn cut(words: &str) -> String {
    let words = on_page(words);
    let words = words.trim();
    if words.chars().count() <= LONGEST {
        return words.to_owned();
    }
    let short: String = words.chars().take(LONGEST - 1).collect();
    format!("{}…", short.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::Record;
    use std::time::{Duration, Instant};

    const OUTLINE: &str = include_str!("../../tests/golden/outline.json");

    fn lay(root: &Path, file: &str, text: &str) {
        let at = root.join(file);
        std::fs::create_dir_all(at.parent().expect("a folder")).expect("made");
        std::fs::write(at, text).expect("written");
    }

    /// The golden record without doubts, its edges known to `out` mm.
    fn record(out: f64) -> Record {
        let mut record = Record::from_text(OUTLINE).expect("the golden record");
        record.doubts.clear();
        record.budget.edge_mm = out;
        record.pieces[0].edges.iter_mut().for_each(|e| e.bound_mm = Some(out));
        record
    }

    #[test]
    fn the_worst_come_first_each_with_its_reason() {
        let dir = tempfile::tempdir().expect("a folder");
        let mut doubtful = record(1.2);
        let doubt = |code: &str, place, say: &str| crate::write::DoubtRecord { code: code.into(), place, say: say.into() };
        doubtful.doubts = vec![
            doubt("thickness-assumed", None, "The cloth's height was not given; 1.0 mm was assumed. Hold a rule beside it."),
            doubt(
                "edge-unsure",
                Some([1.0, 2.0]),
                "The outline may be out by 1.4 mm on the left edge, because the sheet beside it lies in shadow. Light it.",
            ),
        ];
        let mut remarks = record(0.2);
        remarks.doubts = doubtful.doubts[..1].to_vec();
        lay(dir.path(), "d/outline.json", &doubtful.to_text());
        lay(dir.path(), "r/outline.json", &remarks.to_text());
        lay(dir.path(), "g2/outline.json", &record(0.3).to_text());
        lay(dir.path(), "g1/outline.json", &record(0.2).to_text());
        lay(
            dir.path(),
            "f/failed.json",
            r#"{"format":"ruboff-failed","version":1,"picture":{"file":"f.png","blake3":null},"say":"is too dark","made_by":{}}"#,
        );
        lay(dir.path(), "u/outline.json", "{}");
        let all = Queue::of(dir.path()).entries("Pip").expect("read");
        let told: Vec<(&str, &str, &str)> = all.iter().map(|e| (e.at.as_str(), e.standing, e.reason.as_str())).collect();
        assert_eq!(told[0], ("f", "failed", "is too dark"));
        assert_eq!((told[1].0, told[1].1), ("u", "unread"));
        assert_eq!(told[2], ("d", "doubtful", "may be out by 1.4 mm on the left edge, because the sheet beside it lies in shadow"));
        assert_eq!(told[3], ("r", "remarks", "The cloth's height was not given; 1.0 mm was assumed"));
        assert_eq!(told[4], ("g2", "good", "bag may be out by 0.3 mm, no edge by more"));
        assert_eq!(told[5].0, "g1");
        assert_eq!((all[2].doubts, all[2].open_doubts, all[2].out_mm), (2, 2, Some(1.2)));
    }

    #[test]
    fn opinions_and_ticks_show_and_a_changed_outline_makes_them_stale() {
        let dir = tempfile::tempdir().expect("a folder");
        let mut traced = record(0.3);
        traced.doubts = Record::from_text(OUTLINE).expect("the golden record").doubts;
        lay(dir.path(), "coat/front/outline.json", &traced.to_text());
        let queue = Queue::of(dir.path());
        let first = queue.entries("Pip").expect("read").remove(0);
        assert_eq!((first.opinion, first.stale, first.others), (None, false, 0));
        let folder = dir.path().join("coat/front");
        let mut said = Opinions::default();
        said.give("Pip", Verdict::Accepted, "", Some(&traced)).expect("given");
        said.give("Kit", Verdict::Retake, "blurred", Some(&traced)).expect("given");
        for d in &traced.doubts {
            said.tick("Kit", &doubt_id(&d.code, d.place, &d.say), true).expect("ticked");
        }
        said.save(&folder).expect("kept");
        let now = queue.entries("pip").expect("read").remove(0);
        assert_eq!((now.opinion, now.stale, now.others, now.open_doubts), (Some(Verdict::Accepted), false, 1, 0));
        assert!(now.doubts > 0 && now.version == first.version);
        traced.pieces[0].outline = traced.pieces[0].outline.replace("130.0000", "131.0000");
        lay(dir.path(), "coat/front/outline.json", &traced.to_text());
        let later = queue.entry("coat/front", "Pip").expect("read").expect("there");
        assert_eq!(later, queue.entries("Pip").expect("read").remove(0));
        assert_eq!(queue.entry("coat", "Pip").expect("read"), None);
        assert!(later.stale && later.version != first.version);
        // A damaged file is told where it is opened; the queue goes on.
        std::fs::write(folder.join(REVIEW), "{").expect("written");
        assert_eq!(queue.entries("Pip").expect("read")[0].opinion, None);
    }

    /// Many tracings: once read, only files that changed are read again. The time is no measurement, only a bound far off it.
    #[test]
    fn five_hundred_come_in_without_slowing() {
        let dir = tempfile::tempdir().expect("a folder");
        let text = record(0.3).to_text();
        for k in 0..500 {
            lay(dir.path(), &format!("box {}/{k}/outline.json", k / 50), &text);
        }
        let queue = Queue::of(dir.path());
        assert_eq!(queue.entries("Pip").expect("read").len(), 500);
        let begun = Instant::now();
        assert_eq!(queue.entries("Pip").expect("read").len(), 500);
        assert!(begun.elapsed() < Duration::from_secs(2));
    }
}
