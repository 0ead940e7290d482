//! What kind of file it is, by its first bytes and never by its name.

use super::ShotError;

/// A kind of file that is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Jpeg,
    Png,
    Tiff,
    Webp,
    /// Pictures of phones.
    #[cfg(feature = "heic")]
    Heic,
}

impl Kind {
    /// The kind of a file that begins with `head`, of which 32 bytes are enough.
    ///
    /// # Errors
    /// It is nothing that is read here; says what it seems to be.
    pub fn of(head: &[u8]) -> Result<Self, ShotError> {
        let at = |k: usize, magic: &[u8]| head.get(k..).is_some_and(|h| h.starts_with(magic));
        Ok(match head {
            _ if at(0, &[0xFF, 0xD8]) => Self::Jpeg,
            _ if at(0, b"\x89PNG\r\n\x1a\n") => Self::Png,
            _ if at(0, b"II*\0") || at(0, b"MM\0*") || at(0, b"II+\0") || at(0, b"MM\0+") => Self::Tiff,
            _ if at(0, b"RIFF") && at(8, b"WEBP") => Self::Webp,
            _ if at(4, b"ftyp") => return container(head),
            _ => return Err(other(head)),
        })
    }

    pub fn name(self) -> &'static str {
        match self {
            Self::Jpeg => "JPEG",
            Self::Png => "PNG",
            Self::Tiff => "TIFF",
            Self::Webp => "WebP",
            #[cfg(feature = "heic")]
            Self::Heic => "HEIC",
        }
    }
}

/// Files of the ISO base media format (ISO/IEC 14496-12); the brand stands at byte 8.
fn container(head: &[u8]) -> Result<Kind, ShotError> {
    Err(match head.get(8..12).unwrap_or_default() {
        b"heic" | b"heix" | b"heim" | b"heis" | b"hevc" | b"hevx" | b"mif1" | b"msf1" => return heic(),
        b"avif" | b"avis" => ShotError::Kind("an AVIF picture"),
        b"crx " => ShotError::Kind("a camera's raw file"),
        _ => ShotError::Kind("a film"),
    })
}

#[cfg(feature = "heic")]
fn heic() -> Result<Kind, ShotError> {
    Ok(Kind::Heic)
}

#[cfg(not(feature = "heic"))]
fn heic() -> Result<Kind, ShotError> {
    Err(ShotError::Heic)
}

fn other(head: &[u8]) -> ShotError {
    let known: [(&[u8], &'static str); 9] = [
        (b"GIF8", "a GIF, animated or drawn"),
        (b"BM", "a BMP bitmap"),
        (b"%PDF", "a PDF document"),
        (b"8BPS", "a layered picture"),
        (b"\0\0\0\x0cJXL ", "a JPEG XL picture"),
        (b"\xFF\x0A", "a JPEG XL picture"),
        (b"\0\0\0\x0cjP  ", "a JPEG 2000 picture"),
        (b"FUJIFILM", "a camera's raw file"),
        (b"II\x55\0", "a camera's raw file"),
    ];
    if let Some((_, name)) = known.iter().find(|(magic, _)| head.starts_with(magic)) {
        return ShotError::Kind(name);
    }
    if head.iter().all(|b| *b == 0) {
        return ShotError::NotAPicture("it begins with nothing but zeros");
    }
    let text = head.iter().all(|b| matches!(b, 9 | 10 | 13 | 32..=126 | 128..));
    ShotError::NotAPicture(if text && std::str::from_utf8(&head[..head.len().min(24)]).map_or_else(|e| e.error_len().is_none(), |_| true) {
        "it holds text"
    } else {
        "its first bytes belong to no kind of picture known here"
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kinds_by_their_first_bytes() {
        assert_eq!(Kind::of(b"\xFF\xD8\xFF\xE0").ok(), Some(Kind::Jpeg));
        assert_eq!(Kind::of(b"RIFF\x10\0\0\0WEBPVP8 ").ok(), Some(Kind::Webp));
        for brand in [b"heic", b"heix", b"mif1", b"msf1"] {
            let kind = Kind::of(&[b"\0\0\0\x18ftyp".as_slice(), brand].concat());
            assert_eq!(kind.map(Kind::name).map_err(|e| e == ShotError::Heic), if cfg!(feature = "heic") { Ok("HEIC") } else { Err(true) });
        }
        assert!(Kind::of(b"GIF89a").expect_err("a GIF").to_string().contains("GIF"));
        assert_eq!(Kind::of("naïve text".as_bytes()), Err(ShotError::NotAPicture("it holds text")));
        assert!(matches!(Kind::of(&[0; 32]), Err(ShotError::NotAPicture(_))));
        assert!(matches!(Kind::of(b"\x7FELF\x02\x01\x01\0"), Err(ShotError::NotAPicture(_))));
    }
}
