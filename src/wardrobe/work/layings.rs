//! Several pictures of one piece held against each other, and what is made of them on request.

use super::WorkError;
use crate::notes::{LayingsMake, ShotNotes};
use crate::piece::{LaidOut, Layer, LayingError, LayingPart, MeanError, Shared, Spread, TogetherError, alike, layings, mean, put_together};
use crate::proof::Doubt;
use crate::solve::TWO_SIDED;
use crate::write::{FoundError, Made, Record, Source, as_found, layings_svg, write_whole};
use kurbo::Affine;
use std::path::{Path, PathBuf};

/// Corners of a piece that was not moved lie within this of one another on a coded sheet, mm.
const UNMOVED: f64 = 1.0;

/// Why layings of one piece can't be held against each other.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
#[allow(missing_docs)] // the sentences say it
pub enum LayingsError {
    #[error("{one} and {other} are the same picture; a laying is compared with another picture of its piece, or by another's recorded_by")]
    SamePicture { one: String, other: String },
    #[error("{picture} shows {pieces} pieces; layings are compared of one piece, alone in each picture")]
    SeveralPieces { picture: String, pieces: usize },
    #[error("{picture}")]
    Found { picture: String, source: FoundError },
    #[error("{names}")]
    Differ { names: String, source: LayingError },
    #[error("{names}")]
    Mean { names: String, source: MeanError },
    #[error("{names}")]
    Together { names: String, source: TogetherError },
    #[error("the {word} of {name} would be written over a picture's results in {}; rename that picture", folder.display())]
    Over { word: String, name: String, folder: PathBuf },
}

/// A picture of a piece that was traced, as its record has it.
pub struct Traced {
    /// The picture, as messages call it.
    pub picture: String,
    /// The folder of its results.
    pub folder: PathBuf,
    /// Its record.
    pub record: Record,
    /// What the notes say of it.
    pub shot: ShotNotes,
}

/// What came of comparing several of them.
pub struct Compared {
    /// Of each picture, how the others differ from it.
    pub spreads: Vec<Spread>,
    /// What was made of them.
    pub made: Option<MadeOf>,
    /// The people who recorded them, where they were several.
    pub recorders: Vec<String>,
    /// What may be wrong all the same.
    pub doubts: Vec<Doubt>,
}

/// Lines made of several tracings, on the first one's page.
pub struct MadeOf {
    /// The lines.
    pub layer: Layer,
    /// What they are, in words.
    pub words: String,
    /// How the layings differ.
    pub spread: Option<Spread>,
    /// Where its record lies.
    pub file: PathBuf,
}

/// One piece of which several pictures were traced.
pub struct Repeats<'a> {
    /// What it is called.
    pub name: &'a str,
    /// Its pictures.
    pub traced: &'a mut [Traced],
    /// What is asked for besides the comparison.
    pub make: Option<LayingsMake>,
    /// Folder below which it is written.
    pub root: &'a Path,
}

impl Repeats<'_> {
    /// Compares them, writes what was found into each record, and makes what is asked for.
    ///
    /// # Errors
    /// They can't be compared or put together; a file can't be written.
    pub fn compare(&mut self) -> Result<Compared, WorkError> {
        let names = self.traced.iter().map(|t| t.picture.as_str()).collect::<Vec<_>>().join(", ");
        let hash = |t: &Traced| t.record.pictures.first().map(|p| p.blake3.clone());
        for (k, t) in self.traced.iter().enumerate() {
            if let Some(other) = self.traced[..k].iter().find(|o| hash(o) == hash(t) && !apart(o, t)) {
                return Err(LayingsError::SamePicture { one: other.picture.clone(), other: t.picture.clone() }.into());
            }
        }
        let mut layers = Vec::new();
        for t in self.traced.iter() {
            let [piece] = t.record.pieces.as_slice() else {
                return Err(LayingsError::SeveralPieces { picture: t.picture.clone(), pieces: t.record.pieces.len() }.into());
            };
            layers.push(as_found(piece).map_err(|source| LayingsError::Found { picture: t.picture.clone(), source })?);
        }
        if self.make == Some(LayingsMake::PutTogether) {
            return self.together(&layers, &names);
        }
        let numbers = numbers(self.traced, &layers);
        let side = |k: usize| self.traced[k].shot.wrong_side_up();
        let over = |k: usize| side(0).zip(side(k)).is_some_and(|(a, b)| a != b);
        let laid: Vec<LaidOut> =
            layers.iter().enumerate().map(|(k, layer)| LaidOut { layer, laying: numbers[k], mirrored: over(k) }).collect();
        let found = layings(&laid).map_err(|source| LayingsError::Differ { names: names.clone(), source })?;
        let made = match self.make {
            Some(LayingsMake::Mean) => {
                let layer = mean(&found, &laid).map_err(|source| LayingsError::Mean { names: names.clone(), source })?;
                let words = format!("mean of {}", count(found.count, laid.len()));
                let of = (0..layer.edges.len()).map(|k| (0..laid.len()).map(|i| (i, found.edge(i, k))).collect()).collect();
                let spread = Some(&found.spreads[0]);
                let made = Made { name: self.name.to_owned(), words, layer: &layer, of, spread, shared: &[] };
                let (file, words) = self.write_made("mean", &made, &found.motions, &numbers, &layers)?;
                Some(MadeOf { layer, words, spread: spread.cloned(), file })
            }
            _ => None,
        };
        for k in 0..self.traced.len() {
            self.tell(k, &found.spreads[k])?;
        }
        let doubts = self.doubts(&found.spreads);
        Ok(Compared { spreads: found.spreads, made, recorders: recorders(self.traced), doubts })
    }

    /// Puts the piece together from several layings.
    fn together(&mut self, layers: &[Layer], names: &str) -> Result<Compared, WorkError> {
        let marks = |t: &Traced| {
            let named = t.record.marks.iter().filter_map(|m| Some((m.name.clone()?, m.shows.unwrap_or(m.at).into(), m.error_mm)));
            named.collect::<Vec<_>>()
        };
        let part = |k: usize| LayingPart { layer: &layers[k], marks: marks(&self.traced[k]), gives: self.traced[k].shot.gives.clone() };
        let parts: Vec<LayingPart> = (0..layers.len()).map(part).collect();
        let whole = put_together(&parts).map_err(|source| LayingsError::Together { names: names.into(), source })?;
        let words = format!("put together from {} layings", parts.len());
        let of = whole.from.iter().map(|f| vec![*f]).collect();
        let made = Made { name: self.name.to_owned(), words, layer: &whole.layer, of, spread: None, shared: &whole.shared };
        let each: Vec<usize> = (0..parts.len()).collect();
        let (file, words) = self.write_made("put together", &made, &whole.motions, &each, layers)?;
        let doubts = whole.shared.iter().filter_map(Shared::doubt).collect();
        Ok(Compared {
            spreads: Vec::new(),
            made: Some(MadeOf { layer: whole.layer, words, spread: None, file }),
            recorders: recorders(self.traced),
            doubts,
        })
    }

    /// Writes what was made, with a drawing of it, and gives where and its words.
    fn write_made(
        &self,
        word: &str,
        made: &Made,
        motions: &[Affine],
        numbers: &[usize],
        layers: &[Layer],
    ) -> Result<(PathBuf, String), WorkError> {
        let folder = self.root.join(format!("{} {word}", self.name).replace(['/', '\\', ' '], "-"));
        if self.traced.iter().any(|t| t.folder == folder) {
            return Err(LayingsError::Over { word: word.into(), name: self.name.into(), folder }.into());
        }
        let beside: Vec<String> = self.traced.iter().map(|t| from(&folder, &t.folder)).collect();
        let sources: Vec<Source> = (0..self.traced.len())
            .map(|k| Source { record: &self.traced[k].record, outline: &beside[k], laying: numbers[k], motion: motions[k] })
            .collect();
        let record = Record::derived(made, &sources);
        let lines: Vec<_> = layers.iter().zip(motions).map(|(l, m)| *m * l.outline()).collect();
        std::fs::create_dir_all(&folder).map_err(|source| WorkError::Folder { folder: folder.clone(), source })?;
        write_whole(&folder.join("outline.svg"), layings_svg(&format!("{}, {}", self.name, made.words), made.layer, &lines).as_bytes())?;
        let file = folder.join("outline.json");
        write_whole(&file, record.to_text().as_bytes())?;
        Ok((file, made.words.clone()))
    }

    /// Writes how the others differ into one picture's own record.
    fn tell(&mut self, k: usize, spread: &Spread) -> Result<(), WorkError> {
        let others = self.traced.iter().enumerate().filter(|(j, _)| *j != k);
        let with: Vec<String> = others.filter_map(|(_, t)| t.record.pictures.first().map(|p| p.file.clone())).collect();
        let own = &mut self.traced[k];
        own.record.pieces.iter_mut().for_each(|p| p.laid_anew(spread, &with));
        write_whole(&own.folder.join("outline.json"), own.record.to_text().as_bytes())?;
        Ok(())
    }

    /// Pictures of one laying that differ by more than they may be out.
    fn doubts(&self, spreads: &[Spread]) -> Vec<Doubt> {
        let bounds: Vec<f64> = self.traced.iter().filter_map(|t| t.record.pieces.first()?.bound_mm).collect();
        let most = bounds.iter().copied().fold(0.0, f64::max);
        let allowed = most * std::f64::consts::SQRT_2 * if bounds.len() > 2 { TWO_SIDED / 1.5 } else { 1.0 };
        let off = spreads.iter().filter_map(|s| s.repeat).fold(0.0, f64::max);
        (off > allowed).then(|| Doubt::RepeatDiffers { piece: self.name.to_owned(), off, allowed }).into_iter().collect()
    }
}

/// A number for each laying: pictures that the notes give one word show one; so do those of a coded sheet, which knows its own places, on which
/// the piece lies where it lay. Every other shows its own.
fn numbers(traced: &[Traced], layers: &[Layer]) -> Vec<usize> {
    let mut out: Vec<usize> = Vec::new();
    for (k, t) in traced.iter().enumerate() {
        let told = |j: usize| match (&t.shot.laying, &traced[j].shot.laying) {
            (Some(a), Some(b)) => alike(a, b),
            // One picture that two people recorded.
            (None, None) if t.record.pictures == traced[j].record.pictures => true,
            (None, None) => unmoved(traced, layers, [j, k]),
            _ => false,
        };
        let same = (0..k).find(|&j| told(j)).map(|j| out[j]);
        out.push(same.unwrap_or(k));
    }
    out
}

/// Whether two people recorded the pictures.
fn apart(a: &Traced, b: &Traced) -> bool {
    a.shot.recorded_by.as_ref().zip(b.shot.recorded_by.as_ref()).is_some_and(|(a, b)| !alike(a, b))
}

/// Who recorded them, where that was more than one, each once.
fn recorders(traced: &[Traced]) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for by in traced.iter().filter_map(|t| t.shot.recorded_by.as_ref()) {
        if !all.iter().any(|a| alike(a, by)) {
            all.push(by.clone());
        }
    }
    if all.len() > 1 { all } else { Vec::new() }
}

/// Whether a piece lies at the same place of the same coded sheet in two pictures: laid anew it would not come to lie so to a millimetre.
fn unmoved(traced: &[Traced], layers: &[Layer], [j, k]: [usize; 2]) -> bool {
    let (a, b) = (&traced[j].record.sheet, &traced[k].record.sheet);
    let one = a.number.is_some() && a.number == b.number && a.pitch_mm == b.pitch_mm;
    let [p, q] = [&layers[j].corners, &layers[k].corners];
    one && p.len() > 1
        && p.len() == q.len()
        && p.iter().all(|c| q.iter().map(|d| c.at.distance(d.at)).fold(f64::INFINITY, f64::min) < UNMOVED)
}

/// How many layings in how many pictures, in words.
fn count(layings: usize, pictures: usize) -> String {
    if layings == 1 {
        format!("{pictures} pictures of one laying")
    } else if layings == pictures {
        format!("{layings} layings")
    } else {
        format!("{layings} layings in {pictures} pictures")
    }
}

/// The record of one folder as seen from another beside it.
fn from(home: &Path, folder: &Path) -> String {
    let same = home.parent() == folder.parent();
    let name = folder.file_name().map(|n| n.to_string_lossy().into_owned());
    match name.filter(|_| same) {
        Some(name) => format!("../{name}/outline.json"),
        None => folder.join("outline.json").display().to_string(),
    }
}

/// What keeps pictures from being compared, as one sentence.
pub fn refusal(name: &str, error: &WorkError) -> Doubt {
    let causes = std::iter::successors(Some(error as &dyn std::error::Error), |e| e.source());
    let what = causes.map(ToString::to_string).collect::<Vec<_>>().join(": ");
    Doubt::NotCompared { piece: name.to_owned(), what }
}
