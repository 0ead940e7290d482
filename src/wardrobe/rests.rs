//! What a tracing rests on: when none of it changed, the tracing is still the one that would be made, and is not made again.

use crate::sheet::MeasuredPrint;
use crate::write::{Record, RestsOn};
use std::path::Path;

/// The state of the program's stages (see `build.rs`).
const STAGES: &str = env!("RUBOFF_STAGES");
/// Hexadecimal digits that are kept of a hash: 64 bit tell the few states of one picture apart.
const DIGITS: usize = 16;

/// What a tracing that is to be made rests on.
#[derive(Clone, Debug, PartialEq)]
pub struct Rests<'a> {
    /// BLAKE3 of each picture, in hex.
    pub pictures: Vec<String>,
    /// What is asked and noted, in any words that change when it does.
    pub asked: String,
    /// The lens profiles that belong to the pictures, in words likewise; empty for none.
    pub lens: String,
    /// Measured prints at hand. Which of them is in the picture only its tracing tells.
    pub prints: &'a [MeasuredPrint],
}

/// Why a tracing is to be made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Changed {
    /// There is none.
    New,
    /// A file of it is not there.
    Missing,
    /// The picture is another.
    Picture,
    /// Something else is asked or noted.
    Asked,
    /// Another lens profile belongs to the picture.
    Lens,
    /// The print in it was measured anew.
    Print,
    /// It was made by other stages.
    Stages,
    /// A run ended before it could say why it failed.
    Unsaid,
}

impl Changed {
    /// In words.
    pub fn word(self) -> &'static str {
        match self {
            Self::New => "new",
            Self::Missing => "a file of its results is missing",
            Self::Picture => "the picture has changed",
            Self::Asked => "what is asked or noted has changed",
            Self::Lens => "another lens profile belongs to it",
            Self::Print => "its printed sheet was measured anew",
            Self::Stages => "traced by another version of ruboff",
            Self::Unsaid => "it could not be worked on before",
        }
    }
}

/// The first digits of a hash of a text; `None` for an empty one.
fn digits(text: &str) -> Option<String> {
    (!text.is_empty()).then(|| blake3::hash(text.as_bytes()).to_hex()[..DIGITS].to_owned())
}

impl Rests<'_> {
    /// As a record of sheet `number` keeps it.
    pub fn on(&self, number: Option<u32>) -> RestsOn {
        RestsOn {
            asked: digits(&self.asked).unwrap_or_default(),
            lens: digits(&self.lens),
            print: self.print(number),
            stages: STAGES.into(),
        }
    }

    /// The prints of one sheet; all of them where the sheet is not known, as when a picture could not be traced.
    fn print(&self, number: Option<u32>) -> Option<String> {
        let own = self.prints.iter().filter(|p| Some(p.code.number) == number);
        digits(&own.map(|p| format!("{p:?}")).collect::<String>())
    }

    /// As kept for a picture that could not be traced: whatever sheet is in it may be one of those measured.
    pub fn untraced(&self) -> String {
        let prints: String = self.prints.iter().map(|p| format!("{p:?}")).collect();
        digits(&format!("{:?}{}{}{prints}{STAGES}", self.pictures, self.asked, self.lens)).unwrap_or_default()
    }

    /// Why the tracing of a record in `folder` is not the one to be made; `None` when it is.
    pub fn differs(&self, record: &Record, folder: &Path) -> Option<Changed> {
        let Some(before) = &record.made_by.rests_on else { return Some(Changed::Stages) };
        let now = self.on(record.sheet.number);
        if !record.pictures.iter().map(|p| &p.blake3).eq(self.pictures.iter()) {
            return Some(Changed::Picture);
        }
        let missing = ["outline.svg", "points.csv", "evidence.jpg", "thumbnail.jpg"].iter().any(|name| !folder.join(name).is_file());
        let told = [
            (before.asked != now.asked, Changed::Asked),
            (before.lens != now.lens, Changed::Lens),
            (before.print != now.print, Changed::Print),
            (before.stages != now.stages, Changed::Stages),
            (missing, Changed::Missing),
        ];
        told.iter().find(|(differs, _)| *differs).map(|(_, why)| *why)
    }
}

/// What a garment's record rests on: its notes, and its pictures' records as they are.
pub fn of_garment(notes: &str, pictures: &[String]) -> String {
    digits(&format!("{notes}\0{}\0{STAGES}", pictures.join("\0"))).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tracing_is_made_again_when_what_it_rests_on_changed_and_not_before() {
        let text = include_str!("../../tests/golden/outline.json");
        let mut record = Record::from_text(text).expect("the golden record");
        let dir = tempfile::tempdir().expect("a folder");
        for name in ["outline.svg", "points.csv", "evidence.jpg", "thumbnail.jpg"] {
            std::fs::write(dir.path().join(name), b"").expect("written");
        }
        let pictures: Vec<String> = record.pictures.iter().map(|p| p.blake3.clone()).collect();
        let rests = Rests { pictures, asked: "inch lines".into(), lens: String::new(), prints: &[] };
        assert_eq!(rests.differs(&record, dir.path()), Some(Changed::Stages), "made before this was kept");
        record.made_by.rests_on = Some(rests.on(record.sheet.number));
        assert_eq!(rests.differs(&record, dir.path()), None);
        let other = |change: &dyn Fn(&mut Rests)| {
            let mut changed = rests.clone();
            change(&mut changed);
            assert_ne!(changed.untraced(), rests.untraced());
            changed.differs(&record, dir.path())
        };
        assert_eq!(other(&|r| r.asked.push_str(", 2 mm thick")), Some(Changed::Asked));
        assert_eq!(other(&|r| r.lens.push_str("a lens")), Some(Changed::Lens));
        assert_eq!(other(&|r| r.pictures[0].push('0')), Some(Changed::Picture));
        std::fs::remove_file(dir.path().join("evidence.jpg")).expect("removed");
        assert_eq!(rests.differs(&record, dir.path()), Some(Changed::Missing));
    }
}
