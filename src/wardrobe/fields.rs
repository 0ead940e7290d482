//! The few fields of each record that are read back. Others are passed over, so thousands of records take a moment.

use super::archive::{Doubted, Figures, Measured, Replaced, Said, Taped, ThePiece};
use super::tree::plain;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};
use std::fs::File;
use std::io::{self, ErrorKind, Read};
use std::path::Path;
use std::time::Duration;

/// Largest record that is read, bytes: those of large garments in several pictures take a few million.
const LARGEST: u64 = 64 << 20;
/// How long a record that seems half there is left alone before it is read once more.
const WRITTEN_BY_THEN: Duration = Duration::from_millis(40);

/// What every record begins with.
#[derive(Deserialize)]
struct Head {
    format: String,
    version: u32,
}

/// The fields of one format.
pub(super) trait Fields: DeserializeOwned {
    /// What the format calls itself.
    const FORMAT: &'static str;
    /// What the record says of its format.
    fn head(&self) -> (&str, u32);
}

/// A record, or what is wrong with it, in words that follow its name.
pub(super) fn read<T: Fields>(file: &Path) -> Result<T, String> {
    let first = once(file);
    // Ours appear whole; one that another program is writing may be half there.
    if matches!(&first, Err(Bad::Half(_))) {
        std::thread::sleep(WRITTEN_BY_THEN);
        return once(file).map_err(Bad::say);
    }
    first.map_err(Bad::say)
}

/// What is wrong with a record.
enum Bad {
    Half(String),
    Whole(String),
}

impl Bad {
    fn say(self) -> String {
        match self {
            Self::Half(say) | Self::Whole(say) => say,
        }
    }
}

fn once<T: Fields>(file: &Path) -> Result<T, Bad> {
    let text = text(file).map_err(|e| match e.kind() {
        ErrorKind::NotFound => Bad::Half("is not there any more; look again when the run is over".into()),
        ErrorKind::FileTooLarge => Bad::Whole(format!("is larger than {} MB and is not read; no record is", LARGEST >> 20)),
        _ => Bad::Whole(format!("can't be read: {}", plain(&e))),
    })?;
    match serde_json::from_slice::<T>(&text) {
        Ok(fields) => {
            let (format, version) = fields.head();
            known::<T>(format, version).map(|()| fields)
        }
        // Another format has other fields: that is told before what is missing.
        Err(e) => match serde_json::from_slice::<Head>(&text) {
            Ok(head) => known::<T>(&head.format, head.version).and(Err(damaged(&e))),
            Err(_) => Err(damaged(&e)),
        },
    }
}

fn known<T: Fields>(format: &str, version: u32) -> Result<(), Bad> {
    match (format == T::FORMAT, version) {
        (true, 1) => Ok(()),
        (true, _) => Err(Bad::Whole(format!("is version {version}, which this ruboff does not know; get a newer one"))),
        _ => Err(Bad::Whole(format!("is no {} record but calls itself `{}`", T::FORMAT, format.chars().take(40).collect::<String>()))),
    }
}

fn damaged(e: &serde_json::Error) -> Bad {
    let say = format!("is damaged at line {}, or is just being written; trace the picture again if it stays so", e.line());
    if e.is_eof() || e.is_syntax() { Bad::Half(say) } else { Bad::Whole(say) }
}

/// A file's bytes, up to the largest record.
fn text(file: &Path) -> io::Result<Vec<u8>> {
    let mut open = File::open(file)?;
    let size = open.metadata()?.len();
    if size > LARGEST {
        return Err(ErrorKind::FileTooLarge.into());
    }
    let mut text = Vec::with_capacity(usize::try_from(size).unwrap_or(0) + 1);
    open.by_ref().take(LARGEST + 1).read_to_end(&mut text)?;
    if text.len() as u64 > LARGEST { Err(ErrorKind::FileTooLarge.into()) } else { Ok(text) }
}

/// Of an `outline.json`.
#[derive(Deserialize)]
pub(super) struct OutlineFields {
    format: String,
    version: u32,
    pictures: Vec<PictureFields>,
    sheet: SheetFields,
    #[serde(default)]
    views: Vec<ViewFields>,
    pieces: Vec<PieceFields>,
    #[serde(default)]
    doubts: Vec<Doubted>,
    budget: BudgetFields,
    #[serde(default)]
    layings: Vec<serde::de::IgnoredAny>,
    #[serde(default)]
    replaces: Vec<Replaced>,
}

#[derive(Deserialize)]
struct PictureFields {
    file: String,
    #[serde(default)]
    blake3: String,
    #[serde(default)]
    kind: String,
}

#[derive(Deserialize)]
struct SheetFields {
    kind: String,
    #[serde(default)]
    coverage: f64,
}

#[derive(Deserialize)]
struct ViewFields {
    px_per_mm: [f64; 2],
    tilt_deg: f64,
}

#[derive(Deserialize)]
struct PieceFields {
    name: String,
    #[serde(default)]
    outline: String,
    edges: Vec<EdgeFields>,
    #[serde(default)]
    laid: Option<String>,
    #[serde(default)]
    laid_mm: Option<f64>,
    #[serde(default)]
    derived: Option<String>,
}

#[derive(Deserialize)]
struct EdgeFields {
    #[serde(default)]
    name: String,
    line: String,
    bound_mm: Option<f64>,
}

#[derive(Deserialize)]
struct BudgetFields {
    edge_mm: f64,
}

/// A hash of the outlines of a record's pieces, by which it is known whether they changed.
pub fn outlines_hash<'a>(outlines: impl Iterator<Item = &'a str>) -> String {
    let all = outlines.collect::<Vec<_>>().join(" ");
    blake3::hash(all.as_bytes()).to_hex()[..16].to_owned()
}

impl OutlineFields {
    /// The edge that may be out the most.
    fn worst_edge(&self) -> Option<String> {
        let all = self.pieces.iter().flat_map(|p| p.edges.iter().map(move |e| (p, e)));
        let known = all.filter_map(|(p, e)| Some((p, e, e.bound_mm?)));
        let (piece, edge, _) = known.max_by(|a, b| a.2.total_cmp(&b.2))?;
        let name = edge.name.clone();
        Some(if self.pieces.len() > 1 { format!("{name} of {}", piece.name) } else { name })
    }

    /// File names of its pictures, and the figures.
    pub fn into_parts(self) -> (Vec<String>, Figures) {
        let worst_edge = self.worst_edge();
        let edges = || self.pieces.iter().flat_map(|p| &p.edges);
        let figures = Figures {
            out_mm: edges().filter_map(|e| e.bound_mm).reduce(f64::max),
            worst_place_mm: self.budget.edge_mm,
            cut_off: edges().any(|e| e.line == "cut"),
            px_per_mm: self.views.iter().map(|v| v.px_per_mm[0]).reduce(f64::min),
            tilt_deg: self.views.iter().map(|v| v.tilt_deg).reduce(f64::max),
            coverage: self.sheet.coverage,
            sheet: self.sheet.kind,
            kind: self.pictures.first().map(|p| p.kind.clone()).unwrap_or_default(),
            blake3: self.pictures.iter().map(|p| p.blake3.clone()).collect(),
            pieces: self.pieces.iter().map(|p| p.name.clone()).collect(),
            worst_edge,
            outline: outlines_hash(self.pieces.iter().map(|p| p.outline.as_str())),
            laid: self.pieces.iter().find_map(|p| p.laid.clone()),
            laid_mm: self.pieces.iter().filter_map(|p| p.laid_mm).reduce(f64::max),
            derived: self
                .pieces
                .iter()
                .find_map(|p| p.derived.clone())
                .or_else(|| (!self.layings.is_empty()).then(|| "made of several tracings".into())),
            doubts: self.doubts,
            replaces: self.replaces,
        };
        (self.pictures.into_iter().map(|p| p.file).collect(), figures)
    }
}

/// Of a `failed.json`.
#[derive(Deserialize)]
pub(super) struct FailedFields {
    format: String,
    version: u32,
    pub picture: FailedPicture,
    pub say: String,
}

#[derive(Deserialize)]
pub(super) struct FailedPicture {
    pub file: String,
}

/// Of a `garment.json`.
#[derive(Deserialize)]
pub(super) struct GarmentFields {
    format: String,
    version: u32,
    pub id: String,
    #[serde(default)]
    garment: Map<String, Value>,
    #[serde(default)]
    pub pictures: Vec<ShownFields>,
    #[serde(default)]
    pieces: Vec<GarmentPieceFields>,
    #[serde(default)]
    tape: Vec<Taped>,
    #[serde(default)]
    pub doubts: Vec<GarmentDoubt>,
}

#[derive(Deserialize)]
pub(super) struct ShownFields {
    pub file: String,
    #[serde(default)]
    pub result: String,
    #[serde(default)]
    pub say: Option<String>,
}

/// A doubt of the whole garment, or of one of its pictures, whose own record has it too.
#[derive(Deserialize)]
pub(super) struct GarmentDoubt {
    #[serde(default)]
    pub picture: Option<usize>,
    #[serde(flatten)]
    pub doubt: Doubted,
}

#[derive(Deserialize)]
struct GarmentPieceFields {
    name: String,
    #[serde(default)]
    kind: Option<ToldFields>,
    #[serde(default)]
    laid: Option<String>,
    #[serde(default)]
    laid_mm: Option<f64>,
    #[serde(default)]
    measures: Vec<Measured>,
}

#[derive(Deserialize)]
struct ToldFields {
    value: Value,
    #[serde(default)]
    how: String,
    #[serde(default)]
    by: Option<String>,
    #[serde(default)]
    on: Option<String>,
}

/// What a garment's record says beside its pictures.
pub(super) struct GarmentParts {
    pub told: Vec<Said>,
    pub pieces: Vec<ThePiece>,
    pub tape: Vec<Taped>,
}

impl GarmentFields {
    /// The garment's own table, its pieces and tape readings.
    pub fn parts(&mut self) -> GarmentParts {
        let told = std::mem::take(&mut self.garment).into_iter().filter_map(|(key, value)| {
            let told: ToldFields = serde_json::from_value(value).ok()?;
            Some(Said { key, words: words(&told.value)?, how: told.how, by: told.by, on: told.on })
        });
        let pieces = std::mem::take(&mut self.pieces).into_iter().map(|p| ThePiece {
            name: p.name,
            kind: p.kind.as_ref().and_then(|k| words(&k.value)),
            laid: p.laid,
            laid_mm: p.laid_mm,
            measures: p.measures,
        });
        GarmentParts { told: told.collect(), pieces: pieces.collect(), tape: std::mem::take(&mut self.tape) }
    }
}

/// A value as words; a flag that is set is "yes".
fn words(value: &Value) -> Option<String> {
    match value {
        Value::String(text) => Some(text.clone()),
        Value::Bool(true) => Some("yes".into()),
        Value::Number(n) => Some(n.to_string()),
        _ => None,
    }
}

impl Fields for OutlineFields {
    const FORMAT: &'static str = "ruboff-outline";

    fn head(&self) -> (&str, u32) {
        (&self.format, self.version)
    }
}

impl Fields for FailedFields {
    const FORMAT: &'static str = "ruboff-failed";

    fn head(&self) -> (&str, u32) {
        (&self.format, self.version)
    }
}

impl Fields for GarmentFields {
    const FORMAT: &'static str = "ruboff-garment";

    fn head(&self) -> (&str, u32) {
        (&self.format, self.version)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn golden(name: &str) -> std::path::PathBuf {
        Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden").join(name)
    }

    #[test]
    fn golden_records_give_their_figures() {
        let (files, figures) = read::<OutlineFields>(&golden("outline.json")).expect("read").into_parts();
        assert_eq!(files, ["pocket & flap.jpg"]);
        assert_eq!((figures.px_per_mm, figures.tilt_deg), (Some(3.1), Some(0.0)));
        assert_eq!(figures.pieces, ["patch pocket"]);
        let mut garment: GarmentFields = read(&golden("garment.json")).expect("read");
        assert!(garment.parts().pieces.iter().any(|p| !p.measures.is_empty()));
    }

    #[test]
    fn what_is_no_record_says_what_it_is() {
        let dir = tempfile::tempdir().expect("a folder");
        let file = dir.path().join("outline.json");
        let said = |text: &str| {
            std::fs::write(&file, text).expect("written");
            read::<OutlineFields>(&file).err().expect("refused")
        };
        assert!(said("{\"format\": \"ruboff-out").contains("damaged"));
        assert!(said("{\"format\": \"ruboff-outline\", \"version\": 9}").contains("newer"));
        assert!(said("{\"format\": \"other\", \"version\": 1}").contains("other"));
        assert!(said("{\"format\": \"ruboff-outline\", \"version\": 1}").contains("damaged"));
        std::fs::remove_file(&file).expect("gone");
        assert!(read::<OutlineFields>(&file).err().expect("refused").contains("not there"));
        let huge = File::create(&file).expect("made");
        huge.set_len(LARGEST + 1).expect("sparse");
        assert!(read::<OutlineFields>(&file).err().expect("refused").contains("larger"));
    }
}
