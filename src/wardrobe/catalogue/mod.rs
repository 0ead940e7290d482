//! The archive as pages to browse, on any machine and without a network.
//!
//! | file | holds |
//! |---|---|
//! | `place` | the folder the pages go to, what of it is ours, links from there to the archive |
//! | `keys` | the words of a garment's table: what each is called, in which order, what is never published |
//! | `front` | the first page: every garment with its thumbnail, search and facets |
//! | `garment` | a page a garment: pictures, measures, record, downloads |
//! | `sheet` | its record on paper, with the cautions that its notes ask for |
//! | `publish` | copies for others, without places where things are kept and without what cameras write into pictures |
//! | `hashes` | every file with its hash, and what took the place of what |

mod front;
mod garment;
mod hashes;
mod keys;
mod place;
mod publish;
mod sheet;

use super::archive::{Archive, Garment};
use crate::write::WriteError;
use place::Place;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Why there is no catalogue.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum CatalogueError {
    /// Something else lies where the pages would go.
    #[error("{path} holds other things than a catalogue and is left as it is; say a new or empty folder with --out")]
    Taken {
        /// The folder.
        path: String,
    },
    /// The pages would lie round the archive.
    #[error("{path} is the archive itself or a folder round it; say another folder with --out")]
    Around {
        /// The folder.
        path: String,
    },
    /// A folder or file can't be read or made.
    #[error("cannot make the catalogue at {path}")]
    Io {
        /// Which.
        path: String,
        /// What the system said.
        source: std::io::Error,
    },
    /// A file can't be written.
    #[error(transparent)]
    Write(#[from] WriteError),
}

/// What is wanted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wanted {
    /// The folder for the pages; `catalogue`, or `published`, in the archive when left out.
    pub out: Option<PathBuf>,
    /// Whether the pages are for others: with copies of what they link to, without where things are kept.
    pub published: bool,
}

/// What was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Made {
    /// The first page.
    pub front: PathBuf,
    /// Garments that have a page.
    pub garments: usize,
    /// Files that changed.
    pub changed: usize,
    /// What could not be published, and why.
    pub left_out: Vec<String>,
}

/// A garment's page: its name in the catalogue, and the garment.
struct Entry<'a> {
    slug: String,
    garment: &'a Garment,
}

/// Writes the catalogue of an archive. Files that would be the same are left alone; those of garments that are gone are taken away.
///
/// # Errors
/// Something else lies in the folder, or it can't be written to.
pub fn write(root: &Path, archive: &Archive, wanted: &Wanted) -> Result<Made, CatalogueError> {
    let place = Place::ready(root, wanted)?;
    let own = wanted.published.then(|| publish::shown(archive));
    let shown = own.as_ref().unwrap_or(archive);
    let left_out = if wanted.published { publish::copies(root, shown, &place)? } else { Vec::new() };
    let entries = named(shown);
    place.put("index.html", front::page(root, shown, &entries, &place).as_bytes())?;
    let twice = shown.twice();
    entries.par_iter().try_for_each(|e| {
        let same: Vec<&str> = twice.iter().filter(|(id, _)| *id == e.garment.id).flat_map(|(_, p)| p.clone()).collect();
        place.put(&format!("garments/{}.html", e.slug), garment::page(e, &same, &place).as_bytes())?;
        place.put(&format!("sheets/{}.html", e.slug), sheet::page(root, e, &place).as_bytes())
    })?;
    hashes::write(root, shown, &place, wanted.published)?;
    let changed = place.done()?;
    Ok(Made { front: place.at("index.html"), garments: entries.len(), changed, left_out })
}

/// Garments with a name each for their pages: that of the folder in plain letters, told apart by a few digits of its hash where two are alike.
fn named(archive: &Archive) -> Vec<Entry<'_>> {
    let plain = |g: &Garment| {
        let text = deunicode::deunicode(&g.path).to_lowercase();
        let letters: String = text.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { ' ' }).take(LONGEST).collect();
        letters.split_whitespace().collect::<Vec<_>>().join("-")
    };
    let mut counts: BTreeMap<String, usize> = BTreeMap::new();
    archive.garments.iter().for_each(|g| *counts.entry(plain(g)).or_default() += 1);
    let slug = |g: &Garment| {
        let plain = plain(g);
        let own = !plain.is_empty() && counts[&plain] == 1 && g.path.chars().count() <= LONGEST;
        if own { plain } else { format!("{plain}-{}", &blake3::hash(g.path.as_bytes()).to_hex()[..10]).trim_start_matches('-').to_owned() }
    };
    archive.garments.iter().map(|g| Entry { slug: slug(g), garment: g }).collect()
}

/// Letters of a page's name.
const LONGEST: usize = 80;
