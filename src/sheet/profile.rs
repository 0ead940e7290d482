//! Profiles of sheets: words, built-in files and files of one's own.

use super::{SheetKind, SheetProfile};
use crate::length::Length;
use crate::notes::Fault;
use serde::Deserialize;
use std::path::{Path, PathBuf};
use toml::Spanned;

/// Why nothing is known of a sheet.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SheetError {
    /// A kind without its pitch.
    #[error(
        "how far the marks of the sheet are apart can't be told from a picture; measure it and say --pitch, like --pitch 1in or --pitch 10mm"
    )]
    NoPitch,
    /// A pitch no sheet has.
    #[error("a pitch of {0} is none that a sheet has; it must lie between 0.5 mm and 1 m")]
    Pitch(Length),
    /// Neither a kind nor a profile nor a file.
    #[error("no sheet is called `{word}`; the kinds are {kinds}, the profiles {names}, or name a .toml file of your own")]
    Unknown {
        /// What was asked for.
        word: String,
        /// The kinds there are.
        kinds: String,
        /// The built-in profiles.
        names: String,
    },
    /// A pitch for a sheet without ruling.
    #[error("a plain sheet has no ruling and so no pitch; leave --pitch out, or say what the sheet shows with --sheet")]
    PlainPitch,
    /// The file can't be read.
    #[error("the sheet profile {} can't be read ({why}); check the name and who may read it", file.display())]
    File {
        /// The file.
        file: PathBuf,
        /// What the system says.
        why: String,
    },
    /// The file is not right.
    #[error("the sheet profile {} is not right, {fault}", file.display())]
    Fault {
        /// The file.
        file: PathBuf,
        /// Which line, and what is wrong.
        fault: Fault,
    },
}

/// The profiles that come with the program, sorted by name.
const BUILT_IN: [(&str, &str); 7] = [
    ("centimetre-lines", include_str!("../../calibration/sheets/centimetre-lines.toml")),
    ("checker-20mm", include_str!("../../calibration/sheets/checker-20mm.toml")),
    ("cutting-mat-cm", include_str!("../../calibration/sheets/cutting-mat-cm.toml")),
    ("inch-crosses", include_str!("../../calibration/sheets/inch-crosses.toml")),
    ("inch-dots", include_str!("../../calibration/sheets/inch-dots.toml")),
    ("inch-lines", include_str!("../../calibration/sheets/inch-lines.toml")),
    ("millimetre-paper", include_str!("../../calibration/sheets/millimetre-paper.toml")),
];

/// Kinds by their words; `auto` leaves it to the picture.
const KINDS: [(&str, Option<SheetKind>); 8] = [
    ("lines", Some(SheetKind::Lines)),
    ("dots", Some(SheetKind::Dots)),
    ("crosses", Some(SheetKind::Crosses)),
    ("checker", Some(SheetKind::Checker)),
    ("mat", Some(SheetKind::Mat)),
    ("coded", Some(SheetKind::Coded)),
    ("plain", Some(SheetKind::Plain)),
    ("auto", None),
];

/// A pitch that is told is a measured one's name within this.
const NAMED: f64 = 0.01;
/// Relative standard error of a pitch nobody measured. Plain paper moves by 0.1 to 0.4 % with the damp of the air
/// (printwiki.org, "Dimensional stability"); half of that range.
pub const UNMEASURED: f64 = 0.002;

/// Largest share a pitch may be said to be unsure by; more is a slip.
const MOST_ERROR: f64 = 0.05;

/// Longest profile, bytes; a page of TOML is a hundredth of it.
const LONGEST_FILE: u64 = 1 << 20;

/// A profile as it stands in a file.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    name: Spanned<String>,
    kind: Option<SheetKind>,
    pitch: Spanned<Pitch>,
    heavy_every: Option<Spanned<u32>>,
    measured: Option<String>,
    pitch_error: Option<Spanned<PitchError>>,
}

#[derive(Deserialize)]
#[serde(untagged, expecting = "the pitch as a length in quotes, like \"1 in\", or one for each axis, like [\"25.4 mm\", \"25.5 mm\"]")]
enum Pitch {
    Both(Length),
    Each([Length; 2]),
}

#[derive(Deserialize)]
#[serde(untagged, expecting = "the error as a share, like 0.0005, or one for each axis")]
enum PitchError {
    Both(f64),
    Each([f64; 2]),
}

impl SheetProfile {
    /// The sheet that `--sheet` and `--pitch` mean: the word for a kind, the name of a built-in profile, or a file.
    ///
    /// A pitch that is given names the one that was measured where it is within a hundredth of that; another stands over the profile's, and is then one
    /// that nobody measured.
    ///
    /// # Errors
    /// Nothing is called so, the file is not right, or the pitch is not known: it is asked for, never guessed.
    pub fn from_words(sheet: &str, pitch: Option<Length>) -> Result<Self, SheetError> {
        if let Some(pitch) = pitch.filter(|p| !sane(*p)) {
            return Err(SheetError::Pitch(pitch));
        }
        let word = sheet.trim();
        if let Some((name, kind)) = KINDS.iter().find(|(w, _)| word.eq_ignore_ascii_case(w)) {
            if *kind == Some(SheetKind::Plain) {
                return if pitch.is_some() { Err(SheetError::PlainPitch) } else { Ok(Self::plain()) };
            }
            // A coded sheet tells its pitch, and whether it is one the picture has to show.
            let told = matches!(kind, None | Some(SheetKind::Coded)) && pitch.is_none();
            let pitch = if told { 0.0 } else { pitch.ok_or(SheetError::NoPitch)?.mm() };
            return Ok(Self {
                name: (*name).into(),
                kind: *kind,
                pitch: [pitch; 2],
                heavy_every: None,
                measured: None,
                pitch_error: [UNMEASURED; 2],
            });
        }
        let known = Self::named(word).map_or_else(|| Self::open(Path::new(word)), Ok)?;
        let names = |p: f64| known.measured.is_some() && known.pitch.iter().all(|own| (own / p - 1.0).abs() < NAMED);
        Ok(match pitch.map(Length::mm) {
            Some(p) if names(p) => known,
            Some(p) if known.pitch != [p; 2] => Self { pitch: [p; 2], measured: None, pitch_error: [UNMEASURED; 2], ..known },
            _ => known,
        })
    }

    /// A ground of one colour without ruling.
    pub fn plain() -> Self {
        Self {
            name: "plain".into(),
            kind: Some(SheetKind::Plain),
            pitch: [0.0; 2],
            heavy_every: None,
            measured: None,
            pitch_error: [0.0; 2],
        }
    }

    /// Names of the built-in profiles.
    pub fn names() -> impl Iterator<Item = &'static str> {
        BUILT_IN.iter().map(|(name, _)| *name)
    }

    /// The built-in profile of that name.
    pub fn named(name: &str) -> Option<Self> {
        let (_, text) = BUILT_IN.iter().find(|(n, _)| n.eq_ignore_ascii_case(name))?;
        Self::from_text(text).ok()
    }

    /// Reads a profile from the text of its file.
    ///
    /// # Errors
    /// It is no TOML, has a key that is not known here, or a pitch that no sheet has.
    pub fn from_text(text: &str) -> Result<Self, Fault> {
        let file: File = toml::from_str(text).map_err(|e| Fault::of_toml(text, &e))?;
        let fault = |at: usize, words: String| Err(Fault::at(text, at, words));
        if file.name.get_ref().trim().is_empty() {
            return fault(file.name.span().start, "a sheet needs a name, like name = \"inch-lines\"".into());
        }
        let at = file.pitch.span().start;
        if file.kind == Some(SheetKind::Plain) {
            return fault(at, SheetError::PlainPitch.to_string());
        }
        let pitch = match file.pitch.into_inner() {
            Pitch::Both(p) => [p; 2],
            Pitch::Each(each) => each,
        };
        if let Some(p) = pitch.iter().find(|p| !sane(**p)) {
            return fault(at, SheetError::Pitch(*p).to_string());
        }
        if let Some(n) = file.heavy_every.as_ref().filter(|n| !(2..=100).contains(n.get_ref())) {
            return fault(n.span().start, "heavy_every must lie between 2 and 100; leave it out when all lines are alike".into());
        }
        let pitch_error = match &file.pitch_error {
            None => [UNMEASURED; 2],
            Some(e) => match e.get_ref() {
                PitchError::Both(v) => [*v; 2],
                PitchError::Each(each) => *each,
            },
        };
        if let Some(e) = file.pitch_error.filter(|_| pitch_error.iter().any(|v| !(*v >= 0.0 && *v <= MOST_ERROR))) {
            return fault(e.span().start, format!("pitch_error is a share between 0 and {MOST_ERROR}, like 0.0005 for 0.05 %"));
        }
        Ok(Self {
            name: file.name.into_inner().trim().to_owned(),
            kind: file.kind,
            pitch: pitch.map(Length::mm),
            heavy_every: file.heavy_every.map(Spanned::into_inner),
            measured: file.measured.filter(|m| !m.trim().is_empty()),
            pitch_error,
        })
    }

    /// Reads a profile file.
    ///
    /// # Errors
    /// There is no such file, or it is not right.
    pub fn open(file: &Path) -> Result<Self, SheetError> {
        let named = file.components().count() > 1 || file.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml"));
        if !named && !file.exists() {
            let kinds: Vec<_> = KINDS.iter().map(|(w, _)| *w).collect();
            let names: Vec<_> = Self::names().collect();
            let word = file.display().to_string().chars().take(40).collect();
            return Err(SheetError::Unknown { word, kinds: kinds.join(", "), names: names.join(", ") });
        }
        let fault = |why: String| SheetError::File { file: file.into(), why };
        let about = std::fs::metadata(file).map_err(|e| fault(e.kind().to_string()))?;
        if !about.is_file() || about.len() > LONGEST_FILE {
            return Err(fault("it is no short text file".into()));
        }
        let text = std::fs::read_to_string(file).map_err(|e| fault(e.kind().to_string()))?;
        Self::from_text(&text).map_err(|fault| SheetError::Fault { file: file.into(), fault })
    }

    /// BLAKE3 of all that is said of the sheet, in hex, for records of what a result was made with.
    pub fn blake3(&self) -> String {
        let all = serde_json::to_vec(self).expect("plain fields always become JSON");
        blake3::hash(&all).to_hex().to_string()
    }
}

/// From half a millimetre (the finest ruled paper is 1 mm) to a metre (floor tiles).
fn sane(pitch: Length) -> bool {
    (0.5..=1000.0).contains(&pitch.mm())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn inch() -> Length {
        Length::from_inches(1.0)
    }

    #[test]
    fn built_in_profiles_are_good_and_called_what_they_say() {
        for (name, text) in BUILT_IN {
            let profile = SheetProfile::from_text(text).unwrap_or_else(|e| panic!("{name}: {e}"));
            assert_eq!(profile.name, name);
            assert_eq!(SheetProfile::from_words(name, None), Ok(profile));
        }
        assert!(BUILT_IN.is_sorted());
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("calibration/sheets");
        let files = std::fs::read_dir(folder).expect("profiles").count();
        assert_eq!(files, BUILT_IN.len(), "every profile in the folder is built in");
    }

    #[test]
    fn words_of_the_command_line() {
        let sheet = SheetProfile::from_words("lines", Some(inch())).expect("known");
        assert_eq!((sheet.kind, sheet.pitch, sheet.pitch_error), (Some(SheetKind::Lines), [25.4; 2], [0.002; 2]));
        assert_eq!(SheetProfile::from_words("AUTO", Some(inch())).expect("known").kind, None);
        assert_eq!(SheetProfile::from_words("lines", None), Err(SheetError::NoPitch));
        // These a position code may tell.
        for (word, kind) in [("auto", None), ("coded", Some(SheetKind::Coded))] {
            let sheet = SheetProfile::from_words(word, None).expect("the picture tells");
            assert_eq!((sheet.kind, sheet.pitch), (kind, [0.0; 2]));
        }
        assert!(matches!(SheetProfile::from_words("lines", Some(Length::ZERO)), Err(SheetError::Pitch(_))));
        assert!(matches!(SheetProfile::from_words("dotty", None), Err(SheetError::Unknown { .. })));
        assert!(matches!(SheetProfile::from_words("my/sheet.toml", None), Err(SheetError::File { .. })));
        let half = SheetProfile::from_words("inch-lines", Some(Length::from_inches(0.5))).expect("known");
        assert_eq!((half.pitch, &half.measured), ([12.7; 2], &None));
        assert_ne!(half.blake3(), sheet.blake3());
    }

    #[test]
    fn files_of_ones_own() {
        let text = "name = \"roll\"\nkind = \"lines\"\npitch = [\"25.38 mm\", \"25.43 mm\"]\nmeasured = \"steel rule, 20 squares\"\npitch_error = [0.0002, 0.0004]\n";
        let dir = tempfile::tempdir().expect("a folder");
        let file = dir.path().join("roll.toml");
        std::fs::write(&file, text).expect("written");
        let sheet = SheetProfile::from_words(&file.to_string_lossy(), None).expect("good");
        assert_eq!((sheet.pitch, sheet.pitch_error), ([25.38, 25.43], [0.0002, 0.0004]));
        // An inch names the inches that were measured; a half of one does not.
        let named = SheetProfile::from_words(&file.to_string_lossy(), Some(Length::from_inches(1.0))).expect("good");
        assert_eq!((named.pitch, named.measured), ([25.38, 25.43], sheet.measured));
        let other = SheetProfile::from_words(&file.to_string_lossy(), Some(Length::from_inches(0.5))).expect("good");
        assert_eq!((other.pitch, other.measured), ([12.7; 2], None));
        let cases = [
            ("\"lines\"", "\"stripes\"", 2),
            ("[\"25.38 mm\", \"25.43 mm\"]", "25.4", 3),
            ("\"25.38 mm\"", "\"0 mm\"", 3),
            ("measured", "mesured", 4),
            ("0.0002", "0.2", 5),
            ("0.0002", "nan", 5),
        ];
        for (good, bad, line) in cases {
            let e = SheetProfile::from_text(&text.replacen(good, bad, 1)).expect_err(bad);
            assert_eq!(e.line, line, "{bad}: {e}");
            assert!((15..=300).contains(&e.to_string().len()), "{e}");
        }
    }

    #[test]
    fn messages_fit_one_line() {
        for e in [
            SheetProfile::from_words("lines", None).expect_err("no pitch"),
            SheetProfile::from_words(&"x".repeat(500), None).expect_err("no such"),
            SheetProfile::from_words("plain", Some(inch())).expect_err("no pitch to have"),
        ] {
            let text = e.to_string();
            assert!((15..=290).contains(&text.chars().count()) && !text.contains('\n'), "{}: {text}", text.len());
        }
    }
}
