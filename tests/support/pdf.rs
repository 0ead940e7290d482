//! Enough of a PDF to judge a page by: sizes of pages and what their content streams draw.

#![allow(dead_code)]

/// Units of user space in a millimetre: 1 unit is 1/72 in (ISO 32000-1, 8.3.2.3).
pub const UNIT: f64 = 72.0 / 25.4;

/// Page sizes as the file has them, in units.
pub fn boxes(pdf: &[u8]) -> Vec<[f64; 2]> {
    let text = String::from_utf8_lossy(pdf);
    let each = text.match_indices("/MediaBox [0 0 ").map(|(at, found)| {
        let rest = &text[at + found.len()..];
        let mut numbers = rest.split([' ', ']']).map(|n| n.parse::<f64>().expect("a number"));
        [numbers.next().expect("a width"), numbers.next().expect("a height")]
    });
    each.collect()
}

/// Content streams in the order of the pages, as text.
pub fn contents(pdf: &[u8]) -> Vec<String> {
    // Fonts and their tables are streams too; a page begins with its matrix.
    streams(pdf).into_iter().filter(|text| text.lines().next().is_some_and(|l| l.ends_with(" cm"))).collect()
}

/// All streams that are packed or bare text.
pub fn streams(pdf: &[u8]) -> Vec<String> {
    let mut out = Vec::new();
    let mut rest = pdf;
    while let Some(at) = find(rest, b"stream\n") {
        let body = &rest[at + 7..];
        let end = find(body, b"endstream").expect("an end");
        let bytes = miniz_oxide::inflate::decompress_to_vec_zlib(&body[..end]).unwrap_or_else(|_| body[..end].to_vec());
        out.push(String::from_utf8_lossy(&bytes).into_owned());
        rest = &body[end + 9..];
    }
    out
}

fn find(bytes: &[u8], what: &[u8]) -> Option<usize> {
    bytes.windows(what.len()).position(|w| w == what)
}

/// A path as drawn: its points (ends and handles) and the operator that ended it, with the stroke's width before it and the colour it was filled with.
#[derive(Clone, Debug)]
pub struct Drawn {
    pub points: Vec<[f64; 2]>,
    pub how: String,
    pub width: f64,
    pub fill: Vec<f64>,
}

/// The paths of a content stream, in the page's millimetres, y down.
pub fn drawn(content: &str) -> Vec<Drawn> {
    let (mut out, mut points, mut numbers) = (Vec::new(), Vec::new(), Vec::<f64>::new());
    let (mut width, mut fill) = (0.0, Vec::new());
    for word in content.split_ascii_whitespace() {
        if let Ok(v) = word.parse::<f64>() {
            numbers.push(v);
            continue;
        }
        match word {
            "m" | "l" | "c" => points.extend(numbers.chunks(2).map(|p| [p[0], p[1]])),
            "re" => {
                let [x, y, w, h] = numbers[..] else { panic!("a rectangle has four numbers") };
                points.extend([[x, y], [x + w, y + h]]);
            }
            "w" => width = numbers[0],
            "g" | "rg" => fill = numbers.clone(),
            "S" | "f" | "n" => out.push(Drawn { points: std::mem::take(&mut points), how: word.into(), width, fill: fill.clone() }),
            _ => {}
        }
        numbers.clear();
    }
    out
}
