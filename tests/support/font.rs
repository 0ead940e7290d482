//! Fonts for tests, made of the one that comes with the program: its letters under other characters.

use ttf_parser::Face;

const FONT: &[u8] = include_bytes!("../../src/write/font/DejaVuSans.ttf");

/// A font in which each character of `shown` looks like the letter beside it; `plain` are the letters it has besides. `licence` stands in the
/// OS/2 table's `fsType` (OpenType 1.9, OS/2: 2 forbids embedding).
pub fn font(plain: &str, shown: &[(char, char)], licence: u16) -> Vec<u8> {
    let face = Face::parse(FONT, 0).expect("a font");
    let glyph = |c: char| u32::from(face.glyph_index(c).expect("a letter").0);
    let mut groups: Vec<(u32, u32)> = plain.chars().map(|c| (u32::from(c), glyph(c))).collect();
    groups.extend(shown.iter().map(|(c, like)| (u32::from(*c), glyph(*like))));
    groups.sort_unstable();
    // cmap: one subtable of format 12 for platform 3, encoding 10 (OpenType 1.9, cmap).
    let mut cmap: Vec<u8> = Vec::new();
    let long = |out: &mut Vec<u8>, v: u32| out.extend(v.to_be_bytes());
    for v in [0u16, 1, 3, 10] {
        cmap.extend(v.to_be_bytes());
    }
    long(&mut cmap, 12);
    cmap.extend([0, 12, 0, 0]);
    long(&mut cmap, 16 + 12 * groups.len() as u32);
    long(&mut cmap, 0);
    long(&mut cmap, groups.len() as u32);
    for (c, g) in groups {
        [c, c, g].into_iter().for_each(|v| long(&mut cmap, v));
    }
    with_tables(&cmap, licence)
}

/// The program's font with another `cmap` and another licence.
fn with_tables(cmap: &[u8], licence: u16) -> Vec<u8> {
    let number = |at: usize| u32::from_be_bytes(FONT[at..at + 4].try_into().expect("four bytes")) as usize;
    let count = usize::from(u16::from_be_bytes([FONT[4], FONT[5]]));
    let mut head = FONT[..12].to_vec();
    let mut body: Vec<u8> = Vec::new();
    for entry in (0..count).map(|k| 12 + 16 * k) {
        let mut table = FONT[number(entry + 8)..number(entry + 8) + number(entry + 12)].to_vec();
        match &FONT[entry..entry + 4] {
            b"cmap" => table = cmap.to_vec(),
            b"OS/2" => table[8..10].copy_from_slice(&licence.to_be_bytes()),
            _ => {}
        }
        head.extend(&FONT[entry..entry + 8]);
        head.extend(((12 + 16 * count + body.len()) as u32).to_be_bytes());
        head.extend((table.len() as u32).to_be_bytes());
        table.resize(table.len().next_multiple_of(4), 0);
        body.extend(table);
    }
    head.extend(body);
    head
}

/// All letters that every page needs.
pub fn latin() -> String {
    (' '..='~').chain(['…']).collect()
}
