//! Pages as PDF: everything in millimetres under one matrix (1 mm = 72/25.4 units of user space), text in an embedded font.
//!
//! Never `UserUnit`: some readers ignore it. Page sizes keep all decimals, for 595 x 842 is not A4.

use super::drawing::{Drawing, Ink, Item, Pen, Words};
use super::letters::Letters;
use kurbo::{BezPath, PathEl, Point, Rect as Area};
use pdf_writer::types::{CidFontType, FontFlags, LineCapStyle, LineJoinStyle, SystemInfo, UnicodeCmap};
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};
use std::collections::BTreeMap;
use subsetter::GlyphRemapper;

/// Units of user space in a millimetre (ISO 32000-1, 8.3.2.3: 1/72 in).
const UNIT: f64 = 72.0 / 25.4;
/// How hard streams are packed, 0 to 10.
const PACKED: u8 = 7;

/// The font could not be reduced for the file.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the letters can't be put into the PDF: {0}")]
pub struct FontError(String);

/// A page.
pub(in crate::write) struct Page {
    /// Size, mm.
    pub size: [f64; 2],
    pub parts: Vec<Part>,
    /// What it is called in a reader's list of pages.
    pub label: String,
}

/// Things on a page, in millimetres of their own.
pub(in crate::write) struct Part {
    /// Nothing is drawn outside of this rectangle of the page, mm.
    pub clip: Option<Area>,
    /// How much longer things are drawn across and down.
    pub scale: [f64; 2],
    /// Where their origin lies on the page, mm.
    pub origin: Point,
    pub drawing: Drawing,
}

/// The file.
///
/// # Errors
/// The font could not be reduced.
pub(in crate::write) fn pdf(title: &str, pages: &[Page], letters: &Letters) -> Result<Vec<u8>, FontError> {
    let mut glyphs = Glyphs { letters, map: GlyphRemapper::new(), shown: BTreeMap::new() };
    let contents: Vec<Vec<u8>> = pages.iter().map(|p| content(p, &mut glyphs)).collect();
    let mut next = 0;
    let mut new = || {
        next += 1;
        Ref::new(next)
    };
    let (catalog, tree, info, labels) = (new(), new(), new(), new());
    let font = FontRefs { font: new(), cid: new(), descriptor: new(), data: new(), unicode: new() };
    let ids: Vec<(Ref, Ref)> = pages.iter().map(|_| (new(), new())).collect();
    let mut pdf = Pdf::new();
    let mut root = pdf.catalog(catalog);
    root.pages(tree);
    root.pair(Name(b"PageLabels"), labels);
    root.lang(TextStr("en"));
    // Asks print dialogs for no scaling (ISO 32000-1, table 150).
    root.insert(Name(b"ViewerPreferences")).dict().pair(Name(b"PrintScaling"), Name(b"None")).pair(Name(b"DisplayDocTitle"), true);
    root.finish();
    let producer = format!("ruboff {}", env!("CARGO_PKG_VERSION"));
    pdf.document_info(info).title(TextStr(title)).producer(TextStr(&producer));
    page_labels(&mut pdf, labels, pages);
    pdf.pages(tree).kids(ids.iter().map(|i| i.0)).count(i32::try_from(pages.len()).unwrap_or(i32::MAX));
    for ((page, (id, stream)), bytes) in pages.iter().zip(&ids).zip(&contents) {
        let [w, h] = page.size.map(|v| (v * UNIT) as f32);
        let mut one = pdf.page(*id);
        one.parent(tree).media_box(Rect::new(0.0, 0.0, w, h)).contents(*stream);
        one.resources().fonts().pair(Name(b"F"), font.font);
        one.finish();
        let packed = miniz_oxide::deflate::compress_to_vec_zlib(bytes, PACKED);
        pdf.stream(*stream, &packed).filter(Filter::FlateDecode);
    }
    glyphs.embed(&mut pdf, &font)?;
    Ok(pdf.finish())
}

fn page_labels(pdf: &mut Pdf, id: Ref, pages: &[Page]) {
    let mut tree = pdf.indirect(id).dict();
    let mut all = tree.insert(Name(b"Nums")).array();
    for (k, page) in pages.iter().enumerate() {
        all.item(i32::try_from(k).unwrap_or(i32::MAX));
        all.push().dict().pair(Name(b"P"), TextStr(&page.label));
    }
}

/// A number as files keep it: a tenth of a micrometre, never an exponent.
fn number(v: f64) -> f32 {
    ((v * 1e4).round() / 1e4 + 0.0) as f32
}

fn content(page: &Page, glyphs: &mut Glyphs) -> Vec<u8> {
    let mut c = Content::new();
    c.transform([UNIT as f32, 0.0, 0.0, -UNIT as f32, 0.0, (page.size[1] * UNIT) as f32]);
    c.set_line_cap(LineCapStyle::ButtCap).set_line_join(LineJoinStyle::RoundJoin);
    for part in &page.parts {
        c.save_state();
        if let Some(r) = part.clip {
            c.rect(number(r.x0), number(r.y0), number(r.width()), number(r.height())).clip_nonzero().end_path();
        }
        let [kx, ky] = part.scale;
        // Where nothing is corrected coordinates are moved here, so that they stand in the file as they are on the page.
        let moved = if part.scale == [1.0, 1.0] {
            part.origin.to_vec2()
        } else {
            c.transform([kx as f32, 0.0, 0.0, ky as f32, number(part.origin.x), number(part.origin.y)]);
            kurbo::Vec2::ZERO
        };
        for item in &part.drawing.items {
            match item {
                Item::Stroke { path, pen } => {
                    set(&mut c, pen);
                    draw(&mut c, path, moved);
                    c.stroke();
                }
                Item::Fill { path, ink } => {
                    filled(&mut c, *ink);
                    draw(&mut c, path, moved);
                    c.fill_nonzero();
                }
                Item::Words(w) => words(&mut c, w, moved, glyphs),
            }
        }
        c.restore_state();
    }
    c.finish().into_vec()
}

fn draw(c: &mut Content, path: &BezPath, moved: kurbo::Vec2) {
    let mut at = Point::ZERO;
    let n = |p: Point| (number(p.x + moved.x), number(p.y + moved.y));
    for el in path.elements() {
        match *el {
            PathEl::MoveTo(p) => {
                let (x, y) = n(p);
                c.move_to(x, y);
            }
            PathEl::LineTo(p) => {
                let (x, y) = n(p);
                c.line_to(x, y);
            }
            PathEl::QuadTo(q, p) => {
                let ((a, b), (d, e), (x, y)) = (n(at.lerp(q, 2.0 / 3.0)), n(p.lerp(q, 2.0 / 3.0)), n(p));
                c.cubic_to(a, b, d, e, x, y);
            }
            PathEl::CurveTo(p, q, r) => {
                let ((a, b), (d, e), (x, y)) = (n(p), n(q), n(r));
                c.cubic_to(a, b, d, e, x, y);
            }
            PathEl::ClosePath => {
                c.close_path();
            }
        }
        at = el.end_point().unwrap_or(at);
    }
}

fn set(c: &mut Content, pen: &Pen) {
    c.set_line_width(number(pen.width));
    match pen.ink {
        Ink::Grey(v) => c.set_stroke_gray(number(v)),
        Ink::Colour(rgb) => {
            let [r, g, b] = parts(rgb);
            c.set_stroke_rgb(r, g, b)
        }
    };
    c.set_dash_pattern(pen.dash.iter().map(|d| number(*d)), 0.0);
}

fn filled(c: &mut Content, ink: Ink) {
    match ink {
        Ink::Grey(v) => c.set_fill_gray(number(v)),
        Ink::Colour(rgb) => {
            let [r, g, b] = parts(rgb);
            c.set_fill_rgb(r, g, b)
        }
    };
}

fn parts(rgb: [u8; 3]) -> [f32; 3] {
    rgb.map(|v| number(f64::from(v) / 255.0))
}

fn words(c: &mut Content, w: &Words, moved: kurbo::Vec2, glyphs: &mut Glyphs) {
    let (sin, cos) = w.turn.sin_cos();
    let bytes: Vec<u8> = w.text.chars().flat_map(|l| glyphs.own(l).to_be_bytes()).collect();
    filled(c, w.ink);
    c.begin_text().set_font(Name(b"F"), number(w.size));
    // The page's matrix has y down; letters are turned upright again.
    c.set_text_matrix([number(cos), number(sin), number(sin), number(-cos), number(w.at.x + moved.x), number(w.at.y + moved.y)]);
    c.show(Str(&bytes)).end_text();
}

/// Where the font's parts stand in the file.
struct FontRefs {
    font: Ref,
    cid: Ref,
    descriptor: Ref,
    data: Ref,
    unicode: Ref,
}

/// The glyphs that are shown, with their numbers in the reduced font.
struct Glyphs<'a> {
    letters: &'a Letters<'a>,
    map: GlyphRemapper,
    shown: BTreeMap<u16, char>,
}

impl Glyphs<'_> {
    fn own(&mut self, c: char) -> u16 {
        let new = self.map.remap(self.letters.glyph(c).0);
        self.shown.entry(new).or_insert(c);
        new
    }

    fn embed(&self, pdf: &mut Pdf, at: &FontRefs) -> Result<(), FontError> {
        let data = subsetter::subset(self.letters.data(), 0, &self.map).map_err(|e| FontError(e.to_string()))?;
        let face = self.letters.face();
        let scale = 1000.0 / self.letters.em();
        let units = |v: i16| (f64::from(v) * scale).round() as f32;
        // A tag of six letters says that the font is reduced (ISO 32000-1, 9.6.4).
        let called = format!("RUBOFF+{}", self.letters.name());
        // Outlines in cubics go into the file as they are (ISO 32000-1, 9.9, tables 117 and 126).
        let cubics = face.tables().glyf.is_none();
        let system = SystemInfo { registry: Str(b"Adobe"), ordering: Str(b"Identity"), supplement: 0 };
        let mut font = pdf.type0_font(at.font);
        font.base_font(Name(called.as_bytes())).encoding_predefined(Name(b"Identity-H")).descendant_font(at.cid).to_unicode(at.unicode);
        font.finish();
        let mut cid = pdf.cid_font(at.cid);
        cid.subtype(if cubics { CidFontType::Type0 } else { CidFontType::Type2 })
            .base_font(Name(called.as_bytes()))
            .system_info(system)
            .font_descriptor(at.descriptor);
        cid.default_width(0.0);
        if !cubics {
            cid.cid_to_gid_map_predefined(Name(b"Identity"));
        }
        let widths = self.map.remapped_gids().map(|g| {
            let advance = face.glyph_hor_advance(ttf_parser::GlyphId(g)).unwrap_or(0);
            (f64::from(advance) * scale * 100.0).round() as f32 / 100.0
        });
        cid.widths().consecutive(0, widths);
        cid.finish();
        let b = face.global_bounding_box();
        let mut d = pdf.font_descriptor(at.descriptor);
        d.name(Name(called.as_bytes())).flags(FontFlags::SYMBOLIC).italic_angle(0.0).stem_v(80.0);
        d.bbox(Rect::new(units(b.x_min), units(b.y_min), units(b.x_max), units(b.y_max)));
        d.ascent(units(face.ascender())).descent(units(face.descender())).cap_height(units(face.capital_height().unwrap_or(1493)));
        if cubics {
            d.font_file3(at.data);
        } else {
            d.font_file2(at.data);
        }
        d.finish();
        let packed = miniz_oxide::deflate::compress_to_vec_zlib(&data, PACKED);
        let mut file = pdf.stream(at.data, &packed);
        file.filter(Filter::FlateDecode);
        if cubics {
            file.pair(Name(b"Subtype"), Name(b"OpenType"));
        } else {
            file.pair(Name(b"Length1"), i32::try_from(data.len()).unwrap_or(i32::MAX));
        }
        file.finish();
        let mut unicode = UnicodeCmap::new(Name(b"Adobe-Identity-UCS"), system);
        self.shown.iter().for_each(|(glyph, c)| unicode.pair(*glyph, *c));
        let unicode = unicode.finish();
        pdf.cmap(at.unicode, &unicode);
        Ok(())
    }
}
