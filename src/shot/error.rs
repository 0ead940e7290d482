//! Why a picture file could not be read, in words that say what to do.

/// Why a file gave no picture. Each message reads on after the file's name.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ShotError {
    /// There is no such file.
    #[error("there is no such file; check how the name is written")]
    Missing,
    /// A folder where a file is wanted.
    #[error("is a folder, not a picture; name a picture in it")]
    Folder,
    /// A pipe, a device or the like.
    #[error("is not an ordinary file; copy the picture to a folder and name it there")]
    NotAFile,
    /// The system refuses.
    #[error("may not be read by you; change its permissions or copy it to a folder of your own")]
    Denied,
    /// Reading broke off.
    #[error("could not be read ({0}); copy it again from the camera or scanner")]
    Io(String),
    /// Nothing in it.
    #[error("is empty (0 bytes); copy it again from the camera or scanner")]
    Empty,
    /// Not a picture at all.
    #[error("is not a picture, whatever its name says ({0}); give a JPEG, PNG, TIFF or WebP file")]
    NotAPicture(&'static str),
    /// A picture of a kind that is not read.
    #[error("is {0}, which is not read here; save it as JPEG, PNG, TIFF or WebP at full size")]
    Kind(&'static str),
    /// High-efficiency pictures of phones, where the feature `heic` is not built in.
    #[error(
        "is a HEIC picture, which is not read here; share or export it as JPEG at full size (not through a messaging app), or set the camera to its most compatible format"
    )]
    Heic,
    /// More than one picture in turn.
    #[error("is {0}, several pictures in one file; save the one you want as JPEG or PNG at full size")]
    Animated(&'static str),
    /// A kind of coding that is rarely met.
    #[error("is a {kind} of a rare sort ({why}); open it in a picture program and save it as plain {kind}, 8 bits a channel")]
    Rare {
        /// JPEG, PNG, TIFF, WebP or HEIC.
        kind: &'static str,
        /// What the decoder said.
        why: String,
    },
    /// Ends before the picture does.
    #[error("breaks off before the picture ends (a {0} cut short); copy it again from the camera or scanner")]
    Truncated(&'static str),
    /// Damaged inside.
    #[error("is a damaged {kind} ({why}); copy it again from the camera or scanner")]
    Damaged {
        /// JPEG, PNG, TIFF, WebP or HEIC.
        kind: &'static str,
        /// What the decoder said.
        why: String,
    },
    /// Too few pixels.
    #[error("is only {width} × {height} pixels, too small to show a garment; give the picture at its full size")]
    TooSmall {
        /// Columns.
        width: u64,
        /// Rows.
        height: u64,
    },
    /// Too many pixels.
    #[error("is {width} × {height} pixels, more than the {limit} million that are held at once; {advice}")]
    TooLarge {
        /// Columns.
        width: u64,
        /// Rows.
        height: u64,
        /// Most pixels, in millions.
        limit: u64,
        /// What to do, with the dpi to use.
        advice: String,
    },
    /// Too many bytes.
    #[error("is {megabytes} MB long, more than the {limit} MB that are read; save it as JPEG or PNG, 8 bits a channel")]
    TooLong {
        /// Length of the file.
        megabytes: u64,
        /// Longest that is read.
        limit: u64,
    },
}

/// At most 80 characters of a decoder's own words, on one line.
pub(super) fn brief(words: impl std::fmt::Display) -> String {
    let line = words.to_string().replace('"', "").split_whitespace().collect::<Vec<_>>().join(" ");
    let mut out: String = line.chars().take(80).collect();
    if line.chars().count() > 80 {
        out.push('…');
    }
    out.trim_end_matches(['.', '\n']).to_owned()
}
